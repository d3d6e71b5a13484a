"""What the device is and how it can hurt: device, parts, functions, use steps, energy, hazards, controls.

Every class is one kind of entry in the user's files. Field descriptions are the reference page and
the completion text of editors.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field, model_validator

from riskkit.model.fields import (
    Adopted,
    AnyQuantity,
    Block,
    Date,
    Duration,
    FieldError,
    From,
    Id,
    Ids,
    Level,
    LevelRange,
    OneProbability,
    Parked,
    ProbabilityRange,
    Record,
    Role,
    SoundLevel,
    Text,
    Texts,
    one_or_many,
    refers,
)

Condition = Literal["normal", "single fault", "use error", "foreseeable misuse"]
ControlKind = Literal["design", "protective", "information"]


class StatedLimit(Block):
    """A limit that the project sets itself for its own bench tests, with its owner."""

    what: Text = Field(description="What is limited.")
    limit: Text = Field(description="The limit in words and numbers.")
    owner: Role | None = Field(None, description="The role that set it.")


class FrontSheet(Block):
    """What the clinician's page answers beyond what can be derived from the register."""

    when_it_stops: Text | None = Field(None, description="What happens to the person when it stops.")
    room_air_when_off: Text | None = Field(None, description="Can room air be drawn when it is off?")
    removal: Text | None = Field(None, description="How it comes off, and how long that takes.")
    highest_pressure: Text | None = Field(None, description="Highest pressure seen, from which fault, how long.")
    measured: Texts = Field((), description="Pressures and flows measured, each with uncertainty, unit and date.")
    not_measured: Texts = Field((), description="What it does not measure.")
    cleaning: Text | None = Field(None, description="How it is cleaned between people.")
    questions: Texts = Field((), description="Questions that the project asks its reviewers, three at most.")


class Device(Block):
    """The device sheet: what it is, what it is not for, what must never happen."""

    name: Text = Field(description="What the group calls it.")
    revision: Text | None = Field(None, description="The revision that this register describes.")
    group: Text | None = Field(None, description="Who builds it, as a group and never as a person.")
    summary: Texts = Field((), description="What it is, in three lines.")
    purpose: Text | None = Field(None, description="What it is studied for.")
    stage: Text | None = Field(None, description="The stage reached, such as `bench only`.")
    not_for: Texts = Field((), description="Who must not use it and what it is not for.")
    must_never: Texts = Field((), description="What must never happen.")
    touches: Texts = Field((), description="What touches a person.")
    stop_conditions: Texts = Field((), description="When a bench test is stopped at once.")
    limits: tuple[StatedLimit, ...] = Field((), description="Limits the project sets for its own tests.")
    front_sheet: FrontSheet | None = Field(None, description="Answers for the one-page sheet.")
    languages: Texts = Field((), description="Languages the critical sentences are needed in, such as [en, nb].")
    catalogs: Texts = Field(
        (), description="Folders of catalogs beside the shipped one, seen from this folder, such as `../our-catalog`."
    )
    owner: Role | None = Field(None, description="Who owns entries that name no owner of their own.")


class FailureMode(Block):
    """A way in which a part stops doing what it should."""

    mode: Text = Field(description="What it does then, such as `stuck shut`.")
    announces: bool | None = Field(None, description="Whether anyone would notice by itself.")
    rate: AnyQuantity | None = Field(None, description="How often, such as `1e-5 1/h`.")
    source: Text | None = Field(None, description="Where the rate comes from.")


class Part(Record):
    """A part that matters: 10 to 20 of them, firmware, tubing and straps included."""

    SECTION: ClassVar[str] = "parts"
    title: Text = Field(description="What it is, neutral of suppliers.")
    part_class: Text | None = Field(None, alias="class", description="Its class: blower, valve, controller ...")
    version: Text | None = Field(None, description="Version, lot or firmware number.")
    firmware_sha256: Text | None = Field(None, description="SHA-256 of the firmware file, where it carries firmware.")
    ratings: dict[Text, AnyQuantity] = Field(default_factory=dict, description="Ratings by name, with units.")
    fails: tuple[FailureMode, ...] = Field((), description="Ways in which it fails.")
    supplied_by: Annotated[Ids, refers("parts", "energy_sources", relation="is supplied by")] = Field(
        (), description="Parts or energy sources without which it does nothing."
    )
    life_limit: Duration | None = Field(None, description="Age at which it is replaced.")
    no_hazard_because: Text | None = Field(None, description="Why no hazard starts here, where none is found.")
    notes: Text | None = Field(None, description="Anything else.")


