"""What a catalog offers for a record of the register, each with the reason and with the point where it is weak.

Nothing that the register has already is offered again, and nothing is ever taken over here. Design comes before
protection and protection before information, as the subject of ISO 14971 has it; within a kind the nearest comes first.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from riskkit.judgement.adopting import adopted_from, part_fits, speaks_of_any, step_fits
from riskkit.judgement.kinship import SAME_TITLE, Kin, Library, likeness, source_reason, words_of
from riskkit.model import catalog
from riskkit.model.fields import Record
from riskkit.model.records import Control, EnergySource, Function, Hazard, Part, UseStep
from riskkit.model.register import Register
from riskkit.model.verification import Test

MOST = 5
"""Offers in one group; a longer list is not read."""

_ANSWER = ("answer to", "test of")

LEAST_NEAR = 0.25
"""Likeness from which a control is taken for one of the catalog."""

SAME_TEST = 0.5
"""Share of telling words from which a test of a control is taken for one of the catalog."""

RARE_CLASS = 3
"""A class of part on which more controls of the catalog lean says nothing about which control it is."""

MOST_PROMPTS = 25
"""The same where each offer is a question of its own, such as the ways in which a part fails."""

KINDS = ("design", "protective", "information")
SHOWS = {"implementation": "that it is there", "effectiveness": "that it does what is claimed"}


@dataclass(frozen=True, slots=True)
class Offer:
    """One entry that could be taken over.

    Attributes:
        entry: Its id.
        title: What it is.
        sort: Kind of control, what a test shows, or what sort of entry it is.
        because: Why it is offered here, as the rest of a sentence.
        weakness: Where it usually deceives people.
        strength: How near it is; it orders the offers and means nothing else.
        options: Options that belong behind `adopt`, such as `--for H03`.
    """

    entry: str
    title: str
    sort: str
    because: str
    weakness: str
    strength: float
    options: str = ""


@dataclass(frozen=True, slots=True)
class Group:
    """Offers under one heading, the first one first."""

    heading: str
    offers: tuple[Offer, ...]
    left_out: int = 0
    """How many more there are, further off."""


@dataclass(frozen=True, slots=True)
class Suggestions:
    """What is offered for one record.

    Attributes:
        id: The record.
        title: What it is called.
        kin: Entries that speak of the same thing: id, title and why.
        groups: What is offered.
        there: What the register has already and what is therefore not offered, one sentence each.
        remarks: What else should be known, such as that no control of a higher kind is there.
    """

    id: str
    title: str
    kin: tuple[tuple[str, str, str], ...]
    groups: tuple[Group, ...]
    there: tuple[str, ...]
    remarks: tuple[str, ...]


KINDS_OF_RECORD = (Hazard, Control, Test, Part, UseStep, Function, EnergySource)
"""Records for which something can be suggested."""


def suggest(id: str, register: Register, library: Library) -> Suggestions:
    """What the catalogs offer for a record.

    Args:
        id: A hazard, control, test, part, use step, function or energy source.
        register: The records.
        library: The entries of the catalogs.

    Raises:
        KeyError: where there is no such record.
        TypeError: where nothing can be suggested for a record of its kind.
    """
    record = register.records[id]
    match record:
        case Hazard():
            return _for_hazard(record, register, library)
        case Control():
            return _for_control(record, register, library)
        case Test():
            return _for_test(record, register, library)
        case Part():
            return _for_part(record, register, library)
        case UseStep():
            return _for_step(record, register, library)
        case Function() | EnergySource():
            return _for_function_or_energy(record, register, library)
        case _:
            raise TypeError(record.SECTION)


class _Basket:
    """Reasons for each entry while they are collected; thrown away afterwards."""

    def __init__(self) -> None:
        self.reasons: dict[str, list[tuple[float, str]]] = {}

    def add(self, id: str, weight: float, words: str) -> None:
        self.reasons.setdefault(id, []).append((weight, words))

    def strength(self, id: str) -> float:
        return sum(weight for weight, _ in self.reasons[id])

    def because(self, id: str) -> str:
        best = sorted(self.reasons[id], key=lambda each: -each[0])
        told = list(dict.fromkeys(words for _, words in best))[:2]
        return "; ".join(told)


# -- hazards --------------------------------------------------------------------------------------


def _for_hazard(hazard: Hazard, register: Register, library: Library) -> Suggestions:
    kin, causes = library.kin_of(hazard, register), library.causes_of(hazard, register)
    controls, tests = _Basket(), _Basket()
    for source, reason in causes.items():
        entry = library.sources[source]
        for basket, ids in ((controls, entry.controls), (tests, _trials_of(entry))):
            for place, id in enumerate(ids):
                because = f"usual {_ANSWER[basket is tests]} `{entry.title}`: {reason.words}"
                basket.add(id, reason.weight * 1.2 * _rank(place), because)
    for each in kin:
        known = library.hazards[each.id]
        for basket, ids in ((controls, known.controls), (tests, known.tests)):
            because = f"usual {_ANSWER[basket is tests]} `{known.title}`, which {hazard.id} reads like"
            for place, id in enumerate(ids):
                basket.add(id, each.strength * _rank(place), because)
    offered, there = _controls(controls, hazard, register, library)
    serves: dict[str, str] = {}
    for control in register.all_of(hazard.controls, Control):
        for id, weight, words in _tests_for(control, register, library):
            tests.add(id, weight, words)
            serves.setdefault(id, control.id)
    for offer in offered:
        for id in library.controls[offer.entry].tests:
            if id in tests.reasons:
                tests.add(id, 0.2, f"it also shows `{offer.title}`, which is offered here")
    trials, tried = _trials(tests, hazard.id, serves, register, library)
    groups = [
        *(_group(f"Controls: {kind}", [each for each in offered if each.sort == kind]) for kind in KINDS),
        _group("Tests", trials),
    ]
    return Suggestions(
        hazard.id,
        hazard.title,
        _told(kin, library),
        tuple(group for group in groups if group.offers),
        tuple(dict.fromkeys((*there, *tried))),
        tuple(_higher_kind(hazard, register, offered)),
    )


def _rank(place: int) -> float:
    """Entries name the usual answers in the order of preference; each further one counts a little less."""
    return float(0.9**place)


def _trials_of(entry: catalog.Entry) -> tuple[str, ...]:
    return (*getattr(entry, "tests", ()), *getattr(entry, "checks", ()))


def _controls(basket: _Basket, hazard: Hazard, register: Register, library: Library) -> tuple[list[Offer], list[str]]:
    """Controls to offer, and sentences about those that the register has."""
    offered, there = [], []
    for id in basket.reasons:
        entry = library.controls.get(id)
        if entry is None:
            continue
        own = already_there(id, entry, register.controls, register)
        if own is not None:
            names = "and this hazard names it" if own.id in hazard.controls else f"but {hazard.id} does not name it"
            there.append(f"`{entry.title}` is there as {own.id} ({own.title}), {names}")
        else:
            offered.append(_offer(id, entry, entry.kind, basket, f"--for {hazard.id}"))
    return _sorted(offered), there


def _trials(
    basket: _Basket, answers: str, serves: Mapping[str, str], register: Register, library: Library
) -> tuple[list[Offer], list[str]]:
    """Tests to offer, and sentences about those that the register has; `serves` says for which control one is."""
    controls = {answers, *serves.values()}
    mine = tuple(test for test in register.tests if controls & set(test.proves))
    offered, there = [], []
    for id in basket.reasons:
        entry = library.trials.get(id)
        if entry is None:
            continue
        own = already_there(id, entry, register.tests, register) or _like_one_of(entry, mine)
        if own is not None:
            there.append(f"`{entry.title}` is there as {own.id} ({own.title})")
        else:
            target = serves.get(id, answers)
            offered.append(_offer(id, entry, _what_it_shows(entry), basket, f"--for {target}" if target else ""))
    return _sorted(offered), there


def _like_one_of(entry: catalog.Entry, tests: Iterable[Test]) -> Test | None:
    """A test of the very control needs fewer words in common to be taken for the same."""
    return next((test for test in tests if likeness(test.title, entry.title) >= SAME_TEST), None)


def _what_it_shows(entry: catalog.Test | catalog.UnitCheck) -> str:
    what = " and ".join(SHOWS[each] for each in entry.shows)
    return f"shows {what}, on every unit" if isinstance(entry, catalog.UnitCheck) else f"shows {what}"


def _offer(id: str, entry: catalog.Entry, sort: str, basket: _Basket, options: str = "") -> Offer:
    return Offer(id, entry.title, sort, basket.because(id), entry.weakness, basket.strength(id), options)


def _sorted(offers: Iterable[Offer]) -> list[Offer]:
    return sorted(offers, key=lambda each: (-each.strength, each.entry))


def _group(heading: str, offers: list[Offer], most: int = MOST) -> Group:
    """The best offers; one that is far behind the best is not worth the reading."""
    best = max((each.strength for each in offers), default=0.0)
    near = [each for each in offers if each.strength >= best / 4]
    return Group(heading, tuple(near[:most]), max(0, len(near) - most))


def already_there(
    id: str, entry: catalog.Entry, records: Iterable[Control | Test | Hazard], register: Register
) -> Control | Test | Hazard | None:
    """The record that was taken from an entry, or that has nearly its title."""
    for adopted in adopted_from(register, id):
        return adopted
    found = [(likeness(each.title, entry.title), each) for each in records]
    near = [each for each in found if each[0] >= SAME_TITLE]
    return max(near, key=lambda each: each[0])[1] if near else None


def _told(kin: Iterable[Kin], library: Library) -> tuple[tuple[str, str, str], ...]:
    return tuple((each.id, library.entries[each.id].title, each.because) for each in list(kin)[:3])


def _higher_kind(hazard: Hazard, register: Register, offered: list[Offer]) -> Iterator[str]:
    """What the next higher kind would be, where the hazard has only lower ones."""
    live = [each for each in register.all_of(hazard.controls, Control) if each.withdrawn is None]
    if not live:
        return
    best = min(KINDS.index(each.kind) for each in live)
    for kind in KINDS[:best]:
        found = [each for each in offered if each.sort == kind]
        has = " and ".join(sorted({each.kind for each in live}, key=KINDS.index))
        if found:
            yield f"{hazard.id} has only {has} controls; a {kind} one would be `{found[0].title}`"
        else:
            yield f"{hazard.id} has only {has} controls, and the catalog knows no {kind} one for it: ask why there is none"


# -- controls and tests ---------------------------------------------------------------------------


def _nearest_controls(control: Control, register: Register, library: Library) -> list[tuple[str, float, str]]:
    """Catalog controls that are what a control is: id, how near, and why one thinks so."""
    if control.adopted is not None and control.adopted.entry in library.controls:
        return [(control.adopted.entry, 10.0, f"{control.id} was taken from it")]
    mine, failing = words_of(control.title), words_of(control.fails_how)
    parts = tuple(register.all_of(control.depends_on, Part))
    used = Counter(each for entry in library.controls.values() for each in entry.depends_on)
    telling = {each for each, times in used.items() if times <= RARE_CLASS}
    found = []
    for id, entry in library.controls.items():
        shared = mine & words_of(entry.title)
        leans = [part.id for part in parts if part.part_class in entry.depends_on and part.part_class in telling]
        near = (
            likeness(control.title, entry.title) + 0.02 * len(failing & words_of(entry.fails_how)) + 0.15 * len(leans)
        )
        if len(shared) + len(leans) >= 2 and near >= LEAST_NEAR:
            on = f" and leans on the same class of part ({', '.join(leans)})" if leans else ""
            alike = near + (0.1 if entry.kind == control.kind else 0.0)
            found.append((id, alike, f"{control.id} reads like it{on}"))
    found.sort(key=lambda each: -each[1])
    return [each for each in found if each[1] >= 0.7 * found[0][1]][:2]


def _tests_for(control: Control, register: Register, library: Library) -> Iterator[tuple[str, float, str]]:
    for id, near, words in _nearest_controls(control, register, library):
        for place, test in enumerate(library.controls[id].tests):
            yield test, 2.0 * min(near, 1.0) * _rank(place), f"it shows `{library.controls[id].title}`, and {words}"


def _for_control(control: Control, register: Register, library: Library) -> Suggestions:
    kin = _nearest_controls(control, register, library)
    basket = _Basket()
    for test, weight, words in _tests_for(control, register, library):
        basket.add(test, weight, words)
    if not kin:
        for hazard in register.hazards:
            if control.id in hazard.controls:
                for each in library.kin_of(hazard, register)[:2]:
                    for place, id in enumerate(library.hazards[each.id].tests):
                        because = (
                            f"it tries `{library.hazards[each.id].title}`, which {control.id} answers in {hazard.id}"
                        )
                        basket.add(id, 0.5 * each.strength * _rank(place), because)
    offered, there = _trials(basket, control.id, {}, register, library)
    own = [test for test in register.tests if control.id in test.proves]
    shown: set[str] = {word for test in own for word in test.shows}
    remarks = [
        f"no test of the register shows of {control.id} {words}" for word, words in SHOWS.items() if word not in shown
    ]
    groups = _by_what_is_missing(offered, library, shown)
    told = tuple((id, library.controls[id].title, words) for id, _, words in kin)
    weak = [
        f"where `{library.controls[id].title}` deceives people: {library.controls[id].weakness}" for id, _, _ in kin
    ]
    return Suggestions(control.id, control.title, told, groups, tuple(there), (*remarks, *weak))


def _by_what_is_missing(offered: list[Offer], library: Library, shown: set[str]) -> tuple[Group, ...]:
    groups = []
    for wanted in (("implementation", "effectiveness"), ("implementation",), ("effectiveness",)):
        found = [each for each in offered if set(library.trials[each.entry].shows) == set(wanted)]
        heading = f"Tests that show {' and '.join(SHOWS[word] for word in wanted)}"
        groups.append(_group(heading + (", beside what is there" if shown.issuperset(wanted) else ""), found))
    return tuple(group for group in groups if group.offers)


def _for_test(test: Test, register: Register, library: Library) -> Suggestions:
    """Entries like the test, and tests of the same controls that show what it does not."""
    kin: list[tuple[str, float, str]] = []
    if test.adopted is not None and test.adopted.entry in library.trials:
        kin = [(test.adopted.entry, 10.0, f"{test.id} was taken from it")]
    else:
        mine = words_of(test.title, test.claim)
        for id, entry in library.trials.items():
            near = likeness(test.title, entry.title) + 0.05 * len(mine & words_of(entry.title, entry.description))
            shared = words_of(test.title) & words_of(entry.title)
            if len(shared) >= 2 and near >= 0.4:
                kin.append((id, near, f"it shares the words {', '.join(f'`{word}`' for word in sorted(shared))}"))
        kin.sort(key=lambda each: -each[1])
        kin = kin[:2]
    basket, serves = _Basket(), dict[str, str]()
    for control in register.all_of(test.proves, Control):
        for id, weight, words in _tests_for(control, register, library):
            entry_of = library.trials.get(id)
            if entry_of is not None and set(entry_of.shows) - set(test.shows):
                basket.add(id, weight, f"{words}; {test.id} does not show all of that")
                serves.setdefault(id, control.id)
    offered, there = _trials(basket, "", serves, register, library)
    remarks = []
    for id, _, _ in kin:
        known = library.trials[id]
        remarks.append(f"where `{known.title}` deceives people: {known.weakness}")
        if known.poorer_way:
            remarks.append(f"without the instrument: {known.poorer_way}")
        if not test.limit:
            remarks.append(f"its limit: {known.limit}")
        if test.stop is None:
            remarks.append(f"when it is stopped at once: {known.stop}")
        if not test.record:
            remarks.append(f"what is written down: {', '.join(known.record)}")
    groups = [_group("Tests of the same controls", offered)]
    told = tuple((id, library.trials[id].title, words) for id, _, words in kin)
    return Suggestions(
        test.id, test.title, told, tuple(each for each in groups if each.offers), tuple(there), tuple(remarks)
    )


# -- parts, use steps, functions, energy ----------------------------------------------------------


def _for_part(part: Part, register: Register, library: Library) -> Suggestions:
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
        because = f"{part.id} is a {part.part_class or part.title}; {entry.effect}"
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
        _group("Ways to fail that it does not list", _sorted(failures), MOST_PROMPTS),
        _group("Mistakes in building it", _sorted(mistakes), MOST_PROMPTS),
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


def _for_step(step: UseStep, register: Register, library: Library) -> Suggestions:
    errors, there = [], []
    for id, entry in library.sources.items():
        if not isinstance(entry, catalog.UseError) or not step_fits(entry, step):
            continue
        told = told_by(id, entry, step, register)
        if told is not None:
            there.append(f"`{entry.title}` is told by {told}")
            continue
        word = next(word for word in entry.steps if speaks_of_any(step.title, [word]))
        because = f"`{word}` is a step in which it happens; {entry.effect}"
        sort = f"sort of error: {', '.join(entry.slip)}"
        errors.append(
            Offer(id, entry.title, sort, because, entry.weakness, _worst(entry, library), f"--step {step.id}")
        )
    group = _group("Errors in this step", _sorted(errors), MOST_PROMPTS)
    return Suggestions(step.id, step.title, (), (group,) if group.offers else (), tuple(there), ())


def _for_function_or_energy(record: Function | EnergySource, register: Register, library: Library) -> Suggestions:
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
    group = _group("Hazards", _sorted(offers), MOST_PROMPTS)
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


def answer_data(found: Suggestions) -> Mapping[str, object]:
    """The suggestions as plain data, for programs."""
    return {
        "id": found.id,
        "title": found.title,
        "kin": [{"entry": id, "title": title, "because": because} for id, title, because in found.kin],
        "groups": [
            {
                "heading": group.heading,
                "left_out": group.left_out,
                "offers": [
                    {
                        "entry": each.entry,
                        "title": each.title,
                        "sort": each.sort,
                        "because": each.because,
                        "weakness": each.weakness,
                        "adopt": f"riskkit adopt {each.entry} {each.options}".rstrip(),
                    }
                    for each in group.offers
                ],
            }
            for group in found.groups
        ],
        "there": list(found.there),
        "remarks": list(found.remarks),
    }
