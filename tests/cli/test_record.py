"""`record`: a reading typed in from a card, by a person and from YAML; what is refused, and that nothing else changes."""

from __future__ import annotations

import datetime
import hashlib
import io
import json
import os
import re
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from riskkit.cli.card_sheet import sheet
from riskkit.cli.recording import print_sheet, record_result
from riskkit.cli.typed_answers import NotUnderstood, TwoMeanings, nearest_id, read_one, read_readings, read_words
from riskkit.diagnostics import RiskkitError
from riskkit.judgement.cards import LETTERS, Question
from riskkit.model.verification import Result
from riskkit.text.reader import read
from riskkit.text.snapshot import read_folder

HOOD = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "hood"
TODAY = "2026-11-25"

SMALL = """\
device: {name: Puffer}
parts:
  P11: {title: blow-off, version: lot B}
units:
  U01: {title: first, parts: {P11: lot B}}
  U02: {title: second, parts: {P11: lot S}}
instruments:
  I01: {title: "U-tube of clear hose", uncertainty: 0.18 hPa}
  I02: {title: gauge, uncertainty: 3 %}
tests:
  T07:
    title: opening pressure
    stop: 25 hPa
    limit: {what: opening pressure, between: [15 hPa, 18 hPa]}
    plan: {runs: 20}
    conditions: {flow: 20 L/min}
    instruments: [I01]
    configuration: [P11]
  T08: {title: look at the seat, limit: {shows: no scratch}}
"""
ALL = {
    "card": "", "on": "y", "unit": "U01", "version": "y", "instruments": "y", "mode": "both limbs", "flow": "y", "room": "21",
    "readings": "17.2 17.6 17.4 17.9 17.3", "uncertainty": "0.30", "runs": "20", "failures": "0", "operator": "builder-1",
    "witness": "builder-2", "evidence": "", "observed": "", "notes": "", "write": "y",
}  # fmt: skip
"""Answers to the card of T07, in its order."""


def typed(**changed: str) -> str:
    return "".join(answer + "\n" for answer in {**ALL, **changed}.values())


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    inner = tmp_path / "register"
    (inner / "evidence").mkdir(parents=True)
    (inner / "register.yaml").write_text(SMALL)
    (inner / "evidence" / "run.csv").write_bytes(b"time,pressure\n")
    return inner


Typing = Callable[..., str]


@pytest.fixture
def typing(folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Typing:
    """Type lines into `record`, and get what was printed."""

    def run(given: str, test: str = "T07", status: int = 0, **options: object) -> str:
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(given.encode()), encoding="utf-8"))
        arguments = {"card": None, "into": None, "today": TODAY, "answers": None, "dry_run": False, "yes": False}
        assert record_result(test, folder, **(arguments | options)) == status  # type: ignore[arg-type]
        return capsys.readouterr().out

    return run


def results(folder: Path) -> dict[str, Result]:
    return {result.id: result for result in read(*read_folder(folder)).register.results}


def files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def code_of(folder: Path, test: str, capsys: pytest.CaptureFixture[str]) -> str:
    print_sheet(test, folder, hide_limit=False)
    return capsys.readouterr().out.split()[0]


# -- the story ----------------------------------------------------------------------------------------


def riskkit(*arguments: object, given: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "riskkit", *map(str, arguments)],
        input=given,
        capture_output=True,
        text=True,
        check=False,
    )


