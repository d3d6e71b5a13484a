"""What a catalog offers for a record of the register, each with the reason and with the point where it is weak.

Nothing that the register has already is offered again, and nothing is ever taken over here. Design comes before
protection and protection before information, as the subject of ISO 14971 has it; within a kind the nearest comes first.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from types import MappingProxyType

from riskkit.judgement.kinship import Kin, Library, likeness, words_of
from riskkit.judgement.offers import Group, Offer, Suggestions, already_there, group_of, nearest_first
from riskkit.judgement.suggesting_elements import for_function_or_energy, for_part, for_step
from riskkit.model import catalog
from riskkit.model.records import Control, EnergySource, Function, Hazard, Part, UseStep
from riskkit.model.register import Register
from riskkit.model.verification import Test

_ANSWER = ("answer to", "test of")

LEAST_NEAR = 0.25
"""Likeness from which a control is taken for one of the catalog."""

SAME_TEST = 0.5
"""Share of telling words from which a test of a control is taken for one of the catalog."""

RARE_CLASS = 3
"""A class of part on which more controls of the catalog lean says nothing about which control it is."""

KINDS = ("design", "protective", "information")
SHOWS = MappingProxyType({"implementation": "that it is there", "effectiveness": "that it does what is claimed"})

KINDS_OF_RECORD = (Hazard, Control, Test, Part, UseStep, Function, EnergySource)
"""Records for which something can be suggested."""

ENTRIES_FOR: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "parts": ("hazards", "failures", "build-errors"),
        "use_steps": ("hazards", "use-errors"),
        "functions": ("hazards",),
        "energy_sources": ("hazards",),
    }
)
"""Section of a record -> kinds of entry that are looked at for it; all kinds for the others."""


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
            return for_part(record, register, library)
        case UseStep():
            return for_step(record, register, library)
        case Function() | EnergySource():
            return for_function_or_energy(record, register, library)
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
        *(group_of(f"Controls: {kind}", [each for each in offered if each.sort == kind]) for kind in KINDS),
        group_of("Tests", trials),
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
            link = f"but {hazard.id} does not name it: `riskkit link {hazard.id} {own.id}`"
            names = "and this hazard names it" if own.id in hazard.controls else link
            there.append(f"`{entry.title}` is there as {own.id} ({own.title}), {names}")
        else:
            offered.append(_offer(id, entry, entry.kind, basket, f"--for {hazard.id}"))
    return nearest_first(offered), there


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
    return nearest_first(offered), there


def _like_one_of(entry: catalog.Entry, tests: Iterable[Test]) -> Test | None:
    """A test of the very control needs fewer words in common to be taken for the same."""
    return next((test for test in tests if likeness(test.title, entry.title) >= SAME_TEST), None)


def _what_it_shows(entry: catalog.Test | catalog.UnitCheck) -> str:
    what = " and ".join(SHOWS[each] for each in entry.shows)
    return f"shows {what}, on every unit" if isinstance(entry, catalog.UnitCheck) else f"shows {what}"


def _offer(id: str, entry: catalog.Entry, sort: str, basket: _Basket, options: str = "") -> Offer:
    return Offer(id, entry.title, sort, basket.because(id), entry.weakness, basket.strength(id), options)


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
        groups.append(group_of(heading + (", beside what is there" if shown.issuperset(wanted) else ""), found))
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
    groups = [group_of("Tests of the same controls", offered)]
    told = tuple((id, library.trials[id].title, words) for id, _, words in kin)
    return Suggestions(
        test.id, test.title, told, tuple(each for each in groups if each.offers), tuple(there), tuple(remarks)
    )
