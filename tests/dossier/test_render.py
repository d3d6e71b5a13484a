"""The printed dossier: complete, tagged, stamped, the same bytes again, and never louder than the register."""

from __future__ import annotations

import dataclasses
import datetime
import hashlib
import io
import json
import re
import shutil
import sys
import zipfile
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from pypdf import PdfReader

from riskkit.assess import Assessment, assess
from riskkit.diagnostics import Report, RiskkitError
from riskkit.dossier import sections
from riskkit.dossier.cautions import SENTENCES
from riskkit.dossier.printed import Paper
from riskkit.dossier.render import archive, claims_in, html_of, refuse_claims, render
from riskkit.dossier.sections import Piece, Section, coded, css_text, wrapped
from riskkit.dossier.view import view_of
from riskkit.text.reader import read
from riskkit.text.snapshot import Snapshot, read_folder

HOOD = Path(__file__).parents[2] / "catalogs" / "examples" / "hood"
DAY = datetime.date(2026, 11, 25)
Project = Callable[..., Assessment]


@pytest.fixture(scope="module")
def hood() -> Assessment:
    snapshot, troubles = read_folder(HOOD)
    return assess(read(snapshot, troubles), today=DAY, revision="4f2c9d1")


@pytest.fixture(scope="module")
def paper(hood: Assessment) -> Paper:
    return render(hood)


@pytest.fixture(scope="module")
def pages(paper: Paper) -> list[str]:
    return [page.extract_text() for page in PdfReader(io.BytesIO(paper.pdf)).pages]


@pytest.fixture(scope="module")
def pdf(paper: Paper) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(paper.pdf))


def flat(text: str) -> str:
    return "".join(text.split())


def elements(node: Any) -> Iterator[Any]:
    """Every element of the structure tree, in reading order."""
    kids = node.get("/K")
    for kid in kids if isinstance(kids, pikepdf.Array) else [] if kids is None else [kids]:
        if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
            yield kid
            yield from elements(kid)


# -- every page ---------------------------------------------------------------------------------------


def test_every_page_carries_stamp_build_day_and_its_number(paper: Paper, pages: list[str], hood: Assessment) -> None:
    assert len(pages) == paper.pages
    for number, text in enumerate(pages, start=1):
        words = flat(text)
        assert f"page{number}of{paper.pages}" in words
        assert f"INCOMPLETE·{len(hood.report.open)}open" in words
        assert "build4f2c9d1·2026-11-25" in words


def test_every_page_but_the_front_sheet_names_its_section(pages: list[str]) -> None:
    titles = [flat(f"{section.number}{section.title}") for section in sections.sections()]
    for text in pages[2:]:
        assert any(title in flat(text) for title in titles)
        assert "Reviewdossier·Marramhood,revisionC" in flat(text)


def test_printing_asks_for_nothing_and_the_layout_engine_has_no_complaint(paper: Paper) -> None:
    assert paper.refusals == ()
    assert paper.warnings == ()


def test_nothing_open_means_no_stamp_anywhere_and_nobody_says_that_all_is_well(project: Project) -> None:
    closed = dataclasses.replace(project("device: {name: hood}"), report=Report(), waived=())
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(render(closed).pdf)).pages)
    assert "INCOMPLETE" not in text
    assert "No person has said that nothing is open." in " ".join(text.split())


# -- the front sheet ----------------------------------------------------------------------------------

LONG = "a sentence that goes on and on, with ±0.5 hPa in the middle of it, " * 60
WORD = "Unendlichlangeswortohneleerzeichen" * 60


def hostile_register() -> str:
    """Every field of the front sheet filled with far too much."""

    def y(*texts: str) -> str:
        return json.dumps(list(texts))

    return f"""
device:
  name: {json.dumps(WORD)}
  revision: {json.dumps(LONG)}
  group: {json.dumps(LONG)}
  summary: {y(LONG, WORD, LONG, LONG)}
  stage: {json.dumps(LONG)}
  not_for: {y(LONG, WORD)}
  stop_conditions: {y(LONG, WORD, LONG)}
  front_sheet:
    {{when_it_stops: {json.dumps(LONG)}, room_air_when_off: {json.dumps(WORD)}, removal: {json.dumps(LONG)},
     highest_pressure: {json.dumps(LONG)}, measured: {y(LONG, LONG)}, not_measured: {y(LONG)}, cleaning: {json.dumps(LONG)},
     questions: {y(LONG, WORD, LONG, LONG)}}}
hazards:
""" + "".join(
        f"  H{place}: {{title: {json.dumps(LONG if place % 2 else WORD)}, condition: normal, harm: {{text: {json.dumps(LONG)}, severity: 5}}}}\n"
        for place in range(9)
    )


