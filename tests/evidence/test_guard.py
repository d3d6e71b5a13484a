"""A reading against a limit: the words, the edges, and what passes wrongly."""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, strategies as st
from mpmath import mp
from scipy.special import owens_t

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.guard import acceptance_interval, guard_factor_for, judge_reading
from riskkit.evidence.wrong_passes import global_risk, specific_risk

# The case of the design (job.md 1.5 no. 55, M20, S3): an opening pressure with U 0.30 against a limit of 18.0. Constructed.
WORDS = [(17.2, "meets"), (17.6, "meets"), (17.4, "meets"), (17.3, "meets"), (17.8, "cannot tell"), (17.9, "cannot tell"), (18.31, "does not meet")]  # fmt: skip


@pytest.mark.parametrize(("value", "word"), WORDS)
def test_opening_pressures_are_judged_with_a_guard_band(value: float, word: str) -> None:
    judged = judge_reading(value, 0.30, upper=18.0, unit="hPa")
    assert judged.word == word
    assert judged.acceptance_upper == pytest.approx(17.70, abs=1e-12)
    assert judged.acceptance_lower is None
    assert judged.margin == pytest.approx(18.0 - value)
    assert f"{value:g} hPa" in judged.because
    assert "guard band of 0.3 hPa" in judged.because


def test_the_chance_of_truth_beyond_the_limit() -> None:
    # M20 of the design: 0.4 % at 17.6 and 9.1 % at 17.8; z = 2.667 and 1.333 in any table of the normal distribution.
    assert judge_reading(17.6, 0.30, upper=18.0).probability_outside == pytest.approx(0.0038, abs=5e-5)
    assert judge_reading(17.8, 0.30, upper=18.0).probability_outside == pytest.approx(0.0912, abs=5e-5)
    # Trap: U and not u in the exponent would give 9.1 % at 17.6 already.
    assert specific_risk(17.6, 0.30, upper=18.0) == pytest.approx(0.0912, abs=5e-5)


@pytest.mark.parametrize(
    ("limit", "uncertainty"), [(18.0, 0.30), (0.3, 0.1), (1013.25, 0.05), (2e-9, 3e-10), (0.0, 0.7)]
)
@pytest.mark.parametrize("sign", [1, -1])
def test_a_reading_on_the_edge_of_acceptance_meets_whatever_binary_says(
    limit: float, uncertainty: float, sign: int
) -> None:
    from decimal import Decimal

    edge = float(Decimal(str(limit)) - Decimal(str(uncertainty)))
    if sign > 0:
        assert judge_reading(edge, uncertainty, upper=limit).word == "meets"
        assert judge_reading(edge + uncertainty * 1e-6, uncertainty, upper=limit).word == "cannot tell"
    else:
        assert judge_reading(-edge, uncertainty, lower=-limit).word == "meets"
        assert judge_reading(-edge - uncertainty * 1e-6, uncertainty, lower=-limit).word == "cannot tell"
    beyond = float(Decimal(str(limit)) + Decimal(str(uncertainty)))
    assert judge_reading(beyond, uncertainty, upper=limit).word == "cannot tell"
    assert judge_reading(beyond + uncertainty * 1e-6, uncertainty, upper=limit).word == "does not meet"


def test_without_an_uncertainty_nobody_can_tell() -> None:
    judged = judge_reading(1.0, None, upper=18.0)
    assert judged.word == "cannot tell"
    assert judged.probability_outside is None
    assert judged.margin == 17.0
    assert "no uncertainty is stated" in judged.because


def test_limits_closer_than_two_guard_bands_can_never_be_met() -> None:
    judged = judge_reading(5.0, 0.6, lower=4.5, upper=5.5)
    assert judged.word == "cannot tell"
    assert "no reading can meet" in judged.because
    assert judge_reading(7.0, 0.6, lower=4.5, upper=5.5).word == "does not meet"
    assert acceptance_interval(0.6, lower=4.5, upper=5.5).empty
    # Exactly two guard bands leave one point.
    assert judge_reading(5.0, 0.5, lower=4.5, upper=5.5).word == "meets"
    assert judge_reading(0.3, 0.1, lower=0.2, upper=0.4).word == "meets", "0.4 - 0.1 and 0.2 + 0.1 in binary"


