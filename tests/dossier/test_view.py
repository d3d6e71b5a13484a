"""The view: a register in words, cut, cleaned, counted, and never louder than what is on file."""

from __future__ import annotations

import dataclasses
import datetime
import re
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from riskkit.assess import Assessment, assess
from riskkit.checks.wording import Claim
from riskkit.diagnostics import Report
from riskkit.dossier.cautions import cautions
from riskkit.dossier.chains import draw_chain, graph_of
from riskkit.dossier.layout import layers
from riskkit.dossier.render import claims_in
from riskkit.dossier.view import DossierView, view_of
from riskkit.dossier.view.telling import LONGEST, Teller, counted, listed, probability, seconds, shown
from riskkit.text.reader import read
from riskkit.text.snapshot import read_folder

HOOD = Path(__file__).parents[2] / "catalogs" / "examples" / "hood"
Project = Callable[..., Assessment]

TWO = """
device: {name: hood, revision: C, not_for: [any person], stop_conditions: [smell of smoke, gauge above 25 hPa]}
parts:
  P01: {title: blower, version: "2"}
  P02: {title: controller}
hazards:
  H01:
    title: Flow stops
    condition: single fault
    causes: [{by: P01, mode: stops}]
    harm: {text: too little air, severity: 5}
    likelihood: {before: {p1: 5e-3, p2: 0.5}, claimed: {p: [1e-4, 2e-3]}}
    controls: [C01]
    time_to_harm: {value: 58 s, assumption: A01}
  H02:
    title: Surface is warm
    condition: normal
    harm: {text: mild burn, severity: 2}
    controls: [C01]
controls:
  C01:
    title: alarm
    kind: protective
    depends_on: [P01]
    alarm: {detect: 6 s, delay: 4 s, signal: 1 s, notice: 30 s, act: 25 s}
tests:
  T01: {title: alarm time, proves: [C01], shows: effectiveness, limit: {at_most: 58 s}}
results:
  R01: {test: T01, on: 2026-10-01, readings: {time: [60 s, 61 s]}, configuration: {P01: "1"}}
  R02: {test: T01, on: 2026-10-02, readings: {time: [60 s]}, uncertainty: {time: 1 s}}
assumptions:
  A01: {text: harm begins at 3 %, owner: emergency physician}
"""


@pytest.fixture(scope="module")
def hood() -> Assessment:
    snapshot, troubles = read_folder(HOOD)
    return assess(read(snapshot, troubles), today=datetime.date(2026, 11, 25))


def texts_in(value: Any) -> Iterator[str]:
    """Every text that a template could print."""
    if isinstance(value, str):
        yield value
    elif dataclasses.is_dataclass(value):
        for each in dataclasses.fields(value):
            if each.name not in ("figure", "figures", "alarm", "position"):
                yield from texts_in(getattr(value, each.name))
    elif isinstance(value, dict):
        yield from texts_in(tuple(value.values()))
    elif isinstance(value, tuple | frozenset):
        for each in value:
            yield from texts_in(each)


# -- telling ------------------------------------------------------------------------------------------


def test_what_cannot_be_seen_is_printed_as_its_code_point() -> None:
    assert shown("a\u202eb\u2066c\x00d\x07e\ufefff\u200bg\ud800") == (
        "a[U+202E]b[U+2066]c[U+0000]d[U+0007]e[U+FEFF]f[U+200B]g[U+D800]"
    )
    assert shown("tab\tand\nline") == "tab and line"
    assert shown("naïve Ω שלום می\u200cخواهم") == "naïve Ω שלום می\u200cخواهم"


def test_an_endless_text_is_cut_and_says_how_much_is_missing() -> None:
    cut = shown("x" * (LONGEST + 321))
    assert cut.startswith("x" * LONGEST)
    assert cut.endswith("(321 further characters stand in the attached register)")
    assert shown("x" * LONGEST) == "x" * LONGEST


def test_a_sentence_that_claims_is_replaced_and_remembered_and_its_neighbours_stay() -> None:
    tell = Teller(claims_in)
    said = tell("Read 17 hPa on U01. The hood is now safe for use. Valve B was fitted.", "H07")
    assert said == "Read 17 hPa on U01. [claim removed: now safe for use] Valve B was fitted."
    (removed,) = tell.removed
    assert (removed.where, removed.phrase) == ("H07", "now safe for use")
    assert removed.offer


def test_a_denial_a_question_and_a_term_of_the_trade_are_left_alone() -> None:
    tell = Teller(claims_in)
    for words in ("It is not approved by anyone.", "Is it safe?", "inherently safe design comes first"):
        assert tell(words, "H01") == words
    assert tell.removed == ()


