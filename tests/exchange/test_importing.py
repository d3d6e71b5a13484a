"""What rows of a sheet would do: every row is new, an edit, there already, or refused with its reason."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import pytest
from hypothesis import given, settings, strategies as st

from riskkit.assess import Assessment
from riskkit.diagnostics import RiskkitError
from riskkit.exchange.columns import KNOWN_HEADS, meanings
from riskkit.exchange.importing import ImportPlan, plan_import
from riskkit.exchange.levels import Scale, read_levels
from riskkit.exchange.sheet_cells import exported_names, rows_of
from riskkit.exchange.tables import csv_bytes, read_table
from riskkit.text.policies import shipped_policy

Project = Callable[..., Assessment]

REGISTER = """
parts:
  P01: {title: radial blower, class: blower}
hazards:
  H01: {title: quiet stop, condition: single fault, causes: [{by: P01, mode: stops}], harm: {text: breathlessness, severity: 4}, controls: [C01]}
controls:
  C01: {title: alarm, kind: protective}
tombstones:
  H02: {was: an old one, on: 2026-01-01, because: merged into H01}
"""


def planned(project: Project, text: str, register: str = REGISTER, **options: Any) -> ImportPlan:
    table = read_table("sheet.csv", text.encode(), known=KNOWN_HEADS)
    stated = options.pop("stated", {})
    levels = options.pop("levels", {})
    read = project(register)
    meaning = meanings(table.headings, stated)
    return plan_import(table, meaning, read.register, shipped_policy(), levels=levels, **options)


def test_rows_of_failures_become_chains(project: Project) -> None:
    found = planned(
        project,
        "Item,Failure mode,Effect,Cause,Severity,Detection\n"
        "Radial blower,runs backwards,no fresh gas,wires swapped,4,3\n"
        "Relief valve,sticks,overpressure,glue,5,8\n",
    )
    assert not found.refused
    assert [(each.section, each.id) for each in found.new] == [("hazards", "H03"), ("parts", "P02"), ("hazards", "H04")]
    first: Mapping[str, Any] = found.hazards[0].fields
    assert first["causes"] == [{"by": "P01", "mode": "runs backwards"}]  # the part that the register has, by its title
    assert first["harm"] == {"text": "no fresh gas", "severity": 4}
    assert first["sequence"] == ["wires swapped"]
    assert first["notes"] == "Detection: 3"  # what has no field is kept word by word
    assert first["origin"] == "row 2 of sheet.csv"


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        (",,,,", ""),
        ("x,,,,", "it says nothing about what can go wrong"),
        ("x,stops,effect,,dreadful", "is no level of the policy"),
        ("x,stops,effect,,perhaps 3 or 4", "is no level of the policy"),
        ("Item,Mode,Effect,Id,Severity", "it repeats the headings"),
        ("x,stops,effect,H02,3", "H02 was used once and is not used again"),
        ("x,stops,effect,C01,3", "C01 stands under `controls`"),
    ],
)
def test_a_row_that_cannot_be_taken_says_why(project: Project, row: str, reason: str) -> None:
    found = planned(project, f"Item,Mode,Effect,Id,Severity\nvalve,leaks,loss of pressure,,2\n{row}\n")
    if not reason:
        assert not found.refused
        return
    (refused,) = found.refused
    assert reason in refused.reason
    assert refused.row == 3
    assert len(found.hazards) == 1


def test_a_scale_of_its_own_is_never_guessed(project: Project) -> None:
    text = "Item,Mode,Effect,Sev\nvalve,leaks,loss,2\nvalve,sticks,burst,9\n"
    found = planned(project, text)
    assert [each.row for each in found.refused] == [2, 3]
    assert "goes up to `9`" in found.refused[0].reason
    levels = read_levels(["1-2=1", "3-6=3", "7-10 = 5"], ["1", "2", "3", "4", "5"])
    taken = planned(project, text, levels=levels)
    assert not taken.refused
    assert [each.fields["harm"]["severity"] for each in taken.hazards] == [1, 5]
    assert taken.hazards[1].fields["harm"]["because"] == "9 in the sheet"


@pytest.mark.parametrize(
    ("cell", "level"),
    [("4", "4"), ("4.0", "4"), ("04", "4"), ("critical", "4"), ("4 - Critical", "4"), ("S4", "4"), ("3 or 4", None), ("", None), ("IV", None)],
)  # fmt: skip
def test_levels_are_read_by_label_or_word(cell: str, level: str | None) -> None:
    steps = [("1", "negligible"), ("2", "minor"), ("3", "serious"), ("4", "critical"), ("5", "catastrophic")]
    assert Scale.of(steps, [cell], {}).level(cell) == level


def test_columns_can_be_said_and_a_wrong_one_is_refused(project: Project) -> None:
    text = "What,Wer,Note\nthe hose comes off,builder,x\n"
    stated = {"What": "title", "wer": "owner", "Note": "ignored"}
    found = planned(project, text, stated=stated, condition="use error")
    (new,) = found.hazards
    assert (new.fields["title"], new.fields["owner"], new.fields["condition"]) == (
        "the hose comes off",
        "builder",
        ["use error"],
    )
    assert "notes" not in new.fields
    for wrong in ({"Nothing": "title"}, {"What": "colour"}, {"What": "title", "Wer": "title"}):
        with pytest.raises(RiskkitError):
            planned(project, text, stated=wrong)


def test_nothing_is_judged_that_nobody_judged(project: Project) -> None:
    (new,) = planned(project, "Hazard,Condition\nheat,normal\n").hazards
    assert new.fields["harm"]["severity"] == 5
    assert "until somebody judges it" in new.fields["harm"]["because"]


def test_an_edited_export_becomes_edits_and_what_is_lossy_is_refused(project: Project) -> None:
    register = project(REGISTER).register
    names = list(exported_names())
    rows = rows_of(register)
    same = planned(project, csv_bytes(names, rows).decode("utf-8-sig"))
    assert (same.new, same.edits, same.refused, same.same) == ((), (), (), (2,))

    def edited(name: str, words: str) -> ImportPlan:
        changed = [list(row) for row in rows]
        changed[0][names.index(name)] = words
        return planned(project, csv_bytes(names, changed).decode("utf-8-sig"))

    (edit,) = edited("harm", "hypoxia").edits
    assert (edit.id, edit.path, edit.was, edit.value) == ("H01", ("harm", "text"), "breathlessness", "hypoxia")
    assert edited("severity", "5").edits[0].value == 5
    assert edited("condition", "normal\nuse error").edits[0].value == ["normal", "use error"]
    for name, words, reason in (
        ("harm", "", "takes nothing away"),
        ("controls", "C09", "C09, which the register does not have"),
        ("controls", "some words", "takes ids"),
        ("part", "another", "not changed from a sheet"),
        ("severity", "dreadful", "no level"),
        ("severity", "12", "goes up to `12`"),
    ):
        found = edited(name, words)
        assert not found.edits
        (refused,) = found.refused
        assert refused.part
        assert reason in refused.reason


def test_a_hazard_that_the_sheet_does_not_have_stays(project: Project) -> None:
    more = REGISTER.replace(
        "controls:\n", "  H05: {title: heat, condition: normal, harm: {text: burn, severity: 3}}\ncontrols:\n", 1
    )
    found = planned(project, "id,title\nH01,another\n", register=more)
    assert found.not_in_sheet == ("H05",)


WORDS = st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=14)
ODD_ROWS = st.lists(
    st.fixed_dictionaries(
        {"id": WORDS | st.sampled_from(["H01", "H02", "H9", "C01", "7"]), "Item": WORDS | st.just("radial blower"),
         "Failure mode": WORDS, "Effect": WORDS, "Severity": WORDS | st.sampled_from([*"12345", "9", "critical"]),
         "Controls": WORDS | st.just("C01"), "RPN": WORDS}
    ),
    max_size=8,
)  # fmt: skip


@settings(max_examples=120, deadline=None)
@given(ODD_ROWS)
def test_every_row_is_taken_or_listed_with_its_reason(odd: list[dict[str, str]]) -> None:
    from riskkit.text.reader import read
    from riskkit.text.snapshot import Snapshot

    register = read(Snapshot.from_files({"r.yaml": REGISTER.encode()})).register
    content = csv_bytes(list(odd[0]) if odd else ["id"], [list(row.values()) for row in odd] or [["x"]])
    table = read_table("sheet.csv", content, known=KNOWN_HEADS)
    found = plan_import(table, meanings(table.headings, {}), register, shipped_policy(), levels={})
    told = {each.row for each in (*found.new, *found.edits, *found.refused)} | set(found.same)
    assert told == {row.number for row in table.rows}
    ids = [each.id for each in found.new]
    assert len(set(ids)) == len(ids)
    assert not set(ids) & set(register.records)
    assert all(each.reason for each in found.refused)
