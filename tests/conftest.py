"""What many tests need: a register from a text, a fixed day, a cache that is nobody's."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path

import pytest

from riskkit.assess import Assessment, assess
from riskkit.text.reader import read
from riskkit.text.snapshot import Snapshot

DAY = datetime.date(2026, 11, 25)
EXAMPLES = Path(__file__).parent.parent / "catalogs" / "examples"


@pytest.fixture
def project() -> Callable[..., Assessment]:
    """Assess a register that is written in the test."""

    def make(text: str, day: datetime.date = DAY, **files: str) -> Assessment:
        named = {"register.yaml": text} | {f"{name}.yaml": content for name, content in files.items()}
        return assess(read(Snapshot.from_files({name: body.encode() for name, body in named.items()})), today=day)

    return make


@pytest.fixture(autouse=True)
def own_cache(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """No test reads or writes the cache of whoever runs it."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
