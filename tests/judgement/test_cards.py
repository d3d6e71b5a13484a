"""Card codes: every slip of the pen is refused, an old card is noticed; the card and the prompts are the same questions."""

from __future__ import annotations

import string
from collections.abc import Callable

import pytest
from hypothesis import given, settings, strategies as st

from riskkit.assess import Assessment
from riskkit.judgement.cards import (
    LETTERS,
    CardError,
    all_questions,
    card_code,
    check_card,
    content_of,
    first_questions,
    later_questions,
    verify,
)
from riskkit.judgement.new_ids import new_result_id
from riskkit.model.register import Register
from riskkit.model.verification import Test

ALPHABET = string.ascii_uppercase + string.digits + ".-_"
IDS = st.from_regex(r"[A-Z][A-Z0-9]{0,6}([._-][A-Z0-9]{1,4}){0,2}", fullmatch=True)
CONTENTS = st.binary(min_size=4, max_size=8).map(bytes.hex)


def refused(code: str, test_id: str, content: str) -> bool:
    try:
        check_card(code, test_id, content)
    except CardError:
        return True
    return False


def single_errors(code: str) -> list[str]:
    return [code[:at] + other + code[at + 1 :] for at in range(len(code)) for other in ALPHABET if other != code[at]]


def swaps(code: str) -> list[str]:
    return [
        code[:at] + code[at + 1] + code[at] + code[at + 2 :] for at in range(len(code) - 1) if code[at] != code[at + 1]
    ]


def test_the_letters_are_those_that_are_not_taken_for_digits() -> None:
    assert len(LETTERS) == len(set(LETTERS)) == 23
    assert not set(LETTERS) & set("IOQ")


def test_the_check_letter_is_the_stated_sum_worked_out_by_hand() -> None:
    # T07 without content, from the right: 7 x 25 + 0 x 125 + (12 + 19) x 625 = 175 + 0 + 19375 = 19550 = 850 x 23 + 0.
    assert (7 * 5**2 + 0 * 5**3 + (12 + 19) * 5**4) % 23 == 0
    assert card_code("T07") == "T07-A"
    assert verify("T07-A")
    assert not verify("T07-B")


@settings(max_examples=100, deadline=None)
@given(IDS, CONTENTS)
def test_every_wrong_character_and_every_swap_of_neighbours_is_refused(test_id: str, content: str) -> None:
    code = card_code(test_id, content)
    check_card(code, test_id, content)
    for wrong in (*single_errors(code), *swaps(code)):
        assert refused(wrong, test_id, content), wrong


@settings(max_examples=200, deadline=None)
@given(IDS, CONTENTS)
def test_the_letter_alone_catches_what_one_of_23_letters_can(test_id: str, content: str) -> None:
    """Without knowing the test: a digit for a digit, a letter for a letter but for three pairs, and all wrong letters."""
    pairs = ({"A", "X"}, {"B", "Y"}, {"C", "Z"})
    for code in (card_code(test_id), card_code(test_id, content)):
        assert verify(code)
        body = len(test_id)
        for wrong in single_errors(code):
            at = next(place for place in range(len(code)) if code[place] != wrong[place])
            was, now = code[at], wrong[at]
            alike = was.isdigit() == now.isdigit() and was.isalpha() == now.isalpha()
            if at > body or (at < body and alike and {was, now} not in pairs):
                assert not verify(wrong), (code, wrong)
        for at in range(body - 1):
            if code[at].isdigit() and code[at + 1].isdigit() and code[at] != code[at + 1]:
                assert not verify(code[:at] + code[at + 1] + code[at] + code[at + 2 :])
        if len(code) == body + 3 and code[-1] != code[-2]:
            assert not verify(code[:-2] + code[-1] + code[-2])


