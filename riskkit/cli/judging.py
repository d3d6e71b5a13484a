"""`judge`: what results say about a test's limit, or what one reading says about a limit typed in."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.opening import one_of, open_register, print_text, warn_if_broken, width
from riskkit.cli.output import wrapped
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.evidence.guard import Judgement
    from riskkit.judgement.outlook import Outlook
    from riskkit.judgement.samples import SampleVerdict
    from riskkit.judgement.verdicts import LimitVerdict, ResultVerdict
    from riskkit.model.verification import Result, Test
    from riskkit.units import Quantity

STANDING = (
    "A verdict is about readings on the stated unit, version and day. It says nothing about another unit, "
    "and nothing about use on a person."
)


def judge_asked(
    test: str | None,
    folder: Path,
    readings: Sequence[str] | None,
    uncertainty: str | None,
    at_most: str | None,
    at_least: str | None,
    guard: float,
    format: str,
    today: str | None,
) -> None:
    """A test of a register, or readings typed on the command line.

    Raises:
        RiskkitError: where neither or both are given.
    """
    if readings and test is None:
        judge_readings(readings, uncertainty, at_most, at_least, guard, format)
    elif test is not None and not readings:
        tell_judgement(test, folder, today, format)
    else:
        raise RiskkitError(
            "a test or readings are needed, and not both",
            'write `riskkit judge T07`, or `riskkit judge --reading "17.6 hPa" --uncertainty "0.3 hPa" --at-most "18 hPa"`',
        )


def tell_judgement(id: str, folder: Path, today: str | None, format: str = "text", *, only: str | None = None) -> None:
    """Print the verdict on every result of a test, and what its sample shows.

    Args:
        id: The test.
        folder: Folder of the register.
        today: The day as typed, or None for the clock's.
        format: "text" or "json".
        only: A result; the others are then not printed in the text.

    Raises:
        RiskkitError: where there is no such test.
    """
    from riskkit.judgement.outlook import outlook
    from riskkit.judgement.verdicts import worst_word
    from riskkit.model.verification import Result, Test
    from riskkit.text.complaints import nearest

    one_of("--format", format, ("text", "json"))
    assessment = open_register(folder, today)
    warn_if_broken(assessment.report)
    register = assessment.register
    test = register.get(id, Test)
    if test is None:
        guess = nearest(id, tuple(each.id for each in register.tests))
        raise RiskkitError(f"there is no test {id}", f"did you mean {guess}?" if guess else "name a test, such as T07")
    results = {result.id: result for result in register.of(Result) if result.test == id}
    verdicts = [assessment.verdicts[each] for each in results]
    counting = [each.word for each in verdicts if not each.replaced]
    sample = assessment.samples.get(id)
    rules = assessment.policy.evidence
    ahead = outlook(test, sample, rules)
    if format == "json":
        from riskkit.exchange.verdicts import verdict_json

        word = worst_word(counting) if counting else None
        print_text(verdict_json(test, verdicts, results, sample, ahead, rules, word) + "\n")
        return
    columns = width()
    lines = wrapped(f"{id}  {test.title}", columns, "", "     ")
    for limit in test.limit:
        lines += wrapped(f"Limit: {limit.sentence()}.", columns, "  ", "    ")
    if any(limit.quantities for limit in test.limit):
        times = "" if rules.guard_band == 1 else f"{rules.guard_band:g} times "
        told = f"A reading meets it where it lies inside by {times}its expanded uncertainty (k = 2)."
        lines += wrapped(told, columns, "  ", "    ")
    if not verdicts:
        lines += wrapped(f"No result is on file: cannot tell. `riskkit record {id}` takes one.", columns, "  ", "    ")
    for verdict in [each for each in verdicts if only is None or each.result == only]:
        lines += ["", *_result(verdict, results[verdict.result], columns)]
    for sentence in (*_sample(sample), *outlook_sentences(ahead, test)):
        lines += wrapped(sentence, columns, "  ", "    ")
    lines += ["", *wrapped(STANDING, columns)]
    print_text("\n".join(lines) + "\n")


def judge_readings(
    readings: Sequence[str],
    uncertainty: str | None,
    at_most: str | None,
    at_least: str | None,
    guard: float,
    format: str,
) -> None:
    """Judge readings typed on the command line; no register is needed.

    Raises:
        RiskkitError: where a quantity cannot be read, kinds differ, or no limit is given.
    """
    from riskkit.evidence.guard import judge_reading
    from riskkit.judgement.amounts import half_width
    from riskkit.judgement.verdicts import alike

    one_of("--format", format, ("text", "json"))
    low, high = _quantity(at_least, "--at-least"), _quantity(at_most, "--at-most")
    if low is None and high is None:
        raise RiskkitError("no limit is given", 'add --at-most or --at-least, such as --at-most "18 hPa"')
    if low is not None and high is not None and low.kind == high.kind and low.value >= high.value:
        raise RiskkitError(
            f"--at-least {low.written} does not lie below --at-most {high.written}", "give the lower limit first"
        )
    spread = _quantity(uncertainty, "--uncertainty")
    judged: list[tuple[Quantity, Judgement]] = []
    for written in readings:
        reading = _quantity(written, "--reading")
        assert reading is not None
        for end in (low, high):
            if end is not None and not alike(reading, end):
                raise RiskkitError(
                    f"{reading.written} is a {reading.kind}, and the limit {end.written} is a {end.kind}"
                    if end.kind != reading.kind
                    else f"{reading.written} and {end.written}: one is a temperature, the other a difference",
                    "give both in units of one kind",
                )
        try:
            expanded = half_width(spread, reading) if spread is not None else reading.plus_minus
        except ValueError as why:
            raise RiskkitError(str(why), "give the uncertainty in a unit of the reading's kind, or in %") from None
        lower, upper = low.value if low else None, high.value if high else None
        judged.append((reading, judge_reading(reading.value, expanded, lower=lower, upper=upper, guard=guard)))
    if format == "json":
        from riskkit.exchange.verdicts import readings_json

        print_text(readings_json(judged) + "\n")
        return
    columns = width()
    lines = [line for reading, each in judged for line in wrapped(_one_reading(reading, each), columns, "", "  ")]
    print_text("\n".join([*lines, "", *wrapped(STANDING, columns)]) + "\n")


def _quantity(written: str | None, option: str) -> Quantity | None:
    from riskkit.units import UnitError, read_quantity

    if written is None:
        return None
    try:
        return read_quantity(written)
    except UnitError as error:
        raise RiskkitError(f"{option}: {error.headline}", error.help) from None


def _one_reading(reading: Quantity, judged: Judgement) -> str:
    from riskkit.judgement.amounts import difference
    from riskkit.judgement.verdicts import reading_sentence

    if judged.expanded_uncertainty is None:
        return f"{reading.written}: {judged.word}; {judged.because}."
    band = difference(judged.guard_band or 0.0, reading)
    return f"{reading.written}: {judged.word}; {reading_sentence(judged, reading)}; guard band {band}."


def _result(verdict: ResultVerdict, result: Result, columns: int) -> Iterator[str]:
    taken = f"{verdict.result}, {result.on}{f', {result.unit}' if result.unit else ', unit not stated'}"
    replaced = " (replaced by a later result; kept on file)" if verdict.replaced else ""
    yield from wrapped(f"{taken}: {verdict.word}{replaced}", columns, "", "  ")
    if not verdict.limits:
        yield from wrapped(f"{verdict.because}.", columns, "  ", "    ")
    for limit in verdict.limits:
        yield from _limit(limit, columns, several=len(verdict.limits) > 1)


def _limit(limit: LimitVerdict, columns: int, *, several: bool) -> Iterator[str]:
    if several or not limit.readings:
        name = f"{limit.limit.sentence()}: " if several else ""
        yield from wrapped(f"{name}{limit.word}; {limit.because}.", columns, "  ", "    ")
    if limit.readings and (not several or len(limit.readings) > 1):
        for each in limit.readings:
            word = f"{each.word};".ljust(15)
            yield from wrapped(f"{word}{each.because}.", columns, "  ", "                 ")


def _sample(sample: SampleVerdict | None) -> Iterator[str]:
    from riskkit.judgement.samples import sample_sentences

    if sample is not None:
        yield from sample_sentences(sample)


def outlook_sentences(ahead: Outlook | None, test: Test) -> Iterator[str]:
    """What the plan can and cannot show, and what more readings would."""
    from riskkit.judgement.counted import at_least, counted_runs, percent

    if ahead is None:
        return
    for _, _, because in ahead.readings_needed:
        yield f"{because[0].upper()}{because[1:]}."
    allowed = f"with at most {ahead.allowed} failed" if ahead.allowed else "without a failure"
    yield (
        f"A plan of {counted_runs(ahead.runs)} that passes {allowed} shows at least {at_least(ahead.proportion_shown)} at "
        f"{percent(ahead.confidence)} confidence (one-sided, Clopper-Pearson)."
    )
    if ahead.runs_needed is not None and ahead.proportion is not None and ahead.runs_needed > ahead.runs:
        yield f"{percent(ahead.proportion)} at that confidence takes {counted_runs(ahead.runs_needed)} {allowed}."
    chances = ", ".join(f"{percent(true)} with probability {chance:.2g}" for true, chance in ahead.passes)
    yield f"It passes a thing that truly fails in {chances}."
