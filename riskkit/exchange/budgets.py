"""An uncertainty budget as JSON: every number unrounded, with unit, estimand, method and level."""

from __future__ import annotations

import json
import math
from typing import Any

from riskkit.evidence.answers import Interval
from riskkit.evidence.propagation import FirstOrder
from riskkit.evidence.trials import Comparison, MonteCarlo
from riskkit.text.budgets import BudgetFile


def budget_json(
    file: BudgetFile,
    first: FirstOrder | None,
    trials: MonteCarlo | None,
    comparison: Comparison | None,
    notes: tuple[str, ...],
    caution: str,
) -> str:
    """One object. `freedom` is null where nothing limits the degrees of freedom; absent parts are null."""
    budget = file.budget
    return json.dumps(
        {
            "title": file.title,
            "estimand": budget.estimand,
            "formula": str(getattr(budget.formula, "text", "")),
            "unit": file.scale.unit,
            "inputs": [_input(file, name) for name in budget.inputs],
            "correlations": [{"between": list(pair), "r": r} for pair, r in budget.correlations.items()],
            "first_order": None if first is None else _first_order(file, first),
            "monte_carlo": None if trials is None else _monte_carlo(trials),
            "comparison": None if comparison is None else _comparison(comparison),
            "notes": list(notes),
            "caution": caution,
        },
        ensure_ascii=False,
        indent=2,
        allow_nan=False,
    )


def _input(file: BudgetFile, name: str) -> dict[str, Any]:
    known, typed = file.budget.inputs[name], file.inputs[name]
    return {
        "name": name,
        "value": (known.value - typed.scale.offset) / typed.scale.factor,
        "u": known.u / typed.scale.factor,
        "unit": typed.scale.unit,
        "freedom": _limited(known.freedom),
        "known_as": known.words,
        "parts": [
            {
                "u": part.u / typed.scale.factor,
                "shape": part.shape,
                "freedom": _limited(part.freedom),
                "type": part.type,
                "known_as": part.words,
            }
            for part in known.parts
        ],
        "because": typed.because,
    }


def _first_order(file: BudgetFile, first: FirstOrder) -> dict[str, Any]:
    return {
        "estimand": first.estimand,
        "method": first.method,
        "confidence": first.confidence,
        "sides": "two-sided",
        "unit": first.unit,
        "value": first.value,
        "u": first.u,
        "k": first.k,
        "expanded": first.expanded,
        "lower": first.lower,
        "upper": first.upper,
        "effective_freedom": _limited(first.effective_freedom),
        "unrounded_freedom": _limited(first.unrounded_freedom),
        "freedom_rounding": first.rounding,
        "second_order_u": first.second_order_u,
        "second_order_shift": first.second_order_shift,
        "biggest": first.biggest,
        "contributions": [
            {
                "name": each.name,
                "sensitivity": each.sensitivity * file.inputs[each.name].scale.factor,
                "sensitivity_unit": f"({first.unit or '1'})/({file.inputs[each.name].scale.unit or '1'})",
                "contribution": each.contribution,
                "unit": first.unit,
                "share": each.share,
            }
            for each in first.contributions
        ],
    }


def _monte_carlo(trials: MonteCarlo) -> dict[str, Any]:
    return {
        "estimand": trials.estimand,
        "method": trials.method,
        "probability": trials.probability,
        "unit": trials.unit,
        "seed": trials.seed,
        "trials": trials.trials,
        "mean": trials.mean,
        "u": trials.u,
        "symmetric": _interval(trials.symmetric),
        "shortest": _interval(trials.shortest),
        "digits": trials.digits,
        "tolerance": trials.tolerance,
        "scatter": trials.scatter,
        "stable": trials.stable,
    }


def _interval(interval: Interval) -> dict[str, Any]:
    return {
        "method": interval.method,
        "confidence": interval.confidence,
        "sides": interval.sides,
        "lower": interval.lower,
        "upper": interval.upper,
        "unit": interval.unit,
    }


def _comparison(comparison: Comparison) -> dict[str, Any]:
    return {
        "method": comparison.method,
        "first_order_holds": comparison.first_order_holds,
        "lower_difference": comparison.lower_difference,
        "upper_difference": comparison.upper_difference,
        "tolerance": comparison.tolerance,
        "unit": comparison.unit,
    }


def _limited(freedom: float) -> float | None:
    return None if freedom == math.inf else freedom
