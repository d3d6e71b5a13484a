"""What readings and counts show: pure numbers, no files, no records.

Every answer is frozen and names its estimand, method, level and side. Names are looked up when first
used, and numpy and scipy are imported inside the functions that need them, so that a check that asks
for none of it pays for none of it.
"""

from __future__ import annotations

import importlib
from types import MappingProxyType
from typing import Any

HOMES = MappingProxyType(
    {
        "answers": ("EvidenceError", "Interval"),
        "proportions": ("clopper_pearson", "wilson", "jeffreys"),
        "plans": ("runs_needed", "passing_probability", "quality_passed", "what_runs_show"),
        "rates": ("rate_interval", "mean_time_interval", "test_time_needed"),
        "updates": ("update_beta", "update_gamma", "mission_reliability", "JEFFREYS_BETA", "JEFFREYS_GAMMA"),
        "orders": ("wilks_readings", "wilks_confidence"),
        "weibull": ("weibull_units", "weibull_test_time"),
        "survival": ("kaplan_meier",),
        "tolerance": ("tolerance_factor", "tolerance_limits", "readings_needed"),
        "outliers": ("grubbs", "rosner"),
        "agreement": ("compare_results", "limits_of_agreement", "kappa"),
        "guard": ("judge_reading", "acceptance_interval", "guard_factor_for"),
        "wrong_passes": ("specific_risk", "global_risk"),
        "budgets": ("Budget",),
        "inputs": ("Input", "Part"),
        "formulas": ("Formula", "read_formula"),
        "propagation": ("Contribution", "FirstOrder", "first_order"),
        "freedom": ("effective_freedom", "coverage_factor"),
        "trials": ("MonteCarlo", "monte_carlo", "compare_first_order"),
        "recordings": ("Recording", "read_recording"),
        "metrics": ("Measured", "measure"),
        "adequacy": ("sampling_adequacy",),
        "exceedance": ("Condition", "time_beyond", "time_to_alarm"),
        "envelopes": ("Envelope", "envelope"),
    }
)

_MODULE_OF = MappingProxyType({name: module for module, names in HOMES.items() for name in names})

__all__ = sorted(_MODULE_OF)


def __getattr__(name: str) -> Any:
    if name in _MODULE_OF:
        return getattr(importlib.import_module(f"riskkit.evidence.{_MODULE_OF[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return list(__all__)
