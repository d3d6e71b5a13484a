"""Cards as they come out of the printer: every question found, nothing outside a card, stop first, the same bytes again."""

from __future__ import annotations

import dataclasses
import datetime
import io
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pikepdf
import pytest
from pypdf import PdfReader

from riskkit.assess import Assessment
from riskkit.diagnostics import RiskkitError
from riskkit.dossier.cards.blocks import Box, Draft, Field, Text
from riskkit.dossier.cards.choosing import KINDS, Choice, Wanted
from riskkit.dossier.cards.filling import Card, fill, foot_height, head_height
from riskkit.dossier.cards.formats import CUT, EDGE, FRAME_AFTER, FRAME_BORDER, FRAME_PAD, MM, Format
from riskkit.dossier.cards.of_tests import NO_DEVICE_STOP, NO_STOP
from riskkit.dossier.cards.printing import foot_of, print_cards
from riskkit.dossier.cautions import SENTENCES
from riskkit.dossier.lettering import width
from riskkit.dossier.refusing import claims_in
from riskkit.dossier.view.telling import Teller
from riskkit.judgement.cards import all_questions, card_code, content_of, is_fault_injection
from riskkit.model.register import Register
from riskkit.model.upkeep import Unit
from riskkit.model.verification import Instrument, Test
from riskkit.text.reader import read
from riskkit.text.snapshot import Snapshot, read_folder

HOOD = Path(__file__).parents[2] / "catalogs" / "examples" / "hood"
DAY = datetime.date(2026, 11, 25)
FORMATS = (Format("a4"), Format("letter"), Format("a4", large=True), Format("letter", large=True, left_handed=True))
BOTH_HANDS = (Format("a4"), Format("a4", left_handed=True))

LONG = "a sentence that goes on and on, with ±0.5 hPa in the middle of it, " * 6
WORD = "Unendlichlangeswortohneleerzeichen" * 6
HOSTILE = f"""
device:
  name: {json.dumps(WORD)}
  revision: {json.dumps(WORD)}
  stop_conditions: [{json.dumps(LONG)}, {json.dumps(WORD)}, "остановить сразу" ]
  must_never: [{json.dumps(LONG)}]
parts:
  P01: {{title: {json.dumps(LONG)}, version: {json.dumps(WORD)}}}
  P02: {{title: {json.dumps(WORD)}}}
units:
  U01: {{title: {json.dumps(LONG)}, parts: {{P01: {json.dumps(LONG)}}}, checks: [{{step: {json.dumps(LONG)}, two_people: true}}]}}
instruments:
  I01: {{title: {json.dumps(LONG)}, uncertainty: {json.dumps(WORD)}, notes: {json.dumps(LONG)}, reading_modes: [{json.dumps(LONG)}, b]}}
hazards:
  H01: {{title: {json.dumps(WORD)}, condition: single fault, causes: [{{by: P01, mode: {json.dumps(LONG)}}}], harm: {{text: x, severity: 5}}, tests: [T01]}}
tests:
  T01:
    title: {json.dumps("pull the plug " + LONG)}
    claim: {json.dumps(LONG)}
    stop: {json.dumps(LONG)}
    steps: [{json.dumps(LONG * 3)}, {json.dumps(WORD)}, "остановить сразу" ]
    limit: [{{what: {json.dumps(LONG)}, at_most: 12 cmH2O*s/L}}, {{what: b, shows: {json.dumps(LONG)}}}]
    conditions: {{{json.dumps(WORD)}: 5 L/min}}
    record: [{json.dumps(LONG)}]
    plan: {{runs: 500}}
    instruments: [I01]
    configuration: [P01, P02]
    scope: every use
"""


def register_of(text: str) -> Register:
    return read(Snapshot.from_files({"register.yaml": text.encode()})).register


@pytest.fixture(scope="module")
def hood() -> Register:
    return read(*read_folder(HOOD)).register


def drafts(register: Register, **wanted: object) -> tuple[Draft, ...]:
    tell = Teller(claims_in)
    foot = foot_of(register, "4f2c9d1", DAY, tell)
    return Choice(register, Wanted(**wanted), DAY, foot, tell).drafts()  # type: ignore[arg-type]


