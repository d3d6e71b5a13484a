"""Which cards are printed: by id, by kind, or every test card where nothing is asked for."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from riskkit.diagnostics import RiskkitError
from riskkit.dossier.cards.blocks import Draft
from riskkit.dossier.cards.of_tests import card_of_test, spare_card
from riskkit.dossier.cards.of_units import unit_cards
from riskkit.dossier.cards.others import deviation_slip, instrument_card, observation_slip, switch_on_card
from riskkit.dossier.view.telling import Teller
from riskkit.judgement.cards import is_fault_injection
from riskkit.model.register import Register
from riskkit.model.upkeep import Unit
from riskkit.model.verification import Instrument, Test

KINDS = ("test", "fault", "unit", "instrument", "slip", "switch-on", "blank")
OF_RECORDS = ("test", "fault", "unit", "instrument")
NEW = "new"
"""Stands for a unit that is not in the register yet."""

SLIPS, SPARES = 2, 2
"""Slips of each sort and spare cards that fill a sheet."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What was asked for.

    Attributes:
        ids: Tests, instruments and units by id; empty for all.
        kinds: Names out of `KINDS`; empty for test cards, or for what the ids are.
        unit: The unit of build cards; `new` for one that is not in the register; empty for all.
        hide_limit: Leave limits and claims out.
    """

    ids: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()
    unit: str = ""
    hide_limit: bool = False


class Choice:
    """Makes the cards that are asked for, from one register on one day."""

    def __init__(self, register: Register, wanted: Wanted, today: datetime.date, foot: str, tell: Teller) -> None:
        self.register, self.wanted, self.today, self.foot, self.tell = register, wanted, today, foot, tell

    def drafts(self) -> tuple[Draft, ...]:
        """All of them, in the order of the ids and then of the kinds.

        Raises:
            RiskkitError: where an id has no card, or nothing is left to print.
        """
        kinds = self.wanted.kinds or (() if self.wanted.ids else ("unit",) if self.wanted.unit else ("test",))
        found = [draft for id in dict.fromkeys(self.wanted.ids) for draft in self._of_id(id, kinds)]
        for kind in dict.fromkeys(kinds):
            if kind not in OF_RECORDS or not self.wanted.ids:
                found += self._of_kind(kind)
        return tuple(found)

    def _of_id(self, id: str, kinds: Sequence[str]) -> Iterator[Draft]:
        record = self.register.records.get(id)
        asked = tuple(kind for kind in kinds if kind in OF_RECORDS)
        if isinstance(record, Test):
            faulty = is_fault_injection(record, self.register)
            if asked and "test" not in asked and not ("fault" in asked and faulty):
                raise RiskkitError(f"{id} is a test that sets no fault", "leave --kind out, or add --kind test")
            yield self._test(record)
        elif isinstance(record, Instrument | Unit):
            own = "instrument" if isinstance(record, Instrument) else "unit"
            if asked and own not in asked:
                raise RiskkitError(f"{id} is a record of `{record.SECTION}`", f"leave --kind out, or add --kind {own}")
            if isinstance(record, Unit):
                yield from unit_cards(record, self.register, self.tell, self.foot)
            else:
                yield instrument_card(record, self.today, self.tell, self.foot)
        elif record is not None:
            raise RiskkitError(
                f"{id} stands in `{record.SECTION}`, and these have no cards",
                "name a test, an instrument or a unit",
            )
        elif id in self.register.broken:
            raise RiskkitError(f"{id} cannot be read as written", "`riskkit check` says what is wrong with it")
        else:
            raise RiskkitError(f"there is no record {id}", "name a test, an instrument or a unit of the register")

    def _of_kind(self, kind: str) -> Sequence[Draft]:
        register, tell, foot = self.register, self.tell, self.foot
        match kind:
            case "test" | "fault":
                return self._tests(kind)
            case "unit":
                return self._units()
            case "instrument":
                instruments = register.of(Instrument)
                if not instruments:
                    raise RiskkitError("the register has no instruments", "write one under `instruments:`")
                return [instrument_card(each, self.today, tell, foot) for each in instruments]
            case "slip":
                makers = (deviation_slip, observation_slip)
                return [make(foot, place) for place in range(1, SLIPS + 1) for make in makers]
            case "switch-on":
                return [switch_on_card(register, tell, foot, hide_limit=self.wanted.hide_limit)]
            case _:
                return [spare_card(register, tell, foot, place) for place in range(1, SPARES + 1)]

    def _tests(self, kind: str) -> Sequence[Draft]:
        tests = [test for test in self.register.tests if kind == "test" or is_fault_injection(test, self.register)]
        if not tests:
            what = "tests" if kind == "test" else "test that sets a fault"
            raise RiskkitError(
                f"the register has no {what}",
                "write one under `tests:`; `riskkit cards --kind blank` prints spare cards",
            )
        return [self._test(test) for test in tests]

    def _test(self, test: Test) -> Draft:
        return card_of_test(test, self.register, self.tell, self.foot, hide_limit=self.wanted.hide_limit)

    def _units(self) -> Sequence[Draft]:
        """Build cards of the unit that is named, of a new one, or of every unit that is still used."""
        name = self.wanted.unit
        if name and name != NEW:
            unit = self.register.get(name, Unit)
            if name in self.register.broken:
                raise RiskkitError(f"{name} cannot be read as written", "`riskkit check` says what is wrong with it")
            if unit is None:
                known = ", ".join(each.id for each in self.register.units) or "none yet"
                raise RiskkitError(f"there is no unit {name}", f"units are {known}; `--unit {NEW}` prints empty cards")
            return unit_cards(unit, self.register, self.tell, self.foot)
        units = [unit for unit in self.register.units if unit.retired is None]
        chosen: Sequence[Unit | None] = units if units and not name else [None]
        return [draft for unit in chosen for draft in unit_cards(unit, self.register, self.tell, self.foot)]
