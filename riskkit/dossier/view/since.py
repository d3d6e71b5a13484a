"""What changed since an earlier state: section 2."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from riskkit.assess import Assessment
from riskkit.dossier.view.gaps import hazards_of_records
from riskkit.dossier.view.telling import Teller, counted
from riskkit.judgement.differences import KINDS, Comparison, Difference
from riskkit.judgement.scoring import Moved
from riskkit.model.records import Hazard

MOST_LINES = 30
"""Lines of one kind that are told one by one; of the rest only the ids stand on paper. Loosened ones are all told."""

MEANS = MappingProxyType(
    {
        "loosened": "Less is asked or told than before, or nobody can say that it is not so. Somebody has to say why.",
        "worse": "Newly open, or shown less well than before.",
        "better": "No longer open, or shown better than before. That is what the files say; look at why.",
        "tightened": "More is asked than before. A result that met the old limit may not meet the new one.",
        "added": "New entries.",
        "removed": "Entries that are gone.",
        "renamed": "The same entry under another code.",
        "changed": "Edited otherwise.",
    }
)

SECTION_WORDS = MappingProxyType({"fault_trees": "fault trees", "use_steps": "use steps", "energy_sources": "energy"})


@dataclass(frozen=True, slots=True)
class Since:
    """The earlier state that a paper is compared with.

    Attributes:
        name: What the earlier state is called, such as a tag.
        commit: Its commit, in full.
        day: When that was made.
        comparison: The two states beside each other.
        unread: Places of the earlier state that cannot be read as written.
        moved_from: Folder it stood in then, where that was another; "" for the top of the repository.
    """

    name: str
    commit: str
    day: str
    comparison: Comparison
    unread: int = 0
    moved_from: str | None = None


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """One difference: the entry, what changed, and where a limit moved from and to."""

    record: str
    words: str
    was: str
    now: str


@dataclass(frozen=True, slots=True)
class ChangeGroup:
    """Differences of one kind, those that touch the worst harm first; `rest` are ids by section, not told one by one."""

    kind: str
    means: str
    count: int
    lines: tuple[ChangeLine, ...]
    rest: tuple[tuple[str, tuple[str, ...]], ...]

    @property
    def moves(self) -> bool:
        """Whether any line says where something moved from and to."""
        return any(line.was or line.now for line in self.lines)


@dataclass(frozen=True, slots=True)
class MovedLine:
    """An entry that lies elsewhere under the other policy."""

    record: str
    title: str
    what: str
    was: str
    now: str


@dataclass(frozen=True)
class Changes:
    """Section 2. Without a comparison `groups` is empty and `hint` says why, and how to compare."""

    compared: bool
    hint: str
    lead: str
    counts: tuple[tuple[str, int], ...]
    notes: tuple[str, ...]
    groups: tuple[ChangeGroup, ...]
    policy_changed: bool
    old_under_new: tuple[MovedLine, ...]
    new_under_old: tuple[MovedLine, ...]


NOT_COMPARED = "This paper was not compared with an earlier state."


def changes(assessment: Assessment, since: Since | None, hint: str, tell: Teller) -> Changes:
    """Section 2.

    Args:
        assessment: The state that is printed.
        since: The earlier state; None where the paper is not compared.
        hint: What to say then.
        tell: Cleans the register's own words.
    """
    if since is None:
        return Changes(False, tell.finding(hint or NOT_COMPARED, "section 2"), "", (), (), (), False, (), ())
    found = since.comparison
    order = _order(assessment)
    groups = tuple(
        _group(kind, sorted(same, key=order), assessment, tell) for kind in KINDS if (same := found.of(kind))
    )
    return Changes(
        compared=True,
        hint="",
        lead=tell.finding(_lead(since, found), "section 2"),
        counts=tuple((kind, len(found.of(kind))) for kind in KINDS),
        notes=tell.each(_notes(since, found), "section 2"),
        groups=groups,
        policy_changed=any(each.record == "policy" for each in found.differences),
        old_under_new=_moved(found.old_under_new, assessment, tell),
        new_under_old=_moved(found.new_under_old, assessment, tell),
    )


def _lead(since: Since, found: Comparison) -> str:
    count = len(found.differences)
    told = "Nothing that bears on a risk was changed" if not count else f"{counted(count, 'difference')} in risk words"
    return (
        f"Compared with `{since.name}`, commit {since.commit[:10]} of {since.day}. {told}. "
        f"{found.open[0]} findings were open then and {found.open[1]} are now, those about evidence files aside."
    )


def _notes(since: Since, found: Comparison) -> list[str]:
    said = [
        "Both states are judged on the day of this paper and by the same rules, so that only what was written makes a "
        "difference. Evidence files are not compared; the open list says which of them changed."
    ]
    if since.moved_from is not None:
        said.append(f"The register stood in `{since.moved_from.rstrip('/') or 'the top of the repository'}` then.")
    if since.unread:
        places = counted(since.unread, "place")
        said.append(f"The earlier state cannot be read as written in {places}; more may have changed there.")
    if found.not_compared:
        said.append(f"Not compared, for one of the two states cannot be read there: {', '.join(found.not_compared)}.")
    return said


def _order(assessment: Assessment) -> Callable[[Difference], tuple[int, str]]:
    concerned, policy, register = hazards_of_records(assessment), assessment.policy, assessment.register

    def rank(each: Difference) -> tuple[int, str]:
        hazards = register.all_of(concerned.get(each.record, ()), Hazard)
        return (-max((policy.severity_rank(hazard.severity) for hazard in hazards), default=-1), each.record)

    return rank


def _group(kind: str, found: Sequence[Difference], assessment: Assessment, tell: Teller) -> ChangeGroup:
    most = len(found) if kind == "loosened" else MOST_LINES
    return ChangeGroup(
        kind,
        MEANS[kind],
        len(found),
        tuple(
            ChangeLine(
                each.record,
                _without_id(tell.finding(each.headline, f"a difference of {each.record}"), each.record),
                tell.finding(each.was, each.record),
                tell.finding(each.now, each.record),
            )
            for each in found[:most]
        ),
        _rest(found[most:], assessment),
    )


def _rest(found: Sequence[Difference], assessment: Assessment) -> tuple[tuple[str, tuple[str, ...]], ...]:
    by_section: dict[str, dict[str, None]] = defaultdict(dict)
    for each in found:
        section = assessment.register.section_of(each.record) or "beside the records"
        by_section[SECTION_WORDS.get(section, section)][each.record] = None
    return tuple((section, tuple(ids)) for section, ids in by_section.items())


def _without_id(headline: str, record: str) -> str:
    return headline.removeprefix(f"{record} ") if record else headline


WHAT: Mapping[str, str] = MappingProxyType(
    {"before": "before controls", "claimed": "as claimed", "supported": "as supported by evidence"}
)


def _moved(found: Sequence[Moved], assessment: Assessment, tell: Teller) -> tuple[MovedLine, ...]:
    return tuple(
        MovedLine(
            each.hazard,
            tell.name(assessment.register.title_of(each.hazard), each.hazard),
            WHAT[each.what],
            tell(each.was or "nowhere", "policy"),
            tell(each.now or "nowhere", "policy"),
        )
        for each in found
    )
