"""`change` and `gate` against `check` on the demo and on a register of 10,000 records: ratios in one run."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from large_register import write_register

RUNS = 5
HOOD = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "hood"


def command(*arguments: str) -> Callable[[], float]:
    """Wall seconds of a whole process of the program."""

    def run() -> float:
        start = time.perf_counter()
        done = subprocess.run([sys.executable, "-m", "riskkit", *arguments], stdout=subprocess.DEVNULL, check=False)
        assert done.returncode in (0, 1), arguments
        return time.perf_counter() - start

    return run


def medians(*works: Callable[[], float]) -> list[float]:
    """Median of each, run in turns."""
    times: list[list[float]] = [[] for _ in works]
    for _ in range(RUNS):
        for kept, work in zip(times, works, strict=True):
            kept.append(work())
    return [statistics.median(each) for each in times]


def with_units(folder: Path, records: int, units: int = 20, results: int = 2_000) -> None:
    """A large register of so many records, of which some are results, units and gates."""
    groups = (records - units - results - 2) // 4
    write_register(folder, 4 * groups)
    lines = ["units:"]
    for number in range(units):
        parts = ", ".join(f'P{part:05}: "1.0"' for part in range(number, groups, 97))
        lines += [f"  U{number:03}:", f"    title: unit {number}", f"    parts: {{{parts}}}"]
        lines += ["    checks: [{step: torque, reading: 1.2 N·m, by: builder-1, second: builder-2, two_people: true}]"]
    lines += ["results:"]
    for number in range(results):
        lines += [f"  R{number:05}:", f"    test: T{number % groups:05}", "    on: 2026-10-01"]
        lines += [
            f"    unit: U{number % units:03}",
            "    inspection: as it should be",
            "    runs: 20",
            "    failures: 0",
        ]
        lines += [f'    configuration: {{P{number % groups:05}: "1.0"}}']
    tests = ", ".join(f"T{number:05}" for number in range(0, groups, 50))
    lines += ["gates:", "  G1: {title: bench only, order: 1, questions: [{ask: torque, steps: torque}]}"]
    lines += [f"  G2: {{title: open to review, order: 2, questions: [{{ask: tests, tests: [{tests}]}}]}}"]
    (folder / "built.yaml").write_text("\n".join(lines) + "\n", encoding="utf-8")


def main() -> None:
    with tempfile.TemporaryDirectory() as place:
        os.environ["XDG_CACHE_HOME"] = f"{place}/cache"
        large = Path(place) / "large"
        with_units(large, 10_000)
        for name, folder, record, unit, gate in (
            ("demo", HOOD, "P11", "U03", "G3"),
            ("10,000 records", large, "P00007", "U003", "G2"),
        ):
            checked, changed, asked = medians(
                command("check", str(folder), "--no-memory", "--today", "2026-11-25"),
                command("change", record, str(folder), "--today", "2026-11-25"),
                command("gate", str(folder), "--unit", unit, "--to", gate, "--today", "2026-11-25"),
            )
            print(f"{name}: check {checked:.2f} s; change {changed / checked:.2f} x, gate {asked / checked:.2f} x")


if __name__ == "__main__":
    main()
