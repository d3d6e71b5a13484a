"""A test card as plain text, to be printed and written on: the same questions in the same order as `record` asks."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from riskkit.judgement.cards import Question, all_questions, card_code, content_of, reading_boxes
from riskkit.model.register import Register
from riskkit.model.verification import Test

COLUMNS = 78


def sheet(test: Test, register: Register, *, hide_limit: bool) -> str:
    """The card of a test.

    Args:
        test: The test.
        register: For titles of parts, and the stop conditions of the device.
        hide_limit: Leaves out the limit and the claim, so that nobody writes down what is expected.
    """
    code = card_code(test.id, content_of(test))
    lines = [*_wrapped(f"{code}   {test.title}", " " * (len(code) + 3)), ""]
    lines += _wrapped(
        f"STOP AT ONCE: {test.stop}" if test.stop else "STOP AT ONCE: no condition is stated for this test"
    )
    for condition in register.device.stop_conditions if register.device is not None else ():
        lines += _wrapped(f"and always: {condition}", "  ")
    lines.append("")
    if not hide_limit:
        if test.claim:
            lines += _wrapped(f"Claim: {test.claim}")
        for limit in test.limit:
            lines += _wrapped(f"Limit: {limit.sentence()}")
    for name, setting in test.conditions.items():
        lines += _wrapped(f"Set: {name} {setting.written}")
    for number, step in enumerate(test.steps, start=1):
        lines += _wrapped(f"{number}. {step}", "   ")
    if test.record:
        lines += _wrapped(f"Write down: {'; '.join(test.record)}")
    lines.append("")
    for number, question in enumerate(all_questions(test, register), start=1):
        lines += _line(number, question, test, hide_limit)
    lines += ["", f"Leave blank what is not known. Then: riskkit record {test.id}"]
    return "\n".join(lines) + "\n"


def _line(number: int, question: Question, test: Test, hide_limit: bool) -> Iterator[str]:
    """One question with room to write below it."""
    hint = question.hint
    if question.kind == "choice" and hide_limit:
        hint = ""
    label = f"{number:2}  {question.ask}" + (f" ({hint})" if hint and question.kind != "words" else "")
    yield from _wrapped(label, "    ")
    yield from _room(question, test)


def _room(question: Question, test: Test) -> list[str]:
    match question.kind:
        case "readings":
            boxes = [_box(question.unit)] * reading_boxes(test)
            rows, row = [], "   "
            for box in boxes:
                if len(row) + len(box) + 1 > COLUMNS:
                    rows.append(row)
                    row = "   "
                row += f" {box}"
            return [*rows, row, ""]
        case "quantity" | "spread":
            return [f"    {_box(question.unit)}", ""]
        case "choice":
            return ["    " + "   ".join(f"[ ] {choice}" for choice in question.choices), ""]
        case "words" if question.field in ("observed", "notes", "fault_shown"):
            return ["    " + "_" * (COLUMNS - 4), "", "    " + "_" * (COLUMNS - 4), ""]
        case "count":
            return ["    [ ______ ]", ""]
        case _:
            return ["    " + "_" * 40, ""]


def _box(unit: str) -> str:
    """Room for one number, with its unit printed in the box."""
    return f"[ ________ {unit} ]" if unit else "[ ________ ]"


def _wrapped(text: str, later: str = "  ") -> list[str]:
    return textwrap.wrap(text, COLUMNS, subsequent_indent=later, break_long_words=False, break_on_hyphens=False)