def test_two_limits_count_both_sides() -> None:
    judged = judge_reading(5.0, 0.5, lower=4.5, upper=5.5)
    assert judged.probability_outside == pytest.approx(2 * 0.02275013194817921, rel=1e-12)  # z = 2, twice
    assert judge_reading(4.6, 0.2, lower=4.5, upper=5.5).because.count("lower limit 4.5") == 1
    assert judge_reading(4.2, 0.2, lower=4.5, upper=5.5).word == "does not meet"


def test_no_guard_band_is_said() -> None:
    judged = judge_reading(17.99, 0.3, upper=18, guard=0)
    assert judged.word == "meets"
    assert "no guard band" in judged.because
    assert judge_reading(18.01, 0.3, upper=18, guard=0).word == "does not meet"


def test_conformance_probability_of_a_voltage() -> None:
    # CV-59: y -5.47 V, u 0.05 V, upper limit -5.40 V -> 0.92 (.919243). JCGM 106:2012 clause 7, from memory.
    assert 1 - specific_risk(-5.47, 0.05, upper=-5.40) == pytest.approx(0.919243, abs=5e-7)


@pytest.mark.parametrize(("conformity", "z"), [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)])
def test_guard_factors_of_conformity_levels(conformity: float, z: float) -> None:
    # CV-61: JCGM 106 table of z for a probability of conformity, from memory. In multiples of u, so k = 1.
    assert guard_factor_for(1 - conformity, coverage_factor=1) == pytest.approx(z, abs=0.0051)
    assert guard_factor_for(1 - conformity) == pytest.approx(guard_factor_for(1 - conformity, coverage_factor=1) / 2)


@pytest.mark.parametrize(
    ("guard", "percent", "ceiling"), [(0, 50, 50.0001), (0.83, 4.85, 5), (1, 2.3, 2.5), (1.5, 0.135, 0.16)]
)
def test_the_worst_wrong_pass_of_usual_guard_bands(guard: float, percent: float, ceiling: float) -> None:
    # CV-62: ILAC-G8:09/2019 table 1 and ISO 14253-1, from memory. U = 2u; the reading lies on the acceptance limit.
    accept = acceptance_interval(0.3, upper=18, guard=guard).upper
    assert accept is not None
    risk = specific_risk(accept, 0.15, upper=18)
    assert 100 * risk == pytest.approx(percent, rel=0.012)
    assert 100 * risk < ceiling
    if guard:
        assert guard_factor_for(risk) == pytest.approx(guard, rel=1e-9)


def test_five_per_cent_moves_the_acceptance_limit_to_17_75() -> None:
    # M20: accept at 17.70 with g = U and at 17.75 with g = 1.645 u.
    assert acceptance_interval(0.30, upper=18, guard=guard_factor_for(0.05)).upper == pytest.approx(17.75, abs=0.005)
    assert guard_factor_for(0.5) == 0


@pytest.mark.parametrize("z", [0.5, 3, 8, 20, 37])
def test_small_chances_keep_their_digits(z: float) -> None:
    mp.dps = 40
    assert specific_risk(0, 1, upper=z) == pytest.approx(float(mp.erfc(mp.mpf(z) / mp.sqrt(2)) / 2), rel=1e-13)
    assert specific_risk(0, 1, lower=-z) == specific_risk(0, 1, upper=z)


def bivariate(x: float, y: float, rho: float) -> float:
    """P(X <= x, Y <= y) for standard normals by Owen's T function: nothing in common with numerical integration."""
    if math.isinf(x) or math.isinf(y):
        if min(x, y) == -math.inf:
            return 0.0
        return 0.5 * math.erfc(-min(x, y) / math.sqrt(2))
    root = math.sqrt(1 - rho * rho)
    ax = (y / x - rho) / root if x else math.copysign(math.inf, y)
    ay = (x / y - rho) / root if y else math.copysign(math.inf, x)
    half = 0.25 * (math.erfc(-x / math.sqrt(2)) + math.erfc(-y / math.sqrt(2)))
    return half - owens_t(x, ax) - owens_t(y, ay) - (0.5 if x * y < 0 or (x * y == 0 and x + y < 0) else 0)


