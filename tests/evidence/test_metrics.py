"""Numbers of a trace against signals whose numbers are known: constructed from textbook formulas, and real recordings."""

from __future__ import annotations

import math
import os
from pathlib import Path

import numpy as np
import pytest
import scipy.stats
from hypothesis import given, settings, strategies as st

from riskkit.evidence import (
    EvidenceError,
    envelope,
    measure,
    read_recording,
    sampling_adequacy,
    time_beyond,
    time_to_alarm,
)
from riskkit.evidence.columns import Column
from riskkit.evidence.cycle_metrics import slope_per_hour
from riskkit.evidence.exceedance import Condition
from riskkit.evidence.levels import noise_of, smoothed, split_levels
from riskkit.evidence.measured import Measured
from riskkit.evidence.recordings import Recording

SHARED = Path(os.environ.get("RISKKIT_SHARED_DATA", Path(__file__).parents[3] / "shared" / "data"))


def shared(name: str) -> Path:
    path = SHARED / name
    if not path.is_file():
        pytest.skip(f"recorded bench data is not here: {path} (name its folder with RISKKIT_SHARED_DATA)")
    return path


def recording(
    values: np.ndarray, interval: float = 0.01, unit: str = "hPa", **others: tuple[str, np.ndarray]
) -> Recording:
    columns = [Column("pressure", unit, np.asarray(values, float))]
    columns += [Column(name, other, np.asarray(numbers, float)) for name, (other, numbers) in others.items()]
    count = len(values)
    return Recording("made", np.arange(count) * interval, interval, tuple(columns), (), np.arange(count) + 1, (), ())


def clock(seconds: float, interval: float = 0.01) -> np.ndarray:
    return np.arange(round(seconds / interval)) * interval


def square(t: np.ndarray, period: float = 5.0, duty: float = 0.4, low: float = 5.0, high: float = 15.0) -> np.ndarray:
    return np.where((t / period) % 1 < duty, high, low).astype(float)


def stepped(t: np.ndarray, answer: object, period: float, duty: float, low: float, high: float) -> np.ndarray:
    """A linear system driven by a square wave: the step answer of each edge, added up (superposition)."""
    assert callable(answer)
    values = np.full(len(t), float(low))
    for cycle in range(int(t[-1] / period) + 1):
        for edge, sign in ((cycle * period + 0.1, 1), (cycle * period + 0.1 + duty * period, -1)):
            after = t >= edge
            values[after] += sign * (high - low) * answer(t[after] - edge)
    return values


def first_order(tau: float) -> object:
    return lambda s: 1 - np.exp(-s / tau)


def second_order(zeta: float, omega: float) -> object:
    """Step answer of an underdamped system of second order (textbook, from memory)."""
    damped = omega * math.sqrt(1 - zeta**2)
    return lambda s: 1 - np.exp(-zeta * omega * s) * (np.cos(damped * s) + zeta * omega / damped * np.sin(damped * s))


def number(measured: Measured, key: str) -> float:
    found = measured.get(key)
    assert found is not None, (key, measured.no_cycles_because, measured.cautions)
    return found.value


# -- levels, rate, dwell ---------------------------------------------------------------------------


@pytest.mark.parametrize("period", [0.5, 1.7, 5.0])
@pytest.mark.parametrize("duty", [0.1, 0.4, 0.75])
@pytest.mark.parametrize(("low", "high"), [(5.0, 15.0), (-3.0, -2.9), (0.0, 4000.0)])
def test_a_square_wave_gives_its_own_numbers(period: float, duty: float, low: float, high: float) -> None:
    t = clock(20 * period)
    found = measure(recording(square(t, period, duty, low, high)))
    assert number(found, "cycle_rate") == pytest.approx(60 / period, rel=2e-3)
    assert number(found, "upper_level") == pytest.approx(high)
    assert number(found, "lower_level") == pytest.approx(low)
    assert number(found, "duty") == pytest.approx(duty, abs=0.011 / period)
    assert number(found, "inspiration_expiration_ratio") == pytest.approx(
        duty / (1 - duty), abs=0.05 / period * (1 + duty / (1 - duty))
    )
    assert number(found, "overshoot") == pytest.approx(0, abs=1e-9 * max(1, abs(high)))
    assert number(found, "longest_cycle") - number(found, "shortest_cycle") <= 0.0101


