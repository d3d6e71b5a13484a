"""The build pack as it comes out of the printer: cautions whole, holes named, codes that `record` takes, never a permission."""

from __future__ import annotations

import datetime
import io
from collections.abc import Callable
from pathlib import Path

import pikepdf
import pytest
from pypdf import PdfReader

from riskkit.assess import Assessment, assess
from riskkit.diagnostics import RiskkitError
from riskkit.dossier.cautions import SENTENCES, cautions
from riskkit.dossier.pack.printing import print_pack
from riskkit.dossier.pack.view import builders_records, pack_view, steps_of_builders
from riskkit.dossier.printed import Paper
from riskkit.dossier.refusing import claims_in
from riskkit.dossier.view.telling import Teller
from riskkit.judgement.cards import card_code, check_card, content_of
from riskkit.text.reader import read
from riskkit.text.snapshot import read_folder

HOOD = Path(__file__).parents[2] / "catalogs" / "examples" / "hood"
DAY = datetime.date(2026, 11, 25)
Project = Callable[..., Assessment]


@pytest.fixture(scope="module")
def hood() -> Assessment:
    snapshot, troubles = read_folder(HOOD)
    return assess(read(snapshot, troubles), today=DAY, revision="4f2c9d1")


@pytest.fixture(scope="module")
def paper(hood: Assessment) -> Paper:
    return print_pack(hood)


@pytest.fixture(scope="module")
def pages(paper: Paper) -> list[str]:
    return pages_of(paper)


def pages_of(paper: Paper) -> list[str]:
    return [flat(page.extract_text()) for page in PdfReader(io.BytesIO(paper.pdf)).pages]


def flat(words: str) -> str:
    return "".join(words.split())


def test_every_page_carries_build_day_stamps_and_its_number(paper: Paper, pages: list[str], hood: Assessment) -> None:
    for number, words in enumerate(pages, start=1):
        assert f"page{number}of{paper.pages}" in words
        assert "build4f2c9d1·2026-11-25·INCOMPLETE" in words
        assert "STALE" in words
    assert f"INCOMPLETE,{len(hood.report.open)}open" in pages[1]
    stale = sum(found.is_stale for found in hood.freshness.values())
    assert f"STALE,{stale}result" in pages[1]


def test_the_front_page_has_all_twelve_cautions_and_says_bench_only(pages: list[str], hood: Assessment) -> None:
    assert hood.register.device is not None
    for sentence in cautions(hood.register.device.stop_conditions):
        assert flat(sentence) in pages[0]
    assert flat("For the bench only. It must not be used on a person, and no one is asked to do so.") in pages[0]
    assert flat("Stage stated by the project: bench only.") in pages[0]
    assert flat("Revision C") in pages[0]


def test_no_register_takes_the_cautions_out(project: Project) -> None:
    found = pages_of(print_pack(project("device: {name: hood}")))
    fixed = [sentence for sentence in SENTENCES if "{stop}" not in sentence]
    assert len(fixed) == 11
    assert all(flat(sentence) in found[0] for sentence in fixed)
    assert flat("this project has not stated its stop conditions") in found[0]


def test_an_empty_register_says_what_it_lacks(project: Project) -> None:
    words = "".join(pages_of(print_pack(project("device: {name: hood}"))))
    for said in (
        "No parts are written in this register. There is nothing here to buy or make.",
        "No steps are written for a builder. This pack tells you what to check, and not how to build.",
        "No check of a build is written in this register.",
        "No test of every unit is written. Nothing in this register says what your unit has to show.",
        "The device sheet states no stop conditions.",
        "The register does not say what it is.",
        "This pack has holes.",
    ):
        assert flat(said) in words, said


def test_parts_come_with_version_ratings_and_what_leans_on_them(hood: Assessment, pages: list[str]) -> None:
    words = "".join(pages)
    rows = {row.id: row for row in pack_view(hood, Teller(claims_in)).parts}
    assert rows["P11"].version == "lot B"
    assert rows["P11"].ratings == ("mass 83 g", "diameter 24 mm")
    assert rows["P11"].controls == ("C07",)
    assert rows["P11"].tests == ("T07", "T08", "T09")
    assert rows["P12"].controls == ()
    for row in rows.values():
        assert flat(f"{row.id}{row.title}") in words


def test_instruments_are_those_of_the_tests_of_a_unit(hood: Assessment) -> None:
    view = pack_view(hood, Teller(claims_in))
    wanted = {id for test in hood.register.tests if test.scope == "every unit" for id in test.instruments}
    assert {row.id for row in view.instruments} == wanted
    assert next(row for row in view.instruments if row.id == "I01").uncertainty == "0.18 hPa"


