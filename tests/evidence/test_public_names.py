"""What stands on the reference page can be imported, and a type checker sees what Python sees."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from riskkit import evidence


@pytest.mark.parametrize("name", evidence.__all__)
def test_every_public_name_is_there(name: str) -> None:
    assert getattr(evidence, name) is not None


def test_a_type_checker_sees_the_same_names() -> None:
    tree = ast.parse(Path(evidence.__file__).read_text())
    block = next(node for node in tree.body if isinstance(node, ast.If))
    seen = {
        (node.module, alias.name) for node in block.body if isinstance(node, ast.ImportFrom) for alias in node.names
    }
    assert seen == {(f"riskkit.evidence.{home}", name) for home, names in evidence.HOMES.items() for name in names}


def test_an_unknown_name_is_refused() -> None:
    with pytest.raises(AttributeError, match="no attribute"):
        _ = evidence.certainty
