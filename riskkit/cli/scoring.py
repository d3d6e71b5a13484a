"""`score`: the risk picture in the terminal, readable without colour."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.opening import one_of, open_register, print_text, warn_if_broken, width
from riskkit.cli.output import counted, table, wrapped

if TYPE_CHECKING:
    from riskkit.assess import Assessment
    from riskkit.judgement.scoring import HazardScore, Score
    from riskkit.model.policy import Policy
    from riskkit.model.register import Register

MARKS = ("#", "=", "-", ".", " ")
"""One mark per region, the darkest for the region that asks most."""


def show_scores(folder: Path, format: str, policy: str | None, today: str | None) -> None:
    """Print scores; with `--policy` also what moved against the register's own policy."""
    one_of("--format", format, ("text", "json"))
    assessment = open_register(folder, today, policy)
    warn_if_broken(assessment.report)
    if format == "json":
        from riskkit.exchange.scoreboard import scores_json

        print_text(scores_json(assessment.scores, assessment.supports, assessment.policy) + "\n")
        return
    columns = width()
    lines = [*_picture(assessment.policy, assessment.scores), "", *_list(assessment.register, assessment.scores)]
    lines += ["", *wrapped(_supported_words(assessment), columns)]
    if policy is not None:
        lines += ["", *_moved(assessment.register, assessment.policy, columns)]
    lines += [
        "",
        *wrapped("No score says that a risk may be taken; that is for the people named in the policy.", columns),
    ]
    print_text("\n".join(lines) + "\n")


def _picture(policy: Policy, scores: Mapping[str, HazardScore]) -> Iterator[str]:
    """The matrix: rows from most likely, columns from least severe; in each cell before -> claimed counts and ids."""
    yield f"{policy.title}. Likelihood {policy.likelihood.exposure}; worst corner of each range."
    yield "In each cell: how many hazards lie there before controls, and which are claimed to lie there now."
    yield ""
    before = _by_cell([(score.id, score.before) for score in scores.values()], policy)
    claimed = _by_cell([(score.id, score.claimed) for score in scores.values()], policy)
    label = max(len(f"{band.level} {band.word}") for band in policy.likelihood.levels)
    cell = 18
    yield " " * (label + 2) + "".join(f"{step.level} {step.word}"[: cell - 1].ljust(cell) for step in policy.severity)
    for band in policy.likelihood.levels:
        texts = []
        for step in policy.severity:
            mark = _mark(policy, policy.matrix[band.level][step.level])
            here, now = before.get((band.level, step.level), ()), claimed.get((band.level, step.level), ())
            texts.append(_cell_lines(mark, len(here), now, cell - 2))
        for number in range(max(len(text) for text in texts)):
            head = f"{band.level} {band.word}".ljust(label) if number == 0 else " " * label
            yield (
                f"{head}  "
                + "".join((text[number] if number < len(text) else "").ljust(cell) for text in texts).rstrip()
            )
    yield ""
    for region in policy.regions:
        asks = f": {region.means}" if region.means else ""
        yield f"{_mark(policy, region.name) * 3}  {region.name}{asks}"


def _mark(policy: Policy, region: str) -> str:
    return MARKS[min(policy.region_rank(region), len(MARKS) - 1)]


def _cell_lines(mark: str, before: int, now: tuple[str, ...], room: int) -> list[str]:
    lines = [f"{mark * 3} {before} -> {len(now)}"]
    line = ""
    for id in now:
        if line and len(line) + 1 + len(id) > room:
            lines.append(line)
            line = id
        else:
            line = f"{line} {id}".strip()
    return [*lines, line] if line else lines


def _by_cell(scored: list[tuple[str, Score | None]], policy: Policy) -> Mapping[tuple[str, str], tuple[str, ...]]:
    cells: dict[tuple[str, str], tuple[str, ...]] = {}
    for id, score in scored:
        if score is not None:
            key = (score.levels[0], score.severity)
            cells[key] = (*cells.get(key, ()), id)
    return cells


def _list(register: Register, scores: Mapping[str, HazardScore]) -> Iterator[str]:
    """One line per hazard, worst region first."""
    rows = [("id", "S", "before", "claimed", "supported", "region claimed", "hazard")]
    for score in scores.values():
        rows.append(
            (
                score.id,
                score.severity,
                _level(score.before),
                _level(score.claimed),
                _level(score.supported),
                score.region or "-",
                score.problem or register.title_of(score.id),
            )
        )
    yield from table(rows)


def _supported_words(assessment: Assessment) -> str:
    """How many claims the evidence carries, and how to see why."""
    claimed = [id for id, score in assessment.scores.items() if score.claimed is not None and id in assessment.supports]
    short = [id for id in claimed if assessment.supports[id].falls_short]
    carried = len(claimed) - len(short)
    first = f"; `riskkit why {short[0]}` says what would" if short else ""
    return (
        "Supported is what the evidence on file allows, worked out at "
        f"{assessment.policy.evidence.confidence.written} confidence and never typed. "
        f"It carries {carried} of {counted(len(claimed), 'claim')}{first}."
    )


def _level(score: Score | None) -> str:
    if score is None:
        return "-"
    first, last = score.levels
    return first if first == last else f"{first}..{last}"


def _moved(register: Register, new: Policy, columns: int) -> Iterator[str]:
    from riskkit.judgement.scoring import replay
    from riskkit.text.policies import DEFAULT_POLICY, shipped_policy

    old = register.policy or shipped_policy(DEFAULT_POLICY)
    moved = replay(register, old, new)
    yield f"Moved against {old.title}: {len(moved)} of {2 * len(register.hazards)} scores."
    for each in moved:
        yield from wrapped(
            f"{each.hazard} {each.what}: {each.was or 'no score'} -> {each.now or 'no score'}", columns, "  ", "    "
        )
