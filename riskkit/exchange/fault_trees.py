"""A fault tree that was worked out, as JSON: unrounded; what was not worked out is null."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from riskkit.exchange.answers import answer_data
from riskkit.judgement.fault_trees import WorkedTree

if TYPE_CHECKING:
    from riskkit.faults import Analysis, TopUncertainty


def tree_json(
    name: str,
    worked: WorkedTree,
    analysis: Analysis,
    spread: TopUncertainty | None,
    story: tuple[str, ...],
    caution: str,
) -> str:
    """One object.

    Numbers that need probabilities are null where an event has none; `bounds` are equal where `exact` is known.
    An infinite worth, where nothing is left without an event, is null.
    """
    numbers = not worked.unknown
    return json.dumps(
        {
            "tree": name,
            "title": worked.sheet.title,
            "top": {
                "exact": analysis.exact if numbers else None,
                "rare_event": analysis.rare_event if numbers else None,
                "upper_bound": analysis.upper_bound if numbers else None,
                "bounds": list(analysis.bounds) if numbers else None,
                "method": analysis.method,
                "before_controls": worked.before,
            },
            "spread": None if spread is None else answer_data(spread),
            "cut_sets": {
                "count": analysis.cut_set_count,
                "orders": {str(order): count for order, count in analysis.orders.items()},
                "listed": [
                    {"events": list(each.events), "probability": each.probability if numbers else None}
                    for each in analysis.cut_sets
                ],
            },
            "single_points": list(analysis.single_points),
            "importance": answer_data(analysis.importance) if numbers else {},
            "events": {each.name: _event(each) for each in worked.events.values()},
            "without_probability": list(worked.unknown),
            "notes": list(analysis.notes),
            "story": list(story),
            "caution": caution,
        },
        ensure_ascii=False,
        indent=2,
        allow_nan=False,
    )


def _event(each: Any) -> Mapping[str, Any]:
    return {
        "probability": each.probability,
        "known_as": each.how,
        "source": each.source,
        "event": each.event,
        "spread": None if each.spread is None else answer_data(each.spread),
        "house": each.house,
    }