@pytest.mark.parametrize(
    "spoil",
    [
        pytest.param(lambda x, g: x + g.normal(0, 0.5, len(x)), id="noise"),
        pytest.param(lambda x, g: x + g.normal(0, 2.0, len(x)), id="strong noise"),
        pytest.param(lambda x, g: x + g.normal(0, 0.1, len(x)) + np.arange(len(x)) * 0.001, id="drift beyond the step"),
        pytest.param(lambda x, g: np.where(g.random(len(x)) < 0.002, 400.0, x + g.normal(0, 0.1, len(x))), id="spikes"),
        pytest.param(lambda x, g: np.round(x + g.normal(0, 0.1, len(x)), 0), id="coarse steps"),
    ],
)
def test_the_rate_survives_what_real_recordings_do(spoil: object) -> None:
    assert callable(spoil)
    t = clock(200)
    found = measure(recording(spoil(square(t), np.random.default_rng(7))))
    assert found.cycles in (38, 39)
    assert number(found, "cycle_rate") == pytest.approx(12, rel=2e-3)
    assert number(found, "duty") == pytest.approx(0.4, abs=0.01)
    assert number(found, "upper_level") - number(found, "lower_level") == pytest.approx(10, abs=0.3)


def test_a_spike_is_no_level_but_it_is_the_highest_reading() -> None:
    values = square(clock(200))
    values[7777] = 63.0
    found = measure(recording(values))
    assert number(found, "upper_level") == 15
    assert number(found, "overshoot") == 0
    assert number(found, "highest") == 63
    assert found.get("highest").at == pytest.approx(77.77)  # type: ignore[union-attr]
    assert found.worst is not None
    assert found.worst.start <= 77.77 <= found.worst.end
    assert "63" in found.worst.because


def test_an_inverted_signal_swaps_its_levels_and_dwells() -> None:
    t = clock(200)
    answer = stepped(t, second_order(0.4, 12), 5, 0.3, 0.0, 10.0)
    upright, inverted = measure(recording(answer)), measure(recording(-answer))
    for one, other, sign in (
        ("upper_level", "lower_level", -1), ("overshoot", "undershoot", 1), ("upper_dwell", "lower_dwell", 1), ("rise_time", "fall_time", 1),
    ):  # fmt: skip
        assert number(inverted, one) == pytest.approx(sign * number(upright, other), rel=1e-3, abs=2e-3)


# -- edges -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("tau", [0.05, 0.12, 0.3])
def test_a_first_order_rise_takes_2_197_time_constants(tau: float) -> None:
    # 10-90 rise of a first-order system: tau ln 9 (textbook; job.md M25)
    found = measure(recording(stepped(clock(100, 0.005), first_order(tau), 5, 0.5, 5, 15), 0.005))
    assert number(found, "rise_time") == pytest.approx(tau * math.log(9), rel=0.01)
    assert number(found, "fall_time") == pytest.approx(tau * math.log(9), rel=0.01)
    # into 5 % of the step: tau ln 20 from the edge, less tau ln(1/0.9) until 10 % of the rise
    assert number(found, "settling_time") == pytest.approx(tau * (math.log(20) - math.log(1 / 0.9)), rel=0.02)
    assert number(found, "inspiration_expiration_ratio") == pytest.approx(1, abs=0.01)


@pytest.mark.parametrize("zeta", [0.2, 0.3, 0.5, 0.7])
def test_overshoot_follows_from_the_damping(zeta: float) -> None:
    # overshoot = exp(-pi zeta / sqrt(1 - zeta^2)) of the step (textbook, from memory)
    found = measure(recording(stepped(clock(100, 0.002), second_order(zeta, 12.0), 10, 0.5, 5, 15), 0.002))
    share = math.exp(-math.pi * zeta / math.sqrt(1 - zeta**2))
    assert number(found, "overshoot") == pytest.approx(10 * share, abs=0.01)
    assert number(found, "overshoot_share") == pytest.approx(100 * share, abs=0.1)
    assert number(found, "undershoot") == pytest.approx(10 * share, abs=0.01)
    assert number(found, "upper_plateau") == pytest.approx(15, abs=0.02)


