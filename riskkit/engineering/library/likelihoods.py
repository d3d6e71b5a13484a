"""Arithmetic of likelihoods: chains of two, equipment that waits, parts that stand in for each other."""

from __future__ import annotations

import itertools
import math
from types import MappingProxyType

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome

SAME = 1e-9
"""Relative difference below which a probability is taken to lie on the edge of a bin (2e-3 x 5e-2 is 1e-4)."""


def _harm(situation: float, harm: float, per: str, exposures: float | None, edges: tuple[float, ...]) -> Outcome:
    if not (0 <= situation <= 1 and 0 <= harm <= 1):
        raise EngineeringError("likelihood: a probability lies between 0 and 1", "look at situation and harm")
    chance = situation * harm
    values = {"probability": chance}
    remarks = [f"per {per}: both numbers, and the bins, must be per {per}"]
    if per == "exposure":
        remarks = ["per exposure: what counts as one exposure must be written beside it"]
    edge: tuple[str, ...] = ()
    if exposures is not None:
        values["at_least_once"] = -math.expm1(exposures * math.log1p(-chance)) if chance < 1 else float(exposures > 0)
        values["expected"] = chance * exposures
    if any(high <= low for low, high in itertools.pairwise(edges)) or edges[0] <= 0:
        raise EngineeringError("likelihood: the edges of the bins must rise from above 0", "write 1e-6, 1e-4, 1e-2")
    values["bin"] = float(1 + sum(chance >= each * (1 - SAME) for each in edges))
    on = [each for each in edges if math.isclose(chance, each, rel_tol=SAME)]
    if on:
        edge = (f"{on[0]:g} is the edge of two bins: bins are [low, high), so it falls in the higher one",)
    return Outcome(values, tuple(remarks), (), edge)


LIKELIHOOD = Model(
    name="likelihood",
    title="probability of harm from a chain of two",
    formula="probability = situation harm; at least once = 1 - (1 - probability)^exposures",
    source="product of a probability and a conditional one, ISO 14971 annexes on P1 and P2 (subject)",
    holds="harm is meant given the situation; exposures independent of each other",
    givens=(
        Given("situation", "number", "probability of the hazardous situation in one exposure, P1", "", None, "0", "1"),
        Given("harm", "number", "probability that it then leads to harm, P2", "", None, "0", "1"),
        Given(
            "per",
            "word",
            "unit of exposure",
            default="exposure",
            choices=("exposure", "use", "demand", "hour", "day", "year", "device"),
        ),
        Given("exposures", "number", "number of exposures", "", "", "0", "1e12"),
        Given(
            "edges",
            "list",
            "edges of the bins, rising",
            default="1e-6, 1e-5, 1e-4, 1e-3, 1e-2",
            items=("number",),
            asks="bins of one decade from 1e-6 to 1e-2 are taken; give the edges of your own policy",
        ),
    ),
    finds=(
        Found("probability", "number", "", "probability of harm in one exposure"),
        Found("at_least_once", "number", "", "probability of harm at least once in all exposures"),
        Found("expected", "number", "", "expected number of harms in all exposures"),
        Found("bin", "number", "", "bin, counted from the lowest, which is 1"),
    ),
    function=_harm,
    checks=(
        Check(
            {"situation": "2e-3", "harm": "5e-2"},
            "probability",
            "1e-4",
            "constructed",
            "hand-worked sheet M26",
            rel=1e-12,
        ),
        Check(
            {"situation": "2e-3", "harm": "5e-2", "edges": "1e-6, 1e-5, 1e-4, 1e-3"},
            "bin",
            "4",
            "constructed",
            "hand-worked sheet M26: an edge falls in the higher bin",
            rel=1e-12,
        ),
        Check(
            {"situation": "0.05", "harm": "1", "exposures": "20"},
            "at_least_once",
            "0.64151408",
            "cross-check",
            "scipy 1.17.1, stats.binom.sf(0, 20, 0.05)",
            rel=1e-7,
        ),
        Check({"situation": "1", "harm": "0"}, "probability", "0", "limit", "no harm, no chance of it", abs="1e-15"),
    ),
    example={"situation": "2e-3", "harm": "5e-2", "exposures": "100"},
    traps=(
        "Per what: use, hour, patient, device and year? Both numbers and the bins must say the same.",
        "Is the second number given the situation, and not already multiplied?",
    ),
)


