"""`fault`: what has to go wrong together, from a tree in a register or in a file of its own; a first draft of one."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.opening import one_of, open_register, print_text, warn_if_broken, width, write_whole
from riskkit.cli.output import wrapped
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.assess import Assessment
    from riskkit.faults import Analysis, TopUncertainty
    from riskkit.judgement.fault_trees import WorkedTree
    from riskkit.model.records import Hazard
    from riskkit.model.register import Register

CAUTION = (
    "A fault tree holds the failures that someone thought of, with the numbers that someone gave; it says nothing about "
    "a use on a person."
)
"""Stands below every tree."""

MOST_LINES = 150
"""Lines of a tree that are printed; what is larger is read as cut sets, or on paper."""

MOST_ALIKE = 3
"""Open points of one rule that are printed one by one below a tree."""

FILES = (".yaml", ".yml", ".json")


def show_fault(name: str, folder: Path, format: str, today: str | None, listed: int, seed: int | None) -> None:
    """Print what a tree says: a file, a tree of the register, or the trees of a hazard."""
    one_of("--format", format, ("text", "json"))
    if name.endswith(FILES) or Path(name).is_file():
        from riskkit.judgement.fault_trees import work_out_tree
        from riskkit.text.fault_files import load_tree

        _print(name, work_out_tree(load_tree(Path(name)), listed=listed), format, listed, seed)
        return
    assessment = open_register(folder, today)
    warn_if_broken(assessment.report)
    found = _trees_named(name, assessment)
    if format == "json" and len(found) > 1:
        raise RiskkitError(f"{name} has {len(found)} fault trees, and JSON holds one", f"name one: {', '.join(found)}")
    for id in found:
        _print(id, assessment.trees[id], format, listed, seed, _open_points(id, assessment))


def show_draft(name: str, folder: Path, today: str | None, output: Path | None) -> None:
    """Print a first tree of a hazard as YAML, or write it into a new file."""
    from riskkit.judgement.fault_drafts import draft
    from riskkit.model.fault_trees import FaultTree
    from riskkit.model.records import Hazard
    from riskkit.text.writing import record_lines

    assessment = open_register(folder, today)
    warn_if_broken(assessment.report)
    hazard = assessment.register.get(name, Hazard)
    if hazard is None:
        tree = assessment.register.get(name, FaultTree)
        if tree is not None:
            raise RiskkitError(f"{name} is a fault tree already", f"a draft is of its hazard, {tree.hazard}")
        raise RiskkitError(f"there is no hazard {name} to draft a tree of", _did_you_mean(name, assessment.register))
    id = _free_id(assessment.register)
    text = "\n".join(
        (
            f"# A first fault tree of {name}, from its causes, its controls and what they depend on.",
            "# It has no numbers yet: give each event one with its source, correct what is not so, and add what stands",
            "# in the sequence of the hazard only.",
            "fault_trees:",
            *(f"  {line}".rstrip() for line in record_lines(id, draft(hazard, assessment.register)).splitlines()),
            "",
        )
    )
    if output is None:
        print_text(text)
        return
    if output.exists():
        raise RiskkitError(
            f"{output} is there already", "name a new file in the folder of the register, such as `-o drafts.yaml`"
        )
    write_whole(output, text.encode())
    print_text(f"{output} holds {id}, a first tree of {name}. Edit it; `riskkit fault {id}` says what it says.\n")


def _free_id(register: Register) -> str:
    number = 1
    while (id := f"FT{number:02}") in register.records or id in register.broken:
        number += 1
    return id


def _trees_named(name: str, assessment: Assessment) -> tuple[str, ...]:
    """The tree of that id, or the trees of that hazard.

    Raises:
        RiskkitError: where there is none.
    """
    from riskkit.judgement.fault_trees import tree_of
    from riskkit.model.records import Hazard

    if name in assessment.trees:
        return (name,)
    register = assessment.register
    hazard: Hazard | None = register.get(name, Hazard)
    if hazard is not None:
        found = tuple(tree.id for tree in tree_of(hazard, register))
        if not found:
            raise RiskkitError(f"{name} has no fault tree", f"`riskkit fault {name} --draft` prints a first one")
        return found
    if name in register.broken:
        raise RiskkitError(f"{name} cannot be read as written", "`riskkit check` says what is wrong with it")
    if name in register.records:
        raise RiskkitError(f"{name} is no fault tree and no hazard", "name one of them, or a file with `fault_tree:`")
    raise RiskkitError(f"there is no fault tree, hazard or file {name}", _did_you_mean(name, register))


def _did_you_mean(name: str, register: Register) -> str:
    from riskkit.model.fault_trees import FaultTree
    from riskkit.text.complaints import nearest

    ids = (*(tree.id for tree in register.of(FaultTree)), *(hazard.id for hazard in register.hazards))
    guess = nearest(name, ids)
    return f"did you mean {guess}?" if guess else "name a fault tree, a hazard or a YAML file with `fault_tree:`"


def _open_points(id: str, assessment: Assessment) -> tuple[str, ...]:
    """What the rules find in this tree; of many findings of one rule, the first and how many more."""
    by_rule: dict[str, list[str]] = {}
    for found in assessment.report.open:
        if found.record == id or (found.rule == "claim-below-tree" and found.record == assessment.trees[id].hazard):
            by_rule.setdefault(found.rule, []).append(found.headline)
    points: list[str] = []
    for rule, headlines in by_rule.items():
        if len(headlines) <= MOST_ALIKE:
            points += headlines
        else:
            points.append(f"{headlines[0]}; {len(headlines) - 1} more like it, see `riskkit check` [{rule}]")
    return tuple(points)


def _print(
    name: str, worked: WorkedTree, format: str, listed: int, seed: int | None, points: tuple[str, ...] = ()
) -> None:
    from riskkit.faults import FaultError
    from riskkit.judgement.fault_trees import uncertainty_of

    analysis = worked.analysis
    if analysis is None:
        raise FaultError(f"{name} cannot be worked out: {worked.problem}", "change it as it says")
    told = tuple(_story(worked, analysis))
    spread = uncertainty_of(worked, seed=seed) if seed is not None else None
    if format == "json":
        from riskkit.exchange.fault_trees import tree_json

        print_text(tree_json(name, worked, analysis, spread, told, CAUTION) + "\n")
        return
    columns = width()
    title = worked.sheet.title
    lines = wrapped(f"{name}  {title}" if title else name, columns)
    for sentence in told:
        lines += wrapped(sentence, columns, "  ", "    ")
    if seed is not None:
        lines += wrapped(_spread_words(spread), columns, "  ", "    ")
    for point in points:
        lines += wrapped(f"Open: {point}.", columns, "  ", "    ")
    lines += ["", *_pictures(worked, analysis, columns, listed), ""]
    lines += wrapped(CAUTION, columns)
    print_text("\n".join(lines) + "\n")


def _spread_words(spread: TopUncertainty | None) -> str:
    """How far the top spreads with its events, with the error of the simulation."""
    from riskkit.faults.saying import say_probability

    if spread is None:
        return "No event says how its number varies (`error_factor:`, or runs of a control), so that the top does not spread."
    low, middle, high = (say_probability(spread.percentiles[each]) for each in (5.0, 50.0, 95.0))
    ends = " to ".join(map(say_probability, spread.percentile_errors[95.0]))
    notes = "".join(f"; {note}" for note in spread.notes)
    return (
        f"As its events vary, 5 % of the values of the top lie below {low}, half below {middle}, 95 % below {high} "
        f"({ends} by the simulation, 95 %); mean {say_probability(spread.mean)}. {spread.method}{notes}."
    )


def _pictures(worked: WorkedTree, analysis: Analysis, columns: int, listed: int) -> Iterator[str]:
    from riskkit.cli.faulttext import cut_set_lines, importance_lines, tree_lines

    drawn = tree_lines(analysis.tree, analysis, worked.titles, columns, unknown=worked.unsaid)
    yield from drawn[:MOST_LINES]
    if len(drawn) > MOST_LINES:
        yield f"... and {len(drawn) - MOST_LINES} further lines of the tree"
    yield ""
    if worked.unknown:
        yield "Smallest cut sets:"
        for each in sorted(analysis.cut_sets, key=lambda found: (len(found.events), found.events)):
            yield from wrapped(
                "  " + " + ".join(worked.titles.get(name, name) for name in each.events), columns, "", "    "
            )
        return
    yield from cut_set_lines(analysis, worked.titles, columns, listed)
    if analysis.importance:
        yield ""
        yield from importance_lines(analysis, worked.titles, columns)


def _story(worked: WorkedTree, analysis: Analysis) -> Iterator[str]:
    from riskkit.faults.telling import story
    from riskkit.judgement.fault_trees import before_words, idle_words

    if worked.unknown:
        yield from _story_without_numbers(worked, analysis)
        return
    yield from story(analysis.tree, analysis, worked.titles)
    yield from idle_words(worked)
    if worked.before is not None:
        yield before_words(worked)


def _story_without_numbers(worked: WorkedTree, analysis: Analysis) -> Iterator[str]:
    """What can be said where events have no probability."""
    from riskkit.faults.saying import say_number, say_whole

    count = len(worked.unknown)
    names = ", ".join(f"`{name}`" for name in worked.unknown[:3]) + (" and others" if count > 3 else "")
    yield f"{count} {'event has' if count == 1 else 'events have'} no probability ({names}), so that the top has none."
    alone = worked.single_points
    if alone:
        yield f"{', '.join(f'`{worked.titles.get(name, name)}`' for name in alone)} alone {'brings' if len(alone) == 1 else 'bring'} it about."
    elif analysis.orders:
        least = min(analysis.orders)
        if least == 0:
            yield "Nothing has to fail: it comes about by what is taken as certain."
            return
        ways = analysis.orders[least]
        yield (
            f"No event alone brings it about; at least {say_number(least)} must happen together, and "
            f"{'one group' if ways == 1 else f'{say_whole(ways)} groups'} of so many would do."
        )
