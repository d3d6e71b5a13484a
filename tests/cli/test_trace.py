"""`riskkit trace` as a person at the bench meets it. The recordings are constructed: a square wave and what spoils it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from riskkit.cli.commands import app
from riskkit.diagnostics import RiskkitError
from riskkit.exchange.traces import KEYS

SHARED = Path(os.environ.get("RISKKIT_SHARED_DATA", Path(__file__).parents[3] / "shared" / "data"))


def run(*arguments: object, columns: int = 100) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "riskkit", "trace", *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"COLUMNS": str(columns)},
    )


def answer(*arguments: object) -> dict:
    """JSON of the command, run inside this process."""
    done = CliRunner().invoke(app, ["trace", *map(str, arguments), "--format", "json"])
    assert done.exception is None, done.exception
    return json.loads(done.stdout)


@pytest.fixture
def square(tmp_path: Path) -> Path:
    """100 s at 100 Hz: 15 hPa for 2 s, 5 hPa for 3 s; one reading of 15.9 in cycle 13; flow 30 L/min in, 20 L/min out."""
    rows = ["# square wave, made\n"]
    for place in range(10_000):
        up = place % 500 < 200
        pressure = 15.9 if place == 6100 else 15 if up else 5
        rows.append(f"{pressure},{30 if up else -20},{1 if place > 8000 else 0},\n")
    path = tmp_path / "square.csv"
    path.write_text("".join(rows))
    return path


@pytest.fixture
def off(tmp_path: Path) -> Path:
    path = tmp_path / "off.csv"
    path.write_text(
        "t [s];p [hPa]\n" + "".join(f"{place / 100};{(place * 7919 % 101) / 5000}\n" for place in range(5000))
    )
    return path


NAMES = ("--columns", "outlet hPa, flow L/min, buzzer V", "--interval", "10ms")


def test_json_names_every_number_with_unit_and_method(square: Path) -> None:
    found = answer(
        square,
        *NAMES,
        "--at-most",
        "16 hPa",
        "--uncertainty",
        "0.3 hPa",
        "--levels",
        "15 hPa,5 hPa",
        "--above",
        "14 hPa",
    )
    assert set(KEYS) <= set(found)
    for key in KEYS:
        if found[key] is not None:
            assert {"name", "value", "unit", "method"} <= set(found[key]), key
    assert found["cycles"]["value"] == 18
    assert found["cycle_rate"]["value"] == pytest.approx(12, rel=1e-3)
    assert found["cycle_rate"]["unit"] == "1/min"
    assert (found["upper_level"]["value"], found["lower_level"]["value"]) == (15, 5)
    assert found["inspiration_expiration_ratio"]["value"] == pytest.approx(2 / 3, abs=0.01)
    assert found["volume_in"]["value"] == pytest.approx(1000, rel=5e-3)
    assert found["time_above"]["value"] == pytest.approx(40, abs=0.3)
    assert found["no_cycles_because"] is None
    assert found["worst_cycle"]["at"]["value"] == pytest.approx(61.0)
    assert [each["reached"] for each in found["levels"]] == [True, True]
    (judged,) = found["judgements"]
    assert (judged["word"], judged["limit"], judged["value"]) == ("cannot tell", "at_most", 15.9), (
        "0.1 inside, 0.3 uncertain"
    )
    assert found["missing_samples"]["value"] == 0


def test_a_limit_judged_on_slow_samples_says_so(square: Path, tmp_path: Path) -> None:
    found = answer(square, *NAMES, "--at-most", "18 hPa", "--uncertainty", "0.3 hPa")
    assert found["judgements"][0]["word"] == "meets"
    assert found["judgements"][0]["distrust"] == "sampled too slowly", "the edges lie between two samples"
    assert "a worse one may lie between two samples" in run(square, *NAMES, "--at-most", "18 hPa").stdout
    slow = tmp_path / "ramps.csv"
    slow.write_text("".join(f"{min(place % 400, 400 - place % 400) / 20}\n" for place in range(6000)))
    found = answer(slow, "--columns", "p hPa", "--interval", "10ms", "--at-most", "18 hPa", "--uncertainty", "0.3 hPa")
    assert found["judgements"][0]["distrust"] is None
    assert found["sampling_adequate"] is True


def test_units_of_limits_are_turned_into_those_of_the_column(square: Path) -> None:
    found = answer(square, *NAMES, "--at-most", "16.5 cmH2O", "--uncertainty", "2 %")
    (judged,) = found["judgements"]
    assert judged["limit_value"] == pytest.approx(16.5 * 0.980665)  # 1 cmH2O = 0.980665 hPa
    assert judged["expanded_uncertainty"] == pytest.approx(0.02 * 15.9)


def test_no_cycles_are_said_and_no_rate_is_invented(off: Path) -> None:
    found = answer(off, "--levels", "15 hPa, 5 hPa")
    for key in ("cycles", "cycle_rate", "upper_level", "worst_cycle", "inspiration_expiration_ratio"):
        assert found[key] is None, key
    assert found["no_cycles_because"]
    assert [each["reached"] for each in found["levels"]] == [False, False]
    text = run(off, "--levels", "15 hPa, 5 hPa").stdout
    assert "No cycles: " in text
    assert "Level 15 hPa is not reached" in text
    assert "per minute" not in text


@pytest.mark.parametrize("columns", [60, 100])
def test_text_fits_the_terminal_in_plain_letters(square: Path, columns: int) -> None:
    done = run(square, *NAMES, "--at-most", "16 hPa", "--uncertainty", "0.3 hPa", columns=columns)
    assert done.returncode == 0
    assert done.stdout.isascii()
    assert max(map(len, done.stdout.splitlines())) <= columns
    for words in (
        "18 complete cycles",
        "Worst cycle: number",
        "cannot tell",
        "cycle rate",
        "upper level",
        "^",
        "Plot: outlet",
    ):
        assert words in done.stdout, words
    assert any("16=|" in line for line in done.stdout.splitlines()), "the limit has its row"
    assert "guard band ends at 15.7" in " ".join(done.stdout.split())
    done = run(square, *NAMES, "--at-most", "18 hPa", "--uncertainty", "1.5 hPa", columns=columns)
    assert any("16.5.|" in line for line in done.stdout.splitlines()), "so has a guard band that is wide enough"


def test_the_plot_shows_a_single_high_reading(square: Path) -> None:
    text = run(square, *NAMES).stdout
    top = next(line for line in text.splitlines() if "|" in line)
    assert "|" in top.split("|", 1)[1], "one reading of 15.9 among ten thousand reaches the top row"
    assert "Plot:" not in run(square, *NAMES, "--no-plot").stdout


def test_a_part_another_column_and_a_time_to_alarm(square: Path) -> None:
    found = answer(square, *NAMES, "--from", "20 s", "--to", "1 min", "--column", "flow")
    assert (found["column"], found["unit"]) == ("flow", "L/min")
    assert found["cycles"]["value"] == 7
    assert found["start"]["value"] == 20
    found = answer(square, *NAMES, "--event", "60 s", "--alarm", "buzzer > 0.5 V")
    assert found["time_to_alarm"]["value"] == pytest.approx(20.005, abs=0.006)
    found = answer(square, *NAMES, "--event", "outlet > 15.5 hPa", "--alarm", "buzzer > 0.5 V")
    assert found["time_to_alarm"]["event_at"] == pytest.approx(61, abs=0.01)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "no column that is a clock"),
        (("--interval", "10"), "has no unit"),
        (("--interval", "10 hPa"), "is a pressure"),
        (("--interval", "10ms", "--rate", "100Hz"), "both given"),
        (("--interval", "10ms", "--columns", "a, b"), "2 columns are named, and the file has 3"),
        ((*NAMES, "--column", "volume"), "no column `volume`"),
        ((*NAMES, "--at-most", "16"), "has no unit"),
        ((*NAMES, "--at-most", "16 L"), "is a volume"),
        ((*NAMES, "--at-most", "16 hPa", "--uncertainty", "0 hPa"), "not above zero"),
        ((*NAMES, "--uncertainty", "0.3 hPa"), "without a limit"),
        ((*NAMES, "--from", "500 s"), "fewer than two samples"),
        ((*NAMES, "--event", "5 s"), "needs both"),
        ((*NAMES, "--event", "5 s", "--alarm", "buzzer"), "no condition"),
        ((*NAMES, "--event", "outlet > 99 hPa", "--alarm", "buzzer > 0.5 V"), "never above"),
        ((*NAMES, "--missing", "zero"), "is no number"),
        ((*NAMES, "--format", "yaml"), "cannot be `yaml`"),
    ],
)
def test_what_cannot_be_answered_is_one_sentence_and_what_to_type(
    square: Path, arguments: tuple[str, ...], words: str
) -> None:
    done = CliRunner().invoke(app, ["trace", str(square), *arguments])
    assert isinstance(done.exception, RiskkitError), done.exception
    assert words in done.exception.headline
    assert done.exception.help
    assert done.stdout == ""


def test_a_file_that_is_missing_or_no_recording(tmp_path: Path) -> None:
    (tmp_path / "words.txt").write_text("hello\nthere\n")
    for path, words in ((tmp_path / "none.csv", "cannot be read"), (tmp_path / "words.txt", "no table of readings")):
        done = run(path)
        assert (done.returncode != 0, words in done.stderr, done.stdout) == (True, True, "")
        assert len(done.stderr.splitlines()) == 2, "one sentence, and what to type"


def test_nothing_printed_says_that_a_device_is_fit_for_use(square: Path) -> None:
    text = run(square, *NAMES, "--at-most", "20 hPa", "--uncertainty", "0.3 hPa").stdout.lower()
    assert "meets" in text
    for word in ("safe", "approved", "certified", "ready"):
        assert word not in text


def test_a_real_recording() -> None:
    path = SHARED / "pressure-trace-15-5-rate12.csv"
    if not path.is_file():
        pytest.skip(f"recorded bench data is not here: {path} (name its folder with RISKKIT_SHARED_DATA)")
    names = "set point cmH2O, pressure cmH2O, -, -, flow L/min, volume mL"
    found = answer(path, "--columns", names, "--interval", "10ms", "--levels", "15 cmH2O,5 cmH2O")
    assert found["cycle_rate"]["value"] == pytest.approx(12, rel=0.005)
    assert found["upper_level"]["value"] == pytest.approx(15, abs=1)
    assert found["lower_level"]["value"] == pytest.approx(5, abs=1)
    assert found["inspiration_expiration_ratio"]["value"] == pytest.approx(0.66, abs=0.015)
