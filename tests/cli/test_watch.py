"""A register that is watched: each save is answered, with what is newly open and what is not open any more."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

REGISTER = """
parts:
  P01: {title: radial blower, version: A}
hazards:
  H01: {title: quiet stop, condition: single fault, causes: [P01], harm: {text: breathlessness, severity: 3}}
"""
HEEDING = (
    "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler); sys.argv[0] = 'riskkit'; "
    "import riskkit.cli; riskkit.cli.main()"
)
"""Where the tests run in the background of a shell, an interrupt is ignored and every child inherits that."""

PATIENCE = 60.0
"""Seconds after which a test gives up; nothing here is timed."""


class Watched:
    """The running command, read line by line."""

    def __init__(self, folder: Path) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", HEEDING, "watch", str(folder), "--today", "2026-11-25"],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env={**os.environ, "COLUMNS": "100"},
        )
        self.killer = threading.Timer(PATIENCE, self.process.kill)
        self.killer.start()

    def until(self, words: str) -> str:
        """Everything printed up to the line with those words."""
        assert self.process.stdout is not None
        told = ""
        for line in self.process.stdout:
            told += line
            if words in line:
                return told
        raise AssertionError(f"ended without {words!r}: {told}")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "register.yaml").write_text(REGISTER)
    return tmp_path


@pytest.fixture
def watched(folder: Path) -> Iterator[Watched]:
    running = Watched(folder)
    yield running
    running.killer.cancel()
    running.process.kill()
    running.process.communicate()


def test_each_save_is_answered_with_what_changed(folder: Path, watched: Watched) -> None:
    assert "gaps open" in watched.until("Watching")
    register = folder / "register.yaml"
    register.write_text(REGISTER.replace("quiet stop", "quiet stop, and approved"))
    told = watched.until(" s)")
    assert "newly open" in told
    assert "approved" in told
    # Saved as editors do it: a new file in its place.
    beside = folder / ".register.yaml.new"
    beside.write_text(REGISTER)
    beside.replace(register)
    assert "no longer open" in watched.until(" s)")
    register.write_text(REGISTER + "tests: [\n")
    assert "cannot be read" in watched.until(" s)")
    assert "Traceback" not in told


def test_a_further_file_is_seen_and_an_interrupt_ends_it(folder: Path, watched: Watched) -> None:
    watched.until("Watching")
    (folder / "more.yaml").write_text(
        "hazards:\n  H02: {title: heat, condition: normal, harm: {text: burn, severity: 3}}\n"
    )
    assert "H02" in watched.until(" s)")
    watched.process.send_signal(signal.SIGINT)
    assert watched.process.wait() == 130


def test_a_folder_that_goes_away_is_said(folder: Path, watched: Watched) -> None:
    watched.until("Watching")
    folder.rename(folder.with_name("elsewhere"))
    (folder.with_name("elsewhere") / "register.yaml").write_text(REGISTER + "\n")
    assert watched.process.stderr is not None
    assert "is gone" in watched.process.stderr.readline()
    assert watched.process.wait() == 2


def test_what_is_no_folder_is_refused(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "riskkit", "watch", str(tmp_path / "nothing")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert "nothing" in done.stderr
    assert "Traceback" not in done.stderr
