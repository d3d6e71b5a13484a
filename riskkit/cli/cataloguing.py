"""`catalog`: what stands in the catalogs, one entry as a page, what a newer one would change, whether one can be read."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from riskkit.cli.opening import one_of, print_text, warn_if_broken, width
from riskkit.cli.output import counted, findings_text, wrapped
from riskkit.cli.suggesting import warn_of_broken_entries
from riskkit.diagnostics import Report, RiskkitError

if TYPE_CHECKING:
    from riskkit.model.catalog import Entry
    from riskkit.text.catalogs import Catalogs

HERE = Path(".")


def shelf_here(folder: Path, catalogs: Sequence[Path]) -> Catalogs:
    """The catalogs in use in a folder: also those of the device sheet, where a register stands there."""
    from riskkit.text.catalogs import catalogs_of
    from riskkit.text.reader import read
    from riskkit.text.snapshot import ENDINGS, read_folder

    if folder == HERE and not any(name.endswith(ENDINGS) for name in os.listdir(HERE)):
        return catalogs_of(catalogs)  # no register here: whoever only wants to read needs none
    return catalogs_of(catalogs, read(*read_folder(folder)).register, folder)


# -- list and show --------------------------------------------------------------------------------


def list_entries(
    words: Sequence[str], kind: str | None, about: str | None, folder: Path, catalogs: Sequence[Path], format: str
) -> None:
    """Print ids and titles of the entries that hold all the words.

    Raises:
        RiskkitError: where there is no such kind or subject, or nothing is found.
    """
    from riskkit.judgement.likeness import telling_words
    from riskkit.model.catalog import ENTRY_KINDS, SUBJECTS
    from riskkit.text.complaints import nearest

    one_of("--format", format, ("text", "json"))
    if kind is not None:
        one_of("--kind", kind, tuple(ENTRY_KINDS))
    if about is not None and about not in SUBJECTS:
        guess = nearest(about, SUBJECTS)
        help = f"write {guess}" if guess else f"write one of {', '.join(SUBJECTS)}"
        raise RiskkitError(f"no entry is about `{about}`", help)
    shelf = shelf_here(folder, catalogs)
    wanted = telling_words(" ".join(words))
    found = {
        id: entry
        for id, entry in shelf.of(*([kind] if kind else [])).items()
        if (about is None or about in entry.subjects) and wanted <= telling_words(_all_text(id, entry))
    }
    warn_of_broken_entries(shelf)
    if format == "json":
        every = [{"entry": id, "catalog": _home(shelf, id), **_data(entry)} for id, entry in found.items()]
        print_text(json.dumps(every, ensure_ascii=False, indent=2) + "\n")
        return
    if not found:
        raise RiskkitError("no entry holds all of that", "leave a word out, or `riskkit catalog list` for all of them")
    lines: list[str] = []
    for name in ENTRY_KINDS:
        mine = [(id, entry) for id, entry in found.items() if id.startswith(f"{name}/")]
        if mine:
            lines += ["", f"{name} ({len(mine)})"]
            for id, entry in mine:
                home = _home(shelf, id)
                lines += wrapped(
                    f"{id}  {entry.title}{'' if home == 'shipped' else f' [{home}]'}", width(), "  ", "      "
                )
    print_text("\n".join(lines[1:]) + f"\n\n{_entries(len(found))}. `riskkit catalog show ENTRY` tells one.\n")


def _entries(number: int) -> str:
    return "1 entry" if number == 1 else f"{number} entries"


def _home(shelf: Catalogs, id: str) -> str:
    home = shelf.catalog_of(id)
    return home.name if home is not None else ""


def _data(entry: Entry) -> dict[str, Any]:
    return entry.model_dump(mode="json", exclude_none=True)


def _all_text(id: str, entry: Entry) -> str:
    said: list[str] = [id.replace("/", " ").replace("-", " ")]

    def collect(value: Any) -> None:
        if isinstance(value, str):
            said.append(value)
        elif isinstance(value, dict):
            for each in value.values():
                collect(each)
        elif isinstance(value, list | tuple):
            for each in value:
                collect(each)

    collect(_data(entry))
    return " ".join(said)


def show_entry(typed: str, folder: Path, catalogs: Sequence[Path], format: str) -> None:
    """Print one entry as a page."""
    from riskkit.cli.entry_page import page
    from riskkit.text.catalogs import known_standards

    one_of("--format", format, ("text", "json"))
    shelf = shelf_here(folder, catalogs)
    id = shelf.full_id(typed)
    entry = shelf.entry(id)
    if format == "json":
        print_text(
            json.dumps({"entry": id, "catalog": _home(shelf, id), **_data(entry)}, ensure_ascii=False, indent=2) + "\n"
        )
        return
    replaces = [each.name for each in shelf.catalogs if each.file(id) is not None][:-1]
    print_text("\n".join(page(id, entry, shelf, known_standards(), replaces, width())) + "\n")


# -- diff -----------------------------------------------------------------------------------------


def show_differences(other: Path | None, folder: Path, catalogs: Sequence[Path], format: str) -> int:
    """Print what a newer catalog would change in adopted records, and which entries are new; the exit status."""
    from riskkit.text.catalogs import Catalogs, catalog_in, catalogs_of
    from riskkit.text.reader import read
    from riskkit.text.snapshot import read_folder

    one_of("--format", format, ("text", "json"))
    reading = read(*read_folder(folder))
    warn_if_broken(reading.report)
    in_use = catalogs_of(catalogs, reading.register, folder)
    newer = in_use if other is None else Catalogs((*in_use.catalogs, catalog_in(other)))
    found = list(_of_records(reading.register, in_use, newer, other is not None))
    fresh = [] if other is None else [id for id in newer.ids() if in_use.catalog_of(id) is None]
    changed = [] if other is None else list(_changed_entries(in_use, newer))
    warn_of_broken_entries(newer)
    if format == "json":
        data = {"records": found, "new": _titles(newer, fresh), "changed": changed}
        print_text(json.dumps(data, ensure_ascii=False, indent=2) + "\n")
    else:
        print_text("\n".join(_diff_lines(found, _titles(newer, fresh), changed, other)) + "\n")
    return 1 if any(each.get("help") for each in found) else 0


def _titles(shelf: Catalogs, ids: list[str]) -> list[dict[str, str]]:
    return [{"entry": id, "title": entry.title} for id in ids if (entry := shelf.get(id)) is not None]


def _of_records(register: Any, in_use: Catalogs, newer: Catalogs, asked: bool) -> Iterator[dict[str, Any]]:
    """Adopted records about which there is something to say."""
    from riskkit.judgement.adopted import changes, is_older, versions, what_to_do

    for record in (*register.hazards, *register.controls, *register.tests):
        source = record.adopted
        if source is None:
            continue
        ids = [source.entry, *([source.through] if source.through is not None else [])]
        entries = tuple(entry for id in ids if (entry := newer.get(id)) is not None)
        if len(entries) < len(ids):
            gone = next(id for id in ids if newer.get(id) is None)
            yield {
                "record": record.id,
                "title": record.title,
                "said": f"was taken from {gone}, which stands in no catalog that is in use",
                "changes": [],
                "help": "name its catalog with `--catalog FOLDER`, or in `catalogs` of the device sheet",
            }
            continue
        every = changes(record, entries)
        older = is_older(source, entries)
        if not older and not any(each.by_project for each in every):
            continue
        told = [each.sentence() for each in every if older or (each.by_project and not each.by_catalog)]
        said = (
            f"was taken from {versions(source, entries)}" if older else f"is version {source.version} of {source.entry}"
        )
        if older and not any(each.by_catalog for each in every):
            told.append("nothing that was written into the record has changed in the catalog")
        help = what_to_do(record.id, source, entries) if older else ""
        if told:
            yield {"record": record.id, "title": record.title, "said": said, "changes": told, "help": help}


def _changed_entries(in_use: Catalogs, newer: Catalogs) -> Iterator[dict[str, Any]]:
    """Entries that both have and that say something else, field by field."""
    from riskkit.judgement.adopted import shown

    last = newer.catalogs[-1]
    for id in newer.ids():
        if last.file(id) is None or in_use.catalog_of(id) in (None, last):
            continue
        old, new = in_use.get(id), newer.get(id)
        if old is None or new is None or old == new:
            continue
        before, after = _data(old), _data(new)
        words = [
            f"`{name}` reads: {shown(_flat(after.get(name)))}; it was: {shown(_flat(before.get(name)))}"
            for name in dict.fromkeys((*after, *before))
            if before.get(name) != after.get(name) and name != "version"
        ]
        versions = (
            f"version {new.version} instead of {old.version}" if new.version != old.version else "the same version"
        )
        yield {"entry": id, "title": new.title, "versions": versions, "changes": words}


def _flat(value: Any) -> Any:
    if isinstance(value, dict):
        return [f"{name}: {each}" for name, each in value.items()]
    return value


def _diff_lines(
    found: list[dict[str, Any]], fresh: list[dict[str, str]], changed: list[dict[str, Any]], other: Path | None
) -> Iterator[str]:
    columns = width()
    for each in found:
        yield from wrapped(f"{each['record']} {each['title']}", columns)
        yield from wrapped(f"{each['record']} {each['said']}.", columns, "  ", "    ")
        for sentence in each["changes"]:
            yield from wrapped(f"- {sentence}.", columns, "  ", "    ")
        if each.get("help"):
            yield from wrapped(f"-> {each['help']}", columns, "  ", "     ")
        yield ""
    if changed:
        yield f"{_entries(len(changed))} of {other} read differently:"
        for each in changed:
            yield from wrapped(f"{each['title']} ({each['entry']}, {each['versions']})", columns, "  ", "    ")
            for sentence in each["changes"]:
                yield from wrapped(f"- {sentence}.", columns, "    ", "      ")
        yield ""
    if fresh:
        yield f"{_entries(len(fresh))} of {other} that the catalogs in use do not have:"
        for each in fresh:
            yield from wrapped(f"{each['title']} ({each['entry']})", columns, "  ", "    ")
        yield ""
    if not (found or fresh or changed):
        yield "Every adopted record has the version of its entry, and is as it was taken over."
    else:
        adopted = counted(len(found), "adopted record")
        yield f"{adopted} to look at. Nothing is taken over by itself."


# -- check ----------------------------------------------------------------------------------------


def check_folder(folder: Path, catalogs: Sequence[Path]) -> int:
    """Print everything that is wrong with a catalog; the exit status."""
    from riskkit.checks.wording import unprintable
    from riskkit.diagnostics import Diagnostic, Place, Severity
    from riskkit.text.catalogs import catalog_in, catalogs_of, check_catalog, entry_texts

    own = catalog_in(folder)
    found = list(check_catalog(own, catalogs_of(catalogs)))
    texts = list(entry_texts(own))
    for place, text in texts:
        for claim in unprintable(text):
            found.append(
                Diagnostic(
                    "refused-wording",
                    Severity.ERROR,
                    f"`{claim.phrase}` is a word that is never printed",
                    Place(place.file, place.line, place.column),
                    help="say what was measured, or what is asked, instead",
                )
            )
    number = sum(len(own.files(kind)) for kind in _kinds())
    if found:
        print_text(findings_text(Report.of(found), columns=width()))
        return 1
    print_text(f"{_entries(number)} in {own.folder}: every one can be read, and every entry that they name is there.\n")
    return 0


def _kinds() -> tuple[str, ...]:
    from riskkit.model.catalog import ENTRY_KINDS

    return tuple(ENTRY_KINDS)