def test_five_opening_pressures_typed_in_first_with_a_wrong_check_letter(tmp_path: Path) -> None:
    """Story S3 of the scenario: the card of T07 in the demo; nothing but the new result changes."""
    folder = Path(shutil.copytree(HOOD, tmp_path / "hood"))
    card = riskkit("record", "T07", folder, "--sheet").stdout
    code = card.split()[0]
    assert re.fullmatch(rf"T07-[{LETTERS}]{{2}}", code)
    wrong = code[:-2] + LETTERS[(LETTERS.index(code[-2]) + 1) % 23] + code[-1]
    lines = [wrong, code, "y", "U01", "y", "y", "1", "21", "17.2 17.6 17.4 17.9 17.3", "0.30", "", "", "builder-1", "builder-2",
             "", "five discs", "", "y"]  # fmt: skip
    done = riskkit("record", "T07", folder, "--today", TODAY, given="\n".join(lines) + "\n")
    assert done.returncode == 0, done.stderr
    assert f"`{wrong}`: the check letter is wrong" in done.stdout
    assert "17.2 17.6 17.4 17.9 17.3 -> 17.2 hPa, 17.6 hPa, 17.4 hPa, 17.9 hPa, 17.3 hPa" in done.stdout
    assert "R07-3 is written to" in done.stdout
    assert "runs, failures, evidence" in done.stdout
    new = results(folder)["R07-3"]
    assert [each.written for each in new.readings["opening pressure"]] == [
        "17.2 hPa",
        "17.6 hPa",
        "17.4 hPa",
        "17.9 hPa",
        "17.3 hPa",
    ]
    assert new.uncertainty["opening pressure"].written == "0.30 hPa"
    assert (new.on, new.unit, new.configuration, new.reading_mode) == (
        datetime.date(2026, 11, 25),
        "U01",
        {"P11": "lot B"},
        "both limbs",
    )
    before, after = files(HOOD), files(folder)
    changed = [name for name in after if after[name] != before[name]]
    assert changed == ["results/october.yaml"]
    assert after[changed[0]].startswith(before[changed[0]])
    assert {"R07-3"} == set(results(folder)) - set(results(HOOD))


# -- a person ------------------------------------------------------------------------------------------


def test_all_answers_make_a_result(typing: Typing, folder: Path) -> None:
    told = typing(typed(evidence="evidence/run.csv", observed="clean lift", notes="second day"))
    result = results(folder)["R07-1"]
    assert result.runs == 20
    assert result.failures == 0
    assert result.conditions["flow"].written == "20 L/min"
    assert result.room["temperature"].written == "21 °C"
    assert (result.operator, result.witness) == ("builder-1", "builder-2")
    assert [(each.file, each.sha256) for each in result.evidence] == [
        ("evidence/run.csv", hashlib.sha256(b"time,pressure\n").hexdigest())
    ]
    assert "21 -> 21 °C" in told
    assert "Not known: card code." in told
    assert (folder / "results.yaml").read_text().startswith("results:\n  R07-1:\n    test: T07\n    on: 2026-11-25\n")


def test_nothing_known_is_left_out_and_named(typing: Typing, folder: Path) -> None:
    told = typing("\n\ny\n" + "\n" * 14 + "y\n")
    result = results(folder)["R07-1"]
    assert list(result.remembers) == ["T07"]
    assert result.model_dump(exclude_defaults=True, exclude={"remembers"}) == {
        "id": "R07-1",
        "test": "T07",
        "on": TODAY,
    }
    for gap in (
        "card code",
        "unit",
        "configuration: P11",
        "instruments",
        "readings: opening pressure",
        "operator",
        "evidence",
    ):
        assert gap in told.rpartition("is written to")[2], gap


def test_where_the_answers_end_in_the_middle_nothing_is_written(typing: Typing, folder: Path) -> None:
    before = files(folder)
    lines = typed().splitlines(keepends=True)
    for count in range(len(lines)):
        with pytest.raises(RiskkitError, match="nothing was written"):
            typing("".join(lines[:count]))
    assert files(folder) == before
    typing(typed(write="n"), status=1)
    typing(typed(), dry_run=True)
    assert files(folder) == before


def test_a_wrong_answer_is_refused_in_one_sentence_and_asked_again(typing: Typing, folder: Path) -> None:
    told = typing(
        typed(
            on="14.10.2026\n2026-11-26\n2026-02-30\ny", unit="U1\nu02\nU01", instruments="I1\nI01 I03\nI01", mode="3\nboth limb\n1",
            flow="20 hPa\n20", readings="abc\n17.2 s\n17.2 hpaa\n17.2", uncertainty="0\n0.3", runs="many\n20",
            failures="21\n0", witness="Builder-1\nbuilder-2",
            evidence="../secret.txt\n/etc/passwd\nevidence/gone.csv\nevidence/run.csv",
        )
    )  # fmt: skip
    for sentence in (
        "is not a day of the calendar", "is in the future", "there is no unit U1", "did you mean U01?", "did you mean U02?",
        "there is no instrument I1", "did you mean I01?", "did you mean `both limbs`?", "a pressure, and a flow is expected",
        "has no number", "is a time, and a pressure is expected", "did you mean `hPa`?", "it is not above zero", "is not a whole number",
        "21 failures in 20 runs cannot be", "cannot have watched too", "is not inside the register's folder", "there is no such file",
    ):  # fmt: skip
        assert sentence in told.replace("\n     ", " ").replace("\n  ", " "), sentence
    assert results(folder)["R07-1"].failures == 0