@cache
def printed(register: Register, format: Format = FORMATS[0], **wanted: object) -> bytes:
    """The PDF of the cards; the same is not printed twice."""
    paper, _ = print_cards(drafts(register, **wanted), format, "hood")
    assert paper.warnings == ()
    assert paper.refusals == ()
    return paper.pdf


@dataclass(frozen=True)
class Placed:
    """A run of text as it is printed: its left end and base line in points from the top left, and its size."""

    words: str
    left: float
    base: float
    size: float

    @property
    def right(self) -> float:
        return self.left + width(self.words.strip(), self.size, "sans") * 0.95  # kerning takes a little


@cache
def placed(pdf: bytes) -> list[list[Placed]]:
    """Every run of text of every page."""
    found = []
    for page in PdfReader(io.BytesIO(pdf)).pages:
        runs: list[Placed] = []
        height = float(page.mediabox.height)

        def take(words: str, cm: list[float], tm: list[float], _: object, size: float) -> None:
            if words.strip():
                left, up = cm[0] * tm[4] + cm[4], cm[3] * tm[5] + cm[5]
                runs.append(Placed(words.strip("\n"), left, height - up, abs(size * cm[3] * tm[3])))  # noqa: B023

        page.extract_text(visitor_text=take)
        found.append(runs)
    return found


def flat(words: str) -> str:
    return "".join(words.split())


def words_of(runs: list[Placed]) -> str:
    return flat("".join(run.words for run in runs))


def on_cards(pdf: bytes, format: Format) -> Iterator[tuple[int, list[Placed]]]:
    """Place on its sheet and text of every card."""
    for runs in placed(pdf):
        for place in range(format.per_sheet):
            column, row = place % format.grid[0], place // format.grid[0]
            inside = [
                run
                for run in runs
                if column * format.card[0] <= run.left < (column + 1) * format.card[0]
                and row * format.card[1] <= run.base < (row + 1) * format.card[1]
            ]
            if inside:
                yield place, inside


# -- paper ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("page", "large", "size"),
    [
        ("a4", False, (595.28, 841.89)),  # ISO 216: 210 mm by 297 mm
        ("a4", True, (841.89, 595.28)),
        ("letter", False, (612, 792)),  # ANSI/ASME Y14.1: 8.5 in by 11 in
        ("letter", True, (792, 612)),
    ],
)
def test_the_sheet_has_the_size_of_the_paper(hood: Register, page: str, large: bool, size: tuple[float, float]) -> None:
    reader = PdfReader(io.BytesIO(printed(hood, Format(page, large=large), ids=("T07",))))
    for sheet in reader.pages:
        assert (float(sheet.mediabox.width), float(sheet.mediabox.height)) == pytest.approx(size, abs=0.1)


def test_an_a4_card_is_a6_and_a_large_one_a5() -> None:
    assert tuple(side / MM for side in Format("a4").card) == pytest.approx((105, 148.5))  # ISO 216
    assert tuple(side / MM for side in Format("a4", large=True).card) == pytest.approx((148.5, 210))


@pytest.mark.parametrize("format", FORMATS)
@pytest.mark.parametrize("text", ["hood", "hostile"])
def test_all_text_stands_inside_its_card_and_above_its_foot(hood: Register, format: Format, text: str) -> None:
    register = hood if text == "hood" else register_of(HOSTILE)
    chosen = drafts(register, kinds=KINDS) if text == "hostile" else drafts(register, ids=("T08", "T31", "U02"))
    cards = [card for draft in chosen for card in fill(draft, format)]
    paper, count = print_cards(chosen, format, "hood")
    assert count == len(cards)
    seen = list(on_cards(paper.pdf, format))
    assert len(seen) == len(cards)
    for card, (place, runs) in zip(cards, seen, strict=True):
        left, top = format.corner(place)
        foot = flat(card.draft.foot + card.draft.typed)
        below = top + format.room[1] - foot_height(card.draft, format)
        for run in runs:
            assert run.left >= left - 0.2
            assert run.right <= left + format.room[0] + 3, run  # the width is an estimate
            assert top < run.base <= top + format.room[1], run
            if flat(run.words) not in foot:
                assert run.base <= below, run


