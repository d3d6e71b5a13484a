"""An assessment becomes a paper: words, figures, HTML, PDF, in this order.

What the dossier refuses is enforced here a last time: no page is printed that claims what a bench
register cannot claim, whoever wrote it.
"""

from __future__ import annotations

import datetime
import hashlib
import io
import zipfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

from riskkit import shelves
from riskkit.assess import Assessment
from riskkit.checks import all_rules
from riskkit.diagnostics import RiskkitError
from riskkit.dossier.chains import draw_chain, graph_of
from riskkit.dossier.figures import Figure
from riskkit.dossier.layout import lay_out
from riskkit.dossier.paper import print_paper
from riskkit.dossier.printed import Attachment, Head, Paper, Part
from riskkit.dossier.refusing import claims_in, refuse_claims_in
from riskkit.dossier.sections import Piece, contents, head, pieces, printed, without_loose_links
from riskkit.dossier.view import DossierView, Since, view_of
from riskkit.dossier.view.telling import LONGEST_NAME
from riskkit.text.evidence_files import bytes_of, named_files
from riskkit.text.recorded import Recorded, recorded

PAGES = ("a4", "letter")
ARCHIVE = "register.zip"
LARGEST_ATTACHED = 8 * 1024 * 1024
"""An evidence file larger than this many bytes is not carried inside the paper."""

ARCHIVE_DATE = (1980, 1, 1, 0, 0, 0)
"""The earliest date that a zip file can carry; the same for every file, so that equal registers give equal bytes."""


def render(
    assessment: Assessment,
    *,
    page: str = "a4",
    one_page: bool = False,
    only_changes: bool = False,
    since: Since | None = None,
    baseline: str = "",
    attachments: Sequence[Attachment] | None = None,
    created: datetime.datetime | None = None,
    on_progress: Callable[[int, int, str], None] | None = None,
    workers: int | None = None,
) -> Paper:
    """Print the dossier of a register.

    Args:
        assessment: What was worked out.
        page: The paper, `a4` or `letter`.
        one_page: True for the front sheet only.
        only_changes: True for the short paper that tells what changed: sections 1, 2 and 15.
        since: The earlier state that section 2 compares with.
        baseline: What section 2 says where it compares with none.
        attachments: Files to carry inside; the register's own files as one archive where it is None.
        created: Date written into the PDF; none is written where it is None.
        on_progress: Called with (done, total, words).
        workers: Processes; as many as there are usable processors where it is None.

    Raises:
        RiskkitError: where the paper would claim what it must not, or a system library is missing.
    """
    if page not in PAGES:
        raise RiskkitError(f"there is no paper called `{page}`", f"write one of {', '.join(PAGES)}")
    files = _files(assessment)
    if attachments is None:
        attachments = (archive(files),)
    view = view_of(
        assessment,
        claims_in,
        page=page,
        rules=len(all_rules()),
        files=_listed(files),
        recordings=() if one_page or only_changes else _recordings(assessment),
        since=since,
        baseline=baseline,
    )
    printed_head, parts = html_of(view, page, one_page=one_page, only_changes=only_changes)
    return print_paper(
        printed_head,
        parts,
        attachments=attachments,
        created=created,
        workers=workers,
        on_progress=on_progress,
        font_folder=shelves.data_dir("templates") / "fonts",
    )


def html_of(
    view: DossierView, page: str, *, one_page: bool = False, only_changes: bool = False
) -> tuple[Head, tuple[Part, ...]]:
    """Style sheets and the HTML of every part, ready to be printed.

    Raises:
        RiskkitError: where a sentence is left that claims what it must not.
    """
    chosen = printed(view, one_page=one_page, only_changes=only_changes)
    drawings = {} if one_page or only_changes else _traces(view)
    extra = {
        "traces": {hazard.id: drawings.get(hazard.id) for hazard in view.hazards},
        "supply": drawings.get(""),
        "titles": {hazard.id: hazard.title[:LONGEST_NAME] for hazard in view.hazards},
    }
    found = [*pieces(view, chosen, extra)]
    if only_changes:
        found = without_loose_links(found)
    elif not one_page:
        found.insert(1, Piece(chosen[0], contents(view, chosen)))
    for piece in found:
        refuse_claims(piece)
    return head(view, page, "Difference dossier" if only_changes else "Review dossier"), tuple(_parts(found))


def _parts(found: Sequence[Piece]) -> Iterator[Part]:
    """One part for each piece, but for those that go on where the piece before them ended."""
    html, title = "", ""
    for piece in found:
        if piece.section.goes_on and html:
            html += piece.html
            continue
        if html:
            yield Part(html, title)
        html, title = piece.html, piece.section.title
    if html:
        yield Part(html, title)


def _traces(view: DossierView) -> Mapping[str, Figure]:
    """The trace figure of every hazard by id, and the block figure of the device under an empty id."""
    chains = [hazard.chain for hazard in view.hazards]
    if view.device.chain is not None:
        chains.append(view.device.chain)
    placed = lay_out([graph_of(chain) for chain in chains])
    return {chain.centre: draw_chain(chain, graph) for chain, graph in zip(chains, placed.graphs, strict=True)}


# -- what is not printed ------------------------------------------------------------------------------


def refuse_claims(piece: Piece) -> None:
    """The last look at the HTML of a part.

    Raises:
        RiskkitError: naming the words and the section.
    """
    refuse_claims_in(piece.html, f"section {piece.section.number}")


# -- the register inside the paper --------------------------------------------------------------------


def archive(files: Mapping[str, bytes]) -> Attachment:
    """The files of a register as one archive; equal files give equal bytes."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as packed:
        for name in sorted(files):
            entry = zipfile.ZipInfo(name, ARCHIVE_DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            entry.create_system = 3
            packed.writestr(entry, files[name])
    return Attachment(ARCHIVE, buffer.getvalue(), "The register that this paper was printed from", "application/zip")


def _recordings(assessment: Assessment) -> tuple[Recorded, ...]:
    """The recordings that results name, read from the folder; none where the register is not in one."""
    root = assessment.reading.snapshot.root
    return tuple(recorded(assessment.register, Path(root))) if root else ()


def _files(assessment: Assessment) -> Mapping[str, bytes]:
    """The register's files, and the evidence files that its results name; a very large one stays outside."""
    snapshot = assessment.reading.snapshot
    if not snapshot.root:
        return snapshot.files
    named = named_files(assessment.register)
    return {**bytes_of(Path(snapshot.root), named, LARGEST_ATTACHED), **snapshot.files}


def _listed(files: Mapping[str, bytes]) -> tuple[tuple[str, int, str], ...]:
    """Name, size and SHA-256 of each file."""
    return tuple((name, len(files[name]), hashlib.sha256(files[name]).hexdigest()) for name in sorted(files))
