"""A record is put into a file that people wrote: read back by another reader, and every other byte is kept.

The judge of what a file says is ruamel.yaml's own loader (YAML 1.2), not riskkit's reader. Ugly files are constructed.
"""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings, strategies as st
from ruamel.yaml import YAML

from riskkit.diagnostics import RiskkitError
from riskkit.text.reader import read
from riskkit.text.snapshot import Snapshot, read_folder
from riskkit.text.writing import CannotAppend, append_record, prove

HOOD = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "hood"
NEW = {
    "test": "T07",
    "on": datetime.date(2026, 11, 25),
    "configuration": {"P04": "2.1", "P11": "lot B"},
    "readings": {"opening pressure": ["17.2 hPa", "17.6 hPa"]},
    "runs": 20,
    "notes": "level: high # no comment",
}


def loaded(content: bytes) -> Any:
    """What another reader sees; days as text, as in riskkit's YAML."""
    return _plain(YAML(typ="safe", pure=True).load(content.decode("utf-8-sig")))


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_plain(item) for item in value]
    return value.isoformat() if isinstance(value, datetime.date) else value


def kept(old: bytes, new: bytes) -> bool:
    """Whether the new bytes are the old ones with something put in at one place."""
    start = 0
    while start < len(old) and old[start] == new[start]:
        start += 1
    return len(new) > len(old) and new.endswith(old[start:])


def appended(text: str, section: str = "results", id: str = "R07-3", fields: Any = None) -> str:
    content = text.encode()
    new, _ = append_record("file.yaml", content, section, id, fields or NEW)
    assert kept(content, new)
    return new.decode()


def test_a_record_follows_the_last_one_in_the_style_of_its_neighbours() -> None:
    text = "results:\n    R1:\n          test: T1\n\n    R2:\n          test: T2   # why\n\n# parts from here\nparts:\n    P1: {title: x}\n"
    assert appended(text, fields={"test": "T07", "runs": 20}) == text.replace(
        "# why\n", "# why\n\n    R07-3:\n          test: T07\n          runs: 20\n"
    )


def test_a_list_stays_a_list() -> None:
    text = "results:\n- id: R1\n  test: T1\nparts: {}\n"
    new = appended(text, fields={"test": "T07", "runs": 20})
    assert new == "results:\n- id: R1\n  test: T1\n- id: R07-3\n  test: T07\n  runs: 20\nparts: {}\n"
    wide = "results:\n  -   id: R1\n      test: T1\n"
    assert appended(wide, fields={"test": "T07"}) == wide + "  -   id: R07-3\n      test: T07\n"


@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("end", [True, False])
def test_line_ends_marks_and_a_missing_last_line_end_are_kept(newline: str, mark: str, end: bool) -> None:
    text = mark + newline.join(["# head", "results:", "  R1: {test: T1}", "  R2:", "    notes: å"]) + newline * end
    new = appended(text)
    assert new.startswith(text)
    assert new.endswith(newline)
    added = new[len(text) :]
    assert added.replace(newline, "").count("\n") + added.replace(newline, "").count("\r") == 0
    assert loaded(new.encode())["results"]["R2"] == {"notes": "å"}


