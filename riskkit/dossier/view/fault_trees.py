"""Fault trees on paper, in section 6: the story first, then the figure, the cut sets and what each event weighs."""

from __future__ import annotations

from dataclasses import dataclass

from riskkit.assess import Assessment
from riskkit.dossier.faultbars import importance_bars
from riskkit.dossier.faultfigure import fault_figures
from riskkit.dossier.figures import Figure
from riskkit.dossier.view.telling import Teller
from riskkit.faults.saying import say_probability
from riskkit.faults.telling import story
from riskkit.judgement.fault_trees import EventNumber, WorkedTree, before_words, idle_words
from riskkit.model.fault_trees import FaultTree

MOST_SETS = 15
"""Minimal cut sets that are printed; all of them are counted."""

MOST_FIGURES = 4
MOST_EVENTS = 60


@dataclass(frozen=True, slots=True)
class EventLine:
    """One event: what it is called, what it is in the register, its probability, and who says so."""

    name: str
    records: tuple[str, ...]
    person: str
    mode: str
    probability: str
    how: str
    source: str | None


@dataclass(frozen=True, slots=True)
class TreeBlock:
    """One fault tree.

    Attributes:
        told: The story, most important sentence first.
        figures: The tree, drawn; empty where there is nothing to put numbers to.
        cut_sets: Names of the events and the probability, the likeliest first.
        left_out: How many minimal cut sets, and how many events, are not printed.
        bars: Importance of the events; None where it was not worked out.
    """

    id: str
    hazard: str
    title: str
    told: tuple[str, ...]
    figures: tuple[Figure, ...]
    figures_left_out: int
    cut_sets: tuple[tuple[str, str], ...]
    sets_left_out: int
    bars: Figure | None
    events: tuple[EventLine, ...]
    events_left_out: int


def tree_blocks(assessment: Assessment, tell: Teller) -> tuple[TreeBlock, ...]:
    """All fault trees in the order of the register."""
    return tuple(_block(tree, assessment, tell) for tree in assessment.register.of(FaultTree))


def _block(tree: FaultTree, assessment: Assessment, tell: Teller) -> TreeBlock:
    where = tree.id
    worked = assessment.trees[where]
    analysis = worked.analysis
    titles = {name: tell(words, where) for name, words in _titles(worked).items()}
    told: list[str] = []
    figures: tuple[Figure, ...] = ()
    bars = None
    sets: list[tuple[str, str]] = []
    if analysis is None:
        told.append(f"It cannot be worked out: {worked.problem}.")
    elif worked.unknown:
        count = len(worked.unknown)
        told.append(
            f"{count} of its events {'has' if count == 1 else 'have'} no probability, so that the top has none."
        )
        smallest = sorted(analysis.cut_sets, key=lambda each: (len(each.events), each.events))
        sets = [(_together(each.events, titles), "") for each in smallest[:MOST_SETS]]
        figures = fault_figures(analysis.tree, titles, analysis, unknown=worked.unsaid)
    else:
        told += story(analysis.tree, analysis, titles)
        told += [*idle_words(worked), before_words(worked)]
        figures = fault_figures(analysis.tree, titles, analysis)
        bars = importance_bars(analysis, titles) if analysis.importance else None
        sets = [
            (_together(each.events, titles), say_probability(each.probability))
            for each in analysis.cut_sets[:MOST_SETS]
        ]
    count = analysis.cut_set_count if analysis is not None and analysis.cut_set_count is not None else len(sets)
    events = [_event(number, tree, assessment, tell, titles) for number in worked.events.values()]
    return TreeBlock(
        id=where,
        hazard=tree.hazard,
        title=tell(tree.title or tree.words(tree.top), where),
        told=tell.each([line for line in told if line], where),
        figures=figures[:MOST_FIGURES],
        figures_left_out=max(0, len(figures) - MOST_FIGURES),
        cut_sets=tuple(sets),
        sets_left_out=max(0, count - len(sets)),
        bars=bars,
        events=tuple(events[:MOST_EVENTS]),
        events_left_out=max(0, len(events) - MOST_EVENTS),
    )


def _titles(worked: WorkedTree) -> dict[str, str]:
    names = (*worked.sheet.gates, *worked.sheet.events, *worked.events)
    return {name: name for name in names} | dict(worked.titles)


def _together(events: tuple[str, ...], titles: dict[str, str]) -> str:
    """Joined by a sign, as a name may hold the word `and`."""
    return " + ".join(titles.get(name, name) for name in events)


def _event(
    number: EventNumber, tree: FaultTree, assessment: Assessment, tell: Teller, titles: dict[str, str]
) -> EventLine:
    event = tree.events.get(number.event)
    elements = event.elements if event is not None else ()
    return EventLine(
        name=titles.get(number.name, number.name),
        records=tuple(each for each in elements if each in assessment.register.records),
        person=tell(event.person, tree.id) if event is not None and event.person else "",
        mode=tell(event.mode, tree.id) if event is not None and event.mode else "",
        probability="not stated" if number.probability is None else say_probability(number.probability),
        how=tell(number.how, tree.id) if number.how else "",
        source=tell(number.source, tree.id) if number.source else None,
    )
