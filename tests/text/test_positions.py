"""Plain data and the place of everything in it, against the text itself and against ruamel.yaml's own loader."""

from __future__ import annotations

import io
from typing import Any

import pytest
import ruamel.yaml
from hypothesis import given, settings, strategies as st

from riskkit.text import documents
from riskkit.text.positions import Document
from riskkit.text.snapshot import Snapshot
from riskkit.text.syntax import parse_file

ORDINARY = """\
# a comment
parts:
  P01:
    title: blower     # behind a value
    ratings: {pressure: 32 hPa, "free flow": 190 L/min}
    fails:
    - mode: stops
      announces: no
    - {mode: 'slows', announces: true}
  P02: &second
    title: >-
      folded
      text
    notes: |
      kept
        as it is
    empty:
    clock: 12:30
    list: [1, 010, 1e-6, "12:30", 0x1F, 0o17, ~, null, .5, -3, 1_000, 2026-11-25, +7, "8"]
copy: *second
"""


def parsed(text: str) -> Document:
    return parse_file("f.yaml", text.encode())


def test_words_mean_what_yaml_1_2_says_and_a_person_expects() -> None:
    document = parsed(ORDINARY)
    assert document.diagnostics == ()
    data = document.data
    assert data["parts"]["P01"]["fails"][0]["announces"] == "no"
    assert data["parts"]["P01"]["fails"][1]["announces"] is True
    assert data["parts"]["P02"]["list"] == [
        1, "010", 1e-6, "12:30", 31, 15, None, None, 0.5, -3, "1_000", "2026-11-25", 7, "8"
    ]  # fmt: skip
    assert data["parts"]["P02"]["empty"] is None
    assert data["parts"]["P02"]["clock"] == "12:30"
    assert data["copy"] == data["parts"]["P02"]
    assert data["copy"] is not data["parts"]["P02"], "an alias is a copy: a change in one record must not reach another"


@pytest.mark.parametrize(
    ("path", "key", "place"),
    [
        ((), False, (2, 1)),
        (("parts",), True, (2, 1)),
        (("parts", "P01"), True, (3, 3)),
        (("parts", "P01", "title"), True, (4, 5)),
        (("parts", "P01", "title"), False, (4, 12)),
        (("parts", "P01", "ratings", "free flow"), False, (5, 46)),
        (("parts", "P01", "fails", 1, "mode"), False, (9, 14)),
        (("parts", "P02", "list", 3), False, (19, 26)),
        (("parts", "P01", "nothing", "there"), False, (4, 5)),
        (("copy", "title"), True, (11, 5)),
    ],
)
def test_places_are_those_of_the_text(path: tuple[str | int, ...], key: bool, place: tuple[int, int]) -> None:
    found = parsed(ORDINARY).place(path, key=key)
    assert (found.line, found.column) == place


def walk(data: Any, path: tuple[str | int, ...] = ()) -> Any:
    if isinstance(data, dict):
        for key, value in data.items():
            yield from walk(value, (*path, key))
    elif isinstance(data, list):
        for place, value in enumerate(data):
            yield from walk(value, (*path, place))
    else:
        yield path, data


def test_every_plain_value_stands_where_its_place_says() -> None:
    document = parsed(ORDINARY)
    lines = ORDINARY.splitlines()
    for path, value in walk(document.data):
        place = document.place(path)
        there = lines[place.line - 1][place.column - 1 :]
        if isinstance(value, str) and "\n" not in value and "folded" not in value:
            assert there.lstrip("'\"").startswith(value), path


def test_data_agree_with_ruamels_own_safe_loader() -> None:
    """ruamel.yaml's pure Python loader for YAML 1.2 is the other reader of the same text."""
    text = (
        ORDINARY.replace("010, ", "")
        .replace('"12:30", ', "")
        .replace("1_000, 2026-11-25, ", "")
        .replace("0x1F, 0o17, ", "")
    )
    other = ruamel.yaml.YAML(typ="safe", pure=True)
    other.version = (1, 2)
    expected = other.load(text)
    assert expected["parts"]["P02"]["clock"] == "12:30"
    assert parsed(text).data == expected


