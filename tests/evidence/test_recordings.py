"""Recordings of any usual shape: everything here is constructed; what was written is what must be read."""

from __future__ import annotations

import contextlib
import datetime
import math
import os
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings, strategies as st

from riskkit.evidence import EvidenceError, measure, read_recording
from riskkit.evidence.clocks import read_clock
from riskkit.evidence.fields import seconds_of, what_is
from riskkit.evidence.headings import heading, headings_given

SHARED = Path(os.environ.get("RISKKIT_SHARED_DATA", Path(__file__).parents[3] / "shared" / "data"))


def shared(name: str) -> Path:
    path = SHARED / name
    if not path.is_file():
        pytest.skip(f"recorded bench data is not here: {path} (name its folder with RISKKIT_SHARED_DATA)")
    return path


def said(notes: tuple[str, ...], pattern: str) -> bool:
    return any(re.search(pattern, note) for note in notes)


TIMES = [0.0, 0.01, 0.02, 0.03, 0.04]
LEVELS = [1.5, -2.25, 3.0, 4.125, 5.0]
RETURN, TRAILING = "\r\n", ",\n"
ROWS = list(zip(TIMES, LEVELS, strict=True))


def points(separator: str, end: str = "\n") -> str:
    return end.join(f"{t}{separator}{p}" for t, p in ROWS)


def commas(separator: str) -> str:
    return points(separator).replace(".", ",")


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        (f"t [s],p [hPa]\n{points(',')}\n", "hPa"),
        (f"t (s);p (cmH2O)\n{commas(';')}\n", "cmH2O"),
        (f"t_s\tp_hPa\n{commas(chr(9))}", "hPa"),
        (f"time p/kPa\n{points('  ')}\n", "kPa"),
        (f"t;p\ns;mbar\n{commas(';')}\n", "mbar"),
        (f"t,p\n[s],[hPa]\n{points(',', RETURN)}\r\n", "hPa"),
        (f"# a comment\n% another\n// third\nt s,p hPa\n\n{points(',', TRAILING)},\n", "hPa"),
        (f"; comment in words\nt;p [hPa]\n{points(';')}\n", "hPa"),
        ('"t","p, hPa"\n' + "\n".join(f'"{t}","{p}"' for t, p in ROWS), "hPa"),
        ('"t","p [hPa]"\n' + "\n".join(f'"{t}","{p}"'.replace(".", ",") for t, p in ROWS), "hPa"),
        (f"# t [s], p [hPa]\n{points(',')}\n", "hPa"),
        (f"Logger 7\nserial;12345\n\nt;p [hPa]\n{commas(';')}\n", "hPa"),
        (f"t,p [hPa]\r{points(',', chr(13))}\r", "hPa"),
        (f"t   p[hPa]\n{points(chr(9) + ' ')}\n", "hPa"),
        ("t,p [hPa]\n" + "\n".join(f" {t} ,  {p:+.3e} " for t, p in ROWS), "hPa"),
    ],
)
@pytest.mark.parametrize(
    "encode", [str.encode, lambda text: b"\xef\xbb\xbf" + text.encode(), lambda text: text.encode("utf-16")]
)
def test_every_usual_shape_gives_the_same_numbers(text: str, unit: str, encode: object) -> None:
    assert callable(encode)
    found = read_recording(encode(text))
    assert found.seconds.tolist() == TIMES
    assert [each.values.tolist() for each in found.columns] == [LEVELS]
    assert found.columns[0].unit == unit
    assert found.interval == pytest.approx(0.01)


def test_a_file_without_headings_takes_names_and_units_from_outside_and_its_clock_from_the_interval() -> None:
    found = read_recording(
        b"5, 6.2, 1, -0.4,\n5, 5.9, 2, -0.9,\n", columns="set point cmH2O, outlet cmH2O, -, flow L/min", interval=0.01
    )
    assert [(each.name, each.unit, each.kind) for each in found.columns] == [
        ("set point", "cmH2O", "pressure"), ("outlet", "cmH2O", "pressure"), ("flow", "L/min", "flow"),
    ]  # fmt: skip
    assert found.seconds.tolist() == [0, 0.01]
    assert found.column().name == "outlet", "the set point is not what was measured"
    assert [each.name for each in read_recording(b"5,6.5,\n5,7.5,\n", rate=100, columns="a V, b V, -").columns] == [
        "a",
        "b",
    ]
    bare = read_recording(b"5,6.5,7\n5,7.5,8\n", rate=100, columns="target, flow, mask pressure")
    assert bare.column().name == "mask pressure"
    assert read_recording(b"5,6\n5,7\n", rate=100).seconds.tolist() == [0, 0.01]