def test_an_older_day_needs_a_reason_that_stands_in_the_notes(typing: Typing, folder: Path) -> None:
    told = typing(typed(on="2026-10-14\n\nthe card was left at the bench", notes="one disc"))
    assert "42 days ago" in told
    assert "needs a reason" in told
    assert results(folder)["R07-1"].notes == (
        "entered on 2026-11-25, 42 days later, because the card was left at the bench; one disc"
    )


def test_the_version_that_the_unit_was_built_with_is_offered(typing: Typing, folder: Path) -> None:
    typing(typed(unit="U02"))
    typing(typed(version="lot X"))
    assert results(folder)["R07-1"].configuration == {"P11": "lot S"}
    assert results(folder)["R07-2"].configuration == {"P11": "lot X"}


def test_an_uncertainty_in_per_cent_is_offered_as_a_share_of_the_largest_reading(typing: Typing, folder: Path) -> None:
    lines = typed(instruments="I02", uncertainty="y").replace("both limbs\n", "")
    typing(lines)
    assert results(folder)["R07-1"].uncertainty["opening pressure"].to("hPa") == pytest.approx(0.03 * 17.9, rel=0.01)


def test_an_inspection_asks_what_was_found(typing: Typing, folder: Path) -> None:
    lines = ["", "y", "U01", "", "2", "builder-1", "", "", "a scratch", "", "y"]
    typing("\n".join(lines) + "\n", test="T08")
    assert results(folder)["R08-1"].inspection == "not as it should be"


def test_claims_and_patients_are_refused_with_what_to_say_instead(typing: Typing, folder: Path) -> None:
    told = typing(
        typed(observed="it is safe\nworn by a patient with asthma\nheld 17 hPa", operator="Mr Smith\nbuilder-1")
    )
    assert "`safe` cannot be written into a result" in told
    assert "meets limit L on unit U, date D" in told
    assert "names a person's health or a patient" in told
    assert "write roles, and leave people out" in told
    assert results(folder)["R07-1"].observed == "held 17 hPa"


@pytest.mark.parametrize(
    "words", ["mannequin, no patient near", "patient port shut with a plug", "safe distance of 2 m kept"]
)
def test_denials_and_terms_of_the_trade_are_no_claims(words: str) -> None:
    assert read_words(words) == words


@pytest.mark.parametrize(
    "words",
    [
        "no leak, patient coughed",
        "tried on a volunteer",
        "SpO2 stayed at 98 %",
        "healthy adult breathed",
        "his lungs",
        "på pasienten",
    ],
)
def test_a_persons_health_is_refused_in_other_words_too(words: str) -> None:
    with pytest.raises(NotUnderstood):
        read_words(words)


def test_y_takes_only_what_is_offered(typing: Typing, folder: Path) -> None:
    told = typing(typed(unit="y\nU01", operator="y\nbuilder-1"))
    assert told.count("nothing is offered here") == 2
    assert results(folder)["R07-1"].operator == "builder-1"


@pytest.mark.parametrize("letter", ["\x1b", "\u202e", "\u200b", "\x00"])
def test_invisible_characters_are_refused(letter: str) -> None:
    with pytest.raises(NotUnderstood, match="invisible"):
        read_words(f"held{letter} 17 hPa")


def test_bytes_that_are_no_text_write_nothing(folder: Path) -> None:
    before = files(folder)
    done = subprocess.run(
        [sys.executable, "-m", "riskkit", "record", "T07", str(folder)],
        input=b"\n\xff\xfe\n",
        capture_output=True,
        check=False,
        env=os.environ | {"PYTHONIOENCODING": "utf-8:strict"},
    )
    assert done.returncode == 2, done.stderr
    assert b"not UTF-8" in done.stderr
    assert files(folder) == before


def test_a_linked_file_stays_a_link(typing: Typing, folder: Path) -> None:
    (folder / "kept").mkdir()
    (folder / "kept" / "real.yaml").write_text("results:\n  R07-1: {test: T07, on: 2026-10-01}\n")
    (folder / "kept" / "real.yaml").rename(folder / "kept" / "real.txt")
    (folder / "results.yaml").symlink_to("kept/real.txt")
    typing(typed())
    assert (folder / "results.yaml").is_symlink()
    assert "R07-2" in (folder / "kept" / "real.txt").read_text()


