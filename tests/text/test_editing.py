"""Editing files that people wrote: what was asked for changes, and every other byte stays.

The judge of what a file says is ruamel.yaml's own loader (YAML 1.2), not riskkit's reader. Ugly files are constructed.
"""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings, strategies as st
from ruamel.yaml import YAML

from riskkit.diagnostics import RiskkitError
from riskkit.text.editing import (
    add_to_list,
    path_at,
    remove_field,
    remove_from_list,
    remove_record,
    replace_words,
    set_field,
)
from riskkit.text.syntax import parse_file

HOOD = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "hood"

UGLY = """\
# top of the file
hazards:   # all of them
  # about the section
  H01:  # one
      title:  'it stops'   # t
      condition: [normal,   single fault]  # c
      harm: {text: x, severity: 5}   # h
      controls:
      - C01   # first
      - C02
      # below the list
      notes: |
        long

        text

  # about H02
  H02: {title: "é", harm: {text: y, severity: 4}}

# end of hazards
parts: {P01: {title: a}, P02: {title: b}}
tests:
- id: T1
  title: x

- id: T2
  title: y
"""


def loaded(content: bytes) -> Any:
    """What another reader sees; days as text, as in riskkit's YAML."""
    return _plain(YAML(typ="safe", pure=True).load(content.decode("utf-8-sig")))


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_plain(item) for item in value]
    return value.isoformat() if isinstance(value, datetime.date) else value


def changed_lines(old: str, new: str) -> tuple[list[str], list[str]]:
    """Lines that went and lines that came, without those at both ends that are the same."""
    before, after = old.split("\n"), new.split("\n")
    while before and after and before[0] == after[0]:
        before, after = before[1:], after[1:]
    while before and after and before[-1] == after[-1]:
        before, after = before[:-1], after[:-1]
    return before, after


@pytest.mark.parametrize(
    ("record", "path", "value", "went", "came"),
    [
        (("hazards", "H01"), ("title",), "it's over: now", "      title:  'it stops'   # t", "      title:  'it''s over: now'   # t"),
        (("hazards", "H01"), ("harm", "severity"), 4, "      harm: {text: x, severity: 5}   # h", "      harm: {text: x, severity: 4}   # h"),
        (("hazards", "H01"), ("harm", "because"), "a, b", "      harm: {text: x, severity: 5}   # h", '      harm: {text: x, severity: 5, because: "a, b"}   # h'),
        (("hazards", "H01"), ("controls",), ["C03"], "      controls:|      - C01   # first|      - C02", "      controls: [C03]"),
        (("hazards", "H01"), ("notes",), "short", "      notes: ||        long||        text", "      notes: short"),
        (("hazards", "H02"), ("owner",), "me", '  H02: {title: "é", harm: {text: y, severity: 4}}', '  H02: {title: "é", harm: {text: y, severity: 4}, owner: me}'),
        (("parts", "P02"), ("version",), "1.10", "parts: {P01: {title: a}, P02: {title: b}}", 'parts: {P01: {title: a}, P02: {title: b, version: "1.10"}}'),
        (("tests", 0), ("limit",), {"at_most": "3 hPa"}, "", "  limit: {at_most: 3 hPa}"),
        (("tests", 1), ("title",), "no", "  title: y", '  title: "no"'),
    ],
)  # fmt: skip
def test_a_field_is_set_in_the_style_of_its_place(record: Any, path: Any, value: Any, went: str, came: str) -> None:
    content = UGLY.encode()
    new = set_field(parse_file("f", content), content, record, path, value).content.decode()
    if went.startswith("      notes"):
        assert changed_lines(UGLY, new) == (["      notes: |", "        long", "", "        text"], [came])
    else:
        assert changed_lines(UGLY, new) == (went.split("|") if went else [], [came])


def test_a_new_field_goes_where_such_fields_usually_stand() -> None:
    content = UGLY.encode()
    order = {(): ("title", "owner", "condition"), ("harm",): ("text", "because", "severity")}
    document = parse_file("f", content)
    one = set_field(document, content, ("hazards", "H01"), ("owner",), "me", None, lambda path: order.get(path, ()))
    assert changed_lines(UGLY, one.content.decode()) == ([], ["      owner: me"])
    assert "# t\n      owner: me\n" in one.content.decode()
    other = set_field(
        document, content, ("hazards", "H01"), ("harm", "because"), "z", None, lambda path: order.get(path, ())
    )
    assert "{text: x, because: z, severity: 5}   # h" in other.content.decode()


