"""Bench models: named calculations with typed units, a formula, a source, a range and their own checks.

    from riskkit.engineering import calculate
    answer = calculate("u-tube", reading="83 mm", temperature="24 degC")
    answer.main.written     # "8.11 hPa"

Every answer is a bench estimate, not a clinical prediction.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from riskkit.shelves import names_of

if TYPE_CHECKING:
    from riskkit.engineering.answering import (
        Answer as Answer,
        Contribution as Contribution,
        Value as Value,
        calculate as calculate,
        evaluate as evaluate,
        work_out as work_out,
    )
    from riskkit.engineering.catalog import all_models as all_models, model as model
    from riskkit.engineering.models import (
        Check as Check,
        EngineeringError as EngineeringError,
        Found as Found,
        Given as Given,
        Model as Model,
        Outcome as Outcome,
    )
    from riskkit.engineering.proving import Proof as Proof, prove as prove
    from riskkit.engineering.searching import solve_for as solve_for, sweep as sweep
    from riskkit.engineering.slopes import slopes_of as slopes_of

HOMES = MappingProxyType(
    {
        "answering": ("calculate", "work_out", "evaluate", "Answer", "Value", "Contribution"),
        "catalog": ("all_models", "model"),
        "models": ("Check", "EngineeringError", "Found", "Given", "Model", "Outcome"),
        "proving": ("prove", "Proof"),
        "searching": ("solve_for", "sweep"),
        "slopes": ("slopes_of",),
    }
)

__getattr__, __dir__ = names_of(__name__, HOMES)

__all__ = __dir__()
