"""Rules about what results show: limits kept or not, samples too small, claims beyond the evidence, contradictions."""

from __future__ import annotations

from collections.abc import Iterator

from riskkit.checks import Context, Finding, rule
from riskkit.judgement.amounts import amount, difference
from riskkit.judgement.contradictions import disagreements, half_readings
from riskkit.judgement.counted import percent
from riskkit.judgement.samples import SampleVerdict, count_words, spread_words
from riskkit.judgement.verdicts import LimitVerdict, ResultVerdict, replaced_results
from riskkit.model.references import Path
from riskkit.model.verification import Instrument, Result


@rule("error")
def result_does_not_meet_limit(context: Context) -> Iterator[Finding]:
    """A result that does not meet the limit of its test.

    It stays on file, and so does the gap until something is changed and tried again. A later result may replace
    it, with the reason.

    Bad:

        tests:
          T01: {title: highest pressure, limit: {what: hood pressure, at_most: 20 hPa}}
        results:
          R01:
            test: T01
            on: 2026-11-02
            readings: {hood pressure: [21.4 hPa]}   # <-
            uncertainty: {hood pressure: 0.5 hPa}

    Good:

        tests:
          T01: {title: highest pressure, limit: {what: hood pressure, at_most: 20 hPa}}
        results:
          R01:
            test: T01
            on: 2026-11-02
            readings: {hood pressure: [18.9 hPa]}
            uncertainty: {hood pressure: 0.5 hPa}
    """
    halves = {(each.result, each.what) for each in half_readings(context.register)}
    for verdict, limit in _limits(context):
        if limit.word == "does not meet" and (verdict.result, limit.what) not in halves:
            yield Finding(
                verdict.result,
                _path(limit, context.register.records[verdict.result]),
                f"{verdict.result} does not meet {verdict.test} ({limit.limit.sentence()}): {limit.because}",
                f"change what {verdict.test} tries and try it again; the new result says `supersedes: {verdict.result}`",
            )


@rule("warning")
def result_cannot_be_told(context: Context) -> Iterator[Finding]:
    """A result of which nobody can tell whether it meets its limit.

    Without an uncertainty a reading has no margin; within the guard band of a limit it may lie on either side.

    Bad:

        tests:
          T01: {title: opening pressure, limit: {what: opening pressure, at_most: 18 hPa}}
        results:
          R01:
            test: T01
            on: 2026-11-02
            readings: {opening pressure: [17.9 hPa]}   # <-
            uncertainty: {opening pressure: 0.3 hPa}

    Good:

        tests:
          T01: {title: opening pressure, limit: {what: opening pressure, at_most: 18 hPa}}
        results:
          R01:
            test: T01
            on: 2026-11-02
            readings: {opening pressure: [17.6 hPa]}
            uncertainty: {opening pressure: 0.3 hPa}
    """
    for verdict, limit in _limits(context):
        result = context.register.records[verdict.result]
        assert isinstance(result, Result)
        told_elsewhere = limit.kind in ("conditions", "nothing") and bool(limit.limit.quantities)
        a_mean = limit.what is not None and not limit.readings and result.reported == "mean"
        if limit.word == "cannot tell" and not told_elsewhere and not a_mean:
            missing = "no uncertainty" in limit.because
            yield Finding(
                verdict.result,
                _path(limit, result),
                f"{verdict.result} cannot be told from the limit of {verdict.test} ({limit.limit.sentence()}): "
                f"{limit.because}",
                f"add `uncertainty: {{{limit.what}: ...}}` with the expanded uncertainty (k = 2)"
                if missing
                else "read it again with a finer instrument, or move what is read further from the limit"
                if limit.readings
                else "write down what the inspection found: `inspection: as it should be` or not",
            )


