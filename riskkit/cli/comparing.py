"""`diff` and `check --since`: two git revisions in risk words."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.opening import day, one_of, print_text, width
from riskkit.cli.output import counted, wrapped
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    import datetime

    from riskkit.judgement.differences import Comparison, Kind
    from riskkit.judgement.scoring import Moved
    from riskkit.model.policy import Policy
    from riskkit.text.reader import Reading

AS_THEY_ARE = "the files as they are"


def compare(folder: Path, revision: str, other: str | None, format: str, today: str | None) -> None:
    """Print what changed between two revisions, loosened first."""
    from riskkit.judgement.differences import KINDS

    one_of("--format", format, ("text", "json"))
    found = compared(folder, revision, other, day(today))
    names = f"{revision} -> {other or AS_THEY_ARE}"
    print_text(_json(found, KINDS) if format == "json" else _text(found, names, KINDS))


def check_since(folder: Path, revision: str, format: str, policy: str | None, today: str | None) -> int:
    """Print only what was loosened, got worse or got better since a revision.

    Returns:
        2 where part of the register cannot be read, 1 where something was loosened or got worse, 0 otherwise.
    """
    from riskkit.text.policies import load_policy

    one_of("--format", format, ("text", "json"))
    kinds: tuple[Kind, ...] = ("loosened", "worse", "better")
    other = load_policy(policy) if policy is not None else None
    found = compared(folder, revision, None, day(today), other)
    print_text(_json(found, kinds) if format == "json" else _text(found, f"{revision} -> {AS_THEY_ARE}", kinds))
    if found.not_compared:
        return 2
    return 1 if found.of("loosened", "worse") else 0


def compared(
    folder: Path, revision: str, other: str | None, today: datetime.date, policy: Policy | None = None
) -> Comparison:
    """A revision beside another one, or beside the files as they are.

    Raises:
        RiskkitError: where git has no answer.
    """
    from riskkit.assess import compare as beside

    old = reading_at(folder, revision)
    new = reading_at(folder, other) if other is not None else reading_now(folder)
    return beside(old, new, today=today, policy=policy)


def reading_now(folder: Path) -> Reading:
    """The files as they are.

    Raises:
        RiskkitError: where there are none.
    """
    from riskkit.text.reader import read
    from riskkit.text.repository import repository_of
    from riskkit.text.snapshot import read_folder

    if repository_of(folder).bare:
        raise RiskkitError(
            f"{folder} is a bare repository, which has no files of its own",
            "name two revisions, or clone it and name the folder of the clone",
        )
    return read(*read_folder(folder))


def reading_at(folder: Path, revision: str) -> Reading:
    """The register at a revision; on standard error, where it stood in another folder or cannot be read in places."""
    from riskkit.text.reader import read
    from riskkit.text.revisions import past

    found = past(folder, revision)
    if found.moved_from is not None:
        where = found.moved_from.rstrip("/") or "the top of the repository"
        sys.stderr.write(f"riskkit: at {revision} the register stood in {where}\n")
    reading = read(found.snapshot)
    if reading.report.broken:
        places = counted(len(reading.report.broken), "place")
        sys.stderr.write(f"riskkit: at {revision} the register cannot be read as written in {places}\n")
    return reading


def _json(found: Comparison, kinds: tuple[Kind, ...]) -> str:
    items = []
    for each in found.of(*kinds):
        item = {"kind": each.kind, "record": each.record, "headline": each.headline}
        items.append(item | ({"was": each.was, "now": each.now} if each.was or each.now else {}))
    answer: dict[str, object] = {"differences": items}
    if found.not_compared:
        answer["not_compared"] = list(found.not_compared)
    for name, moved in (("old_under_new_policy", found.old_under_new), ("new_under_old_policy", found.new_under_old)):
        if moved:
            answer[name] = [{"record": m.hazard, "what": m.what, "was": m.was, "now": m.now} for m in moved]
    return json.dumps(answer, ensure_ascii=False, indent=2) + "\n"


def _text(found: Comparison, names: str, kinds: tuple[Kind, ...]) -> str:
    columns = width()
    told = found.of(*kinds)
    whole = len(told) == len(found.differences)
    if told:
        head = f"{names}: {counted(len(told), 'difference')}"
        head += "" if whole else f" that bear on a risk, {len(found.differences) - len(told)} more with `riskkit diff`"
    elif found.differences:
        head = f"{names}: nothing was loosened, got worse or got better; `riskkit diff` tells the other differences"
    else:
        head = f"{names}: nothing that bears on a risk has changed"
    counts = f"{found.open[0]} open then, {found.open[1]} now, evidence files aside"
    lines = wrapped(f"{head}; {counts}", columns, "", "  ")
    for kind in kinds:
        same = [each for each in told if each.kind == kind]
        if same:
            lines += ["", f"{kind} ({len(same)})"]
            lines += [line for each in same for line in wrapped(each.headline, columns, "  ", "    ")]
    for heading, moved in (
        ("The old register under the new policy:", found.old_under_new),
        ("The new register, from the old policy to the new one:", found.new_under_old),
    ):
        if moved:
            lines += [
                "",
                heading,
                *(line for each in moved for line in wrapped(moved_words(each), columns, "  ", "    ")),
            ]
    if found.not_compared:
        ids = ", ".join(found.not_compared)
        lines += [
            "",
            *wrapped(f"Not compared, for one of the two states cannot be read there: {ids}", columns, "", "  "),
        ]
    return "\n".join(lines) + "\n"


def moved_words(moved: Moved) -> str:
    """Where a score lies now and lay before, in words."""
    names = {"before": "before controls", "claimed": "as claimed", "supported": "as supported"}
    was, now = (f"`{region}`" if region else "nowhere" for region in (moved.was, moved.now))
    return f"{moved.hazard} {names.get(moved.what, moved.what)}: {now} instead of {was}"
