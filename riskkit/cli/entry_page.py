"""One catalog entry told as a page."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from riskkit.cli.output import wrapped

if TYPE_CHECKING:
    from riskkit.model import catalog
    from riskkit.text.catalogs import Catalogs


def page(
    id: str, entry: catalog.Entry, shelf: Catalogs, standards: Mapping[str, str], replaces: Sequence[str], columns: int
) -> Iterator[str]:
    """The entry in lines.

    Args:
        id: Its id.
        entry: What it says.
        shelf: The catalogs, for titles of entries that it names.
        standards: Number of a standard -> its subject.
        replaces: Catalogs whose entry of the same id it replaces.
        columns: Width to write in.
    """
    home = shelf.catalog_of(id)
    yield entry.title
    source = f"{id}, version {entry.version}, catalog {home.name if home else '?'}"
    yield from wrapped(f"{source}; about {', '.join(entry.subjects)}", columns)
    if replaces:
        yield from wrapped(f"It replaces the entry of {' and of '.join(replaces)}.", columns)
    yield ""
    yield from wrapped(entry.description, columns)
    yield ""
    yield from _own_lines(entry, columns)
    yield ""
    yield from wrapped(f"Why it is here: {entry.why}", columns, "", "  ")
    for number in entry.standards:
        yield from wrapped(f"{number}: {standards.get(number, 'subject not known here')}", columns, "  ", "    ")
    yield "Ask:"
    yield from _bullets(entry.asks, columns)
    yield from wrapped(f"Where it deceives people: {entry.weakness}", columns, "", "  ")
    yield "To be found out by whoever takes it over:"
    yield from _bullets(entry.fill, columns)
    yield from _named(entry, shelf, columns)


def _bullets(lines: Iterable[str], columns: int) -> Iterator[str]:
    for each in lines:
        yield from wrapped(f"- {each}", columns, "  ", "    ")


def _own_lines(entry: catalog.Entry, columns: int) -> Iterator[str]:
    from riskkit.model import catalog

    for name, said in _own(entry):
        if said:
            yield from wrapped(f"{name}: {said}", columns, "", "  ")
    if isinstance(entry, catalog.Test | catalog.UnitCheck):
        yield "Steps:"
        for number, step in enumerate(entry.steps, start=1):
            yield from wrapped(f"{number}. {step}", columns, "  ", "     ")


def _own(entry: catalog.Entry) -> Iterator[tuple[str, str]]:
    """What only this kind of entry says: label and words."""
    from riskkit.model import catalog

    match entry:
        case catalog.Hazard():
            yield "Reaches a person as", entry.reaches
            yield "Condition", ", ".join(entry.condition)
            yield "Source", entry.source
            yield "Sequence", " -> ".join(entry.sequence)
            yield "Situation", entry.situation
            yield "Harm", entry.harm
            span = entry.severity
            usual = str(span.lowest) if span.lowest == span.highest else f"{span.lowest} to {span.highest}"
            yield "Severity elsewhere", f"usually {usual} on a scale from 1 to 5. What decides it here: {span.question}"
            yield "Functions it spoils", ", ".join(entry.spoils)
            yield "Energy", ", ".join(entry.energy)
            yield "Loss of energy", ", ".join(entry.loss_of)
        case catalog.Failure():
            yield "Parts", ", ".join(entry.part_classes)
            yield "Mode", f"{entry.mode}; {'' if entry.announces else 'not '}noticed by itself"
            yield "Effect", entry.effect
        case catalog.UseError():
            yield "Steps of use", ", ".join(entry.steps)
            yield "Sort of error", ", ".join(entry.slip)
            yield "Effect", entry.effect
        case catalog.BuildError():
            yield "Parts", ", ".join(entry.part_classes)
            yield "Mode", entry.mode
            yield "Shows as", entry.shows
            yield "Effect", entry.effect
        case catalog.Control():
            yield "Kind", entry.kind
            yield "Depends on", ", ".join(entry.depends_on)
            yield "How it fails", entry.fails_how
            yield "How that is noticed", entry.noticed
            yield "Can be broken unnoticed", "yes" if entry.dormant else "no"
            yield "Works only if someone hears or sees it", "yes" if entry.is_alarm else ""
        case catalog.Test() | catalog.UnitCheck():
            yield "Shows", " and ".join(entry.shows)
            yield "Method", entry.method
            yield "Stop", entry.stop
            yield "Limit", entry.limit
            yield "Record", ", ".join(entry.record)
            yield "Instruments", ", ".join(entry.instruments)
            yield "Without the instrument", entry.poorer_way or ""
            if isinstance(entry, catalog.Test):
                yield "Plan", entry.plan
            else:
                yield "A second person looks", "yes" if entry.two_people else "no"
                yield "Also before every use", "yes" if entry.before_use else "no"


def _named(entry: catalog.Entry, shelf: Catalogs, columns: int) -> Iterator[str]:
    """Titles of the entries that this one names."""
    headings = {
        "starts": "Hazards that it can start, the worst first",
        "controls": "Usual controls",
        "introduces": "Hazards that it can bring",
        "checks": "Checks of each unit that find it",
        "tests": "Usual tests",
    }
    for name, heading in headings.items():
        ids = getattr(entry, name, ())
        if ids:
            yield f"{heading}:"
            for id in ids:
                other = shelf.get(id)
                title = other.title if other is not None else "not in the catalogs in use"
                yield from wrapped(f"{title} ({id})", columns, "  ", "    ")
