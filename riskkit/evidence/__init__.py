"""What readings and counts show: pure numbers, no files, no records.

Every answer is frozen and names its estimand, method, level and side. Names are looked up when first
used, and numpy and scipy are imported inside the functions that need them, so that a check that asks
for none of it pays for none of it.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from riskkit.shelves import names_of

if TYPE_CHECKING:
    from riskkit.evidence.adequacy import sampling_adequacy as sampling_adequacy
    from riskkit.evidence.agreement import (
        compare_results as compare_results,
        kappa as kappa,
        limits_of_agreement as limits_of_agreement,
    )
    from riskkit.evidence.answers import EvidenceError as EvidenceError, Interval as Interval
    from riskkit.evidence.budgets import Budget as Budget
    from riskkit.evidence.covering import Cover as Cover, cheapest_cover as cheapest_cover
    from riskkit.evidence.envelopes import Envelope as Envelope, envelope as envelope
    from riskkit.evidence.exceedance import (
        Condition as Condition,
        time_beyond as time_beyond,
        time_to_alarm as time_to_alarm,
    )
    from riskkit.evidence.formulas import Formula as Formula, read_formula as read_formula
    from riskkit.evidence.freedom import coverage_factor as coverage_factor, effective_freedom as effective_freedom
    from riskkit.evidence.guard import (
        acceptance_interval as acceptance_interval,
        guard_factor_for as guard_factor_for,
        judge_reading as judge_reading,
    )
    from riskkit.evidence.inputs import Input as Input, Part as Part
    from riskkit.evidence.metrics import Measured as Measured, measure as measure
    from riskkit.evidence.orders import wilks_confidence as wilks_confidence, wilks_readings as wilks_readings
    from riskkit.evidence.outliers import grubbs as grubbs, rosner as rosner
    from riskkit.evidence.plans import (
        passing_probability as passing_probability,
        quality_passed as quality_passed,
        runs_needed as runs_needed,
        what_runs_show as what_runs_show,
    )
    from riskkit.evidence.propagation import (
        Contribution as Contribution,
        FirstOrder as FirstOrder,
        first_order as first_order,
    )
    from riskkit.evidence.proportions import clopper_pearson as clopper_pearson, jeffreys as jeffreys, wilson as wilson
    from riskkit.evidence.rates import (
        mean_time_interval as mean_time_interval,
        rate_interval as rate_interval,
        test_time_needed as test_time_needed,
    )
    from riskkit.evidence.recordings import Recording as Recording, read_recording as read_recording
    from riskkit.evidence.survival import kaplan_meier as kaplan_meier
    from riskkit.evidence.tolerance import (
        readings_needed as readings_needed,
        tolerance_factor as tolerance_factor,
        tolerance_limits as tolerance_limits,
    )
    from riskkit.evidence.trials import (
        MonteCarlo as MonteCarlo,
        compare_first_order as compare_first_order,
        monte_carlo as monte_carlo,
    )
    from riskkit.evidence.updates import (
        JEFFREYS_BETA as JEFFREYS_BETA,
        JEFFREYS_GAMMA as JEFFREYS_GAMMA,
        mission_reliability as mission_reliability,
        update_beta as update_beta,
        update_gamma as update_gamma,
    )
    from riskkit.evidence.weibull import weibull_test_time as weibull_test_time, weibull_units as weibull_units
    from riskkit.evidence.wrong_passes import global_risk as global_risk, specific_risk as specific_risk

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
        "covering": ("Cover", "cheapest_cover"),
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

__getattr__, __dir__ = names_of(__name__, HOMES)

__all__ = __dir__()