@pytest.mark.parametrize("format", FORMATS)
def test_every_card_holds_what_is_put_on_it(format: Format) -> None:
    for draft in drafts(register_of(HOSTILE), kinds=KINDS):
        for card in fill(draft, format):
            room = format.room[1] - head_height(draft, format, first=card.number == 1) - foot_height(draft, format)
            frames = sum(2 * (FRAME_PAD + FRAME_BORDER) + FRAME_AFTER for frame, _ in card.groups if frame)
            assert frames + sum(piece.height for _, pieces in card.groups for piece in pieces) <= room + 0.1


def test_no_text_comes_near_a_cut_or_the_edge_of_the_paper(hood: Register) -> None:
    format = Format("a4")
    middle, centre = format.card
    for runs in placed(printed(hood, format, kinds=("slip", "blank"), ids=("T08", "U01", "I03"))):
        for run in runs:
            assert not (run.left < middle < run.right)
            assert run.base < centre - CUT + 0.1 or run.base - run.size * 0.7 > centre + CUT - 3
            assert run.left > EDGE - 1
            assert run.right < format.sheet[0] - EDGE + 1


def test_cut_marks_stand_at_the_edges_and_where_the_cuts_cross(hood: Register) -> None:
    pdf = pikepdf.open(io.BytesIO(printed(hood, ids=("T07",))))
    thin = []
    for operands, operator in pikepdf.parse_content_stream(pdf.pages[0]):
        if str(operator) == "re":
            x, y, wide, high = (abs(float(each)) * 0.75 for each in operands)
            if min(wide, high) < 0.6 and 16 < max(wide, high) < 18:  # 6 mm long
                thin.append((x + wide / 2, y + high / 2))
    half, down = 105 * MM, 148.5 * MM
    ends = ((half, 3 * MM), (half, 294 * MM), (3 * MM, down), (207 * MM, down), (half, down))
    for end in ends:
        assert any(abs(x - end[0]) < 0.5 and abs(y - end[1]) < 0.5 for x, y in thin), (end, thin)


# -- the questions ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("format", "every"), [(Format("a4"), 3), (Format("letter", large=True, left_handed=True), 8)])
def test_every_question_of_a_test_is_printed_in_the_order_of_record(hood: Register, format: Format, every: int) -> None:
    tests = hood.tests[::every]
    assert len(tests) > 4
    pages = placed(printed(hood, format, ids=tuple(test.id for test in tests)))
    everything = words_of([run for runs in pages for run in runs])
    for test in tests:
        code = card_code(test.id, content_of(test))
        assert f"riskkitrecord{test.id}--card{code}" in everything
        cards = [card for draft in drafts(hood, ids=(test.id,)) for card in fill(draft, format)]
        asked = [numbered for card in cards for numbered in _numbered(card)]
        assert [int(number) for number, _ in asked] == list(range(1, len(all_questions(test, hood)) + 1))
        for question, (_, label) in zip(all_questions(test, hood), asked, strict=True):
            assert flat(question.ask) in flat(label)
            assert flat(label) in everything


def _numbered(card: Card) -> Iterator[tuple[str, str]]:
    for _, pieces in card.groups:
        for piece in pieces:
            block = piece.block
            if isinstance(block, Text):
                continue
            if block.number:
                yield block.number, block.label
            for box in block.boxes if not block.label else ():
                number, _, label = box.caption.partition("  ")
                if label:
                    yield number, label


def test_the_unit_is_printed_in_the_box_and_a_reading_has_a_box_for_each_unit_of_the_plan(hood: Register) -> None:
    words = words_of([run for runs in placed(printed(hood, ids=("T07",))) for run in runs])
    assert "Readings:openingpressure" in words
    draft = drafts(hood, ids=("T07",))[0]
    readings = next(each for each in draft.blocks if isinstance(each, Field) and each.number == "7")
    assert [box.unit for box in readings.boxes] == ["hPa"] * 5  # the plan of T07 is for five units
    assert words.count("hPa") >= 6


@pytest.mark.parametrize("format", FORMATS)
def test_boxes_can_be_written_in_with_gloves(hood: Register, format: Format) -> None:
    for draft in drafts(hood, kinds=KINDS):
        for card in fill(draft, format):
            for _, pieces in card.groups:
                for row in (row for piece in pieces for row in piece.rows):
                    assert row.height >= 8 * MM - 0.01
                    assert all(wide >= 25 * MM for _, _, wide in row.boxes)