def test_what_is_typed_stays_as_it_was_typed() -> None:
    content = UGLY.encode()
    new = set_field(
        parse_file("f", content), content, ("hazards", "H02"), ("likelihood", "claimed", "p1"), 1e-3, "1e-3"
    )
    assert b", likelihood: {claimed: {p1: 1e-3}}}" in new.content


@pytest.mark.parametrize(
    ("path", "went"),
    [
        (("hazards", "H01", "controls", 0), ["      - C01   # first"]),
        (("hazards", "H01", "controls"), ["      controls:", "      - C01   # first", "      - C02"]),
        (("hazards", "H01", "notes"), ["      notes: |", "        long", "", "        text"]),
        (("tests", 1, "title"), ["  title: y"]),
    ],
)
def test_a_field_is_taken_out_with_its_lines(path: Any, went: list[str]) -> None:
    content = UGLY.encode()
    new = remove_field(parse_file("f", content), content, path[:2], path[2:]).content.decode()
    assert changed_lines(UGLY, new) == (went, [])


def test_entries_of_lists_come_and_go_in_every_style() -> None:
    text = "tests:\n  T1:\n    a: X1   # bare\n    b: [X1,  X2,] # flow\n    c:\n    -   X1 # one\n    -   X2\n    d:\n    e: []\n    f:\n      [ X1,  # in\n        X2   # lines\n      ]\n"
    document = parse_file("f", text.encode())
    wanted = {
        "a": "    a: [X1, X9]   # bare",
        "b": "    b: [X1,  X2, X9,] # flow",
        "c": "    -   X2\n    -   X9\n",
        "d": "    d: [X9]\n",
        "e": "    e: [X9]\n",
        "f": "        X2, X9   # lines\n",
        "g": "    g: [X9]\n",
    }
    for name, line in wanted.items():
        new = add_to_list(document, text.encode(), ("tests", "T1"), (name,), "X9").content.decode()
        assert line in new
        assert loaded(new.encode())["tests"]["T1"][name][-1] == "X9"
    for path, line in {
        ("a",): "    a: []   # bare",
        ("b", 0): "    b: [X2,] # flow",
        ("c", 1): "    -   X1 # one\n    d:",
    }.items():
        assert line in remove_from_list(document, text.encode(), ("tests", "T1"), path).content.decode()


@pytest.mark.parametrize(
    ("record", "gone"),
    [
        (("hazards", "H02"), '  # about H02\n  H02: {title: "é", harm: {text: y, severity: 4}}\n\n'),
        (("tests", 0), "- id: T1\n  title: x\n\n"),
        (("tests", 1), "\n- id: T2\n  title: y\n"),
        (("parts", "P01"), "P01: {title: a}, "),
    ],
)
def test_a_record_goes_with_its_own_comments_and_leaves_those_of_its_neighbours(record: Any, gone: str) -> None:
    content = UGLY.encode()
    new = remove_record(parse_file("f", content), content, record).content.decode()
    assert gone in UGLY
    assert new == UGLY.replace(gone, "", 1)


def test_the_first_record_leaves_the_comment_about_the_section() -> None:
    content = UGLY.encode()
    new = remove_record(parse_file("f", content), content, ("hazards", "H01")).content.decode()
    assert "hazards:   # all of them\n  # about the section\n" in new
    assert "  # about H02\n  H02:" in new
    assert "below the list" not in new


def test_words_are_replaced_in_their_quotes() -> None:
    text = "a:\n  X1: {b: [X1, 'X1', \"X1\"], X1: X1} # X1\n"
    document = parse_file("f", text.encode())
    words = {("a", "X1", "b", 0): "Z9", ("a", "X1", "b", 1): "Z9", ("a", "X1", "b", 2): "Z9", ("a", "X1", "X1"): "Z9"}
    new = replace_words(document, text.encode(), words, {("a", "X1"): "Z9", ("a", "X1", "X1"): "Z9"}).content.decode()
    assert new == "a:\n  Z9: {b: [Z9, 'Z9', \"Z9\"], Z9: Z9} # X1\n"


@pytest.mark.parametrize(
    ("text", "path"),
    [
        ("a:\n  X: &one {title: t}\n  Y: *one\n", ("title",)),
        ("a:\n  Y: {title: [a, b]}\n", ("title", "x")),
        ("a:\n  Y: {title: t}\n", ("title", "x")),
    ],
)
def test_what_cannot_be_changed_alone_is_refused_in_a_sentence(text: str, path: Any) -> None:
    with pytest.raises(RiskkitError) as refused:
        set_field(parse_file("f", text.encode()), text.encode(), ("a", "Y"), path, "new")
    assert refused.value.help


