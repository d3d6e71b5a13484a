"""A large register of a realistic kind: about 31 lines a record, with comments, folded text and flow lists. Seeded."""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator
from pathlib import Path

NOUNS = [
    "outlet",
    "flap",
    "sensor",
    "hose",
    "seal",
    "blower",
    "relief",
    "filter",
    "sounder",
    "pack",
    "valve",
    "knob",
    "hood",
    "line",
    "fuse",
    "grid",
]
VERBS = [
    "sticks",
    "leaks",
    "stops",
    "drifts",
    "heats",
    "loosens",
    "ages",
    "fills",
    "cracks",
    "slips",
    "bends",
    "rattles",
]
WHERE = [
    "at start",
    "while running",
    "after a wet night",
    "in the cold",
    "at full speed",
    "when tilted",
    "during charging",
]


def write_register(folder: Path, records: int, per_file: int = 250, seed: int = 1) -> None:
    """Write `records` records into files of `per_file` each; the same arguments give the same bytes."""
    chance = random.Random(seed)
    folder.mkdir(parents=True, exist_ok=True)
    makers = (_part, _hazard, _control, _test)
    groups = records // len(makers)
    made: list[tuple[str, Iterator[str]]] = []
    for number in range(groups):
        for maker in makers:
            made.append((maker.__name__[1:] + "s", maker(number, groups, chance)))
    for start in range(0, len(made), per_file):
        sections: dict[str, list[str]] = {}
        for section, lines in made[start : start + per_file]:
            sections.setdefault(section, []).extend(lines)
        text = [f"# Register, part {start // per_file + 1}. Edited by hand."]
        for section, lines in sections.items():
            text += ["", f"{section}:", *lines]
        (folder / f"part-{start // per_file + 1:04}.yaml").write_text("\n".join(text) + "\n", encoding="utf-8")
    (folder / "device.yaml").write_text(
        "device: {name: large, not_for: [people], stop_conditions: [smoke], owner: group}\npolicy: five-by-five\n"
    )


def _sentence(chance: random.Random) -> str:
    return f"the {chance.choice(NOUNS)} {chance.choice(VERBS)} {chance.choice(WHERE)}"


def _folded(name: str, count: int, chance: random.Random) -> Iterator[str]:
    yield f"    {name}: >-"
    for _ in range(count):
        yield f"      {_sentence(chance)}; seen in build {chance.randint(1, 40)}, see note {chance.randint(1, 999)}."


def _part(number: int, groups: int, chance: random.Random) -> Iterator[str]:
    yield f"  P{number:05}:   # looked at in round {chance.randint(1, 4)}"
    yield f"    title: {_sentence(chance)}"
    yield f"    class: {chance.choice(NOUNS)}"
    yield f'    version: "{chance.randint(1, 9)}.{chance.randint(0, 99)}"'
    yield "    fails:"
    for _ in range(8):
        yield f"      - mode: {chance.choice(VERBS)} {chance.choice(WHERE)}"
        yield f"        announces: {chance.choice(['true', 'false', 'no'])}"
    yield from _folded("notes", 9, chance)
    yield ""


def _hazard(number: int, groups: int, chance: random.Random) -> Iterator[str]:
    yield f"  H{number:05}:"
    yield f"    title: {_sentence(chance)}"
    yield "    condition: [normal, single fault, use error, foreseeable misuse]"
    yield f"    source: {chance.choice(NOUNS)}"
    yield f"    causes: [{{by: P{number:05}, mode: {chance.choice(VERBS)}}}]"
    yield "    sequence:"
    for _ in range(4):
        yield f"      - {_sentence(chance)}"
    yield "    # who is exposed"
    yield f"    situation: {_sentence(chance)}"
    yield "    harm:"
    yield f"      text: {_sentence(chance)}"
    yield f"      severity: {chance.randint(1, 3)}"
    yield "    likelihood:"
    yield f"      before: {{p1: {chance.uniform(1, 9):.2f}e-2, p2: 0.{chance.randint(1, 9)}, because: {_sentence(chance)}}}"
    yield f"      claimed: {{level: D, because: {_sentence(chance)}}}"
    yield f"    controls: [C{number:05}, C{chance.randrange(groups):05}]"
    yield f"    tests: [T{number:05}]"
    yield from _folded("notes", 9, chance)
    yield ""


def _control(number: int, groups: int, chance: random.Random) -> Iterator[str]:
    yield f"  C{number:05}:"
    yield f"    title: {_sentence(chance)}   # short, shown in tables"
    yield "    kind: protective"
    yield f"    depends_on: [P{chance.randrange(groups):05}, P{chance.randrange(groups):05}]"
    yield f"    people: [{chance.choice(['attendant', 'builder', 'operator'])}]"
    yield f"    fails_how: {_sentence(chance)}"
    yield "    noticed:"
    yield f"      how: {_sentence(chance)}"
    yield "    introduces: []"
    yield from _folded("notes", 18, chance)
    yield ""


def _test(number: int, groups: int, chance: random.Random) -> Iterator[str]:
    yield f"  T{number:05}:"
    yield f"    title: {_sentence(chance)}"
    yield f"    proves: [C{number:05}]"
    yield "    shows: [implementation, effectiveness]"
    yield "    method: inspection"
    yield "    steps:"
    for _ in range(8):
        yield f"      - {_sentence(chance)}"
    yield "    limit:"
    yield f"      shows: '{_sentence(chance)}'"
    yield f"    plan: {{runs: {chance.randint(5, 120)}, units: {chance.randint(1, 5)}}}"
    yield from _folded("notes", 13, chance)
    yield ""


if __name__ == "__main__":
    write_register(Path(sys.argv[1]), int(sys.argv[2]))
