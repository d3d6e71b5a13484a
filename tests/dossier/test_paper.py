"""The printing engine: parts become one file in which links, numbers, bookmarks and tags hold."""

from __future__ import annotations

import io
import re
from typing import Any

import pikepdf
import pytest
from pypdf import PdfReader

from riskkit.dossier.paper import Attachment, Head, Paper, Part, body_style, folio_style, print_paper

SHEET = """
@page { size: A5; margin: 18mm; @top-left { content: string(running) }
        @bottom-right { content: "page " counter(page) " of " counter(pages) } }
h1 { string-set: running content(); bookmark-level: 1 } h2 { bookmark-level: 2 }
"""
PICTURE = "<img alt='a grey square' src='data:image/svg+xml;utf8,%3Csvg xmlns=%22http://www.w3.org/2000/svg%22 width=%229%22 height=%229%22/%3E'>"


def section(number: int, following: int) -> Part:
    rows = "".join(f"<tr><td>{row}</td><td>reading</td></tr>" for row in range(40))
    return Part(
        f'<h1 id="s{number}">Section {number}</h1><p><a href="#s{following}">across</a> <a href="#in{number}">within</a></p>'
        f'{PICTURE}<table><thead><tr><th scope="col">Run</th><th scope="col">What</th></tr></thead><tbody>{rows}</tbody></table>'
        f'<h2 id="in{number}">Inner {number}</h2><p>End.</p>'
    )


CONTENTS = Part(
    '<h1 id="toc">Contents</h1><p><a href="#s1">One</a> <a class="page-of" href="#s1"></a></p><p><a class="page-of" href="#in3"></a></p>'
)
PARTS = (CONTENTS, section(1, 2), section(2, 3), section(3, 1))
NOTE = Attachment("register.zip", b"PK not really \x00\xff", "the register", "application/zip")


@pytest.fixture(scope="module")
def paper() -> Paper:
    return print_paper(Head((SHEET,), "Hood <C> & more", "en", "a group"), PARTS, attachments=(NOTE,), workers=2)


@pytest.fixture(scope="module")
def pdf(paper: Paper) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(paper.pdf))


def texts(paper: Paper) -> list[str]:
    return [page.extract_text() for page in PdfReader(io.BytesIO(paper.pdf)).pages]


def test_every_page_says_which_of_how_many_it_is(paper: Paper) -> None:
    pages = texts(paper)
    assert len(pages) == paper.pages
    for number, text in enumerate(pages, start=1):
        assert f"page {number} of {paper.pages}" in text


def test_page_references_give_the_page_on_which_the_target_stands(paper: Paper) -> None:
    assert f"One {paper.anchors['s1']}" in texts(paper)[0]
    assert str(paper.anchors["in3"]) in texts(paper)[0].splitlines()
    for number in (1, 2, 3):
        assert f"Inner {number}" in texts(paper)[paper.anchors[f"in{number}"] - 1]


def test_links_lead_to_the_page_of_their_target_also_across_parts(paper: Paper, pdf: pikepdf.Pdf) -> None:
    names = dict(zip(*[iter(pdf.Root.Names.Dests.Names)] * 2, strict=True))
    number_of = {page.objgen: number for number, page in enumerate(pdf.pages, start=1)}
    led = set()
    for page in pdf.pages:
        for annotation in page.get("/Annots", []):
            assert "/A" not in annotation, "no address may be left where a place in the file is meant"
            target = names[annotation.Dest]
            assert number_of[target[0].objgen] == paper.anchors[str(annotation.Dest)]
            led.add(str(annotation.Dest))
    assert led == {"s1", "s2", "s3", "in1", "in2", "in3"}


def test_bookmarks_are_nested_by_heading_level_across_parts(paper: Paper) -> None:
    outline = PdfReader(io.BytesIO(paper.pdf)).outline
    flat = [[item.title for item in entry] if isinstance(entry, list) else entry.title for entry in outline]
    assert flat == ["Contents", "Section 1", ["Inner 1"], "Section 2", ["Inner 2"], "Section 3", ["Inner 3"]]


