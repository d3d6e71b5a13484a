"""A trace of a million samples, read and measured, against numpy.loadtxt of the same file: ratios in one run."""

from __future__ import annotations

import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from riskkit.evidence import measure, read_recording

SAMPLES = 1_000_000
RUNS = 5


def median(work: Callable[[], object]) -> float:
    """Median wall seconds."""
    times = []
    for _ in range(RUNS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def write(path: Path) -> None:
    """12 cycles a minute at 100 Hz with noise, first-order edges, two columns."""
    t = np.arange(SAMPLES) * 0.01
    chance = np.random.default_rng(1)
    phase = t % 5
    rising, falling = 1 - np.exp(-phase / 0.12), np.exp(-(phase - 2) / 0.12)
    level = 5 + 10 * np.where(phase < 2, rising, np.minimum(falling, 1)) + chance.normal(0, 0.1, SAMPLES)
    with path.open("w") as file:
        file.write("time [s],pressure [hPa]\n")
        file.writelines(f"{a:.2f},{b:.4f}\n" for a, b in zip(t, level, strict=True))


def main() -> None:
    with tempfile.TemporaryDirectory() as place:
        plain, dirty, german = (Path(place) / name for name in ("plain.csv", "dirty.csv", "commas.csv"))
        write(plain)
        body = plain.read_bytes()
        dirty.write_bytes(body.replace(b"77\n", b"NA\n"))
        german.write_bytes(body.replace(b",", b";").replace(b".", b","))
        measure(read_recording(plain))  # numpy and scipy are loaded once
        bare = median(lambda: np.loadtxt(plain, delimiter=",", skiprows=1))
        read = median(lambda: read_recording(plain))
        both = median(lambda: measure(read_recording(plain), at_most=16.0, levels=(15, 5)))
        gaps = median(lambda: measure(read_recording(dirty), at_most=16.0))
        comma = median(lambda: measure(read_recording(german), at_most=16.0))
        print(f"{SAMPLES} samples; numpy.loadtxt {bare * 1000:.0f} ms")
        print(f"  read / loadtxt                              = {read / bare:.2f}")
        print(f"  read and measured / loadtxt                 = {both / bare:.2f}   (budget 3)")
        print(f"  one reading in a hundred missing / loadtxt  = {gaps / bare:.2f}")
        print(f"  semicolons and decimal commas / loadtxt     = {comma / bare:.2f}")


if __name__ == "__main__":
    main()
