"""The answers that a trace gives: numbers that name their unit and method, and what could not be answered."""

from __future__ import annotations

from dataclasses import dataclass

from riskkit.evidence.answers import Interval


@dataclass(frozen=True, slots=True)
class Metric:
    """One number of a trace.

    Attributes:
        key: Stable name for machines, such as "cycle_rate".
        name: Name for people.
        value: The number.
        unit: Its unit; empty where the column states none, "1" for a share or a count.
        method: How it is got, in words.
        sd: Standard deviation from cycle to cycle; None where there are no cycles to compare.
        least: Smallest over the cycles; None as above.
        most: Largest over the cycles; None as above.
        at: Time at which it happens [s]; None where it has no place.
        interval: Interval for the number, where a statistic stands behind it.
        distrust: Why it cannot be trusted; empty where nothing speaks against it.
    """

    key: str
    name: str
    value: float
    unit: str
    method: str
    sd: float | None = None
    least: float | None = None
    most: float | None = None
    at: float | None = None
    interval: Interval | None = None
    distrust: str = ""


@dataclass(frozen=True, slots=True)
class WorstCycle:
    """The cycle that stands out.

    Attributes:
        number: Its number, from 1.
        start: Its beginning [s].
        end: Its end [s].
        because: Why it is the worst, one sentence.
        value: The reading that makes it the worst; None where it is a length of time.
        at: Time of that reading [s].
    """

    number: int
    start: float
    end: float
    because: str
    value: float | None
    at: float


@dataclass(frozen=True, slots=True)
class Reached:
    """Whether an expected level is reached.

    Attributes:
        level: What was expected, in the unit of the column.
        tolerance: How far away a held level may lie.
        reached: The answer.
        nearest: The held level next to it, or the nearest reading where nothing is held.
        because: The reason, one sentence.
    """

    level: float
    tolerance: float
    reached: bool
    nearest: float
    because: str


@dataclass(frozen=True, slots=True)
class Measured:
    """Everything that was measured on one column of a recording.

    Attributes:
        recording: Name of the recording.
        column: Name of the column.
        unit: Its unit.
        samples: Samples in the part that was measured.
        missing: Samples of them without a reading; samples that the clock jumped over are counted too.
        start: First time [s].
        end: Last time [s].
        interval: Time between samples [s].
        cycles: Complete cycles; None where there are none.
        no_cycles_because: The reason; empty where there are cycles.
        flagged: Numbers of the cycles, from 1, in which readings are missing.
        metrics: The numbers.
        worst: The cycle that stands out; None without cycles.
        reached: One answer for each expected level.
        cautions: What must be known before a number is used, one sentence each.
        notes: What was found while reading.
    """

    recording: str
    column: str
    unit: str
    samples: int
    missing: int
    start: float
    end: float
    interval: float
    cycles: int | None
    no_cycles_because: str
    flagged: tuple[int, ...]
    metrics: tuple[Metric, ...]
    worst: WorstCycle | None
    reached: tuple[Reached, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]

    def get(self, key: str) -> Metric | None:
        """The metric of that name, or None where it could not be measured."""
        return next((each for each in self.metrics if each.key == key), None)