def test_the_attachment_comes_out_byte_for_byte_and_belongs_to_the_file(paper: Paper, pdf: pikepdf.Pdf) -> None:
    assert PdfReader(io.BytesIO(paper.pdf)).attachments == {"register.zip": [NOTE.content]}
    assert pdf.Root.AF[0].AFRelationship == "/Data"


def test_title_language_and_marks_are_those_of_a_tagged_file(pdf: pikepdf.Pdf) -> None:
    assert pdf.Root.Lang == "en"
    assert pdf.docinfo["/Title"] == "Hood <C> & more"
    assert bool(pdf.Root.ViewerPreferences.DisplayDocTitle)
    assert bool(pdf.Root.MarkInfo.Marked)
    assert b"<pdfuaid:part>1</pdfuaid:part>" in pdf.Root.Metadata.read_bytes()
    assert all(page.Tabs == "/S" for page in pdf.pages)
    assert "/CreationDate" not in pdf.docinfo


def walk(element: Any, page: Any, found: dict[str, Any]) -> None:
    page = element.get("/Pg", page)
    found["kinds"].append(str(element.S))
    if "/Alt" in element:
        found["alternatives"].append(str(element.Alt))
    if "/ID" in element:
        found["ids"].append(str(element.ID))
    headers = element.get("/A", pikepdf.Dictionary()) if isinstance(element.get("/A"), pikepdf.Dictionary) else {}
    if "/Headers" in headers:
        found["headers"].update(map(str, headers["/Headers"]))
    kids = element.get("/K")
    for kid in kids if isinstance(kids, pikepdf.Array) else [] if kids is None else [kids]:
        if isinstance(kid, int):
            found["content"].add((page.objgen, kid))
        elif kid.get("/Type") == "/OBJR":
            found["objects"].add(kid.Obj.objgen)
        else:
            assert kid.P.objgen == element.objgen, "each element names the one it stands in"
            walk(kid, page, found)


@pytest.fixture(scope="module")
def tree(pdf: pikepdf.Pdf) -> dict[str, Any]:
    found: dict[str, Any] = {
        "kinds": [], "alternatives": [], "ids": [], "headers": set(), "content": set(), "objects": set()
    }  # fmt: skip
    root = pdf.Root.StructTreeRoot
    assert len(root.K) == 1
    walk(root.K[0], None, found)
    return found


def test_everything_marked_on_a_page_is_in_the_structure_tree_and_the_reverse(
    pdf: pikepdf.Pdf, tree: dict[str, Any]
) -> None:
    marked = set()
    for page in pdf.pages:
        content = b"".join(
            stream.read_bytes()
            for stream in (page.Contents if isinstance(page.Contents, pikepdf.Array) else [page.Contents])
        )
        marked |= {(page.objgen, int(number)) for number in re.findall(rb"/MCID (\d+)", content)}
    assert marked == tree["content"]


def test_page_margins_are_artifacts(pdf: pikepdf.Pdf) -> None:
    content = b"".join(stream.read_bytes() for stream in pdf.pages[1].Contents)
    assert content.count(b"/Artifact BMC") == 2  # the running title and the page number


def test_every_link_is_in_the_structure_tree(pdf: pikepdf.Pdf, tree: dict[str, Any]) -> None:
    links = {annotation.objgen for page in pdf.pages for annotation in page.get("/Annots", [])}
    assert links
    assert links == tree["objects"]


def test_the_parent_tree_leads_from_every_page_and_link_to_its_element(pdf: pikepdf.Pdf) -> None:
    numbers = list(pdf.Root.StructTreeRoot.ParentTree.Nums)
    keys = [int(key) for key in numbers[0::2]]
    assert keys == sorted(set(keys))
    wanted = [int(page.StructParents) for page in pdf.pages]
    wanted += [int(note.StructParent) for page in pdf.pages for note in page.get("/Annots", [])]
    assert sorted(wanted) == keys


