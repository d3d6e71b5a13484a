"""What a catalog entry writes into a register, and what it leaves open because only the project can know it.

Nothing is made up: limits, amounts, likelihoods and links that need a judgement stay away from the record and stand in
its list of open things. The one value that a hazard cannot do without is its severity: where nobody has given it, the
worst level of the project's scale stands there, and the hazard lists it as undecided.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from riskkit.diagnostics import RiskkitError
from riskkit.judgement.fingerprints import digest
from riskkit.judgement.likeness import telling_words
from riskkit.judgement.listing import with_or
from riskkit.model import catalog
from riskkit.model.policy import Policy
from riskkit.model.records import Control, EnergySource, Function, Hazard, Part, UseStep
from riskkit.model.register import Register
from riskkit.model.verification import Test

CATALOG_LEVELS = 5
"""Levels of severity in the catalog, from negligible to catastrophic."""

WRITES_NO_FIELD: Mapping[str, str] = MappingProxyType(
    {
        "may_bring": "the list of hazards that it can bring",
        "sort_of_limit": "the sort of limit",
        "usual": "the list of usual controls and tests",
        "find_out": "the list of what to find out",
    }
)
"""Name in `adopted.wrote` -> words, for what an entry says and a record does not repeat."""

Source = catalog.Failure | catalog.UseError | catalog.BuildError
"""Entries that start a hazard; they are adopted as the hazard that they start."""


@dataclass(frozen=True, slots=True)
class Wish:
    """How an entry is to be adopted.

    Attributes:
        answers: Hazard or control of the register that the new record is for; empty for none.
        part: Part that fails, or that a control depends on.
        step: Use step in which it happens.
        severity: A level of the project's scale; empty where nobody has decided.
        every_use: True for a unit check that is done before every use.
    """

    answers: str = ""
    part: str = ""
    step: str = ""
    severity: str = ""
    every_use: bool = False


@dataclass(frozen=True, slots=True)
class Draft:
    """A record as it would be written.

    Attributes:
        section: Where it belongs.
        fields: Its fields as plain data, without `adopted.open`'s order lost.
        open: What has still to be found out.
        links: (record, field) to which the id of the new record is added.
        offers: Lines that belong into other records, each with the words that say where.
    """

    section: str
    fields: Mapping[str, Any]
    open: tuple[str, ...]
    links: tuple[tuple[str, str], ...] = ()
    offers: tuple[str, ...] = field(default=())


def content(entry: catalog.Entry, by: catalog.Entry | None = None) -> dict[str, Any]:
    """What an entry says, by the field of a record that it writes, or by words where it writes none.

    The same names stand in `adopted.wrote` of a record, so that two versions are compared field by field; those that
    are no field of a record are in `WRITES_NO_FIELD`.

    Args:
        entry: The entry.
        by: For a hazard, the failure, use error or build error that starts it.
    """
    said: dict[str, Any] = {"title": entry.title if by is None else f"{by.title}: {lower_first(entry.title)}"}
    match entry:
        case catalog.Hazard():
            said |= {
                "condition": _one_or_all(_conditions(entry, by)),
                "source": _phrase(entry.source),
                "sequence": [*_first_event(by), *map(_phrase, entry.sequence)],
                "situation": _phrase(entry.situation),
                "harm.text": _phrase(entry.harm),
            }
        case catalog.Control():
            said |= {"kind": entry.kind, "fails_how": _phrase(entry.fails_how), "noticed.how": _phrase(entry.noticed)}
            said |= {"dormant": entry.dormant, "may_bring": list(entry.introduces)}
        case catalog.Test() | catalog.UnitCheck():
            said |= {
                "shows": list(entry.shows),
                "method": entry.method,
                "steps": [*map(_phrase, entry.steps)],
                "stop": _phrase(entry.stop),
                "record": list(entry.record),
                "sort_of_limit": entry.limit,
            }
    both = [entry] if by is None else [by, entry]
    usual = [id for each in both for name in ("controls", "tests", "checks") for id in getattr(each, name, ())]
    if usual:
        said["usual"] = list(dict.fromkeys(usual))
    said["notes"] = _notes(entry, by)
    said["find_out"] = list(dict.fromkeys(line for each in reversed(both) for line in each.fill))
    return said


def _first_event(by: catalog.Entry | None) -> list[str]:
    return [] if by is None else [lower_first(by.title)]


def _one_or_all(values: tuple[str, ...]) -> str | list[str]:
    return values[0] if len(values) == 1 else list(values)


def _notes(entry: catalog.Entry, by: catalog.Entry | None = None) -> str:
    said = f"Where this deceives people: {(by or entry).weakness}"
    if isinstance(entry, catalog.Hazard):
        return f"{said} How bad is it here? {severity_hint(entry)}"
    poorer = getattr(entry, "poorer_way", None)
    return f"{said} Without the instrument: {poorer}" if poorer else said


def value_of(record: Hazard | Control | Test, name: str) -> Any:
    """What a record says now under a name of `content`; None where it says nothing, or no field has that name."""
    here: Any = record
    for step in name.split("."):
        here = getattr(here, step, None)
    if isinstance(here, tuple):
        return _one_or_all(here) if name == "condition" and here else list(here)
    return here


def adopted_from(register: Register, entry: str, *, through: str | None = None) -> tuple[Hazard | Control | Test, ...]:
    """Records that were taken from an entry, or that were found through it."""
    every: tuple[Hazard | Control | Test, ...] = (*register.hazards, *register.controls, *register.tests)
    return tuple(
        each
        for each in every
        if each.adopted is not None
        and (each.adopted.entry == entry if through is None else each.adopted.through == through)
    )


def draft(id: str, entry: catalog.Entry, catalog_name: str, register: Register, policy: Policy, wish: Wish) -> Draft:
    """The record that an entry of the kind hazards, controls, tests or unit-checks becomes.

    Raises:
        RiskkitError: where the wish does not fit the entry.
    """
    match entry:
        case catalog.Hazard():
            return hazard_draft(id, entry, catalog_name, register, policy, wish)
        case catalog.Control():
            made = _control(id, entry, register, wish)
        case catalog.Test() | catalog.UnitCheck():
            made = _test(id, entry, register, wish)
        case _:
            raise TypeError(f"{id} is adopted as a hazard that it starts")
    return _with_source(made, id, entry, catalog_name, None)


def _with_source(made: Draft, id: str, entry: catalog.Entry, catalog_name: str, by: tuple[str, Source] | None) -> Draft:
    adopted: dict[str, Any] = {"entry": id, "version": entry.version, "catalog": catalog_name}
    if by is not None:
        adopted |= {"through": by[0], "through_version": by[1].version}
    said = content(entry, by[1] if by else None)
    adopted["wrote"] = {name: digest(value) for name, value in said.items()}
    if made.open:
        adopted["open"] = list(made.open)
    return Draft(made.section, {**made.fields, "adopted": adopted}, made.open, made.links, made.offers)


# -- hazards --------------------------------------------------------------------------------------


def hazard_draft(
    id: str,
    entry: catalog.Hazard,
    catalog_name: str,
    register: Register,
    policy: Policy,
    wish: Wish,
    by: tuple[str, Source] | None = None,
) -> Draft:
    """The hazard that an entry becomes; `by` is the failure, use error or build error that starts it.

    Raises:
        RiskkitError: where the part, the step or the severity is not one of the register.
    """
    if wish.answers:
        raise RiskkitError(
            f"{id} becomes a hazard, and `--for` is for what answers one",
            "leave `--for` out, or name a control or a test of the catalog",
        )
    said = content(entry, by[1] if by else None)
    fields: dict[str, Any] = {name: said[name] for name in ("title", "condition", "source")}
    causes, unknown = _causes(register, wish, by)
    if causes:
        fields["causes"] = causes
    fields |= {name: said[name] for name in ("sequence", "situation")}
    level, decided = _severity(policy, wish)
    fields["harm"] = {"text": said["harm.text"], "severity": level}
    if not decided:
        fields["undecided"] = ["harm.severity"]
    fields["controls"] = []
    if wish.step:
        fields["use_steps"] = [wish.step]
    fields["origin"] = f"catalog, {by[0] if by else id}"
    fields["notes"] = said["notes"]
    perhaps = (*_may_concern(entry, register), *_may_answer(entry, by, register))
    open = dict.fromkeys((*unknown, *perhaps, *said["find_out"]))
    made = Draft("hazards", fields, tuple(open), (), tuple(_offers(by, causes, register)))
    return _with_source(made, id, entry, catalog_name, by)


def _conditions(entry: catalog.Hazard, by: catalog.Entry | None) -> tuple[str, ...]:
    """A failure is a single fault, a slip a use error; where the hazard knows no such condition, its own stand."""
    own = "use error" if isinstance(by, catalog.UseError) else "single fault"
    return (own,) if by is not None and own in entry.condition else entry.condition


def _severity(policy: Policy, wish: Wish) -> tuple[str | int, bool]:
    """The level to write, and whether somebody has decided it."""
    levels = [step.level for step in policy.severity]
    if wish.severity:
        rank = policy.severity_rank(wish.severity)
        if rank < 0:
            raise RiskkitError(
                f"`{wish.severity}` is no severity level of this project's policy",
                f"write one of {', '.join(f'{step.level} ({step.word})' for step in policy.severity)}",
            )
        return _number(levels[rank]), True
    return _number(levels[-1]), False


def severity_hint(entry: catalog.Hazard) -> str:
    """How bad it is elsewhere, and the question that decides it here."""
    usual = entry.severity
    span = f"{usual.lowest}" if usual.lowest == usual.highest else f"{usual.lowest} to {usual.highest}"
    return f"Elsewhere it is usually {span} on a scale from 1 to {CATALOG_LEVELS}. {usual.question}"


def _number(level: str) -> str | int:
    return int(level) if level.isdecimal() and str(int(level)) == level else level


def _causes(
    register: Register, wish: Wish, by: tuple[str, Source] | None
) -> tuple[list[dict[str, str]], tuple[str, ...]]:
    """What starts it in this register, and what is open about that."""
    named = [id for id in (wish.part, wish.step) if id]
    mode = None if by is None else lower_first(by[1].title) if isinstance(by[1], catalog.UseError) else by[1].mode
    if by is not None and not named:
        found = candidates(by[1], register)
        if len(found) > 1:
            option = "--step" if isinstance(by[1], catalog.UseError) else "--part"
            raise RiskkitError(
                f"{by[0]} fits more than one record of the register: {', '.join(each.id for each in found)}",
                f"say which one, such as `{option} {found[0].id}` ({found[0].title})",
            )
        named = [each.id for each in found]
    causes = [{"by": id, "mode": mode} if mode else {"by": id} for id in named]
    unknown = () if causes else ("what starts it on this device",)
    return causes, unknown


def candidates(source: Source, register: Register) -> tuple[Part | UseStep, ...]:
    """Parts of a failure's classes, or use steps of a use error's words."""
    if isinstance(source, catalog.UseError):
        return tuple(step for step in register.of(UseStep) if step_fits(source, step))
    return tuple(part for part in register.parts if part_fits(source, part))


def part_fits(source: catalog.Failure | catalog.BuildError, part: Part) -> bool:
    """Whether a part is of a class that the entry is about; a part without a class is known by its title."""
    classes = [telling_words(each) for each in source.part_classes]
    if part.part_class is not None:
        return telling_words(part.part_class) in classes
    return any(each <= telling_words(part.title) for each in classes)


def step_fits(source: catalog.UseError, step: UseStep) -> bool:
    """Whether a use step is one in which the error happens."""
    title = telling_words(step.title)
    return any(words and words <= title for words in map(telling_words, source.steps))


def _may_concern(entry: catalog.Hazard, register: Register) -> Iterator[str]:
    """Links that a person has to judge: energy and functions whose titles hold words of the entry."""
    for words, records, question in (
        (entry.energy, register.of(EnergySource), "energy that harms"),
        (entry.loss_of, register.of(EnergySource), "energy whose absence harms"),
        (entry.spoils, register.of(Function), "functions that are lost or wrong"),
    ):
        found = [each for each in records if speaks_of_any(each.title, words)]
        if found:
            yield f"{question}: perhaps {', '.join(f'{each.id} ({each.title})' for each in found)}"


def _may_answer(entry: catalog.Hazard, by: tuple[str, Source] | None, register: Register) -> Iterator[str]:
    """Controls and tests of the register that were taken from the usual ones; whether they answer it is asked."""
    for name, records in (("controls", register.controls), ("tests", register.tests)):
        usual = (*(getattr(by[1], name, ()) if by else ()), *getattr(entry, name))
        found = [each for each in records if each.adopted is not None and each.adopted.entry in usual]
        if found:
            yield f"{name} that answer it: perhaps {', '.join(f'{each.id} ({each.title})' for each in found)}"


def speaks_of_any(title: str, words: Iterable[str]) -> bool:
    """Whether a title holds every telling word of any of the phrases."""
    told = telling_words(title)
    return any(each and each <= told for each in map(telling_words, words))


def _offers(by: tuple[str, Source] | None, causes: list[dict[str, str]], register: Register) -> Iterator[str]:
    """The failure mode of a part that does not list it yet."""
    if by is None or not isinstance(by[1], catalog.Failure):
        return
    for cause in causes:
        part = register.get(cause["by"], Part)
        if part is not None and not any(same_words(each.mode, by[1].mode) for each in part.fails):
            announces = str(by[1].announces).lower()
            yield f"below `fails:` of {part.id}: - {{mode: {by[1].mode}, announces: {announces}}}"


def same_words(one: str, other: str) -> bool:
    """Whether two short texts hold the same telling words, such as `is loaded` and `loads`."""
    return telling_words(one) == telling_words(other)


def lower_first(text: str) -> str:
    """A text in the middle of a sentence; a word such as `CO2` or `U-tube` stays."""
    first = text.split(" ", 1)[0]
    stays = len(first) > 1 and (not first[1].isalpha() or any(letter.isupper() for letter in first[1:]))
    return text if stays else text[:1].lower() + text[1:]


def _phrase(text: str) -> str:
    """A text as records say it: it begins small and ends without a stop, because sentences are made around it."""
    return lower_first(text.rstrip(". "))


# -- controls and tests ---------------------------------------------------------------------------


def _control(id: str, entry: catalog.Control, register: Register, wish: Wish) -> Draft:
    answered = _must_be(register, wish.answers, (Hazard,), f"{id} becomes a control, and answers a hazard")
    fields: dict[str, Any] = {"title": entry.title, "kind": entry.kind}
    open: list[str] = []
    if wish.part:
        fields["depends_on"] = [wish.part]
    elif entry.depends_on:
        open.append(f"what it depends on here, usually {', '.join(_with_parts(entry.depends_on, register))}")
    said = content(entry)
    fields |= {"fails_how": said["fails_how"], "noticed": {"how": said["noticed.how"]}, "dormant": entry.dormant}
    if entry.dormant:
        open.append("how often it is checked")
    brought = [each.id for each in register.hazards if each.adopted and each.adopted.entry in entry.introduces]
    missing = [each for each in entry.introduces if not adopted_from(register, each)]
    if brought:
        fields["introduces"] = brought
    if missing:
        open.append(f"whether it brings {with_or(each.partition('/')[2].replace('-', ' ') for each in missing)}")
    elif not brought:
        open.append("which new hazard it brings; `introduces: []` says that someone looked and found none")
    if entry.is_alarm:
        fields["alarm"] = {}
        open.append("the delays of the alarm one by one, who hears it, and where")
    fields["notes"] = _notes(entry)
    links = tuple((hazard.id, "controls") for hazard in answered)
    return Draft("controls", fields, (*open, *entry.fill), links)


def _with_parts(classes: Iterable[str], register: Register) -> Iterator[str]:
    for each in classes:
        words = telling_words(each)
        found = [part.id for part in register.parts if words <= telling_words(part.part_class or part.title)]
        yield f"{each} (perhaps {' or '.join(found)})" if found else each


def _test(id: str, entry: catalog.Test | catalog.UnitCheck, register: Register, wish: Wish) -> Draft:
    answered = _must_be(
        register, wish.answers, (Hazard, Control), f"{id} becomes a test, and speaks for a control or a hazard"
    )
    said, fields = content(entry), dict[str, Any]({"title": entry.title})
    proves = [each.id for each in answered if isinstance(each, Control)]
    if proves:
        fields["proves"] = proves
    fields["shows"] = list(entry.shows)
    if isinstance(entry, catalog.UnitCheck):
        if wish.every_use and not entry.before_use:
            raise RiskkitError(
                f"{id} is a check of a finished unit; the catalog does not offer it before every use",
                "leave `--every-use` out, and change `scope` by hand if you know better",
            )
        fields["scope"] = "every use" if wish.every_use else "every unit"
    else:
        fields["scope"] = entry.scope
    fields |= {name: said[name] for name in ("method", "steps", "stop")}
    if wish.part:
        fields["configuration"] = [wish.part]
    fields |= {"record": list(entry.record), "notes": _notes(entry)}
    open = ["claim: what a result would show, with its number", f"limit: {entry.limit}"]
    if isinstance(entry, catalog.Test):
        open.append(f"plan: {entry.plan}")
    elif entry.two_people:
        open.append("who is the second person that looks")
    if entry.instruments:
        open.append(f"instruments: {', '.join(entry.instruments)}")
    if not answered:
        open.append("which control it speaks for, or which hazard it tries")
    links = tuple((each.id, "tests") for each in answered if isinstance(each, Hazard))
    return Draft("tests", fields, (*open, *entry.fill), links)


def _must_be(
    register: Register, id: str, kinds: tuple[type[Hazard] | type[Control], ...], why: str
) -> tuple[Hazard | Control, ...]:
    if not id:
        return ()
    found = register.records.get(id)
    if isinstance(found, kinds):
        return (found,)
    where = f"stands in `{found.SECTION}`" if found is not None else "is not in the register"
    such = " or ".join(f"`{kind.SECTION}`" for kind in kinds)
    raise RiskkitError(f"{why}; {id} {where}", f"name a record of {such} with `--for`")
