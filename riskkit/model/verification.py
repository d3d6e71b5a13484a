"""What was shown and with what: tests, results, instruments, calculations, assumptions."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, PlainValidator, WithJsonSchema, model_validator

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
    Limits,
    OneProbability,
    Parked,
    Record,
    Role,
    Text,
    Texts,
    one_or_many,
    refers,
)

Shows = Literal["implementation", "effectiveness"]


class SamplePlan(Block):
    """How many runs on how many units, and what they are meant to show."""

    runs: int | None = Field(None, ge=1, description="Runs in all.")
    units: int | None = Field(None, ge=1, description="Built units they are spread over.")
    allowed_failures: int = Field(0, ge=0, description="Failures at which the plan still holds.")
    confidence: OneProbability | None = Field(None, description="Confidence, such as `95 %`.")
    proportion: OneProbability | None = Field(None, description="Proportion that has to hold, such as `95 %`.")
    side: Literal["both ends", "upper end", "lower end"] = Field(
        "both ends",
        description="Which end of a limit with two ends the proportion is claimed for.",
    )


class Test(Record):
    """What is tried, how, and against which limit."""

    __test__: ClassVar[bool] = False
    SECTION: ClassVar[str] = "tests"
    title: Text = Field(description="What is tried.")
    claim: Text | None = Field(None, description="What it would show.")
    proves: Annotated[Ids, refers("controls", relation="is meant to show")] = Field(
        (), description="Controls it speaks for."
    )
    shows: Annotated[tuple[Shows, ...], one_or_many] = Field(
        (), description="`implementation` (it is there), `effectiveness` (it does what we claim), or both."
    )
    scope: Literal["design", "lot", "every unit", "every use"] = Field(
        "design", description="What one result stands for."
    )
    method: Literal["instrument", "improvised", "inspection", "analysis"] | None = Field(
        None, description="Tier of the method."
    )
    steps: Texts = Field((), description="What is done, in order.")
    stop: Text | None = Field(None, description="When the test is stopped at once.")
    limit: Limits = Field((), description="What the readings must keep to.")
    conditions: dict[Text, AnyQuantity] = Field(
        default_factory=dict, description="Settings under which the limit holds, such as `{flow: 20 L/min}`."
    )
    statistic: Literal["worst", "each", "mean"] = Field("each", description="Which reading the limit is compared with.")
    plan: SamplePlan | None = Field(None, description="Runs and units.")
    instruments: Annotated[Ids, refers("instruments", relation="is read with")] = Field((), description="Instruments.")
    configuration: Annotated[Ids, refers("parts", relation="is sensitive to")] = Field(
        (), description="Parts whose version matters to the result."
    )
    record: Texts = Field((), description="What has to be written down.")
    calculation: Annotated[Id, refers("calculations", relation="takes its limit from")] | None = Field(
        None, description="The calculation its limit comes from."
    )
    time: Duration | None = Field(None, description="Bench time of one run.")
    parked: Parked | None = Field(None, description="Deliberately left, with an end.")
    owner: Role | None = Field(None, description="Who looks after it, by role.")
    adopted: Adopted | None = Field(None, description="The catalog entry it was taken from, where it was.")
    notes: Text | None = Field(None, description="Anything else.")


class Recording(Block):
    """How a file with a recording is read, where its own headings do not say it: as for `riskkit trace`."""

    column: Text | None = Field(None, description="The column that is drawn; the first measured pressure if left out.")
    columns: Text | None = Field(
        None,
        description="Names and units of all columns of a file without headings, such as `pressure hPa, -, flow L/min`.",
    )
    interval: Duration | None = Field(None, description="Time between samples, where the file has no clock.")
    time: Text | None = Field(None, description="The column that is the clock, where no heading says so.")


class Evidence(Block):
    """A file that shows it, with the hash it had when it was entered."""

    file: Text = Field(description="Path inside the register's folder.")
    sha256: Text | None = Field(None, description="SHA-256 of the file when it was entered.")
    what: Text | None = Field(None, description="What it shows.")
    recording: Recording | None = Field(
        None, description="Set where it is a recording that the dossier draws; `{}` where the file says all by itself."
    )


class StillValid(Block):
    """A recorded judgement that an older result still holds, with an end."""

    because: Text = Field(description="Why it still holds.")
    by: Role = Field(description="Who says so, by role.")
    on: Date = Field(description="When.")
    until: Date = Field(description="Until when.")
    fingerprint: Text | None = Field(
        None, description="Fingerprint of what had changed then; it excuses nothing else (`riskkit why ID` prints it)."
    )


class Result(Record):
    """What was read, on which unit, with which configuration and instrument."""

    SECTION: ClassVar[str] = "results"
    test: Annotated[Id, refers("tests", relation="is a result of")] = Field(description="The test it is a result of.")
    on: Date = Field(description="The day it was taken.")
    unit: Annotated[Id, refers("units", relation="was taken on")] | None = Field(None, description="The unit.")
    configuration: Annotated[dict[Id, Text], refers("parts", relation="was taken with", keys=True)] = Field(
        default_factory=dict, description="Part id -> version or lot that was fitted."
    )
    instruments: Annotated[Ids, refers("instruments", relation="was read with")] = Field(
        (), description="Instruments used."
    )
    remembers: dict[Text, Text] = Field(
        default_factory=dict,
        description="Id of a record, or `policy` -> fingerprint of what it said on the day; written by `riskkit record`.",
    )
    reading_mode: Text | None = Field(None, description="How it was read, such as `both limbs`.")
    conditions: dict[Text, AnyQuantity] = Field(default_factory=dict, description="Settings it was run at.")
    room: dict[Text, AnyQuantity] = Field(default_factory=dict, description="Room temperature and so on.")
    readings: dict[Text, tuple[AnyQuantity, ...]] = Field(
        default_factory=dict, description="What was read -> the readings, each with its unit."
    )
    uncertainty: dict[Text, AnyQuantity] = Field(
        default_factory=dict, description="What was read -> expanded uncertainty (k = 2)."
    )
    reported: Literal["each", "worst", "mean"] = Field("each", description="What the readings are.")
    runs: int | None = Field(None, ge=0, description="Number of runs, where runs are counted.")
    failures: int | None = Field(None, ge=0, description="Runs that failed.")
    observed: Text | None = Field(None, description="What was seen, in words.")
    inspection: Literal["as it should be", "not as it should be"] | None = Field(
        None, description="What an inspection found."
    )
    fault_shown: Text | None = Field(None, description="How we know that the injected fault was present.")
    operator: Role | None = Field(None, description="Who did it, by role.")
    witness: Role | None = Field(None, description="Who watched, by role.")
    evidence: Annotated[tuple[Evidence, ...], one_or_many] = Field((), description="Files.")
    still_valid: Annotated[tuple[StillValid, ...], one_or_many] = Field(
        (), description="Judgements that it holds in spite of a change."
    )
    supersedes: Annotated[Id, refers("results", relation="replaces", leans=False)] | None = Field(
        None, description="The result that this one replaces."
    )
    superseded_because: Text | None = Field(None, description="Why it replaces it.")
    notes: Text | None = Field(None, description="Anything else.")

    @model_validator(mode="after")
    def _no_more_fail_than_run(self) -> Result:
        if self.runs is not None and self.failures is not None and self.failures > self.runs:
            raise FieldError(f"{self.failures} failures are more than the {self.runs} runs", "failures")
        return self


class Calibration(Block):
    """One comparison of an instrument with a better one."""

    on: Date = Field(description="When.")
    outcome: Literal["passed", "failed", "adjusted"] = Field(description="What came out.")
    reference: Text | None = Field(None, description="What it was compared with.")
    notes: Text | None = Field(None, description="Anything else.")


class Instrument(Record):
    """Something to measure with, bought or improvised."""

    SECTION: ClassVar[str] = "instruments"
    title: Text = Field(description="What it is.")
    measures: Text | None = Field(None, description="What it reads.")
    span: Text | None = Field(None, description="From where to where, such as `0 to 25 hPa`.")
    resolution: AnyQuantity | None = Field(None, description="Smallest step that can be read.")
    uncertainty: Text | None = Field(None, description="Expanded uncertainty (k = 2), such as `0.18 hPa` or `3 %`.")
    reading_modes: Texts = Field(
        (), description="Ways in which it can be read, such as `both limbs`; asked for when a result is typed in."
    )
    due: Date | None = Field(None, description="Next comparison is due.")
    calibrations: tuple[Calibration, ...] = Field((), description="Comparisons so far.")
    owner: Role | None = Field(None, description="Who looks after it, by role.")
    notes: Text | None = Field(None, description="Anything else.")


def _plain_value(value: object) -> object:
    if isinstance(value, str | int | float) and not isinstance(value, bool):
        return value
    raise ValueError("an input is a number with its unit, or the id of the record it comes from")


InputValue = Annotated[Any, PlainValidator(_plain_value), WithJsonSchema({"type": ["string", "number"]})]


class Calculation(Record):
    """An estimate from bench numbers inside stated limits. It does not predict what happens in a body."""

    SECTION: ClassVar[str] = "calculations"
    title: Text = Field(description="What is worked out.")
    model: Text | None = Field(
        None, description="Name of the model; one that `riskkit calc --list` names is worked out, and no other."
    )
    formula: Text | None = Field(None, description="The formula in one line.")
    inputs: dict[Text, From | InputValue] = Field(
        default_factory=dict,
        description="Inputs by name: a number with its unit, or `{from: P11, what: mass}` of another record.",
    )
    answers: dict[Text, AnyQuantity] = Field(
        default_factory=dict, description="Answers by name, with units; compared with what the model gives."
    )
    gives: dict[Text, Text] = Field(
        default_factory=dict,
        description="Name of an answer here -> name of the model's answer, where they differ.",
    )
    valid_for: Text | None = Field(None, description="Where it holds.")
    source: Text | None = Field(None, description="Where the formula comes from.")
    parts: Annotated[Ids, refers("parts", relation="takes inputs from")] = Field((), description="Parts it uses.")
    assumptions: Annotated[Ids, refers("assumptions", relation="leans on")] = Field(
        (), description="Assumptions it uses."
    )
    results: Annotated[Ids, refers("results", relation="takes inputs from")] = Field((), description="Results it uses.")
    calculations: Annotated[Ids, refers("calculations", relation="takes inputs from")] = Field(
        (), description="Calculations it uses."
    )
    owner: Role | None = Field(None, description="Who looks after it, by role.")
    notes: Text | None = Field(None, description="Anything else.")


class Assumption(Record):
    """Something taken as true without having been shown."""

    SECTION: ClassVar[str] = "assumptions"
    text: Text = Field(description="What is assumed.")
    value: AnyQuantity | None = Field(None, description="The number that is assumed, where it is one.")
    owner: Role | None = Field(None, description="Who answers for it, by role; a clinician for a mark of harm.")
    confirmed: Date | None = Field(None, description="The day its owner confirmed it; left out while unconfirmed.")
    fingerprint: Text | None = Field(
        None, description="Fingerprint of what was signed, void when that changes (`riskkit why ID` prints it)."
    )
    how_to_test: Text | None = Field(None, description="How it could be shown.")
    because: Text | None = Field(None, description="Why it is believed.")
    until: Date | None = Field(None, description="The day on which it has to be looked at again.")
    notes: Text | None = Field(None, description="Anything else.")