def test_large_print_has_no_letter_below_fourteen_points(hood: Register) -> None:
    for runs in placed(printed(hood, Format("a4", large=True), kinds=("switch-on", "slip"), ids=("T08", "U01", "I03"))):
        assert min(run.size for run in runs) >= 13.99


def test_the_left_hand_finds_every_box_at_the_left_edge(hood: Register) -> None:
    for format in BOTH_HANDS:
        cards = [card for draft in drafts(hood, ids=("T07", "T08")) for card in fill(draft, format)]
        pieces = [piece for card in cards for _, group in card.groups for piece in group if piece.rows]
        lefts = {piece.rows[0].boxes[0][1] for piece in pieces}
        if format.left_handed:
            assert lefts == {0.0}
        else:
            assert max(lefts) > format.room[0] * 0.4


# -- what stands on a test card -----------------------------------------------------------------------------


def test_when_to_stop_is_the_first_thing_on_every_card(hood: Register) -> None:
    for draft in drafts(hood, kinds=("test",)):
        cards = fill(draft, Format("a4"))
        first = cards[0].groups[0]
        assert first[0] == "stop"
        assert first[1][0].block.words == "STOP AT ONCE AT"  # type: ignore[union-attr]
        test = hood.get(draft.key.removeprefix("card-"), Test)
        assert test is not None
        assert first[1][1].block.words == (test.stop or NO_STOP)  # type: ignore[union-attr]
    runs = [run for _, runs in on_cards(printed(hood, ids=("T07",)), Format("a4")) for run in runs]
    assert words_of(runs).count(flat("STOP AT ONCE at 25 hPa on the gauge, and at every condition on card 1.")) == 2


def test_a_device_without_stop_conditions_is_told_to_agree_on_one() -> None:
    text = words_of(placed(printed(register_of("tests: {T01: {title: look}}"), ids=("T01",)))[0])
    assert flat(NO_DEVICE_STOP) in text
    assert flat("No limit is stated for this test: a reading of it cannot be judged.") in text
    assert flat("No steps are written for this test") in text


def test_code_kind_and_number_of_the_card_stand_on_each_of_them(hood: Register) -> None:
    cards = [words_of(runs) for _, runs in on_cards(printed(hood, ids=("T07",)), Format("a4"))]
    code = card_code("T07", content_of(next(test for test in hood.tests if test.id == "T07")))
    assert len(cards) == 3
    for number, words in enumerate(cards, start=1):
        assert words.count(code) == 2
        assert f"card{number}of3" in words
        assert "RevisionC,build4f2c9d1,2026-11-25." in words
        assert "Roles,nonames" in words


def test_limits_and_claim_are_left_off_when_that_is_asked(hood: Register) -> None:
    shown = words_of([run for runs in placed(printed(hood, ids=("T07", "T29"))) for run in runs])
    hidden = words_of([run for runs in placed(printed(hood, ids=("T07", "T29"), hide_limit=True)) for run in runs])
    for words in ("between 15 hPa and 18 hPa", "95 % of discs open", "stays on its base"):
        assert flat(words) in shown
        assert flat(words) not in hidden
    assert flat("The limit is left off this card on purpose") in hidden
    assert "25hPaonthegauge" in hidden  # when to stop is never hidden


def test_a_fault_card_names_the_fault_the_witness_and_the_second_person(hood: Register) -> None:
    test = next(test for test in hood.tests if test.id == "T08")
    assert is_fault_injection(test, hood)
    words = words_of([run for runs in placed(printed(hood, ids=("T08",))) for run in runs])
    place = [each.field for each in all_questions(test, hood)].index("fault_shown") + 1
    for said in (
        "Fault-injection card",
        "The fault that is set: full speed with 5 L/min oxygen and the outlet shut.",
        "It stands for: P05 controller with its firmware: drives to full speed (H05)",
        f"write in box {place} how it was seen",
        "a second person is here and can reach the switch",
        "both have read the stop conditions aloud",
    ):
        assert flat(said) in words


def test_only_fault_cards_come_for_the_kind_fault(hood: Register) -> None:
    found = {draft.key.removeprefix("card-") for draft in drafts(hood, kinds=("fault",))}
    assert found == {test.id for test in hood.tests if is_fault_injection(test, hood)}
    assert {draft.kind for draft in drafts(hood, kinds=("fault",))} == {"Fault-injection card"}


