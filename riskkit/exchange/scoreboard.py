"""The risk picture as JSON."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from riskkit.judgement.scoring import HazardScore, Score
from riskkit.model.policy import Policy


def scores_json(scores: Mapping[str, HazardScore], policy: Policy) -> str:
    """Per hazard: severity, before, claimed, region; the policy's title beside it."""
    hazards = [
        {
            "id": score.id,
            "severity": _label(score.severity),
            "before": _score(score.before, policy),
            "claimed": _score(score.claimed, policy),
            "region": score.region,
            "problem": score.problem,
        }
        for score in scores.values()
    ]
    about = {"title": policy.title, "exposure": policy.likelihood.exposure}
    return json.dumps({"policy": about, "hazards": hazards}, ensure_ascii=False, indent=2)


def _score(score: Score | None, policy: Policy) -> dict[str, Any] | None:
    if score is None:
        return None
    likely = policy.likelihood.levels[policy.likelihood_rank(score.levels[0])]
    low_high = None if score.p is None else [float(end) for end in score.p]
    return {
        "severity": _label(score.severity),
        "level": score.levels[0],
        "levels": list(dict.fromkeys(score.levels)),
        "word": likely.word,
        "p": None if low_high is None else (low_high[0] if low_high[0] == low_high[1] else low_high),
        "region": score.region,
        "regions": list(score.regions),
        "exposure": score.exposure,
    }


def _label(level: str) -> str | int:
    """A level that is a whole number is a number in JSON."""
    return int(level) if level.isascii() and level.isdigit() else level