def test_a_finding_may_quote_the_word_that_it_finds() -> None:
    tell = Teller(claims_in)
    quoted = "H01 says `approved`, which is a claim that nothing here can show"
    assert tell.finding(quoted, "the finding") == quoted
    assert "claim removed" in tell.finding("the hood is approved", "the finding")


def test_several_claims_in_one_sentence_are_removed_together() -> None:
    def two(text: str) -> tuple[Claim, ...]:
        return tuple(Claim(text.index(word), word, "say what was read") for word in ("good", "better") if word in text)

    tell = Teller(two)
    assert tell("It is good and better; read 5 hPa.", "H01") == "[claim removed: good, better] read 5 hPa."


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (Fraction(1, 400), "2.5×10⁻³"),
        (Fraction(1, 10000), "10⁻⁴"),
        (Fraction(1, 4), "0.25"),
        (Fraction(0), "0"),
        (Fraction(1), "1"),
    ],
)
def test_probabilities_are_written_as_engineers_write_them(value: Fraction, words: str) -> None:
    assert probability(value) == words


def test_numbers_and_lists_read_well() -> None:
    assert (counted(1, "page"), counted(3, "page")) == ("1 page", "3 pages")
    assert (listed(()), listed(("a",)), listed(("a", "b", "c"))) == ("", "a", "a, b and c")
    assert (seconds(66.0), seconds(0.5), seconds(125.4)) == ("66 s", "0.5 s", "125 s")


# -- fixed sentences ----------------------------------------------------------------------------------


def test_the_twelve_cautions_stand_on_the_front_sheet_and_in_section_1(project: Project) -> None:
    view = view_of(project(TWO), claims_in)
    assert len(view.limits.sentences) == 12
    assert view.limits.sentences[0] == (
        "This describes an experimental bench device. It is not a medical device, has not been assessed by any authority and "
        "must not be used on a person on the strength of this document."
    )
    assert view.limits.sentences[8] == (
        "Stop the test if smell of smoke; gauge above 25 hPa. Never test alone with oxygen, with a mask on a person, or with "
        "guards off."
    )
    assert view.front.cautions == view.limits.sentences


def test_stop_conditions_give_way_on_the_front_sheet_but_no_fixed_word_does(project: Project) -> None:
    many = ", ".join(f'"the reading number {place} leaves its band and stays out"' for place in range(40))
    view = view_of(project(f"device: {{name: hood, stop_conditions: [{many}]}}"), claims_in)
    assert "more, all in section 1. Never test alone with oxygen" in view.front.cautions[8]
    assert [text for place, text in enumerate(view.front.cautions) if place != 8] == [
        text for place, text in enumerate(cautions(())) if place != 8
    ]
    assert len(view.limits.stop_conditions) == 40


def test_a_stop_condition_cannot_rewrite_a_fixed_sentence() -> None:
    assert cautions(("{stop} {0} %s",))[8].startswith("Stop the test if {stop} {0} %s. Never test alone")


def test_a_project_without_stop_conditions_is_told_so(project: Project) -> None:
    view = view_of(project("device: {name: hood}"), claims_in)
    assert view.limits.sentences[8].startswith(
        "Stop the test if ... (this project has not stated its stop conditions)."
    )


# -- the front sheet ----------------------------------------------------------------------------------


def test_a_missing_answer_is_printed_as_not_stated_and_none_is_left_out(project: Project) -> None:
    for text in ("device: {name: hood}", "parts:\n  P01: {title: blower}"):
        front = view_of(project(text), claims_in).front
        assert [answer.question for answer in front.answers] == [
            "Stage", "Measured", "Highest pressure", "When it stops", "Room air when off", "Getting it off", "Not measured", "Cleaning",
        ]  # fmt: skip
        assert {answer.answer for answer in front.answers} == {"not stated"}
        assert front.questions == ("not stated",) * 3
        assert front.not_for == "Who must not use it: not stated."


def test_the_alarm_on_the_front_sheet_names_the_assumption_that_nobody_confirmed(project: Project) -> None:
    """Source: the worked budget of 66 s against 58 s, added by hand."""
    words = view_of(project(TWO), claims_in).front.alarm_words
    assert "66 s from the fault to the act, 58 s until harm" in words
    assert "by assumption A01, not yet confirmed by its owner (emergency physician)" in words


