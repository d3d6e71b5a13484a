"""The shipped catalogs: every entry can be read, is reached from somewhere, gives its reason, and says its own thing.

Thresholds of likeness are this project's own: common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest

from riskkit.assess import Assessment, judge
from riskkit.checks import all_rules, run
from riskkit.checks.wording import unprintable
from riskkit.diagnostics import RiskkitError
from riskkit.judgement.kinship import Library
from riskkit.judgement.likeness import telling_words
from riskkit.judgement.suggesting import suggest
from riskkit.model import catalog
from riskkit.model.records import EnergySource, Function, Part, UseStep
from riskkit.model.register import Register
from riskkit.text.catalogs import (
    Catalogs,
    catalog_in,
    catalogs_of,
    check_catalog,
    entries_behind,
    entry_texts,
    known_standards,
    read_entry,
    shipped,
    shipped_entries,
)
from riskkit.text.reader import read, with_evidence
from riskkit.text.snapshot import Snapshot, read_folder

LEAST_ENTRIES = 170
PART_CLASSES = frozenset(
    [
        "blower",
        "fan",
        "pump",
        "motor driver",
        "controller",
        "sensor",
        "valve",
        "relief valve",
        "hose",
        "tube",
        "mask",
        "hood",
        "seal",
        "manifold",
        "printed part",
        "power supply",
        "battery",
        "fuse",
        "connector",
        "cable",
        "filter",
        "alarm",
        "sounder",
        "enclosure",
        "vessel",
        "heater",
        "gas supply",
    ]
)
"""Classes of part that a prompt can name; an entry of another class would never be asked."""

MOST_ALIKE = 0.5
"""Share of telling words above which two texts of two entries say the same thing."""


@cache
def entries() -> dict[str, catalog.Entry]:
    return dict(shipped_entries())


def named(field: str) -> set[str]:
    return {id for entry in entries().values() for id in getattr(entry, field, ())}


# -- all of them ----------------------------------------------------------------------------------


def test_nothing_in_the_shipped_catalog_is_wrong() -> None:
    found = [f"{each.place}: {each.headline}" for each in check_catalog(shipped(), catalogs_of())]
    assert not found, "\n".join(found)


def test_there_are_enough_entries_of_every_kind() -> None:
    assert len(entries()) >= LEAST_ENTRIES
    for kind in catalog.ENTRY_KINDS:
        assert sum(id.startswith(f"{kind}/") for id in entries()) >= 10


def test_every_entry_gives_its_reason() -> None:
    for id, entry in entries().items():
        assert entry.standards or entry.why.startswith("trade practice: "), id
        assert len(entry.why.split()) >= 6, f"{id}: a reason is a sentence"
        assert set(entry.standards) <= set(known_standards()), id


def test_nothing_that_is_never_printed_stands_in_an_entry() -> None:
    found = [f"{place}: {claim.phrase}" for place, text in entry_texts(shipped()) for claim in unprintable(text)]
    assert not found, "\n".join(found)


def test_every_question_is_one_and_questions_begin_differently() -> None:
    for id, entry in entries().items():
        assert all(each.rstrip().endswith("?") for each in entry.asks), id
    first = [each.split()[0] for entry in entries().values() for each in entry.asks]
    assert max(map(first.count, set(first))) < len(first) / 3


# -- each says its own thing ----------------------------------------------------------------------


def test_titles_are_unique() -> None:
    titles = [entry.title.casefold() for entry in entries().values()]
    assert len(set(titles)) == len(titles)


def said(entry: catalog.Entry) -> Iterator[tuple[str, str]]:
    for name in ("description", "weakness", "why", "situation", "effect", "fails_how"):
        text = getattr(entry, name, None)
        if isinstance(text, str):
            yield name, text
    for ask in entry.asks:
        yield "asks", ask


def test_no_two_entries_say_the_same_in_nearly_the_same_words() -> None:
    """Texts of five telling words and more; shorter ones are phrases of the trade that may well come twice."""
    texts = [(id, name, telling_words(text)) for id, entry in entries().items() for name, text in said(entry)]
    twice = [
        f"{one[0]} and {other[0]} ({one[1]})"
        for one, other in combinations((each for each in texts if len(each[2]) >= 5), 2)
        if one[0] != other[0] and one[1] == other[1] and len(one[2] & other[2]) / len(one[2] | other[2]) > MOST_ALIKE
    ]
    assert not twice, "\n".join(twice)


def test_the_measure_of_likeness_does_tell_texts_apart() -> None:
    """The threshold is tried on texts that are nearly the same and on texts that are not."""
    near = (
        telling_words("A wet filter lets less air through"),
        telling_words("A filter that is wet lets less air pass through"),
    )
    far = telling_words("A wet filter lets less air through"), telling_words("The relief disc sticks to its seat")
    assert len(near[0] & near[1]) / len(near[0] | near[1]) > MOST_ALIKE > len(far[0] & far[1]) / len(far[0] | far[1])


def test_no_two_weaknesses_begin_alike() -> None:
    openings = [" ".join(entry.weakness.casefold().split()[:5]) for entry in entries().values()]
    assert len(set(openings)) == len(openings), {each for each in openings if openings.count(each) > 1}


# -- each is reached ------------------------------------------------------------------------------


def test_every_control_test_and_check_is_named_by_some_other_entry() -> None:
    reached = named("controls") | named("tests") | named("checks")
    lost = [id for id in entries() if id.startswith(("controls/", "tests/", "unit-checks/")) and id not in reached]
    assert not lost


def test_every_hazard_is_reached_from_a_failure_an_error_a_function_or_an_energy() -> None:
    started = named("starts") | named("introduces")
    for id, entry in entries().items():
        if isinstance(entry, catalog.Hazard):
            assert id in started or entry.energy or entry.loss_of or (entry.spoils and entry.guide_words), id


def test_every_failure_and_build_error_is_asked_of_a_part_that_there_can_be() -> None:
    for id, entry in entries().items():
        if isinstance(entry, catalog.Failure | catalog.BuildError):
            assert set(entry.part_classes) <= PART_CLASSES, f"{id}: {set(entry.part_classes) - PART_CLASSES}"


@cache
def offered_by_a_register_with_everything() -> frozenset[str]:
    """Entries offered for parts of every class, steps of every word, functions and energies of every word."""
    every = entries().values()
    records: list[Any] = [
        Part.model_validate({"id": f"P{n}", "title": word, "class": word})
        for n, word in enumerate(sorted(PART_CLASSES))
    ]
    steps = sorted({word for entry in every if isinstance(entry, catalog.UseError) for word in entry.steps})
    records += [UseStep(id=f"S{n}", title=word) for n, word in enumerate(steps)]
    hazards = [entry for entry in every if isinstance(entry, catalog.Hazard)]
    records += [
        Function(id=f"F{n}", title=word) for n, word in enumerate(sorted({w for h in hazards for w in h.spoils}))
    ]
    energies = sorted({word for hazard in hazards for word in (*hazard.energy, *hazard.loss_of)})
    records += [EnergySource(id=f"E{n}", title=word) for n, word in enumerate(energies)]
    register, library = Register({each.id: each for each in records}), Library(entries())
    found = (suggest(each.id, register, library) for each in records)
    return frozenset(offer.entry for each in found for group in each.groups for offer in group.offers)


def test_every_source_of_a_hazard_is_offered_for_some_part_or_step() -> None:
    sources = {id for id in entries() if id.startswith(("failures/", "use-errors/", "build-errors/"))}
    assert not sources - offered_by_a_register_with_everything()


def test_every_control_shows_itself_by_a_test_that_shows_its_presence_or_its_effect() -> None:
    for id, entry in entries().items():
        if isinstance(entry, catalog.Control):
            shows = {
                word for test in entry.tests if test in entries() for word in getattr(entries()[test], "shows", ())
            }
            assert shows, id


# -- reading a catalog ----------------------------------------------------------------------------

CONTROL = """\
title: Strap over the plug
version: {version}
subjects: [electrical]
description: A strap holds the plug in its socket when somebody pulls at the cable.
why: "trade practice: a plug that is only pushed in comes out on the day of the demonstration."
asks: [{{}}]
weakness: It is left open after the first cleaning.
fill: [force at which it lets go, in N]
kind: design
fails_how: The strap tears.
noticed: It hangs down.
dormant: false
tests: [tests/hose-pull-off-force]
""".replace("asks: [{{}}]", "asks:\n  - Does the plug stay in when the cable is pulled?")


@pytest.fixture
def own(tmp_path: Path) -> Path:
    folder = tmp_path / "colleague" / "catalogs"
    (folder / "controls").mkdir(parents=True)
    (folder / "controls" / "strap-over-the-plug.yaml").write_text(CONTROL.format(version=1))
    return tmp_path / "colleague"


def test_a_checkout_of_a_colleague_is_a_catalog_and_bears_the_name_of_its_folder(own: Path) -> None:
    shelf = catalogs_of([own])
    home = shelf.catalog_of("controls/strap-over-the-plug")
    assert home is not None
    assert home.name == "colleague"
    assert shelf.entry("controls/strap-over-the-plug").title == "Strap over the plug"
    assert shelf.full_id("strap-over-the-plug") == "controls/strap-over-the-plug"


def test_an_entry_of_ones_own_replaces_the_shipped_one_of_its_id(own: Path) -> None:
    (own / "catalogs" / "controls" / "strain-relief.yaml").write_text(CONTROL.format(version=7))
    shelf = catalogs_of([own])
    assert shelf.entry("controls/strain-relief").version == 7
    assert catalogs_of().entry("controls/strain-relief").title != "Strap over the plug"


def test_a_folder_that_is_no_catalog_and_two_of_one_name_are_refused(own: Path, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    with pytest.raises(RiskkitError, match="is no catalog"):
        catalog_in(tmp_path / "empty")
    with pytest.raises(RiskkitError, match="there is no catalog folder"):
        catalog_in(tmp_path / "nowhere")
    twin = tmp_path / "elsewhere" / "colleague"
    (twin / "controls").mkdir(parents=True)
    with pytest.raises(RiskkitError, match="two catalogs are called colleague"):
        catalogs_of([own, twin])


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        ("kind: design", "kind: designed", 10, "`kind` cannot be `designed`"),
        ("weakness: It is left open after the first cleaning.\n", "", 1, "`weakness` is missing"),
        ("dormant: false", "dormant: maybe", 13, "`dormant` is yes or no"),
        ("tests: [tests/hose-pull-off-force]", "tests: [tests/hose-pull-of-force]", 14, "stands in no catalog"),
        ("tests: [tests/hose-pull-off-force]", "tests: [controls/strain-relief]", 14, "it takes entries of `tests/`"),
        ('why: "trade practice: ', 'why: "because: ', 5, "`why` begins with `trade practice`"),
        ("fails_how: The strap tears.", "fails-how: The strap tears.", 11, "there is no field `fails-how` here"),
        ("version: 1", "version: 1\nstandards: [ISO 14972]", 3, "is no standard whose subject is known"),
        ("title: Strap", "title: [Strap", 1, ""),
    ],
)
def test_what_is_wrong_with_an_entry_is_said_with_its_file_and_line(
    own: Path, old: str, new: str, line: int, words: str
) -> None:
    path = own / "catalogs" / "controls" / "strap-over-the-plug.yaml"
    text = CONTROL.format(version=1)
    assert old in text
    path.write_text(text.replace(old, new))
    found = list(check_catalog(catalog_in(own), catalogs_of()))
    assert found
    assert any(words in each.headline and each.place.line == line for each in found), found
    assert all(each.place.file == str(path) and each.help for each in found)


def test_a_broken_entry_does_not_hide_the_others(own: Path) -> None:
    (own / "catalogs" / "controls" / "broken.yaml").write_text("title: x\n")
    (own / "catalogs" / "controls" / "empty.yaml").write_text("")
    shelf = Catalogs((catalog_in(own),))
    assert set(shelf.of("controls")) == {"controls/strap-over-the-plug"}
    assert {Path(each.place.file).name for each in shelf.problems()} == {"broken.yaml", "empty.yaml"}
    with pytest.raises(RiskkitError, match=r"broken\.yaml:1"):
        shelf.entry("controls/broken")


def test_an_entry_that_nobody_has_is_refused_with_the_nearest_one() -> None:
    with pytest.raises(RiskkitError) as refused:
        catalogs_of().entry("controls/room-air-intake-flaps")
    assert "controls/room-air-intake-flap" in refused.value.help


def test_a_name_that_is_no_name_never_leads_out_of_the_catalog(own: Path) -> None:
    assert Catalogs((catalog_in(own),)).get("controls/../../secret") is None
    (own / "catalogs" / "controls" / "Not A Name.yaml").write_text(CONTROL.format(version=1))
    assert "is no name for an entry" in next(iter(check_catalog(catalog_in(own), catalogs_of()))).headline


def test_a_pipe_in_the_place_of_an_entry_is_not_waited_for(own: Path) -> None:
    import os

    path = own / "catalogs" / "controls" / "pipe.yaml"
    os.mkfifo(path)
    assert read_entry(path, "controls")[1][0].headline == "this is no ordinary small file"


# -- what check says about adopted records --------------------------------------------------------

ADOPTED = """
controls:
  C01:
    title: Strap over the plug
    kind: design
    fails_how: {fails}
    noticed: {{how: it hangs down}}
    adopted: {{entry: controls/strap-over-the-plug, version: {version}, catalog: colleague, wrote: {wrote}}}
