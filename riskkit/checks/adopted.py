"""Rules about records that were taken from a catalog: left unfinished, or older than the catalog.

Only the entries behind adopted records are looked up, before any rule runs (`text/catalogs.py`); where nobody has
looked, the rule that needs them says nothing.
"""

from __future__ import annotations

from collections.abc import Iterator

from riskkit.checks import Context, Finding, rule
from riskkit.model.records import Control, Hazard
from riskkit.model.verification import Test


@rule("warning")
def adopted_entry_unfinished(context: Context) -> Iterator[Finding]:
    """A record taken from a catalog in which something has still to be found out.

    A catalog knows how such things go wrong, and nothing about this device. What it could not know stands in the
    list `open` of the record; a line is taken out when its answer is written where it belongs.

    Bad:

        hazards:
          H01:
            title: Gas too hot
            condition: single fault
            harm: {text: burnt airways, severity: 5}
            controls: []
            adopted:
              entry: hazards/gas-too-hot
              version: 1
              open:
                - temperature of the gas at the lowest flow   # <-
                - flow below which it is too hot

    Good:

        hazards:
          H01:
            title: Gas too hot
            condition: single fault
            harm: {text: burnt airways, severity: 3}
            controls: []
            adopted: {entry: hazards/gas-too-hot, version: 1}
    """
    for record in _adopted(context):
        if record.adopted is not None and record.adopted.open:
            left = record.adopted.open
            first = left[0].rstrip(".")
            more = f"; and {_things(len(left) - 1)} more" if len(left) > 1 else ""
            yield Finding(
                record.id,
                ("adopted", "open", 0),
                f"{record.id} was taken from the catalog and is not finished: {first}{more}",
                "write the answer into the record, and take its line out of `open`",
            )


def _things(number: int) -> str:
    return "one thing" if number == 1 else f"{number} things"


@rule("note")
def adopted_entry_outdated(context: Context) -> Iterator[Finding]:
    """A record taken from a catalog entry that has a newer version since.

    Somebody has learnt something and written it into the catalog; the record still says what was known before. What the
    catalog says now is told here and by `riskkit catalog diff`. Nothing is taken over by itself.

    Bad:

        hazards:
          H01:
            title: Gas too hot
            condition: single fault
            harm: {text: burnt airways, severity: 3}
            controls: []
            adopted: {entry: hazards/gas-too-hot, version: 1}   # <-

    Good:

        hazards:
          H01:
            title: Gas too hot
            condition: single fault
            harm: {text: burnt airways, severity: 3}
            controls: []
            adopted: {entry: hazards/gas-too-hot, version: 2}
    """
    if not context.catalog:
        return  # and the models of entries are not loaded
    from riskkit.judgement.adopted import is_older, versions, what_is_new, what_to_do

    for record in _adopted(context):
        entries = context.catalog.get(record.id)
        if record.adopted is None or entries is None or not is_older(record.adopted, entries):
            continue
        yield Finding(
            record.id,
            ("adopted", "version"),
            f"{record.id} was taken from {versions(record.adopted, entries)}: {what_is_new(record, entries)}",
            what_to_do(record.id, record.adopted, entries),
        )


def _adopted(context: Context) -> tuple[Hazard | Control | Test, ...]:
    register = context.register
    every: tuple[Hazard | Control | Test, ...] = (*register.hazards, *register.controls, *register.tests)
    return tuple(record for record in every if record.adopted is not None)