def test_a_code_of_two_hundred_tests_is_never_that_of_a_neighbour() -> None:
    ids = [f"T{number:02}" for number in range(1, 200)]
    for test_id in ids:
        letter = card_code(test_id)[-1]
        near = [
            other
            for other in ids
            if len(other) == len(test_id) and sum(a != b for a, b in zip(other, test_id, strict=True)) == 1
        ]
        assert near
        assert not any(card_code(other)[-1] == letter for other in near)


def test_small_letters_and_blanks_do_no_harm() -> None:
    code = card_code("T07", "abcd")
    check_card(f" {code.lower()} ", "T07", "abcd")
    check_card(code.replace("-", " - "), "T07", "abcd")


@pytest.mark.parametrize("code", ["", "T07", "T07-", "T07-IO", "T07-ABC", "07-AB", "T07AB", "T07-A", "-AB", "T07--AB"])
def test_what_is_no_code_is_refused_with_an_example(code: str) -> None:
    with pytest.raises(CardError) as told:
        check_card(code, "T07", "abcd")
    assert "T07" in told.value.help or "top of the card" in told.value.help


def test_an_old_card_is_told_from_a_wrong_letter() -> None:
    then, now = "limit 18 hPa", "limit 17 hPa"
    assert card_code("T07", then)[-1] != card_code("T07", now)[-1]
    with pytest.raises(CardError, match="before T07 was changed") as told:
        check_card(card_code("T07", then), "T07", now)
    assert told.value.old
    wrong = card_code("T07", now)
    wrong = wrong[:-2] + LETTERS[(LETTERS.index(wrong[-2]) + 1) % 23] + wrong[-1]
    with pytest.raises(CardError, match="check letter is wrong") as told:
        check_card(wrong, "T07", now)
    assert not told.value.old


def test_22_of_23_changes_of_a_test_are_noticed() -> None:
    """2300 numbered contents: 100 are expected to share a letter, with a standard deviation of 9.8."""
    first = card_code("T07", "the card that was printed")[-1]
    same = sum(card_code("T07", f"version {number}")[-1] == first for number in range(2300))
    assert 50 < same < 150


TEXT = """
parts:
  P05: {title: firmware, version: "0.9.4"}
instruments:
  I01: {title: "U-tube of clear hose", uncertainty: 0.18 hPa}
  I02: {title: dial gauge, reading_modes: [needle, camera]}
  I03: {title: stopwatch}
tests:
  T07:
    title: opening pressure
    steps: [raise the pressure]
    stop: 25 hPa
    limit:
      - {what: opening pressure, between: [15 hPa, 18 hPa]}
      - {what: seat temperature, at_most: 40 degC}
      - {shows: disc lies flat}
      - {shows: no scratch}
    conditions: {flow: 20 L/min}
    plan: {runs: 20, units: 5}
    instruments: [I01]
    configuration: [P05]
    record: [lot]
    notes: anything
    owner: builder-1
  T08: {title: kinked line, limit: {what: time, at_most: 10 s}, instruments: [I03]}
"""


def test_the_content_is_what_the_card_prints(project: Callable[..., Assessment]) -> None:
    def content(text: str) -> str:
        return content_of(project(text).register.records["T07"])  # type: ignore[arg-type]

    base = content(TEXT)
    for old, new in (
        ("[15 hPa, 18 hPa]", "[15 hPa, 17 hPa]"),
        ("raise the pressure", "lower the pressure"),
        ("stop: 25 hPa", "stop: 24 hPa"),
        ("record: [lot]", "record: [lot, mass]"),
        ("flow: 20", "flow: 30"),
        ("runs: 20", "runs: 59"),
        ("instruments: [I01]", "instruments: [I02]"),
    ):
        assert content(TEXT.replace(old, new, 1)) != base, old
    for old, new in (("notes: anything", "notes: else"), ("owner: builder-1", "owner: builder-2"), ("0.9.4", "0.9.5")):
        assert content(TEXT.replace(old, new)) == base, old


