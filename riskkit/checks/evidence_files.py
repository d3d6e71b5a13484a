"""Rules about the files that results and built units name as evidence: there, unchanged, with their hash, inside the folder.

Whether a file is there is looked up before any rule runs (`text/evidence_files.py`); where nobody has
looked, as in a comparison of two git revisions, the rules that need it say nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from riskkit.checks import Context, Finding, rule
from riskkit.judgement.verdicts import replaced_results
from riskkit.model.references import Path
from riskkit.model.upkeep import Unit
from riskkit.model.verification import Evidence, Result
from riskkit.text.evidence_files import EvidenceFile, evidence_of, leaves_folder

_SHA256 = re.compile(r"[0-9a-f]{64}")


@rule("error")
def evidence_missing(context: Context) -> Iterator[Finding]:
    """A result, a unit or a check of its build that names a file which is not in the register's folder.

    The reading can no longer be looked up, and a reviewer who asks for the recording gets nothing.

    Bad:

        tests:
          T01: {title: alarm with a loaded filter}
        results:
          R01:
            test: T01
            on: 2026-10-12
            evidence:
              - {file: evidence/lost.csv, sha256: 3ef4f1690d5209377b0f63998b96f7feb7fa82aa216ca7ca4b056252144fdffe}   # <-

    Good:

        tests:
          T01: {title: alarm with a loaded filter}
        results:
          R01:
            test: T01
            on: 2026-10-12
            evidence: {file: evidence/kept.csv, sha256: 216b5673a01efda3e7f44ee4e6e9b87bd580e7a3a731af7ea3a3e228307cd470}
    """
    for record, said, path, named, found in _looked_at(context):
        if not found.exists and not found.outside:
            why = f"cannot be read: {found.problem}" if found.problem else "is not in the register's folder"
            yield Finding(
                record,
                (*path, "file"),
                f"{said} names {named.file} as evidence, and it {why}",
                "put the file back as it was, or correct the path; a lost recording is a test to be done again",
            )


@rule("error")
def evidence_changed(context: Context) -> Iterator[Finding]:
    """A file that is no longer what it was when the result was entered.

    The result was read from another content. Whoever opens the file now sees something else than the
    person who wrote the reading down.

    Bad:

        tests:
          T01: {title: alarm with a loaded filter}
        results:
          R01:
            test: T01
            on: 2026-10-12
            evidence:
              file: evidence/kept.csv
              sha256: 3ef4f1690d5209377b0f63998b96f7feb7fa82aa216ca7ca4b056252144fdffe   # <-

    Good:

        tests:
          T01: {title: alarm with a loaded filter}
        results:
          R01:
            test: T01
            on: 2026-10-12
            evidence:
              file: evidence/kept.csv
              sha256: 216b5673a01efda3e7f44ee4e6e9b87bd580e7a3a731af7ea3a3e228307cd470
    """
    for record, said, path, named, found in _looked_at(context):
        entered = _hash(named)
        if found.exists and entered is not None and found.sha256 != entered:
            yield Finding(
                record,
                (*path, "sha256"),
                f"{named.file} has changed since {said} was entered: "
                f"SHA-256 {_short(entered)} then, {_short(found.sha256)} now",
                f"put back the file as it was, or enter a new result that replaces {record} and says why"
                if context.register.get(record, Result) is not None
                else "put back the file as it was, or look again and enter what it is now",
            )


@rule("warning")
def evidence_without_hash(context: Context) -> Iterator[Finding]:
    """A file named as evidence without the SHA-256 that it had when it was entered.

    Without it nobody can tell later whether the file is still the one that was looked at.

    Bad:

        tests:
          T01: {title: alarm with a loaded filter}
        results:
          R01:
            test: T01
            on: 2026-10-12
            evidence: {file: evidence/kept.csv}   # <-

    Good:

        tests:
          T01: {title: alarm with a loaded filter}
        results:
          R01:
            test: T01
            on: 2026-10-12
            evidence: {file: evidence/kept.csv, sha256: 216b5673a01efda3e7f44ee4e6e9b87bd580e7a3a731af7ea3a3e228307cd470}
    """
    for record, said, path, named in _named(context):
        if _hash(named) is not None or leaves_folder(named.file):
            continue
        found = (context.evidence or {}).get(named.file)
        if found is not None and not found.exists:
            continue  # it is complained about as missing, and there is nothing to work a hash out from
        typed = named.sha256
        headline = (
            f"{said} names {named.file} without its SHA-256"
            if typed is None
            else f"`{typed}` in {said} is no SHA-256: that has 64 digits from 0 to f"
        )
        help = (
            f"if it is still as it was: `sha256: {found.sha256}`" if found else "add `sha256:` with the file's SHA-256"
        )
        yield Finding(record, (*path, "file" if typed is None else "sha256"), headline, help)


@rule("error")
def evidence_outside_folder(context: Context) -> Iterator[Finding]:
    """A file named as evidence that does not stand inside the register's folder.

    Nobody who gets the folder gets the file. It is not opened either: a register may come from a
    stranger, and reads nothing outside its own folder.

    Bad:

        tests:
          T01: {title: alarm with a loaded filter}
        results:
          R01:
            test: T01
            on: 2026-10-12
            evidence:
              file: ../recordings/T01.csv   # <-
              sha256: 3ef4f1690d5209377b0f63998b96f7feb7fa82aa216ca7ca4b056252144fdffe

    Good:

        tests:
          T01: {title: alarm with a loaded filter}
        results:
          R01:
            test: T01
            on: 2026-10-12
            evidence: {file: evidence/kept.csv, sha256: 216b5673a01efda3e7f44ee4e6e9b87bd580e7a3a731af7ea3a3e228307cd470}
    """
    for record, said, path, named in _named(context):
        found = (context.evidence or {}).get(named.file)
        if leaves_folder(named.file) or (found is not None and found.outside):
            how = "the path" if leaves_folder(named.file) else "a link on the way"
            yield Finding(
                record,
                (*path, "file"),
                f"{said} names {named.file} as evidence, and {how} leads out of the register's folder",
                "copy the file into the folder, and write its path from there, such as `evidence/T05.csv`",
            )


def _named(context: Context) -> Iterator[tuple[str, str, Path, Evidence]]:
    """Every file that a record names: the record, what names it in words, the path to it there, and the file."""
    owners: tuple[Result | Unit, ...] = (*context.register.results, *context.register.units)
    for record in owners:
        for path, named in evidence_of(record):
            said = record.id
            if isinstance(record, Unit) and path[0] == "checks":
                said = f"the check `{record.checks[int(path[1])].step}` of {record.id}"
            yield record.id, said, path, named


def _looked_at(context: Context) -> Iterator[tuple[str, str, Path, Evidence, EvidenceFile]]:
    """The files of records that no other result replaces, with what was found; nobody leans on the others any more."""
    replaced = replaced_results(context.register)
    for record, said, path, named in _named(context):
        found = (context.evidence or {}).get(named.file)
        if found is not None and record not in replaced:
            yield record, said, path, named, found


def _hash(named: Evidence) -> str | None:
    """The SHA-256 as entered, in small letters; None where there is none or something else stands there."""
    digits = (named.sha256 or "").strip().lower()
    return digits if _SHA256.fullmatch(digits) else None


def _short(digest: str) -> str:
    return f"{digest[:8]}..."
