"""`check`: the answer from memory where nothing has changed, worked out anew where something has."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.memory import Memory, entry_states
from riskkit.cli.opening import day, one_of, print_text, width
from riskkit.text.snapshot import read_folder

if TYPE_CHECKING:
    from riskkit.diagnostics import Report


def check_register(
    folder: Path, format: str, policy: str | None, today: str | None, *, wide: bool, memory: bool
) -> int:
    """Print all findings; the exit status."""
    one_of("--format", format, ("text", "json", "sarif"))
    on = day(today)
    snapshot, troubles = read_folder(folder)
    kept = Memory.of(snapshot.fingerprint(), policy, on.isoformat()) if memory and not troubles else None
    report = kept.recall(folder) if kept is not None else None
    if report is None:
        from riskkit.assess import assess
        from riskkit.text.evidence_files import named_files, states
        from riskkit.text.policies import load_policy
        from riskkit.text.reader import adopted_files, read, with_evidence

        other = load_policy(policy) if policy is not None else None
        reading = read(snapshot, troubles)
        # Taken before the files are read: a file that changes while it is read is then read again next time.
        seen = states(folder, named_files(reading.register))
        entries = entry_states(adopted_files(reading, folder))
        report = assess(with_evidence(reading, folder), today=on, policy=other).report
        if kept is not None:
            kept.keep(report, seen, entries)
    print_text(_printed(report, format, wide))
    return report.exit_status


def _printed(report: Report, format: str, wide: bool) -> str:
    if format == "text":
        from riskkit.cli.output import findings_text

        return findings_text(report, columns=width(), wide=wide)
    from riskkit.exchange.findings import findings_json, findings_sarif

    if format == "json":
        return findings_json(report) + "\n"
    from riskkit.checks import all_rules

    return findings_sarif(report, {each.name: each.explanation for each in all_rules()}) + "\n"
