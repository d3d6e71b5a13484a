"""Verdicts, samples, supported likelihoods and recordings as the dossier prints them."""

from __future__ import annotations

import datetime
import shutil
from pathlib import Path

import pytest

from riskkit import load
from riskkit.assess import Assessment, assess
from riskkit.dossier.matrix import risk_matrices
from riskkit.dossier.render import claims_in, html_of
from riskkit.dossier.view import DossierView, view_of
from riskkit.text.recorded import recorded

HOOD = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "hood"
DAY = datetime.date(2026, 11, 25)


def shown(folder: Path) -> tuple[Assessment, DossierView]:
    assessment = assess(load(folder), today=DAY)
    recordings = tuple(recorded(assessment.register, folder))
    return assessment, view_of(assessment, claims_in, recordings=recordings)


@pytest.fixture(scope="module")
def hood() -> tuple[Assessment, DossierView]:
    return shown(HOOD)


def test_each_limit_of_a_result_has_its_verdict(hood: tuple[Assessment, DossierView]) -> None:
    block = next(each for each in hood[1].results if each.id == "R14")
    assert [line.word for line in block.verdicts] == ["does not meet", "cannot tell", "meets"]
    assert "19 min outside" in block.verdicts[0].because


def test_a_test_says_what_its_sample_shows(hood: tuple[Assessment, DossierView]) -> None:
    line = next(each for each in hood[1].tests if each.id == "T07")
    said = " ".join(line.sample)
    assert "not shown by the sample" in said
    assert "18.65 hPa" in said


def test_supported_stands_beside_claimed_with_what_would_carry_it(hood: tuple[Assessment, DossierView]) -> None:
    block = next(each for each in hood[1].hazards if each.id == "H05")
    assert [line.stage for line in block.scores] == ["before controls", "claimed now", "supported by evidence"]
    assert "0 of 20 runs of T07" in block.scores[2].because
    assert any("C08 carries nothing" in words for words in block.support)
    assert any("2995 runs of T07" in words for words in block.support)


def test_the_second_matrix_goes_from_claimed_to_supported(hood: tuple[Assessment, DossierView]) -> None:
    assessment = hood[0]
    (figure,) = risk_matrices(assessment.policy, assessment.scores.values(), ("claimed", "supported"))
    assert "A ringed mark is the score that the evidence supports." in figure.alt
    assert "before" not in figure.alt
    assert "H05: claimed severity 3, likelihood D, watch; supported severity 4, likelihood B, reduce" in figure.alt


def test_recordings_are_drawn_with_their_limits(hood: tuple[Assessment, DossierView]) -> None:
    traces = {each.result: each for each in hood[1].traces}
    assert list(traces) == ["R08", "R37", "R01"]
    levels = traces["R37"]
    assert levels.figure is not None
    assert "limit at most 10 hPa" in levels.figure.alt
    assert levels.sentences[0] == "The file has changed since the result was entered; this is what it holds now."
    assert dict(levels.metrics)["cycle rate"].split() == ["3", "1/min"]
    assert "No cycles" in " ".join(traces["R08"].sentences)


def test_a_recording_that_is_gone_is_said(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(HOOD, tmp_path / "hood"))
    (folder / "evidence" / "T08-overpressure.csv").unlink()
    (folder / "evidence" / "T01-co2.csv").write_text("no numbers here\n")
    traces = {each.result: each for each in shown(folder)[1].traces}
    assert traces["R08"].figure is None
    assert "It cannot be drawn" in " ".join(traces["R08"].sentences)
    assert traces["R01"].figure is None


def test_what_each_kind_of_evidence_may_support_is_printed(hood: tuple[Assessment, DossierView]) -> None:
    told = dict(hood[1].method.evidence)
    assert told["Opinion, no test"] == "nothing below A"
    assert "95 %" in told["Runs of a test"]
    assert "1e-2" in told["Runs on one unit"]


def test_section_nine_is_html_that_claims_nothing(hood: tuple[Assessment, DossierView]) -> None:
    _, parts = html_of(hood[1], "a4")
    page = "".join(part.html for part in parts)
    assert "Recordings" in page
    assert "A verdict holds for the unit, the version and the day it was read on." in page
