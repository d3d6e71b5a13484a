"""`dossier`: the paper for reviewers."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from pathlib import Path

from riskkit.cli.opening import day, one_of, print_text, warn_if_broken, write_whole
from riskkit.cli.output import counted
from riskkit.diagnostics import RiskkitError


def print_dossier(
    folder: Path,
    output: Path | None,
    page: str,
    policy: str | None,
    today: str | None,
    *,
    one_page: bool,
    workers: int | None,
    since: str | None = None,
    only_changes: bool = False,
) -> None:
    """Print the dossier, then its path, its pages and the number of open gaps."""
    from riskkit.cli.baselines import baseline_words, latest_baseline, state_since
    from riskkit.cli.opening import open_register
    from riskkit.dossier.render import render
    from riskkit.text.policies import load_policy
    from riskkit.text.revisions import name_of_revision

    one_of("--page", page, ("a4", "letter"))
    if one_page and (only_changes or since is not None):
        raise RiskkitError(
            "the one page for the clinician has no room for what changed",
            "leave out --one-page, or --since and --only-changes",
        )
    on, revision = day(today), name_of_revision(folder)
    assessment = open_register(folder, on.isoformat(), policy, revision)
    warn_if_broken(assessment.report)
    if only_changes and since is None:
        since = latest_baseline(folder, revision).name
    earlier = None
    if since is not None:
        earlier = state_since(folder, since, assessment, None if policy is None else load_policy(policy))
    what = "front-sheet" if one_page else "changes" if only_changes else "dossier"
    device = assessment.register.device
    path = output or Path(file_name(device.name if device else "register", what))
    if path.is_dir():
        path = path / file_name("register", what)
    paper = render(
        assessment,
        page=page,
        one_page=one_page,
        only_changes=only_changes,
        since=earlier,
        baseline="" if one_page or earlier is not None else baseline_words(folder, revision),
        workers=workers,
        on_progress=print_progress(),
    )
    write_whole(path, paper.pdf)
    for refusal in paper.refusals:
        sys.stderr.write(f"riskkit: not printed: {refusal}\n")
    compared = f", compared with {since}" if since is not None else ""
    print_text(f"{path}: {counted(paper.pages, 'page')}, {len(assessment.report.open)} open{compared}\n")


def file_name(title: str, what: str) -> str:
    """A file named after the device and what it is: `marram-hood-dossier.pdf`."""
    words = re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-") or "register"
    return f"{words}-{what}.pdf"


def print_progress() -> Callable[[int, int, str], None] | None:
    """A line on a terminal that says how far the printing is; silence elsewhere."""
    if not sys.stderr.isatty():
        return None

    def show(done: int, total: int, words: str) -> None:
        end = "\n" if done >= total else ""
        sys.stderr.write(f"\r{words} {done}/{total}   {end}")
        sys.stderr.flush()

    return show