def mean_dormant(through: float) -> float:
    """Exact average of 1 - exp(-x) over x from 0 to `through`: the part of the interval spent failed and unseen."""
    if through < 1e-3:  # the closed form loses digits there
        return through / 2 - through**2 / 6 + through**3 / 24
    return 1 + math.expm1(-through) / through


def _dormant(rate: float, interval: float, coverage: float, repair: float) -> Outcome:
    if rate < 0 or interval < 0:
        raise EngineeringError("dormant: rate and interval cannot be negative", "look at both")
    unseen = (1 - coverage) * rate
    under_repair = rate * repair
    through = unseen * interval
    values = {
        "unavailability": through / 2 + under_repair,
        "exact": mean_dormant(through) + under_repair,
        "worst": -math.expm1(-through) + under_repair,
    }
    if values["unavailability"] > 1:
        return Outcome(values, (), ("a share above 1 means nothing: the interval is far too long for this rate",))
    edge: tuple[str, ...] = ()
    if through > 0.1:
        over = (through / 2) / mean_dormant(through) - 1
        edge = (
            f"rate times interval is {through:.2g}: the short formula is {over * 100:.2g} % high; take the exact one",
        )
    return Outcome(values, (), (), edge)


_HALF_YEAR = MappingProxyType({"interval": "4380 h", "repair": "8 h"})

DORMANT = Model(
    name="dormant",
    title="share of time in which a control that waits is failed unseen",
    formula="rate interval / 2; with coverage c and repair: rate ((1 - c)(interval / 2 + repair) + c repair); "
    "exact: 1 - (1 - exp(-x)) / x with x = (1 - c) rate interval",
    source="average over the test interval at a constant rate; IEC 61508-6 annex B, one channel",
    holds="constant rate, a test that finds every failure, as good as new after it",
    givens=(
        Given("rate", "frequency", "failure rate", "1/h", None, "0 1/h", "1000 1/h"),
        Given("interval", "time", "time between tests that would find it failed", "h", None, "0 h", "100 year"),
        Given("coverage", "fraction", "share of failures that show by themselves", "percent", "0 %", "0 %", "100 %"),
        Given("repair", "time", "time to repair", "h", "0 h", "0 h", "1 year"),
    ),
    finds=(
        Found("unavailability", "number", "", "mean unavailability, by the short formula"),
        Found("exact", "number", "", "mean unavailability, exact average over the interval"),
        Found("worst", "number", "", "unavailability at the end of the interval"),
    ),
    function=_dormant,
    checks=(
        Check(
            {"rate": "1e-4 1/h", "interval": "100 h"},
            "unavailability",
            "0.005",
            "constructed",
            "hand-worked sheet M26",
            rel=1e-9,
        ),
        Check(
            {"rate": "2e-6 1/h", "interval": "8760 h"},
            "unavailability",
            "8.76e-3",
            "published",
            "one channel of ISA-TR84.00.02 and IEC 61508-6, from memory",
            rel=1e-8,
        ),
        Check(
            {"rate": "2e-6 1/h", "interval": "8760 h"},
            "exact",
            "8.709064891e-3",
            "cross-check",
            "average of 1 - exp(-rate t) over the interval, check sheet CV-19, recomputed; scipy 1.17.1 quad in a test",
            rel=1e-8,
        ),
        *(
            Check(
                _HALF_YEAR | {"rate": f"{rate} 1/h", "coverage": coverage},
                "unavailability",
                expected,
                "published",
                "IEC 61508-6 table B.2, one channel, proof test each 6 months, from memory",
                rel=0.05,
            )
            for rate, row in (
                ("0.5e-7", ("1.1e-4", "4.4e-5", "1.1e-5", "1.5e-6")),
                ("2.5e-7", ("5.5e-4", "2.2e-4", "5.7e-5", "7.5e-6")),
                ("0.5e-6", ("1.1e-3", "4.4e-4", "1.1e-4", "1.5e-5")),
            )
            for coverage, expected in zip(("0 %", "60 %", "90 %", "99 %"), row, strict=True)
        ),
        Check({"rate": "0 1/h", "interval": "1 year"}, "exact", "0", "limit", "what cannot fail is there", abs="1e-15"),
    ),
    example={"rate": "1e-4 1/h", "interval": "100 h"},
    traps=(
        "Does the test find every way in which it can fail?",
        "Is the test really done, and written down, at this interval?",
    ),
    aliases=("dormant-unavailability",),
)