@pytest.mark.parametrize(
    "text",
    [
        "",
        "# only a comment\n",
        "results:\n",
        "results:   # none yet\n\n# more to come\n",
        "parts: {P1: {title: x}}\n",
        "results:\n  R1:\n    notes: |+\n      # no comment\n\n\nparts: {}\n",
        "results:\n  R1:\n    notes: >-\n      folded\n      text\n  # about R1\n# about parts\nparts: {}\n",
        "---\nresults:\n  R1: {test: T1}\n...\n",
        '"results":\n  "R1":\n    "test": T1\n',
        "  results:\n    R1: {test: T1}\n  parts: {}\n",
        "results:\n  R1: &one {test: T1}\n  R2: *one\n",
        "results:\n  R1:\n    notes: plain\n      over two lines\n\n\n\n",
        "parts:\n  P1:\n    notes: |\n      at the end",
        "results:\n\n\n  # first\n  R1:\n\n    test: T1\n\n\n  R2:\n    test: T2\n",
        "results: # a\n  R1: # b\n    test: T1 # c\n    # d\n# e\n",
        "results:\n  R1:\n    evidence:\n    - file: a\n    - file: b\nparts: {}\n",
    ],
)
def test_ugly_files_take_a_record_and_keep_the_others(text: str) -> None:
    new = appended(text)
    after = loaded(new.encode())
    before = loaded(text.encode()) or {}
    expected = {**NEW, "on": "2026-11-25"}
    assert after["results"].pop("R07-3") == expected
    left = after | {"results": after["results"] or None}
    wanted = {**before, "results": before.get("results") or None}
    assert (left if text.endswith("\n") else _without_last_line_end(left)) == (
        wanted if text.endswith("\n") else _without_last_line_end(wanted)
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("results: {R1: {test: T1}}\n", "in brackets"),
        ("results: []\n", "in brackets"),
        ("results: {}\n", "in brackets"),
        ("{results: {R1: {test: T1}}}\n", "in brackets"),
        ("{parts: {}}\n", "curly brackets"),
        ("results: [{id: R1}]\n", "in brackets"),
        ("results: many\n", "no records"),
        ("results:\n  R1: {test: [T1\n", "cannot be read as written"),
        ("results:\n\tR1: x\n", "cannot be read as written"),
        ("%YAML 1.2\n---\nresults:\n  R1: {}\n", "cannot be read as written"),
        ("results:\n  R07-3: {test: T1}\n", "stands in"),
        ("results:\n- id: R07-3\n", "stands in"),
        ("a: &x {}\nresults: *x\n", "in brackets"),
    ],
)
def test_a_file_that_cannot_take_it_is_refused_in_one_sentence(text: str, words: str) -> None:
    with pytest.raises(CannotAppend) as refused:
        append_record("file.yaml", text.encode(), "results", "R07-3", NEW)
    assert words in refused.value.headline
    assert refused.value.help


@pytest.mark.parametrize("content", [b"results:\n  R1: {test: \xff}\n", "results:\n".encode("utf-16")])
def test_bytes_that_are_not_utf8_are_left_alone(content: bytes) -> None:
    with pytest.raises(CannotAppend):
        append_record("file.yaml", content, "results", "R07-3", NEW)


def test_every_file_of_the_demo_takes_a_result_and_the_register_is_the_old_one_plus_it() -> None:
    old = read(*read_folder(HOOD))
    for name, content in old.snapshot.files.items():
        new, lines = append_record(name, content, "results", "R07-3", NEW)
        assert kept(content, new)
        assert "R07-3:" in lines
        grown = read(Snapshot.from_files({**old.snapshot.files, name: new}))
        prove(old, grown, "R07-3")
        assert grown.register.records["R07-3"].runs == 20  # type: ignore[attr-defined]


def test_the_proof_fails_where_anything_else_differs() -> None:
    def reading(text: str) -> Any:
        return read(Snapshot.from_files({"r.yaml": text.encode()}))

    base = "parts:\n  P1: {title: x}\n"
    one = "tests:\n  T1: {title: t}\n"
    old = reading(base + one)
    prove(old, reading(base + one + "results:\n  R1: {test: T1, on: 2026-01-02}\n"), "R1")
    for other in (
        "parts:\n  P1: {title: y}\n" + one + "results:\n  R1: {test: T1, on: 2026-01-02}\n",
        base + one + "results:\n  R1: {test: T1, on: 2026-01-02}\n  R2: {test: T1, on: 2026-01-02}\n",
        base + one,
        base + one + "results:\n  R1: {test: T9, on: 2026-01-02}\n",
        base + one + "results:\n  R1: {test: T1}\n",
    ):
        with pytest.raises(RiskkitError):
            prove(old, reading(other), "R1")


# -- whatever people type -----------------------------------------------------------------------------

WORDS = st.text(
    st.characters(
        codec="utf-8",
        exclude_categories=("Cs", "Cc", "Cn", "Co", "Zl", "Zp"),
        exclude_characters="\ufeff\ufffe\uffff\x85",
    ),
    min_size=1,
    max_size=30,
).filter(lambda text: text.strip() == text)
TRICKY = st.sampled_from(
    ["no", "2.1", "2026-10-14", "12:30", "~", "null", "- x", "a: b", "a #b", "#", "'", '"', "{x}", "[x", "*a", "&a", "!t", "%", "@", "`",
     "|", ">", "? x", ": ", "1_000", "0o7", "0x1f", ".5", "1.", "+1", "1e5", "true", "=", "<<", "---", "...", "x\ty", "-", "y", "on"]
)  # fmt: skip
TEXT = st.one_of(WORDS, TRICKY)
KEYS = TEXT.filter(lambda text: text != "<<")  # a merge key is refused by every register, quoted or not
FIELDS = st.fixed_dictionaries(
    {"test": TEXT, "notes": st.one_of(TEXT, st.lists(TEXT, min_size=2, max_size=3).map("\n".join))},
    optional={
        "runs": st.integers(0, 10**6),
        "on": st.dates(datetime.date(1900, 1, 1), datetime.date(2100, 1, 1)),
        "configuration": st.dictionaries(KEYS, TEXT, min_size=1, max_size=4),
        "readings": st.dictionaries(KEYS, st.lists(TEXT, min_size=1, max_size=6), min_size=1, max_size=3),
        "evidence": st.lists(st.fixed_dictionaries({"file": TEXT, "sha256": TEXT}), min_size=1, max_size=3),
    },
)


