"""PDF parts become one file: pages, links, bookmarks, structure tree, attachments, metadata.

Each part comes from WeasyPrint with a structure tree of its own. Joining puts their elements under one
`Document`, renumbers the parent tree, and leaves nothing that points outside the file.
"""

from __future__ import annotations

import datetime
import hashlib
import re
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import pikepdf
from pikepdf import Array, Dictionary, Name, OutlineItem, Pdf, String

from riskkit.dossier.printed import Attachment, Head

PRODUCER = "riskkit with WeasyPrint and pikepdf"
_MARKED = re.compile(rb"/(\w+)\s*<<\s*/MCID (\d+)\s*>>\s*BDC")


@dataclass(frozen=True)
class Piece:
    """A printed part and its bookmarks (level, label, page in the part, x, y in CSS pixels)."""

    file: Path
    bookmarks: tuple[tuple[int, str, int, float, float], ...]


# -- in the worker: one part, made ready to be joined ---------------------------------------------


def prepare(file: Path, prefix: str) -> None:
    """Give a part's structure ids a prefix of their own, and mark as artifact what is not in its tree.

    WeasyPrint numbers the text of page margins like content and leaves it out of the tree; PDF/UA wants
    it marked as artifact.
    """
    with Pdf.open(file, allow_overwriting_input=True) as pdf:
        _shorten(pdf)
        used = _reachable(pdf, prefix)
        for page in pdf.pages:
            _mark_artifacts(pdf, page, used.get(page.objgen, set()))
        pdf.save(file, compress_streams=True, deterministic_id=True)


def _shorten(pdf: Pdf) -> None:
    """Take out the `Span` elements that only hold text: their text belongs to the element around them.

    WeasyPrint makes one for every run of text, half of all elements; a reader of the tree gains nothing
    from them, and a long paper holds them all in memory while it is joined.
    """
    tree = pdf.Root.StructTreeRoot
    around: dict[tuple[int, int], Any] = {}
    waiting = _list(tree.K)
    while waiting:
        element = waiting.pop()
        kids: list[Any] = []
        page = element.get(Name.Pg)
        for kid in _list(element.get(Name.K)):
            if _only_holds_text(kid, page):
                around[kid.objgen] = element
                kids += _list(kid.K)
            else:
                kids.append(kid)
                if isinstance(kid, Dictionary) and Name.S in kid:
                    waiting.append(kid)
        element.K = Array(kids)
    for parents in list(tree.ParentTree.Nums)[1::2]:
        if isinstance(parents, Array):
            for place, parent in enumerate(parents):
                if parent is not None and parent.objgen in around:
                    parents[place] = around[parent.objgen]


_PLAIN_SPAN = frozenset({"/Type", "/S", "/P", "/Pg", "/K"})


def _only_holds_text(kid: Any, page: Any) -> bool:
    """Whether an element is a span with nothing but text of the page of the element around it."""
    return (
        isinstance(kid, Dictionary)
        and kid.get(Name.S) == Name.Span
        and page is not None
        and kid.Pg.objgen == page.objgen
        and _PLAIN_SPAN.issuperset(kid.keys())
        and all(isinstance(text, int) for text in _list(kid.get(Name.K)))
    )


def _reachable(pdf: Pdf, prefix: str) -> dict[Any, set[int]]:
    """Page -> content numbers that the structure tree reaches; renames ids on the way."""
    used: dict[Any, set[int]] = {}
    waiting: list[tuple[Any, Any]] = [(pdf.Root.StructTreeRoot, None)]
    while waiting:
        element, page = waiting.pop()
        page = element.get(Name.Pg, page)
        if Name.ID in element:
            element.ID = String(f"{prefix}-{element.ID}")
        attributes = element.get(Name.A)
        if isinstance(attributes, Dictionary) and Name.Headers in attributes:
            attributes.Headers = Array([String(f"{prefix}-{header}") for header in attributes.Headers])
        kids = element.get(Name.K)
        for kid in kids if isinstance(kids, Array) else ([] if kids is None else [kids]):
            if isinstance(kid, int):
                used.setdefault(page.objgen, set()).add(kid)
            elif isinstance(kid, Dictionary) and kid.get(Name.Type) == Name.MCR:
                used.setdefault(kid.get(Name.Pg, page).objgen, set()).add(int(kid.MCID))
            elif isinstance(kid, Dictionary) and kid.get(Name.Type) != Name.OBJR:
                waiting.append((kid, page))
    return used


def _mark_artifacts(pdf: Pdf, page: pikepdf.Page, used: set[int]) -> None:
    """Turn marked content without an element into artifacts, and close the page's graphics state."""
    page.contents_coalesce()
    content = page.Contents.read_bytes()

    def mark(found: re.Match[bytes]) -> bytes:
        return found[0] if int(found[2]) in used else b"/Artifact BMC"

    page.Contents = pdf.make_stream(b"q\n" + _MARKED.sub(mark, content) + b"\nQ\n")


# -- in the parent: all parts into one ------------------------------------------------------------