# libyaml takes question marks and colons inside brackets for signs, wherever they stand; the reader says so.
letters = st.characters(codec="utf-8", exclude_categories=("Cs", "Cc", "Zl", "Zp"), exclude_characters="?:")
scalars = (
    st.none()
    | st.booleans()
    | st.integers(-(10**9), 10**9)
    | st.text(letters, max_size=8)
    | st.floats(allow_nan=False, allow_infinity=False)
)
keys = st.text(letters, min_size=1, max_size=6).filter(lambda key: key != "<<")
trees = st.recursive(
    scalars, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(keys, inner, max_size=4), max_leaves=20
)


@given(st.dictionaries(keys, trees, max_size=5))
@settings(deadline=None)
def test_what_ruamel_writes_is_read_back_the_same(data: dict[str, Any]) -> None:
    writer = ruamel.yaml.YAML(typ="safe", pure=True)
    writer.default_flow_style = True
    buffer = io.BytesIO()
    writer.dump(data, buffer)
    document = parse_file("f", buffer.getvalue())
    if not document.diagnostics:
        assert document.data == (data or document.data)
    else:
        assert {found.rule for found in document.diagnostics} <= {
            "control-character",
            "yaml-syntax",
            "too-deep",
            "duplicate-key",
        }


@given(st.binary(max_size=200))
@settings(deadline=None)
def test_no_bytes_make_anything_but_a_document(content: bytes) -> None:
    document = parse_file("f", content)
    assert document.data is None or isinstance(document.data, dict)


pieces = st.sampled_from(
    [
        "a",
        ": ",
        "- ",
        "\n",
        "  ",
        "[",
        "]",
        "{",
        "}",
        ",",
        "'",
        '"',
        "&x ",
        "*x",
        "!t ",
        "? ",
        "|\n",
        "%",
        "@",
        "#",
        "\t",
        "---\n",
        "<<",
    ]
)


@given(st.lists(pieces, max_size=40).map("".join))
@settings(deadline=None, max_examples=300)
def test_no_text_made_of_yaml_signs_makes_anything_but_a_document(text: str) -> None:
    document = parsed(text)
    for found in document.diagnostics:
        assert found.headline
        assert found.help
        assert 1 <= found.place.line <= text.count("\n") + 2


def test_two_processes_read_the_same_as_one(monkeypatch: pytest.MonkeyPatch) -> None:
    files = {f"f{i:02}.yaml": ORDINARY.replace("blower", f"blower {i}").encode() for i in range(12)}
    files["f07.yaml"] = b"parts:\n  P01: {title: 'open}\n"
    snapshot = Snapshot.from_files(files)
    alone = documents.parse_snapshot(snapshot)
    monkeypatch.setattr(documents, "WORTH_A_PROCESS", 10)
    monkeypatch.setattr(documents, "_may_fork", lambda: True)
    together = documents.parse_snapshot(snapshot)
    assert [(d.name, d.data, d.diagnostics, d.lost, d.marks) for d in together] == [
        (d.name, d.data, d.diagnostics, d.lost, d.marks) for d in alone
    ]


def test_a_byte_order_mark_is_no_trouble_and_columns_count_letters() -> None:
    document = parse_file("f", b"\xef\xbb\xbf" + "é: {ü: x, b: y}\n".encode())
    assert document.data == {"é": {"ü": "x", "b": "y"}}
    assert document.place(("é", "b")).column == 14


def test_the_fingerprint_of_a_snapshot_changes_with_names_and_bytes() -> None:
    prints = {
        Snapshot.from_files(files).fingerprint()
        for files in ({"a": b"x"}, {"a": b"y"}, {"b": b"x"}, {"a": b"x", "b": b""}, {"ax": b""}, {"a": b"", "x": b""})
    }
    assert len(prints) == 6
