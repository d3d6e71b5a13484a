"""The risk policy as data: two scales, a matrix of cells, regions with the project's own names.

Nothing here multiplies ranks: a probability is binned by the edges that the policy states, and the
matrix lists every cell. Which band an edge value falls into is part of the policy.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Literal

from pydantic import Field, model_validator

from riskkit.model.fields import (
    Block,
    FieldError,
    Level,
    OneProbability,
    Probability,
    Role,
    SoundLevel,
    Text,
)


class SeverityLevel(Block):
    """One step of the severity scale."""

    level: Level = Field(description="Its label in the register, such as 4 or II.")
    word: Text = Field(description="Its word.")
    means: Text | None = Field(None, description="What it stands for, in plain words.")


class LikelihoodLevel(Block):
    """One band of the likelihood scale."""

    level: Level = Field(description="Its label in the register, such as B.")
    word: Text = Field(description="Its word.")
    above: OneProbability | None = Field(None, description="The lower edge of the band; the lowest band has none.")
    means: Text | None = Field(None, description="What it stands for, in plain words.")
    eliminated: bool = Field(False, description="True for the state in which the hazard is no longer there.")


class LikelihoodScale(Block):
    """Bands from most to least likely, with a rule for the edges."""

    exposure: Text = Field(description="What a probability is counted per: `per transfer`, `per hour`.")
    edge: Literal["in the band above", "in the band below"] = Field(
        "in the band above",
        description="Which band a probability falls into that equals an edge: bands are [low, high) or (low, high].",
    )
    levels: tuple[LikelihoodLevel, ...] = Field(min_length=1, description="Bands, most likely first.")

    @model_validator(mode="after")
    def _bands_fall(self) -> LikelihoodScale:
        bands = [band for band in self.levels if not band.eliminated]
        if not bands:
            raise FieldError("at least one band must hold probabilities; all are marked `eliminated`", "levels")
        previous: Fraction | None = None
        for place, band in enumerate(self.levels):
            if band.eliminated:
                continue
            if band.above is None:
                if band is not bands[-1]:
                    raise FieldError("only the last band may leave out `above`, its lower edge", "levels", place)
                continue
            if previous is not None and band.above.exact >= previous:
                raise FieldError(
                    "the edges must fall from band to band, most likely band first", "levels", place, "above"
                )
            previous = band.above.exact
        return self

    def band(self, probability: Fraction) -> LikelihoodLevel:
        """The band that an exact probability falls into; below the last stated edge it is the last band."""
        bands = [band for band in self.levels if not band.eliminated]
        for band in bands:
            if band.above is None:
                return band
            edge = band.above.exact
            if probability > edge or (probability == edge and self.edge == "in the band above"):
                return band
        return bands[-1]


class Region(Block):
    """A named set of matrix cells and what the project asks there."""

    name: Text = Field(description="The project's own word, such as `reduce`. Never a word of permission.")
    means: Text | None = Field(None, description="What has to be done there.")
    decision: bool = Field(False, description="True where a risk left here needs the dated decision of a named role.")


class EvidenceRules(Block):
    """What each kind of evidence may support at most. A claim better than that is a finding.

    Opinion supports nothing below the most likely band. The defaults are riskkit's proposal; a project owns its own.
    """

    confidence: OneProbability = Field(
        Probability("95 %", Fraction(95, 100)), description="Confidence of every bound that supports a likelihood."
    )
    guard_band: float = Field(
        1.0, ge=0, description="Width of the guard band inside each limit, in expanded uncertainties (k = 2)."
    )
    one_unit: OneProbability = Field(
        Probability("1e-2", Fraction(1, 100)),
        description="Lowest probability that runs on one unit may support, because the spread of a lot is unseen.",
    )
    barriers: OneProbability = Field(
        Probability("1e-4", Fraction(1, 10000)),
        description="Lowest probability that two or more independent controls, each tried, may support together.",
    )
    common_cause: OneProbability = Field(
        Probability("0.05", Fraction(5, 100)),
        description="Share of the best control's failures that is taken to disable the others too.",
    )
    inherent_limit_bands: int = Field(
        2, ge=0, description="Bands below the most likely one that an inherent limit may support."
    )
    information_bands: int = Field(
        1, ge=0, description="Bands below the most likely one that information alone may support; none for severe harm."
    )

    @model_validator(mode="after")
    def _confidence_is_no_certainty(self) -> EvidenceRules:
        if not 0 < self.confidence.exact < 1:
            raise FieldError("a confidence lies between 0 and 1, such as 95 %; nothing is certain", "confidence")
        return self


class Policy(Block):
    """How this project scores and who decides. Scales, matrix and regions are the project's own."""

    title: Text = Field(description="The name of the policy.")
    source: Text | None = Field(None, description="Where scales and matrix come from.")
    decided_by: Role | None = Field(None, description="The role that owns this policy.")
    severity: tuple[SeverityLevel, ...] = Field(min_length=1, description="Severity levels, least first.")
    likelihood: LikelihoodScale = Field(description="The likelihood scale.")
    regions: tuple[Region, ...] = Field(min_length=1, description="Regions, the one that asks most first.")
    matrix: dict[Level, dict[Level, Text]] = Field(
        description="Likelihood level -> severity level -> region name; every cell is listed."
    )
    severe_from: Level | None = Field(
        None, description="Severity from which the rules for severe harm apply; the two worst if left out."
    )
    observation_days: int = Field(
        14, ge=1, description="Days within which an observation becomes a hazard or is answered."
    )
    evidence: EvidenceRules = Field(
        default_factory=EvidenceRules, description="What each kind of evidence may support."
    )
    alarm_margin: SoundLevel | None = Field(
        None, description="How far an alarm must stand above the background, such as `15 dB`."
    )

    @model_validator(mode="after")
    def _every_cell_is_listed(self) -> Policy:
        severities = [step.level for step in self.severity]
        likelihoods = [band.level for band in self.likelihood.levels]
        names = [region.name for region in self.regions]
        _refuse_repeats("severity level", severities, "severity", "level")
        _refuse_repeats("likelihood level", likelihoods, "likelihood", "levels", "level")
        _refuse_repeats("region", names, "regions", "name")
        for row in likelihoods:
            if row not in self.matrix:
                raise FieldError(f"the matrix has no row for likelihood `{row}`", "matrix")
        for row, cells in self.matrix.items():
            if row not in likelihoods:
                raise FieldError(f"the matrix has a row `{row}`, which is no likelihood level", "matrix", row)
            for column in severities:
                if column not in cells:
                    raise FieldError(f"row `{row}` of the matrix has no cell for severity `{column}`", "matrix", row)
            for column, name in cells.items():
                if column not in severities:
                    raise FieldError(f"cell `{column}` is no severity level of this policy", "matrix", row, column)
                if name not in names:
                    raise FieldError(
                        f"the cell says `{name}`, which is no region of this policy", "matrix", row, column
                    )
        if self.severe_from is not None and self.severe_from not in severities:
            raise FieldError(f"`{self.severe_from}` is no severity level of this policy", "severe_from")
        return self

    def severity_rank(self, level: str) -> int:
        """Place on the severity scale, by label or word, 0 for the least; -1 where the policy has no such level."""
        return _rank(level, self.severity)

    def likelihood_rank(self, level: str) -> int:
        """Place on the likelihood scale, by label or word, 0 for the most likely; -1 where there is no such level."""
        return _rank(level, self.likelihood.levels)

    def region_rank(self, name: str) -> int:
        """Place in the list of regions, 0 for the one that asks most; -1 where there is none of that name."""
        return next((place for place, region in enumerate(self.regions) if region.name == name), -1)

    def region(self, likelihood: str, severity: str) -> Region:
        """The region of one cell, by labels or words. Both must be on the scales."""
        row = self.likelihood.levels[self.likelihood_rank(likelihood)].level
        name = self.matrix[row][self.severity[self.severity_rank(severity)].level]
        return self.regions[self.region_rank(name)]

    @property
    def severe_rank(self) -> int:
        """Severity rank from which harm counts as severe."""
        if self.severe_from is not None:
            return self.severity_rank(self.severe_from)
        return max(len(self.severity) - 2, 0)


def _rank(level: str, scale: Sequence[SeverityLevel | LikelihoodLevel]) -> int:
    """Place of a level by its label or, in any case, its word; -1 where it is neither."""
    for place, step in enumerate(scale):
        if step.level == level:
            return place
    word = level.casefold()
    return next((place for place, step in enumerate(scale) if step.word.casefold() == word), -1)


def _refuse_repeats(what: str, labels: list[str], *path: str) -> None:
    *groups, last = path
    for place, label in enumerate(labels):
        if label in labels[:place]:
            raise FieldError(f"the {what} `{label}` is listed twice", *groups, place, last)