@rule("warning")
def limit_never_read(context: Context) -> Iterator[Finding]:
    """A limit of a test for which none of its results holds a reading.

    The test was done in part, and the part that was left out looks done.

    Bad:

        tests:
          T01:
            title: runtime
            limit:
              - {what: runtime at 22 °C, at_least: 3 h}
              - {what: runtime at 5 °C, at_least: 3 h}   # <-
        results:
          R01:
            test: T01
            on: 2026-11-02
            readings: {runtime at 22 °C: [3h10]}
            uncertainty: {runtime at 22 °C: 1 min}

    Good:

        tests:
          T01:
            title: runtime
            limit:
              - {what: runtime at 22 °C, at_least: 3 h}
        results:
          R01:
            test: T01
            on: 2026-11-02
            readings: {runtime at 22 °C: [3h10]}
            uncertainty: {runtime at 22 °C: 1 min}
    """
    for test in context.register.tests:
        judged = context.verdicts_of(test.id)
        for place, limit in enumerate(test.limit):
            here = [each.limits[place] for each in judged if each.limits]
            if here and limit.quantities and all(each.kind == "nothing" for each in here):
                results = ", ".join(each.result for each in judged)
                yield Finding(
                    test.id,
                    ("limit", place) if len(test.limit) > 1 else ("limit",),
                    f"{test.id} asks for {limit.sentence()}, and no result has a reading of it ({results})",
                    f"read it, or name the readings `{limit.what or 'as in the limit'}` where they were taken",
                )


@rule("warning")
def claim_not_shown_by_sample(context: Context) -> Iterator[Finding]:
    """A proportion claimed at a confidence that the sample on file does not show.

    Five readings inside a limit say little about the ninety-fifth of a hundred parts: either counted runs must be
    many enough (success runs), or the tolerance limit of the readings must lie inside.

    Bad:

        tests:
          T01:
            title: opening pressure
            limit: {what: opening pressure, at_most: 18 hPa}
            plan: {confidence: 95 %, proportion: 95 %}   # <-
        results:
          R01:
            test: T01
            on: 2026-11-02
            readings: {opening pressure: [17.2 hPa, 17.6 hPa, 17.4 hPa, 17.9 hPa, 17.3 hPa]}
            uncertainty: {opening pressure: 0.3 hPa}

    Good:

        tests:
          T01:
            title: flaps free after wetting
            limit: {shows: flap open}
            plan: {confidence: 95 %, proportion: 95 %}
        results:
          R01: {test: T01, on: 2026-11-02, runs: 59, failures: 0, inspection: as it should be}
    """
    for id, found in context.samples.items():
        if not found.shown:
            yield Finding(
                id,
                ("plan",),
                f"{id} claims that {percent(found.proportion)} keep to its limit, at {percent(found.confidence)} "
                f"confidence, and the sample on file does not show it: {'; '.join(_sample_words(found))}",
                f"`riskkit judge {id}` says how many would; or claim less in `plan:`",
                tuple((each.result, ("readings",), "the readings") for each in found.by_spread),
            )


@rule("warning")
def plan_not_fulfilled(context: Context) -> Iterator[Finding]:
    """Fewer runs or fewer units on file than the plan of the test asks for.

    One part tried twenty times shows how alike it is to itself; the spread of a lot is seen on many parts.

    Bad:

        tests:
          T01:
            title: opening pressure
            limit: {shows: opens}
            plan: {runs: 20, units: 5}   # <-
        units:
          U01: {title: first unit}
        results:
          R01: {test: T01, on: 2026-11-02, unit: U01, runs: 20, failures: 0}

    Good:

        tests:
          T01:
            title: opening pressure
            limit: {shows: opens}
            plan: {runs: 20, units: 1}
        units:
          U01: {title: first unit}
        results:
          R01: {test: T01, on: 2026-11-02, unit: U01, runs: 20, failures: 0}
    """
    for test in context.register.tests:
        judged = context.verdicts_of(test.id)
        if test.plan is None or not judged:
            continue
        results = list(context.register.all_of([each.result for each in judged], Result))
        runs = sum(
            result.runs or max((len(read) for read in result.readings.values()), default=1) for result in results
        )
        units = len({result.unit for result in results})
        short = []
        if test.plan.runs is not None and runs < test.plan.runs:
            short.append(f"{test.plan.runs} runs, and {runs} are on file")
        if test.plan.units is not None and units < test.plan.units:
            short.append(f"{test.plan.units} units, and results of {units} are on file")
        if short:
            yield Finding(
                test.id,
                ("plan",),
                f"the plan of {test.id} asks for {' and for '.join(short)}",
                f"`riskkit record {test.id}` takes the rest; or plan what will be done, and claim no more than it shows",
            )


