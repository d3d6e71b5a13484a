"""What people said and decided: observations, decisions, waivers, tombstones, comments, units, gates, sentences."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from riskkit.model.fields import (
    AnyQuantity,
    Block,
    Date,
    Id,
    Ids,
    Limit,
    Parked,
    Record,
    Role,
    Text,
    Texts,
    one_or_many,
    refers,
)
from riskkit.model.verification import Evidence


class Observation(Record):
    """Something seen on the bench that nobody has explained yet."""

    SECTION: ClassVar[str] = "observations"
    on: Date = Field(description="When.")
    text: Text = Field(description="What was seen, heard or smelt.")
    by: Role | None = Field(None, description="Who saw it, by role.")
    unit: Annotated[Id, refers("units", relation="was seen on", leans=False)] | None = Field(
        None, description="The unit."
    )
    became: Annotated[Ids, refers("hazards", relation="became", leans=False)] = Field(
        (), description="Hazards that came of it."
    )
    no_hazard_because: Text | None = Field(None, description="Why it is no hazard.")
    parked: Parked | None = Field(None, description="Deliberately left, with an end.")


class Decision(Record):
    """A named role's dated record that a risk is left as it is. Void when what it covers changes."""

    SECTION: ClassVar[str] = "decisions"
    on: Date = Field(description="When.")
    by: Role = Field(description="Who decided, by role.")
    covers: Annotated[dict[Id, Text], refers("hazards", relation="decides on", keys=True)] = Field(
        min_length=1, description="Hazard id -> its fingerprint on that day (`riskkit why ID` prints it)."
    )
    because: Text = Field(description="Why it is left.")
    until: Date | None = Field(None, description="When it has to be decided again.")


class Waiver(Record):
    """One finding that the project has seen and leaves open, with reason, role and end."""

    SECTION: ClassVar[str] = "waivers"
    rule: Text = Field(description="Name of the rule.")
    record: Id = Field(description="The record it is about.")
    because: Text = Field(description="Why it is left open.")
    by: Role = Field(description="Who says so, by role.")
    second: Role | None = Field(None, description="A second role; needed where the harm is severe.")
    on: Date = Field(description="Since when.")
    until: Date = Field(description="Until when; at most 90 days where the harm is severe.")


class Tombstone(Record):
    """An id that was used once and never will be again."""

    SECTION: ClassVar[str] = "tombstones"
    was: Text = Field(description="What stood there.")
    on: Date = Field(description="When it was taken out.")
    because: Text = Field(description="Why.")


class Disposition(Block):
    """What was done about a comment."""

    kind: Literal["accepted", "declined", "deferred", "question back"] = Field(description="What was decided.")
    reason: Text | None = Field(None, description="Why.")
    change: Text | None = Field(None, description="What was changed, for `accepted`.")
    owner: Role | None = Field(None, description="Who has it, for `deferred`.")
    until: Date | None = Field(None, description="Until when, for `deferred`.")
    fingerprint: Text | None = Field(
        None, description="Fingerprint of what was signed, void when that changes (`riskkit why ID` prints it)."
    )


class Comment(Record):
    """What a reviewer said, by role."""

    SECTION: ClassVar[str] = "comments"
    on: Date = Field(description="When.")
    by: Role = Field(description="The reviewer's role.")
    weight: Literal["major", "minor", "question"] = Field(description="How much it matters to the reviewer.")
    about: Annotated[Ids, refers("any", relation="is about", leans=False)] = Field(
        (), description="Records it is about."
    )
    text: Text = Field(description="What was said.")
    disposition: Disposition | None = Field(None, description="What was done about it.")


StepKind = Literal[
    "torque", "fit", "leak", "pressure", "flow", "alarm", "polarity", "earth", "cleaning", "weight", "firmware", "look"
]
"""What sort of check of the build it is."""


class StepCheck(Block):
    """One check of the build, done by one person and seen by another where it says so."""

    step: Text = Field(description="What was checked.")
    kind: StepKind | None = Field(None, description="What sort of check it is.")
    limit: Limit | None = Field(None, description="What the reading must keep to; without it nothing is judged.")
    reading: AnyQuantity | None = Field(None, description="What was read.")
    uncertainty: AnyQuantity | None = Field(
        None, description="Expanded uncertainty of the reading (k = 2), on this builder's instrument."
    )
    instrument: Annotated[Id, refers("instruments", relation="was checked with")] | None = Field(
        None, description="The instrument, where it is one of the register's."
    )
    outcome: Text | None = Field(None, description="What was found, in words.")
    inspection: Literal["as it should be", "not as it should be"] | None = Field(
        None, description="What a look found, where nothing is measured."
    )
    by: Role | None = Field(None, description="Who did it, by role.")
    second: Role | None = Field(None, description="Who checked it, by role.")
    two_people: bool = Field(False, description="True where a second person has to check.")
    on: Date | None = Field(None, description="When.")
    fingerprint: Text | None = Field(
        None, description="Fingerprint of what was signed, void when that changes (`riskkit why ID` prints it)."
    )
    evidence: Annotated[tuple[Evidence, ...], one_or_many] = Field((), description="Photos and files.")


