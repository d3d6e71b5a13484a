"""Policies come out cell by cell, edges included; nothing is ever a product of ranks."""

from __future__ import annotations

import csv
from collections import Counter
from fractions import Fraction
from pathlib import Path

import pytest

from riskkit.judgement.scoring import score
from riskkit.model.policy import Policy
from riskkit.model.records import Hazard
from riskkit.text.policies import shipped_policies, shipped_policy

ORACLES = Path(__file__).parent.parent / "oracles"


def hazard(severity: object, **likelihood: object) -> Hazard:
    return Hazard.model_validate(
        {
            "id": "H01",
            "title": "x",
            "condition": "normal",
            "harm": {"text": "x", "severity": severity},
            "likelihood": {"claimed": likelihood},
        }
    )


def claimed(policy: Policy, severity: object, **likelihood: object) -> tuple[str, str]:
    found = score(hazard(severity, **likelihood), policy)
    assert found.problem is None, found.problem
    assert found.claimed is not None
    return found.claimed.levels[0], found.claimed.region


@pytest.mark.parametrize("name", ["mil-std-882e", "eu-2010-15"])
def test_every_cell_of_a_published_matrix_is_as_printed(name: str) -> None:
    policy = shipped_policy(name)
    with (ORACLES / f"{name}.csv").open() as file:
        cells = list(csv.DictReader(file))
    assert len(cells) == len(policy.severity) * len(policy.likelihood.levels)
    for cell in cells:
        stated: dict[str, object] = {"eliminated": True} if cell["likelihood"] == "F" else {"level": cell["likelihood"]}
        assert claimed(policy, cell["severity"], **stated) == (cell["likelihood"], cell["region"])


def test_the_military_matrix_has_the_counts_of_the_standard() -> None:
    """MIL-STD-882E Table III: 5 High, 4 Serious, 8 Medium, 3 Low; read in a public copy, recomputed from 882D."""
    cells = shipped_policy("mil-std-882e").matrix
    counted = Counter(name for row in "ABCDE" for name in cells[row].values())
    assert counted == {"High": 5, "Serious": 4, "Medium": 8, "Low": 3}


@pytest.mark.parametrize("name", shipped_policies())
def test_no_region_asks_more_where_harm_is_rarer_or_lighter(name: str) -> None:
    policy = shipped_policy(name)
    for band, next_band in zip(policy.likelihood.levels, policy.likelihood.levels[1:], strict=False):
        for step in policy.severity:
            first, second = policy.region(band.level, step.level), policy.region(next_band.level, step.level)
            assert policy.region_rank(first.name) <= policy.region_rank(second.name)
    for band in policy.likelihood.levels:
        for lighter, worse in zip(policy.severity, policy.severity[1:], strict=False):
            first, second = policy.region(band.level, lighter.level), policy.region(band.level, worse.level)
            assert policy.region_rank(first.name) >= policy.region_rank(second.name)


@pytest.mark.parametrize(
    ("p", "level"),
    [("0.1", "A"), ("0.0999", "B"), ("0.01", "B"), ("0.001", "C"), ("1e-6", "D"), ("9.9e-7", "E"), ("0", "E")],
)
def test_military_levels_have_closed_lower_edges(p: str, level: str) -> None:
    """MIL-STD-882E Appendix A, Table A-II, from memory."""
    assert claimed(shipped_policy("mil-std-882e"), 1, p=p)[0] == level


@pytest.mark.parametrize(
    ("p", "level"),
    [
        ("0.6", "1"),
        ("0.5", "2"),
        ("1/10", "3"),
        ("0.1001", "2"),
        ("1 in 1000", "5"),
        ("1e-6", "8"),
        ("1.1e-6", "7"),
        ("0", "8"),
    ],
)
def test_european_rows_say_greater_than(p: str, level: str) -> None:
    """Decision 2010/15/EU, Table 4: the rows read "> 1/10" and so on; from memory."""
    assert claimed(shipped_policy("eu-2010-15"), 1, p=p)[0] == level


@pytest.mark.parametrize(
    ("p1", "p2", "level"),
    [
        (2e-3, 5e-2, "D"),  # exactly 1e-4: on the edge, in the band above
        (2e-3, 4.99e-2, "E"),
        ("0.2 %", "5 %", "D"),
        ("2 in 1000", "1/20", "D"),
        (1, 0.1, "A"),
        (0.1, 0.1, "B"),
        (0.3, 0.1, "B"),  # 0.3 x 0.1 in binary floating point is 0.03 and a little
        (0.1, 0.01, "C"),
    ],
)
def test_p1_and_p2_are_multiplied_exactly(p1: object, p2: object, level: str) -> None:
    assert claimed(shipped_policy(), 5, p1=p1, p2=p2)[0] == level


def test_floating_point_would_put_an_edge_into_the_wrong_band() -> None:
    assert 0.1 * 0.7 * 0.1 != 0.007
    assert Fraction("0.1") * Fraction("0.07") == Fraction("0.007")


LEVELS_OF_14971 = """
policy:
  title: semi-quantitative levels
  severity: [{level: 1, word: a}]
  likelihood:
    exposure: per use
    levels:
      - {level: Frequent, word: Frequent, above: 1e-3}
      - {level: Probable, word: Probable, above: 1e-4}
      - {level: Occasional, word: Occasional, above: 1e-5}
      - {level: Remote, word: Remote, above: 1e-6}
      - {level: Improbable, word: Improbable}
  regions: [{name: all}]
  matrix: {Frequent: {1: all}, Probable: {1: all}, Occasional: {1: all}, Remote: {1: all}, Improbable: {1: all}}
"""