@pytest.mark.parametrize("page", ["a4", "letter"])
@pytest.mark.parametrize("what", ["demo", "endless", "nothing"])
def test_the_front_sheet_is_one_page_whatever_stands_in_the_register(
    page: str, what: str, hood: Assessment, project: Project
) -> None:
    texts = {"endless": hostile_register(), "nothing": "parts:\n  P01: {title: blower}"}
    assessment = hood if what == "demo" else project(texts[what])
    paper = render(assessment, page=page, one_page=True, attachments=())
    assert paper.pages == 1
    sheet = PdfReader(io.BytesIO(paper.pdf)).pages[0]
    assert round(float(sheet.mediabox.height)) == {"a4": 842, "letter": 792}[page]
    words = flat(sheet.extract_text())
    for place, sentence in enumerate(SENTENCES):
        assert flat(sentence.replace("{stop}", "")) in words, f"caution {place + 1}"
    assert flat("It must not be used on a person, and no one is asked to do so.") in words
    assert flat("Who decides") in words
    assert flat("INCOMPLETE") in words


def test_the_front_sheet_answers_what_a_clinician_asks_first(pages: list[str]) -> None:
    words = flat(pages[0])
    for expected in ("66 s from the fault to the act, 57.9 s until harm", "not yet confirmed by its owner (emergency physician)",
                     "Not for: any person", "When it stops", "Room air when off", "Not measured", "What we ask you", "Not we."):  # fmt: skip
        assert flat(expected) in words


# -- sections -----------------------------------------------------------------------------------------


def test_the_page_of_contents_gives_the_page_on_which_each_section_stands(paper: Paper, pages: list[str]) -> None:
    view_sections = [section for section in sections.sections() if section.number != "0"]
    contents = " ".join(pages[1].split())
    for section in view_sections:
        assert f"{section.title} {paper.anchors[f'section-{section.number}']}" in contents, section.title


def test_every_entry_can_be_found_by_its_code(paper: Paper, hood: Assessment) -> None:
    from riskkit.dossier.view import ANCHORED

    expected = {f"rec-{id}" for id, record in hood.register.records.items() if record.SECTION in ANCHORED}
    assert expected <= set(paper.anchors)


def test_bookmarks_lead_to_every_section_and_hazard(pdf: pikepdf.Pdf, hood: Assessment) -> None:
    with pdf.open_outline() as outline:
        top = [item.title for item in outline.root]
        below = [child.title for item in outline.root for child in item.children]
    assert [title for title in top if title[:1].isdigit()][:3] == [
        "1 Limits and what is not claimed",
        "2 What changed since the last dossier",
        "3 The device",
    ]
    assert sum(title.split()[0] in hood.scores for title in below) == len(hood.scores)


def test_a_section_is_added_by_adding_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, project: Project) -> None:
    copy = tmp_path / "dossier"
    shutil.copytree(sections.folder(), copy)
    (copy / "sections" / "55-weather.html").write_text(
        "{# number: 5b; title: Weather at the bench; needs: units #}\n<p>Rain & wind.</p>"
    )
    (copy / "sections" / "56-water.html").write_text(
        "{# number: 5c; title: Water at the bench #}\n<p>{{ view.cover.name }}</p>"
    )
    monkeypatch.setattr(sections, "folder", lambda: copy)
    monkeypatch.setattr(sections, "sections", sections.sections.__wrapped__)
    monkeypatch.setattr(sections, "_environment", sections._environment.__wrapped__)
    _, parts = html_of(view_of(project("device: {name: hood <7>}"), claims_in), "a4")
    html = "".join(part.html for part in parts)
    assert "Water at the bench" in html
    assert "hood &lt;7&gt;" in html
    assert "Weather at the bench" not in html, "the section needs units, and there is none"


