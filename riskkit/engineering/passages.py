"""How air goes through holes, hoses and blowers: the physics that several bench models share.

Everything is in SI base units. Air is taken as incompressible, which costs less than 2 % up to 50 hPa.
"""

from __future__ import annotations

import bisect
import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import cast

from riskkit.engineering.models import EngineeringError

GRAVITY = 9.80665
"""Standard gravity [m/s2]; it varies by 0.5 % over the earth."""

LAMINAR_UP_TO = 2300.0
"""Reynolds number of a round hose up to which its flow is taken as laminar."""

TRANSITION = (2000.0, 4000.0)
"""Reynolds numbers between which the flow may be either."""

ROOM = "litres are counted at room condition"
"""Said with every flow: a litre of gas is nothing without its temperature and pressure."""

Points = tuple[tuple[float, float], ...]


def through_hole(area: float, coefficient: float, pressure: float, density: float) -> float:
    """Flow through a hole [m3/s]: Q = C A sqrt(2 p / rho); backwards where the pressure is below zero."""
    return math.copysign(coefficient * area * math.sqrt(2 * abs(pressure) / density), pressure)


def laminar_friction(reynolds: float) -> float:
    """Darcy's friction factor of laminar flow in a round hose (Hagen and Poiseuille)."""
    return 64 / reynolds


def blasius_friction(reynolds: float) -> float:
    """Darcy's friction factor of turbulent flow in a smooth hose, up to Re 1e5 (Blasius 1913)."""
    return float(0.3164 * reynolds**-0.25)


@dataclass(frozen=True, slots=True)
class Hose:
    """A round hose with air in it, in SI base units; `corrugation` multiplies its friction."""

    bore: float
    length: float
    fittings: float
    corrugation: float
    density: float
    viscosity: float

    def speed(self, flow: float) -> float:
        """Mean speed of the air [m/s]."""
        return flow / (math.pi * self.bore**2 / 4)

    def reynolds(self, flow: float) -> float:
        """Reynolds number of the bore."""
        return self.density * self.speed(flow) * self.bore / self.viscosity

    def drop(self, flow: float, friction: Callable[[float], float] | None = None) -> float:
        """Pressure lost from end to end [Pa], by the friction factor given or by the one of this Reynolds number."""
        if flow <= 0:
            return 0.0
        reynolds = self.reynolds(flow)
        if friction is None:
            friction = laminar_friction if reynolds < LAMINAR_UP_TO else blasius_friction
        losses = friction(reynolds) * self.length / self.bore * self.corrugation + self.fittings
        return losses * self.density * self.speed(flow) ** 2 / 2


def smooth_curve(points: Points) -> Callable[[float], float]:
    """A curve through measured points that rises and falls only where they do (no overshoot between them).

    Piecewise cubic with the slopes of Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300; it is the one
    that general-purpose libraries call PCHIP. Outside of the points it is not defined.

    Args:
        points: Two or more pairs, the first numbers rising.
    """
    xs, ys = [x for x, _ in points], [y for _, y in points]
    widths = [b - a for a, b in itertools.pairwise(xs)]
    rises = [(b - a) / width for (a, b), width in zip(itertools.pairwise(ys), widths, strict=True)]
    if len(points) == 2:
        slopes = [rises[0], rises[0]]
    else:
        inner = [_inner_slope(*each) for each in zip(widths, widths[1:], rises, rises[1:], strict=False)]
        first = _end_slope(widths[0], widths[1], rises[0], rises[1])
        last = _end_slope(widths[-1], widths[-2], rises[-1], rises[-2])
        slopes = [first, *inner, last]

    def value(x: float) -> float:
        place = min(max(bisect.bisect_right(xs, x) - 1, 0), len(widths) - 1)
        width, rise = widths[place], rises[place]
        start, end = slopes[place], slopes[place + 1]
        t = x - xs[place]
        square = (3 * rise - 2 * start - end) / width
        cube = (start + end - 2 * rise) / width**2
        return ys[place] + t * (start + t * (square + t * cube))

    return value


def _inner_slope(left: float, right: float, before: float, after: float) -> float:
    if before * after <= 0:
        return 0.0
    near, far = 2 * right + left, right + 2 * left
    return (near + far) / (near / before + far / after)


def _end_slope(width: float, beside: float, rise: float, next_rise: float) -> float:
    slope = ((2 * width + beside) * rise - width * next_rise) / (width + beside)
    if slope * rise <= 0:
        return 0.0
    return 3 * rise if rise * next_rise <= 0 and abs(slope) > abs(3 * rise) else slope


