"""Fault trees: minimal cut sets, exact probability, importance. Pure numbers; no files, no records.

from riskkit.faults import Gate, Tree, analyse
tree = Tree("top", {"top": Gate("all", ("pump", "alarm"))}, {"pump": 1e-3, "alarm": 1e-2})
analyse(tree).exact     # 1e-05
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from riskkit.shelves import names_of

if TYPE_CHECKING:
    from riskkit.faults.analysing import analyse as analyse, smallest_cut_sets as smallest_cut_sets
    from riskkit.faults.common_cause import (
        CommonCause as CommonCause,
        beta_by_score as beta_by_score,
        expand as expand,
    )
    from riskkit.faults.human_error import after_an_error as after_an_error, heart as heart
    from riskkit.faults.trees import (
        Analysis as Analysis,
        CutSet as CutSet,
        FaultError as FaultError,
        Gate as Gate,
        Importance as Importance,
        Tree as Tree,
    )
    from riskkit.faults.uncertainty import (
        Beta as Beta,
        Lognormal as Lognormal,
        TopUncertainty as TopUncertainty,
        Uniform as Uniform,
        top_uncertainty as top_uncertainty,
    )

HOMES = MappingProxyType(
    {
        "analysing": ("analyse", "smallest_cut_sets"),
        "common_cause": ("CommonCause", "beta_by_score", "expand"),
        "human_error": ("after_an_error", "heart"),
        "trees": ("Analysis", "CutSet", "FaultError", "Gate", "Importance", "Tree"),
        "uncertainty": ("Beta", "Lognormal", "TopUncertainty", "Uniform", "top_uncertainty"),
    }
)

__getattr__, __dir__ = names_of(__name__, HOMES)

__all__ = __dir__()