class Function(Record):
    """Something the device does that someone relies on."""

    SECTION: ClassVar[str] = "functions"
    title: Text = Field(description="What it does, as a verb: `carry off carbon dioxide`.")
    parts: Annotated[Ids, refers("parts", relation="is done by")] = Field((), description="Parts that do it.")
    no_hazard_because: Text | None = Field(None, description="Why no hazard comes from losing it.")
    notes: Text | None = Field(None, description="Anything else.")


class UseStep(Record):
    """A step of use: unpack, connect, start, watch, stop, clean, store."""

    SECTION: ClassVar[str] = "use_steps"
    title: Text = Field(description="What is done.")
    who: Role | None = Field(None, description="Who does it, by role.")
    order: int | None = Field(None, description="Its place among the steps.")
    parts: Annotated[Ids, refers("parts", relation="handles")] = Field((), description="Parts it touches.")
    no_hazard_because: Text | None = Field(None, description="Why nothing can go wrong here.")
    notes: Text | None = Field(None, description="Anything else.")


class EnergySource(Record):
    """Energy that goes in or is stored, and whose absence can hurt as well."""

    SECTION: ClassVar[str] = "energy_sources"
    title: Text = Field(description="What it is.")
    amount: AnyQuantity | None = Field(None, description="How much, such as `66 Wh`.")
    carried_by: Annotated[Ids, refers("parts", relation="is carried by")] = Field(
        (), description="Parts that carry it."
    )
    no_hazard_because: Text | None = Field(None, description="Why neither its presence nor its absence hurts.")
    notes: Text | None = Field(None, description="Anything else.")


class Cause(Block):
    """What starts the sequence: an element of the register and the way it fails."""

    by: Annotated[Id, refers("parts", "use_steps", "functions", "energy_sources", relation="is started by")] = Field(
        description="The part, use step, function or energy source."
    )
    mode: Text | None = Field(None, description="What it does then, such as `drives to full speed`.")


def _cause_from_id(value: object) -> object:
    """A cause may be written as a bare id."""
    values = value if isinstance(value, list | tuple) else [value]
    return [{"by": item} if isinstance(item, str) else item for item in values]


class Harm(Block):
    """What happens to a person, and how bad it is."""

    text: Text = Field(description="What happens.")
    severity: Level = Field(description="A level of the policy's severity scale.")
    because: Text | None = Field(None, description="Why this level, and who says so.")


class Likelihood(Block):
    """How likely harm is, as people claim it. One of `p`, `p1` with `p2`, `tree`, `level` or `eliminated`."""

    p: ProbabilityRange | None = Field(None, description="Probability of harm per exposure; a number or [low, high].")
    p1: ProbabilityRange | None = Field(None, description="Probability that the hazardous situation arises.")
    p2: ProbabilityRange | None = Field(None, description="Probability that it then harms.")
    tree: Annotated[Id, refers("fault_trees", relation="takes its likelihood from")] | None = Field(
        None,
        description="The fault tree it is worked out by: before, with every control taken as failed; claimed, as it is. "
        "With `p2` beside it, the tree gives `p1`.",
    )
    level: LevelRange | None = Field(None, description="A level of the likelihood scale, or [one, another].")
    eliminated: bool = Field(False, description="True where the hazard is no longer there at all.")
    severity: Level | None = Field(None, description="Severity at this point, where a control changes the harm.")
    because: Text | None = Field(None, description="Why.")

    @model_validator(mode="after")
    def _one_way_of_saying_it(self) -> Likelihood:
        pair = self.p1 is not None or (self.p2 is not None and self.tree is None)
        ways = [self.p is not None, pair, self.tree is not None, self.level is not None, self.eliminated]
        if sum(ways) != 1:
            raise ValueError(
                "a likelihood is exactly one of `p`, `p1` with `p2`, `tree`, `level` or `eliminated: true`"
            )
        if pair and (self.p1 is None) != (self.p2 is None):
            given, missing = ("p1", "p2") if self.p2 is None else ("p2", "p1")
            raise FieldError(f"`{given}` needs `{missing}` beside it: the two are multiplied", given)
        return self


class Likelihoods(Block):
    """Likelihood before controls and as claimed with them. What evidence supports is computed, never typed."""

    exposure: Text | None = Field(None, description="What it is counted per; the policy's exposure if left out.")
    before: Likelihood | None = Field(None, description="With no control at all.")
    claimed: Likelihood | None = Field(None, description="With the controls, as the project claims.")


