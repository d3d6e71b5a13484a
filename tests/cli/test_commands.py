"""The command line as a person meets it: answers, exit status, and what it says when it cannot."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import jsonschema
import pytest

EXAMPLES = Path(__file__).parent.parent.parent / "catalogs" / "examples"
HOOD = EXAMPLES / "hood"
TODAY = ("--today", "2026-11-25")


def run(
    *arguments: object, given: str = "", folder: Path | None = None, **environment: str
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "riskkit", *map(str, arguments)],
        input=given,
        capture_output=True,
        text=True,
        check=False,
        cwd=folder,
        env=os.environ | environment,
    )


@pytest.fixture
def hood(tmp_path: Path) -> Path:
    return Path(shutil.copytree(HOOD, tmp_path / "hood"))


def git(folder: Path, *arguments: str) -> None:
    who = ("-c", "user.name=builder-1", "-c", "user.email=builder@localhost", "-c", "init.defaultBranch=main")
    subprocess.run(["git", *who, *arguments], cwd=folder, check=True, capture_output=True)


# -- new ------------------------------------------------------------------------------------------


def test_eight_answers_with_two_unknown_make_a_register_with_five_to_ten_honest_gaps(tmp_path: Path) -> None:
    answers = "Puffer\nblows air\nI don't know\nit just stops\nmains, battery\nblower, hose, firmware\nface\n\n"
    done = run("new", tmp_path / "r", given=answers)
    assert done.returncode == 0
    checked = run("check", tmp_path / "r", "--format", "json")
    assert checked.returncode == 1
    counts = json.loads(checked.stdout)["counts"]
    assert counts["broken"] == 0
    assert 5 <= counts["open"] <= 10
    device = (tmp_path / "r" / "device.yaml").read_text()
    assert "not answered yet: Who must not use it?" in device
    assert "not answered yet: What must never happen?" in device


@pytest.mark.parametrize("given", ["", "\n" * 8, 'a: "b"\n[x]\n{y}\n# z\n&c, *d\n!e, @f\n%g\n\'h\n'])
def test_no_answer_and_ugly_answers_give_files_that_can_be_read(given: str, tmp_path: Path) -> None:
    assert run("new", tmp_path / "r", given=given).returncode == 0
    checked = run("check", tmp_path / "r", "--format", "json")
    assert checked.returncode == 1, checked.stdout + checked.stderr
    assert json.loads(checked.stdout)["counts"]["broken"] == 0


@pytest.mark.parametrize("example", ["small", "hood"])
def test_an_example_can_be_copied_but_never_over_something(example: str, tmp_path: Path) -> None:
    assert run("new", tmp_path / "r", "--example", example).returncode == 0
    assert run("check", tmp_path / "r", *TODAY).returncode == 1
    again = run("new", tmp_path / "r", "--example", example)
    assert again.returncode == 2
    assert "already there" in again.stderr


# -- check ----------------------------------------------------------------------------------------


def test_findings_as_json_have_the_promised_shape(hood: Path) -> None:
    done = run("check", hood, "--format", "json", *TODAY)
    answer = json.loads(done.stdout)
    assert done.returncode == 1
    assert set(answer) == {"findings", "counts"}
    for found in answer["findings"]:
        assert {"rule", "severity", "headline", "file", "line", "column", "record", "help"} <= set(found)
        assert found["severity"] in ("error", "warning", "note")
        assert (hood / found["file"]).is_file()
        assert 1 <= found["line"] <= (hood / found["file"]).read_text().count("\n")
    counted = [found["severity"] for found in answer["findings"]]
    assert answer["counts"]["error"] == counted.count("error")
    assert answer["counts"]["open"] == counted.count("error") + counted.count("warning")


def test_sarif_is_valid_in_what_code_review_reads(hood: Path) -> None:
    log = json.loads(run("check", hood, "--format", "sarif", *TODAY).stdout)
    assert log["version"] == "2.1.0"
    results = log["runs"][0]["results"]
    names = [rule["id"] for rule in log["runs"][0]["tool"]["driver"]["rules"]]
    for result in results:
        assert names[result["ruleIndex"]] == result["ruleId"]
        assert result["level"] in ("error", "warning", "note")
        assert result["locations"][0]["physicalLocation"]["region"]["startLine"] >= 1


def test_the_wide_form_is_one_line_per_finding(hood: Path) -> None:
    lines = run("check", hood, "--wide", *TODAY).stdout.splitlines()
    counts = json.loads(run("check", hood, "--format", "json", *TODAY).stdout)["counts"]
    assert len(lines) == counts["open"] + counts["note"] + 1


def test_the_plain_form_fits_a_narrow_terminal(hood: Path) -> None:
    done = run("check", hood, *TODAY, COLUMNS="60")
    assert max(len(line) for line in done.stdout.splitlines() if line.startswith("  ")) <= 60
    assert "\x1b" not in done.stdout


def test_the_exit_status_says_what_kind_of_answer_it_is(tmp_path: Path) -> None:
    clean = """
