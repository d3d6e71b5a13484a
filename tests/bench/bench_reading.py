"""Reading and checking a large register against the bare parser: ratios in one run."""

from __future__ import annotations

import gc
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from large_register import write_register

from riskkit.text.documents import parse_snapshot
from riskkit.text.libyaml import libyaml
from riskkit.text.snapshot import read_folder

RUNS = 5


def median(work: Callable[[], object], runs: int = RUNS) -> float:
    """Median wall seconds."""
    times = []
    for _ in range(runs):
        gc.collect()
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def bare(folder: Path) -> float:
    """The C parser alone, without a Python object per event."""
    parser, _ = libyaml()
    files = list(read_folder(folder)[0].files.values())
    return median(lambda: [parser(content).raw_parse() for content in files])


def command(*arguments: str) -> Callable[[], object]:
    """A whole process of the program."""
    return lambda: subprocess.run([sys.executable, "-m", "riskkit", *arguments], stdout=subprocess.DEVNULL, check=False)


def main() -> None:
    with tempfile.TemporaryDirectory() as place:
        os.environ |= {"XDG_CACHE_HOME": f"{place}/cache", "RISKKIT_OWN_PROCESS": "1"}
        small, large = Path(place) / "small", Path(place) / "large"
        write_register(small, 2_000)
        write_register(large, 10_000)
        lines = sum(path.read_text().count("\n") for path in large.glob("*.yaml"))
        raw = bare(large)
        snapshot = read_folder(large)[0]
        parse = median(lambda: parse_snapshot(snapshot))
        cold = median(command("check", str(large), "--no-memory", "--wide"))
        cold_small = median(command("check", str(small), "--no-memory", "--wide"))
        command("check", str(large), "--wide")()
        warm = median(command("check", str(large), "--wide"))
        print(f"10,000 records, {lines} lines; bare parser {raw * 1000:.0f} ms")
        print(f"  parsing with places / bare parser      = {parse / raw:.1f}")
        print(f"  cold check / bare parser               = {cold / raw:.1f}   (budget 9)")
        print(f"  10,000 records / 2,000 records         = {cold / cold_small:.2f}   (budget 5.5)")
        print(f"  checked again / cold                   = {warm / cold:.2f}   (budget 0.25)")
        found = subprocess.run(
            [sys.executable, "-m", "riskkit", "check", str(large), "--wide"],
            capture_output=True,
            text=True,
            check=False,
        ).stdout.count("\n")
        listed = median(command("check", str(large), "--no-memory"))
        silent = median(lambda: subprocess.run([sys.executable, "-c", SILENT, str(large)], check=False))
        print(f"  {found - 1} findings to a pipe / the check itself = {listed / silent:.2f}   (budget 1.3)")


SILENT = """
import gc, sys; gc.disable()
import datetime, pathlib
from riskkit.assess import assess
from riskkit.text.reader import read
from riskkit.text.snapshot import read_folder
assess(read(*read_folder(pathlib.Path(sys.argv[1]))), today=datetime.date.today())
"""

if __name__ == "__main__":
    main()
