"""Sentences that every dossier carries, word for word, and that no project can take out or change.

They are numbered and versioned. A project adds its own stop conditions to sentence 9 and nothing else.
"""

from __future__ import annotations

from collections.abc import Sequence

VERSION = 1
"""Raised by one whenever a sentence changes."""

STOP_WORDS = "Stop the test if {conditions}."
NO_STOP_WORDS = "Stop the test if ... (this project has not stated its stop conditions)."

SENTENCES: tuple[str, ...] = (
    "This describes an experimental bench device. It is not a medical device, has not been assessed by any authority and must "
    "not be used on a person on the strength of this document.",
    "Certified equipment and professional care come first. If someone has trouble breathing, call the local emergency number.",
    "Whether anything like this may be built, shown, tested or supplied is decided by the law and the authorities where you "
    "are, and by an ethics body where people are involved. The authors do not know your law.",
    "Only a licensed clinician may judge use, settings or benefit for a person. Nothing here is a setting, dose or advice.",
    "A listed hazard that is controlled is not a hazard that is gone. A hazard not listed may exist. This list is what we "
    "thought of.",
    "Numbers are bench numbers with the stated uncertainty, taken on the stated units and versions. Another unit is another "
    "unit.",
    "Calculations are estimates inside stated limits. They do not predict what happens in a body.",
    "Passing the checks of a built unit means that its builder wrote down readings inside limits. It does not mean the unit is "
    "safe.",
    "{stop} Never test alone with oxygen, with a mask on a person, or with guards off.",
    "Oxygen feeds fire. No flame, no oil or grease, air the room, close oxygen before switching the blower off.",
    "Mains voltage can kill: bought, certified supplies only; do not open them.",
    "If you learn of harm or near harm, tell the authors and whoever your local rules name.",
)
"""The twelve sentences; the ninth has a place for the project's stop conditions."""

QUESTIONS_FOR_AUTHORITIES: tuple[str, ...] = (
    "Who is the maker under your law?",
    "Is a bench prototype shown in public allowed?",
    "What is needed before a person other than you breathes through it?",
    "Who reports incidents?",
    "May plans for it be supplied, and does importing, exporting or giving away a copy count as placing it on a market?",
    "Which electrical and radio law applies besides?",
)
"""Questions to take to the authority where you are. They are not answered here."""

REGULATION = (
    "Most countries treat an apparatus that assists breathing as a medical device, some as a life-supporting one with the "
    "strictest class. Exceptions for emergencies, single patients, research or humanitarian work exist in places, are narrow "
    "and expire. Public emergency specifications of the past are useful lists of questions and not permissions."
)
"""Regulation in general words."""


def cautions(stop_conditions: Sequence[str]) -> tuple[str, ...]:
    """The twelve sentences with the project's stop conditions in the ninth."""
    conditions = "; ".join(condition.rstrip(" .;") for condition in stop_conditions)
    stop = STOP_WORDS.format(conditions=conditions) if conditions else NO_STOP_WORDS
    # Only the ninth sentence has a field; the project's own words are put in last and are not read as a format.
    return tuple(sentence.replace("{stop}", stop) for sentence in SENTENCES)