def test_a_value_beside_an_anchor_is_changed_and_the_anchor_stays() -> None:
    text = "a:\n  X: &one {title: t}\n  Y: *one\n  Z: {title: &two u, notes: n}\n"
    new = set_field(parse_file("f", text.encode()), text.encode(), ("a", "Z"), ("title",), "v").content.decode()
    assert new == text.replace("&two u", "&two v")
    alias = "b: &t text\na:\n  Y: {title: *t, z: *t}\n"
    new = set_field(parse_file("f", alias.encode()), alias.encode(), ("a", "Y"), ("title",), "v").content.decode()
    assert new == alias.replace("title: *t", "title: v")
    with pytest.raises(RiskkitError):
        set_field(parse_file("f", text.encode()), text.encode(), ("a", "X"), ("title",), "v")


def test_the_last_block_text_of_a_file_without_a_last_line_end_is_not_lengthened() -> None:
    text = "a:\n  X:\n    title: t\n    notes: |\n      at the end"
    new = set_field(parse_file("f", text.encode()), text.encode(), ("a", "X"), ("owner",), "me").content
    assert loaded(new)["a"]["X"] == {**loaded(text.encode())["a"]["X"], "owner": "me"}


def test_a_place_of_a_finding_leads_to_the_word_that_stands_there() -> None:
    content = UGLY.encode()
    document = parse_file("f", content)
    assert path_at(document, content, 5, 15) == (("hazards", "H01", "title"), False, "'it stops'")
    assert path_at(document, content, 4, 3) == (("hazards", "H01"), True, "H01")
    assert path_at(document, content, 1, 1) is None


# -- properties -----------------------------------------------------------------------------------

WORDS = st.text(
    st.characters(exclude_categories=["Cs", "Cc", "Cn", "Zl", "Zp"], exclude_characters="\ufeff"),
    min_size=1,
    max_size=30,
)
SCALARS = st.one_of(
    WORDS,
    st.sampled_from(["no", "1.10", "- a", "a: b", "a #b", "'", '"', "[", "#", "*a", "&a", "x:", "%", "2026-01-01", "é\nü", " a ", "a\n\nb\n", "?", "---", "a, b}"]),
    st.integers(-(10**6), 10**6),
    st.floats(allow_nan=False, allow_infinity=False),
    st.booleans(),
)  # fmt: skip
VALUES = st.one_of(
    SCALARS,
    st.lists(SCALARS, max_size=3),
    st.dictionaries(st.sampled_from(["text", "severity", "because", "p 1", "é"]), SCALARS, max_size=3),
)


