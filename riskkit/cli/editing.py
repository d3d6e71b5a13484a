"""Editing records of a register: what was asked becomes new bytes of files, proven, shown, written under the lock."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any

from riskkit.cli.opening import print_text, width
from riskkit.cli.output import wrapped
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.diagnostics import Diagnostic
    from riskkit.model.fields import Record
    from riskkit.text.editing import Edited
    from riskkit.text.positions import Document, Node, Path
    from riskkit.text.reader import Reading

SAID_LATER = ("notes", "still_valid", "evidence", "supersedes", "superseded_because")
"""What may be changed in a result afterwards: none of it is what was read."""


@dataclass(frozen=True)
class Change:
    """An edit that is worked out and proven, and not yet written.

    `told` says it in sentences, the first of them what was done; `what` in a few words, for whoever finds it interrupted.
    """

    after: Mapping[str, bytes]
    told: tuple[str, ...]
    what: str


Planner = Callable[["Reading"], Change]


def carry_out(folder: FilePath, planner: Planner, *, dry_run: bool) -> int:
    """Work out an edit on what is there now, and write it, or show what it would change; the exit status.

    Raises:
        RiskkitError: where it cannot be made; nothing is written then.
    """
    from riskkit.cli.adding import only_writer
    from riskkit.cli.replacing import replace_files, sweep
    from riskkit.text.reader import read
    from riskkit.text.snapshot import read_folder

    if dry_run:
        snapshot, troubles = read_folder(folder)
        if any(found.rule == "edit-interrupted" for found in troubles):
            raise RiskkitError("an edit was interrupted here", "`riskkit check --fix` finishes it; then ask again")
        change = planner(read(snapshot, troubles))
        print_text(difference(snapshot.files, change.after))
        _tell((*change.told[1:], "Nothing is written: this was a dry run."))
        return 0
    read_folder(folder)  # says in one sentence where there is no register, before anything is locked
    with only_writer(folder):
        snapshot, troubles = read_folder(folder)
        change = planner(read(snapshot, troubles))
        if change.after:
            sweep(folder, snapshot.files)
            replace_files(folder, snapshot.files, change.after, change.what)
    _tell(change.told)
    return 0


def _tell(sentences: Iterable[str]) -> None:
    columns = width()
    print_text("\n".join(line for each in sentences for line in wrapped(each, columns, "", "  ")) + "\n")


def difference(before: Mapping[str, bytes], after: Mapping[str, bytes]) -> str:
    """What would change, line by line, in the usual notation."""
    pieces: list[str] = []
    for name, new in after.items():
        old_lines, new_lines = (_lines(content) for content in (before.get(name, b""), new))
        pieces += difflib.unified_diff(old_lines, new_lines, f"{name} (now)", f"{name} (then)", lineterm="")
    return "".join(f"{line}\n" for line in pieces)


def _lines(content: bytes) -> list[str]:
    return content.decode("utf-8-sig", "replace").splitlines()


# -- records --------------------------------------------------------------------------------------


def home_of(reading: Reading, id: str) -> tuple[Document, Path]:
    """The file of a record, and the path to it; records that cannot be read as written have one too.

    Raises:
        RiskkitError: where there is no such record.
    """
    home = reading.places.homes.get(id)
    if home is None:
        from riskkit.text.complaints import nearest

        if id in reading.register.broken:
            raise RiskkitError(
                f"{id} stands in a part of a file that cannot be read as written",
                "mend that by hand first; `riskkit check` says where",
            )
        guess = nearest(id, tuple(reading.places.homes))
        raise RiskkitError(
            f"there is no record {id}", f"did you mean {guess}?" if guess else "ids look like H04 or C01"
        )
    return home.document, home.path


def kind_of(reading: Reading, id: str) -> type[Record] | None:
    """The class of a record, from the section in which it stands; None for `device` and `policy`."""
    from riskkit.model.register import SECTIONS

    return SECTIONS.get(str(home_of(reading, id)[1][0]))


def usual_order(reading: Reading, id: str) -> Callable[[Path], Sequence[str]]:
    """The usual order of the fields of a record and of the groups inside it."""
    from riskkit.model.register import SINGLES
    from riskkit.text.complaints import fields_at

    kind = kind_of(reading, id) or SINGLES[id]
    return lambda path: fields_at(kind, path)


def data_of(reading: Reading, id: str) -> Any:
    """A record as it was typed, as plain data."""
    document, path = home_of(reading, id)
    here: Any = document.data
    for step in path:
        here = here[step]
    return here


def refuse_change_of_result(reading: Reading, id: str, path: Path) -> None:
    """What was read once stays; what was left out may come to light later.

    Raises:
        RiskkitError: where a result would say something else than it did.
    """
    _, home = home_of(reading, id)
    data = data_of(reading, id)
    if (
        home[0] != "results"
        or str(path[0]) in SAID_LATER
        or not isinstance(data, dict)
        or id in reading.register.broken
    ):
        return
    here: Any = data
    for step in path:
        if not isinstance(here, dict) or step not in here:
            return
        here = here[step]
    raise RiskkitError(
        f"`{path[0]}` of {id} is what was read on that day, and a result is not changed afterwards",
        f"`riskkit record {data.get('test', 'TEST')}` adds a new one; "
        f"say there with `supersedes: {id}` and `superseded_because` why it replaces this one",
    )


# -- proof against the register -------------------------------------------------------------------


def refuse_new_trouble(reading: Reading, after: Mapping[str, bytes]) -> Reading:
    """The register as it would be, where nothing in it can be read less well than before.

    Raises:
        RiskkitError: with the reader's own sentence.
    """
    from riskkit.text.reader import read
    from riskkit.text.snapshot import Snapshot

    grown = read(Snapshot.from_files({**reading.snapshot.files, **after}, reading.snapshot.root))
    _refuse_unknown(reading, grown.report)
    return grown


def refuse_new_trouble_in(reading: Reading, id: str, edited: Edited) -> None:
    """The same for an edit of one record, which is read alone where its lines could be cut out.

    Raises:
        RiskkitError: with the reader's own sentence.
    """
    from riskkit.text.syntax import parse_file

    document, path = home_of(reading, id)
    duplicates = any(found.rule == "duplicate-id" and found.record == id for found in reading.report)
    if not edited.lines or duplicates:
        refuse_new_trouble(reading, {document.name: edited.content})
        return
    text = "\n" * edited.head + edited.lines
    if len(path) > 1:
        margin = " " * (document.place(path[:1], key=True).column - 1)
        text = "\n" * (edited.head - 1) + f"{margin}{path[0]}:\n" + edited.lines
    refuse_new_trouble_alone(reading, parse_file(document.name, text.encode("utf-8")))


def refuse_new_trouble_alone(reading: Reading, document: Document) -> None:
    """The same for records that are read alone, beside the register.

    Raises:
        RiskkitError: with the reader's own sentence.
    """
    from riskkit.text.reader import read_again

    _refuse_unknown(reading, read_again(reading, document))


def _refuse_unknown(reading: Reading, report: Iterable[Diagnostic]) -> None:
    known = {(found.rule, found.record, found.headline) for found in reading.report}
    for found in report:
        if (found.rule, found.record, found.headline) not in known:
            raise RiskkitError(f"{_sentence(found)}; nothing was written", found.help)


def _sentence(found: Diagnostic) -> str:
    about = found.record and found.record not in found.headline
    return f"{found.record}: {found.headline}" if about else found.headline


# -- set ------------------------------------------------------------------------------------------


def set_value(id: str, field: str, typed: str | None, folder: FilePath, *, clear: bool, dry_run: bool) -> int:
    """Give a field of a record a value, or take the field out; the exit status."""
    if clear == (typed is not None):
        raise RiskkitError(
            "a value is missing" if typed is None else "a field is either given a value or taken out",
            f"write `riskkit set {id} {field} VALUE`, or `riskkit set {id} {field} --clear`",
        )
    return carry_out(folder, lambda reading: _planned_value(reading, id, field, typed), dry_run=dry_run)


def _planned_value(reading: Reading, id: str, field: str, typed: str | None) -> Change:
    from riskkit.text.editing import remove_field, set_field

    document, home = home_of(reading, id)
    path = _path(field, data_of(reading, id))
    if path == ("id",):
        raise RiskkitError(f"the id of {id} is not changed like a field", f"write `riskkit rename {id} NEW`")
    refuse_change_of_result(reading, id, path)
    content = reading.snapshot.files[document.name]
    if typed is None:
        edited = remove_field(document, content, home, path)
        refuse_new_trouble_in(reading, id, edited)
        return Change({document.name: edited.content}, (f"`{field}` is taken out of {id}.",), f"clear {field} of {id}")
    refusal: RiskkitError | None = None
    for value, written in meanings(typed):
        edited = set_field(document, content, home, path, value, written, usual_order(reading, id))
        try:
            refuse_new_trouble_in(reading, id, edited)
        except RiskkitError as error:
            refusal = refusal or error
            continue
        _refuse_unknown_level(reading, id, path, value)
        edited, more = _decided(reading, id, path, edited, document)
        after = {} if edited.content == content else {document.name: edited.content}
        said = f"{id}: `{field}` is {_short(value)} now, in {document.name}." if after else f"{id} says so already."
        return Change(after, (said, *more), f"set {field} of {id}")
    assert refusal is not None, "a typed value has at least one meaning"
    raise refusal


def _decided(
    reading: Reading, id: str, path: Path, edited: Edited, document: Document
) -> tuple[Edited, tuple[str, ...]]:
    """A field that was listed as not decided yet is decided once it is set."""
    from riskkit.text.editing import remove_field
    from riskkit.text.syntax import parse_file

    data = data_of(reading, id)
    waiting = data.get("undecided") if isinstance(data, dict) else None
    names = [waiting] if isinstance(waiting, str) else waiting
    name = ".".join(map(str, path))
    if not isinstance(names, list) or not any(each == name or str(each).startswith(f"{name}.") for each in names):
        return edited, ()
    left = [each for each in names if each != name and not str(each).startswith(f"{name}.")]
    home = home_of(reading, id)[1]
    again = parse_file(document.name, edited.content)
    if left:
        for number in reversed([number for number, each in enumerate(names) if each not in left]):
            edited = remove_field(again, edited.content, home, ("undecided", number))
            again = parse_file(document.name, edited.content)
        return edited, (f"Still undecided in {id}: {', '.join(left)}.",)
    edited = remove_field(again, edited.content, home, ("undecided",))
    return edited, (f"Nothing is listed as undecided in {id} any more.",)


def _refuse_unknown_level(reading: Reading, id: str, path: Path, value: Node) -> None:
    """A level that the policy does not have would break every score."""
    from riskkit.text.policies import shipped_policy

    kind = kind_of(reading, id)
    if kind is None or kind.SECTION != "hazards" or path[-1] not in ("severity", "level"):
        return
    policy = reading.register.policy or shipped_policy()
    levels = policy.severity if path[-1] == "severity" else policy.likelihood.levels
    known = {name.casefold() for each in levels for name in (each.level, each.word)}
    unknown = [each for each in (value if isinstance(value, list) else [value]) if str(each).casefold() not in known]
    if unknown:
        raise RiskkitError(
            f"the policy has no level `{unknown[0]}`; nothing was written",
            f"the levels are {', '.join(each.level for each in levels)}",
        )


def _path(field: str, data: Any) -> Path:
    """`harm.severity` or `causes.0.mode` as a path; a name that holds a dot is taken whole where it is there."""
    steps = field.split(".")
    if not all(step.strip() for step in steps):
        raise RiskkitError(f"`{field}` is no name of a field", "write a name such as title, or harm.severity")
    path: list[str | int] = []
    while steps:
        taken = next((n for n in range(len(steps), 1, -1) if isinstance(data, dict) and ".".join(steps[:n]) in data), 1)
        step: str | int = ".".join(steps[:taken])
        steps = steps[taken:]
        if isinstance(data, list) and re.fullmatch(r"\d+", str(step)):
            step = int(step)
        if isinstance(data, dict):
            data = data.get(step)
        else:
            data = data[step] if isinstance(data, list) and isinstance(step, int) and step < len(data) else None
        path.append(step)
    return tuple(path)


def meanings(typed: str) -> Iterable[tuple[Any, str | None]]:
    """What a typed value can mean: YAML first, then the very text, for fields that hold text.

    Raises:
        RiskkitError: where it is neither.
    """
    from riskkit.text.positions import Complaints, Refused, build

    text = typed.strip()
    if text.startswith(("&", "!")):
        raise RiskkitError(f"a value that begins with {text[0]} is an anchor or a tag", "put it in quotes")
    complaints = Complaints("VALUE")
    problem = ""
    try:
        value = build(typed.encode("utf-8"), complaints)[0]
    except UnicodeEncodeError:
        raise RiskkitError(
            "the value holds bytes that are not UTF-8", "type it on a terminal that uses UTF-8"
        ) from None
    except Refused as refused:
        problem = refused.finding.headline
    except Exception as error:
        if not any(base.__name__ == "YAMLError" for base in type(error).__mro__):
            raise
        problem = str(getattr(error, "problem", "") or "it cannot be read")
    if complaints.found:
        problem = complaints.found[0].headline
    bare = text[:1] not in ("'", '"', "|", ">", "&", "*", "!")
    if not problem and not (isinstance(value, str) and bare and value != text):
        yield value, text if "\n" not in text and not text.startswith("#") else None
        if isinstance(value, str):
            return
    if text and (bare or problem):
        yield text, None
    elif problem:
        raise RiskkitError(f"the value cannot be read: {problem}", "put it in quotes")


def _short(value: Node) -> str:
    from riskkit.text.rendering import inline

    text = inline(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


# -- folder ---------------------------------------------------------------------------------------


def told_apart(typed: Sequence[str | None], wanted: int) -> tuple[tuple[str, ...], FilePath]:
    """What was typed, and the folder, which may stand before or behind it.

    Args:
        typed: The words in the order in which they were typed; None where nothing was.
        wanted: How many of them are not the folder.

    Raises:
        RiskkitError: where words are missing or too many.
    """
    words = [word for word in typed if word is not None]
    if len(words) not in (wanted, wanted + 1):
        few = len(words) < wanted
        raise RiskkitError(
            f"{'a value is missing' if few else 'there is a word too many'} behind `{' '.join(words[:wanted])}`",
            "put text of several words in quotes" if not few else "`riskkit COMMAND --help` says what belongs there",
        )
    if len(words) == wanted:
        return tuple(words), FilePath()
    if FilePath(words[0]).is_dir() and not FilePath(words[-1]).is_dir():
        return tuple(words[1:]), FilePath(words[0])
    return tuple(words[:-1]), FilePath(words[-1])


def told_apart_with_title(kind: str, title: str | None, folder: str | None) -> tuple[str, str | None, FilePath]:
    """Kind, title and folder of a new record; the title may be left out, and the folder may stand first or last."""
    if folder is not None:
        (what, words), where = told_apart((kind, title, folder), 2)
        return what, words, where
    if title is not None and FilePath(kind).is_dir() and not FilePath(title).is_dir():
        return title, None, FilePath(kind)
    if title is not None and FilePath(title).is_dir():
        return kind, None, FilePath(title)
    return kind, title, FilePath()
