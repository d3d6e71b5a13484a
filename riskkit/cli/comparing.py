"""`diff`: two git revisions in risk words."""

from __future__ import annotations

import datetime
import json
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.opening import day, one_of, print_text, width
from riskkit.cli.output import wrapped

if TYPE_CHECKING:
    from riskkit.judgement.differences import Judged
    from riskkit.text.snapshot import Snapshot


def compare(folder: Path, revision: str, other: str | None, format: str, today: str | None) -> None:
    """Print what changed between two revisions, loosened first."""
    from riskkit.judgement.differences import KINDS, differences
    from riskkit.text.revisions import snapshot_at
    from riskkit.text.snapshot import read_folder

    one_of("--format", format, ("text", "json"))
    on = day(today)
    old = snapshot_at(folder, revision)
    new = snapshot_at(folder, other) if other is not None else read_folder(folder)[0]
    found = differences(_judged(old, on), _judged(new, on))
    if format == "json":
        items = [{"kind": each.kind, "record": each.record, "headline": each.headline} for each in found]
        print_text(json.dumps({"differences": items}, ensure_ascii=False, indent=2) + "\n")
        return
    names = f"{revision} -> {other or 'the files as they are'}"
    lines = [f"{names}: {len(found)} differences" if found else f"{names}: nothing that bears on a risk has changed"]
    for kind in KINDS:
        same = [each for each in found if each.kind == kind]
        if same:
            lines += ["", f"{kind} ({len(same)})"]
            lines += [line for each in same for line in wrapped(each.headline, width(), "  ", "    ")]
    print_text("\n".join(lines) + "\n")


def _judged(snapshot: Snapshot, today: datetime.date) -> Judged:
    from riskkit.assess import assess
    from riskkit.judgement.differences import Judged
    from riskkit.text.reader import read

    assessment = assess(read(snapshot), today=today)
    still_open = tuple((found.rule, found.record, found.headline) for found in assessment.report.open)
    return Judged(assessment.register, assessment.policy, assessment.scores, still_open)