def test_a_recording_without_a_clock_says_what_a_comment_says_about_it() -> None:
    with pytest.raises(EvidenceError) as caught:
        read_recording(b"# sampled every 10 ms\n1.5,2\n0.5,3\n1.5,4\n")
    assert "sampled every 10 ms" in caught.value.headline
    assert "--interval" in caught.value.help


DIRTY = b"""t,p [hPa]
0.00,1
0.01,NA
0.02,
# valve opened
0.03,--
t,p [hPa]
0.04,OVF7
0.05,6,7
0.06
0.07,8
0.08,inf
0.09,1e999

0.10,nan
end of log
0.11,12
"""


def test_nothing_is_dropped_in_silence() -> None:
    found = read_recording(DIRTY, interval=0.01)
    assert len(found.seconds) == 12, "a row that cannot be read keeps its place in time"
    values = found.columns[0].values
    assert [index for index, value in enumerate(values) if not math.isnan(value)] == [0, 7, 11]
    assert found.comments == ("# valve opened", "end of log")
    for pattern in (
        r"comment among the readings: 1 \(line 5\)",
        r"headings again: 1 \(line 7\)",
        r"`OVF7` instead of a number.*line 8",
        r"3 fields instead of 2.*line 9",
        r"1 fields instead of 2.*line 10",
        r"too large.*line 13|`1e999`",
        r"line of words left out: 1 \(line 16\)",
        r"missing readings: 9 of 12 \(lines 3, 4, 6, 8, 9, \.\.\.\)",
    ):
        assert said(found.notes, pattern), (pattern, found.notes)


def test_rows_whose_time_cannot_be_read_are_counted_and_named() -> None:
    found = read_recording(DIRTY.replace(b"0.06\n", b"x,7\n"))
    assert said(found.notes, r"time cannot be read: 2 \(lines 9, 10\)")
    assert said(found.notes, r"the clock jumps forward 1 time, by 30 ms.*about 2 samples missing \(line 11\)")


@pytest.mark.parametrize(
    "text",
    [
        "t;p\n0,1;1.234,5\n0,2;1.235,5\n",
        't,p\n0.1,"1,234.5"\n0.2,"1,235.5"\n',
        "t;p\n0,1;1 234,5\n0,2;1 235,5\n",
        "t;p\n0,1;1,5\n0,2;1.5\n",
    ],
)
def test_a_number_that_can_be_read_in_two_ways_is_refused_with_its_line(text: str) -> None:
    with pytest.raises(EvidenceError, match=r"line \d: .* two ways"):
        read_recording(text.encode())


def test_a_thousands_separator_deep_in_the_file_is_refused_too() -> None:
    rows = "".join(f"{row / 100:.2f};{row % 7}.5\n" for row in range(3000))
    with pytest.raises(EvidenceError, match=r"line 3002: `1,234\.5`"):
        read_recording(f"t;p\n{rows}30.00;1,234.5\n".encode())


def test_two_pressures_in_two_units_are_brought_to_one_and_it_is_said() -> None:
    # 1 cmH2O = 0.980665 hPa: conventional, water of 1000 kg/m3 at standard gravity (ISO 80000-4, from memory)
    found = read_recording(b"t,p [hPa],q [cmH2O]\n0.1,1,10\n0.2,2,20\n")
    assert found.column("q").unit == "hPa"
    assert found.column("q").values == pytest.approx([9.80665, 19.6133], rel=1e-12)
    assert said(found.notes, "`q` is written in cmH2O and turned into hPa")


def test_a_unit_that_changes_half_way_is_turned_back_and_said() -> None:
    found = read_recording(b"t [s],p [hPa]\n0.1,1\n0.2,2\nt [s],p [cmH2O]\n0.3,10\nt [s],p [hPa]\n0.4,3\n")
    assert found.column("p").values == pytest.approx([1, 2, 9.80665, 3], rel=1e-12)
    assert said(found.notes, "changes from hPa to cmH2O.*line 4")
    found = read_recording(b"t,p\n0.1,1 hPa\n0.2,2 hPa\n0.3,10 cmH2O\n")
    assert found.column("p").values == pytest.approx([1, 2, 9.80665], rel=1e-12)
    assert said(found.notes, r"reading in cmH2O, turned into hPa: 1 \(line 4\)")
    with pytest.raises(EvidenceError, match="line 3: the unit of column 2 changes from hPa to V"):
        read_recording(b"t [s],p [hPa]\n0.1,1\nt [s],p [V]\n0.2,2\n0.3,4\n")


