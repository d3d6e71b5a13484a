"""Verdicts on results: decision rule of ISO 14253-1 and JCGM 106, and everything that keeps a verdict from being given."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from riskkit import shelves
from riskkit.assess import Assessment
from riskkit.judgement.verdicts import ResultVerdict

Project = Callable[..., Assessment]

TEST = """
tests:
  T01: {title: opening pressure, limit: {what: opening pressure, at_most: 18.0 hPa}}
results:
  R01:
    test: T01
    on: 2026-11-02
"""


def verdict(project: Project, fields: str, test: str = TEST) -> ResultVerdict:
    indented = "".join(f"    {line}\n" for line in fields.strip().splitlines())
    return project(test + indented).verdicts["R01"]


# Limit 18.0, U 0.30, guard band U: accept up to 17.70 (decision rule of ISO 14253-1; JCGM 106:2012).
@pytest.mark.parametrize(
    ("reading", "word"),
    [
        ("17.6 hPa", "meets"),
        ("17.7 hPa", "meets"),
        ("17.71 hPa", "cannot tell"),
        ("17.8 hPa", "cannot tell"),
        ("18.2 hPa", "cannot tell"),
        ("18.3 hPa", "cannot tell"),
        ("18.31 hPa", "does not meet"),
        ("1760 Pa", "meets"),
        ("17.95 cmH2O", "meets"),
        ("18.06 cmH2O", "cannot tell"),
    ],
)
def test_a_reading_is_judged_with_its_guard_band_in_any_unit(project: Project, reading: str, word: str) -> None:
    fields = f"readings: {{opening pressure: [{reading}]}}\nuncertainty: {{opening pressure: 0.30 hPa}}"
    assert verdict(project, fields).word == word


def test_the_chance_of_a_wrong_pass_is_said(project: Project) -> None:
    # Normal distribution, u = U/2 = 0.15: P(Z > 0.4/0.15) = 0.38 %, P(Z > 0.2/0.15) = 9.1 % (elementary).
    said = verdict(
        project, "readings: {opening pressure: [17.6 hPa, 17.8 hPa]}\nuncertainty: {opening pressure: 0.30 hPa}"
    )
    chances = [each.judgement.probability_outside for each in said.limits[0].readings if each.judgement]
    assert chances == pytest.approx([0.003830, 0.091211], abs=2e-6)
    assert said.word == "cannot tell"
    assert "9.1 %" in said.because


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ("readings: {opening pressure: [17.0 hPa]}", "no uncertainty is stated"),
        ("readings: {opening pressure: [17.0 hPa]}\nuncertainty: {opening pressure: 0.1 s}", "0.1 s"),
        ("readings: {opening pressure: [17 s]}\nuncertainty: {opening pressure: 1 s}", "cannot be compared"),
        ("readings: {closing pressure: [17 hPa], mass: [83 g]}", "nothing was read"),
        ("observed: it opened", "nothing was read"),
    ],
)
def test_where_something_is_missing_nobody_can_tell(project: Project, fields: str, words: str) -> None:
    said = verdict(project, fields)
    assert said.word == "cannot tell"
    assert words in said.because


def test_a_reading_of_another_name_is_taken_where_there_is_only_one(project: Project) -> None:
    said = verdict(project, "readings: {p: [17.0 hPa]}\nuncertainty: {p: 0.3 hPa}")
    assert (said.word, said.limits[0].what) == ("meets", "p")


@pytest.mark.parametrize(
    ("spread", "word"),
    [("3 %", "meets"), ("±0.3 hPa", "meets"), ("6 %", "cannot tell"), ("30 Pa", "meets"), ("1.1 hPa", "cannot tell")],
)
def test_an_uncertainty_may_be_a_share_or_in_another_unit(project: Project, spread: str, word: str) -> None:
    # 3 % of 17.0 hPa is 0.51 hPa (meets 18.0), 6 % is 1.02 hPa (18.02 is beyond): elementary.
    fields = f'readings: {{opening pressure: [17.0 hPa]}}\nuncertainty: {{opening pressure: "{spread}"}}'
    assert verdict(project, fields).word == word


def test_an_uncertainty_beside_the_reading_counts(project: Project) -> None:
    assert verdict(project, 'readings: {opening pressure: ["17.6 ± 0.3 hPa"]}').word == "meets"
    assert verdict(project, 'readings: {opening pressure: ["17.8 ± 0.3 hPa"]}').word == "cannot tell"


TEMPERATURE = """
tests:
  T01: {title: gas, limit: {what: above the room, at_most: 8 K}}
results:
  R01:
    test: T01
    on: 2026-11-02
