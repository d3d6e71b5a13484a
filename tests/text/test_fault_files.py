"""A tree in a file of its own: what is read, and the one sentence for each thing that is wrong with it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given, settings, strategies as st

from riskkit.diagnostics import RiskkitError
from riskkit.model.fault_trees import TreeSheet
from riskkit.text.fault_files import load_tree

TREE = """\
fault_tree:
  top: too much
  gates:
    too much: {all_of: [relief stuck, no cut]}
    no cut: {any_of: [sensor wrong, firmware hangs]}
  events:
    relief stuck: {probability: 1e-2, source: guess}
    sensor wrong: 5e-3
    firmware hangs: {rate: 1e-5 1/h, mission: 8 h}
"""
GATE = "{any_of: [sensor wrong, firmware hangs]}"
HANGS = "{rate: 1e-5 1/h, mission: 8 h}"


def read(folder: Path, text: str) -> TreeSheet:
    path = folder / "tree.yaml"
    path.write_text(text)
    return load_tree(path)


def test_a_bare_number_is_a_probability(tmp_path: Path) -> None:
    event = read(tmp_path, TREE).events["sensor wrong"]
    assert event.probability is not None
    assert float(event.probability.exact) == 5e-3


def test_json_is_read_too(tmp_path: Path) -> None:
    path = tmp_path / "tree.json"
    path.write_text('{"fault_tree": {"top": "a", "events": {"a": 0.25}}}')
    assert load_tree(path).top == "a"


@pytest.mark.parametrize(
    ("was", "typed", "line", "words"),
    [
        (GATE, "{not: [sensor wrong]}", 5, "`not` is not taken"),
        (GATE, "{none_of: [sensor wrong]}", 5, "`none_of` is not taken"),
        (GATE, "{any_of: [sensor wrng]}", 5, "did you mean `sensor wrong`?"),
        (GATE, "{any_of: [sensor wrong, sensor wrong]}", 5, "stands twice"),
        (GATE, "{any_of: []}", 5, "empty"),
        (GATE, "{any_of: sensor wrong}", 5, "should be a list"),
        (GATE, "{any_of: [sensor wrong], all_of: [firmware hangs]}", 5, "exactly one of"),
        (GATE, "{at_least: 3, of: [sensor wrong, firmware hangs]}", 5, "3 of 2 can never happen"),
        (GATE, "{at_least: 1.5, of: [sensor wrong, firmware hangs]}", 5, "should be a whole number, and `1.5` is not"),
        (GATE, "{at_least: 2}", 5, "`at_least` needs `of`"),
        (GATE, "{of: [sensor wrong]}", 5, "exactly one of"),
        (GATE, "{any_of: [too much]}", 4, "too much -> no cut -> too much"),
        (GATE, "{any_of: [no cut]}", 5, "no cut -> no cut"),
        ("top: too much", "top: to much", 2, "did you mean `too much`?"),
        ("  top: too much\n", "", 1, "`top` is missing"),
        ("5e-3", "5e3", 8, "between 0 and 1"),
        ("5e-3", "many", 8, "is not a probability"),
        ("5e-3", "{probability: 5e-3, happens: true}", 8, "given twice"),
        ("5e-3", "{probability: 5e-3, part: P01, person: builder}", 8, "keep one"),
        ("5e-3", "{probability: 5e-3, mode: stuck}", 8, "add `part:`"),
        ("5e-3", "{from_evidence: true}", 8, "add `control:`"),
        ("5e-3", "{probability: 5e-3, error_factor: 0.5}", 8, "error_factor"),
        (HANGS, "{rate: 1e-5 1/h}", 9, "`mission` or a `test_interval`"),
        (HANGS, "{rate: 5 s, mission: 8 h}", 9, "is a time | write failures per time"),
        (HANGS, "{rate: -1 1/h, mission: 8 h}", 9, "negative"),
        (HANGS, "{rate: 1 1/h, mission: 0 h}", 9, "no time at risk"),
        (HANGS, "{rate: 1 1/h, mission: 8 kg}", 9, "8 kg"),
        ("  events:\n", "  events:\n    no cut: 1e-3\n", 7, "a gate and an event"),
        ("fault_tree:", "fault_trees:", 0, "write `fault_tree:` in place of `fault_trees:`"),
        ("fault_tree:", "policy: {}\nfault_tree:", 1, "no section `policy`"),
        (HANGS, HANGS + "\n  common_cause: {of: [sensor wrong, nobody], beta: 5 %}", 10, "`nobody` is no event"),
        (HANGS, HANGS + "\n  common_cause: {of: [sensor wrong, sensor wrong], beta: 5 %}", 10, "twice in one"),
        (HANGS, HANGS + "\n  common_cause: {of: [sensor wrong, relief stuck], beta: 1.5}", 10, "between 0 and 1"),
        (
            "    firmware hangs: " + HANGS,
            "    firmware hangs: 0.1\n    relay welds: 0.1\n  common_cause:\n"
            "    - {of: [sensor wrong, relief stuck], beta: 5 %, name: lot}\n"
            "    - {of: [firmware hangs, relay welds], beta: 5 %, name: lot}",
            13,
            "two common causes are called `lot`",
        ),
        ("5e-3", "{control: C01, from_evidence: posterior, error_factor: 3}", 8, "take `error_factor` out"),
    ],
)
def test_what_is_wrong_is_said_at_its_line(tmp_path: Path, was: str, typed: str, line: int, words: str) -> None:
    assert was in TREE
    with pytest.raises(RiskkitError) as refused:
        read(tmp_path, TREE.replace(was, typed, 1))
    told = f"{refused.value.headline} | {refused.value.help}"
    assert words in told
    assert refused.value.help
    if line:
        assert re.search(rf"tree\.yaml:{line}\b", told), told


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(RiskkitError, match=r"nowhere\.yaml"):
        load_tree(tmp_path / "nowhere.yaml")


@given(st.integers(0, 2998))
@settings(max_examples=5, deadline=None)
def test_long_chains_of_gates_are_walked_without_recursion(back_to: int) -> None:
    """Every circle is found, whatever the order of the gates, and no chain without one is called so."""
    deep = 3000
    gates = {
        f"g{n}": {"all_of": [f"g{n + 1}" if n < deep - 1 else "e", "e"][: 2 if n < deep - 1 else 1]}
        for n in range(deep)
    }
    assert TreeSheet.model_validate({"top": "g0", "gates": gates, "events": {"e": 0.5}}).reached() >= {"g0", "e"}
    back = f"g{back_to}"
    gates["g2999"] = {"all_of": [back]}
    with pytest.raises(ValueError, match="circle"):
        TreeSheet.model_validate({"top": "g0", "gates": gates, "events": {"e": 0.5}})
