"""`new`: eight short questions, or a copy of a built-in example. Nothing that exists is written over."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from riskkit import shelves
from riskkit.cli.opening import day, one_of, write_whole
from riskkit.diagnostics import RiskkitError
from riskkit.text.beginning import QUESTIONS, first_files

EXAMPLES = ("small", "hood")


def begin(folder: Path, example: str | None, today: str | None, *, ask: bool) -> None:
    """Make the folder and say what to type next."""
    on = day(today)
    if example is not None:
        one_of("--example", example, EXAMPLES)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise RiskkitError(f"{folder} is already there and not empty", "name a folder that does not exist yet")
    if example is not None:
        _copy(shelves.data_dir("catalogs") / "examples" / example, folder)
    else:
        answers = _asked() if ask else {}
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in first_files(answers, on).items():
            write_whole(folder / name, text.encode())
    sys.stdout.write(f"{folder} is there. Now: riskkit check {folder}\n")


def _copy(source: Path, folder: Path) -> None:
    try:
        shutil.copytree(source, folder, dirs_exist_ok=True, copy_function=shutil.copyfile)
    except OSError as error:
        raise RiskkitError(f"{folder} cannot be written: {error.strerror}", "name another folder") from None


def _asked() -> dict[str, str]:
    """Answers by name; an empty line or "I don't know" leaves a gap, and so does the end of the input."""
    sys.stdout.write("Eight questions. Press Enter where you don't know: it stays open and is listed.\n")
    answers: dict[str, str] = {}
    for number, (name, question) in enumerate(QUESTIONS.items(), start=1):
        sys.stdout.write(f"{number}. {question}\n   > ")
        sys.stdout.flush()
        line = sys.stdin.readline()
        if not sys.stdin.isatty():
            sys.stdout.write("\n")
        if not line:
            break
        answer = " ".join(line.split())
        if answer.lower().replace("’", "'").rstrip(".") not in ("", "?", "i don't know", "don't know", "dont know"):
            answers[name] = answer
    return answers