# -- numbers as people write them ----------------------------------------------------------------------

PRESSURE = Question("readings", "p", "Readings: p", "readings", "pressure", "hPa")
TIME = Question("readings", "t", "Readings: t", "readings", "time", "s")
SPREAD = Question("uncertainty", "p", "U", "spread", "pressure", "hPa")


@pytest.mark.parametrize(
    ("text", "question", "expected"),
    [
        ("17.2", PRESSURE, "17.2 hPa"),
        ("17.2 17.6", PRESSURE, "17.2 hPa|17.6 hPa"),
        ("17.2, 17.6", PRESSURE, "17.2 hPa|17.6 hPa"),
        ("17.2,17.6", PRESSURE, "17.2 hPa|17.6 hPa"),
        ("17,2; 17,6", PRESSURE, "17.2 hPa|17.6 hPa"),
        ("17, 18", PRESSURE, "17 hPa|18 hPa"),
        ("17,18,19", PRESSURE, "17 hPa|18 hPa|19 hPa"),
        ("172 175 mmH2O", PRESSURE, "172 mmH2O|175 mmH2O"),
        ("17.2 hPa 17.6 hPa", PRESSURE, "17.2 hPa|17.6 hPa"),
        ("17.2 hPa 17.6", PRESSURE, "17.2 hPa|17.6 hPa"),
        ("17.2 hPa, 1.76 kPa", PRESSURE, "17.2 hPa|1.76 kPa"),
        ("\u22120.3", PRESSURE, "-0.3 hPa"),
        ("58 61 64 s", TIME, "58 s|61 s|64 s"),
        ("2 min 30 s", TIME, "2 min 30 s"),
        ("2 min 30 s, 2h40", TIME, "2 min 30 s|2h40"),
        ("17.2 ± 0.3 hPa", PRESSURE, "17.2 ± 0.3 hPa"),
    ],
)
def test_readings_are_understood(text: str, question: Question, expected: str) -> None:
    assert read_readings(text, question).value == expected.split("|")


@pytest.mark.parametrize(
    "text", ["17,2", "17,2 hPa", "17,2 17,6", "17,2,17,6", "17,2, 17,6", "1.234,5", "1,234.5", "5.0 5.1 5,2"]
)
def test_what_can_mean_two_things_is_asked_back(text: str) -> None:
    with pytest.raises(TwoMeanings) as asked:
        read_readings(text, PRESSURE)
    assert len(set(asked.value.ways)) == 2


@pytest.mark.parametrize(
    "text",
    ["", "abc", "17.2 s", "17.2 hpaa", "12:30", "17.2 hPa 1.7 kPa 3", "2 min 30 s, 150", "1e999", "nan", "17..2"],
)
def test_what_is_no_reading_is_refused(text: str) -> None:
    question = TIME if "min" in text else PRESSURE
    with pytest.raises(NotUnderstood) as refused:
        read_readings(text, question)
    assert refused.value.headline
    assert refused.value.help


def test_one_number_with_a_decimal_comma_has_one_meaning() -> None:
    assert read_one("0,3", SPREAD).value == "0.3 hPa"
    assert read_one("0,3", SPREAD).said == "0,3 -> 0.3 hPa"
    with pytest.raises(NotUnderstood):
        read_one("0.3 0.4", SPREAD)


@pytest.mark.parametrize(
    ("second", "expected"), [("1", ["17.2 hPa"]), ("2", ["17 hPa", "2 hPa"]), ("17.2 17.3", ["17.2 hPa", "17.3 hPa"])]
)
def test_the_person_says_what_a_comma_means(typing: Typing, folder: Path, second: str, expected: list[str]) -> None:
    told = typing(typed(readings=f"17,2\n{second}"))
    assert "can mean 17.2 hPa or 2 x 17 hPa, 2 hPa" in told
    assert [each.written for each in results(folder)["R07-1"].readings["opening pressure"]] == expected


# -- cards ---------------------------------------------------------------------------------------------