def test_cards_of_every_unit_are_inside_and_record_takes_their_codes(hood: Assessment, pages: list[str]) -> None:
    words = "".join(pages)
    tests = [test for test in hood.reading.register.tests if test.scope == "every unit"]
    assert tests
    for test in tests:
        code = card_code(test.id, content_of(test))
        check_card(code, test.id, content_of(test))
        assert (
            words.count(f"riskkitrecord{test.id}--card{code}") >= 2
        )  # on the page about sending back, and on the card
        assert f"{code}" in words
    for title in ("Buildcard:partsasfitted", "Buildcard:sign-off", "DEVIATION", "OBSERVATION", "SWITCH-ON", "SPARE"):
        assert title in words


def test_only_what_concerns_a_builder_is_listed_as_open(hood: Assessment, pages: list[str]) -> None:
    view = pack_view(hood, Teller(claims_in))
    concern = builders_records(hood.register)
    assert {gap.record for gap in view.gaps} <= concern
    open_here = [found for found in hood.report.open if found.record in concern]
    assert len(view.gaps) == len(open_here) > 3
    assert {"U02", "U03"} <= {gap.record for gap in view.gaps}
    place = next(number for number, words in enumerate(pages) if "openentries" in words)
    assert (
        flat(f"The register has {len(hood.report.open)} open entries. {len(view.gaps)} of them concern") in pages[place]
    )


def test_steps_of_a_builder_are_found_by_role_and_come_in_order(project: Project) -> None:
    found = project(
        "use_steps: {S01: {title: c, who: builder, order: 3}, S02: {title: a, who: Building group, order: 1},"
        " S03: {title: watch, who: attendant, order: 2}, S04: {title: last, who: builder-2}}"
    )
    assert [step.id for step in steps_of_builders(found.register)] == ["S02", "S01", "S04"]


@pytest.mark.parametrize(("page", "size"), [("a4", (595.28, 841.89)), ("letter", (612, 792))])
def test_every_page_has_the_size_of_the_paper(project: Project, page: str, size: tuple[float, float]) -> None:
    # ISO 216 and ANSI/ASME Y14.1
    text = "tests: {T01: {title: look, scope: every unit, limit: {at_most: 3 hPa}}}"
    for sheet in PdfReader(io.BytesIO(print_pack(project(text), page=page).pdf)).pages:
        assert (float(sheet.mediabox.width), float(sheet.mediabox.height)) == pytest.approx(size, abs=0.1)


def test_the_same_register_gives_the_same_bytes(project: Project) -> None:
    found = project("device: {name: hood}\nparts: {P01: {title: hose}}")
    assert print_pack(found).pdf == print_pack(found).pdf


def test_the_pack_is_tagged_and_its_bookmarks_lead_to_sections_and_cards(paper: Paper) -> None:
    pdf = pikepdf.open(io.BytesIO(paper.pdf))
    assert pdf.Root.MarkInfo.Marked
    with pdf.open_outline() as outline:
        top = [" ".join(item.title.split()) for item in outline.root]
        below = [" ".join(child.title.split()) for item in outline.root for child in item.children]
    assert {"How to work with this pack", "Parts", "Steps and checks", "What is open"} <= set(top)
    assert any(title.startswith("T36-") for title in below)
    assert paper.warnings == ()
    assert paper.refusals == ()


def test_the_contents_name_the_pages_on_which_things_stand(paper: Paper, pages: list[str]) -> None:
    place = paper.anchors["card-T36"]
    assert flat(f"static levels by U-tube (test card){place}") in pages[1]
    assert "T36-" in pages[place - 1]


def test_a_claim_of_the_register_is_not_printed_and_stamps_the_pack(project: Project) -> None:
    found = project("device: {name: hood, summary: [It is safe for patients.], stage: approved for clinical use}")
    words = "".join(pages_of(print_pack(found)))
    assert "Itissafeforpatients" not in words
    assert "Stagestatedbytheproject:[claimremoved:" in words
    assert "INCOMPLETE" in words
    assert "Notprinted,becausenothingherecanshowit:" in words


def test_a_name_that_claims_is_refused_or_removed(project: Project) -> None:
    words = "".join(pages_of(print_pack(project("device: {name: Approved hood for clinical use}"))))
    assert "Approvedhoodforclinicaluse" not in words
    with pytest.raises(RiskkitError, match="the build pack"):
        print_pack(project("parts: {approved: {title: hose}}"))
