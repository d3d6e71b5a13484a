"""HEART and THERP by their published numbers."""

from __future__ import annotations

import pytest

from riskkit.faults import FaultError, after_an_error, heart
from riskkit.faults.human_error import HEART_NOMINAL, THERP_NOMINAL


def test_heart_worked_example() -> None:
    """Williams' example as usually retold (worked numbers from memory): .003 becomes .27.

    The product of the printed factors is .27143; where .271415 is quoted, a factor was rounded on the way.
    """
    conditions = [(3, 0.4), (6, 1.0), (4, 0.8), (2.5, 0.8), (1.2, 0.6)]
    assert [(effect - 1) * share + 1 for effect, share in conditions] == pytest.approx([1.8, 6.0, 3.4, 2.2, 1.12])
    assert heart("F", conditions) == pytest.approx(0.27, abs=2e-3)
    assert heart("F", conditions) == pytest.approx(0.003 * 1.8 * 6.0 * 3.4 * 2.2 * 1.12, rel=1e-14)
    assert heart("F") == 0.003
    assert heart("A", [(11, 1.0)]) == 1.0  # capped


def test_heart_nominal_values() -> None:
    """Read in a public copy of the method."""
    assert dict(HEART_NOMINAL) == {
        "A": 0.55, "B": 0.26, "C": 0.16, "D": 0.09, "E": 0.02, "F": 0.003, "G": 0.0004, "H": 0.00002, "M": 0.03,
    }  # fmt: skip


def test_therp_nominal_values() -> None:
    """NUREG/CR-1278 (1983) Tables 20-7 and 20-22, from memory."""
    assert {name: (one.probability, one.error_factor) for name, one in THERP_NOMINAL.items()} == {
        "short list, with check-off": (0.001, 3),
        "long list, with check-off": (0.003, 3),
        "short list, without check-off": (0.003, 3),
        "long list, without check-off": (0.01, 3),
        "procedure not used": (0.05, 5),
        "checker with written material": (0.1, 5),
        "checker without written material": (0.2, 5),
    }


def test_dependence() -> None:
    """NUREG/CR-1278 Table 20-17, from memory; for p = 0.01 it prints about .05, .15, .5, 1."""
    found = [after_an_error(0.01, one) for one in ("zero", "low", "moderate", "high", "complete")]  # type: ignore[arg-type]
    assert found == pytest.approx([0.01, 0.0595, 1.06 / 7, 0.505, 1.0])


def test_what_is_refused() -> None:
    with pytest.raises(FaultError, match="no task of kind `Z`"):
        heart("Z")
    with pytest.raises(FaultError, match=r"effect 0\.5"):
        heart("F", [(0.5, 1.0)])
    with pytest.raises(FaultError, match=r"share 1\.5"):
        heart("F", [(3, 1.5)])
    with pytest.raises(FaultError, match="no degree"):
        after_an_error(0.1, "some")  # type: ignore[arg-type]
    with pytest.raises(FaultError, match="must lie from 0 to 1"):
        after_an_error(2.0, "low")