def test_a_parked_test_says_so_on_its_card(hood: Register) -> None:
    words = words_of(placed(printed(hood, ids=("T31",)))[0])
    assert flat("This test is parked until 2026-10-31: no laboratory found") in words


# -- units, instruments, slips --------------------------------------------------------------------------------


def test_a_build_card_has_every_part_and_says_what_the_file_has(hood: Register) -> None:
    words = words_of([run for runs in placed(printed(hood, ids=("U02",))) for run in runs])
    for part in hood.parts:
        assert flat(f"{part.id} {part.title}. Drawn: {part.version}.") in words
    assert flat("Drawn: lot B. On file: lot S, substitute.") in words
    assert words.count("Onfile:") == 1  # the one part that differs
    assert flat("Deviation on file: outflow spring 12 % stiffer") in words
    assert flat(SENTENCES[7]) in words
    assert flat(SENTENCES[10]) in words
    assert flat("Neither mark lets the unit be used on a person.") in words


def test_steps_for_two_people_have_room_for_two_roles(hood: Register) -> None:
    checks = next(draft for draft in drafts(hood, ids=("U03",)) if draft.kind == "Build card: checks")
    fields = [block for block in checks.blocks if isinstance(block, Field) and block.number]
    two = {field.label: [box.caption for box in field.boxes] for field in fields}
    assert two["torque of the seal ring: two people"] == ["found", "done by (role)", "seen by (role)"]
    assert two["relief weight"] == ["found", "done by (role)"]
    assert next(f for f in fields if f.label.startswith("torque")).boxes[0].unit == "N·m"
    named = [block.label for block in checks.blocks if isinstance(block, Field) and not block.number]
    assert [label.split()[0] for label in named] == [t.id for t in hood.tests if t.scope == "every unit"]


def test_checks_of_a_gate_are_on_the_card_although_no_unit_has_them() -> None:
    register = register_of(
        'gates: {G1: {title: show, order: 1, questions: [{ask: "tight?", steps: [leak of the box]}]}}'
    )
    checks = drafts(register, unit="new")[1]
    assert [b.label for b in checks.blocks if isinstance(b, Field)] == ["leak of the box"]


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ("due: 2026-11-26", "DO NOT USE AFTER 2026-11-26"),
        ("due: 2026-11-25", "DO NOT USE AFTER 2026-11-25"),  # on its last day it is still good
        ("due: 2026-11-24", "OVERDUE SINCE 2026-11-24"),
        ("title: gauge", "NO DUE DATE"),
        (
            "due: 2027-01-01, calibrations: [{on: 2026-01-01, outcome: failed}]",
            "The last comparison failed on 2026-01-01.",
        ),
        (
            "due: 2027-01-01, calibrations: [{on: 2026-03-01, outcome: passed}, {on: 2026-01-01, outcome: failed}]",
            "DO NOT USE AFTER 2027-01-01",
        ),
    ],
)
def test_an_instrument_card_says_until_when(fields: str, said: str) -> None:
    title = "" if fields.startswith("title") else "title: gauge, "
    register = register_of(f"instruments: {{I01: {{{title}{fields}, uncertainty: 0.3 hPa}}}}")
    words = words_of(placed(printed(register, kinds=("instrument",)))[0])
    assert flat(said) in words
    assert flat("Expanded uncertainty (k = 2): 0.3 hPa") in words


def test_slips_spares_and_the_switch_on_card(hood: Register) -> None:
    assert [len(fill(draft, Format("a4"))) for draft in drafts(hood, kinds=("slip",))] == [1, 1, 1, 1]
    words = words_of([r for runs in placed(printed(hood, kinds=("slip", "switch-on", "blank"))) for r in runs])
    assert hood.device is not None
    for line in (*hood.device.stop_conditions, *hood.device.must_never, SENTENCES[0], SENTENCES[9], SENTENCES[10]):
        assert flat(line) in words
    assert flat("Never test alone with oxygen, with a mask on a person, or with guards off.") in words
    assert flat("No check before every use is written in this register.") in words
    for title in ("DEVIATION", "OBSERVATION", "SWITCH-ON", "SPARE", "watches (role)"):
        assert flat(title) in words