"""


def test_a_temperature_is_not_taken_for_a_difference(project: Project) -> None:
    fields = "readings: {above the room: [7 °C]}\nuncertainty: {above the room: 0.5 K}"
    assert verdict(project, fields, TEMPERATURE).word == "cannot tell"
    fields = "readings: {above the room: [7 K]}\nuncertainty: {above the room: 0.5 K}"
    assert verdict(project, fields, TEMPERATURE).word == "meets"


def test_an_uncertainty_in_degrees_is_a_difference(project: Project) -> None:
    test = TEMPERATURE.replace("above the room", "cover").replace("8 K", "43 °C")
    fields = "readings: {cover: [41.9 °C]}\nuncertainty: {cover: 1 °C}"
    assert verdict(project, fields, test).word == "meets"
    fields = "readings: {cover: [42.1 °C]}\nuncertainty: {cover: 1 °C}"
    assert verdict(project, fields, test).word == "cannot tell"


MEAN = TEST.replace("limit:", "statistic: mean, limit:")


def test_the_mean_carries_the_instrument_and_the_spread(project: Project) -> None:
    # Readings 17.2, 17.8: mean 17.5, s = 0.42426, u of the mean sqrt(0.15^2 + 0.09) = 0.33541, U = 0.67082.
    fields = "readings: {opening pressure: [17.2 hPa, 17.8 hPa]}\nuncertainty: {opening pressure: 0.30 hPa}"
    said = verdict(project, fields, MEAN)
    judged = said.limits[0].readings[0].judgement
    assert judged is not None
    assert judged.expanded_uncertainty == pytest.approx(67.082, abs=1e-3)
    assert said.word == "cannot tell"


def test_a_mean_says_nothing_about_the_worst(project: Project) -> None:
    fields = "readings: {opening pressure: [17.0 hPa]}\nuncertainty: {opening pressure: 0.1 hPa}\nreported: mean"
    said = verdict(project, fields, TEST.replace("limit:", "statistic: worst, limit:"))
    assert (said.word, said.because) == (
        "cannot tell",
        "a mean was written down, and the worst reading is asked for",
    )


@pytest.mark.parametrize(
    ("fields", "word"),
    [
        ("runs: 20\nfailures: 0", "meets"),
        ("runs: 20\nfailures: 1", "does not meet"),
        ("runs: 20", "cannot tell"),
        ("inspection: as it should be", "cannot tell"),
    ],
)
def test_counted_runs_speak_where_nothing_was_read(project: Project, fields: str, word: str) -> None:
    assert verdict(project, fields).word == word


INSPECTION = """
tests:
  T01: {title: flaps, limit: {shows: both open}, plan: {runs: 93, allowed_failures: 1}}
results:
  R01:
    test: T01
    on: 2026-11-02
"""


@pytest.mark.parametrize(
    ("fields", "word"),
    [
        ("inspection: as it should be", "meets"),
        ("inspection: not as it should be", "does not meet"),
        ("runs: 93\nfailures: 1", "meets"),
        ("runs: 93\nfailures: 2", "does not meet"),
        ("runs: 93\nfailures: 2\ninspection: as it should be", "does not meet"),
        ("observed: looked at it", "cannot tell"),
    ],
)
def test_an_inspection_is_taken_at_its_word_and_failures_outweigh_it(project: Project, fields: str, word: str) -> None:
    assert verdict(project, fields, INSPECTION).word == word


def test_a_reading_at_another_setting_says_nothing(project: Project) -> None:
    test = TEST.replace("limit:", "conditions: {flow: 20 L/min}, limit:")
    reading = "readings: {opening pressure: [17.0 hPa]}\nuncertainty: {opening pressure: 0.1 hPa}\n"
    assert "60 L/min" in verdict(project, f"{reading}conditions: {{flow: 60 L/min}}", test).because
    assert verdict(project, reading, test).word == "cannot tell"
    assert verdict(project, f"{reading}conditions: {{flow: 1200 L/h}}", test).word == "meets"


def test_the_guard_band_is_the_policys(project: Project) -> None:
    policy = (shelves.data_dir("catalogs") / "policies" / "five-by-five.yaml").read_text()
    fields = "readings: {opening pressure: [17.8 hPa]}\nuncertainty: {opening pressure: 0.30 hPa}"
    indented = "".join(f"    {line}\n" for line in fields.splitlines())
    for guard, word in (("0", "meets"), ("0.5", "meets"), ("1", "cannot tell")):
        assessment = project(TEST + indented, policy=f"{policy}  evidence: {{guard_band: {guard}}}\n")
        assert assessment.verdicts["R01"].word == word


def test_a_replaced_result_keeps_its_verdict_and_does_not_count(project: Project) -> None:
    text = """
tests:
  T01: {title: opening pressure, limit: {what: opening pressure, at_most: 18.0 hPa}}
results:
  R01: {test: T01, on: 2026-11-02, readings: {opening pressure: [19 hPa]}, uncertainty: {opening pressure: 0.3 hPa}}
  R02:
    test: T01
    on: 2026-11-03
    readings: {opening pressure: [17 hPa]}
    uncertainty: {opening pressure: 0.3 hPa}
    supersedes: R01
    superseded_because: disc cleaned
