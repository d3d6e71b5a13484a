"""What is promised to users: pages equal the code, every command is documented, the README tells the truth."""

from __future__ import annotations

import importlib.util
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def writer() -> ModuleType:
    spec = importlib.util.spec_from_file_location("write_reference", ROOT / "docs" / "write_reference.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_reference_pages_equal_the_code(writer: ModuleType) -> None:
    for name, text in writer.all_pages().items():
        written = (ROOT / "docs" / "reference" / name).read_text(encoding="utf-8")
        assert written == text, f"docs/reference/{name} is behind the code; run `make docs`"


def test_the_table_of_everyday_units_equals_what_pint_says(writer: ModuleType) -> None:
    assert writer.UNIT_TABLE.read_text(encoding="utf-8") == writer.unit_table(), "the table is behind; run `make docs`"


def test_every_command_has_its_place_on_the_page(writer: ModuleType) -> None:
    page = (ROOT / "docs" / "reference" / "commands.md").read_text(encoding="utf-8")
    names = list(writer.command_names())
    assert {"new", "check", "catalog show"} <= set(names)
    assert [name for name in names if f"## riskkit {name}\n" not in page] == []


def test_every_link_in_the_pages_leads_somewhere() -> None:
    for page in [ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").rglob("*.md")]:
        for target in re.findall(r"\]\(([^)#:]+)\)", page.read_text(encoding="utf-8")):
            assert (page.parent / target).exists(), f"{page.relative_to(ROOT)} leads to {target}"


def test_the_readme_shows_what_check_really_says() -> None:
    told = (ROOT / "README.md").read_text().split("```text\n")[1].split("```")[0]
    said = subprocess.run(
        [
            sys.executable,
            "-m",
            "riskkit",
            "check",
            str(ROOT / "catalogs" / "examples" / "hood"),
            "--today",
            "2026-11-25",
        ],
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"COLUMNS": "100"},
    ).stdout
    for block in told.strip().split("\n\n"):
        assert block in said


def test_the_tutorial_can_be_followed_to_its_end(tmp_path: Path) -> None:
    blocks = re.findall(r"```yaml\n(.*?)```", (ROOT / "docs" / "tutorial" / "first-register.md").read_text(), re.DOTALL)
    assert len(blocks) == 2

    def run(*arguments: str, given: str = "") -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "riskkit", *arguments, "--today", "2026-11-25"],
            input=given, capture_output=True, text=True, check=False, cwd=tmp_path,
        )  # fmt: skip

    assert run("new", "puffer", given="Puffer\nblows air\nanyone\nit stops\nmains\nblower\nface\n\n").returncode == 0
    assert run("check", "puffer").returncode == 1
    assert "H01 has no control" in run("next", "puffer").stdout
    control, chain = blocks
    (tmp_path / "puffer" / "controls.yaml").write_text(control)
    (tmp_path / "puffer" / "hazards.yaml").write_text(chain)
    checked = run("check", "puffer")
    assert checked.returncode == 1, checked.stdout
    assert "H01 has no control" not in checked.stdout
    assert "the time to harm" not in checked.stderr
    assert "T01" in run("why", "H01", "puffer").stdout


def test_policies_in_the_how_to_are_policies(tmp_path: Path) -> None:
    from riskkit.text.policies import load_policy

    for number, block in enumerate(
        re.findall(r"```yaml\n(.*?)```", (ROOT / "docs" / "how-to" / "own-policy.md").read_text(), re.DOTALL)
    ):
        path = tmp_path / f"{number}.yaml"
        path.write_text(block)
        assert load_policy(str(path)).regions


WORKPLACE = re.compile(r"\b(?:CEO|issue #?\d+|helper-\d|sub-?agent|claude)\b|/work/", re.IGNORECASE)


def test_nothing_speaks_of_how_this_was_made() -> None:
    if shutil.which("git") is None:
        pytest.skip("no git here")
    names = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout.split(
        "\n"
    )
    for name in filter(None, names):
        path = ROOT / name
        if (
            path.suffix in (".py", ".md", ".yaml", ".toml", ".html", ".css", ".csv")
            and name != "tests/test_promises.py"
        ):
            found = WORKPLACE.search(path.read_text(encoding="utf-8"))
            assert found is None, f"{name}: {found}"