def test_a_card_of_before_a_change_is_noticed(typing: Typing, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    old = code_of(folder, "T07", capsys)
    (folder / "register.yaml").write_text(SMALL.replace("[15 hPa, 18 hPa]", "[15 hPa, 17.5 hPa]"))
    new = code_of(folder, "T07", capsys)
    assert old != new
    told = typing(typed(card=f"{old}\n{new}"))
    assert f"the card {old} was printed before T07 was changed" in told
    assert "Not known" not in told.partition("card code")[0] or "card code" not in told.rpartition("Not known")[2]
    typing(typed(), card=old)
    assert f"read with card {old}, printed before T07 was changed" in (results(folder)["R07-2"].notes or "")


def test_a_card_of_another_test_is_refused(typing: Typing, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    other = code_of(folder, "T08", capsys)
    told = typing(typed(), card=other)
    assert "is not a card of T07" in told


def test_the_sheet_has_the_code_the_stop_the_units_and_no_limit_when_it_is_hidden(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    print_sheet("T07", folder, hide_limit=False)
    shown = capsys.readouterr().out
    print_sheet("T07", folder, hide_limit=True)
    hidden = capsys.readouterr().out
    lines = shown.splitlines()
    assert lines[0].startswith("T07-")
    assert "STOP AT ONCE: 25 hPa" in lines[2]
    assert "Limit: opening pressure: between 15 hPa and 18 hPa" in shown
    assert "15 hPa" not in hidden
    assert "18 hPa" not in hidden
    assert "STOP AT ONCE: 25 hPa" in hidden
    assert "________ hPa ]" in hidden
    assert max(map(len, lines)) <= 78
    numbers = re.findall(r"^ ?(\d+)  ", hidden, re.MULTILINE)
    assert numbers == [str(number) for number in range(1, 17)]


def test_every_test_of_the_demo_has_a_card_of_its_own_that_fits_the_paper() -> None:
    register = read(*read_folder(HOOD)).register
    cards = {test.id: sheet(test, register, hide_limit=True) for test in register.tests}
    assert len({card.split()[0] for card in cards.values()}) == len(cards) == 43
    for id, card in cards.items():
        assert max(map(len, card.splitlines())) <= 78, id
        assert card.startswith(f"{id}-")
        assert "STOP AT ONCE" in card
        assert "Limit:" not in card
        assert "Claim:" not in card


# -- from YAML ------------------------------------------------------------------------------------------

ANSWERS = """\
test: T07
on: 2026-11-25
unit: U01
configuration: {P11: lot B}
instruments: I01
reading_mode: both limbs
conditions: {flow: 20}
room: {temperature: 21, humidity: 40 %}
readings:
  opening pressure: [17.2, 17.6, 17.4 hPa]
  display: [17.5 hPa]
uncertainty: {opening pressure: "0,30"}
runs: 20
failures: 0
operator: builder-1
witness: builder-2
evidence: {file: evidence/run.csv, what: first run}
reported: each
"""


def answer(typing: Typing, folder: Path, text: str, **options: object) -> str:
    path = folder.parent / "answers.yaml"
    path.write_text(text)
    return typing("", answers=str(path), **({"yes": True} | options))


def test_answers_from_yaml_make_the_same_result(typing: Typing, folder: Path) -> None:
    told = answer(typing, folder, ANSWERS)
    result = results(folder)["R07-1"]
    assert [each.written for each in result.readings["opening pressure"]] == ["17.2 hPa", "17.6 hPa", "17.4 hPa"]
    assert result.readings["display"][0].written == "17.5 hPa"
    assert result.uncertainty["opening pressure"].written == "0.30 hPa"
    assert result.room["humidity"].written == "40 %"
    assert result.evidence[0].what == "first run"
    assert result.evidence[0].sha256 == hashlib.sha256(b"time,pressure\n").hexdigest()
    assert "-> 17.2 hPa" in told


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("test: T07", "test: T08", "another test"),
        ("on: 2026-11-25", "on: 2026-11-26", "in the future"),
        ("on: 2026-11-25", "on: 2026-11-20", "do not say why"),
        ("on: 2026-11-25\n", "", "on which day"),
        ("unit: U01", "unit: U09", "there is no unit U09"),
        ("runs: 20", "runz: 20", "no field `runz`"),
        ("17.2, 17.6", "17.2 s", "is a time, and a pressure is expected"),
        ("[17.2, 17.6, 17.4 hPa]", '"17,2"', "can mean"),
        ("display: [17.5 hPa]", "display: [17.5]", "has no unit"),
        ("failures: 0", "failures: 21", "cannot be"),
        ("witness: builder-2", "witness: builder-1", "cannot have watched"),
        ("what: first run", "what: it is safe", "`safe`"),
        ("what: first run", "sha256: abc", "another SHA-256"),
        ("evidence/run.csv", "../secret.txt", "not inside"),
        ("reported: each", "reported: some", "cannot be `some`"),
        ("reported: each", "card: T07-AB", "check letter"),
        ("conditions: {flow: 20}", "conditions: flow", "should be a group"),
        ("operator: builder-1", "operator: [", "answers.yaml"),
        ("reported: each", "supersedes: R99", "R99"),
        ("reported: each", "notes: tried on a patient", "a patient"),
    ],
)
def test_answers_that_cannot_be_taken_are_refused_and_write_nothing(
    typing: Typing, folder: Path, old: str, new: str, sentence: str
) -> None:
    before = files(folder)
    with pytest.raises(RiskkitError) as refused:
        answer(typing, folder, ANSWERS.replace(old, new))
    assert sentence in refused.value.headline
    assert files(folder) == before


def test_an_older_day_in_yaml_has_its_reason_beside_it(typing: Typing, folder: Path) -> None:
    answer(typing, folder, ANSWERS.replace("on: 2026-11-25", "on: 2026-11-20\nlate_because: no light"))
    assert results(folder)["R07-1"].notes == "entered on 2026-11-25, 5 days later, because no light"


def test_answers_from_standard_input_need_a_word_that_they_may_be_written(typing: Typing, folder: Path) -> None:
    with pytest.raises(RiskkitError, match="nothing was written"):
        typing(ANSWERS, answers="-")
    typing(ANSWERS, answers="-", yes=True)
    assert "R07-1" in results(folder)


# -- which file ------------------------------------------------------------------------------------------


def test_the_file_with_most_results_of_the_test_takes_it(typing: Typing, folder: Path) -> None:
    (folder / "a.yaml").write_text(
        "results:\n  R08-1: {test: T08, on: 2026-10-01}\n  R08-2: {test: T08, on: 2026-10-01}\n"
    )
    (folder / "b.yaml").write_bytes(b"results:\r\n    R07-1:\r\n        test: T07\r\n        on: 2026-10-01\r\n# end")
    typing(typed())
    content = (folder / "b.yaml").read_bytes()
    assert content.startswith(
        b"results:\r\n    R07-1:\r\n        test: T07\r\n        on: 2026-10-01\r\n    R07-2:\r\n        test: T07\r\n"
    )
    assert content.endswith(b"# end")
    assert b"\n" not in content.replace(b"\r\n", b"")


def test_a_section_in_brackets_is_passed_over_and_said(typing: Typing, folder: Path) -> None:
    (folder / "b.yaml").write_text("results: {R07-1: {test: T07, on: 2026-10-01}}\n")
    told = typing(typed())
    assert "Passed over: `results` in b.yaml is written in brackets" in told.replace("\n", " ")
    assert "R07-2" in (folder / "results.yaml").read_text()
    with pytest.raises(RiskkitError, match="in brackets"):
        typing(typed(), into="b.yaml")


def test_another_file_can_be_named_but_only_inside_the_folder(typing: Typing, folder: Path) -> None:
    (folder / "results").mkdir()
    typing(typed(), into="results/november.yaml")
    assert "R07-1" in (folder / "results" / "november.yaml").read_text()
    for name in ("../out.yaml", "/tmp/out.yaml", "notes.txt", ".hidden.yaml", "gone/x.yaml"):
        with pytest.raises(RiskkitError):
            typing(typed(), into=name)


def test_a_test_that_is_not_there_is_told_with_the_nearest(typing: Typing, folder: Path) -> None:
    with pytest.raises(RiskkitError) as refused:
        typing(typed(), test="T7")
    assert "T07" in refused.value.help
    with pytest.raises(RiskkitError, match="is no test"):
        typing(typed(), test="U01")


@pytest.mark.parametrize(
    ("typed_id", "meant"), [("T7", "T07"), ("t07", "T07"), ("U1", "U01"), ("R7-1", "R07-1"), ("T0O7", "T07")]
)
def test_an_id_without_its_zero_is_known_again(typed_id: str, meant: str) -> None:
    assert nearest_id(typed_id, ("T17", "T37", "U11", "R07-11", "T07", "U01", "R07-1")) == meant


def test_a_broken_file_elsewhere_is_no_hindrance(typing: Typing, folder: Path) -> None:
    (folder / "broken.yaml").write_text("results:\n  R07-5: {test: T07, on: [\n")
    typing(typed())
    assert "R07-6" in (folder / "results.yaml").read_text()
    assert (folder / "broken.yaml").read_text() == "results:\n  R07-5: {test: T07, on: [\n"


# -- two at once -----------------------------------------------------------------------------------------


def test_many_writers_at_once_lose_nothing(folder: Path) -> None:
    (folder / "answers").write_text("on: 2026-11-25\nunit: U01\nruns: 1\n")
    command = [
        sys.executable,
        "-m",
        "riskkit",
        "record",
        "T07",
        str(folder),
        "--answers",
        str(folder / "answers"),
        "--yes",
        "--today",
        TODAY,
    ]
    running = [subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) for _ in range(5)]
    told = [each.communicate(timeout=60) for each in running]
    assert [each.returncode for each in running] == [0] * 5, told
    assert sorted(results(folder)) == [f"R07-{number}" for number in range(1, 6)]
    written = {re.search(r"(R07-\d) is written", out)[1] for out, _ in told}  # type: ignore[index]
    assert written == set(results(folder))