@dataclass(frozen=True, slots=True)
class Blower:
    """What a blower gives at one speed and air density, in SI base units.

    Attributes:
        pressure: Pressure rise at a flow.
        least: Smallest flow for which it is known.
        most: Largest flow for which it is known: the free flow, or the end of the measured curve.
        ends_free: Whether it gives no pressure any more at `most`.
        hump: Flow of the highest pressure, where the curve rises first; None where it only falls.
    """

    pressure: Callable[[float], float]
    least: float
    most: float
    ends_free: bool
    hump: float | None

    def agreements(self, system: Callable[[float], float]) -> tuple[tuple[float, float], ...]:
        """Spans of flow in which a system (see `at`) agrees with the blower, the largest flow first."""
        steps = 200 if self.hump is not None else 1
        flows = [self.most + (self.least - self.most) * step / steps for step in range(steps + 1)]
        sides = [system(flow) > 0 for flow in flows]
        return tuple((flows[place + 1], flows[place]) for place in range(steps) if sides[place] != sides[place + 1])

    def at(self, system: Callable[[float], float], what: str) -> tuple[float, int]:
        """The flow at which a system and the blower agree, and at how many flows they do.

        Args:
            system: A function of the flow that is above zero while the blower gives more than the system takes
                at that flow; where there are several, the largest flow is the answer.
            what: Names the system in a refusal.

        Raises:
            EngineeringError: where they would agree outside of the measured curve.
        """
        if system(self.most) > 0:
            raise EngineeringError(
                f"{what} takes more flow than the end of the blower's curve ({_litres(self.most)} at this speed)",
                "measure the curve further, up to no pressure",
            )
        spans = self.agreements(system)
        if spans:
            return falling_root(system, *spans[0]), len(spans)
        if self.least > 0:
            raise EngineeringError(
                f"{what} takes less flow than the blower's curve begins with ({_litres(self.least)} at this speed)",
                "measure the curve from no flow on",
            )
        if system(0.0) < 0:
            raise EngineeringError(
                f"{what} lets out less than flows in besides the blower, so gas runs backwards through it",
                "give the outlet or the leak that is open, or take the other flow away",
            )
        return 0.0, 1


def blower(
    pressure_at_no_flow: float | None,
    free_flow: float | None,
    curve: Points | None,
    speed_ratio: float,
    density_ratio: float = 1.0,
) -> Blower:
    """A blower from two numbers, p = s^2 p0 - (p0 / Q0^2) Q^2, or from its measured curve at full speed.

    Flow goes with the speed; pressure with its square and with the air's density (fan laws).

    Raises:
        EngineeringError: neither, or both, were given; a curve that begins or ends below no pressure.
    """
    formula = pressure_at_no_flow is not None and free_flow is not None
    if formula == (curve is not None) or (curve and (pressure_at_no_flow is not None or free_flow is not None)):
        raise EngineeringError(
            "a blower is known by its pressure at no flow and its free flow, or by its measured curve: one of both",
            "give pressure_at_no_flow and free_flow, or curve",
        )
    strength = speed_ratio**2 * density_ratio
    if curve is None:
        most, top = speed_ratio * cast(float, free_flow), strength * cast(float, pressure_at_no_flow)
        return Blower(lambda flow: top * (1 - (flow / most) ** 2), 0.0, most, True, None)
    if curve[0][0] < 0 or min(pressure for _, pressure in curve) < 0:
        raise EngineeringError(
            "the blower's curve has a flow or a pressure below zero", "give it from no flow to no pressure"
        )
    base = smooth_curve(curve)
    peak = max(curve, key=lambda pair: pair[1])
    falls_only = all(after[1] <= before[1] for before, after in itertools.pairwise(curve))
    return Blower(
        lambda flow: strength * base(flow / speed_ratio),
        speed_ratio * curve[0][0],
        speed_ratio * curve[-1][0],
        curve[-1][1] <= 1e-9 * peak[1],
        None if falls_only else speed_ratio * peak[0],
    )


def falling_root(function: Callable[[float], float], low: float, high: float) -> float:
    """Where a function that falls from above zero at `low` to zero or below at `high` passes zero, by halving."""
    for _ in range(200):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        if function(middle) > 0:
            low = middle
        else:
            high = middle
    return high


def _litres(flow: float) -> str:
    return f"{flow * 60000:.4g} L/min"
