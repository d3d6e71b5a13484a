"""Words of the dossier and what they stand for here."""

from __future__ import annotations

WORDS: tuple[tuple[str, str], ...] = (
    ("Hazard", "A source that can harm: rebreathed gas, pressure, heat. Not a broken part."),
    ("Failure mode", "A way in which an item stops doing what it should; a cause in a sequence."),
    ("Sequence of events", "From the cause to the exposure."),
    ("Hazardous situation", "A person or a thing is exposed."),
    ("Harm", "What happens to them."),
    ("P1", "Chance that the hazardous situation arises, per stated exposure."),
    ("P2", "Chance that it then harms."),
    ("Severity", "How bad it is, if it harms."),
    ("Control", "What is done, in this order: design it out, protect, inform."),
    ("Residual risk", "What remains after all of it."),
    ("Test of implementation", "Is the measure there, on this unit? Printed as `presence`."),
    ("Test of effectiveness", "Does it do what we claim? Printed as `effect`."),
    ("Normal condition", "Everything is as intended."),
    ("Single fault", "Exactly one thing is wrong."),
    ("Dormant", "Broken without anyone noticing."),
    ("Claimed", "What we say."),
    ("Supported", "What the evidence allows. It is worked out, never typed."),
    ("Stale", "Shown once, on something that is no longer this."),
    ("Parked", "Deliberately left, with a reason, an owner and an end."),
    ("Gate", "A list of questions before a next step. No gate is about use on a person."),
    ("Open", "A status: no control answers the hazard."),
    ("Controlled, unverified", "A status: controls are there; a result is missing for at least one of them."),
    (
        "Measured",
        "A status: results are on file for every control; some cannot be told from the limit, or they show less than is "
        "claimed.",
    ),
    (
        "Verified",
        "A status: every result on file for the controls meets its limit on the stated units and versions, and together "
        "they carry what is claimed. It says nothing about use on a person.",
    ),
    ("Contradicted", "A status: a result on file does not meet its limit."),
    ("Meets", "The reading lies inside the limit by at least the guard band."),
    ("Does not meet", "The reading lies outside the limit by more than the guard band."),
    ("Cannot tell", "The reading lies within the guard band of the limit, or something needed to judge it is missing."),
    ("Guard band", "The distance kept from a limit because of uncertainty; here a multiple of the expanded one."),
    ("Tolerance limit", "Most single parts (the stated proportion) stay within it, at the stated confidence."),
    ("Fingerprint", "Twelve digits that change when an entry, its controls or the policy say something else."),
    ("Build", "The state of the register that this paper was printed from."),
)
