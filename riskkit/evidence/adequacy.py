"""Is the sampling fast enough for what is read from it?"""

from __future__ import annotations

from dataclasses import dataclass

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.saying import say_seconds

LEAST_PER_RISE = 10.0
"""Samples in a rise from 10 % to 90 % below which its shape and its peak cannot be trusted."""

RISE_OF_FIRST_ORDER = 2.1972245773362196
"""10-90 rise of a first-order system in time constants: the natural logarithm of 9."""

DOUBTFUL = ("rise_time", "fall_time", "overshoot", "undershoot", "settling_time", "highest", "lowest")
"""Metrics that slow sampling spoils."""


@dataclass(frozen=True, slots=True)
class Adequacy:
    """How the sampling compares with the fastest edge.

    Attributes:
        rise: 10-90 rise or fall, whichever is shorter [s].
        samples_per_rise: Samples in it.
        rate: Sample rate [Hz].
        needed_rate: Least sample rate for that rise [Hz].
        adequate: Whether there are at least ten samples in it.
        because: The answer as a sentence.
    """

    rise: float
    samples_per_rise: float
    rate: float
    needed_rate: float
    adequate: bool
    because: str


def sampling_adequacy(rise: float, interval: float) -> Adequacy:
    """Compare a sample interval with a 10-90 rise: ten samples are needed.

    A first-order system with a time constant of 0.12 s rises in 0.264 s and needs 38 Hz. A rise that takes less than
    two samples is not resolved: the true one may be much shorter, so that the needed rate is a lower bound.

    Args:
        rise: 10-90 rise time [s].
        interval: Sample interval [s].

    Raises:
        EvidenceError: where one of them is not positive.
    """
    if not (rise > 0 and interval > 0):
        raise EvidenceError("rise time and sample interval must be longer than nothing", "give both in seconds")
    samples = rise / interval
    needed = LEAST_PER_RISE / rise
    adequate = samples >= LEAST_PER_RISE * (1 - 1e-9)
    if adequate:
        because = (
            f"{samples:.3g} samples in the fastest edge of {say_seconds(rise)}, and {LEAST_PER_RISE:.0f} are needed"
        )
    elif samples >= 2:
        because = (
            f"only {samples:.2g} samples in the fastest edge of {say_seconds(rise)}, and {LEAST_PER_RISE:.0f} are needed: "
            f"record with at least {needed:.4g} Hz instead of {1 / interval:.4g} Hz"
        )
    else:
        because = (
            f"the fastest edge lies between two samples {say_seconds(interval)} apart, so that its true length is not known: "
            f"record with more than {LEAST_PER_RISE / interval:.4g} Hz instead of {1 / interval:.4g} Hz"
        )
    return Adequacy(rise, samples, 1 / interval, needed, adequate, because)
