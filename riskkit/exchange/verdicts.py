"""Verdicts as JSON: every number unrounded, in the unit of the reading, with the method and level behind it."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from typing import Any

from riskkit.evidence.guard import Judgement
from riskkit.judgement.amounts import in_unit, width_in_unit
from riskkit.judgement.outlook import Outlook
from riskkit.judgement.samples import CountShown, SampleVerdict, SpreadShown
from riskkit.judgement.verdicts import LimitVerdict, ReadingVerdict, ResultVerdict
from riskkit.model.policy import EvidenceRules
from riskkit.model.verification import Result, Test
from riskkit.units import Quantity
from riskkit.units.kinds import readable


def verdict_json(
    test: Test,
    verdicts: Sequence[ResultVerdict],
    results: Mapping[str, Result],
    sample: SampleVerdict | None,
    outlook: Outlook | None,
    rules: EvidenceRules,
    word: str | None,
) -> str:
    """Everything that `judge` says about one test.

    Args:
        test: The test.
        verdicts: Verdicts on its results, replaced ones included.
        results: The results by id.
        sample: What the sample shows, where the plan claims a proportion.
        outlook: What further runs or readings would show.
        rules: Guard band and confidence.
        word: The worst word of the results that count; None where there is none.
    """
    told = {
        "test": test.id,
        "title": test.title,
        "word": word,
        "decision_rule": {
            "guard_band": rules.guard_band,
            "guard_band_unit": "expanded uncertainties (k = 2)",
            "source": "ISO 14253-1, JCGM 106",
        },
        "limits": [limit.sentence() for limit in test.limit],
        "results": [_result(each, results[each.result]) for each in verdicts],
        "sample": None if sample is None else _sample(sample),
        "outlook": None if outlook is None else outlook_data(outlook),
    }
    return json.dumps(told, ensure_ascii=False, indent=2)


def readings_json(judged: Sequence[tuple[Quantity, Judgement]]) -> str:
    """Readings judged without a register."""
    told = {
        "estimand": "true value of each reading beside its limits",
        "method": "guard band inside each limit (ISO 14253-1, JCGM 106); normal distribution, u = U / 2",
        "readings": [_judgement(reading, each) for reading, each in judged],
    }
    return json.dumps(told, ensure_ascii=False, indent=2)


def _result(verdict: ResultVerdict, result: Result) -> dict[str, Any]:
    return {
        "id": verdict.result,
        "on": result.on.isoformat(),
        "unit": result.unit,
        "word": verdict.word,
        "because": verdict.because,
        "replaced": verdict.replaced,
        "limits": [_limit(each) for each in verdict.limits],
    }


def _limit(verdict: LimitVerdict) -> dict[str, Any]:
    return {
        "limit": verdict.limit.sentence(),
        "what": verdict.what,
        "word": verdict.word,
        "because": verdict.because,
        "rests_on": verdict.kind,
        "readings": [_reading(each) for each in verdict.readings],
    }


def _reading(verdict: ReadingVerdict) -> dict[str, Any]:
    if verdict.judgement is None:
        told = {"written": verdict.reading.written, "word": verdict.word}
    else:
        told = _judgement(verdict.reading, verdict.judgement)
    return told | {"because": verdict.because}


def _judgement(reading: Quantity, judged: Judgement) -> dict[str, Any]:
    def end(value: float | None) -> float | None:
        return None if value is None else in_unit(value, reading)

    def wide(value: float | None) -> float | None:
        return None if value is None else width_in_unit(value, reading)

    return {
        "written": reading.written,
        "word": judged.word,
        "value": in_unit(judged.value, reading),
        "unit": readable(reading.unit),
        "expanded_uncertainty": wide(judged.expanded_uncertainty),
        "coverage_factor": 2,
        "lower_limit": end(judged.lower),
        "upper_limit": end(judged.upper),
        "acceptance_lower": end(judged.acceptance_lower),
        "acceptance_upper": end(judged.acceptance_upper),
        "guard_band": wide(judged.guard_band),
        "margin": wide(judged.margin),
        "probability_outside": judged.probability_outside,
    }


def _sample(sample: SampleVerdict) -> dict[str, Any]:
    return {
        "claim": {"proportion": sample.proportion, "confidence": sample.confidence},
        "shown": sample.shown,
        "by_count": None if sample.by_count is None else _count(sample.by_count, sample.confidence),
        "by_spread": [_spread(each) for each in sample.by_spread],
    }


def _count(count: CountShown, confidence: float) -> dict[str, Any]:
    return {
        "estimand": "proportion of runs that meet the limit",
        "method": "Clopper-Pearson, exact binomial",
        "sides": "lower",
        "confidence": confidence,
        "runs": count.counted.runs,
        "failures": count.counted.failures,
        "units": list(count.counted.units),
        "units_planned": count.units_planned,
        "lower": count.proportion,
        "runs_needed_without_failure": count.runs_needed,
        "shown": count.shown,
    }


def _spread(spread: SpreadShown) -> dict[str, Any]:
    tolerance, like = spread.tolerance, spread.like
    return {
        "estimand": tolerance.estimand,
        "method": tolerance.method,
        "sides": tolerance.sides,
        "confidence": tolerance.confidence,
        "proportion": tolerance.proportion,
        "limit": spread.limit.sentence(),
        "result": spread.result,
        "unit": readable(like.unit),
        "readings": tolerance.readings,
        "mean": in_unit(tolerance.mean, like),
        "standard_deviation": width_in_unit(tolerance.spread, like),
        "factor": tolerance.factor,
        "lower": in_unit(tolerance.lower, like) if math.isfinite(tolerance.lower) else None,
        "upper": in_unit(tolerance.upper, like) if math.isfinite(tolerance.upper) else None,
        "shown": spread.shown,
        "caution": tolerance.caution,
    }


def outlook_data(outlook: Outlook) -> dict[str, Any]:
    """What runs and readings can show, as plain data."""
    return {
        "estimand": "proportion of runs that meet the limit",
        "method": "Clopper-Pearson, exact binomial; exact binomial operating characteristic",
        "sides": "lower",
        "runs": outlook.runs,
        "failures_allowed": outlook.allowed,
        "confidence": outlook.confidence,
        "proportion_shown_if_none_fails": outlook.proportion_shown,
        "runs_needed": outlook.runs_needed,
        "passes_wrongly": [
            {"true_failure_probability": true, "probability_of_passing": chance} for true, chance in outlook.passes
        ],
        "readings_needed": [
            {"limit": limit, "readings": readings, "because": because}
            for limit, readings, because in outlook.readings_needed
        ],
    }