def join(
    pieces: Sequence[Piece],
    folio: Path | None,
    target: Path,
    head: Head,
    attachments: Sequence[Attachment],
    created: datetime.datetime | None,
    targets: Mapping[str, int],
    elsewhere: str,
) -> None:
    """Write all pieces as one file.

    Args:
        pieces: Prepared parts, in order.
        folio: A file with one page per page, to be drawn over it as artifact; None for none.
        target: File to write.
        head: Title, language, author, description.
        attachments: Files to carry inside.
        created: Date to write; none where it is None.
        targets: Id -> page, for links between parts.
        elsewhere: Scheme of the addresses that stand for such links.
    """
    pdf = Pdf.new()
    tree = _Tree(pdf)
    destinations: dict[str, Any] = {}
    bookmarks: list[tuple[int, str, int, float]] = []
    sources = []
    for piece in pieces:
        source = Pdf.open(piece.file)
        sources.append(source)
        start = len(pdf.pages)
        with warnings.catch_warnings():
            # Named destinations are not taken over with the pages; `_add_destinations` makes them anew.
            warnings.simplefilter("ignore")
            pdf.pages.extend(source.pages)
        tree.add(source, start)
        _add_destinations(pdf, source, start, destinations)
        heights = [float(page.MediaBox[3]) for page in source.pages]
        for level, label, page, _, y in piece.bookmarks:
            bookmarks.append((level, label, start + page, heights[page] - y * 0.75))
    tree.finish()
    if folio is not None:
        sources.append(_draw_folio(pdf, folio))
    _lead_links(pdf, destinations, targets, elsewhere)
    _name_destinations(pdf, destinations)
    _add_outline(pdf, bookmarks)
    _attach(pdf, attachments)
    _describe(pdf, head, created)
    pdf.save(target, compress_streams=True, object_stream_mode=pikepdf.ObjectStreamMode.generate, deterministic_id=True)
    for source in sources:
        source.close()


class _Tree:
    """The one structure tree of the joined file."""

    def __init__(self, pdf: Pdf) -> None:
        self.pdf = pdf
        self.root = pdf.make_indirect(Dictionary(Type=Name.StructTreeRoot))
        self.document = pdf.make_indirect(Dictionary(Type=Name.StructElem, S=Name.Document, P=self.root))
        self.elements: list[Any] = []
        self.parents: list[Any] = []
        self.next_key = 0
        self.next_annotation = 0

    def add(self, source: Pdf, start: int) -> None:
        """Take over the elements of a part whose pages are already in the file, from page `start` on."""
        copied = self.pdf.copy_foreign(source.Root.StructTreeRoot)
        for top in _list(copied.K):
            for element in _list(top.get(Name.K)):
                element.P = self.document
                self.elements.append(element)
        offset = self.next_key
        numbers = list(copied.ParentTree.Nums)
        for key, value in zip(numbers[0::2], numbers[1::2], strict=True):
            self.parents += [int(key) + offset, value]
            self.next_key = max(self.next_key, int(key) + offset + 1)
        for page in self.pdf.pages[start:]:
            if Name.StructParents in page:
                page.StructParents = int(page.StructParents) + offset
            for annotation in page.get(Name.Annots, []):
                if Name.StructParent in annotation:
                    annotation.StructParent = int(annotation.StructParent) + offset

    def finish(self) -> None:
        """Hang the tree into the file."""
        self.document.K = Array(self.elements)
        self.root.K = Array([self.document])
        self.root.ParentTree = self.pdf.make_indirect(Dictionary(Nums=Array(self.parents)))
        self.root.ParentTreeNextKey = self.next_key
        self.pdf.Root.StructTreeRoot = self.root
        self.pdf.Root.MarkInfo = Dictionary(Marked=True)


def _list(value: Any) -> list[Any]:
    if value is None:
        return []
    return list(value) if isinstance(value, Array) else [value]


def _add_destinations(pdf: Pdf, source: Pdf, start: int, destinations: dict[str, Any]) -> None:
    names = source.Root.get(Name.Names, Dictionary()).get(Name.Dests, Dictionary()).get(Name.Names, Array())
    page_numbers: dict[Any, int] = {page.objgen: number for number, page in enumerate(source.pages)}
    for name, target in zip(names[0::2], names[1::2], strict=True):
        page = pdf.pages[start + page_numbers[target[0].objgen]]
        destinations.setdefault(str(name), Array([page.obj, *[_plain(step) for step in list(target)[1:]]]))


def _plain(step: Any) -> Any:
    return Name(str(step)) if isinstance(step, Name) else step


def _draw_folio(pdf: Pdf, folio: Path) -> Pdf:
    """Draw the page numbers over the pages, as artifact."""
    source = Pdf.open(folio)
    for number, (page, leaf) in enumerate(zip(pdf.pages, source.pages, strict=True), start=1):
        drawing = pdf.copy_foreign(leaf.as_form_xobject())
        # Pages of one part share their resources, so each page needs a name of its own.
        name = page.add_resource(drawing, Name.XObject, Name(f"/Folio{number}"))
        page.contents_add(b"/Artifact BMC\nq\n%s Do\nQ\nEMC\n" % str(name).encode(), prepend=False)
    return source