@pytest.mark.parametrize(
    ("stamps", "steps"),
    [
        (["2026-11-25T23:59:59.9", "2026-11-26T00:00:00.1"], [0.2]),
        (["2026-11-25 10:00:00,5", "2026-11-25 10:00:01,5"], [1.0]),
        (["2026-11-25T10:00:00+01:00", "2026-11-25T09:00:02Z"], [2.0]),
        (["23:59:59.5", "00:00:00.5"], [1.0]),
        (["10:00:00", "10:00:00", "10:00:01", "10:00:01"], [0.5, 0.5, 0.5]),
    ],
)
def test_time_stamps_become_seconds(stamps: list[str], steps: list[float]) -> None:
    text = "when;p\n" + "\n".join(f"{stamp};{place}" for place, stamp in enumerate(stamps))
    assert np.diff(read_recording(text.encode()).seconds) == pytest.approx(steps, abs=1e-6)


def test_a_date_and_a_time_in_two_columns_are_one_clock() -> None:
    found = read_recording(b"2026-11-25 23:59:59.5 5.1\n2026-11-26 00:00:00.0 5.2\n2026-11-26 00:00:00.5 5.2\n")
    assert np.diff(found.seconds) == pytest.approx([0.5, 0.5])


@pytest.mark.parametrize(
    ("heading_of_clock", "clock", "steps"),
    [
        ("t_ms", [0, 10, 20], 0.01),
        ("millis", [5000, 5010, 5020], 0.01),
        ("time [min]", [0, 1, 2], 60),
        ("timestamp", [1764106800.0, 1764106800.5, 1764106801.0], 0.5),
        ("timestamp", [1764106800000, 1764106800010, 1764106800020], 0.01),
    ],
)
def test_counters_become_seconds(heading_of_clock: str, clock: list[float], steps: float) -> None:
    text = f"{heading_of_clock},p\n" + "\n".join(f"{count!r},1.5" for count in clock)
    assert np.diff(read_recording(text.encode()).seconds) == pytest.approx([steps] * 2, rel=1e-6)


def test_a_counter_without_a_unit_is_asked_about_not_guessed() -> None:
    with pytest.raises(EvidenceError, match="counts in whole numbers by 10 and states no unit"):
        read_recording(b"t,p\n0,1\n10,2\n20,3\n")
    assert read_recording(b"t,p\n0,1\n10,2\n20,3\n", time="t ms").interval == pytest.approx(0.01)


def clock(steps: list[float], start: float = 100.0) -> np.ndarray:
    return np.concatenate(([start], start + np.cumsum(steps)))


def test_a_clock_that_jumps_is_mended_and_told() -> None:
    raw = clock([0.01] * 10 + [0.51] + [0.01] * 10)
    found = read_clock(raw, np.arange(len(raw)) + 2, of_day=False, since_1970=False)
    assert [(jump.row, jump.line, jump.missing) for jump in found.jumps] == [(11, 13, 50)]
    raw = np.concatenate((np.arange(100) * 0.01, np.arange(100) * 0.01))
    found = read_clock(raw, np.arange(len(raw)) + 2, of_day=False, since_1970=False)
    assert (np.diff(found.seconds) > 0).all()
    assert found.seconds[-1] == pytest.approx(1.99)
    assert said(found.notes, "the clock begins again at line 102")
    assert found.jumps[0].seconds < 0


def test_a_counter_of_32_bits_that_overflows_loses_no_time() -> None:
    raw = (np.arange(100) * 10 + 2**32 - 500) % 2**32 / 1000
    found = read_clock(raw, np.arange(100), of_day=False, since_1970=False)
    assert np.diff(found.seconds) == pytest.approx([0.01] * 99, rel=1e-4)
    assert said(found.notes, "overflows at line 50")
    assert found.jumps == ()


def test_a_clock_that_stands_still_is_refused() -> None:
    with pytest.raises(EvidenceError, match="stands still"):
        read_recording(b"t,p\n1.5,1\n1.5,2\n1.5,3\n")


