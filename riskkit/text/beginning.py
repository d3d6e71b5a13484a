"""The first files of a new register, from eight short answers. What is not known stays a visible gap."""

from __future__ import annotations

import datetime
import json
from collections.abc import Iterator, Mapping
from string import Template
from types import MappingProxyType

from riskkit import shelves

QUESTIONS: Mapping[str, str] = MappingProxyType(
    {
        "name": "What do you call the device?",
        "summary": "What does it do, in one line?",
        "not_for": "Who must not use it?",
        "stops": "What happens to the person when it stops?",
        "energy": "What energy goes in? (mains, battery, pressure, oxygen ...; commas between)",
        "parts": "Which parts matter? (8 to 15, firmware and hoses too; commas between)",
        "touches": "What touches a person? (commas between)",
        "must_never": "What must never happen? (commas between)",
    }
)
"""Name of an answer -> the question, in the order in which they are asked."""


def first_files(answers: Mapping[str, str], today: datetime.date) -> Mapping[str, str]:
    """Name of each file -> its text, made from the templates in `templates/project`.

    Args:
        answers: Name of a question -> its answer; a question that is left out stays open.
        today: The day, written into the files as text.
    """
    values = {
        "today": today.isoformat(),
        "name": _quoted(answers.get("name", "unnamed device")),
        "device_fields": "\n".join(_device_fields(answers)),
        "stops": _quoted(answers.get("stops", "to be found out: what happens to the person when it stops")),
        "parts": "\n".join(_numbered("P", _split(answers.get("parts", "")), "  # fails: [{mode: stops}]")) or "  {}",
        "energy": "\n".join(_numbered("E", _split(answers.get("energy", "")))) or "  {}",
        "hazards": "\n\n".join(_hazards(answers)),
    }
    folder = shelves.data_dir("templates") / "project"
    return {
        path.name: Template(path.read_text(encoding="utf-8")).substitute(values) for path in sorted(folder.iterdir())
    }


def _device_fields(answers: Mapping[str, str]) -> Iterator[str]:
    for name in ("summary", "not_for", "touches", "must_never"):
        if name in answers:
            many = [answers[name]] if name in ("summary", "not_for") else _split(answers[name])
            yield f"  {name}: [{', '.join(_quoted(one) for one in many)}]"
        else:
            yield f"  # {name}: [...]   not answered yet: {QUESTIONS[name]}"
    if "stops" in answers:
        yield f"  front_sheet: {{when_it_stops: {_quoted(answers['stops'])}}}"
    else:
        yield f"  # front_sheet: {{when_it_stops: ...}}   not answered yet: {QUESTIONS['stops']}"


def _hazards(answers: Mapping[str, str]) -> Iterator[str]:
    energy = _split(answers.get("energy", ""))
    lines = [
        "  H01:",
        "    title: It stops while someone depends on it",
        "    condition: single fault",
        f"    harm: {{text: {_quoted(answers.get('stops', 'to be found out'))}, severity: 5}}",
    ]
    if energy:
        lines.append("    loss_of: [E01]")
    if "stops" not in answers:
        lines.append("    undecided: [harm.text]")
    yield "\n".join([*lines, "    controls: []"])
    for number, fear in enumerate(_split(answers.get("must_never", "")), start=2):
        yield "\n".join(
            [
                f"  # H{number:02d}:                       # a draft from what must never happen; take the # away to begin it",
                f"  #   title: {_quoted(fear)}",
                "  #   condition: single fault",
                f"  #   harm: {{text: {_quoted(fear)}, severity: 5}}",
            ]
        )


def _numbered(prefix: str, titles: list[str], note: str = "") -> Iterator[str]:
    for number, title in enumerate(titles, start=1):
        yield f"  {prefix}{number:02d}: {{title: {_quoted(title)}}}{note if number == 1 else ''}"


def _split(answer: str) -> list[str]:
    return [piece.strip() for piece in answer.replace(";", ",").split(",") if piece.strip()]


def _quoted(text: str) -> str:
    """A YAML double-quoted scalar: JSON's quoting is a part of YAML 1.2."""
    return json.dumps(text, ensure_ascii=False)