@st.composite
def ugly(draw: st.DrawFn) -> tuple[str, list[tuple[Any, ...]]]:
    """A hand-written file in a style of its own, and paths to the fields of its records."""
    newline = draw(st.sampled_from(["\n", "\r\n"]))
    records, step = draw(st.integers(1, 4)), draw(st.integers(1, 5))
    dashed = draw(st.booleans())
    lines: list[str] = draw(st.lists(st.sampled_from(["# head", "", "---"]), max_size=2, unique=True))
    if "---" in lines:
        lines = [line for line in lines if line != "---"] + ["---"]
    lines.append("hazards:" + draw(st.sampled_from(["", "   # all", " "])))
    paths: list[tuple[Any, ...]] = []
    for number in range(draw(st.integers(1, 4))):
        lines += draw(st.lists(st.sampled_from(["", "# left", " " * records + "# about it"]), max_size=2))
        home: tuple[Any, ...] = ("hazards", number) if dashed else ("hazards", f"H{number}")
        if not dashed and draw(st.integers(0, 3)) == 0:
            inner = f"{{title: t{number}, harm: {{text: 'x', severity: 5}},   controls: [C1,C2]}}"
            lines.append(f"{' ' * records}H{number}: {inner}" + draw(st.sampled_from(["", "  # one line"])))
            names = ["title", "harm", "controls"]
        else:
            lines.append(
                " " * records
                + (f"- id: H{number}" if dashed else f"H{number}:" + draw(st.sampled_from(["", " # why", " "])))
            )
            margin = " " * (records + (2 if dashed else step))
            names = []
            for name in draw(
                st.lists(
                    st.sampled_from(["title", "harm", "controls", "notes", "sequence", "owner", "empty"]),
                    min_size=1,
                    max_size=6,
                    unique=True,
                )
            ):
                lines += draw(st.lists(st.sampled_from(["", margin + "# c", "  # odd", "# far left"]), max_size=1))
                names.append(name)
                deeper = margin + " " * step
                lines += {
                    "title": [
                        margin
                        + draw(
                            st.sampled_from(
                                [
                                    "title: plain text",
                                    "title:   'single ''quotes'''  # t",
                                    'title: "double \\u00e9 # no"',
                                    "title: two",
                                    "'title': é ü  # ö",
                                ]
                            )
                        )
                    ],
                    "harm": draw(
                        st.sampled_from(
                            [
                                [margin + "harm: {text: x,", deeper + "severity: 5} # h"],
                                [margin + "harm:", deeper + "text: y  # y", deeper + "severity: 4"],
                                [margin + "harm: {}"],
                            ]
                        )
                    ),
                    "controls": draw(
                        st.sampled_from(
                            [
                                [margin + "controls:", margin + "- C1   # a", margin + "- C2"],
                                [margin + "controls:", deeper + "-  C1", "", deeper + "-  C2 # b"],
                                [margin + "controls: [C1, C2,]"],
                                [margin + "controls: C1 # bare"],
                            ]
                        )
                    ),
                    "notes": draw(
                        st.sampled_from(
                            [
                                [margin + "notes: |", deeper + "# no comment", "", deeper + "  end"],
                                [margin + "notes: >-", deeper + "folded", deeper + "text", ""],
                                [margin + "notes: |+", deeper + "kept", "", ""],
                                [margin + "notes: over", deeper + "two lines"],
                            ]
                        )
                    ),
                    "sequence": [margin + "sequence: [" + "long " * 40 + "line, 'b']"],
                    "owner": [margin + "owner: ~"],
                    "empty": [margin + "empty:" + draw(st.sampled_from(["", "   # nothing yet"]))],
                }[name]
        paths += [(*home, name) for name in names]
    lines += draw(st.lists(st.sampled_from(["", "# between"]), max_size=2))
    lines += draw(
        st.sampled_from(
            [[], ["parts: {P1: {title: 'a'}, P2: {title: b}}  # flow"], ["parts:", "    P1: {title: a}"], ["..."]]
        )
    )
    text = newline.join(lines) + draw(st.sampled_from([newline, newline * 3, ""]))
    return draw(st.sampled_from(["", "\ufeff"])) + text, paths  # fmt: skip


def _with(data: Any, path: tuple[Any, ...], value: Any) -> Any:
    if not path:
        return value
    data = {} if data is None else data
    if isinstance(data, list):
        return [_with(each, path[1:], value) if n == path[0] else each for n, each in enumerate(data)]
    return {**data, path[0]: _with(data.get(path[0]), path[1:], value)}


def _without(data: Any, path: tuple[Any, ...]) -> Any:
    if isinstance(data, list):
        kept = [_without(each, path[1:]) if n == path[0] and len(path) > 1 else each for n, each in enumerate(data)]
        return kept if len(path) > 1 else [each for n, each in enumerate(data) if n != path[0]]
    if len(path) > 1:
        return {**data, path[0]: _without(data[path[0]], path[1:])}
    return {key: value for key, value in data.items() if key != path[0]}


def _outside_is_kept(old: bytes, new: bytes, inside: list[str]) -> bool:
    """Every old line that does not belong to the changed field is still there, in its order."""
    kept = [line for line in old.decode().splitlines() if line not in inside]
    there = iter(new.decode().splitlines())
    return all(line in there for line in kept)


MANY = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@MANY
@given(ugly(), VALUES, st.data())
def test_set_changes_the_field_and_nothing_else(file: tuple[str, list[Any]], value: Any, data: st.DataObject) -> None:
    text, paths = file
    content = text.encode()
    document = parse_file("f", content)
    assert not document.diagnostics
    path = data.draw(st.sampled_from([*paths, (*paths[0][:2], "brand new"), (*paths[0][:2], "new", "deep", "er")]))
    new = set_field(document, content, path[:2], path[2:], value).content
    assert loaded(new) == _with(loaded(content), path, value)
    assert new.startswith(b"\xef\xbb\xbf") == content.startswith(b"\xef\xbb\xbf")
    if b"\r\n" in content:
        assert new.count(b"\r\n") == new.count(b"\n"), "line ends are all alike"
    line = document.place(path, key=True).line - 1
    old_lines = text.splitlines()
    reach = 1 if path[-1] not in ("harm", "controls", "notes") else 4
    assert _outside_is_kept(content, new, old_lines[line : line + reach])


