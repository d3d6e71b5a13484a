"""What a catalog asks about parts, use steps, functions and energy: ways to fail, slips, hazards that come of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from riskkit.judgement.adopting import lower_first, part_fits, speaks_of_any, step_fits
from riskkit.judgement.kinship import SAME_TITLE, Library, likeness, source_reason, words_of
from riskkit.judgement.offers import MOST_PROMPTS, Offer, Suggestions, already_there, group_of, nearest_first
from riskkit.model import catalog
from riskkit.model.fields import Record
from riskkit.model.records import EnergySource, Function, Part, UseStep
from riskkit.model.register import Register


def for_part(part: Part, register: Register, library: Library) -> Suggestions:
    """Failure modes that the part does not list, and mistakes in building it."""
    failures, mistakes, there = [], [], []
    for id, entry in library.sources.items():
        if isinstance(entry, catalog.UseError) or not part_fits(entry, part):
            continue
        told = told_by(id, entry, part, register)
        if told is not None:
            there.append(f"`{entry.title}` is told by {told}")
            continue
        listed = [each.mode for each in part.fails if words_of(each.mode) & words_of(entry.mode)]
        because = f"{part.id} is a {part.part_class or part.title}; {lower_first(entry.effect)}"
        offer = Offer(id, entry.title, "", because, entry.weakness, _worst(entry, library), f"--part {part.id}")
        if isinstance(entry, catalog.BuildError):
            mistakes.append(replace(offer, sort=f"shows as: {entry.shows}"))
        elif listed and likeness(listed[0], entry.mode) >= SAME_TITLE:
            there.append(f"`{entry.title}` is listed below `fails` as `{listed[0]}`, and no hazard is started by it")
        else:
            line = f"{{mode: {entry.mode}, announces: {str(entry.announces).lower()}}}"
            failures.append(replace(offer, sort=f"for `fails`: {line}"))
    remarks = [] if part.part_class else [f"{part.id} has no `class`; one such as `blower` would find more"]
    groups = (
        group_of("Ways to fail that it does not list", nearest_first(failures), MOST_PROMPTS),
        group_of("Mistakes in building it", nearest_first(mistakes), MOST_PROMPTS),
    )
    return Suggestions(
        part.id, part.title, (), tuple(each for each in groups if each.offers), tuple(there), tuple(remarks)
    )


def _worst(entry: catalog.Failure | catalog.UseError | catalog.BuildError, library: Library) -> float:
    """How bad the worst hazard that it starts can be, in levels of the catalog."""
    return float(max((library.hazards[id].severity.highest for id in entry.starts if id in library.hazards), default=1))


def told_by(
    id: str, entry: catalog.Failure | catalog.UseError | catalog.BuildError, record: Part | UseStep, register: Register
) -> str | None:
    """The hazard that an entry has become already for this part or step."""
    for hazard in register.hazards:
        causes = [cause for cause in hazard.causes if cause.by == record.id]
        if causes and hazard.adopted is not None and hazard.adopted.through == id:
            return hazard.id
        for cause in causes:
            said = entry.title if isinstance(entry, catalog.UseError) else entry.mode
            if cause.mode and likeness(cause.mode, said) >= SAME_TITLE:
                return hazard.id
            reason = source_reason(entry, record, cause.mode or "")
            if reason is not None and isinstance(entry, catalog.UseError) and reason.weight >= 2.0:
                return hazard.id
    return None


def for_step(step: UseStep, register: Register, library: Library) -> Suggestions:
    """Errors that happen in such a step and that no hazard tells yet."""
    errors, there = [], []
    for id, entry in library.sources.items():
        if not isinstance(entry, catalog.UseError) or not step_fits(entry, step):
            continue
        told = told_by(id, entry, step, register)
        if told is not None:
            there.append(f"`{entry.title}` is told by {told}")
            continue
        word = next(word for word in entry.steps if speaks_of_any(step.title, [word]))
        because = f"`{word}` is a step in which it happens; {lower_first(entry.effect)}"
        sort = f"sort of error: {', '.join(entry.slip)}"
        errors.append(
            Offer(id, entry.title, sort, because, entry.weakness, _worst(entry, library), f"--step {step.id}")
        )
    group = group_of("Errors in this step", nearest_first(errors), MOST_PROMPTS)
    return Suggestions(step.id, step.title, (), (group,) if group.offers else (), tuple(there), ())


def for_function_or_energy(record: Function | EnergySource, register: Register, library: Library) -> Suggestions:
    """Hazards of losing or spoiling a function, or of an energy and of its absence."""
    offers, there = [], []
    for id, entry in library.hazards.items():
        reasons = list(_why_concerned(record, entry))
        if not reasons:
            continue
        own = already_there(id, entry, register.hazards, register)
        if own is not None:
            there.append(f"`{entry.title}` is there as {own.id} ({own.title})")
            continue
        span = entry.severity
        sort = f"usually {span.lowest} to {span.highest} on a scale from 1 to 5"
        strength = span.highest + 0.1 * len(reasons)
        offers.append(Offer(id, entry.title, sort, "; ".join(reasons), entry.weakness, strength))
    group = group_of("Hazards", nearest_first(offers), MOST_PROMPTS)
    return Suggestions(record.id, record.title, (), (group,) if group.offers else (), tuple(there), ())


def _why_concerned(record: Record, entry: catalog.Hazard) -> Iterator[str]:
    if isinstance(record, Function):
        words = [each for each in entry.spoils if speaks_of_any(record.title, [each])]
        if words:
            ways = f" ({', '.join(entry.guide_words)})" if entry.guide_words else ""
            yield f"it comes of a wrong `{words[0]}`{ways}"
    if isinstance(record, EnergySource):
        for said, words_of_energy in (("comes from", entry.energy), ("comes from the loss of", entry.loss_of)):
            words = [each for each in words_of_energy if speaks_of_any(record.title, [each])]
            if words:
                yield f"it {said} `{words[0]}`"
