"""Sound levels: what several make together, what is left farther away, a day's share, and whether an alarm is heard."""

from __future__ import annotations

import math
from types import MappingProxyType

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome

SHIFT = 8 * 3600.0
"""Working day to which exposures are referred [s]."""


def together(levels: tuple[float, ...]) -> float:
    """Level of independent sources together [dB]."""
    loudest = max(levels)
    return loudest + 10 * math.log10(math.fsum(10 ** ((each - loudest) / 10) for each in levels))


def _sum(levels: tuple[float, ...]) -> Outcome:
    total = together(levels)
    return Outcome({"total": total, "over_loudest": total - max(levels)})


SOUND_SUM = Model(
    name="sound-sum",
    title="level of several sound sources together",
    formula="total = 10 log10(sum of 10^(level / 10))",
    source="addition of independent sources by energy",
    holds="sources that do not keep step with each other, all levels taken at one place with one weighting",
    givens=(Given("levels", "list", "levels at that place", "dB", items=("sound level",)),),
    finds=(
        Found("total", "sound level", "dB", "level together"),
        Found("over_loudest", "sound level", "dB", "how far that lies over the loudest one"),
    ),
    function=_sum,
    checks=(
        Check(
            {"levels": "58 dB, 55 dB, 62 dB"}, "total", "64.0 dB", "constructed", "hand-worked sheet M14", abs="0.05 dB"
        ),
        Check(
            {"levels": "62 dB, 73 dB"},
            "total",
            "73.3 dB",
            "published",
            "worked example on an acoustics page, read",
            abs="0.05 dB",
        ),
        Check(
            {"levels": "35 dB, 40 dB, 45 dB"},
            "total",
            "46.5 dB",
            "published",
            "worked example in a manual on noise in town planning, chapter 2.4.2, read",
            abs="0.05 dB",
        ),
        Check(
            {"levels": "90 dB, 90 dB"},
            "total",
            "93 dB",
            "published",
            "two equal sources add 3 dB, any textbook of acoustics",
            abs="0.05 dB",
        ),
        Check({"levels": "70 dB"}, "total", "70 dB", "limit", "one source is itself", abs="1e-9 dB"),
    ),
    example={"levels": "58 dB, 55 dB, 62 dB"},
    traps=("Were all of them measured at the same place and with the same weighting?",),
)


def _distance(level: float, measured_at: float, listener: float) -> Outcome:
    if measured_at <= 0 or listener <= 0:
        raise EngineeringError("sound-distance: both distances must be more than nothing", "measure them in m")
    change = -20 * math.log10(listener / measured_at)
    remarks = ("in a room the level falls less than this",) if listener > measured_at else ()
    return Outcome({"level": level + change, "change": change}, remarks)


SOUND_DISTANCE = Model(
    name="sound-distance",
    title="sound level at another distance",
    formula="level at the listener = level - 20 log10(listener / measured_at)",
    source="free field of a small source",
    holds="outdoors or in a dead room, farther away than the source is large, nothing in between",
    givens=(
        Given("level", "sound level", "level that was measured", "dB", None, "-20 dB", "160 dB"),
        Given("measured_at", "length", "distance at which it was measured", "m", "1 m", "0.01 m", "1000 m"),
        Given("listener", "length", "distance of the listener", "m", None, "0.01 m", "10000 m"),
    ),
    finds=(
        Found("level", "sound level", "dB", "level at the listener"),
        Found("change", "sound level", "dB", "change against the measured level"),
    ),
    function=_distance,
    checks=(
        Check(
            {"level": "72 dB", "listener": "3 m"},
            "level",
            "62.5 dB",
            "constructed",
            "hand-worked sheet M14",
            abs="0.05 dB",
        ),
        Check(
            {"level": "72 dB", "listener": "2 m"},
            "change",
            "-6 dB",
            "published",
            "6 dB for each doubling of the distance, any textbook of acoustics",
            abs="0.05 dB",
        ),
        Check({"level": "72 dB", "listener": "1 m"}, "level", "72 dB", "limit", "same place, same level", rel=1e-12),
    ),
    example={"level": "72 dB(A)", "listener": "3 m"},
    traps=("Is there a wall or a door in between?", "Was the background taken off the measured level?"),
)


def _dose(level: float, time: float, mark: float | None) -> Outcome:
    if time <= 0:
        raise EngineeringError("sound-dose: no time, no dose", "give time, such as 4 h")
    daily = level + 10 * math.log10(time / SHIFT)
    values = {"daily": daily}
    if mark is not None:
        values["share"] = 10 ** ((daily - mark) / 10)
        values["time_to_mark"] = SHIFT * 10 ** ((mark - level) / 10)
    remarks = ("the mark is an assumption that needs an owner and a source",) if mark is not None else ()
    return Outcome(values, remarks)


