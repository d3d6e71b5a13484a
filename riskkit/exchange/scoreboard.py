"""The risk picture as JSON."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from riskkit.judgement.scoring import HazardScore, Score
from riskkit.judgement.support import Support
from riskkit.model.policy import Policy


def scores_json(scores: Mapping[str, HazardScore], supports: Mapping[str, Support], policy: Policy) -> str:
    """Per hazard: severity, before, claimed, supported and what it rests on, region; the policy's title beside it."""
    hazards = [
        {
            "id": score.id,
            "severity": _label(score.severity),
            "before": _score(score.before, policy),
            "claimed": _score(score.claimed, policy),
            "supported": _score(score.supported, policy),
            "support": _support(supports.get(score.id)),
            "region": score.region,
            "problem": score.problem,
        }
        for score in scores.values()
    ]
    about = {
        "title": policy.title,
        "exposure": policy.likelihood.exposure,
        "confidence_of_support": float(policy.evidence.confidence.exact),
    }
    return json.dumps({"policy": about, "hazards": hazards}, ensure_ascii=False, indent=2)


def _support(support: Support | None) -> dict[str, Any] | None:
    """The evidence behind a supported likelihood: bounds are one-sided upper bounds per call upon a control."""
    if support is None:
        return None
    return {
        "because": support.because,
        "probability_at_most": support.p,
        "falls_short": support.falls_short,
        "needed": support.needed or None,
        "controls": [
            {
                "control": barrier.control,
                "rests_on": barrier.kind,
                "estimand": "probability that the control fails when called upon",
                "fails_at_most": barrier.bound,
                "confidence": barrier.confidence,
                "method": "Clopper-Pearson, one-sided upper" if barrier.kind == "runs" else barrier.kind,
                "test": barrier.counted.test if barrier.counted else None,
                "runs": barrier.counted.runs if barrier.counted else None,
                "failures": barrier.counted.failures if barrier.counted else None,
                "units": list(barrier.counted.units) if barrier.counted else None,
            }
            for barrier in support.barriers
        ],
        "set_aside": [{"control": control, "because": why} for control, why in support.set_aside],
    }


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