@pytest.mark.parametrize("name", ["00-front.html", "01-limits.html", "15-open.html"])
def test_no_dossier_is_printed_without_front_sheet_limits_and_open_list(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    copy = tmp_path / "dossier"
    shutil.copytree(sections.folder(), copy)
    (copy / "sections" / name).unlink()
    monkeypatch.setattr(sections, "folder", lambda: copy)
    with pytest.raises(ValueError, match="installed without section"):
        sections.sections.__wrapped__()


def test_section_templates_hold_no_logic_beyond_loops_and_conditions() -> None:
    for path in sorted((sections.folder() / "sections").glob("*.html")):
        for tag in re.findall(r"\{%-?\s*(\w+)", path.read_text()):
            assert tag in {"for", "endfor", "if", "elif", "else", "endif", "set"}, f"{path.name}: {tag}"


# -- tags ---------------------------------------------------------------------------------------------


def test_the_paper_is_tagged_with_language_and_title(pdf: pikepdf.Pdf) -> None:
    assert str(pdf.Root.Lang) == "en"
    assert bool(pdf.Root.MarkInfo.Marked)
    assert "Marram hood" in str(pdf.docinfo.get("/Title", pdf.open_metadata().get("dc:title", "")))


def test_every_figure_has_an_alternative_text(pdf: pikepdf.Pdf, hood: Assessment) -> None:
    found = [element for element in elements(pdf.Root.StructTreeRoot) if str(element.S) == "/Figure"]
    texts = [str(element.get("/Alt", "")) for element in found]
    assert len(texts) >= 2 * len(hood.scores)
    assert all(len(text) > 12 for text in texts)
    assert sum(text.startswith("Trace of") for text in texts) == len(hood.scores)
    assert sum(text.startswith("Risk matrix") for text in texts) == 2
    assert sum(text.startswith("What supplies what") for text in texts) == 1


def test_headings_never_skip_a_level(pdf: pikepdf.Pdf) -> None:
    levels = [
        int(str(element.S)[2]) for element in elements(pdf.Root.StructTreeRoot) if re.fullmatch(r"/H\d", str(element.S))
    ]
    assert levels[0] == 1
    assert all(later <= earlier + 1 for earlier, later in pairwise(levels))


def test_every_table_has_header_cells(pdf: pikepdf.Pdf) -> None:
    tables = [element for element in elements(pdf.Root.StructTreeRoot) if str(element.S) == "/Table"]
    assert len(tables) > 100
    for table in tables:
        assert any(str(element.S) == "/TH" for element in elements(table))


def test_header_cells_say_what_they_head() -> None:
    for path in sections.folder().rglob("*.html"):
        for cell in re.findall(r"<th\b[^>]*>", path.read_text()):
            assert "scope=" in cell, f"{path.name}: {cell}"


# -- what is refused ----------------------------------------------------------------------------------


def test_a_claim_is_taken_out_of_the_text_and_named_in_the_open_list(project: Project) -> None:
    text = """
device: {name: hood, summary: [A bench hood. It is approved for use on patients.]}
hazards:
  H01: {title: Flow stops, condition: normal, harm: {text: harm, severity: 5, because: this is now completely safe}}
"""
    paper = render(project(text))
    words = " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(paper.pdf)).pages)
    assert "It is approved for use" not in words
    assert "this is now completely safe" not in words
    assert "A bench hood. [claim removed:" in words
    assert "Sentences that are not printed" in words


def test_an_id_that_claims_keeps_the_paper_from_being_printed(project: Project) -> None:
    text = "units:\n  U01: {title: first unit, gate: approved}\ngates:\n  approved: {title: bench only, order: 1}\n"
    with pytest.raises(RiskkitError, match="would print `approved`"):
        render(project(text))


def test_the_last_look_passes_over_quotations_file_names_and_fixed_sentences() -> None:
    section = Section("7", "Register", "sections/07-register.html")
    for html in (
        "<p>says `safe`</p>",
        "<code>notes/approved.yaml</code>",
        f"<li>{SENTENCES[1]}</li>",
        "<p>[claim removed: safe]</p>",
    ):
        refuse_claims(Piece(section, html))
    for html in ("<p>the hood is <b>safe</b></p>", "<p>ready for clinical use</p>", "<td>sa&#102;e</td>"):
        with pytest.raises(RiskkitError):
            refuse_claims(Piece(section, html))


def test_our_own_templates_claim_and_permit_nothing(project: Project) -> None:
    """Every sentence of ours, also those that only an empty register brings out."""
    for text in ("device: {name: hood}", "parts:\n  P01: {title: blower}"):
        html_of(view_of(project(text), claims_in), "a4")


def test_markup_direction_overrides_and_endless_words_of_a_register_are_only_text(project: Project) -> None:
    hostile = "</table></style><script>alert(1)</script><img src=file:///etc/passwd> {{ 7*7 }} {% raw %} \u202egnp\u202c & \" '"
    text = f"""
device: {{name: {json.dumps(hostile)}, revision: {json.dumps(hostile)}, summary: [{json.dumps(hostile)}]}}
parts: {{P01: {{title: {json.dumps(hostile)}, version: {json.dumps(hostile)}}}}}
hazards:
  H01: {{title: {json.dumps(hostile)}, condition: normal, causes: [P01], harm: {{text: {json.dumps(hostile)}, severity: 5}}, controls: [C01]}}
controls:
  C01: {{title: {json.dumps(hostile)}, kind: design, depends_on: [P01], people: [{json.dumps(hostile)}]}}
"""
    paper = render(project(text))
    words = "".join(page.extract_text() for page in PdfReader(io.BytesIO(paper.pdf)).pages)
    assert (paper.refusals, paper.warnings) == ((), ())
    assert "alert(1)" in words
    assert "7*7" in words
    assert "49" not in words.replace("7*7", "")[:400]
    assert "[U+202E]" in flat(words)
    assert "\u202e" not in words


def test_no_sentence_of_a_register_is_lost_on_the_way_to_paper(project: Project) -> None:
    """Each long field ends in a token of its own; all of them must come out of the file again."""
    filler = "words that fill a line and another line and a third one, " * 30
    tokens = iter(f"endmark{place:03}" for place in range(1000))

    def long() -> str:
        return json.dumps(f"{filler}{next(tokens)}")

    text = f"""
device: {{name: hood, summary: [{long()}], purpose: {long()}, not_for: [{long()}], must_never: [{long()}], stop_conditions: [{long()}]}}
parts: {{P01: {{title: blower, version: {long()}, notes: {long()}, fails: [{{mode: {long()}}}]}}}}
functions: {{F01: {{title: {long()}, notes: {long()}}}}}
hazards:
  H01:
    title: {long()}
    condition: normal
    source: {long()}
    causes: [{{by: P01, mode: {long()}}}]
    sequence: [{long()}, {long()}]
    situation: {long()}
    harm: {{text: {long()}, severity: 5, because: {long()}}}
    likelihood: {{before: {{p: 0.1, because: {long()}}}, claimed: {{p: 0.01, because: {long()}}}}}
    controls: [C01]
    tests: [T01]
    owner: {long()}
    origin: {long()}
    notes: {long()}
controls:
  C01: {{title: alarm, kind: protective, why_not_higher: {long()}, depends_on: [P01], people: [{long()}], fails_how: {long()},
        noticed: {{how: {long()}}}, introduces: []}}
tests: {{T01: {{title: try, claim: {long()}, proves: [C01], shows: effectiveness, stop: {long()}, limit: {{at_most: 5 hPa, because: {long()}}}}}}}
results: {{R01: {{test: T01, on: 2026-10-01, observed: {long()}, fault_shown: {long()}, operator: {long()}, notes: {long()},
          evidence: {{file: a.csv, what: {long()}}}}}}}
instruments: {{I01: {{title: {long()}, measures: {long()}, span: {long()}, uncertainty: {long()}}}}}
calculations: {{K01: {{title: {long()}, formula: {long()}, inputs: {{speed: {long()}}}, answers: {{pressure: 5 hPa}}, valid_for: {long()}, source: {long()}, notes: {long()}}}}}
assumptions: {{A01: {{text: {long()}, because: {long()}, how_to_test: {long()}}}}}
observations: {{O01: {{on: 2026-11-20, text: {long()}, no_hazard_because: {long()}}}}}
decisions: {{D01: {{on: 2026-11-01, by: {long()}, because: {long()}, covers: {{H01: {long()}}}}}}}
units: {{U01: {{title: {long()}, notes: {long()}, checks: [{{step: {long()}, outcome: {long()}}}], deviations: [{{text: {long()}}}]}}}}
gates: {{G01: {{title: {long()}, order: 1, questions: [{{ask: {long()}, needs: {long()}}}]}}}}
comments: {{M01: {{on: 2026-11-10, by: emergency physician, weight: major, text: {long()}, disposition: {{kind: declined, reason: {long()}}}}}}}
"""
    assessment = project(text)
    assert assessment.report.broken == ()
    last = int(next(tokens)[-3:])
    words = flat("".join(page.extract_text() for page in PdfReader(io.BytesIO(render(assessment).pdf)).pages))
    assert [f"endmark{place:03}" for place in range(last) if f"endmark{place:03}" not in words] == []


# -- the register inside ------------------------------------------------------------------------------


def test_the_attached_register_gives_the_same_findings_when_it_is_read_again(
    pdf: pikepdf.Pdf, hood: Assessment, tmp_path: Path
) -> None:
    content = pdf.attachments["register.zip"].get_file().read_bytes()
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        assert packed.testzip() is None
        packed.extractall(tmp_path)
    snapshot, troubles = read_folder(tmp_path)
    again = assess(read(snapshot, troubles), today=DAY)
    assert len(again.report.open) == len(hood.report.open)
    assert [found.headline for found in again.report] == [found.headline for found in hood.report]
    assert snapshot.files == hood.reading.snapshot.files


def test_equal_registers_give_equal_archives_whatever_their_order() -> None:
    files = {"b.yaml": b"parts: {}\n", "a/c.yaml": b"hazards: {}\n"}
    one, other = archive(files), archive(dict(reversed(files.items())))
    assert one.content == other.content
    with zipfile.ZipFile(io.BytesIO(one.content)) as packed:
        assert packed.namelist() == ["a/c.yaml", "b.yaml"]
        assert {entry.date_time for entry in packed.infolist()} == {(1980, 1, 1, 0, 0, 0)}


def test_the_paper_lists_the_attached_files_with_their_hashes(pages: list[str], hood: Assessment) -> None:
    words = flat("".join(pages[-3:]))
    for name, content in hood.reading.snapshot.files.items():
        assert name in words
        assert hashlib.sha256(content).hexdigest() in words


# -- the same again -----------------------------------------------------------------------------------


def test_the_same_register_gives_the_same_bytes_whatever_the_number_of_workers(project: Project) -> None:
    text = "device: {name: hood}\nhazards:\n  H01: {title: flow stops, condition: normal, harm: {text: harm, severity: 4}}\n"
    assert render(project(text), workers=1).pdf == render(project(text), workers=2).pdf


def test_printing_tells_how_far_it_is(project: Project) -> None:
    told: list[tuple[int, int]] = []
    render(
        project("device: {name: hood}"),
        one_page=True,
        on_progress=lambda done, total, words: told.append((done, total)),
    )
    assert told[-1][0] == told[-1][1]


def test_a_paper_nobody_knows_is_refused(hood: Assessment) -> None:
    with pytest.raises(RiskkitError, match="no paper called `a3`"):
        render(hood, page="a3")


def test_graphviz_never_enters_the_process_that_prints(paper: Paper) -> None:
    assert paper.pages > 20
    assert "pygraphviz" not in sys.modules


def test_text_before_an_inline_element_gets_an_element_of_its_own() -> None:
    assert wrapped("<td>a title <span>x</span> and more<b>y</b></td>") == (
        "<td><span>a title</span> <span>x</span><span> and more</span><b>y</b></td>"
    )
    assert wrapped("<td>alone</td>\n<td> <a>x</a></td>") == "<td>alone</td>\n<td> <a>x</a></td>"


# -- small pieces -------------------------------------------------------------------------------------


def test_a_css_string_cannot_be_left() -> None:
    for words in ('"; } body { display: none } @page { x: "', "\\", "\n", "</style>", "a b"):
        written = css_text(words)
        assert re.fullmatch(r'"(?:[^"\\<\n]|\\[0-9a-f]{6})*"', written)
        back = re.sub(r"\\([0-9a-f]{6})", lambda found: chr(int(found[1], 16)), written[1:-1])
        assert back == words


def test_backticks_become_code_and_everything_is_escaped() -> None:
    assert str(coded("add `owner: <role>` & more")) == "add <code>owner: &lt;role&gt;</code> &amp; more"
    assert str(coded("a `half open")) == "a <code>half open</code>"


def test_a_register_of_one_file_that_is_broken_still_gets_its_front_sheet() -> None:
    reading = read(Snapshot.from_files({"r.yaml": b"device: {name: hood}\nhazards:\n  H01: {title: [unclosed\n"}))
    assert reading.report.broken
    assert render(assess(reading, today=DAY), one_page=True).pages == 1