"""
    assessment = project(text)
    assert assessment.verdicts["R01"].word == "does not meet"
    assert assessment.verdicts["R01"].replaced
    assert "result-does-not-meet-limit" not in {found.rule for found in assessment.report}


@pytest.mark.parametrize(
    ("statistic", "reported", "reading", "word"),
    [
        ("each", "mean", "17.0 hPa", "cannot tell"),  # a mean inside says nothing of a reading outside
        ("mean", "worst", "17.0 hPa", "meets"),
        ("mean", "worst", "19.0 hPa", "cannot tell"),  # the mean of which this is the worst may lie inside
    ],
)
def test_what_was_reported_has_to_be_what_is_asked_for(
    project: Project, statistic: str, reported: str, reading: str, word: str
) -> None:
    fields = (
        f"readings: {{opening pressure: [{reading}]}}\nuncertainty: {{opening pressure: 0.3 hPa}}\nreported: {reported}"
    )
    assert verdict(project, fields, TEST.replace("limit:", f"statistic: {statistic}, limit:")).word == word


def test_uncertainties_beside_the_readings_hold_for_their_mean(project: Project) -> None:
    # Mean 17.1, s = 0.14142; U = sqrt(0.3^2 + (2 x 0.1)^2) = 0.36056 by hand (JCGM 100, 4.2 and 5.1).
    said = verdict(project, "readings: {opening pressure: [17.0 ± 0.3 hPa, 17.2 ± 0.2 hPa]}", MEAN)
    judged = said.limits[0].readings[0].judgement
    assert judged is not None
    assert judged.expanded_uncertainty == pytest.approx(36.056, abs=1e-3)
    assert said.word == "meets"
    assert verdict(project, "readings: {opening pressure: [17.0 ± 0.3 hPa, 17.2 hPa]}", MEAN).word == "cannot tell"


def test_names_may_be_written_large_or_small(project: Project) -> None:
    test = TEST.replace("limit:", "conditions: {flow: 20 L/min}, limit:")
    fields = "readings: {opening pressure: [17.0 hPa]}\nuncertainty: {Opening pressure: 0.1 hPa}\nconditions: {Flow: 20 L/min}"
    assert verdict(project, fields, test).word == "meets"


DEGREES = """
tests:
  T01: {title: outlet, limit: {what: outlet, at_most: 43 °C}}
results:
  R01:
    test: T01
    on: 2026-11-02
"""


def test_a_share_of_a_temperature_in_degrees_says_nothing(project: Project) -> None:
    # 1 % of 40 °C is 0.4 K, 1 % of the same 313.15 K is 3.1 K: the zero of the scale is a convention.
    said = verdict(project, "readings: {outlet: [40 °C]}\nuncertainty: {outlet: 1 %}", DEGREES)
    assert (said.word, said.because) == ("cannot tell", "a share such as 1 % says nothing of a reading in °C")


def test_a_temperature_with_its_uncertainty_keeps_its_unit(project: Project) -> None:
    said = verdict(project, "readings: {outlet: [40 ± 0.5 °C]}", DEGREES)
    assert said.because.startswith("40 °C ± 0.5 K lies 3 K inside")


def test_a_plan_allows_its_failures_over_all_results(project: Project) -> None:
    text = INSPECTION.replace("  R01:\n    test: T01\n    on: 2026-11-02\n", "") + (
        "  R01: {test: T01, on: 2026-11-02, runs: 46, failures: 1}\n"
        "  R02: {test: T01, on: 2026-11-03, runs: 47, failures: %d}\n"
    )
    assert [each.word for each in project(text % 0).verdicts.values()] == ["meets", "meets"]
    said = project(text % 1).verdicts
    assert [each.word for each in said.values()] == ["does not meet", "does not meet"]
    assert said["R01"].because == "2 of 93 runs failed over all results of T01, and the plan allows 1"


def test_a_failure_is_not_replaced_by_another_test_nor_by_itself(project: Project) -> None:
    text = """
tests:
  T01: {title: opens, limit: {shows: open}}
  T02: {title: closes, limit: {shows: shut}}
results:
  R01: {test: T01, on: 2026-11-02, inspection: not as it should be%s}
  R02: {test: T02, on: 2026-11-03, inspection: as it should be%s}
"""
    for one, other in ((", supersedes: R01", ""), ("", ", supersedes: R01")):
        assert not project(text % (one, other)).verdicts["R01"].replaced
    same = text.replace("test: T02", "test: T01")
    assert project(same % ("", ", supersedes: R01")).verdicts["R01"].replaced
    for one, other, day in ((", supersedes: R02", ", supersedes: R01", "03"), ("", ", supersedes: R01", "01")):
        found = project((same % (one, other)).replace("2026-11-03", f"2026-11-{day}")).verdicts
        assert not any(each.replaced for each in found.values())
