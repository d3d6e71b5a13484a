"""Bench models: a process with `calc`, ten thousand evaluations of every model, and the operating point of a blower."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from riskkit.engineering import Model, all_models, calculate, evaluate
from riskkit.engineering.reading import names, take

RISKKIT = str(Path(sys.executable).with_name("riskkit"))
RUNS = 11
EVALUATIONS = 10_000


def median(work: Callable[[], object], runs: int = RUNS) -> float:
    """Median wall seconds."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def process(*command: str) -> float:
    """Median wall seconds of a whole process."""
    return median(lambda: subprocess.run(command, stdout=subprocess.DEVNULL, check=True))


def evaluations(model: Model) -> float:
    """Seconds for ten thousand evaluations of a model's example, from a shorter run where one takes long."""
    values = names(take(model, model.example, {}))
    evaluate(model, **values)
    start = time.perf_counter()
    evaluate(model, **values)
    count = EVALUATIONS if time.perf_counter() - start < 1e-4 else 100
    start = time.perf_counter()
    for _ in range(count):
        evaluate(model, **values)
    return (time.perf_counter() - start) * EVALUATIONS / count


def main() -> None:
    bare = process(sys.executable, "-c", "import typer, pint")
    print(f"python -c 'import typer, pint': {bare * 1000:.0f} ms")
    line = (RISKKIT, "calc", "u-tube", "reading=83±1 mm", "temperature=24 degC")
    print(f"  {'calc of u-tube / that':44} = {process(*line) / bare:.2f}   (budget 2.5)")
    print(f"  {'calc --list / that':44} = {process(RISKKIT, 'calc', '--list') / bare:.2f}")
    seconds = {model.name: evaluations(model) for model in all_models()}
    told = f"{EVALUATIONS} evaluations"
    print(f"  {f'{told} of u-tube':44} = {seconds['u-tube']:.3f} s   (budget 1 s)")
    for name, each in sorted(seconds.items(), key=lambda pair: -pair[1])[:5]:
        print(f"  {f'{told}, among the slowest: {name}':44} = {each:.2f} s")
    point = next((model for model in all_models() if model.name == "operating-point"), None)
    if point is not None:
        calculate(point, **point.example)
        took = median(lambda: calculate(point, **point.example))
        print(f"  {'operating point of the example, with its words':44} = {took * 1000:.1f} ms   (budget 20 ms)")


if __name__ == "__main__":
    main()