class TimeToHarm(Block):
    """How long a person has once the situation has arisen."""

    value: Duration | None = Field(None, description="The time, such as `58 s`; left out where `answer` gives it.")
    calculation: Annotated[Id, refers("calculations", relation="takes its time to harm from")] | None = Field(
        None, description="The calculation it comes from."
    )
    answer: Text | None = Field(None, description="The answer of that calculation that is the time.")
    assumption: Annotated[Id, refers("assumptions", relation="takes its harm mark from")] | None = Field(
        None, description="The assumption that says where harm begins; its owner should be a clinician."
    )

    @model_validator(mode="after")
    def _has_a_time(self) -> TimeToHarm:
        if self.value is None and (self.calculation is None or self.answer is None):
            raise ValueError("a time to harm is a `value`, or an `answer` of a `calculation`")
        return self


class Hazard(Record):
    """One chain: source, sequence of events, hazardous situation, harm, and what stands between."""

    SECTION: ClassVar[str] = "hazards"
    title: Text = Field(description="The hazardous situation in one line.")
    condition: Annotated[tuple[Condition, ...], one_or_many] = Field(
        min_length=1, description="When it arises; one or more of the four."
    )
    source: Text | None = Field(None, description="What can harm: a gas, a pressure, heat. Not a broken part.")
    causes: Annotated[tuple[Cause, ...], one_or_many] = Field(
        (), description="What starts it: ids, or `{by: P05, mode: drives to full speed}`."
    )
    sequence: Texts = Field((), description="From cause to exposure, one event per line.")
    situation: Text | None = Field(None, description="Who is exposed to what.")
    harm: Harm = Field(description="What happens and how bad it is.")
    likelihood: Likelihoods = Field(default_factory=Likelihoods, description="Before and claimed.")
    controls: Annotated[Ids, refers("controls", relation="is answered by")] = Field((), description="What is done.")
    tests: Annotated[Ids, refers("tests", relation="is tried by")] = Field(
        (), description="Tests that try the controls against this very situation."
    )
    energy: Annotated[Ids, refers("energy_sources", relation="comes from")] = Field(
        (), description="Energy that harms."
    )
    loss_of: Annotated[Ids, refers("energy_sources", relation="comes from the loss of")] = Field(
        (), description="Energy whose absence harms."
    )
    parts: Annotated[Ids, refers("parts", relation="involves", leans=False)] = Field(
        (), description="Parts involved without being the cause."
    )
    functions: Annotated[Ids, refers("functions", relation="spoils", leans=False)] = Field(
        (), description="Functions that are lost or wrong."
    )
    use_steps: Annotated[Ids, refers("use_steps", relation="arises in", leans=False)] = Field(
        (), description="Use steps in which it arises."
    )
    calculations: Annotated[Ids, refers("calculations", relation="leans on")] = Field(
        (), description="Calculations used."
    )
    assumptions: Annotated[Ids, refers("assumptions", relation="leans on")] = Field((), description="Assumptions used.")
    time_to_harm: TimeToHarm | None = Field(None, description="How long a person has.")
    undecided: Texts = Field(
        (), description="Fields whose value stands for now and that nobody has decided yet, such as `harm.severity`."
    )
    owner: Role | None = Field(None, description="Who looks after this entry, by role.")
    parked: Parked | None = Field(None, description="Deliberately left, with an end.")
    origin: Text | None = Field(None, description="How it was found.")
    adopted: Adopted | None = Field(None, description="The catalog entry it was taken from, where it was.")
    notes: Text | None = Field(None, description="Anything else.")

    @model_validator(mode="before")
    @classmethod
    def _causes_may_be_ids(cls, data: object) -> object:
        if isinstance(data, dict) and "causes" in data:
            return data | {"causes": _cause_from_id(data["causes"])}
        return data

    @property
    def severity(self) -> str:
        """Severity of the harm before anything is done."""
        return self.harm.severity

    @property
    def claimed_severity(self) -> str:
        """Severity that is claimed with the controls in place."""
        claimed = self.likelihood.claimed
        return claimed.severity if claimed is not None and claimed.severity is not None else self.harm.severity


class Trip(Block):
    """The reading at which an alarm or a cut acts."""

    quantity: Text = Field(
        description="What is watched, such as `hood pressure`; a calculation answers for the same name."
    )
    below: AnyQuantity | None = Field(None, description="It acts when the reading falls below this.")
    above: AnyQuantity | None = Field(None, description="It acts when the reading rises above this.")

    @model_validator(mode="after")
    def _has_a_threshold(self) -> Trip:
        if self.below is None and self.above is None:
            raise ValueError("a trip needs `below` or `above`")
        return self


