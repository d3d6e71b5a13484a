"""What is offered for a record: entries with the reason and the weak point, in groups; shared by all that offer."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from riskkit.judgement.adopting import adopted_from
from riskkit.judgement.kinship import SAME_TITLE, likeness
from riskkit.model import catalog
from riskkit.model.records import Control, Hazard
from riskkit.model.register import Register
from riskkit.model.verification import Test

MOST = 5
"""Offers in one group; a longer list is not read."""

MOST_PROMPTS = 25
"""The same where each offer is a question of its own, such as the ways in which a part fails."""


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


def nearest_first(offers: Iterable[Offer]) -> list[Offer]:
    """Offers in the order in which they are read."""
    return sorted(offers, key=lambda each: (-each.strength, each.entry))


def group_of(heading: str, offers: list[Offer], most: int = MOST) -> Group:
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