def test_drop_outs_to_one_number_are_told_and_taken_out_only_when_asked() -> None:
    levels = [20.0 + (place % 5) / 10 for place in range(200)]
    for place in (30, 90, 150):
        levels[place] = -1.08
    text = "t,p\n" + "\n".join(f"{place / 100},{level}" for place, level in enumerate(levels))
    found = read_recording(text.encode())
    assert said(found.notes, "3 readings in 3 places stand at about -1.08.*--missing 'p=-1.08'")
    assert float(np.nanmin(found.column("p").values)) == -1.08
    found = read_recording(text.encode(), missing=[("p", -1.08)])
    assert int(np.isnan(found.column("p").values).sum()) == 3
    square = "t,p\n" + "\n".join(f"{place / 100},{15 if place % 100 < 8 else 5}" for place in range(500))
    assert not said(read_recording(square.encode()).notes, "drop-outs"), "a level that is held is no drop-out"


@pytest.mark.parametrize(
    ("source", "words"),
    [
        (b"", "empty"),
        (b"\n\n", "empty"),
        (b"\x00\x01\x02", "no text file"),
        (b"hello\nworld\n", "no table of readings"),
        (b"a,b\nc,d\n", "no table of readings"),
        (b"\xff\xfea", "UTF-16"),
        (Path("/does/not/exist.csv"), "cannot be read"),
    ],
)
def test_what_is_no_recording_is_refused_in_one_sentence(source: object, words: str) -> None:
    with pytest.raises(EvidenceError, match=words):
        read_recording(source, interval=0.01)  # type: ignore[arg-type]


def test_wrong_names_and_clocks_are_refused() -> None:
    for arguments, words in (
        ({"columns": "a, b", "interval": 0.01}, "2 columns are named, and the file has 3"),
        ({"columns": "a, a, b", "interval": 0.01}, "given twice"),
        ({"columns": "a,,b", "interval": 0.01}, "without a name"),
        ({"interval": 0.01, "rate": 100}, "both given"),
        ({"interval": 0}, "impossible"),
        ({"rate": -1}, "impossible"),
        ({"time": "clock"}, "no column `clock`"),
    ):
        with pytest.raises(EvidenceError, match=words):
            read_recording(b"1,2,3\n4,5.5,6\n", **arguments)  # type: ignore[arg-type]
    found = read_recording(b"t,pa,pb\n0.1,1,2\n0.2,3,4\n")
    for name, words in (("p", "more than one column `p`"), ("q", "no column `q`")):
        with pytest.raises(EvidenceError, match=words):
            found.column(name)
    with pytest.raises(EvidenceError, match=r"runs from 0\.1 s to 0\.2 s"):
        found.between(5, 6)


def test_headings_and_fields() -> None:
    for text, name, unit in (
        ("pressure [hPa]", "pressure", "hPa"), ("flow L/min", "flow", "L/min"), ("p / hPa", "p", "hPa"), ("flow_L_min", "flow", "L/min"),
        ("set point", "set point", ""), ("p1_adc", "p1_adc", ""), ("pressure (set)", "pressure (set)", ""), ("T [°C]", "T", "°C"),
        ("Volume, mL", "Volume", "mL"), ("p_t", "p_t", ""), ("gain [xyz]", "gain", "xyz"),
    ):  # fmt: skip
        assert (heading(text).name, heading(text).unit) == (name, unit)
    assert heading("T °C").is_time is False
    assert [each.skip for each in headings_given("a hPa, -, b")] == [False, True, False]
    assert [what_is(each, ".") for each in ("1.5", "", "n/a", "12:00:01", "5 hPa", "1,234.5", "abc")] == [
        "number", "missing", "missing", "stamp", "quantity", "thousands", "word",
    ]  # fmt: skip
    assert seconds_of("2026-02-30") is None


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    rows=st.lists(
        st.lists(st.one_of(st.none(), st.floats(-1e6, 1e6, allow_subnormal=False)), min_size=2, max_size=2),
        min_size=8,
        max_size=40,
    ),
    style=st.sampled_from([(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ",")]),
    hole=st.sampled_from(["", "NA", "nan", "--"]),
    trailing=st.booleans(),
)
def test_what_is_written_is_read_back_in_any_style(
    rows: list[list[float | None]], style: tuple[str, str], hole: str, trailing: bool
) -> None:
    separator, decimal = style
    lines = ["a [hPa]" + separator + "b [V]", *[f"{n}{decimal}5{separator}{n}{decimal}25" for n in range(8)]]
    for row in rows:
        fields = [hole if each is None else repr(float(each)).replace(".", decimal) for each in row]
        lines.append(separator.join(fields) + (separator if trailing else ""))
    found = read_recording("\n".join(line for line in lines if line.strip()).encode(), interval=0.5)
    expected = [row for row in rows if separator != "\t" or hole or any(each is not None for each in row) or trailing]
    read = np.column_stack([each.values for each in found.columns])[8:]
    if len(read) == len(expected):
        for got, want in zip(read, expected, strict=True):
            for one, other in zip(got, want, strict=True):
                assert (math.isnan(one) and other is None) or one == other
    else:  # rows of separators only are blank lines to a reader
        assert len(read) == len(
            [row for row in expected if any(each is not None for each in row) or hole or separator.strip()]
        )