def test_the_weakest_points_come_from_the_severest_hazards_each_with_a_finding_of_its_own(hood: Assessment) -> None:
    view = view_of(hood, claims_in)
    severities = [int(point.heading.split("severity ")[1].split()[0]) for point in view.front.weak]
    assert len(severities) == 5
    assert severities == sorted(severities, reverse=True)
    assert severities[0] == 5
    assert len({point.heading.split()[0] for point in view.front.weak}) == 5
    open_headlines = {re.sub(r" \([^()]*\)", "", gap.headline) for gap in view.open.gaps}
    for point in view.front.weak:
        start = point.headline.removesuffix(" …")
        assert any(headline.startswith(start) for headline in open_headlines)


def test_an_empty_open_list_makes_no_claim_on_the_front_sheet(hood: Assessment) -> None:
    view = view_of(dataclasses.replace(hood, report=Report(), waived=()), claims_in)
    assert view.front.weak == ()
    assert view.front.weak_words.endswith("No person has said that nothing is.")


# -- what is open -------------------------------------------------------------------------------------


def test_the_open_list_holds_every_open_finding_once_and_the_severest_harm_first(hood: Assessment) -> None:
    gaps = view_of(hood, claims_in).open.gaps
    assert [gap.number for gap in gaps] == list(range(1, len(hood.report.open) + 1))
    ranks = [int(gap.harm.split()[0]) if gap.harm else 0 for gap in gaps]
    assert ranks == sorted(ranks, reverse=True)


def test_a_gap_in_a_test_weakens_every_hazard_behind_its_control(project: Project) -> None:
    view = view_of(project(TWO), claims_in)
    about_test = [gap for gap in view.open.gaps if gap.record == "T01"]
    for gap in about_test:
        assert gap in view.open.of_hazard["H01"]
        assert gap in view.open.of_hazard["H02"]
    assert view.cover.stamps == ("INCOMPLETE",)


def test_nothing_open_means_no_stamp(hood: Assessment) -> None:
    assert view_of(dataclasses.replace(hood, report=Report(), waived=()), claims_in).cover.stamps == ()
    assert view_of(dataclasses.replace(hood, report=Report()), claims_in).cover.stamps == ("INCOMPLETE",)


def test_a_removed_claim_alone_keeps_the_stamp(project: Project) -> None:
    assessment = project("device: {name: hood, summary: [this hood is approved]}")
    view = view_of(dataclasses.replace(assessment, report=Report(), waived=()), claims_in)
    assert [removed.phrase for removed in view.open.removed] == ["approved"]
    assert view.cover.stamps == ("INCOMPLETE",)


def test_no_text_of_the_demo_claims_anything(hood: Assessment) -> None:
    view = view_of(hood, claims_in)
    fixed = set(cautions(hood.register.device.stop_conditions if hood.register.device else ()))
    said = [text for text in texts_in(view) if text not in fixed]
    assert len(said) > 1000
    assert [text for text in said if claims_in(text)] == []


# -- scores, results, decisions -----------------------------------------------------------------------


def test_scores_are_written_with_both_factors_and_their_product(project: Project) -> None:
    """Source: 5e-3 times 0.5 is 2.5e-3, by hand."""
    hazard = next(each for each in view_of(project(TWO), claims_in).hazards if each.id == "H01")
    before, claimed, supported = hazard.scores
    assert (before.p1, before.p2, before.p, before.level) == ("5×10⁻³", "0.5", "2.5×10⁻³", "C")
    assert (claimed.p, claimed.level) == ("10⁻⁴ to 2×10⁻³", "C to D")
    assert supported.stage == "supported by evidence"


def test_a_reading_without_uncertainty_gets_the_words_cannot_tell(project: Project) -> None:
    bare, stated = view_of(project(TWO), claims_in).results
    assert [(line.word, line.because) for line in bare.verdicts] == [("cannot tell", "no uncertainty is stated")]
    assert bare.readings[0].spread == "not stated"
    assert all("no uncertainty" not in line.because for line in stated.verdicts)
    assert stated.readings[0].spread == "± 1 s (k = 2)"


def test_another_version_than_the_register_names_is_shown_beside_it(project: Project) -> None:
    (line,) = [
        line for test in view_of(project(TWO), claims_in).configuration.tests for line in test.results if line.versions
    ]
    assert line.result == "R01"
    part, then, now = line.versions[0]
    assert (part, then.split()[0], now) == ("P01", "1", "2")


