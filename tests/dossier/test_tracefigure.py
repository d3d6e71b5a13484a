"""The figure of a recording: what must be seen on it, read aloud from it, and how large it may grow."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest

from riskkit.dossier.tracefigure import STEPS, Limit, Marked, nice_ticks, trace_figure, written
from riskkit.evidence.columns import Column
from riskkit.evidence.envelopes import Envelope, envelope
from riskkit.evidence.recordings import Recording


def recording(samples: int) -> Recording:
    t = np.arange(samples) * 0.01
    values = np.where(t % 5 < 2, 15.0, 5.0) + np.random.default_rng(1).normal(0, 0.1, samples)
    values[samples // 2] = 15.8
    values[samples // 4 : samples // 4 + samples // 50] = np.nan
    return Recording("made", t, 0.01, (Column("p", "hPa", values),), (), np.arange(samples), (), ())


def drawn(samples: int, *, limits: tuple[Limit, ...] = ()):
    made = recording(samples)
    middle = samples / 2 * 0.01
    marked = Marked("worst cycle 9", middle - 1, middle + 4, "highest reading 15.8 hPa")
    return trace_figure(
        envelope(made, "p", STEPS),
        name="pressure <outlet>",
        unit="hPa",
        limits=limits,
        marked=marked,
        near=envelope(made, "p", STEPS, middle - 2, middle + 5),
    )


LIMITS = (Limit(16.0, "at most", 0.3), Limit(3.0, "at least"))


def test_a_million_samples_draw_as_small_as_ten_thousand() -> None:
    small, large = drawn(10_000, limits=LIMITS), drawn(1_000_000, limits=LIMITS)
    assert len(large.svg) < 45_000
    assert len(large.svg) < 1.5 * len(small.svg)


def test_it_is_whole_svg_with_words_for_those_who_do_not_see_it() -> None:
    figure = drawn(20_000, limits=LIMITS)
    root = ElementTree.fromstring(figure.svg)
    assert root[0].text == figure.alt
    for words in (
        "pressure <outlet> in hPa against time", "highest reading 15.8 hPa", "limit at most 16 hPa, guard band 0.3 hPa",
        "0.2 hPa inside", "limit at least 3 hPa, no uncertainty stated", "worst cycle 9", "readings are missing",
    ):  # fmt: skip
        assert words in figure.alt, words
    texts = [each.text for each in root.iter("{http://www.w3.org/2000/svg}text")]
    for words in ("at most 16", "at least 3", "pressure <outlet> [hPa]"):
        assert words in texts, words


def test_everything_stays_on_the_figure() -> None:
    figure = drawn(20_000, limits=LIMITS)
    for path in re.findall(r' d="([^"]*)"', figure.svg):
        for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", path):
            assert -0.5 <= float(x) <= figure.width + 0.5
            assert -0.5 <= float(y) <= figure.height + 0.5
    assert "nan" not in figure.svg


def test_the_highest_reading_stands_at_its_height() -> None:
    flat = Envelope(0.0, 10.0, (5.0,) * 10, (5.0,) * 4 + (15.0,) + (5.0,) * 5, (False,) * 10)
    svg = trace_figure(flat, name="p", unit="hPa", limits=(Limit(15.0, "at most"),)).svg
    (limit,) = re.findall(r'<path d="M40 ([\d.]+)L474 \1" fill="none" stroke="#1c2126" stroke-width="1.2"/>', svg)
    outline = re.search(r'<path d="M([^"]*)Z"', svg)
    assert outline is not None
    heights = [float(point.split()[1]) for point in outline[1].split("L")]
    assert min(heights) == pytest.approx(float(limit), abs=0.06), "a reading on the limit touches its line"


def test_the_guard_band_is_hatched_and_gaps_are_struck_out() -> None:
    with_band, without = (
        drawn(20_000, limits=(Limit(16.0, "at most", 1.0),)),
        drawn(20_000, limits=(Limit(16.0, "at most"),)),
    )
    assert with_band.svg.count("<path") > without.svg.count("<path")
    assert 'height="3"' in without.svg, "missing readings are marked at the lower edge"


def test_extremes_of_shape() -> None:
    for shape in (
        Envelope(0.0, 1.0, (5.0,), (5.0,), (False,)),
        Envelope(0.0, 1e5, (None, -1e-9, None), (None, 1e-9, None), (True, False, True)),
        Envelope(5.0, 5.001, (1e6, 1e6), (1e6, 2e6), (False, False)),
    ):
        ElementTree.fromstring(trace_figure(shape, name="p", unit="").svg)


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (0, 10, (0, 2, 4, 6, 8, 10)),
        (-0.5, 0.5, (-0.4, -0.2, 0, 0.2, 0.4)),
        (4.9, 15.9, (5, 10, 15)),
        (0, 233, (0, 50, 100, 150, 200)),
    ],
)
def test_ticks_are_round(low: float, high: float, expected: tuple[float, ...]) -> None:
    found = nice_ticks(low, high, 5)
    assert found == pytest.approx(expected)


def test_minus_is_a_minus() -> None:
    assert written(-0.5) == "−0.5"
    assert written(1e-12 * 0) == "0"