CASES = [  # mean, sd, u, lower, upper, acceptance lower and upper
    (17.48, 0.277, 0.15, None, 18.0, None, 17.70),
    (0.1, 1.0, 0.2, -2.0, 2.0, -1.6, 1.6),
    (0.1, 1.0, 0.01, -2.0, 2.0, -2.02, 1.98),
    (1.5, 0.05, 1.0, 1.4, 1.6, 0.9, 2.2),
    (0.3, 1.0, 3.0, -0.5, None, 0.7, None),
]


@pytest.mark.parametrize("case", CASES)
def test_global_risk_agrees_with_the_bivariate_normal_distribution(case: tuple[float, ...]) -> None:
    mean, sd, u, lower, upper, alower, aupper = case
    rho = sd / math.hypot(sd, u)
    lo, hi = (
        (-math.inf if lower is None else (lower - mean) / sd),
        (math.inf if upper is None else (upper - mean) / sd),
    )
    alo = -math.inf if alower is None else (alower - mean) / math.hypot(sd, u)
    ahi = math.inf if aupper is None else (aupper - mean) / math.hypot(sd, u)

    def box(a: float, b: float, c: float, d: float) -> float:
        return bivariate(b, d, rho) - bivariate(a, d, rho) - bivariate(b, c, rho) + bivariate(a, c, rho)

    inf = math.inf
    risk = global_risk(*case)
    assert risk.consumer_risk == pytest.approx(box(-inf, lo, alo, ahi) + box(hi, inf, alo, ahi), abs=1e-14, rel=1e-9)
    assert risk.producer_risk == pytest.approx(box(lo, hi, -inf, alo) + box(lo, hi, ahi, inf), abs=1e-14, rel=1e-9)
    assert risk.accepted == pytest.approx(risk.consumer_risk + risk.conforming - risk.producer_risk, rel=1e-9)


@pytest.mark.parametrize("case", CASES)
def test_global_risk_is_what_a_simulated_process_shows(case: tuple[float, ...]) -> None:
    mean, sd, u, lower, upper, alower, aupper = case
    draws = 400_000
    random = np.random.default_rng(106)
    truth = random.normal(mean, sd, draws)
    reads = truth + random.normal(0, u, draws)
    inside = (truth >= (-np.inf if lower is None else lower)) & (truth <= (np.inf if upper is None else upper))
    taken = (reads >= (-np.inf if alower is None else alower)) & (reads <= (np.inf if aupper is None else aupper))
    risk = global_risk(*case)
    for told, seen in ((risk.consumer_risk, ~inside & taken), (risk.producer_risk, inside & ~taken)):
        error = math.sqrt(told * (1 - told) / draws)  # Monte Carlo error, one standard deviation
        assert abs(seen.mean() - told) < 4.5 * error + 1 / draws


def test_the_wrong_pass_on_the_edge_is_what_a_simulation_shows() -> None:
    # Readings on the acceptance limit, nothing known beforehand: truth is normal around the reading.
    random = np.random.default_rng(14253)
    draws = 400_000
    for wanted in (0.2, 0.05, 0.01):
        accept = acceptance_interval(0.3, upper=18, guard=guard_factor_for(wanted)).upper
        assert accept is not None
        seen = (random.normal(accept, 0.15, draws) > 18).mean()
        assert abs(seen - wanted) < 4 * math.sqrt(wanted * (1 - wanted) / draws)  # four Monte Carlo errors


def test_an_empty_acceptance_rejects_everything() -> None:
    risk = global_risk(0, 1, 0.5, -1, 1, 0.5, -0.5)
    assert risk.consumer_risk == 0
    assert risk.accepted == 0
    assert risk.producer_risk == pytest.approx(0.6826894921370859)  # one sigma, any table


def test_far_limits_give_the_tail_and_not_zero() -> None:
    # With no error of reading worth the name both risks are tiny, and far out they stay positive and finite.
    risk = global_risk(0, 1, 0.1, None, 20, None, 20)
    assert 0 < risk.consumer_risk < risk.producer_risk < 1e-80


