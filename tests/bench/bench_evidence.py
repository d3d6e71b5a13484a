"""Statistics of counts against the bare scipy.special call they rest on: ratios in one process."""

from __future__ import annotations

import statistics
import subprocess
import sys
import timeit
from collections.abc import Callable

from scipy.special import betaincinv, gammainccinv, nctdtrit

from riskkit.evidence import clopper_pearson, jeffreys, rate_interval, tolerance_factor

CALLS, ROUNDS = 5_000, 15


def ratio(ours: Callable[[], object], bare: Callable[[], object], calls: int = CALLS) -> float:
    """Median over rounds of our time divided by the bare call's, the two taken in turn."""
    return statistics.median(
        timeit.timeit(ours, number=calls) / timeit.timeit(bare, number=calls) for _ in range(ROUNDS)
    )


def start(code: str) -> float:
    """Median wall seconds of a whole process."""
    return statistics.median(
        timeit.timeit(lambda: subprocess.run([sys.executable, "-c", code], check=True), number=1) for _ in range(7)
    )


def main() -> None:
    rows = [
        ("clopper_pearson(4, 60).upper / betaincinv", lambda: clopper_pearson(4, 60), lambda: betaincinv(5, 56, 0.95)),
        ("clopper_pearson(1, 20).upper / betaincinv", lambda: clopper_pearson(1, 20), lambda: betaincinv(2, 19, 0.95)),
        ("jeffreys(4, 60).upper / betaincinv", lambda: jeffreys(4, 60), lambda: betaincinv(4.5, 56.5, 0.95)),
        ("rate_interval(4, 72).upper / gammainccinv", lambda: rate_interval(4, 72.0), lambda: gammainccinv(5, 0.05)),
        ("clopper_pearson(0, 60).upper / betaincinv", lambda: clopper_pearson(0, 60), lambda: betaincinv(1, 60, 0.95)),
    ]
    print("bounds on counts")
    for what, ours, bare in rows:
        print(f"  {what:48} = {ratio(ours, bare):.2f}   (budget 3)")
    shift = 1.6448536269514722 * 100**0.5
    factor = ratio(
        lambda: tolerance_factor(100, 0.95, 0.95), lambda: nctdtrit(99, shift, 0.95) / 100**0.5, calls=CALLS // 50
    )
    print(f"  {'tolerance_factor(100, 0.95, 0.95) / nctdtrit':48} = {factor:.2f}   (budget 3)")
    empty = start("pass")
    none = "from riskkit.evidence import clopper_pearson; clopper_pearson(0, 60)"
    some = "from riskkit.evidence import clopper_pearson; clopper_pearson(4, 60)"
    print(f"  {'a process with a bound without failure / pass':48} = {start(none) / empty:.2f}")
    whole = start(some) / start("import scipy.stats")
    print(f"  {'a process with a bound / import scipy.stats':48} = {whole:.2f}   (budget 0.45)")


if __name__ == "__main__":
    main()