class Judgement(Block):
    """What was decided about a deviation."""

    verdict: Text = Field(description="What was decided.")
    by: Role = Field(description="Who decided, by role.")
    on: Date = Field(description="When.")
    fingerprint: Text | None = Field(
        None, description="Fingerprint of what was signed, void when that changes (`riskkit why ID` prints it)."
    )
    repeat: Annotated[Ids, refers("tests", relation="asks to repeat", leans=False)] = Field(
        (), description="Tests to be repeated on this unit."
    )


class Deviation(Block):
    """Where a built unit differs from the drawings."""

    text: Text = Field(description="What is different.")
    parts: Annotated[Ids, refers("parts", relation="deviates in")] = Field((), description="Parts concerned.")
    on: Date | None = Field(
        None,
        description="Since when it has been so; a re-test counts from here, or else from the day of the judgement.",
    )
    judged: Judgement | None = Field(None, description="What was decided about it.")


class GateAnswer(Block):
    """What a role answers to a question of a gate that no test, check or rule can answer."""

    gate: Annotated[Id, refers("gates", relation="answers a question of", leans=False)] = Field(description="The gate.")
    ask: Text = Field(description="The question, as it stands there.")
    answer: Literal["yes", "no"] = Field(description="The answer.")
    by: Role = Field(description="Who answers, by role.")
    on: Date = Field(description="When.")
    because: Text | None = Field(None, description="What the answer rests on.")
    fingerprint: Text | None = Field(
        None, description="Fingerprint of what was signed, void when that changes (`riskkit why ID` prints it)."
    )


class Unit(Record):
    """One built unit."""

    SECTION: ClassVar[str] = "units"
    title: Text = Field(description="Which one it is.")
    serial: Text | None = Field(None, description="The number that stands on it.")
    builder: Role | None = Field(None, description="Who built it, by role.")
    place: Text | None = Field(None, description="Where it was built.")
    built: Date | None = Field(None, description="When.")
    revision: Text | None = Field(None, description="The revision it was built to.")
    parts: Annotated[dict[Id, Text], refers("parts", relation="was built with", keys=True)] = Field(
        default_factory=dict, description="Part id -> version or lot that was fitted."
    )
    firmware_sha256: Annotated[
        dict[Id, Text], refers("parts", relation="read back the firmware of", keys=True, leans=False)
    ] = Field(default_factory=dict, description="Part id -> SHA-256 of the firmware, as read back from this unit.")
    fitted: Annotated[dict[Id, Date], refers("parts", relation="counts the age of", keys=True, leans=False)] = Field(
        default_factory=dict,
        description="Part id -> day from which its age counts; the day on which the unit was built where left out.",
    )
    checks: tuple[StepCheck, ...] = Field((), description="Checks of the build.")
    deviations: Annotated[tuple[Deviation, ...], one_or_many] = Field((), description="Where it differs.")
    answers: tuple[GateAnswer, ...] = Field((), description="Answers to questions of gates.")
    gate: Annotated[Id, refers("gates", relation="has reached", leans=False)] | None = Field(
        None, description="The gate it has passed."
    )
    retired: Date | None = Field(None, description="Since when it is no longer used.")
    evidence: Annotated[tuple[Evidence, ...], one_or_many] = Field((), description="Photos and files of the unit.")
    notes: Text | None = Field(None, description="Anything else.")


class Question(Block):
    """One question of a gate."""

    ask: Text = Field(description="The question.")
    tests: Annotated[Ids, refers("tests", relation="asks for", leans=False)] = Field(
        (), description="Tests that answer it: on this unit where every unit is tested, on any where the design is."
    )
    steps: Texts = Field(
        (), description="Checks of the build that answer it, by name; those for two people signed by two roles."
    )
    rules: Texts = Field(
        (), description="Rules of `check` that must find nothing about this unit, nor about what is no unit's."
    )
    needs: Text | None = Field(
        None, description="What would answer it, in words; then a role answers it in the unit's `answers`."
    )


class Gate(Record):
    """A list of questions before a next step on the bench or in public. No gate permits use on a person."""

    SECTION: ClassVar[str] = "gates"
    title: Text = Field(description="The next step.")
    order: int = Field(description="Its place on the ladder.")
    questions: tuple[Question, ...] = Field((), description="What has to be answered.")


class Sentence(Record):
    """A sentence that a person must be able to read in every language the project needs."""

    SECTION: ClassVar[str] = "sentences"
    text: dict[Text, Text] = Field(min_length=1, description="Language code -> the sentence.")
    reviewed: dict[Text, Role] = Field(default_factory=dict, description="Language code -> who has read it, by role.")
    fingerprints: dict[Text, Text] = Field(
        default_factory=dict,
        description="Language code -> fingerprint of what was read, void when that changes (`riskkit why ID` prints it).",
    )
    notes: Text | None = Field(None, description="Anything else.")


class ReviewRole(Record):
    """A reviewer, by role and field of work; never a person's name."""

    SECTION: ClassVar[str] = "reviewers"
    role: Role = Field(description="The role, such as `emergency physician`.")
    clinician: bool = Field(False, description="True for a licensed clinician.")
    field: Texts = Field((), description="What the reviewer can judge.")
