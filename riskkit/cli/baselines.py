"""Which earlier state a dossier is compared with, and what is said where it is compared with none."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.assess import Assessment
    from riskkit.dossier.view import Since
    from riskkit.model.policy import Policy
    from riskkit.text.revisions import Baseline

NOT_COMPARED = "This paper was not compared with an earlier state."


def state_since(folder: Path, revision: str, assessment: Assessment, policy: Policy | None) -> Since:
    """An assessment beside the state at a revision.

    Raises:
        RiskkitError: where git has no answer.
    """
    from riskkit.assess import compare
    from riskkit.dossier.view import Since
    from riskkit.text.reader import read
    from riskkit.text.revisions import past

    found = past(folder, revision)
    old = read(found.snapshot)
    comparison = compare(old, assessment.reading, today=assessment.today, policy=policy)
    return Since(revision, found.commit, found.day, comparison, len(old.report.broken), found.moved_from)


def latest_baseline(folder: Path, revision: str) -> Baseline:
    """The latest tag on the history that names another state than the one that is printed.

    Raises:
        RiskkitError: where there is no such tag, or no git.
    """
    from riskkit.text.revisions import baselines

    found = _earlier(baselines(folder), revision)
    if found is None:
        raise RiskkitError(
            "there is no tag on the history to compare with",
            "name a revision with --since; `git tag NAME` gives this state a name for the next time",
        )
    return found


def baseline_words(folder: Path, revision: str) -> str:
    """What section 2 says of a paper that is compared with nothing: which baseline there is, or why there is none."""
    from riskkit.text.revisions import baselines, is_shallow

    try:
        tags = baselines(folder)
    except RiskkitError as why:
        return f"{NOT_COMPARED} There is no baseline: {_reason(why, folder)}."
    here = next((each for each in tags if each.commit.startswith(revision)), None) if revision else None
    named = f" It is printed from the very state that tag `{here.name}` names." if here is not None else ""
    found = _earlier(tags, revision)
    if found is not None:
        which = "The tag before it" if here is not None else "The latest tag on its history"
        return (
            f"{NOT_COMPARED}{named} {which} is `{found.name}`, commit {found.commit[:10]} of {found.day}. "
            f"`riskkit dossier --since {found.name}` prints here what changed since then, loosened limits first."
        )
    if here is not None:
        return f"{NOT_COMPARED}{named} No earlier state on its history has a tag."
    shallow = " The clone is shallow: `git fetch --unshallow --tags` may bring some." if is_shallow(folder) else ""
    return (
        f"{NOT_COMPARED} No state on its history has a tag, so there is no baseline.{shallow} "
        "`git tag NAME` gives this state a name, and the next paper can be compared with it."
    )


def _reason(why: RiskkitError, folder: Path) -> str:
    """The reason without the place of the folder, which is nobody's business on paper."""
    return why.headline.replace(str(folder.resolve()), "the folder of the register")


def _earlier(tags: tuple[Baseline, ...], revision: str) -> Baseline | None:
    """The latest tag whose commit is not the state that is printed; `revision` is a commit, or more words behind it."""
    return next((each for each in tags if not revision or not each.commit.startswith(revision)), None)