@pytest.mark.parametrize(("bore", "zeta", "overshoot", "settle"), [(0.006, 0.067, 81, 6.8), (0.003, 0.27, 42, 1.7)])
def test_a_u_tube_overshoots_as_its_bore_says(bore: float, zeta: float, overshoot: float, settle: float) -> None:
    # job.md M1: column of 450 mm, water; omega = sqrt(2 g / L), zeta = 16 nu / (d^2 omega), laminar estimate;
    # its numbers for 6 mm and 3 mm bore; 3 / (zeta omega) is where the envelope of the swinging reaches 5 %.
    omega = math.sqrt(2 * 9.80665 / 0.45)
    damping = 16 * 1.0e-6 / (bore**2 * omega)
    assert damping == pytest.approx(zeta, rel=0.01)
    found = measure(recording(stepped(clock(400), second_order(damping, omega), 80, 0.5, 0, 8)))
    assert number(found, "overshoot_share") == pytest.approx(overshoot, abs=0.6)
    assert 0.75 * settle < number(found, "settling_time") < 1.05 * settle


def test_sampling_that_is_fast_enough_by_the_design() -> None:
    # job.md M25: tau 0.12 s -> rise 0.264 s -> 38 Hz
    found = sampling_adequacy(0.12 * math.log(9), 1 / 100)
    assert found.rise == pytest.approx(0.264, abs=0.0005)
    assert found.needed_rate == pytest.approx(38, abs=0.1)
    assert found.adequate
    assert not sampling_adequacy(0.264, 1 / 37).adequate
    assert sampling_adequacy(0.264, 0.0264).adequate, "exactly ten samples are enough"
    for rise, interval in ((0, 0.01), (0.1, 0), (-1, 0.1)):
        with pytest.raises(EvidenceError):
            sampling_adequacy(rise, interval)


def test_slow_sampling_says_what_cannot_be_trusted() -> None:
    slow = measure(recording(stepped(clock(200, 0.05), second_order(0.3, 12), 5, 0.4, 5, 15), 0.05))
    for key in ("rise_time", "overshoot", "settling_time", "highest"):
        assert slow.get(key).distrust, key  # type: ignore[union-attr]
    assert not slow.get("cycle_rate").distrust  # type: ignore[union-attr]
    assert any("record with" in each for each in slow.cautions)
    fast = measure(recording(stepped(clock(200, 0.005), second_order(0.3, 12), 5, 0.4, 5, 15), 0.005))
    assert not any(each.distrust for each in fast.metrics)


def test_a_dwell_that_slopes_says_so_and_its_level_is_where_it_ends() -> None:
    t = clock(200)
    phase = (t / 5) % 1
    values = np.where(phase < 0.4, 9 + 6 * phase / 0.4, 5.0)
    found = measure(recording(values))
    assert number(found, "upper_level") == pytest.approx(15, abs=0.7)
    assert number(found, "upper_plateau") == pytest.approx(9 + 6 * 0.7, abs=0.3)
    assert number(found, "overshoot") == pytest.approx(15 - number(found, "upper_level"), abs=0.05)
    assert any("upper dwell slopes" in each for each in found.cautions)


# -- no cycles -------------------------------------------------------------------------------------

T = clock(100)
CHANCE = np.random.default_rng(20)


@pytest.mark.parametrize(
    ("values", "why"),
    [
        pytest.param(np.full(len(T), 5.0), "one value", id="constant"),
        pytest.param(5 + CHANCE.normal(0, 1, len(T)), "not two levels", id="noise"),
        pytest.param(T, "rises through its middle", id="ramp"),
        pytest.param(np.exp(-T / 20), "rises through its middle", id="decay"),
        pytest.param(np.where(T < 50, 5.0, 15.0), "1 time", id="one step"),
        pytest.param(np.where((T > 10) & (T < 30), 15.0, 5.0), "1 time", id="one pulse"),
        pytest.param(
            np.where(np.arange(len(T)) % 500 == 0, 15.0, 5.0) + CHANCE.normal(0, 0.02, len(T)),
            "not two levels",
            id="spikes",
        ),
        pytest.param(np.where(np.arange(len(T)) % 500 < 12, 15.0, 5.0), "spikes", id="wider spikes"),
        pytest.param(
            np.repeat([5.0, 15.0] * 10, CHANCE.integers(20, 980, 20))[: len(T)], "irregular|differ", id="no beat"
        ),
        pytest.param(np.array([1.0, 2.0, 3.0]), "3 readings", id="three readings"),
    ],
)
def test_a_signal_without_cycles_says_so_and_gives_no_rate(values: np.ndarray, why: str) -> None:
    found = measure(recording(values), levels=(1000, 2000))
    assert found.cycles is None
    assert found.get("cycle_rate") is None
    assert found.worst is None
    import re

    assert re.search(why, found.no_cycles_because), found.no_cycles_because
    assert not any(each.reached for each in found.reached)
    assert number(found, "highest") >= number(found, "lowest")


