"""What a trace shows, as JSON: every number with its name, unit and method; a number that cannot be had is null."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from riskkit.evidence.exceedance import AlarmTime
from riskkit.evidence.guard import Judgement
from riskkit.evidence.measured import Measured, Metric, WorstCycle

KEYS = (
    "cycles", "cycle_rate", "cycle_period", "longest_cycle", "shortest_cycle", "upper_level", "lower_level", "upper_plateau",
    "lower_plateau", "overshoot", "overshoot_share", "undershoot", "rise_time", "fall_time", "settling_time", "upper_dwell",
    "lower_dwell", "duty", "inspiration_expiration_ratio", "share_above_middle", "drift", "upper_drift", "lower_drift",
    "highest", "lowest", "noise", "volume_in", "volume_out", "time_above", "longest_above", "time_below", "longest_below",
    "sample_rate", "samples_per_rise", "needed_sample_rate",
)  # fmt: skip
"""The metrics, in this order; each is there in every answer."""


def trace_json(
    measured: Measured, judgements: Mapping[str, tuple[float, Judgement]], alarm: AlarmTime | None = None
) -> str:
    """All that was measured on one column.

    Args:
        measured: The numbers.
        judgements: "at_most" and "at_least" with the limit and what the worst reading shows about it.
        alarm: Time from an event to its alarm, if it was asked for.
    """
    return json.dumps(trace_plain(measured, judgements, alarm), ensure_ascii=False, indent=2, allow_nan=False)


def trace_plain(
    measured: Measured, judgements: Mapping[str, tuple[float, Judgement]], alarm: AlarmTime | None = None
) -> dict[str, Any]:
    """The same as plain data."""
    adequate = [each.value >= 10 * (1 - 1e-9) for each in measured.metrics if each.key == "samples_per_rise"]
    answer: dict[str, Any] = {
        "recording": measured.recording,
        "column": measured.column,
        "unit": measured.unit,
        "samples": _counted("samples", measured.samples, "rows of readings"),
        "missing_samples": _counted("missing samples", measured.missing, "rows without a reading and samples that the clock jumped over"),
        "start": _seconds("start", measured.start, "first time of the part that was measured"),
        "end": _seconds("end", measured.end, "last time of the part that was measured"),
        "sample_interval": _seconds("sample interval", measured.interval, "as given, or median step of the clock"),
        "no_cycles_because": measured.no_cycles_because or None,
    }  # fmt: skip
    for key in KEYS:
        answer[key] = _metric(measured.get(key))
    answer["sampling_adequate"] = adequate[0] if adequate else None
    answer["worst_cycle"] = _worst(measured.worst, measured.unit)
    answer["cycles_with_missing_samples"] = list(measured.flagged)
    answer["levels"] = [
        {
            "name": "expected level",
            "value": each.level,
            "unit": measured.unit,
            "tolerance": each.tolerance,
            "reached": each.reached,
            "nearest": each.nearest,
            "method": each.because,
        }
        for each in measured.reached
    ]
    answer["judgements"] = [_judgement(side, limit, each, measured) for side, (limit, each) in judgements.items()]
    answer["time_to_alarm"] = None if alarm is None else _alarm(alarm)
    answer["cautions"] = list(measured.cautions)
    answer["notes"] = list(measured.notes)
    return answer


def _metric(metric: Metric | None) -> dict[str, Any] | None:
    if metric is None:
        return None
    value: float | int = int(metric.value) if metric.key == "cycles" else metric.value
    plain: dict[str, Any] = {"name": metric.name, "value": value, "unit": metric.unit, "method": metric.method}
    if metric.sd is not None:
        plain["sd"] = metric.sd
    if metric.least is not None:
        plain |= {"least": metric.least, "most": metric.most}
    if metric.at is not None:
        plain["at"] = _seconds("time of it", metric.at, "time of the recording")
    if metric.interval is not None:
        between = metric.interval
        plain["interval"] = {
            "name": between.estimand,
            "lower": between.lower,
            "upper": between.upper,
            "unit": between.unit,
            "confidence": between.confidence,
            "sides": between.sides,
            "method": between.method,
        }
    if metric.distrust:
        plain["distrust"] = metric.distrust
    return plain


def _worst(worst: WorstCycle | None, unit: str) -> dict[str, Any] | None:
    if worst is None:
        return None
    return {
        "name": "worst cycle",
        "number": worst.number,
        "start": _seconds("start", worst.start, "start of its rise"),
        "end": _seconds("end", worst.end, "start of the next rise"),
        "value": worst.value,
        "unit": unit if worst.value is not None else "s",
        "at": _seconds("time of it", worst.at, "time of the recording"),
        "because": worst.because,
    }


def _judgement(side: str, limit: float, judged: Judgement, measured: Measured) -> dict[str, Any]:
    worst = measured.get("highest" if side == "at_most" else "lowest")
    return {
        "name": "worst reading against the limit",
        "limit": side,
        "limit_value": limit,
        "unit": measured.unit,
        "value": judged.value,
        "expanded_uncertainty": judged.expanded_uncertainty,
        "word": judged.word,
        "margin": judged.margin,
        "guard_band": judged.guard_band,
        "because": judged.because,
        "distrust": None if worst is None else worst.distrust or None,
        "method": "guard band of one expanded uncertainty, worst single reading",
    }


def _alarm(alarm: AlarmTime) -> dict[str, Any]:
    return {
        "name": "time to alarm",
        "value": alarm.delay,
        "unit": "s",
        "event_at": alarm.event_at,
        "alarm_at": alarm.alarm_at,
        "watched": alarm.watched,
        "because": alarm.because,
        "method": "from the event to the first sample on which the alarm condition holds, crossings interpolated",
    }


def _counted(name: str, value: int, method: str) -> dict[str, Any]:
    return {"name": name, "value": value, "unit": "1", "method": method}


def _seconds(name: str, value: float, method: str) -> dict[str, Any]:
    return {"name": name, "value": value, "unit": "s", "method": method}