class Alarm(Block):
    """The chain of delays from the fault to the act, and who has to hear it."""

    detect: Duration | None = Field(None, description="Until the device has seen the fault.")
    delay: Duration | None = Field(None, description="Filter or delay in the device.")
    signal: Duration | None = Field(None, description="Until it sounds.")
    notice: Duration | None = Field(None, description="Until someone has noticed.")
    act: Duration | None = Field(None, description="Until the act is done.")
    taken: dict[Literal["detect", "delay", "signal", "notice", "act"], From] = Field(
        default_factory=dict, description="Delays that stand in other records: delay -> `{from: K05, what: time}`."
    )
    listener: Role | None = Field(None, description="Who hears it.")
    at: Text | None = Field(None, description="Where the listener is.")
    loudness: SoundLevel | None = Field(None, description="Sound level at the listener.")
    background: SoundLevel | None = Field(None, description="Sound level of the place without it.")
    trips: tuple[Trip, ...] = Field((), description="Readings at which it goes off.")


class Noticed(Block):
    """How anyone would notice that the control itself has failed."""

    how: Text = Field(description="What is seen, heard or found.")
    within: Duration | None = Field(None, description="How soon.")


class Withdrawn(Block):
    """A control that is no longer there."""

    on: Date = Field(description="Since when.")
    because: Text = Field(description="Why.")


class RestsOn(Block):
    """A basis other than counted runs for how rarely a control fails. What it may support is in the policy."""

    kind: Literal["inherent limit", "bought part", "field records"] = Field(
        description=(
            "`inherent limit`: physics keeps it inside, shown by calculation and measurement; `bought part`: with "
            "stated data and its document on file, inside its ratings; `field records`: counted in use elsewhere."
        )
    )
    calculation: Annotated[Id, refers("calculations", relation="takes its inherent limit from")] | None = Field(
        None, description="The calculation that shows an inherent limit."
    )
    fails: OneProbability | None = Field(
        None, description="Probability of failure per exposure by the data of a bought part."
    )
    failures: int | None = Field(None, ge=0, description="Failures in the field.")
    exposures: float | None = Field(None, gt=0, description="Exposures of the policy's kind in the field.")
    document: Text | None = Field(None, description="The document on file that says so.")

    @model_validator(mode="after")
    def _says_what_its_kind_needs(self) -> RestsOn:
        needed = {
            "inherent limit": ("calculation",),
            "bought part": ("fails", "document"),
            "field records": ("failures", "exposures", "document"),
        }[self.kind]
        for name in needed:
            if getattr(self, name) is None:
                raise FieldError(f"`{self.kind}` needs `{name}` beside it", "kind")
        return self


class Control(Record):
    """What is done about a hazard, in the order of ISO 14971: design it out, protect, inform."""

    SECTION: ClassVar[str] = "controls"
    title: Text = Field(description="What it is.")
    kind: ControlKind = Field(description="`design` (inherently safe design), `protective` (measure) or `information`.")
    why_not_higher: Text | None = Field(None, description="Why no kind higher in the order was possible.")
    depends_on: Annotated[
        Ids, refers("parts", "energy_sources", "functions", "use_steps", "assumptions", relation="depends on")
    ] = Field((), description="Everything without which it does nothing.")
    people: Texts = Field((), description="Roles that have to do something for it to work.")
    fails_how: Text | None = Field(None, description="How it fails.")
    noticed: Noticed | None = Field(None, description="How its failure is noticed.")
    dormant: bool | None = Field(None, description="True where it can be broken without anyone noticing.")
    check_interval: Duration | None = Field(None, description="How often a dormant control is checked.")
    introduces: Annotated[Ids, refers("hazards", relation="introduces", leans=False)] | None = Field(
        None, description="Hazards that it brings; `[]` says that someone looked and found none."
    )
    changes_harm: bool = Field(False, description="True where it makes the harm itself smaller.")
    alarm: Alarm | None = Field(None, description="Delays and listener, where it is an alarm.")
    rests_on: Annotated[tuple[RestsOn, ...], one_or_many] = Field(
        (), description="What is known about how rarely it fails, beside the runs of its tests."
    )
    withdrawn: Withdrawn | None = Field(None, description="Set when it is no longer there.")
    owner: Role | None = Field(None, description="Who looks after it, by role.")
    adopted: Adopted | None = Field(None, description="The catalog entry it was taken from, where it was.")
    notes: Text | None = Field(None, description="Anything else.")
