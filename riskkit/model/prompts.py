"""What people answered when they were asked, cell by cell, what could go wrong."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field, model_validator

from riskkit.model.fields import Date, FieldError, Id, Ids, Record, Role, Text, refers

Grid = Literal["parts", "functions", "use steps", "energy", "surroundings"]
"""What is asked about: a part and a way to fail, a function and a guide word, and so on."""


class Asked(Record):
    """One answer to one question of the prompt grid; written by `riskkit ask`."""

    SECTION: ClassVar[str] = "asked"

    about: (
        Annotated[
            Id,
            refers("parts", "functions", "use_steps", "energy_sources", relation="asks about", leans=False),
        ]
        | None
    ) = Field(None, description="The record that was asked about; left out where it is the device as a whole.")
    grid: Grid = Field(description="The sort of question.")
    way: Text = Field(description="The way in which it goes wrong: a catalog entry, a guide word, a failure mode.")
    answer: Literal["yes", "no", "later"] = Field(description="`yes` it can happen, `no` it cannot, or `later`.")
    because: Text | None = Field(None, description="Why not, for `no`; one line on what then happens, for `yes`.")
    on: Date = Field(description="When it was answered.")
    by: Role | None = Field(None, description="Who answered, by role.")
    became: Annotated[Ids, refers("hazards", relation="became", leans=False)] = Field(
        (), description="Hazards that came of a `yes`."
    )
    remembers: Text | None = Field(
        None, description="Fingerprint of what was asked about; when that has changed, the question comes again."
    )

    @model_validator(mode="after")
    def _no_needs_a_reason(self) -> Asked:
        if self.answer == "no" and self.because is None:
            raise FieldError("`no` needs `because` beside it: why it cannot happen", "answer")
        return self