BAD = [
    {"value": 1, "expanded_uncertainty": 0.1},
    {"value": 1, "expanded_uncertainty": 0, "upper": 2},
    {"value": 1, "expanded_uncertainty": -0.1, "upper": 2},
    {"value": 1, "expanded_uncertainty": math.nan, "upper": 2},
    {"value": 1, "expanded_uncertainty": math.inf, "upper": 2},
    {"value": math.nan, "expanded_uncertainty": 0.1, "upper": 2},
    {"value": "17", "expanded_uncertainty": 0.1, "upper": 2},
    {"value": True, "expanded_uncertainty": 0.1, "upper": 2},
    {"value": 1, "expanded_uncertainty": 0.1, "upper": math.inf},
    {"value": 1, "expanded_uncertainty": 0.1, "lower": 2, "upper": 2},
    {"value": 1, "expanded_uncertainty": 0.1, "lower": 3, "upper": 2},
    {"value": 1, "expanded_uncertainty": 0.1, "upper": 2, "guard": -1},
    {"value": 1, "expanded_uncertainty": 0.1, "upper": 2, "coverage_factor": 0},
    {"value": 1, "expanded_uncertainty": None},
    {"value": 1, "expanded_uncertainty": None, "upper": 2, "coverage_factor": 0},
]


@pytest.mark.parametrize("asked", BAD)
def test_what_cannot_be_judged_is_refused_in_one_sentence(asked: dict[str, float]) -> None:
    with pytest.raises(EvidenceError) as refused:
        judge_reading(**asked)  # type: ignore[arg-type]
    assert refused.value.headline
    assert refused.value.help
    assert "\n" not in refused.value.headline


@pytest.mark.parametrize("wanted", [0, 1, 0.51, -0.1, math.nan, "0.05", None])
def test_no_guard_band_is_wide_enough_for_certainty(wanted: float) -> None:
    with pytest.raises(EvidenceError):
        guard_factor_for(wanted)


def test_global_risk_stays_a_probability_at_the_ends_of_the_scale() -> None:
    for mean, sd, u in ((0, 1e150, 1e-150), (0, 1e-150, 1e100), (1e6, 1, 0.1), (0, 1, 1e-12)):
        risk = global_risk(mean, sd, u, -1, 1, -1, 1)
        assert 0 <= risk.consumer_risk <= 1
        assert 0 <= risk.producer_risk <= 1


def test_a_limit_needs_its_acceptance_limit() -> None:
    with pytest.raises(EvidenceError, match="lower limit has no acceptance limit"):
        global_risk(0, 1, 0.1, -1, 1, None, 1)
    with pytest.raises(EvidenceError):
        global_risk(0, 0, 0.1, -1, 1, -1, 1)


@given(
    st.floats(-1e6, 1e6),
    st.floats(1e-6, 1e6),
    st.floats(-1e6, 1e6),
    st.floats(1e-6, 1e6),
    st.sampled_from([0, 0.5, 1, 1.5]),
)
def test_a_word_never_outruns_its_guard_band(
    value: float, uncertainty: float, lower: float, width: float, guard: float
) -> None:
    judged = judge_reading(value, uncertainty, lower=lower, upper=lower + width, guard=guard)
    band = guard * uncertainty
    tiny = 1e-9 * (abs(lower) + width + uncertainty)
    if judged.word == "meets":
        assert judged.margin >= band - tiny
    elif judged.word == "does not meet":
        assert judged.margin <= -band + tiny
    else:
        assert -band - tiny <= judged.margin <= band + tiny or width < 2 * band + tiny
    assert judged.probability_outside is not None
    assert 0 <= judged.probability_outside <= 1
    mirrored = judge_reading(-value, uncertainty, lower=-lower - width, upper=-lower, guard=guard)
    assert mirrored.word == judged.word


def test_judging_loads_neither_numpy_nor_scipy() -> None:
    code = "import sys\nfrom riskkit.evidence import judge_reading, guard_factor_for\njudge_reading(1, .1, upper=2, guard=guard_factor_for(.05))\nprint('numpy' in sys.modules, 'scipy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "False"]


def test_a_guard_band_of_almost_nothing_is_still_kept() -> None:
    # On the limit the true value is outside half of the time, however small the uncertainty (JCGM 106, elementary).
    for expanded in (1e-3, 1e-9, 1e-12):
        on_it = judge_reading(1800, expanded, upper=1800)
        assert (on_it.word, on_it.probability_outside) == ("cannot tell", 0.5)
    assert judge_reading(17.7, 0.3, upper=18.0).word == "meets"