def test_chance_is_hardly_ever_taken_for_cycles() -> None:
    """300 random walks and 300 smooth noises of 5000 samples; at most 4 % may look like cycles (seeded)."""
    taken = 0
    for seed in range(300):
        chance = np.random.default_rng(seed)
        walk = np.cumsum(chance.normal(0, 1, 5000))
        smooth = np.convolve(chance.normal(0, 1, 5200), np.exp(-np.arange(200) / 50))[200:5200]
        taken += sum(measure(recording(each)).cycles is not None for each in (walk, smooth))
    assert taken <= 24


# -- gaps ------------------------------------------------------------------------------------------


def test_missing_readings_are_flagged_and_never_filled() -> None:
    values = square(clock(100))
    values[1001] = np.nan  # one sample in cycle 2
    values[5000:5200] = np.nan  # a whole upper dwell
    values[3050] = 99.0
    values[3051:3055] = np.nan
    found = measure(recording(values))
    assert found.missing == 205
    assert number(found, "cycle_rate") == pytest.approx(12, rel=1e-3)
    assert number(found, "longest_cycle") < 5.1, "a cycle whose beginning was not seen is no long cycle"
    assert len(found.flagged) == 3
    assert number(found, "highest") == 99
    assert any("205 samples are missing" in each for each in found.cautions)


def test_no_cycle_is_counted_across_a_clock_that_begins_again() -> None:
    rows = [(row % 5003 / 100, 15 if row % 5003 % 500 < 200 else 5) for row in range(2 * 5003)]
    found = measure(read_recording(("t [s],p [hPa]\n" + "\n".join(f"{t:.2f},{p}" for t, p in rows)).encode()))
    assert any("begins again" in each for each in found.notes)
    assert number(found, "cycle_rate") == pytest.approx(12, rel=1e-3)
    assert number(found, "longest_cycle") == pytest.approx(5, abs=0.02)


# -- limits, alarm, volume, drift ------------------------------------------------------------------


def test_time_above_a_limit_of_a_triangle_is_known_exactly() -> None:
    t = clock(10.01)
    triangle = 1 - np.abs((t % 2) - 1)  # five teeth, 0 to 1 to 0, each 2 s long: above 0.755 for 0.49 s each
    found = time_beyond(t, triangle, 0.755, "above")
    assert found.total == pytest.approx(5 * 0.49, abs=1e-9)
    assert found.longest == pytest.approx(0.49, abs=1e-9)
    assert found.stretches == 5
    assert found.longest_at is not None
    assert found.longest_at % 2 == pytest.approx(0.755, abs=1e-9)
    assert time_beyond(t, triangle, 0.755, "below").total == pytest.approx(10 - 5 * 0.49, abs=1e-9)
    assert time_beyond(t, triangle, 1.0, "above").total == 0, "a reading on the limit is not beyond it"
    gap = np.zeros(len(t), bool)
    gap[100] = True  # at the tip of the first tooth
    broken = time_beyond(t, triangle, 0.755, "above", gap)
    assert broken.stretches == 6
    assert broken.total == pytest.approx(5 * 0.49 - 0.01, abs=1e-9)
    assert broken.unseen == pytest.approx(0.01)