def test_a_check_before_every_use_stands_on_the_switch_on_card_with_its_unit() -> None:
    register = register_of("tests: {T01: {title: hiss test, scope: every use, limit: {at_most: 3 hPa}}}")
    draft = drafts(register, kinds=("switch-on",))[0]
    field = next(b for b in draft.blocks if isinstance(b, Field) and b.label)
    code = card_code("T01", content_of(register.tests[0]))
    assert field == Field(
        f"T01 hiss test (at most 3 hPa), card {code}", (Box("hPa", "found"), Box(caption="by (role)")), across=2
    )


# -- what is refused --------------------------------------------------------------------------------------------


def test_a_claim_of_the_register_is_not_printed() -> None:
    register = register_of(
        "tests: {T01: {title: look, claim: The device is safe for patients. It hums., limit: {shows: approved for clinical use}}}"
    )
    words = words_of(placed(printed(register, ids=("T01",)))[0])
    assert "Claim:[claimremoved:safeforpatients]Ithums." in words
    assert "Limit:[claimremoved:approved,forclinicaluse]" in words
    assert "Thedeviceissafeforpatients" not in words


def test_an_id_that_claims_is_refused() -> None:
    register = register_of("instruments: {I01: {title: gauge}}")
    draft = dataclasses.replace(drafts(register, kinds=("instrument",))[0], foot="It is approved for clinical use.")
    with pytest.raises(RiskkitError, match="a card would print"):
        print_cards([draft], Format("a4"), "hood")


@pytest.mark.parametrize(
    ("wanted", "sentence"),
    [
        ({"ids": ("H01",)}, "H01 stands in `hazards`, and these have no cards"),
        ({"ids": ("T99",)}, "there is no record T99"),
        ({"ids": ("T29",), "kinds": ("fault",)}, "T29 is a test that sets no fault"),
        ({"ids": ("I01",), "kinds": ("test",)}, "I01 is a record of `instruments`"),
        ({"unit": "U77"}, "there is no unit U77"),
    ],
)
def test_what_has_no_card_is_said_in_one_sentence(hood: Register, wanted: dict[str, object], sentence: str) -> None:
    with pytest.raises(RiskkitError) as error:
        drafts(hood, **wanted)
    assert error.value.headline == sentence
    assert error.value.help


def test_an_empty_register_has_no_test_card_but_a_spare_one() -> None:
    empty = register_of("device: {name: hood}")
    with pytest.raises(RiskkitError, match="the register has no tests"):
        drafts(empty)
    assert drafts(empty, kinds=("blank",))
    assert drafts(empty, kinds=("unit",))[0].code == "U__"


def test_retired_units_get_no_build_card_unless_named() -> None:
    register = register_of("units: {U01: {title: a, retired: 2026-01-01}, U02: {title: b}}")
    assert {draft.code for draft in drafts(register, kinds=("unit",))} == {"U02"}
    assert {draft.code for draft in drafts(register, unit="U01")} == {"U01"}
    assert register.get("U01", Unit) is not None
    assert not register.of(Instrument)


# -- the file -----------------------------------------------------------------------------------------------------


def test_the_same_cards_are_the_same_bytes(hood: Register) -> None:
    assert printed(hood, ids=("T07",)) == printed.__wrapped__(hood, ids=("T07",))


def test_the_file_is_tagged_titled_and_has_a_bookmark_for_each_card(hood: Register) -> None:
    pdf = pikepdf.open(io.BytesIO(printed(hood, ids=("T07", "T08", "I03"))))
    assert pdf.Root.MarkInfo.Marked
    assert str(pdf.docinfo.Title) == "hood: cards for the bench"
    assert "/StructTreeRoot" in pdf.Root
    with pdf.open_outline() as outline:
        titles = [" ".join(item.title.split()) for item in outline.root]
    assert [title.split()[0].split("-")[0] for title in titles] == ["T07", "T08", "I03"]
    assert titles[0].endswith("opening pressure of the blow-off")


def test_a_broken_record_leaves_the_other_cards(project: Callable[..., Assessment]) -> None:
    found = project("tests: {T01: {title: a}, T02: {titel: b}}")
    assert [draft.key for draft in drafts(found.reading.register)] == ["card-T01"]
