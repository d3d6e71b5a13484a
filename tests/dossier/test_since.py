"""Section 2, 11, 12, 13 and 15 on paper: loosened first, readable with hundreds of differences, never silently empty."""

from __future__ import annotations

import datetime
import html
import re
from collections.abc import Callable

from riskkit.assess import Assessment, assess, compare
from riskkit.checks import all_rules
from riskkit.dossier.refusing import claims_in
from riskkit.dossier.render import html_of
from riskkit.dossier.view import Since, view_of
from riskkit.dossier.view.since import MOST_LINES
from riskkit.text.reader import Reading, read
from riskkit.text.snapshot import Snapshot

Project = Callable[..., Assessment]
DAY = datetime.date(2026, 11, 25)


def reading(text: str) -> Reading:
    return read(Snapshot.from_files({"register.yaml": text.encode()}))


def since(old: str, new: str) -> tuple[Assessment, Since]:
    now = reading(new)
    return assess(now, today=DAY), Since("C", "0123456789abcdef", "2026-10-01", compare(reading(old), now, today=DAY))


def words(assessment: Assessment, earlier: Since | None = None, *, only: bool = True, baseline: str = "") -> str:
    view = view_of(assessment, claims_in, rules=len(all_rules()), since=earlier, baseline=baseline)
    _, parts = html_of(view, "a4", only_changes=only)
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", "".join(part.html for part in parts))).split())


def register(tests: int, limit: int, extra: str = "") -> str:
    lines = [f"  T{n:03}: {{title: try {n}, limit: {{at_most: {limit} hPa}}}}" for n in range(tests)]
    parts = [f"  P{n:03}: {{title: part {n}{extra}}}" for n in range(tests)]
    return "\n".join(["tests:", *lines, "parts:", *parts]) + "\n"


def test_hundreds_of_differences_stay_readable_and_every_loosened_limit_is_told() -> None:
    assessment, earlier = since(register(150, 18), register(150, 19, ", version: C"))
    view = view_of(assessment, claims_in, since=earlier).changes
    assert sum(count for _, count in view.counts) == len(earlier.comparison.differences) >= 300
    loosened, changed = view.groups[0], view.groups[-1]
    assert (loosened.kind, len(loosened.lines), loosened.rest) == ("loosened", 150, ())
    assert (loosened.lines[0].was, loosened.lines[0].now) == ("at most 18 hPa", "at most 19 hPa")
    assert (changed.kind, len(changed.lines)) == ("changed", MOST_LINES)
    ((section, ids),) = changed.rest
    assert section == "parts"
    assert {line.record for line in changed.lines} | set(ids) == {f"P{n:03}" for n in range(150)}


def test_the_short_paper_has_cautions_changes_and_the_open_list_and_no_loose_link() -> None:
    assessment, earlier = since(register(1, 18), register(1, 19))
    _, parts = html_of(view_of(assessment, claims_in, rules=1, since=earlier), "a4", only_changes=True)
    whole = "".join(part.html for part in parts)
    assert re.findall(r'id="section-(\w+)"', whole) == ["1", "2", "15"]
    places = set(re.findall(r'\bid="([^"]+)"', whole))
    assert set(re.findall(r'href="#([^"]+)"', whole)) <= places
    text = words(assessment, earlier)
    assert text.index("must not be used on a person") < text.index("Loosened: 1") < text.index("Open list")


def test_without_a_comparison_section_2_says_so() -> None:
    assessment = assess(reading(register(1, 18)), today=DAY)
    assert "This paper was not compared with an earlier state." in words(assessment, only=False)
    assert "There is no baseline: because" in words(assessment, only=False, baseline="There is no baseline: because")


def test_claims_in_an_old_state_do_not_reach_paper() -> None:
    old = "parts:\n  P01: {title: this valve is safe}\n"
    assessment, earlier = since(old, "parts:\n  P02: {title: valve}\n")
    assert "this valve is safe" not in words(assessment, earlier)


def test_an_empty_open_list_says_who_says_so() -> None:
    text = words(assess(reading("parts: {}\n"), today=DAY), only=False)
    tail = text[text.rindex("15 Open list") :]
    assert re.search(
        r"The \d+ rules of riskkit \S+, run on build \w+ on 2026-11-25, find nothing open", tail
    ) or re.search(r"Who says so: the \d+ rules of riskkit \S+, run on build", tail)
    assert (
        "No person has said that nothing is open" in tail or "a hazard that nobody has thought of is on no list" in tail
    )


BENCH = """
parts:
  P05: {title: controller, version: firmware 0.9.4}
tests:
  T01: {title: alarm sounds, limit: {shows: it sounds}, configuration: [P05]}
  T02: {title: cut acts, limit: {shows: it acts}, configuration: [P05]}
  T03: {title: never done, limit: {shows: it}}
results:
  R01: {test: T01, on: 2026-08-30, configuration: {P05: firmware 0.9.2}, inspection: as it should be}
  R02:
    test: T02
    on: 2026-08-30
    configuration: {P05: firmware 0.9.2}
    inspection: as it should be
    still_valid: {because: that branch is the same, by: biomedical engineer, on: 2026-09-01, until: 2027-01-01}
instruments:
  I01: {title: gauge, due: 2026-11-01}
assumptions:
  A01: {text: someone is near, owner: bench group, until: 2026-12-01}
  A02: {text: springs are alike, owner: bench group, until: 2027-12-01}
  A03: {text: gas is mixed, owner: bench group, confirmed: 2026-10-01, fingerprint: 0123456789ab}
observations:
  O01: {on: 2026-11-01, text: a hiss, by: builder-1}
gates:
  G1: {title: bench only, order: 1, questions: [{ask: Is nobody alone, needs: two roles}]}
units:
  U01:
    title: first
    gate: G1
    answers: [{gate: G1, ask: Is nobody alone, answer: "yes", by: builder-1, on: 2026-11-02, fingerprint: 0123456789ab}]
"""


def test_section_11_shows_versions_paths_judgements_and_what_was_never_done() -> None:
    view = view_of(assess(reading(BENCH), today=DAY), claims_in).configuration
    (line,) = view.lapsed
    assert (line.result, line.test, line.paths) == ("R01", "T01", (("R01", "T01", "P05"),))
    (held,) = view.held
    assert (held.result, held.until, held.over, held.needed) == ("R02", "2027-01-01", False, True)
    states = {each.id: [(one.state, one.versions) for one in each.results] for each in view.tests}
    assert states["T01"] == [("stale", (("P05", "firmware 0.9.2", "firmware 0.9.4"),))]
    assert states["T02"][0][0] == "held by biomedical engineer until 2027-01-01"
    assert view.untested == ("T03",)


def test_section_12_lists_what_falls_due_earliest_first_and_void_signatures() -> None:
    ledger = view_of(assess(reading(BENCH), today=DAY), claims_in).ledger
    assert [(each.record, each.over) for each in ledger.due] == [
        ("I01", True),
        ("O01", True),
        ("A01", False),
        ("R02", False),
    ]
    assert ledger.later == 1
    assert {each.record for each in ledger.void} == {"A03", "U01"}
    assert [each.due for each in ledger.observations] == ["answer due 2026-11-15 (over)"]
    assert {each.id: each.confirmed for each in ledger.assumptions}["A03"] == "not confirmed"


def test_section_13_says_that_a_recorded_gate_no_longer_stands() -> None:
    (unit,) = view_of(assess(reading(BENCH), today=DAY), claims_in).units
    assert unit.gate == "G1"
    assert unit.gate_stands.startswith("today G1 is answered with `")
    assert unit.void == ("the answer of U01 to `Is nobody alone`",)
