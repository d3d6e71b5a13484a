"""`suggest`: what the catalogs offer for a record, with the reason and the weak point. Nothing is written."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.opening import one_of, print_text, require_record, warn_if_broken, width
from riskkit.cli.output import wrapped
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.judgement.offers import Suggestions
    from riskkit.text.catalogs import Catalogs


def show_suggestions(id: str, folder: Path, catalogs: Sequence[Path], format: str) -> None:
    """Print what fits a record."""
    from riskkit.judgement.kinship import Library
    from riskkit.judgement.offers import answer_data
    from riskkit.judgement.suggesting import ENTRIES_FOR, KINDS_OF_RECORD, suggest
    from riskkit.text.catalogs import catalogs_of
    from riskkit.text.reader import read
    from riskkit.text.snapshot import read_folder

    one_of("--format", format, ("text", "json"))
    reading = read(*read_folder(folder))
    warn_if_broken(reading.report)
    register = reading.register
    require_record(id, register, folder, "H04, C05 or P03")
    if not isinstance(register.records[id], KINDS_OF_RECORD):
        kinds = ", ".join(f"`{kind.SECTION}`" for kind in KINDS_OF_RECORD)
        raise RiskkitError(
            f"{id} stands in `{register.section_of(id)}`, for which a catalog has nothing to offer",
            f"name a record of {kinds}",
        )
    shelf = catalogs_of(catalogs, register, folder)
    looked_at = ENTRIES_FOR.get(register.section_of(id) or "", ())
    found = suggest(id, register, Library(shelf.of(*looked_at)))
    warn_of_broken_entries(shelf)
    if format == "json":
        print_text(json.dumps(answer_data(found), ensure_ascii=False, indent=2) + "\n")
    else:
        print_text("\n".join(_told(found, folder, width())) + "\n")


def warn_of_broken_entries(shelf: Catalogs) -> None:
    """Say on standard error that entries could not be read, so that what is offered is not taken for all there is."""
    files = dict.fromkeys(found.place.file for found in shelf.problems())
    if files:
        count = "one entry" if len(files) == 1 else f"{len(files)} entries"
        sys.stderr.write(
            f"riskkit: {count} cannot be read, such as {next(iter(files))}; `riskkit catalog check FOLDER` says why\n"
        )


def _told(found: Suggestions, folder: Path, columns: int) -> Iterator[str]:
    yield f"{found.id} {found.title}"
    if found.kin:
        yield ""
        yield "In the catalog it reads like:"
        for id, title, because in found.kin:
            yield from wrapped(f"{title} ({id}), because {because}.", columns, "  ", "    ")
    for group in found.groups:
        yield ""
        yield f"{group.heading}:"
        for offer in group.offers:
            said = offer.sort in group.heading or offer.sort.removeprefix("shows ") in group.heading
            sort = f" ({offer.sort})" if offer.sort and not said else ""
            yield from wrapped(f"{offer.title}{sort}", columns, "  ", "    ")
            yield from wrapped(f"why: {offer.because.rstrip('.')}.", columns, "    ", "      ")
            yield from wrapped(f"weak point: {offer.weakness}", columns, "    ", "      ")
            here = "" if folder == Path(".") else f" {folder}"
            yield f"    -> riskkit adopt {offer.entry}{here} {offer.options}".rstrip()
        if group.left_out:
            yield f"  and {group.left_out} more, further off"
    if found.there:
        yield ""
        yield "Not offered again:"
        for sentence in found.there:
            yield from wrapped(f"{sentence}.", columns, "  ", "    ")
    if found.remarks:
        yield ""
        for sentence in found.remarks:
            yield from wrapped(f"{sentence[:1].upper()}{sentence[1:].rstrip('.')}.", columns, "", "  ")
    if not (found.groups or found.there or found.kin):
        yield ""
        yield from wrapped(
            "The catalog offers nothing for it. That says something about the catalog, and nothing about the device.",
            columns,
        )
