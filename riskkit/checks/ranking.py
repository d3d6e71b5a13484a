"""What to do first: what cannot be read, then the worst harm, then errors before warnings, then the least work."""

from __future__ import annotations

from dataclasses import dataclass

from riskkit.checks import Context
from riskkit.diagnostics import Diagnostic, Report
from riskkit.model.records import Hazard
from riskkit.model.verification import Test

TYPING_MINUTES = 10
"""Time to think about and write one answer. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class NextStep:
    """The single most valuable thing to do now."""

    finding: Diagnostic
    why: str
    minutes: int
    closes: str


def next_step(report: Report, context: Context) -> NextStep | None:
    """The open finding that comes first, or None where nothing is open."""
    if not report.open:
        return None
    worst: dict[str, Hazard | None] = {}
    for found in report.open:
        if found.record not in worst:
            worst[found.record] = _worst_hazard(found.record, context)

    def order(found: Diagnostic) -> tuple[bool, int, int, int, tuple[bool, int, str, int, int, str]]:
        hazard = worst[found.record]
        harm = -context.policy.severity_rank(hazard.severity) if hazard is not None else 1
        return (not found.breaks, harm, found.severity, _minutes(found, context), found.sort_key)

    first = min(report.open, key=order)
    return NextStep(
        first, _reason(first, worst[first.record], context), _minutes(first, context), _closes(first, report)
    )


def _worst_hazard(record_id: str, context: Context) -> Hazard | None:
    """The severest hazard that a record is, or that points at it."""
    record = context.register.records.get(record_id)
    if record is None:
        return None
    if isinstance(record, Hazard):
        return record
    sources = dict.fromkeys(link.source for link in context.trace.incoming(record_id))
    hazards = tuple(context.register.all_of(sources, Hazard))
    return max(hazards, key=lambda hazard: context.policy.severity_rank(hazard.severity), default=None)


def _minutes(found: Diagnostic, context: Context) -> int:
    test = context.register.get(found.record, Test)
    if test is not None and test.time is not None and found.rule == "test-without-result":
        return max(1, round(test.time.value / 60))
    return TYPING_MINUTES


def _reason(found: Diagnostic, hazard: Hazard | None, context: Context) -> str:
    if found.breaks:
        return "what cannot be read hides whatever stands behind it"
    if hazard is None:
        return "nothing more severe is open"
    word = context.policy.severity[context.policy.severity_rank(hazard.severity)].word
    whose = "its harm" if hazard.id == found.record else f"the harm of {hazard.id}"
    return f"{whose} is the severest that anything open belongs to ({hazard.severity}, {word})"


def _closes(found: Diagnostic, report: Report) -> str:
    same = [other for other in report.open if other.record == found.record and found.record]
    total = len(report.open)
    rest = len(same) - 1
    name = found.record or "the register"
    left = f"{name} then has {rest} more open" if rest > 0 else f"nothing else is then open on {name}"
    return f"It closes 1 of {total} open; {left}."
