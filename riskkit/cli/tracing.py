"""`trace`: what a recording of the bench shows, in sentences, a table and a plot."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.opening import one_of, print_text, width
from riskkit.cli.output import wrapped
from riskkit.diagnostics import RiskkitError
from riskkit.units import UnitError, read_quantity

if TYPE_CHECKING:
    from riskkit.evidence.exceedance import AlarmTime, Condition
    from riskkit.evidence.guard import Judgement
    from riskkit.evidence.measured import Measured, Metric
    from riskkit.evidence.recordings import Recording

ROWS = 14
SHOWN = (
    "cycle_rate", "longest_cycle", "shortest_cycle", "upper_level", "lower_level", "upper_plateau", "lower_plateau", "overshoot",
    "overshoot_share", "undershoot", "rise_time", "fall_time", "settling_time", "upper_dwell", "lower_dwell", "duty",
    "inspiration_expiration_ratio", "drift", "highest", "lowest", "noise", "volume_in", "volume_out", "time_above", "longest_above",
    "time_below", "longest_below", "samples_per_rise", "needed_sample_rate",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Asked:
    """What was typed on the command line, as it was typed."""

    columns: str | None = None
    column: str | None = None
    interval: str | None = None
    rate: str | None = None
    time: str | None = None
    missing: Sequence[str] = ()
    at_most: str | None = None
    at_least: str | None = None
    uncertainty: str | None = None
    levels: str | None = None
    within: str | None = None
    above: str | None = None
    below: str | None = None
    start: str | None = None
    stop: str | None = None
    event: str | None = None
    alarm: str | None = None


def show_trace(file: Path, asked: Asked, format: str, *, plot: bool) -> None:
    """Measure one column of a recording and print what it shows."""
    one_of("--format", format, ("text", "json"))
    if (asked.event is None) != (asked.alarm is None):
        raise RiskkitError(
            "a time to alarm needs both an event and an alarm", 'give --event "10 s" --alarm "buzzer > 0.5 V"'
        )
    if asked.uncertainty is not None and asked.at_most is None and asked.at_least is None:
        raise RiskkitError("an uncertainty without a limit judges nothing", "give --at-most or --at-least beside it")
    from riskkit.evidence.recordings import read_recording

    recording = read_recording(
        file,
        columns=asked.columns,
        interval=_quantity("--interval", asked.interval, "time"),
        rate=_quantity("--rate", asked.rate, "frequency"),
        time=asked.time,
        missing=[_missing(each) for each in asked.missing],
    ).between(_quantity("--from", asked.start, "time"), _quantity("--to", asked.stop, "time"))
    measured, judgements = _measured(recording, asked)
    alarm = _alarm(recording, asked)
    if format == "json":
        from riskkit.exchange.traces import trace_json

        print_text(trace_json(measured, judgements, alarm) + "\n")
        return
    columns = width()
    lines = [*_sentences(measured, judgements, alarm, columns), "", *_table(measured.metrics, columns)]
    if plot:
        lines += ["", *_plots(recording, measured, judgements, columns)]
    lines += ["", *_remarks("To know before a number is used:", measured.cautions, columns)]
    lines += _remarks("Found while reading:", measured.notes, columns)
    print_text("\n".join(lines).rstrip() + "\n")


def _measured(recording: Recording, asked: Asked) -> tuple[Measured, dict[str, tuple[float, Judgement]]]:
    from riskkit.evidence.guard import judge_reading
    from riskkit.evidence.metrics import measure

    column = recording.column(asked.column)

    def number(option: str, written: str | None) -> float | None:
        return None if written is None else column.number(written, option)

    at_most, at_least = number("--at-most", asked.at_most), number("--at-least", asked.at_least)
    levels = [column.number(each.strip(), "--levels") for each in (asked.levels or "").split(",") if each.strip()]
    measured = measure(
        recording,
        column.name,
        at_most=at_most,
        at_least=at_least,
        levels=levels,
        tolerance=None
        if asked.within is None
        else column.width(asked.within, "--within", max(map(abs, levels), default=0)),
        above=number("--above", asked.above),
        below=number("--below", asked.below),
    )
    judgements = {}
    for side, limit, key in (("at_most", at_most, "highest"), ("at_least", at_least, "lowest")):
        worst = measured.get(key)
        if limit is None or worst is None:
            continue
        spread = None if asked.uncertainty is None else column.width(asked.uncertainty, "--uncertainty", worst.value)
        upper, lower = (limit, None) if side == "at_most" else (None, limit)
        judgements[side] = (limit, judge_reading(worst.value, spread, upper=upper, lower=lower, unit=column.unit))
    return measured, judgements


def _alarm(recording: Recording, asked: Asked) -> AlarmTime | None:
    if asked.event is None or asked.alarm is None:
        return None
    from riskkit.evidence.exceedance import time_to_alarm

    event = _condition(recording, asked.event, "--event")
    alarm = _condition(recording, asked.alarm, "--alarm")
    if event is None:
        moment = _quantity("--event", asked.event, "time")
        assert moment is not None
        return time_to_alarm(recording, moment, _needed(alarm, asked.alarm))
    return time_to_alarm(recording, event, _needed(alarm, asked.alarm))


def _needed(condition: Condition | None, written: str) -> Condition:
    if condition is None:
        raise RiskkitError(
            f"`{written}` is no condition", 'write a column, > or <, and a level, such as "buzzer > 0.5 V"'
        )
    return condition


def _condition(recording: Recording, written: str, option: str) -> Condition | None:
    """`outlet < 3 hPa` as a condition; None where there is neither > nor <."""
    from riskkit.evidence.exceedance import Condition

    name, sign, level = re.match(r"([^<>]*)([<>]?)(.*)", written, re.DOTALL).groups()  # type: ignore[union-attr]
    if not sign:
        return None
    column = recording.column(name.strip())
    return Condition(column.name, "above" if sign == ">" else "below", column.number(level.strip(), option))


def _quantity(option: str, written: str | None, kind: str) -> float | None:
    if written is None:
        return None
    try:
        return read_quantity(written, kind).value
    except UnitError as error:
        raise RiskkitError(f"{option}: {error.headline}", error.help) from None


def _missing(written: str) -> float | tuple[str, float]:
    name, equals, number = written.rpartition("=")
    try:
        return (name.strip(), float(number)) if equals else float(number)
    except ValueError:
        raise RiskkitError(
            f"--missing `{written}` is no number", "write --missing -999, or --missing pressure=-999"
        ) from None


def _sentences(
    measured: Measured, judgements: Mapping[str, tuple[float, Judgement]], alarm: AlarmTime | None, columns: int
) -> Iterator[str]:
    from riskkit.evidence.saying import say_seconds

    unit = f" [{measured.unit}]" if measured.unit else " [unit not stated]"
    missing = f", {measured.missing} missing" if measured.missing else ""
    yield from wrapped(
        f"{measured.recording}, {measured.column}{unit}: {measured.samples} samples in {say_seconds(measured.end - measured.start)}, "
        f"one every {say_seconds(measured.interval)}{missing}.",
        columns,
    )
    if measured.cycles is None:
        yield from wrapped(f"No cycles: {measured.no_cycles_because}.", columns)
    else:
        rate = measured.get("cycle_rate")
        of = f", {rate.value:.4g} per minute" if rate is not None else ""
        yield from wrapped(f"{measured.cycles} complete cycles{of}.", columns)
    if measured.worst is not None:
        worst = measured.worst
        yield from wrapped(f"Worst cycle: number {worst.number}, at {worst.start:.5g} s: {worst.because}.", columns)
    for each in measured.reached:
        yield from wrapped(f"Level {each.because}.", columns)
    for side, (limit, judged) in judgements.items():
        yield from wrapped(_judged(side, limit, judged, measured.unit), columns)
        reading = measured.get("highest" if side == "at_most" else "lowest")
        if reading is not None and reading.distrust:
            yield from wrapped(
                f"This reading was {reading.distrust}: a worse one may lie between two samples.", columns
            )
    if alarm is not None:
        yield from wrapped(f"Time to alarm: {alarm.because} (event at {alarm.event_at:.5g} s).", columns)


def _judged(side: str, limit: float, judged: Judgement, unit: str) -> str:
    """The worst reading against its limit, with margin, guard band and risk."""
    behind = f" {unit}" if unit else ""
    said = (
        f"Limit {side.replace('_', ' ')} {limit:.4g}{behind}, worst reading {judged.value:.4g}{behind}: {judged.word}. "
    )
    said += f"It lies {abs(judged.margin):.3g}{behind} {'inside' if judged.margin >= 0 else 'beyond'} the limit"
    if judged.guard_band is None or judged.probability_outside is None:
        return f"{said}; {judged.because}; give it with --uncertainty."
    risk = 100 * judged.probability_outside
    return (
        f"{said}, with a guard band of {judged.guard_band:.3g}{behind}; "
        f"the chance that the true value lies beyond is {'below 0.01' if risk < 0.01 else 'above 99' if risk > 99 else f'{risk:.2g}'} %."
    )


def _table(metrics: Sequence[Metric], columns: int) -> list[str]:
    """Name, number with unit, spread over the cycles or time; in 60 columns too."""
    by_key = {each.key: each for each in metrics}
    rows = []
    for key in SHOWN:
        each = by_key.get(key)
        if each is None:
            continue
        if each.least is not None and each.most is not None:
            beside = f"{each.least:.4g} to {each.most:.4g}"
        elif each.interval is not None:
            beside = f"{each.interval.lower:.3g} to {each.interval.upper:.3g} (95 %)"
        else:
            beside = f"at {each.at:.5g} s" if each.at is not None else ""
        unit = "" if each.unit == "1" else f" {each.unit}"
        rows.append((each.name + (" (!)" if each.distrust else ""), f"{each.value:.4g}{unit}", beside))
    first = max(len(row[0]) for row in rows)
    second = max(len(row[1]) for row in rows)
    if first + second + 4 + max(len(row[2]) for row in rows) > columns:
        return [line.rstrip() for row in rows for line in _narrow(row, first, columns)]
    return [f"{name:<{first}}  {value:<{second}}  {beside}".rstrip() for name, value, beside in rows]


def _narrow(row: tuple[str, str, str], first: int, columns: int) -> Iterator[str]:
    name, value, beside = row
    line = f"{name:<{first}}  {value}"
    if beside and len(line) + 2 + len(beside) <= columns:
        yield f"{line}  {beside}"
        return
    yield line
    if beside:
        yield f"{'':<{first}}  {beside}"


def _plots(
    recording: Recording, measured: Measured, judgements: Mapping[str, tuple[float, Judgement]], columns: int
) -> Iterator[str]:
    from riskkit.cli.textplot import Line, plot_steps, text_plot
    from riskkit.evidence.envelopes import envelope

    lines = []
    told = []
    for side, (limit, judged) in judgements.items():
        told.append(f"= is the limit of {limit:.4g}")
        inner = judged.acceptance_upper if side == "at_most" else judged.acceptance_lower
        if inner is not None:
            lines.append(Line(inner, ".", f"guard band {inner:.4g}"))
            told.append(f"its guard band ends at {inner:.4g}")
        lines.append(Line(limit, "=", f"limit {limit:.4g}"))
    unit = f" in {measured.unit}" if measured.unit else ""
    whole = envelope(recording, measured.column, plot_steps(columns))
    worst = measured.worst
    said = f"Plot: {measured.column}{unit} against time, {whole.low:.4g} to {whole.high:.4g}; every column shows its lowest to its highest reading"
    said += "".join(f"; {each}" for each in told)
    said += "; ^ marks the worst cycle" if worst is not None else ""
    said += "; ? marks missing readings" if any(whole.gaps) else ""
    yield from wrapped(f"{said}.", columns)
    yield from text_plot(
        whole, columns=columns, rows=ROWS, lines=lines, marked=(worst.start, worst.end) if worst is not None else None
    )
    if worst is None:
        return
    margin = 0.15 * (worst.end - worst.start)
    near = envelope(recording, measured.column, plot_steps(columns), worst.start - margin, worst.end + margin)
    yield ""
    yield from wrapped(f"Plot: the worst cycle, number {worst.number}: {worst.because}.", columns)
    yield from text_plot(near, columns=columns, rows=ROWS, lines=lines, marked=(worst.start, worst.end))


def _remarks(head: str, remarks: Sequence[str], columns: int) -> Iterator[str]:
    if remarks:
        yield head
        for each in remarks:
            yield from wrapped(f"- {each}", columns, "", "  ")