@MANY
@given(ugly(), st.data())
def test_taking_out_takes_the_field_and_nothing_else(file: tuple[str, list[Any]], data: st.DataObject) -> None:
    text, paths = file
    content = text.encode()
    document = parse_file("f", content)
    path = data.draw(st.sampled_from(paths))
    assume(len(_at(loaded(content), path[:2])) > 1)
    new = remove_field(document, content, path[:2], path[2:]).content
    assert loaded(new) == _without(loaded(content), path)
    line = document.place(path, key=True).line - 1
    assert _outside_is_kept(content, new, text.splitlines()[line : line + 4])


def _at(data: Any, path: tuple[Any, ...]) -> Any:
    for step in path:
        data = data[step]
    return data


@MANY
@given(ugly(), st.data())
def test_a_list_gains_and_loses_one_entry(file: tuple[str, list[Any]], data: st.DataObject) -> None:
    text, paths = file
    content = text.encode()
    lists = [path for path in paths if path[-1] in ("controls", "sequence")]
    assume(lists)
    path = data.draw(st.sampled_from(lists))
    old = _at(loaded(content), path)
    grown = add_to_list(parse_file("f", content), content, path[:2], path[2:], "C9").content
    entries = [*old, "C9"] if isinstance(old, list) else [old, "C9"]
    assert loaded(grown) == _with(loaded(content), path, entries)
    back = remove_field(parse_file("f", grown), grown, path[:2], (*path[2:], len(entries) - 1)).content
    assert loaded(back) == _with(loaded(content), path, entries[:-1])
    if isinstance(old, list):
        assert back == content


@MANY
@given(ugly(), st.data())
def test_a_record_is_taken_out_and_its_neighbours_keep_everything(
    file: tuple[str, list[Any]], data: st.DataObject
) -> None:
    text, paths = file
    content = text.encode()
    home = data.draw(st.sampled_from(sorted({path[:2] for path in paths}, key=str)))
    new = remove_record(parse_file("f", content), content, home).content
    after = _without(loaded(content), home)
    assert {**loaded(new), "hazards": loaded(new)["hazards"] or None} == {**after, "hazards": after["hazards"] or None}


@MANY
@given(ugly())
def test_a_rename_there_and_back_gives_the_same_bytes(file: tuple[str, list[Any]]) -> None:
    text, paths = file
    content = text.encode()
    home = paths[0][:2]
    words = {(*home, "id"): "H99"} if isinstance(home[1], int) else {}
    keys = {} if words else {home: "H99"}
    new = replace_words(parse_file("f", content), content, words, keys).content
    back_home = home if words else ("hazards", "H99")
    old = "H0"
    again = replace_words(
        parse_file("f", new), new, {(*home, "id"): old} if words else {}, {} if words else {back_home: old}
    ).content
    assert again == content
    assert len(new) == len(content) + 1


@pytest.mark.parametrize("path", sorted(HOOD.rglob("*.yaml")), ids=lambda path: path.name)
def test_every_record_of_the_demo_takes_a_note_and_gives_it_back(path: Path) -> None:
    content = path.read_bytes()
    document = parse_file(path.name, content)
    for section, held in document.data.items():
        if section in ("device", "policy") or not isinstance(held, dict):
            continue
        for id in list(held)[::3]:
            if "notes" in held[id]:
                continue
            new = set_field(document, content, (section, id), ("notes",), "level: high, # no comment").content
            again = parse_file(path.name, new)
            assert again.data == {
                **document.data,
                section: {**held, id: {**held[id], "notes": "level: high, # no comment"}},
            }
            assert remove_field(again, new, (section, id), ("notes",)).content == content


@MANY
@given(ugly(), VALUES, st.data())
def test_beside_anchors_an_edit_is_exact_or_refused(
    file: tuple[str, list[Any]], value: Any, data: st.DataObject
) -> None:
    text, paths = file
    text = text.replace("severity: 5", "severity: &level 5", 1).replace("severity: 4", "severity: *level", 1)
    text = text.replace("[C1, C2,]", "&both [C1, C2,]", 1).replace(
        "[C1,C2]", "*both" if "&both" in text else "[C1,C2]", 1
    )
    content = text.encode()
    document = parse_file("f", content)
    assume(not document.diagnostics)
    path = data.draw(st.sampled_from(paths))
    try:
        new = set_field(document, content, path[:2], path[2:], value).content
    except RiskkitError:
        assert "&" in text, "a file without anchors is always edited"
        return
    assert loaded(new) == _with(loaded(content), path, value)