def test_the_questions_come_in_the_order_of_the_card(project: Callable[..., Assessment]) -> None:
    register = project(TEXT).register
    test = register.get("T07", Test)
    assert test is not None
    asked = all_questions(test, register)
    assert [question.name for question in asked] == [
        "on", "unit", "configuration: P05", "instruments", "reading_mode", "conditions: flow", "room: temperature",
        "readings: opening pressure", "uncertainty: opening pressure", "readings: seat temperature", "uncertainty: seat temperature",
        "runs", "failures", "inspection", "operator", "witness", "evidence", "observed", "notes",
    ]  # fmt: skip
    assert asked == (*first_questions(test, register), *later_questions(test, register, test.instruments))
    by_name = {question.name: question for question in asked}
    assert by_name["readings: opening pressure"].unit == "hPa"
    assert by_name["uncertainty: seat temperature"].quantity == "temperature difference"
    assert by_name["reading_mode"].choices == ("both limbs", "one limb")
    assert by_name["inspection"].hint == "disc lies flat; no scratch"


def test_the_way_of_reading_is_asked_of_the_instrument_that_was_used(project: Callable[..., Assessment]) -> None:
    register = project(TEXT).register
    test = register.get("T07", Test)
    assert test is not None

    def modes(*instruments: str) -> tuple[str, ...]:
        return next((q.choices for q in later_questions(test, register, instruments) if q.field == "reading_mode"), ())

    assert modes("I02") == ("needle", "camera")
    assert modes("I03") == ()
    assert modes("I01", "I02") == ("both limbs", "one limb", "needle", "camera")


def test_how_a_fault_was_seen_is_asked_where_a_fault_is_set(project: Callable[..., Assessment]) -> None:
    register = project(TEXT).register
    asked = {id: [q.field for q in all_questions(register.get(id, Test), register)] for id in ("T07", "T08")}  # type: ignore[arg-type]
    assert "fault_shown" in asked["T08"]
    assert "fault_shown" not in asked["T07"]


# -- ids of new results ---------------------------------------------------------------------------------


def register_with(*ids: str, extra: str = "", project: Callable[..., Assessment]) -> Register:
    results = "".join(f"  {id}: {{test: T{id[1:3]}, on: 2026-10-01}}\n" for id in ids)
    tests = (
        "".join(f"  T{number:02}: {{title: t}}\n" for number in range(1, 60))
        + "  knock: {title: t}\n  X07: {title: t}\n"
    )
    return project(f"tests:\n{tests}" + (f"results:\n{results}" if ids else "") + extra).register


@pytest.mark.parametrize(
    ("present", "extra", "test", "expected"),
    [
        (("R07-1", "R07-2"), "", "T07", "R07-3"),
        (("R05",), "", "T05", "R05-2"),
        (("R34", "R35"), "", "T36", "R36"),
        (("R34-1", "R35-1"), "", "T36", "R36-1"),
        ((), "", "T07", "R07-1"),
        (("R07-1", "R07-9"), "", "T07", "R07-10"),
        (("R07-01", "R07-02"), "", "T07", "R07-03"),
        (("R07.1",), "", "T07", "R07.2"),
        (("R07-1",), "tombstones:\n  R07-2: {was: x, on: 2026-10-01, because: y}\n", "T07", "R07-3"),
        (("R34",), "tombstones:\n  R36: {was: x, on: 2026-10-01, because: y}\n", "T36", "R36-2"),
        (("R07-1",), "  R07-2: {test: T07, on: never}\n", "T07", "R07-3"),
        (("R07-1",), "", "knock", "R-knock-1"),
        (("R07-1",), "", "X07", "R07-2"),
    ],
)  # fmt: skip
def test_a_new_id_follows_the_register_and_is_never_a_used_one(
    present: tuple[str, ...], extra: str, test: str, expected: str, project: Callable[..., Assessment]
) -> None:
    assert new_result_id(test, register_with(*present, extra=extra, project=project)) == expected