device:
  name: box
  catalogs: [../colleague]
"""


def assessed(folder: Path, text: str) -> list[Any]:
    import datetime

    from riskkit.assess import assess

    folder.mkdir(exist_ok=True)
    (folder / "r.yaml").write_text(text)
    reading = with_evidence(read(*read_folder(folder)), folder)
    assert not list(reading.report)
    report = assess(reading, today=datetime.date(2026, 11, 25)).report
    return [each for each in report if each.rule == "adopted-entry-outdated"]


def test_check_tells_what_a_newer_entry_says_and_whether_the_record_was_changed_here(own: Path, tmp_path: Path) -> None:
    from riskkit.judgement.adopting import content
    from riskkit.judgement.fingerprints import digest

    path = own / "catalogs" / "controls" / "strap-over-the-plug.yaml"
    entry = read_entry(path, "controls")[0]
    assert entry is not None
    wrote = {name: digest(value) for name, value in content(entry).items()}
    text = ADOPTED.format(version=1, wrote=wrote, fails="the strap tears").replace("'", '"')
    folder = tmp_path / "register"
    assert not assessed(folder, text)
    path.write_text(CONTROL.format(version=2).replace("The strap tears.", "The strap tears in the cold."))
    (found,) = assessed(folder, text)
    assert found.place.line == 8
    assert "version 1 of controls/strap-over-the-plug, and the catalog has version 2" in found.headline
    assert "`fails_how` now reads: the strap tears in the cold" in found.headline
    assert "changed here" not in found.headline
    assert "`riskkit set C01 adopted.version 2`" in found.help
    (found,) = assessed(folder, text.replace("the strap tears", "the buckle opens"))
    assert "it was changed here too, and reads: the buckle opens" in found.headline
    assert not assessed(folder, text.replace("version: 1", "version: 2"))


def test_only_entries_behind_adopted_records_are_read_and_only_inside_a_catalog(own: Path, tmp_path: Path) -> None:
    wrote = "{}"
    text = ADOPTED.format(version=1, wrote=wrote, fails="x")
    register = read(Snapshot.from_files({"r.yaml": text.encode()})).register
    (tmp_path / "register").mkdir()
    assert set(entries_behind(register, tmp_path / "register")) == {"C01"}
    elsewhere = text.replace("../colleague", "/etc")
    assert entries_behind(read(Snapshot.from_files({"r.yaml": elsewhere.encode()})).register, tmp_path) == {}
    plain = read(Snapshot.from_files({"r.yaml": b"parts:\n  P01: {title: blower}\n"})).register
    assert entries_behind(plain, tmp_path) == {}


@pytest.mark.parametrize("which", ["bad", "good"])
def test_the_examples_of_the_rule_are_run_beside_a_catalog(
    which: str, project: Callable[..., Assessment], tmp_path: Path
) -> None:
    rule = next(each for each in all_rules() if each.name == "adopted-entry-outdated")
    text = getattr(rule, which)
    assessment = project(text)
    assert not list(assessment.reading.report)
    newer = catalogs_of().entry("hazards/gas-too-hot").model_copy(update={"version": 2})
    context = judge(assessment.register, None, assessment.today, catalog={"H01": (newer,)})
    found = [finding for each, finding in run(context) if each.name == rule.name]
    marked = [line for line in text.splitlines() if line.rstrip().endswith("# <-")]
    assert len(found) == len(marked) == (1 if which == "bad" else 0)
    for each in found:
        place = assessment.places.of(each.record, each.path)
        assert text.splitlines()[place.line - 1] in marked
        assert each.help
        assert re.search(r"version 1 of .* has version 2", each.headline)