@rule("warning")
def likelihood_claimed_beyond_evidence(context: Context) -> Iterator[Finding]:
    """A likelihood claimed below what the evidence on file supports.

    Twenty runs without a failure allow up to fourteen failures in a hundred; a claim of one in a thousand is then an
    opinion. What each kind of evidence may support is in the policy, under `evidence`.

    Bad:

        hazards:
          H01:
            title: overpressure
            condition: single fault
            harm: {text: injury, severity: 4}
            controls: [C01]
            likelihood:
              before: {level: B}
              claimed: {level: D, because: relief valve}   # <-
        controls:
          C01: {title: relief valve, kind: protective}
        tests:
          T01: {title: valve opens, proves: [C01], shows: effectiveness, limit: {shows: open}}
        results:
          R01: {test: T01, on: 2026-11-02, runs: 20, failures: 0}

    Good:

        hazards:
          H01:
            title: overpressure
            condition: single fault
            harm: {text: injury, severity: 4}
            controls: [C01]
            likelihood:
              before: {level: A}
              claimed: {level: B, because: relief valve}
        controls:
          C01: {title: relief valve, kind: protective}
        tests:
          T01: {title: valve opens, proves: [C01], shows: effectiveness, limit: {shows: open}}
        results:
          R01: {test: T01, on: 2026-11-02, runs: 30, failures: 0}
    """
    for hazard in context.standing_hazards:
        support = context.supports.get(hazard.id)
        score = context.scores[hazard.id]
        if support is None or not support.falls_short or score.claimed is None or not context.live_controls(hazard):
            continue
        assert support.score is not None
        claimed = score.claimed.levels[0]
        if claimed == support.score.levels[0] and score.claimed.p is not None:
            claimed = percent(float(score.claimed.p[1]))
        yield Finding(
            hazard.id,
            ("likelihood", "claimed"),
            f"{hazard.id} is claimed at {claimed}, and the evidence supports {support.score.levels[0]}: {support.because}",
            f"claim {support.score.levels[0]}; or gather what is missing: {support.needed}",
        )


@rule("error")
def results_disagree(context: Context) -> Iterator[Finding]:
    """Two results of one test on one unit that differ by more than their joint uncertainty.

    One of them, or what both are believed to measure, is wrong.

    Bad:

        tests:
          T01: {title: lower level, limit: {what: lower level, at_most: 6 hPa}}
        units:
          U01: {title: first unit}
        results:
          R01:
            test: T01
            on: 2026-11-02
            unit: U01
            readings: {lower level: [5.1 hPa]}
            uncertainty: {lower level: 0.2 hPa}
          R02:
            test: T01
            on: 2026-11-03
            unit: U01
            readings: {lower level: [4.4 hPa]}   # <-
            uncertainty: {lower level: 0.2 hPa}

    Good:

        tests:
          T01: {title: lower level, limit: {what: lower level, at_most: 6 hPa}}
        units:
          U01: {title: first unit}
        results:
          R01:
            test: T01
            on: 2026-11-02
            unit: U01
            readings: {lower level: [5.1 hPa]}
            uncertainty: {lower level: 0.2 hPa}
          R02:
            test: T01
            on: 2026-11-03
            unit: U01
            readings: {lower level: [5.0 hPa]}
            uncertainty: {lower level: 0.2 hPa}
    """
    for found in disagreements(context.register):
        first, second = (amount(mean, found.like) for mean in found.means)
        yield Finding(
            found.later,
            ("readings", found.what),
            f"{found.later} and {found.earlier} disagree about `{found.what}`: {second} and {first} are "
            f"{difference(abs(found.means[0] - found.means[1]), found.like)} apart, and their joint uncertainty is "
            f"{difference(found.uncertainty, found.like)} (k = 2)",
            "find out which is wrong; the one that holds says `supersedes:` with the reason",
            ((found.earlier, ("readings", found.what), "the earlier result"),),
        )