def test_the_parent_tree_names_for_every_text_the_element_that_holds_it(pdf: pikepdf.Pdf) -> None:
    numbers = list(pdf.Root.StructTreeRoot.ParentTree.Nums)
    elements = {int(key): value for key, value in zip(numbers[0::2], numbers[1::2], strict=True)}
    for page in pdf.pages:
        for text, element in enumerate(elements[int(page.StructParents)]):
            if element is None or text not in used_on(page):
                continue
            kids = element.K if isinstance(element.K, pikepdf.Array) else [element.K]
            assert text in [kid for kid in kids if isinstance(kid, int)]
            assert element.Pg.objgen == page.objgen


def used_on(page: pikepdf.Page) -> set[int]:
    content = b"".join(stream.read_bytes() for stream in page.Contents)
    return {int(number) for number in re.findall(rb"/MCID (\d+)", content)}


def test_table_headers_and_pictures_keep_their_meaning(tree: dict[str, Any]) -> None:
    assert tree["kinds"].count("/TH") == 12  # each of three tables runs over two pages and repeats its two headers
    assert len(tree["ids"]) == len(set(tree["ids"]))
    assert tree["headers"] <= set(tree["ids"])
    assert tree["alternatives"] == ["a grey square"] * 3
    headings = [kind for kind in tree["kinds"] if re.match(r"/H\d", kind)]
    assert headings == ["/H1"] + ["/H1", "/H2"] * 3


def test_the_same_input_gives_the_same_bytes_whatever_the_number_of_workers(paper: Paper) -> None:
    again = print_paper(Head((SHEET,), "Hood <C> & more", "en", "a group"), PARTS, attachments=(NOTE,), workers=1)
    assert again.pdf == paper.pdf


@pytest.mark.parametrize(
    "asked",
    [
        '<img src="http://example.org/a.png" alt="x">',
        '<img src="file:///etc/hostname" alt="x">',
        '<img src="ftp://example.org/a.png" alt="x">',
        '<img src="../../secret.png" alt="x">',
        '<link rel="stylesheet" href="http://example.org/a.css">',
        "<style>@import url(http://example.org/a.css);</style>",
        "<style>@font-face { font-family: x; src: url(file:///etc/hostname) } p { font-family: x }</style><p>x</p>",
        "<style>p { background: url(http://example.org/a.png) }</style><p>x</p>",
        '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><image href="http://example.org/a.png" width="9" height="9"/></svg>',
        '<object data="file:///etc/hostname"></object>',
        '<a rel="attachment" href="file:///etc/hostname">x</a>',
        '<link rel="attachment" href="file:///etc/hostname">',
    ],
)
def test_nothing_outside_the_page_is_ever_fetched(asked: str) -> None:
    paper = print_paper(Head((), "x"), [Part(f"<h1>x</h1>{asked}")], workers=1)
    assert paper.refusals or "without a base URI" in paper.warnings[0], "the request must be refused and remembered"
    assert "/EmbeddedFiles" not in pikepdf.open(io.BytesIO(paper.pdf)).Root.get("/Names", pikepdf.Dictionary())


def test_numbered_margin_boxes_are_split_from_the_rest() -> None:
    assert 'content: ""' in body_style(SHEET)
    assert "counter(" not in body_style(SHEET)
    assert "string(running)" in body_style(SHEET)
    assert "string(running)" not in folio_style(SHEET)
    assert "counter(pages)" in folio_style(SHEET)


def test_progress_ends_at_its_total() -> None:
    told: list[tuple[int, int]] = []
    print_paper(
        Head((SHEET,), "x"), PARTS[:2], workers=1, on_progress=lambda done, total, words: told.append((done, total))
    )
    assert told[-1][0] == told[-1][1]