@settings(max_examples=150, deadline=None)
@given(FIELDS)
def test_every_text_comes_back_as_it_was_typed(fields: dict[str, Any]) -> None:
    content = b"results:\n  R1: {test: T1}\n"
    new, _ = append_record("file.yaml", content, "results", "R07-3", fields)
    assert loaded(new)["results"] == {"R1": {"test": "T1"}, "R07-3": _plain(fields)}


COMMENT = st.sampled_from(["# note", "    # deep", "  # in", "#", "# a: b", "# - x"])
VALUE = st.sampled_from(
    ["T1", '"quoted: yes"', "'it''s'", "{a: 1}", "[1, 2]", "plain over", "|\n{m}  # text\n{m}  line", ">-\n{m}  folded", "|+\n{m}  kept\n\n", "2.1"]
)  # fmt: skip


@st.composite
def ugly_files(draw: st.DrawFn) -> tuple[str, bool]:
    """A file in block style with everything that people leave in one; and whether `results` is a list."""
    indent = draw(st.sampled_from([1, 2, 3, 4, 8]))
    step = draw(st.sampled_from([1, 2, 4]))
    dashed = draw(st.booleans())
    lines: list[str] = []

    def litter(margin: str = "") -> None:
        for _ in range(draw(st.integers(0, 2))):
            lines.append(draw(st.one_of(st.just(""), st.just("   "), COMMENT)))

    def record(id: str, dash: bool) -> None:
        margin = " " * (indent + (2 if dash else step))
        if dash:
            lines.append(" " * indent + f"- id: {id}")
        else:
            lines.append(" " * indent + f"{id}:" + draw(st.sampled_from(["", "  # about it"])))
        for number in range(draw(st.integers(1, 3))):
            lines.append(f"{margin}f{number}: " + draw(VALUE).replace("{m}", margin))
            if draw(st.booleans()) and not lines[-1].endswith("\n\n"):
                lines.append("")

    sections = draw(st.permutations(["parts", "results", "tests"]))
    if draw(st.booleans()):
        lines.append("---")
    for section in sections:
        litter()
        lines.append(f"{section}:" + draw(st.sampled_from(["", " # here"])))
        for number in range(draw(st.integers(1, 3))):
            record(f"{section[0].upper()}{number}", dashed and section == "results")
    litter()
    text = "\n".join(lines) + "\n" * draw(st.integers(0, 3))
    if draw(st.booleans()):
        text = text.replace("\n", "\r\n")
    if draw(st.booleans()):
        text = "\ufeff" + text
    return text, dashed


@settings(max_examples=300, deadline=None)
@given(ugly_files())
def test_an_ugly_file_keeps_every_byte_and_gains_one_record(made: tuple[str, bool]) -> None:
    text, dashed = made
    content = text.encode()
    new, lines = append_record("file.yaml", content, "results", "R07-3", {"test": "T07", "runs": 20})
    assert kept(content, new)
    before, after = loaded(content), loaded(new)
    if dashed:
        assert after["results"].pop() == {"id": "R07-3", "test": "T07", "runs": 20}
    else:
        assert list(after["results"])[-1] == "R07-3"
        assert after["results"].pop("R07-3") == {"test": "T07", "runs": 20}
    if not text.endswith("\n"):
        before, after = _without_last_line_end(before), _without_last_line_end(after)
    assert after == before
    assert ("\r\n" in lines) is ("\r\n" in text)


def _without_last_line_end(value: Any) -> Any:
    """A block text at the end of a file without a last line end gains one when the file goes on."""
    if isinstance(value, dict):
        return {key: _without_last_line_end(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_without_last_line_end(item) for item in value]
    return value.rstrip("\n") if isinstance(value, str) else value