def _k_of_n(parts: float, needed: float, reliability: float | None, rate: float | None, time: float | None) -> Outcome:
    total, least = round(parts), round(needed)
    if abs(total - parts) > 1e-9 or abs(least - needed) > 1e-9 or not 1 <= least <= total:
        raise EngineeringError("k-of-n: parts and needed are whole numbers, 1 <= needed <= parts", "such as 3 and 2")
    if reliability is not None:
        if rate is not None or time is not None:
            raise EngineeringError("k-of-n was given a reliability and a rate", "give one of them")
        works, fails = reliability, 1 - reliability
    elif rate is not None and time is not None:
        works, fails = math.exp(-rate * time), -math.expm1(-rate * time)
    else:
        raise EngineeringError("k-of-n needs each part's reliability, or its rate and the time", "give reliability=0.9")

    def exactly(good: int) -> float:
        return math.comb(total, good) * works**good * fails ** (total - good)

    values = {
        "failure": math.fsum(exactly(good) for good in range(least)),
        "works": math.fsum(exactly(good) for good in range(least, total + 1)),
    }
    if rate:
        values["mean_time"] = math.fsum(1 / good for good in range(least, total + 1)) / rate
    remarks = ("the parts are taken as independent: one cause for all of them is not counted",) if total > 1 else ()
    return Outcome(values, remarks)


_THREE = MappingProxyType({"parts": "3", "needed": "2"})
_TEXTBOOK = "two out of three, any textbook of reliability, from memory"


def _failing(of: str, failures: int, expected: str) -> Check:
    given = {"parts": of, "needed": str(int(of) - failures + 1), "reliability": "0.9"}
    return Check(
        given, "failure", expected, "cross-check", "check sheet CV-22; scipy 1.17.1 stats.binom in a test", rel=1e-10
    )


K_OF_N = Model(
    name="k-of-n",
    title="parts that stand in for each other: at least so many of all must work",
    formula="works = sum over i >= needed of C(parts, i) r^i (1 - r)^(parts - i); r = exp(-rate time)",
    source="binomial distribution",
    holds="equal, independent parts that are not repaired; needed = parts is a chain in series",
    givens=(
        Given("parts", "number", "number of parts", "", None, "1", "1000"),
        Given("needed", "number", "number that must work", "", None, "1", "1000"),
        Given("reliability", "number", "probability that one part works", "", "", "0", "1"),
        Given("rate", "frequency", "failure rate of one part", "1/h", "", "0 1/h", "1000 1/h"),
        Given("time", "time", "time without repair", "h", "", "0 h", "1000 year"),
    ),
    finds=(
        Found("failure", "number", "", "probability that too few work"),
        Found("works", "number", "", "probability that enough work"),
        Found("mean_time", "time", "h", "mean time until too few work"),
    ),
    function=_k_of_n,
    checks=(
        Check(_THREE | {"reliability": "0.9"}, "works", "0.972", "published", _TEXTBOOK, rel=1e-9),
        Check(_THREE | {"reliability": "0.5"}, "works", "0.5", "published", _TEXTBOOK, rel=1e-9),
        Check(
            _THREE | {"rate": "1e-3 1/h", "time": "1 h"}, "mean_time", "833.3333333 h", "published", _TEXTBOOK, rel=1e-9
        ),
        Check(
            {"parts": "3", "needed": "3", "rate": "1e-5 1/h", "time": "1000 h"},
            "failure",
            "0.0295544665",
            "constructed",
            "check sheet CV-108, three in series",
            rel=2e-9,
        ),
        Check(
            {"parts": "2", "needed": "1", "rate": "1e-5 1/h", "time": "1000 h"},
            "failure",
            "9.900581e-5",
            "constructed",
            "check sheet CV-108, two in parallel",
            rel=1e-7,
        ),
        _failing("3", 2, "0.028"),
        _failing("4", 3, "0.0037"),
        _failing("5", 3, "0.00856"),
        _failing("7", 4, "0.002728"),
        Check(_THREE | {"reliability": "1"}, "failure", "0", "limit", "parts that always work", abs="1e-15"),
    ),
    example=_THREE | {"rate": "1e-5 1/h", "time": "1000 h"},
    traps=("Which one cause would take all of them: supply, firmware, the same sensor, the same builder?",),
    aliases=("voting",),
)
