"""`riskkit fault` as a person meets it: a file, a tree of the register, a draft; text and JSON."""

from __future__ import annotations

import json
import random
import shutil
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from riskkit.cli.commands import app
from riskkit.diagnostics import RiskkitError
from riskkit.exchange.reference import TREE_EXAMPLE
from riskkit.text.fault_files import load_tree

HOOD = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "hood"
DAY = ("--today", "2026-11-25")

# The tree of the relief valve: constructed; minimal sets and values by hand. The method is that of NUREG-0492.
RELIEF = """\
fault_tree:
  top: hood bursts
  gates:
    hood bursts: {any_of: [shut and seen by nobody, relief and firmware]}
    shut and seen by nobody: {all_of: [blocked, relief, no cut]}
    no cut: {any_of: [pressure sensor, firmware]}
    relief and firmware: {all_of: [firmware, relief]}
  events: {blocked: 2e-3, relief: 1e-2, pressure sensor: 5e-3, firmware: 3e-3}
"""


def run(*arguments: object, columns: int = 80) -> str:
    """What the command prints; a refusal is raised as it is."""
    done = CliRunner(env={"COLUMNS": str(columns)}).invoke(app, ["fault", *map(str, arguments)])
    if done.exception is not None:
        raise done.exception
    return done.stdout


def answer(path: Path, *arguments: object) -> Any:
    return json.loads(run(path, "--format", "json", *arguments))


def written(folder: Path, text: str) -> Path:
    path = folder / "tree.yaml"
    path.write_text(text)
    return path


def test_a_tree_worked_by_hand(tmp_path: Path) -> None:
    told = answer(written(tmp_path, RELIEF))
    sets = told["cut_sets"]
    assert sets["count"] == 2
    assert {frozenset(each["events"]): each["probability"] for each in sets["listed"]} == {
        frozenset({"firmware", "relief"}): pytest.approx(3e-5),
        frozenset({"blocked", "relief", "pressure sensor"}): pytest.approx(1e-7),
    }
    top = told["top"]
    assert top["exact"] == pytest.approx(1e-2 * (3e-3 + 0.997 * 1e-5), rel=1e-12)
    assert top["rare_event"] == pytest.approx(3.01e-5, rel=1e-12)
    assert top["upper_bound"] == pytest.approx(1 - (1 - 3e-5) * (1 - 1e-7), rel=1e-9)
    assert top["method"].startswith("exact")
    assert told["single_points"] == []
    relief, firmware = told["importance"]["relief"], told["importance"]["firmware"]
    assert firmware["birnbaum"] == pytest.approx(1.0e-2, rel=1e-4)
    assert relief["birnbaum"] == pytest.approx(3.01e-3, rel=1e-4)
    assert relief["fussell_vesely"] == pytest.approx(1.0)
    assert firmware["fussell_vesely"] == pytest.approx(0.997, abs=5e-4)
    assert firmware["achievement_worth"] == pytest.approx(332, abs=0.5)
    assert relief["achievement_worth"] == pytest.approx(100)
    assert relief["criticality"] == pytest.approx(1.0)
    assert relief["reduction_worth"] is None


def test_the_order_of_the_file_changes_nothing(tmp_path: Path) -> None:
    lines = RELIEF.splitlines()
    first = answer(written(tmp_path, RELIEF))
    shuffled = random.Random(7)
    for _ in range(5):
        gates = lines[3:7]
        shuffled.shuffle(gates)
        again = answer(written(tmp_path, "\n".join([lines[0], *lines[7:], lines[1], lines[2], *gates]) + "\n"))
        for key in ("top", "cut_sets", "single_points", "importance"):
            assert again[key] == first[key] or _close(again[key], first[key])


def _close(one: Any, other: Any) -> bool:
    if isinstance(one, dict):
        return set(one) == set(other) and all(_close(one[key], other[key]) for key in one)
    if isinstance(one, list):
        return len(one) == len(other) and all(map(_close, one, other))
    return bool(one == pytest.approx(other, rel=1e-12)) if isinstance(one, float) else bool(one == other)


def test_the_example_of_the_reference_page_is_worked_out(tmp_path: Path) -> None:
    told = answer(written(tmp_path, TREE_EXAMPLE))
    assert 0 < told["top"]["exact"] < told["top"]["rare_event"] * 1.0000001
    assert told["events"]["one bad lot in common"]["probability"] == pytest.approx(0.05 * 0.0049833749, rel=1e-6)


def test_the_story_stands_before_the_numbers(tmp_path: Path) -> None:
    told = run(written(tmp_path, RELIEF))
    assert "two things must fail together" in told.lower()
    assert told.index("`firmware`") < told.index("|-")
    assert "it says nothing about" in " ".join(told.split())