SOUND_DOSE = Model(
    name="sound-dose",
    title="sound exposure referred to a day of eight hours",
    formula="daily = level + 10 log10(time / 8 h)",
    source="equal energy, as in ISO 1999 and NIOSH 98-126",
    holds="a steady level at the ear, nothing loud in the rest of the day",
    givens=(
        Given("level", "sound level", "level at the ear", "dB", None, "0 dB", "160 dB"),
        Given("time", "time", "time for which it lasts", "h", None, "0.01 s", "24 h"),
        Given("mark", "sound level", "daily level that counts as a full dose", "dB", "", "40 dB", "120 dB"),
    ),
    finds=(
        Found("daily", "sound level", "dB", "level of eight hours with the same energy"),
        Found("share", "fraction", "percent", "dose as a share of the mark"),
        Found("time_to_mark", "time", "h", "time at this level that makes a full dose"),
    ),
    function=_dose,
    checks=(
        *(
            Check(
                {"level": level, "time": time},
                "daily",
                "85 dB",
                "published",
                "NIOSH table of 100 % doses (publication 98-126), read on its page",
                abs="0.06 dB",
            )
            for level, time in (
                ("85 dB(A)", "8 h"),
                ("88 dB(A)", "4 h"),
                ("91 dB(A)", "2 h"),
                ("94 dB(A)", "60 min"),
                ("97 dB(A)", "30 min"),
                ("100 dB(A)", "15 min"),
            )
        ),
        Check(
            {"level": "95 dB", "time": "48 min", "mark": "85 dB"},
            "share",
            "100 %",
            "limit",
            "ten decibels more are ten times the energy, in a tenth of the time",
            rel=1e-9,
        ),
    ),
    example={"level": "72 dB(A)", "time": "24 h", "mark": "85 dB(A)"},
    traps=("Was it measured at the ear, inside of the hood or helmet?",),
)


def _alarm(alarm: float, measured_at: float, listener: float, loss: float, background: float, wanted: float) -> Outcome:
    heard = _distance(alarm, measured_at, listener).values["level"] - loss
    margin = heard - background
    remarks = ["in a room the level falls less than in the open, so this is a low estimate there"]
    if margin < wanted:
        remarks.append(f"the margin is {wanted - margin:.3g} dB less than the wanted {wanted:.3g} dB")
    return Outcome(
        {"margin": margin, "heard": heard, "reach": measured_at * 10 ** ((alarm - loss - background - wanted) / 20)},
        tuple(remarks),
    )


_SOUNDER = MappingProxyType({"alarm": "72 dB(A)", "listener": "3 m", "background": "50 dB(A)"})

ALARM_SOUND = Model(
    name="alarm-sound",
    title="how far an alarm stands out over the background",
    formula="margin = alarm - 20 log10(listener / measured_at) - loss - background",
    source="free field of a small source; a margin of 15 dB is the usual aim (subject of ISO 7731, look it up)",
    holds="levels with one weighting, a listener with normal hearing and uncovered ears, free field",
    givens=(
        Given("alarm", "sound level", "level of the alarm where it was measured", "dB", None, "0 dB", "160 dB"),
        Given("measured_at", "length", "distance at which it was measured", "m", "1 m", "0.01 m", "1000 m"),
        Given("listener", "length", "distance of the listener", "m", None, "0.01 m", "10000 m"),
        Given("loss", "sound level", "what walls and doors take away", "dB", "0 dB", "0 dB", "100 dB"),
        Given("background", "sound level", "background at the listener", "dB", None, "-10 dB", "140 dB"),
        Given(
            "wanted",
            "sound level",
            "wanted margin",
            "dB",
            "15 dB",
            "0 dB",
            "60 dB",
            asks="15 dB over the background are taken as the aim; look up the standard that applies",
        ),
    ),
    finds=(
        Found("margin", "sound level", "dB", "margin over the background"),
        Found("heard", "sound level", "dB", "level of the alarm at the listener"),
        Found("reach", "length", "m", "distance at which the margin is the wanted one"),
    ),
    function=_alarm,
    checks=(
        Check(
            _SOUNDER,
            "heard",
            "62.5 dB",
            "constructed",
            "hand-worked sheet M14: 72 dB at 1 m heard at 3 m",
            abs="0.05 dB",
        ),
        Check(_SOUNDER, "margin", "12.5 dB", "constructed", "62.5 dB less 50 dB", abs="0.05 dB"),
        Check(
            _SOUNDER | {"listener": "2 m", "wanted": "16 dB"},
            "reach",
            "2 m",
            "published",
            "6 dB for each doubling of the distance, any textbook of acoustics",
            abs="0.01 m",
        ),
    ),
    example=_SOUNDER,
    traps=(
        "Was the background measured with everything running, at the place of the listener?",
        "Does the listener wear ear protection, or sleep?",
        "Is the alarm as loud with a low battery?",
    ),
)