@settings(max_examples=80, deadline=None)
@given(st.binary(max_size=300))
def test_no_bytes_raise_anything_but_a_sentence(body: bytes) -> None:
    with contextlib.suppress(EvidenceError):  # whatever else is raised fails the test
        found = read_recording(body, interval=0.1)
        assert not any(np.isinf(each.values).any() for each in found.columns)


@settings(max_examples=80, deadline=None)
@given(st.text(alphabet='0123456789.,;:-+eE \t\n"#/%tpnaNhPa[]T', max_size=200))
def test_no_text_of_numbers_raises_anything_but_a_sentence(text: str) -> None:
    for arguments in ({"interval": 0.1}, {}):
        with contextlib.suppress(EvidenceError):
            measure(read_recording(text.encode(), **arguments), levels=(1.0,))


def test_a_real_recording_with_comments_and_trailing_commas() -> None:
    path = shared("pressure-trace-15-5-rate12.csv")
    found = read_recording(
        path, columns="set point cmH2O, pressure cmH2O, a cmH2O, b cmH2O, flow L/min, volume mL", interval=0.01
    )
    plain = np.genfromtxt(path, delimiter=",", comments="#", usecols=range(6))  # numpy as the second reader
    assert np.array_equal(np.column_stack([each.values for each in found.columns]), plain)
    assert len(found.comments) == 34


def test_a_real_recording_with_headings_and_drop_outs() -> None:
    path = shared("blower-flow-24000rpm.csv")
    found = read_recording(path)
    plain = np.genfromtxt(path, delimiter=",", skip_header=1)
    assert np.array_equal(found.seconds, plain[:, 0])
    assert np.array_equal(found.columns[0].values, plain[:, 1])
    assert said(found.notes, "drop-outs")


@settings(max_examples=40, deadline=None)
@given(
    micros=st.lists(st.integers(0, 3_000_000_000), min_size=12, max_size=40, unique=True),
    digits=st.sampled_from(["microseconds", "milliseconds", "auto"]),
    zone=st.sampled_from(["", "Z", "+05:30"]),
    spoiled=st.integers(0, 11),
)
def test_stamps_agree_with_the_calendar_of_python(micros: list[int], digits: str, zone: str, spoiled: int) -> None:
    """Days, leap years and midnights by the standard library; one row is spoiled to send it the careful way."""
    base = datetime.datetime(2028, 2, 28, 23, 59, 0)
    moments = [base + datetime.timedelta(microseconds=each) for each in sorted(micros)]
    if digits == "milliseconds":
        moments = [each.replace(microsecond=each.microsecond // 1000 * 1000) for each in moments]
    rows = [f"{each.isoformat(timespec=digits)}{zone},{place}.5" for place, each in enumerate(moments)]
    rows[spoiled] += ",7" if spoiled % 2 else " hPa"
    kept = [each for place, each in enumerate(moments) if not (spoiled % 2 and place == spoiled)]
    expected = [(each - kept[0]).total_seconds() for each in kept]
    assume(len(set(expected)) == len(expected))  # equal stamps are spread, which is tested above
    found = read_recording(("t,p\n" + "\n".join(rows)).encode())
    assert found.seconds == pytest.approx(expected, abs=2e-6)


def test_a_first_row_that_is_spoiled_is_no_heading() -> None:
    found = read_recording(b"t,p\n0.1,OVF9\n0.2,5.5\n0.3,6.5\n0.4,6.5\n")
    assert [each.name for each in found.columns] == ["p"]
    assert np.isnan(found.columns[0].values).tolist() == [True, False, False, False]
    assert said(found.notes, "`OVF9` instead of a number.*line 2")
    found = read_recording(b"t,1,2\n0.1,3,4\n0.2,5,6\n")
    assert [each.name for each in found.columns] == ["1", "2"], "columns may be called by numbers"
