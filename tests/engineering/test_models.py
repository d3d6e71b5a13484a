"""Every model reproduces the values that it carries, and says where they come from."""

from __future__ import annotations

import pytest

from riskkit.engineering import all_models, calculate, prove
from riskkit.engineering.models import Check, Model

MODELS = all_models()
CHECKS = [(model, proof) for model in MODELS for proof in prove(model)]


@pytest.mark.parametrize(("model", "proof"), CHECKS, ids=lambda each: getattr(each, "name", ""))
def test_a_check_holds(model: Model, proof: object) -> None:
    check: Check = proof.check  # type: ignore[attr-defined]
    assert proof.holds, f"{model.name} {dict(check.given)}: {proof.value.written}, expected {check.expected}"  # type: ignore[attr-defined]
    assert len(check.source) > 8


@pytest.mark.parametrize("model", MODELS, ids=lambda model: model.name)
def test_a_model_explains_itself(model: Model) -> None:
    assert model.name == model.name.lower()
    assert " " not in model.name
    assert model.checks
    assert model.source
    assert model.holds
    answer = calculate(model, **model.example)
    assert answer.main.written
    for given in model.givens:
        assert given.name.isidentifier(), given.name
        assert given.words