device: {name: x, not_for: [people], stop_conditions: [smoke], owner: group}
policy: five-by-five
energy_sources: {E01: {title: mains}}
hazards:
  H01:
    title: it hums
    condition: [normal, single fault, use error, foreseeable misuse]
    source: sound
    sequence: [it hums]
    situation: an ear beside it
    loss_of: E01
    harm: {text: annoyance, severity: 1}
    likelihood: {before: {level: A, because: heard}, claimed: {level: A, because: foam helps little}}
    controls: [C01]
    tests: [T01]
controls: {C01: {title: foam, kind: design}}
tests: {T01: {title: listen, proves: C01, shows: [implementation, effectiveness], limit: {shows: no hum}}}
results: {R01: {test: T01, on: 2026-11-02, inspection: as it should be}}
"""
    (tmp_path / "r.yaml").write_text(clean)
    done = run("check", tmp_path, *TODAY)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == "No rule finds anything open. A hazard that is not listed may still exist.\n"
    (tmp_path / "r.yaml").write_text(clean.replace("    tests: [T01]\n", ""))
    assert run("check", tmp_path, *TODAY).returncode == 1
    (tmp_path / "r.yaml").write_text(clean.replace("C01]", "C02]"))
    assert run("check", tmp_path, *TODAY).returncode == 2
    assert run("check", tmp_path, "--today", "yesterday").returncode == 2
    assert run("chek").returncode == 2


def test_dates_are_judged_on_the_day_that_is_asked_for(hood: Path) -> None:
    def rules(day: str) -> set[str]:
        return {
            found["rule"]
            for found in json.loads(run("check", hood, "--format", "json", "--today", day).stdout)["findings"]
        }

    assert "expired-parking" not in rules("2026-10-31")
    assert "expired-parking" in rules("2026-11-01")
    assert "expired-waiver" not in rules("2027-02-15")
    assert "expired-waiver" in rules("2027-02-16")
    assert "date-in-the-future" in rules("2026-10-01")


def test_an_answer_from_memory_is_the_same_and_an_edit_is_never_missed(hood: Path) -> None:
    first, second = (run("check", hood, *TODAY) for _ in range(2))
    assert first.stdout == second.stdout
    assert first.returncode == second.returncode
    (hood / "assumptions.yaml").write_text(
        (hood / "assumptions.yaml").read_text().replace("  A03:\n", "  A03:\n    owner: group\n")
    )
    third = run("check", hood, *TODAY)
    assert third.stdout != first.stdout
    assert third.stdout == run("check", hood, "--no-memory", *TODAY).stdout


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="no file modes here")
def test_memory_that_others_could_write_is_not_believed(hood: Path) -> None:
    truth = run("check", hood, *TODAY).stdout
    cache = Path(os.environ["XDG_CACHE_HOME"]) / "riskkit"
    kept = next(cache.glob("*.json"))
    lie = json.loads(kept.read_text()) | {"findings": []}
    kept.write_text(json.dumps(lie))
    assert run("check", hood, *TODAY).stdout != truth, "the file is the user's own, and is believed"
    kept.chmod(0o666)
    assert run("check", hood, *TODAY).stdout == truth
    kept.chmod(0o600)
    kept.write_text(json.dumps(lie))
    cache.chmod(0o777)
    assert run("check", hood, *TODAY).stdout == truth


def test_an_interrupted_check_ends_with_130_and_a_closed_pipe_is_no_error(hood: Path) -> None:
    piped = subprocess.run(
        f"{sys.executable} -m riskkit check {hood} --no-memory | head -n 1",
        shell=True,
        capture_output=True,
        text=True,
        check=False,
    )
    assert piped.stderr == ""
    # Where the tests run in the background of a shell, an interrupt is ignored and every child inherits that.
    heeding = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)"
    begun = f"{heeding}; import sys; sys.argv = ['riskkit', 'new', {str(hood / 'x')!r}]; import riskkit.cli; riskkit.cli.main()"
    asking = [sys.executable, "-c", begun]
    with subprocess.Popen(asking, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        while b"> " not in process.stdout.read1(1000):
            time.sleep(0.01)
        # A signal between the prompt and the system call that waits for the answer is seen only after that call:
        # whoever interrupts presses again.
        for _ in range(5):
            process.send_signal(signal.SIGINT)
            try:
                assert process.wait(4) == 130
                break
            except subprocess.TimeoutExpired:
                continue
        assert process.returncode == 130


def test_a_bug_of_ours_names_the_file_to_send(hood: Path, tmp_path: Path) -> None:
    broken = f"import riskkit.cli.checking as c; c.read_folder = lambda folder: 1 / 0\nimport sys; sys.argv = ['riskkit', 'check', {str(hood)!r}]\nimport riskkit.cli; riskkit.cli.main()"
    done = subprocess.run(
        [sys.executable, "-c", broken],
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"TMPDIR": str(tmp_path)},
    )
    assert done.returncode == 3
    assert "a bug in riskkit, not in your files (ZeroDivisionError)" in done.stderr
    assert "Traceback" not in done.stderr
    log = next(tmp_path.glob("riskkit-bug-*.txt"))
    assert str(log) in done.stderr
    assert "ZeroDivisionError" in log.read_text()


# -- why, next, explain, score --------------------------------------------------------------------


def test_why_tells_the_chain_and_names_the_unconfirmed_assumption(hood: Path) -> None:
    told = " ".join(run("why", "H01", hood, *TODAY).stdout.split())
    for words in (
        "exhaled carbon dioxide", "It starts with P03", "carbon dioxide poisoning (severity 5, catastrophic",
        "not yet confirmed by its owner (emergency physician)", "C01 takes 66 s from the fault to the act",
        "before controls B per transfer", "claimed now D per transfer", "Fingerprint for a decision: H01:",
    ):  # fmt: skip
        assert words in told, words


@pytest.mark.parametrize(
    "id",
    [
        "C05",
        "P05",
        "T07",
        "R07-2",
        "A01",
        "U02",
        "M07",
        "K02",
        "I03",
        "G2",
        "E01",
        "S03",
        "O01",
        "W01",
        "D01",
        "X04",
        "H37",
    ],
)
def test_why_has_something_to_say_about_every_kind_of_record(id: str, hood: Path) -> None:
    done = run("why", id, hood, *TODAY)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith(f"{id}  ")


def test_why_offers_the_nearest_id(hood: Path) -> None:
    done = run("why", "H1", hood)
    assert done.returncode == 2
    assert "there is no record H1" in done.stderr
    assert "did you mean H" in done.stderr


def test_next_names_one_thing_and_changes_when_it_is_done(hood: Path) -> None:
    first = run("next", hood, *TODAY).stdout
    assert "Why this one:" in first
    assert "It closes 1 of 72 open" in first
    text = (hood / "assumptions.yaml").read_text()
    (hood / "assumptions.yaml").write_text(text.replace("  A03:\n", "  A03:\n    owner: emergency physician\n"))
    assert run("next", hood, *TODAY).stdout != first


def test_explain_knows_every_name_that_a_finding_carries() -> None:
    listed = run("explain").stdout
    names = [line.split()[0] for line in listed.splitlines()]
    assert len(names) == len(set(names)) > 100
    for name in ("alarm-slower-than-harm", "duplicate-key"):
        assert name in names
        assert run("explain", name).returncode == 0
    assert "did you mean `duplicate-key`?" in run("explain", "duplicate-keys").stderr


def test_scores_as_json_have_the_promised_shape(hood: Path) -> None:
    hazards = {
        each["id"]: each for each in json.loads(run("score", hood, "--format", "json", *TODAY).stdout)["hazards"]
    }
    assert len(hazards) == 36
    assert hazards["H01"]["severity"] == 5
    assert (hazards["H01"]["before"]["level"], hazards["H01"]["claimed"]["level"]) == ("B", "D")
    assert hazards["H23"]["region"] == "reduce"
    assert hazards["H05"]["claimed"]["severity"] == 3


def test_the_risk_picture_is_readable_without_colour(hood: Path) -> None:
    picture = run("score", hood, *TODAY).stdout
    assert "\x1b" not in picture
    assert "### " in picture
    assert "H01  5  B       D        B          reduce or justify" in picture


def test_a_score_under_another_policy_lists_what_moved(hood: Path, tmp_path: Path) -> None:
    policy = tmp_path / "p.yaml"
    policy.write_text("policy: {use: five-by-five, exposure: per transfer, matrix: " + json.dumps({
        row: {str(column): "watch" for column in range(1, 6)} for row in "ABCDE"
    }) + "}\n")  # fmt: skip
    told = run("score", hood, "--policy", policy, *TODAY).stdout
    assert "H23 claimed: reduce -> watch" in told
    policy.write_text("policy:\n  use: five-by-five\n  severity: []\n")
    refused = run("score", hood, "--policy", policy)
    assert refused.returncode == 2
    assert f"{policy}:3:" in refused.stderr


# -- diff -----------------------------------------------------------------------------------------


def test_diff_tells_two_revisions_in_risk_words_and_leaves_the_files_alone(hood: Path) -> None:
    git(hood, "init")
    git(hood, "add", "-A")
    git(hood, "commit", "-m", "B")
    git(hood, "tag", "B")
    assert "nothing that bears on a risk has changed" in run("diff", "B", "--in", hood, *TODAY).stdout
    path = hood / "tests" / "pressure.yaml"
    text = path.read_text()
    path.write_text(text.replace("between: [15 hPa, 18 hPa]", "between: [15 hPa, 19 hPa]"))
    told = run("diff", "B", "--in", hood, *TODAY).stdout
    assert told.index("loosened") < told.index("T07 asks for `opening pressure: between 15 hPa and 19 hPa`")
    path.write_text(text)
    git(hood, "commit", "--allow-empty", "-m", "C")
    before = path.read_bytes()
    assert json.loads(run("diff", "B", "HEAD", "--in", hood, "--format", "json", *TODAY).stdout) == {"differences": []}
    assert path.read_bytes() == before


def test_diff_says_what_is_missing(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_text("parts: {}\n")
    no_git = run("diff", "B", "--in", tmp_path, GIT_CEILING_DIRECTORIES=str(tmp_path.parent))
    assert no_git.returncode == 2
    assert "not inside a git repository" in no_git.stderr
    git(tmp_path, "init")
    no_tag = run("diff", "B", "--in", tmp_path)
    assert (no_tag.returncode, "no revision `B`" in no_tag.stderr) == (2, True)
    assert run("diff", "--", "--upload-pack=touch x", "--in", tmp_path).returncode == 2


# -- schema ---------------------------------------------------------------------------------------


def test_the_schema_accepts_the_examples_and_refuses_what_the_reader_refuses(tmp_path: Path) -> None:
    from riskkit.text.syntax import parse_file

    schema = json.loads(run("schema").stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    for path in sorted(path for path in EXAMPLES.rglob("*.yaml") if path.parent.name != "budgets"):
        data = parse_file(path.name, path.read_bytes()).data
        assert not list(validator.iter_errors(data)), path
    for data in (
        {"hazards": {"H01": {"title": "x"}}},
        {"parts": {"P01": {"titel": "x"}}},
        {"hazard": {}},
        {"controls": {"C01": {"title": "x", "kind": "desing"}}},
    ):
        assert list(validator.iter_errors(data)), data
    written = run("schema", "--output", tmp_path / "schema.json")
    assert "# yaml-language-server: $schema=" in written.stdout
    assert json.loads((tmp_path / "schema.json").read_text()) == schema


def test_completion_can_be_installed_and_knows_the_commands() -> None:
    shown = run("", _RISKKIT_COMPLETE="complete_bash", COMP_WORDS="riskkit ch", COMP_CWORD="1")
    assert "check" in shown.stdout


def test_characters_that_steer_a_terminal_are_shown_and_not_sent(tmp_path: Path) -> None:
    (tmp_path / "r.yaml").write_text('parts:\n  P01: {title: "a\\u202Eb\\e[31m"}\n')
    told = run("why", "P01", tmp_path).stdout
    assert "a<U+202E>b<U+001B>[31m" in told
    assert "\x1b" not in told
