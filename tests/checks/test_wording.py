"""Claims, permissions and personal data are found, and denials, questions and terms of the trade are not."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from riskkit.assess import Assessment
from riskkit.checks.wording import forbidden_claims, permissions

CLAIMS = [
    "the hood is safe",
    "This device is safe to use for people.",
    "approved by the ministry",
    "It was approved.",
    "fully certified",
    "Our unit is compliant with the standard",
    "complies with ISO 80601-2-80",
    "conforms to IEC 60601-1",
    "in conformity with the directive",
    "meets the requirements of IEC 60601-1",
    "cleared by the authority",
    "a medical-grade blower",
    "hospital grade tubing",
    "clinically proven",
    "clinically validated design",
    "an acceptable risk remains",
    "the risk is acceptable",
    "tolerable residual risk",
    "risk-free",
    "guaranteed to work",
    "fool-proof",
    "safely ventilates",
    "All tests passed, so it is now safe.",
    "parked until 2026-12-01 by bench group: approved by the ministry",
    "held valid until 2026-12-01 by builder-1 on 2026-11-01: it is safe",
    "Claim: approved by the ministry",
    "Das Gerät ist zugelassen",
    "sicher für Patienten",
    "L'appareil est homologué",
    "sans danger",
    "aprobado por la autoridad",
    "es seguro",
    "godkjent av myndighetene",
    "trygg å bruke",
]
NO_CLAIMS = [
    "the hood is not safe",
    "not shown to anyone until it is approved",
    "before it is certified",
    "It has not been approved by anyone.",
    "nobody has certified it",
    "never approved",
    "not compliant with any standard",
    "Is it safe?",
    "falls back to a safe state",
    "fail-safe valve",
    "inherently safe design comes first",
    "safety glasses on",
    "unsafe when wet",
    "Certified equipment and professional care come first.",
    "certified devices come first",
    "certificate of the maker on file",
    "keep the outlet clear of the wall",
    "cleared away the tools",
    "reduce the risk",
    "risk policy",
    "no acceptable risk is stated here",
    "does not conform to anything",
    "meets limit 18 hPa on U01, 2026-10-14",
    "a factor of safety of 3 for the strap is a safety factor",
    "the word safe is refused",
    "it must be approved before anyone else copies it",
    "without approval of anyone",
    "proof load of 40 N",
    "waterproof case",
    "complete list of parts",
]


@pytest.mark.parametrize("sentence", CLAIMS)
def test_a_claim_is_found(sentence: str) -> None:
    found = forbidden_claims(sentence)
    assert found
    assert sentence[found[0].start :].startswith(found[0].phrase)
    assert "meets limit" in found[0].offer


@pytest.mark.parametrize("sentence", NO_CLAIMS)
def test_a_denial_a_question_and_a_term_are_no_claims(sentence: str) -> None:
    assert forbidden_claims(sentence) == ()


@pytest.mark.parametrize(
    "title",
    [
        "ready for patients", "Clinical use", "trial on volunteers", "ready for use", "first in human",
        "tests on healthy volunteers", "fit for clinical use", "released for use", "human trials", "klinischer Einsatz",
        "uso clínico", "usage clinique", "klinisk bruk", "use on patients", "hospital use",
    ],
)  # fmt: skip
def test_a_gate_that_permits_use_on_a_person_is_refused(title: str, project: Callable[..., Assessment]) -> None:
    assessment = project(f"gates:\n  G01:\n    title: {title}\n    order: 1\n")
    refused = [found for found in assessment.report.broken if found.rule == "permits-use-on-a-person"]
    assert [(found.record, found.place.line) for found in refused] == [("G01", 3)]
    assert assessment.report.exit_status == 2


@pytest.mark.parametrize(
    "title",
    ["bench only", "open to review", "copy by others", "outside the laboratory", "handed over to those who may decide"],
)
def test_the_shipped_ladder_is_no_permission(title: str) -> None:
    assert permissions(title) == ()


@pytest.mark.parametrize(
    "text",
    [
        "a volunteer breathed through it",
        "patient initials AB",
        "tested it on myself",
        "Mr Smith said so",
        "a.b@example.org",
    ],
)
def test_data_about_a_person_is_found(text: str, project: Callable[..., Assessment]) -> None:
    assessment = project(f'observations:\n  O01: {{on: 2026-11-20, text: "{text}", no_hazard_because: example}}\n')
    assert "personal-data" in {found.rule for found in assessment.report}


@pytest.mark.parametrize("text", ["the recommended pressure is 8 hPa", "set PEEP to 5", "titrate oxygen until 94"])
def test_advice_for_a_person_is_found(text: str, project: Callable[..., Assessment]) -> None:
    assessment = project(f"parts:\n  P01: {{title: x, no_hazard_because: y, notes: {text}}}\n")
    assert "treatment-advice" in {found.rule for found in assessment.report}


def test_a_reviewer_may_use_any_word(project: Callable[..., Assessment]) -> None:
    assessment = project("""
comments:
  M01:
    on: 2026-11-02
    by: emergency physician
    weight: question
    text: You say it is safe; is it approved and ready for patients?
    disposition: {kind: declined, reason: nothing here says so}
""")
    assert not {"forbidden-claim", "permits-use-on-a-person"} & {found.rule for found in assessment.report}


@pytest.mark.parametrize("words", ["within 5 ms that followed", "it lasts 20 ms of the cycle"])
def test_a_time_is_no_person(project: Callable[..., Assessment], words: str) -> None:
    assessment = project(f"observations:\n  O01: {{on: 2026-11-01, text: {words}}}\n")
    assert "personal-data" not in {found.rule for found in assessment.report}