def test_time_to_alarm_from_a_moment_and_from_an_event() -> None:
    t = clock(20)
    pressure = np.clip(10 - np.clip(t - 5, 0, None), 0, None)  # falls from 5 s on, below 3 at 12 s
    buzzer = np.where(t > 14.505, 1.0, 0.0)
    made = recording(pressure, buzzer=("V", buzzer))
    low, sound = Condition("pressure", "below", 3.0), Condition("buzzer", "above", 0.5)
    assert time_to_alarm(made, low, sound).delay == pytest.approx(2.505, abs=0.006)
    assert time_to_alarm(made, 5.0, sound).delay == pytest.approx(9.505, abs=0.006)
    silent = time_to_alarm(recording(pressure, buzzer=("V", 0 * buzzer)), low, sound)
    assert silent.delay is None
    assert silent.watched == pytest.approx(7.99, abs=0.02)
    for event, alarm, words in (
        (Condition("pressure", "above", 99), sound, "never above"), (30.0, sound, "outside"), (16.0, sound, "already"),
    ):  # fmt: skip
        with pytest.raises(EvidenceError, match=words):
            time_to_alarm(made, event, alarm)


def test_volume_is_the_integral_of_flow_over_each_cycle() -> None:
    t = clock(100)
    flow = np.where((t / 5) % 1 < 0.4, 30.0, -20.0)  # 30 L/min for 2 s in: 1000 mL; 20 L/min for 3 s out: 1000 mL
    found = measure(recording(square(t), flow=("L/min", flow)))
    # one of 200 (300) intervals of each stretch is the edge itself, where straight lines lose a little
    assert number(found, "volume_in") == pytest.approx(1000, rel=5e-3)
    assert number(found, "volume_out") == pytest.approx(1000, rel=5e-3)
    flow[3333] = np.nan
    assert "the 17 cycles without a gap" in measure(recording(square(t), flow=("L/min", flow))).get("volume_in").method  # type: ignore[union-attr]


def test_drift_agrees_with_a_line_by_scipy() -> None:
    t = clock(1800, 0.05)
    values = square(t) + 2.0 * t / 3600 + np.random.default_rng(3).normal(0, 0.05, len(t))
    found = measure(recording(values, 0.05)).get("upper_drift")
    assert found is not None
    assert found.interval is not None
    assert found.interval.lower < 2.0 < found.interval.upper
    assert found.unit == "hPa/h"
    x, y = np.arange(30) * 7.0, np.random.default_rng(4).normal(0, 1, 30)
    ours = slope_per_hour(x, y, "hPa", "drift", "drift", "readings")
    theirs = scipy.stats.linregress(x / 3600, y)  # scipy as the outside check
    assert ours is not None
    assert ours.interval is not None
    assert ours.value == pytest.approx(theirs.slope, rel=1e-9)
    assert ours.interval.upper - ours.value == pytest.approx(scipy.stats.t.ppf(0.975, 28) * theirs.stderr, rel=1e-9)


def test_the_interval_of_the_drift_covers_as_often_as_it_says() -> None:
    """2000 lines with normal noise; Monte Carlo error of the coverage sqrt(0.95 * 0.05 / 2000) = 0.005, three of them allowed."""
    chance, x = np.random.default_rng(11), np.arange(12) * 60.0
    inside = 0
    for _ in range(2000):
        found = slope_per_hour(x, 3.0 * x / 3600 + chance.normal(0, 0.4, 12), "hPa", "drift", "drift", "readings")
        assert found is not None
        assert found.interval is not None
        inside += found.interval.lower <= 3.0 <= found.interval.upper
    assert inside / 2000 == pytest.approx(0.95, abs=0.015)


def test_the_worst_cycle_is_the_one_nearest_to_the_limit() -> None:
    values = square(clock(100))
    values[6100] = 15.9  # in cycle 13, which begins at 60 s
    values[2300:2310] = 4.2  # in the lower dwell of cycle 5
    found = measure(recording(values), at_most=16.0)
    assert found.worst is not None
    assert found.worst.at == pytest.approx(61.0)
    assert found.worst.start == pytest.approx(60, abs=0.02)
    assert "0.1 hPa inside the limit of 16 hPa" in found.worst.because
    found = measure(recording(values), at_least=4.5)
    assert found.worst is not None
    assert found.worst.at == pytest.approx(23.0)
    assert "beyond the limit of 4.5 hPa" in found.worst.because
    late = np.concatenate((square(clock(50)), np.full(60, 5.0), square(clock(50))))
    found = measure(recording(late))
    assert found.worst is not None
    assert "lasts 5.6 s" in found.worst.because


