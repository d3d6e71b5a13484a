"""A case on a table: how far it may tilt, which push tips it, and what a fall brings."""

from __future__ import annotations

import math
from types import MappingProxyType

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome


def _tip(
    mass: float,
    half_base: float,
    centre_height: float,
    push_height: float,
    hose_pull: float,
    hose_height: float | None,
    slope: float,
    friction: float | None,
    drop_height: float | None,
    gravity: float,
) -> Outcome:
    if min(mass, half_base, centre_height, push_height) <= 0:
        raise EngineeringError(
            "tip-and-drop: mass and lengths must be more than nothing", "measure them from the edge over which it tips"
        )
    if hose_pull and hose_height is None:
        raise EngineeringError("tip-and-drop: at which height does the hose pull?", "give hose_height, such as 200 mm")
    weight = mass * gravity
    upright = weight * (half_base * math.cos(slope) - centre_height * math.sin(slope))
    push = (upright - hose_pull * (hose_height or 0.0)) / push_height
    values = {"push": push, "angle": math.atan(half_base / centre_height)}
    remarks = []
    outside = ("it tips by itself, without a push",) if push < 0 else ()
    if friction is not None:
        slide = weight * (friction * math.cos(slope) - math.sin(slope)) - hose_pull
        values["slide"] = slide
        if 0 <= slide < push:
            remarks.append(f"it slides at {slide:.3g} N before it tips: look at what it slides off, or against")
    if drop_height is not None:
        if drop_height < 0:
            raise EngineeringError("tip-and-drop: a fall goes down", "give drop_height as a height above the floor")
        values["energy"] = weight * drop_height
        values["speed"] = math.sqrt(2 * gravity * drop_height)
    return Outcome(values, tuple(remarks), outside)


_CASE = MappingProxyType({"mass": "3.4 kg", "half_base": "90 mm", "centre_height": "140 mm", "push_height": "260 mm"})

TIP_AND_DROP = Model(
    name="tip-and-drop",
    title="push and angle that tip a case, and what a fall brings",
    formula="push = (mass g half_base - hose_pull hose_height) / push_height; tan(angle) = half_base / centre_height; "
    "energy = mass g drop_height",
    source="moments about the edge; energy of a fall",
    holds="rigid case on a hard floor, a slow push, no sliding; a shove or a moving trolley tips it at less",
    givens=(
        Given("mass", "mass", "mass", "kg", None, "1 g", "10000 kg"),
        Given(
            "half_base", "length", "distance from the centre of mass to the edge, seen from above", "mm", None, "1 mm"
        ),
        Given("centre_height", "length", "height of the centre of mass", "mm", None, "1 mm", "10 m"),
        Given("push_height", "length", "height of the push", "mm", None, "1 mm", "10 m"),
        Given("hose_pull", "force", "steady sideways pull of hose and cables", "N", "0 N", "0 N", "10 kN"),
        Given("hose_height", "length", "height at which they pull", "mm", "", "0 mm", "10 m"),
        Given("slope", "angle", "slope of the floor, downhill to the edge", "deg", "0 deg", "0 deg", "45 deg"),
        Given("friction", "number", "friction of the feet", "", "", "0", "2"),
        Given("drop_height", "length", "height of a fall", "m", "", "0 m", "100 m"),
        Given("gravity", "m/s2", "gravity", "m/s2", "9.80665 m/s2", "9.7 m/s2", "9.9 m/s2"),
    ),
    finds=(
        Found("push", "force", "N", "push that tips it"),
        Found("angle", "angle", "deg", "tilt at which it falls over by itself"),
        Found("slide", "force", "N", "push at which it slides"),
        Found("energy", "energy", "J", "energy of the fall"),
        Found("speed", "speed", "m/s", "speed at the floor"),
    ),
    function=_tip,
    checks=(
        Check(_CASE, "angle", "32.7 deg", "constructed", "hand-worked sheet M16", abs="0.05 deg"),
        Check(_CASE, "push", "11.5 N", "constructed", "hand-worked sheet M16", abs="0.05 N"),
        Check(_CASE | {"drop_height": "1 m"}, "energy", "33 J", "constructed", "hand-worked sheet M16", abs="0.5 J"),
        Check(
            _CASE | {"drop_height": "1 m"},
            "speed",
            "4.43 m/s",
            "published",
            "fall of one metre, school physics, from memory",
            abs="0.005 m/s",
        ),
        Check(
            _CASE | {"slope": "32.735226 deg"},
            "push",
            "0 N",
            "limit",
            "on a slope of the tipping angle it needs no push",
            abs="0.0001 N",
        ),
        Check(_CASE | {"half_base": "140 mm"}, "angle", "45 deg", "limit", "as far to the edge as high", rel=1e-9),
    ),
    example=_CASE | {"drop_height": "0.5 m"},
    traps=(
        "Over which edge: the nearest one to the centre of mass?",
        "Where is the centre of mass with battery and hose in place?",
        "A hose that is pulled counts as a push at its height.",
    ),
    aliases=("tip",),
)
