"""What `calc` prints: an answer, the help of a model, a sweep, and how checks came out, in lines of text."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from riskkit.cli.output import counted, table, wrapped
from riskkit.engineering.answering import STANDING
from riskkit.engineering.models import OUTSIDE_KINDS
from riskkit.engineering.proving import summary
from riskkit.exchange.calculations import (
    MAY,
    MUST,
    check_words,
    coverage,
    example_line,
    given_rows,
    per,
    remarks,
    spread_words,
)
from riskkit.units.kinds import readable

if TYPE_CHECKING:
    from riskkit.engineering.answering import Answer, Value
    from riskkit.engineering.models import Model
    from riskkit.engineering.proving import Proof
    from riskkit.engineering.searching import Solved, Swept
    from riskkit.evidence.envelopes import Envelope
    from riskkit.exchange.calculations import Curve

ROWS = 12
LATER = "    "


def answer_lines(answer: Answer, value: Value, columns: int, trials: Sequence[str] = ()) -> list[str]:
    """An answer in one line, and what belongs to it in short lines below."""
    model, found = answer.model, value.found
    behind = f"  ({found.words})" if found.words != found.name else ""
    lines = wrapped(f"{found.name} = {value.written}{behind}", columns, "", LATER)

    def say(text: str) -> None:
        lines.extend(wrapped(text, columns, "  ", LATER))

    others = [each for each in answer.values if each.found.name != found.name]
    if others:
        say("Also: " + "; ".join(f"{each.found.name} = {each.written}" for each in others) + ".")
    say(f"{_uncertainty(answer, value)}.")
    for each in trials:
        say(each)
    moved = _slopes(answer, value)
    if moved:
        say(f"One more of each input changes it by: {'; '.join(moved)}.")
    if answer.validity == "inside":
        say(f"Validity: inside. It holds for: {model.holds}.")
    else:
        say(f"Validity: {answer.validity.upper()}: {'; '.join(answer.because)}. It holds for: {model.holds}.")
    taken = [
        f"{each.given.name} {each.written}" for each in answer.inputs if each.origin not in ("default", "left out")
    ]
    assumed = [f"{each.given.name} {each.written}" for each in answer.inputs if each.origin == "default"]
    say(f"Inputs: {', '.join(taken) or 'none'}" + (f"; by default {', '.join(assumed)}." if assumed else "."))
    say(f"Formula: {model.formula}")
    say(f"Source: {model.source}")
    for remark in remarks(answer, value):
        say(f"Remark: {remark}.")
    if not model.is_verified:
        say(not_verified(model))
    say(STANDING)
    return lines


def not_verified(model: Model) -> str:
    """What is said of a model whose checks are all our own."""
    return f"Not verified: none of its {counted(len(model.checks), 'check')} comes from somebody else."


def _uncertainty(answer: Answer, value: Value) -> str:
    if value.uncertainty is None:
        hint = "" if value.remarks else how_to_state(answer)
        return f"Uncertainty not stated: {coverage(value)}{hint}"
    if not value.contributions or not value.uncertainty:
        return "The stated uncertainties do not move this answer"
    told = coverage(value)
    return f"{told[0].upper()}{told[1:]}; most of it from {spread_words(value)}"


def how_to_state(answer: Answer) -> str:
    """How an uncertainty is typed, with one of the inputs; empty where none is a number on a scale of its own."""
    for each in answer.inputs:
        if isinstance(each.value, float) and each.value and each.given.kind != "temperature":
            return f'; type it behind a value, such as {each.given.name}="{each.written} ± 2 %"'
    return ""


def _slopes(answer: Answer, value: Value) -> list[str]:
    from riskkit.engineering.slopes import slopes_of

    found, model = value.found, answer.model
    told = []
    for name, slope in slopes_of(answer, found.name, found.unit).items():
        if slope:
            told.append(f"{name} {slope:+.3g} {per(found.unit, model.given(name).unit)}".rstrip())
    return told


def solved_lines(solved: Solved, name: str, target: str, set_aside: str, columns: int) -> list[str]:
    """The input that gives what is wanted, in front of the answer with it."""
    given = solved.given
    lines = wrapped(f"{given.name} = {solved.written} gives {name} {target}", columns, "", LATER)
    if solved.others:
        lines += wrapped(f"So does {', '.join(solved.others)}.", columns, "  ", LATER)
    if set_aside:
        lines += wrapped(f"{set_aside} was set aside: it is what is looked for.", columns, "  ", LATER)
    return lines


def sweep_lines(swept: Swept, told: Sequence[Curve], typed: Mapping[str, str], columns: int) -> list[str]:
    """A sweep as a table and a plot of its first answer."""
    model, given = swept.model, swept.given
    beside = ", ".join(f"{name} {value}" for name, value in typed.items() if name != given.name)
    lines = wrapped(f"{model.name}: {model.title}, along {given.name}" + (f"; {beside}" if beside else ""), columns)
    told = [each for each in told if any(number is not None for number in each.numbers)] or told
    shown = list(told)
    rows = _rows(swept, shown)
    while len(shown) > 1 and max(map(len, rows)) > columns:
        shown.pop()
        rows = _rows(swept, shown)
    lines += ["", *rows, ""]
    if len(shown) < len(told):
        left = ", ".join(each.name for each in told[len(shown) :])
        lines += wrapped(f"Not shown for want of room: {left}; ask for one with --answer.", columns, "", LATER)
    first = told[0]
    if sum(number is not None for number in first.numbers) > 1:
        unit = f" in {first.unit}" if first.unit else ""
        holes = "; ? marks where there is no answer" if None in first.numbers else ""
        lines += wrapped(f"Plot: {first.name}{unit} against {given.name}{holes}.", columns)
        lines += [*_plot(swept, first, columns), ""]
    for reason in _reasons(swept):
        lines += wrapped(reason, columns, "", LATER)
    lines += wrapped(f"Formula: {model.formula}", columns, "", LATER)
    lines += wrapped(f"Source: {model.source}", columns, "", LATER)
    if not model.is_verified:
        lines += wrapped(not_verified(model), columns, "", LATER)
    return [*lines, *wrapped(STANDING, columns, "", LATER)]


def _reasons(swept: Swept) -> Iterator[str]:
    """Why the model does not hold, from the first point of each stretch on."""
    for validity, stretch in itertools.groupby(swept.points, key=lambda point: point.validity):
        because = next(stretch).because
        if validity != "inside" and because:
            yield f"{validity[0].upper()}{validity[1:]}: {because}."


def _rows(swept: Swept, told: Sequence[Curve]) -> list[str]:
    given = swept.given
    heads = (_head(given.name, readable(given.unit)), *(_head(each.name, each.unit) for each in told), "validity")
    rows = [heads]
    for place, point in enumerate(swept.points):
        numbers = (each.numbers[place] for each in told)
        cells = ("-" if number is None else f"{number:.4g}" for number in numbers)
        rows.append((f"{point.value:.4g}", *cells, point.validity))
    return table(rows)


def _head(name: str, unit: str) -> str:
    return f"{name} [{unit}]" if unit else name


def _plot(swept: Swept, curve: Curve, columns: int) -> list[str]:
    from riskkit.cli.textplot import plot_steps, text_plot

    places = [(point.value, number) for point, number in zip(swept.points, curve.numbers, strict=True)]
    shape = curve_envelope(sorted(places, key=lambda place: place[0]), plot_steps(columns))
    return text_plot(shape, columns=columns, rows=ROWS, unit=readable(swept.given.unit))


def curve_envelope(places: Sequence[tuple[float, float | None]], steps: int) -> Envelope:
    """Points joined by straight lines, as lowest and highest value per step; None and a gap where there is no line.

    Args:
        places: Input and answer, by rising input; the answer is None where there is none.
        steps: Number of steps between the first input and the last.
    """
    from riskkit.evidence.envelopes import Envelope

    start, end = places[0][0], places[-1][0]
    lows: list[float | None] = [None] * steps
    highs: list[float | None] = [None] * steps

    def touch(step: int, value: float) -> None:
        low, high = lows[step], highs[step]
        lows[step] = value if low is None else min(low, value)
        highs[step] = value if high is None else max(high, value)

    def step_of(x: float) -> int:
        return min(steps - 1, int((x - start) / (end - start) * steps))

    for place, (x, y) in enumerate(places):
        if y is None:
            continue
        touch(step_of(x), y)
        if place + 1 == len(places):
            continue
        next_x, next_y = places[place + 1]
        if next_y is None:
            continue
        for step in range(step_of(x), step_of(next_x) + 1):
            middle = start + (step + 0.5) / steps * (end - start)
            if x <= middle <= next_x:
                touch(step, y + (next_y - y) * (middle - x) / (next_x - x))
    gaps = tuple(low is None for low in lows)
    return Envelope(start, end, tuple(lows), tuple(highs), gaps)


def figure_of(swept: Swept, curve: Curve) -> str:
    """The sweep as SVG text."""
    from riskkit.dossier.sweepfigure import Axis, Dot, sweep_figure

    dots = [
        Dot(point.value, number, point.validity == "inside")
        for point, number in zip(swept.points, curve.numbers, strict=True)
    ]
    given = swept.given
    return sweep_figure(dots, Axis(given.words, readable(given.unit)), Axis(curve.words, curve.unit)).svg


def list_lines(models: Sequence[Model]) -> list[str]:
    """All models, one a line."""
    rows = [(each.name, each.title + ("" if each.is_verified else " (not verified)")) for each in models]
    return table(rows)


def proof_lines(proved: Sequence[tuple[Model, tuple[Proof, ...]]], columns: int) -> list[str]:
    """One line per model; the checks that do not hold below theirs."""
    lines = []
    widest = max((len(model.name) for model, _ in proved), default=0)
    for model, proofs in proved:
        held = all(proof.holds for proof in proofs)
        mark = "    " if held else "  ! "
        lines.append(f"{model.name:<{widest}}{mark}{summary(model, proofs)}")
        for proof in proofs:
            if not proof.holds:
                inputs = ", ".join(f"{name} {value}" for name, value in proof.check.given.items())
                found = proof.value.written if proof.value is not None else proof.refusal
                told = f"{proof.check.answer} for {inputs}: {found}, expected {proof.check.expected} ({proof.check.source})"
                lines += wrapped(told, columns, "    ", "      ")
    failed = sum(not all(proof.holds for proof in proofs) for _, proofs in proved)
    own = sum(not model.is_verified for model, _ in proved)
    ends = f"{counted(len(proved), 'model')}: "
    ends += (
        "all checks hold on this machine" if not failed else f"{failed} with checks that do not hold on this machine"
    )
    return [*lines, f"{ends}; {own} not verified by values from outside." if own else f"{ends}."]


def help_lines(model: Model, columns: int) -> list[str]:
    """Everything that a model says of itself."""
    lines = wrapped(f"{model.name}: {model.title}", columns, "", LATER)

    def part(head: str, body: Sequence[str]) -> None:
        if body:
            lines.extend(["", head])
            for each in body:
                lines.extend(wrapped(each, columns, "  ", LATER))

    if model.aliases:
        part("Also called", [", ".join(model.aliases)])
    part("Formula", [model.formula])
    part("Source", [model.source])
    part("Where it holds", [model.holds])
    lines += ["", "Inputs"]
    lines += _input_lines(model, columns)
    part(
        "Answers",
        [f"{each.name}{f' [{readable(each.unit)}]' if each.unit else ''}: {each.words}" for each in model.finds],
    )
    lines += ["", "Example", f"  {example_line(model)}"]
    part("To ask before the answer is believed", list(model.traps))
    told = [*check_words(model)]
    if not model.is_verified:
        told.insert(0, not_verified(model))
    outside = sum(each.kind in OUTSIDE_KINDS for each in model.checks)
    part(
        f"Checks ({outside} of {len(model.checks)} from outside; `riskkit calc {model.name} --verify` re-runs them)",
        told,
    )
    return [*lines, "", *wrapped(STANDING, columns)]


def _input_lines(model: Model, columns: int) -> list[str]:
    rows = [(name, kind, default, span, words) for name, kind, default, span, words in given_rows(model)]
    lines = [f"  {line}" for line in table([("name", "kind [unit]", "default", "range", "what it is"), *rows])]
    if max(map(len, lines)) <= columns:
        return lines
    told = []
    for name, kind, default, span, words in rows:
        told += wrapped(f"{name}: {words}", columns, "  ", "      ")
        default = default if default in (MUST, MAY) else f"default {default}"
        more = "; ".join(each for each in (kind, default, span and f"range {span}") if each)
        told += wrapped(more, columns, "      ", "      ")
    return told