@pytest.mark.parametrize("columns", [60, 80, 120])
def test_no_line_is_wider_than_the_terminal(columns: int) -> None:
    for line in run("FT01", HOOD, *DAY, columns=columns).splitlines():
        assert len(line) <= columns, line


def test_a_tree_and_a_hazard_of_the_register_tell_the_same() -> None:
    assert run("FT01", HOOD, *DAY) == run("H01", HOOD, *DAY)


def test_events_without_numbers_are_named_and_no_number_is_printed(tmp_path: Path) -> None:
    path = written(tmp_path, RELIEF.replace("firmware: 3e-3", "firmware: {}"))
    told = answer(path)
    assert told["top"]["exact"] is None
    assert told["top"]["rare_event"] is None
    assert told["importance"] == {}
    assert told["without_probability"] == ["firmware"]
    assert told["cut_sets"]["count"] == 2
    assert [each["probability"] for each in told["cut_sets"]["listed"]] == [None, None]
    text = run(path)
    assert "`firmware`" in text
    assert "e-0" not in text
    assert "0.01" in text  # what was said is shown


def test_a_draft_can_be_written_and_worked_out(tmp_path: Path) -> None:
    folder = tmp_path / "hood"
    shutil.copytree(HOOD, folder)
    told = run("H05", folder, "--draft", "-o", folder / "more.yaml", *DAY)
    assert "FT03" in told
    text = run("FT03", folder, *DAY)
    assert "have no probability" in text
    assert "at least three must happen together" in text
    assert text.count("Open:") == 1  # the same is not said seven times
    assert "more like it" in text
    with pytest.raises(RiskkitError, match="there already"):
        run("H05", folder, "--draft", "-o", folder / "more.yaml", *DAY)


def test_json_of_a_hazard_with_two_trees_asks_for_one_of_them(tmp_path: Path) -> None:
    folder = tmp_path / "hood"
    shutil.copytree(HOOD, folder)
    run("H05", folder, "--draft", "-o", folder / "more.yaml", *DAY)
    assert "FT03" in run("H05", folder, *DAY)
    with pytest.raises(RiskkitError, match="H05 has 2 fault trees") as refused:
        run("H05", folder, "--format", "json", *DAY)
    assert refused.value.help == "name one: FT02, FT03"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("H02",), "H02 has no fault tree"),
        (("C01",), "C01 is no fault tree"),
        (("FT1",), "there is no fault tree, hazard or file FT1"),
        (("nowhere.yaml",), "nowhere.yaml cannot be read"),
        (("H99", "--draft"), "there is no hazard H99"),
        (("FT01", "--draft"), "FT01 is a fault tree already"),
        (("FT01", "--format", "html"), "--format cannot be `html`"),
    ],
)
def test_what_is_not_there_is_said_in_one_sentence(arguments: tuple[str, ...], words: str) -> None:
    name, *more = arguments
    with pytest.raises(RiskkitError) as refused:
        run(name, HOOD, *more, *DAY)
    assert words in refused.value.headline
    assert refused.value.help


def test_a_large_tree_is_read_quickly_and_counted(tmp_path: Path) -> None:
    """Forty pairs in a row have 2^40 cut sets: they are counted, and the first ones listed."""
    pairs = 40
    gates = [f"    g{n}: {{any_of: [a{n}, b{n}]}}" for n in range(pairs)]
    top = f"    top: {{all_of: [{', '.join(f'g{n}' for n in range(pairs))}]}}"
    events = [f"    {side}{n}: 0.5" for n in range(pairs) for side in "ab"]
    path = written(
        tmp_path, "\n".join(["fault_tree:", "  top: top", "  gates:", top, *gates, "  events:", *events, ""])
    )
    told = answer(path, "--list", 3)
    assert told["cut_sets"]["count"] == 2**pairs
    assert len(told["cut_sets"]["listed"]) == 3
    assert told["top"]["exact"] == pytest.approx(0.75**pairs, rel=1e-12)
    assert load_tree(path).top == "top"


def test_the_spread_comes_with_its_seed_and_its_error(tmp_path: Path) -> None:
    path = written(tmp_path, RELIEF.replace("relief: 1e-2", "relief: {probability: 1e-2, error_factor: 3}"))
    spread = answer(path, "--spread", "--seed", 5)["spread"]
    assert spread["seed"] == 5
    # Everything goes through the relief valve, so that the top spreads as it does.
    assert spread["percentiles"]["95.0"] / spread["percentiles"]["50.0"] == pytest.approx(3, rel=0.06)
    assert "95 % below" in run(path, "--spread").replace("\n    ", " ")
    assert "No event says" in run(written(tmp_path, RELIEF), "--spread")