def test_who_writes_meanwhile_keeps_the_id_and_the_lines(folder: Path) -> None:
    (folder / "results.yaml").write_text("results:\n  R07-1: {test: T07, on: 2026-10-01}\n")
    command = [sys.executable, "-m", "riskkit", "record", "T07", str(folder), "--today", TODAY]
    slow = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    assert slow.stdin is not None
    assert slow.stdout is not None
    slow.stdin.write(typed().removesuffix("y\n"))
    slow.stdin.flush()
    shown = ""
    while "Write it?" not in shown:
        shown += slow.stdout.readline()
    assert "R07-2:" in shown
    with open(folder / "results.yaml", "a") as file:
        file.write("  R07-2: {test: T07, on: 2026-10-02}  # by hand\n")
    told, _ = slow.communicate("y\n", timeout=60)
    assert slow.returncode == 0
    assert "the result is R07-3" in told
    assert "# by hand\n" in (folder / "results.yaml").read_text()
    assert set(results(folder)) == {"R07-1", "R07-2", "R07-3"}


def test_a_test_that_changes_meanwhile_stops_the_writing(
    typing: Typing, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from riskkit.cli import recording

    def edited(_: bool) -> bool:
        (folder / "register.yaml").write_text(SMALL.replace("18 hPa", "17 hPa"))
        return True

    monkeypatch.setattr(recording, "_agreed", edited)
    with pytest.raises(RiskkitError, match="T07 was changed"):
        typing(typed())
    assert not (folder / "results.yaml").exists()


def test_the_lock_keeps_others_out_and_is_gone_afterwards(folder: Path) -> None:
    from riskkit.cli.adding import only_writer

    seen: list[str] = []

    def second() -> None:
        with only_writer(folder):
            seen.append("second")

    with only_writer(folder):
        waiting = threading.Thread(target=second)
        waiting.start()
        time.sleep(0.1)
        seen.append("first")
    waiting.join(timeout=5)
    assert seen == ["first", "second"]
    assert set(os.listdir(folder)) == {"register.yaml", "evidence"}


def test_a_full_disk_leaves_the_old_file(typing: Typing, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "results.yaml").write_text("results:\n  R07-1: {test: T07, on: 2026-10-01}\n")
    before = files(folder)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(RiskkitError, match="No space left"):
        typing(typed())
    assert files(folder) == before


def test_check_can_read_what_was_written(typing: Typing, folder: Path) -> None:
    typing(typed(evidence="evidence/run.csv"))
    answer = json.loads(riskkit("check", folder, "--format", "json", "--today", TODAY).stdout)
    assert answer["counts"]["broken"] == 0
    assert not [found for found in answer["findings"] if found["rule"].startswith("evidence-")]


def test_a_reading_nearly_called_like_its_limit_is_asked_back(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(HOOD, tmp_path / "hood"))
    answers = tmp_path / "answers.yaml"
    answers.write_text("on: 2026-11-25\nunit: U01\nreadings: {opening presure: [17.2 hPa]}\n")
    command = [sys.executable, "-m", "riskkit", "record", "T07", str(folder), "--answers", str(answers), "--yes"]
    done = subprocess.run([*command, "--today", "2026-11-25"], capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "did you mean `opening pressure`?" in done.stderr