AIRWORTHINESS = """
policy:
  title: per flight hour
  severity:
    - {level: Minor, word: a}
    - {level: Major, word: b}
    - {level: Hazardous, word: c}
    - {level: Catastrophic, word: d}
  likelihood:
    exposure: per flight hour
    edge: in the band below
    levels:
      - {level: Probable, word: a, above: 1e-5}
      - {level: Remote, word: b, above: 1e-7}
      - {level: Extremely remote, word: c, above: 1e-9}
      - {level: Extremely improbable, word: d}
  regions: [{name: too often}, {name: within}]
  matrix:
    Probable: {Minor: within, Major: too often, Hazardous: too often, Catastrophic: too often}
    Remote: {Minor: within, Major: within, Hazardous: too often, Catastrophic: too often}
    Extremely remote: {Minor: within, Major: within, Hazardous: within, Catastrophic: too often}
    Extremely improbable: {Minor: within, Major: within, Hazardous: within, Catastrophic: within}
"""


def policy_from(text: str, tmp_path: Path) -> Policy:
    from riskkit.text.policies import load_policy

    path = tmp_path / "policy.yaml"
    path.write_text(text)
    return load_policy(str(path))


@pytest.mark.parametrize(
    ("p1", "p2", "level"),
    [
        ("1e-3", "0.05", "Occasional"),
        ("1e-3", "1", "Frequent"),
        ("1e-2", "0.01", "Probable"),
        ("1e-5", "0.1", "Remote"),
        ("9e-7", "1", "Improbable"),
    ],
)
def test_medical_device_levels_bin_as_in_the_older_standard(p1: str, p2: str, level: str, tmp_path: Path) -> None:
    """ISO 14971:2007 Table D.4 and ISO/TR 24971:2020, from memory: P1 1e-3, P2 0.05 gives 5e-5, Occasional."""
    assert claimed(policy_from(LEVELS_OF_14971, tmp_path), 1, p1=p1, p2=p2)[0] == level


@pytest.mark.parametrize(
    ("p", "level"),
    [("1.1e-5", "Probable"), ("1e-5", "Remote"), ("1e-7", "Extremely remote"), ("1e-9", "Extremely improbable")],
)
def test_airworthiness_terms_have_closed_upper_edges(p: str, level: str, tmp_path: Path) -> None:
    """FAA AC 25.1309-1B and EASA AMC 25.1309, from memory."""
    policy = policy_from(AIRWORTHINESS, tmp_path)
    assert claimed(policy, "Catastrophic", p=p)[0] == level
    allowed = {
        "Minor": "Probable",
        "Major": "Remote",
        "Hazardous": "Extremely remote",
        "Catastrophic": "Extremely improbable",
    }
    for severity, most in allowed.items():
        assert claimed(policy, severity, level=most)[1] == "within"


def test_a_matrix_that_no_product_of_ranks_can_express_is_kept_cell_by_cell(tmp_path: Path) -> None:
    text = """
policy:
  title: odd
  severity: [{level: a, word: a}, {level: b, word: b}]
  likelihood: {exposure: per use, levels: [{level: x, word: x, above: 1e-2}, {level: y, word: y}]}
  regions: [{name: red, decision: true}, {name: grey}]
  matrix: {x: {a: red, b: grey}, y: {a: grey, b: red}}
"""
    policy = policy_from(text, tmp_path)
    cells = {(row, column): claimed(policy, column, level=row)[1] for row in "xy" for column in "ab"}
    assert cells == {("x", "a"): "red", ("x", "b"): "grey", ("y", "a"): "grey", ("y", "b"): "red"}


def test_a_product_of_three_ranks_is_no_measure() -> None:
    """Why ranks are never multiplied here. Well known of 1-to-10 scales (cautions of IEC 60812:2018), from memory."""
    products = Counter(s * o * d for s in range(1, 11) for o in range(1, 11) for d in range(1, 11))
    assert len(products) == 120
    assert {value for value, count in products.items() if count == max(products.values())} == {60, 72, 120}
    assert max(products.values()) == 24
    assert max(value for value in products if value < 1000) == 900


def test_a_range_takes_the_corner_that_asks_most() -> None:
    found = score(hazard(4, p1=["1e-3", "1e-1"], p2=["0.1", "0.5"]), shipped_policy())
    assert found.claimed is not None
    assert found.claimed.p == (Fraction(1, 10000), Fraction(1, 20))
    assert found.claimed.levels == ("B", "D")
    assert found.claimed.regions == ("reduce", "reduce or justify")
    assert found.region == "reduce"


def test_what_the_policy_has_no_place_for_is_said_and_not_guessed() -> None:
    policy = shipped_policy()
    assert "severity `9`" in (score(hazard(9, level="B"), policy).problem or "")
    assert "likelihood `Z`" in (score(hazard(5, level="Z"), policy).problem or "")
    assert "eliminated" in (score(hazard(5, eliminated=True), policy).problem or "")


def test_a_policy_may_be_taken_by_name_and_changed_in_parts(tmp_path: Path) -> None:
    policy = policy_from("policy: {use: five-by-five, exposure: per hour, severe_from: 3, title: ours}", tmp_path)
    assert (policy.likelihood.exposure, policy.severe_rank, policy.title) == ("per hour", 2, "ours")
    assert policy.matrix == shipped_policy().matrix


def test_a_level_may_be_named_by_its_word() -> None:
    policy = shipped_policy("mil-std-882e")
    found = score(hazard("catastrophic", level="remote"), policy)
    assert found.claimed is not None
    assert (found.severity, found.claimed.levels[0], found.region) == ("1", "D", "Serious")