def _lead_links(pdf: Pdf, destinations: Mapping[str, Any], targets: Mapping[str, int], elsewhere: str) -> None:
    """Links into another part were printed as addresses; make each lead to its place."""
    for page in pdf.pages:
        for annotation in page.get(Name.Annots, []):
            address = str(annotation.get(Name.A, Dictionary()).get(Name.URI, ""))
            if not address.startswith(elsewhere):
                continue
            name = address.removeprefix(elsewhere)
            del annotation[Name.A]
            if name in destinations:
                annotation.Dest = String(name)
            elif name in targets:
                annotation.Dest = Array([pdf.pages[targets[name] - 1].obj, Name.Fit])


def _name_destinations(pdf: Pdf, destinations: Mapping[str, Any]) -> None:
    if not destinations:
        return
    ordered = sorted(destinations.items(), key=lambda item: bytes(String(item[0])))
    names = Array([piece for name, target in ordered for piece in (String(name), target)])
    pdf.Root.Names = Dictionary(Dests=pdf.make_indirect(Dictionary(Names=names)))


def _add_outline(pdf: Pdf, bookmarks: list[tuple[int, str, int, float]]) -> None:
    """Bookmarks nested by the levels of their headings."""
    with pdf.open_outline() as outline:
        path: list[tuple[int, OutlineItem]] = []
        for level, label, page, top in bookmarks:
            item = OutlineItem(label, page, "XYZ", left=0, top=round(top, 2))
            item.is_closed = level > 1
            while path and path[-1][0] >= level:
                path.pop()
            (path[-1][1].children if path else outline.root).append(item)
            path.append((level, item))


def _attach(pdf: Pdf, attachments: Sequence[Attachment]) -> None:
    """Embed files, as data that belong to the document."""
    if not attachments:
        return
    specs = []
    for each in sorted(attachments, key=lambda attachment: attachment.name):
        stream = pdf.make_stream(each.content)
        stream.Type = Name.EmbeddedFile
        stream.Subtype = Name(f"/{each.media_type}")
        stream.Params = Dictionary(
            Size=len(each.content), CheckSum=String(hashlib.md5(each.content, usedforsecurity=False).digest())
        )
        specs.append(
            (
                each.name,
                pdf.make_indirect(
                    Dictionary(
                        Type=Name.Filespec,
                        F=String(each.name),
                        UF=String(each.name),
                        Desc=String(each.description or each.name),
                        AFRelationship=Name.Data,
                        EF=Dictionary(F=pdf.make_indirect(stream), UF=pdf.make_indirect(stream)),
                    )
                ),
            )
        )
    if Name.Names not in pdf.Root:
        pdf.Root.Names = Dictionary()
    pdf.Root.Names.EmbeddedFiles = Dictionary(
        Names=Array([piece for name, spec in specs for piece in (String(name), spec)])
    )
    pdf.Root.AF = Array([spec for _, spec in specs])


def _describe(pdf: Pdf, head: Head, created: datetime.datetime | None) -> None:
    """Language, title and metadata; a date only where one is given, so that the same input gives the same bytes."""
    pdf.Root.Lang = String(head.language)
    pdf.Root.ViewerPreferences = Dictionary(DisplayDocTitle=True)
    pdf.docinfo[Name.Title] = String(head.title)
    pdf.docinfo[Name.Producer] = String(PRODUCER)
    if head.author:
        pdf.docinfo[Name.Author] = String(head.author)
    if created is not None:
        pdf.docinfo[Name.CreationDate] = String(created.strftime("D:%Y%m%d%H%M%S+00'00'"))
    date = f"<xmp:CreateDate>{created.strftime('%Y-%m-%dT%H:%M:%SZ')}</xmp:CreateDate>" if created else ""
    author = (
        f"<dc:creator><rdf:Seq><rdf:li>{escape(head.author)}</rdf:li></rdf:Seq></dc:creator>" if head.author else ""
    )
    description = (
        f'<dc:description><rdf:Alt><rdf:li xml:lang="x-default">{escape(head.description)}</rdf:li></rdf:Alt></dc:description>'
        if head.description
        else ""
    )
    text = f"""<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:pdf="http://ns.adobe.com/pdf/1.3/"
 xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/" xmlns:xmp="http://ns.adobe.com/xap/1.0/">
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{escape(head.title)}</rdf:li></rdf:Alt></dc:title>
<dc:language><rdf:Bag><rdf:li>{escape(head.language)}</rdf:li></rdf:Bag></dc:language>{author}{description}
<pdf:Producer>{PRODUCER}</pdf:Producer><pdfuaid:part>1</pdfuaid:part>{date}
</rdf:Description></rdf:RDF></x:xmpmeta>
<?xpacket end="w"?>"""
    metadata = pdf.make_stream(text.encode())
    metadata.Type, metadata.Subtype = Name.Metadata, Name.XML
    pdf.Root.Metadata = pdf.make_indirect(metadata)