def test_levels_are_reached_or_not() -> None:
    found = measure(recording(square(clock(100), high=14.2)), levels=(15, 5))
    assert [each.reached for each in found.reached] == [True, True]
    assert found.reached[0].tolerance == pytest.approx(1.0), "a tenth of the span"
    found = measure(recording(square(clock(100), high=13.8)), levels=(15, 5))
    assert [each.reached for each in found.reached] == [False, True]
    assert "15 hPa is not reached" in found.reached[0].because
    assert "0 of 1" in found.reached[0].because
    for arguments, words in (
        ({"levels": (0.0,)}, "tolerance"),
        ({"band": 0.7}, "settling band"),
        ({"column": "flow"}, "no column"),
    ):
        with pytest.raises(EvidenceError, match=words):
            measure(recording(square(clock(100))), **arguments)  # type: ignore[arg-type]
    with pytest.raises(EvidenceError, match="fewer than two readings"):
        measure(recording(np.array([1.0, np.nan, np.nan])))


# -- parts -----------------------------------------------------------------------------------------


def test_the_split_is_where_the_variance_between_both_classes_is_largest() -> None:
    """Against every possible threshold, one by one (constructed)."""
    chance = np.random.default_rng(5)
    values = np.concatenate((chance.normal(0, 1, 700), chance.normal(8, 1.5, 300)))
    best = max(
        (float((values < cut).mean() * (values >= cut).mean() * (values[values >= cut].mean() - values[values < cut].mean()) ** 2), cut)
        for cut in np.sort(values)[1:]
    )  # fmt: skip
    found = split_levels(values)
    assert found is not None
    assert found.lower == pytest.approx(values[values < best[1]].mean(), abs=0.05)
    assert found.upper == pytest.approx(values[values >= best[1]].mean(), abs=0.1)
    assert split_levels(np.ones(50)) is None


def test_noise_is_found_below_a_moving_signal() -> None:
    chance = np.random.default_rng(6)
    t = clock(500)
    # standard error of this estimate with 50,000 samples is about 1 %
    assert noise_of(np.sin(t) * 10 + chance.normal(0, 0.3, len(t))) == pytest.approx(0.3, rel=0.04)
    assert smoothed(np.arange(9.0), 3).tolist() == pytest.approx([0.5, 1, 2, 3, 4, 5, 6, 7, 7.5])


def test_no_reading_can_hide_in_an_envelope() -> None:
    values = square(clock(1000))
    values[54321], values[4321] = 99.0, -7.0
    values[200:300] = np.nan
    found = envelope(recording(values), "pressure", 60)
    assert (found.high, found.low) == (99.0, -7.0)
    assert found.highs.index(99.0) == int(543.21 / (values.size - 1) * 100 * 60)
    assert found.gaps[0]
    assert not any(found.gaps[1:])
    fine = envelope(recording(values), "pressure", 500, 1.0, 4.0)
    assert None in fine.highs
    with pytest.raises(EvidenceError, match="no reading"):
        envelope(recording(values), "pressure", 10, 2.2, 2.8)


# -- what must not depend on how one looks ---------------------------------------------------------

SHAPES = st.tuples(st.floats(2, 9), st.floats(0.15, 0.8), st.floats(0.02, 0.2), st.integers(0, 2**31))
TIMES = ("cycle_rate", "rise_time", "fall_time", "upper_dwell", "lower_dwell", "duty", "settling_time")
LEVELS = ("upper_level", "lower_level", "upper_plateau", "highest", "lowest")
WIDTHS = ("overshoot", "undershoot", "noise")


def made(shape: tuple[float, float, float, int]) -> np.ndarray:
    period, duty, tau, seed = shape
    values = stepped(clock(60), first_order(tau), period, duty, 5, 15)
    return values + np.random.default_rng(seed).normal(0, 0.05, len(values))


