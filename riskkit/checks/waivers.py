"""Waivers: findings that the project has seen and leaves open, with reason, role and end."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from riskkit.checks import Context, Finding, Rule, all_rules, rule
from riskkit.model.upkeep import Waiver

SEVERE_DAYS = 90
"""A waiver on severe harm ends after this many days at the latest."""


@dataclass(frozen=True, slots=True)
class Waived:
    """A finding that a waiver leaves open on purpose; it is still printed."""

    waiver: Waiver
    rule: Rule
    finding: Finding


def apply(
    context: Context, found: Iterable[tuple[Rule, Finding]]
) -> tuple[tuple[tuple[Rule, Finding], ...], tuple[Waived, ...]]:
    """Split findings into those that stay open and those that a valid waiver covers.

    A waiver that covers nothing is itself a finding. Rules about waivers cannot be waived.
    """
    waivers = {
        (waiver.rule, waiver.record): waiver
        for waiver in context.register.of(Waiver)
        if not any(_faults(context, waiver))
    }
    kept, waived, used = [], [], set()
    for each, finding in found:
        waiver = waivers.get((each.name, finding.record))
        if waiver is None or each.breaks or each.function.__module__ == __name__:
            kept.append((each, finding))
        else:
            waived.append(Waived(waiver, each, finding))
            used.add(waiver.id)
    for waiver in waivers.values():
        if waiver.id not in used:
            kept.append((unused_waiver, _unused(waiver)))
    return tuple(kept), tuple(waived)


def _unused(waiver: Waiver) -> Finding:
    return Finding(
        waiver.id,
        ("rule",),
        f"{waiver.id} waives `{waiver.rule}` on {waiver.record}, where that rule finds nothing",
        "take the waiver out",
    )


def _faults(context: Context, waiver: Waiver) -> Iterator[tuple[Rule, Finding]]:
    """Why a waiver does not count."""
    names = {each.name for each in all_rules()}
    if waiver.rule not in names:
        yield (
            waiver_of_unknown_rule,
            Finding(
                waiver.id,
                ("rule",),
                f"{waiver.id} waives `{waiver.rule}`, and there is no such rule",
                "name a rule as `riskkit check` prints it, in square brackets",
            ),
        )
    if waiver.record not in context.register.records and waiver.record not in ("device", "policy"):
        yield (
            waiver_of_unknown_record,
            Finding(
                waiver.id,
                ("record",),
                f"{waiver.id} is about {waiver.record}, which does not exist",
                "name the record that the finding is about, or take the waiver out",
            ),
        )
    if waiver.until < context.today:
        yield (
            expired_waiver,
            Finding(
                waiver.id,
                ("until",),
                f"{waiver.id} ended on {waiver.until}; what it covered is open again",
                "close the finding, or decide again with a new date",
            ),
        )
    yield from _too_wide(context, waiver)


def _too_wide(context: Context, waiver: Waiver) -> Iterator[tuple[Rule, Finding]]:
    record = context.register.records.get(waiver.record)
    severe = context.severe_hazards_of(record) if record is not None else ()
    if not severe:
        return
    why = f"{severe[0].id} has severity {severe[0].severity}"
    if waiver.second is None or waiver.second == waiver.by:
        yield (
            waiver_without_second_role,
            Finding(
                waiver.id,
                ("second",),
                f"{waiver.id} needs a second role beside `{waiver.by}`, because {why}",
                "add `second:` with another role that agrees",
            ),
        )
    if waiver.until - waiver.on > datetime.timedelta(days=SEVERE_DAYS):
        yield (
            waiver_too_long,
            Finding(
                waiver.id,
                ("until",),
                f"{waiver.id} runs for {(waiver.until - waiver.on).days} days; {SEVERE_DAYS} is the most, because {why}",
                f"write an end no later than {waiver.on + datetime.timedelta(days=SEVERE_DAYS)}",
            ),
        )


def _found_by(context: Context, each: Rule) -> Iterator[Finding]:
    for waiver in context.register.of(Waiver):
        for fault, finding in _faults(context, waiver):
            if fault is each:
                yield finding


@rule("error")
def expired_waiver(context: Context) -> Iterator[Finding]:
    """A waiver whose end has passed.

    What it covered counts as open again; nobody has decided since.

    Bad:

        parts:
          P01: {title: blower}
        waivers:
          W01:
            rule: part-never-asked
            record: P01
            because: waits for the new drawing
            by: builder-1
            on: 2019-01-01
            until: 2019-02-01   # <-

    Good:

        parts:
          P01: {title: blower}
        waivers:
          W01:
            rule: part-never-asked
            record: P01
            because: waits for the new drawing
            by: builder-1
            on: 2026-11-01
            until: 2199-02-01
    """
    yield from _found_by(context, expired_waiver)


@rule("error")
def waiver_without_second_role(context: Context) -> Iterator[Finding]:
    """A waiver on severe harm that only one role stands for.

    Leaving something severe open takes two people who see it differently.

    Bad:

        hazards:
          H01:
            title: Air stops
            condition: single fault
            harm: {text: too little oxygen, severity: 5}
        waivers:
          W01:   # <-
            rule: hazard-without-control
            record: H01
            because: the valve comes next week
            by: builder-1
            on: 2026-11-01
            until: 2026-12-01

    Good:

        hazards:
          H01:
            title: Air stops
            condition: single fault
            harm: {text: too little oxygen, severity: 5}
        waivers:
          W01:
            rule: hazard-without-control
            record: H01
            because: the valve comes next week
            by: builder-1
            second: biomedical engineer
            on: 2026-11-01
            until: 2026-12-01
    """
    yield from _found_by(context, waiver_without_second_role)


@rule("error")
def waiver_too_long(context: Context) -> Iterator[Finding]:
    """A waiver on severe harm that runs for more than 90 days.

    A severe gap that is left open has to be looked at again each season.

    Bad:

        hazards:
          H01:
            title: Air stops
            condition: single fault
            harm: {text: too little oxygen, severity: 5}
        waivers:
          W01:
            rule: hazard-without-control
            record: H01
            because: the valve comes next week
            by: builder-1
            second: biomedical engineer
            on: 2026-11-01
            until: 2027-11-01   # <-

    Good:

        hazards:
          H01:
            title: Air stops
            condition: single fault
            harm: {text: too little oxygen, severity: 5}
        waivers:
          W01:
            rule: hazard-without-control
            record: H01
            because: the valve comes next week
            by: builder-1
            second: biomedical engineer
            on: 2026-11-01
            until: 2027-01-30
    """
    yield from _found_by(context, waiver_too_long)


@rule("error")
def waiver_of_unknown_rule(context: Context) -> Iterator[Finding]:
    """A waiver that names a rule nobody knows.

    It covers nothing, and whoever wrote it believes that it does.

    Bad:

        parts:
          P01: {title: blower}
        waivers:
          W01:
            rule: part-not-asked   # <-
            record: P01
            because: waits for the new drawing
            by: builder-1
            on: 2026-11-01
            until: 2199-02-01

    Good:

        parts:
          P01: {title: blower}
        waivers:
          W01:
            rule: part-never-asked
            record: P01
            because: waits for the new drawing
            by: builder-1
            on: 2026-11-01
            until: 2199-02-01
    """
    yield from _found_by(context, waiver_of_unknown_rule)


@rule("error")
def waiver_of_unknown_record(context: Context) -> Iterator[Finding]:
    """A waiver about a record that does not exist.

    It covers nothing; the record may have been renamed or taken out.

    Bad:

        parts:
          P01: {title: blower}
        waivers:
          W01:
            rule: part-never-asked
            record: P02   # <-
            because: waits for the new drawing
            by: builder-1
            on: 2026-11-01
            until: 2199-02-01

    Good:

        parts:
          P01: {title: blower}
        waivers:
          W01:
            rule: part-never-asked
            record: P01
            because: waits for the new drawing
            by: builder-1
            on: 2026-11-01
            until: 2199-02-01
    """
    yield from _found_by(context, waiver_of_unknown_record)


@rule("warning")
def unused_waiver(context: Context) -> Iterator[Finding]:
    """A waiver that covers nothing any more.

    The gap is closed; the waiver would silently cover it if it came back.

    Bad:

        parts:
          P01: {title: blower, no_hazard_because: it is a dummy}
        waivers:
          W01:
            rule: part-never-asked   # <-
            record: P01
            because: waits for the new drawing
            by: builder-1
            on: 2026-11-01
            until: 2199-02-01

    Good:

        parts:
          P01: {title: blower}
        waivers:
          W01:
            rule: part-never-asked
            record: P01
            because: waits for the new drawing
            by: builder-1
            on: 2026-11-01
            until: 2199-02-01
    """
    # Only `apply` knows which waivers were used, so this rule has nothing of its own to look at.
    return iter(())