def test_a_decision_is_void_on_paper_when_its_entry_says_something_else(project: Project) -> None:
    decision = "decisions:\n  D01: {on: 2026-11-01, by: bench group, because: small, covers: {H02: %s}}\n"
    unknown = project(TWO + decision % "abcdefabcdef")
    (line,) = view_of(unknown, claims_in).ledger.decisions
    state = line.covers[0][3]
    assert state.startswith("void: the entry has changed since (now ")
    current = state.split("now ")[1].rstrip(")")
    kept = project(TWO + decision % f'"{current}"')
    assert view_of(kept, claims_in).ledger.decisions[0].covers[0][3] == "the entry says what it said then"
    changed = project(TWO.replace("mild burn", "deep burn") + decision % f'"{current}"')
    assert view_of(changed, claims_in).ledger.decisions[0].covers[0][3].startswith("void:")


def test_severe_hazards_that_share_an_element_are_listed_together(project: Project) -> None:
    view = view_of(project(TWO.replace("severity: 2", "severity: 4")), claims_in)
    shared = {each.element: each.hazards for each in view.picture.combinations}
    assert shared["C01"] == ("H01", "H02")
    assert shared["P01"] == ("H01", "H02")


def test_a_failure_that_starts_a_hazard_and_takes_its_only_control_leaves_nothing(project: Project) -> None:
    assert view_of(project(TWO), claims_in).faults.left_with_nothing == (("P01", "H01", "blower"),)


def test_the_edges_of_the_bands_are_written_with_the_side_they_fall_on(project: Project) -> None:
    bands = view_of(project(TWO), claims_in).method.likelihood
    assert bands[0].edges == "≥ 0.1"
    assert bands[1].edges == "≥ 0.01 and < 0.1"


def test_a_trace_holds_what_can_be_read_in_a_column_and_counts_the_rest(project: Project) -> None:
    controls = ", ".join(f"C{place:02}" for place in range(60))
    text = (
        f"hazards:\n  H01: {{title: flow stops, condition: normal, harm: {{text: harm, severity: 5}}, controls: [{controls}]}}\n"
        + "controls:\n"
        + "".join(f"  C{place:02}: {{title: measure, kind: design}}\n" for place in range(60))
    )
    chain = view_of(project(text), claims_in).hazards[0].chain
    assert (len(chain.nodes), chain.left_out) == (19, 42)
    assert draw_chain(chain, layers(graph_of(chain))).height <= 560.01


def test_a_trace_of_many_tests_and_parts_stops_at_forty_records(project: Project) -> None:
    controls = [f"C{place:02}" for place in range(15)]
    text = (
        f"hazards:\n  H01: {{title: flow stops, condition: normal, causes: [{', '.join(f'P{n:02}' for n in range(15))}], "
        f"harm: {{text: harm, severity: 5}}, controls: [{', '.join(controls)}]}}\n"
        + "parts:\n" + "".join(f"  P{place:02}: {{title: part}}\n" for place in range(15))
        + "controls:\n" + "".join(f"  {control}: {{title: measure, kind: design}}\n" for control in controls)
        + "tests:\n" + "".join(f"  T{place:02}: {{title: try, proves: [C{place % 15:02}]}}\n" for place in range(30))
    )  # fmt: skip
    chain = view_of(project(text), claims_in).hazards[0].chain
    assert len(chain.nodes) == 40
    assert chain.left_out == 1 + 15 + 15 + 30 - 40


def test_the_view_can_be_compared_and_not_changed(hood: Assessment) -> None:
    view = view_of(hood, claims_in)
    assert view == view_of(hood, claims_in)
    with pytest.raises(dataclasses.FrozenInstanceError):
        view.cover.open = 0  # type: ignore[misc]


def test_every_kind_of_record_has_its_place_or_is_left_out_on_purpose(hood: Assessment) -> None:
    view: DossierView = view_of(hood, claims_in)
    without = {record.SECTION for id, record in hood.register.records.items() if id not in view.anchored}
    assert without <= {"tombstones", "reviewers", "sentences"}


def test_a_calculation_keeps_what_was_typed_from_what_the_model_takes(hood: Assessment) -> None:
    block = next(each for each in view_of(hood, claims_in).calculations if each.id == "K02")
    assert ("mark", "3 %", "A01") in block.inputs
    assert [name for name, _ in block.defaults] == ["flow", "inlet"]  # typed by nobody in calculations.yaml
    assert not any(line.endswith(".") for line in block.remarks)


def test_events_of_a_cut_set_are_kept_apart_where_a_name_holds_an_and(hood: Assessment) -> None:
    tree = next(each for each in view_of(hood, claims_in).trees if each.id == "FT01")
    assert ("alarm sounds and is not heard + blower stops + flaps glued in common", "1.96e-05") in tree.cut_sets