@settings(max_examples=25, deadline=None)
@given(SHAPES, st.floats(0.01, 1000), st.floats(-1000, 1000))
def test_scale_and_offset_change_levels_only(
    shape: tuple[float, float, float, int], factor: float, offset: float
) -> None:
    values = made(shape)
    one, other = measure(recording(values)), measure(recording(factor * values + offset))
    assert one.cycles == other.cycles
    for key in TIMES:
        assert number(other, key) == pytest.approx(number(one, key), rel=1e-3, abs=2e-3)
    size = factor * 10 + abs(offset)
    for key in LEVELS:
        assert number(other, key) == pytest.approx(factor * number(one, key) + offset, abs=1e-3 * factor + 1e-9 * size)
    for key in WIDTHS:
        assert number(other, key) == pytest.approx(factor * number(one, key), rel=1e-3, abs=1e-3 * factor + 1e-9 * size)


@settings(max_examples=15, deadline=None)
@given(SHAPES, st.floats(0, 1e6))
def test_when_it_was_recorded_changes_nothing_else(shape: tuple[float, float, float, int], start: float) -> None:
    values = made(shape)
    text = "t [s];p [hPa]\n" + "\n".join(f"{start + place / 100:.4f};{value:.9g}" for place, value in enumerate(values))
    one, other = measure(recording(values)), measure(read_recording(text.encode()))
    for key in (*TIMES, *LEVELS, *WIDTHS):
        assert number(other, key) == pytest.approx(number(one, key), rel=2e-3, abs=2e-3)


def test_another_unit_gives_the_same_physical_numbers() -> None:
    values = made((5, 0.4, 0.1, 1))
    rows = "\n".join(f"{value / 0.980665:.12g},{value:.12g}" for value in values)  # 1 cmH2O = 0.980665 hPa
    found = read_recording(rows.encode(), columns="a cmH2O, b hPa", interval=0.01)
    one, other = measure(found, "a"), measure(found, "b")
    assert one.unit == other.unit == "cmH2O"
    for key in (*TIMES, *LEVELS, *WIDTHS):
        assert number(other, key) == pytest.approx(number(one, key), rel=1e-6)


# -- real recordings -------------------------------------------------------------------------------

NAMES = "set point cmH2O, pressure cmH2O, -, -, flow L/min, volume mL"


def test_a_real_pressure_trace() -> None:
    """Known from its settings: 12 cycles/min, 15 and 5 cmH2O, inspiration : expiration 0.66 (README beside the data)."""
    made_there = read_recording(shared("pressure-trace-15-5-rate12.csv"), columns=NAMES, interval=0.01)
    found = measure(made_there, levels=(15, 5))
    assert found.column == "pressure"
    assert number(found, "cycle_rate") == pytest.approx(12, rel=0.005)
    assert number(found, "inspiration_expiration_ratio") == pytest.approx(0.66, abs=0.015)
    # what the trace really holds where the set point is about to change, by numpy alone
    setting, pressure = made_there.column("set point").values, made_there.column("pressure").values
    before_fall = np.flatnonzero((setting[:-1] > 10) & (setting[1:] < 10))
    before_rise = np.flatnonzero((setting[:-1] < 10) & (setting[1:] > 10))
    assert number(found, "upper_level") == pytest.approx(
        np.mean([np.median(pressure[at - 19 : at + 1]) for at in before_fall]), abs=0.3
    )
    assert number(found, "lower_level") == pytest.approx(
        np.mean([np.median(pressure[at - 19 : at + 1]) for at in before_rise]), abs=0.3
    )
    assert number(found, "upper_level") == pytest.approx(15, abs=1)
    assert number(found, "lower_level") == pytest.approx(5, abs=1)
    assert [each.reached for each in found.reached] == [True, True]
    assert number(measure(made_there, "set point"), "inspiration_expiration_ratio") == pytest.approx(0.66, abs=0.005)


def test_a_real_trace_of_a_device_that_is_off() -> None:
    found = measure(read_recording(shared("pressure-trace-off.csv"), columns=NAMES, interval=0.01), levels=(15, 5))
    assert found.cycles is None
    assert found.no_cycles_because
    assert found.get("cycle_rate") is None
    assert [each.reached for each in found.reached] == [False, False]


def test_a_real_flow_recording_has_no_cycles() -> None:
    found = measure(read_recording(shared("blower-flow-24000rpm.csv")), "Q1")
    assert found.cycles is None
    assert number(found, "highest") > 90
