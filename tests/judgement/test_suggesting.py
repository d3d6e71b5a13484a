"""What is offered: hazards typed by anyone are understood, reasons are told, and nothing is offered twice."""

from __future__ import annotations

from functools import cache
from itertools import pairwise
from typing import Any

import pytest

from riskkit.judgement.adopting import content
from riskkit.judgement.fingerprints import digest
from riskkit.judgement.kinship import Library, likeness, words_of
from riskkit.judgement.offers import Suggestions
from riskkit.judgement.suggesting import KINDS, suggest
from riskkit.model.records import Control, Hazard, Part
from riskkit.model.register import Register
from riskkit.text.catalogs import shipped_entries


@cache
def library() -> Library:
    return Library(shipped_entries())


def hazard(**fields: Any) -> Hazard:
    return Hazard.model_validate(
        {"id": "H01", "condition": "single fault", "harm": {"text": "x", "severity": 4}} | fields
    )


def register(*records: Any) -> Register:
    return Register({each.id: each for each in records})


def offered(found: Suggestions) -> list[str]:
    return [offer.entry for group in found.groups for offer in group.offers]


@pytest.mark.parametrize(
    ("title", "source", "wanted"),
    [
        ("Gas gets too hot at the face when the flow is low", "heat of the motor", "gas-too-hot"),
        ("Fan stops and CO2 builds up under the hood", "stale air", "rebreathed-carbon-dioxide-after-flow-stops"),
        ("Spark in the box while oxygen leaks", "oxygen", "fire-fed-by-oxygen"),
        ("Cable gets round a neck", "a loose cable", "strangling-by-hose-or-cable"),
        ("Nobody hears the buzzer over the engine", "a warning that is not there", "alarm-absent-or-not-heard"),
        ("Pack catches fire on the charger", "energy of lithium cells", "battery-fire"),
        ("Wet plug gives a shock", "mains voltage", "electric-shock-from-the-mains-side"),
        ("Box falls off the shelf on a foot", "weight of the box", "falling-or-tipping-mass"),
        ("Gauge shows a good pressure although the line is off", "a wrong reading", "reading-believed-though-wrong"),
        ("Germs of the last user are blown in", "germs", "germs-carried-from-one-person-to-the-next"),
        ("Exhaust of an engine is drawn in", "carbon monoxide", "exhaust-or-smoke-drawn-in"),
        ("Finger reaches the turning fan", "a turning impeller", "moving-impeller-reached"),
    ],
)
def test_a_hazard_in_anybodys_words_finds_what_the_catalog_knows_of_it(title: str, source: str, wanted: str) -> None:
    mine = hazard(title=title, source=source)
    kin = [each.id for each in library().kin_of(mine, register(mine))]
    assert f"hazards/{wanted}" in kin[:3], kin
    found = suggest("H01", register(mine), library())
    assert offered(found)


def test_words_that_have_nothing_to_do_with_anything_find_nothing() -> None:
    mine = hazard(title="Zebra crossing repainted", source="paint of the road authority")
    found = suggest("H01", register(mine), library())
    assert not found.kin
    assert not found.groups


def test_a_cause_that_is_a_known_failure_counts_more_than_words() -> None:
    filter = Part.model_validate({"id": "P01", "title": "inlet filter", "class": "filter"})
    mine = hazard(title="It runs on for hours", causes=[{"by": "P01", "mode": "loaded"}])
    found = suggest("H01", register(filter, mine), library())
    failure = library().sources["failures/filter-loaded"]
    assert found.kin[0][0] in failure.starts
    reasons = " ".join(offer.because for group in found.groups for offer in group.offers)
    assert failure.title in reasons
    assert "P01 is a filter" in reasons


@pytest.mark.parametrize("kind", KINDS)
def test_a_hazard_is_told_what_a_higher_kind_of_control_would_be(kind: str) -> None:
    mine = hazard(title="Flow stops and carbon dioxide climbs", source="carbon dioxide", controls=["C01"])
    control = Control.model_validate({"id": "C01", "title": "painted line", "kind": kind})
    remarks = suggest("H01", register(mine, control), library()).remarks
    assert len(remarks) == KINDS.index(kind)
    assert all("H01 has only" in each for each in remarks)


def test_a_control_by_another_title_is_known_and_not_offered() -> None:
    mine = hazard(title="Flow stops and carbon dioxide climbs", source="carbon dioxide")
    flap = Control.model_validate({"id": "C01", "title": "flap, room air intake", "kind": "protective"})
    found = suggest("H01", register(mine, flap), library())
    assert "controls/room-air-intake-flap" not in offered(found)
    assert any("is there as C01" in each and "riskkit link H01 C01" in each for each in found.there)


def test_suggesting_gives_the_same_answer_whatever_the_order_of_the_records() -> None:
    one, other = hazard(title="Pack burns", source="cells"), hazard(id="H02", title="Plug gets wet", source="mains")
    assert suggest("H01", register(one, other), library()) == suggest("H01", register(other, one), library())


def test_every_entry_that_becomes_a_record_has_a_fingerprint_for_each_thing_it_says() -> None:
    for id, entry in library().entries.items():
        said = content(entry)
        assert "title" in said, id
        assert all(len(digest(value)) == 12 for value in said.values())


def test_likeness_is_the_same_both_ways_and_one_for_the_same() -> None:
    texts = [entry.title for entry in library().entries.values()]
    for one, other in pairwise(texts):
        assert likeness(one, other) == likeness(other, one)
        assert 0 <= likeness(one, other) <= 1
        assert likeness(one, one) == 1


def test_people_write_co2_and_a_catalog_carbon_dioxide() -> None:
    assert words_of("carbon dioxide") <= words_of("CO2 rises")
    assert words_of("blower stops") <= words_of("fan stops")