@rule("error")
def reading_looks_like_one_limb(context: Context) -> Iterator[Finding]:
    """A pressure of half the size of another reading of the same thing.

    The reading of a U-tube is the distance between both menisci. One limb alone is half of it, and half a pressure
    passes limits that the whole would not.

    Bad:

        tests:
          T01: {title: lower level, limit: {what: lower level, between: [4 hPa, 6 hPa]}}
        results:
          R01:
            test: T01
            on: 2026-11-02
            readings:
              lower level: [2.6 hPa]   # <-
              lower level on the display: [5.1 hPa]
            uncertainty: {lower level: 0.2 hPa}

    Good:

        tests:
          T01: {title: lower level, limit: {what: lower level, between: [4 hPa, 6 hPa]}}
        results:
          R01:
            test: T01
            on: 2026-11-02
            reading_mode: both limbs
            readings:
              lower level: [5.2 hPa]
              lower level on the display: [5.1 hPa]
            uncertainty: {lower level: 0.2 hPa}
    """
    for found in half_readings(context.register):
        whose = "" if found.other_result == found.result else f" of {found.other_result}"
        mode = context.register.records[found.result]
        assert isinstance(mode, Result)
        said = f"read as {mode.reading_mode}" if mode.reading_mode else "and how it was read is not stated"
        yield Finding(
            found.result,
            ("readings", found.what),
            f"`{found.what}` of {found.result} is {found.reading.written}, {found.ratio:.2f} times less than "
            f"{found.other.written} of `{found.other_what}`{whose}, {said}: it looks like one limb of a U-tube",
            "read both limbs again and enter it with `reading_mode: both limbs` and "
            f"`supersedes: {found.result}`; a reading is never doubled on paper",
        )


@rule("warning")
def instrument_overdue(context: Context) -> Iterator[Finding]:
    """A result read with an instrument that was past its due date on that day.

    It still gives readings; they are nobody's word any more.

    Bad:

        instruments:
          I01: {title: flow meter, uncertainty: 4 L/min, due: 2026-10-01}
        tests:
          T01: {title: fresh flow, limit: {what: fresh flow, at_least: 45 L/min}}
        results:
          R01:
            test: T01
            on: 2026-10-12
            instruments: [I01]   # <-
            readings: {fresh flow: [52 L/min]}
            uncertainty: {fresh flow: 4 L/min}

    Good:

        instruments:
          I01: {title: flow meter, uncertainty: 4 L/min, due: 2026-10-01}
        tests:
          T01: {title: fresh flow, limit: {what: fresh flow, at_least: 45 L/min}}
        results:
          R01:
            test: T01
            on: 2026-09-12
            instruments: [I01]
            readings: {fresh flow: [52 L/min]}
            uncertainty: {fresh flow: 4 L/min}
    """
    replaced = replaced_results(context.register)
    for result in context.register.results:
        if result.id in replaced:
            continue
        for instrument in context.register.all_of(result.instruments, Instrument):
            if instrument.due is not None and instrument.due < result.on:
                days = (result.on - instrument.due).days
                late = "1 day" if days == 1 else f"{days} days"
                yield Finding(
                    result.id,
                    ("instruments",),
                    f"{result.id} was read with {instrument.id} {late} after its comparison was due ({instrument.due})",
                    f"compare {instrument.id} with a better one; if it is as it was, say so under `calibrations:` and "
                    f"repeat {result.test}",
                    ((instrument.id, ("due",), "the due date"),),
                )


def _limits(context: Context) -> Iterator[tuple[ResultVerdict, LimitVerdict]]:
    """Every limit of every result that counts."""
    for verdict in context.verdicts.values():
        if not verdict.replaced:
            for limit in verdict.limits:
                yield verdict, limit


def _path(limit: LimitVerdict, result: object) -> Path:
    """The field that a verdict is about."""
    assert isinstance(result, Result)
    if limit.what is not None:
        return ("readings", limit.what)
    if limit.kind == "runs" and result.failures is not None:
        return ("failures",)
    return ("inspection",) if result.inspection is not None else ()


def _sample_words(found: SampleVerdict) -> Iterator[str]:
    for spread in found.by_spread:
        if not spread.shown:
            yield spread_words(spread)
    if found.by_count is not None and not found.by_count.shown:
        yield count_words(found.by_count)
