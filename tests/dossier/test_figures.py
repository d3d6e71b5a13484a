"""Figures: what they show, where it stands, and that it can be read in grey."""

from __future__ import annotations

import datetime
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable
from fractions import Fraction
from itertools import combinations
from pathlib import Path

import pytest
from PIL import ImageFont

from riskkit.assess import Assessment, assess
from riskkit.dossier import figures, matrix
from riskkit.dossier.bars import alarm_bar
from riskkit.dossier.chains import BOX_WIDTH, Chain, Node, draw_chain, graph_of, left_out_words
from riskkit.dossier.layout import Graph, Placed, lay_out, layers
from riskkit.dossier.lettering import FILES, fit, font_path, width, wrap
from riskkit.dossier.matrix import position, risk_matrices
from riskkit.judgement.scoring import HazardScore, Score
from riskkit.model.policy import Policy
from riskkit.text.policies import DEFAULT_POLICY, shipped_policy
from riskkit.text.reader import read
from riskkit.text.snapshot import read_folder

HOOD = Path(__file__).parents[2] / "catalogs" / "examples" / "hood"
SVG = "{http://www.w3.org/2000/svg}"
Box = tuple[float, float, float, float]


@pytest.fixture(scope="module")
def policy() -> Policy:
    return shipped_policy(DEFAULT_POLICY)


@pytest.fixture(scope="module")
def hood() -> Assessment:
    snapshot, troubles = read_folder(HOOD)
    return assess(read(snapshot, troubles), today=datetime.date(2026, 11, 25))


def score(id: str, severity: str, before: str, claimed: str | tuple[str, str], policy: Policy) -> HazardScore:
    def place(levels: str | tuple[str, str]) -> Score:
        ends = (levels, levels) if isinstance(levels, str) else levels
        return Score(severity, (Fraction(0), Fraction(1)), ends, (policy.matrix[ends[0]][severity],), "per use")

    return HazardScore(id, severity, place(before), place(claimed))


def parsed(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)


def overlap(one: Box, other: Box) -> float:
    """Area that two boxes (left, top, right, bottom) share."""
    wide = min(one[2], other[2]) - max(one[0], other[0])
    high = min(one[3], other[3]) - max(one[1], other[1])
    return max(wide, 0) * max(high, 0)


# -- lettering ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("face", FILES)
@pytest.mark.parametrize(
    "words", ["Flow stops, CO₂ climbs in the closed hood", "≤ ≥ ± × → ² ³ · Ω µ °", "H04 5.0 ± 0.7 hPa"]
)
def test_widths_agree_with_freetype_but_for_kerning(face: str, words: str) -> None:
    """Source: FreeType, through Pillow, a library of other authors."""
    measured = ImageFont.truetype(str(font_path(face)), 200).getlength(words) / 200  # type: ignore[arg-type]
    assert width(words, 1.0, face) == pytest.approx(measured, rel=0.04)  # type: ignore[arg-type]


@pytest.mark.parametrize("face", FILES)
def test_shipped_fonts_have_the_letters_that_bench_numbers_need(face: str) -> None:
    from fontTools.ttLib import TTFont

    with TTFont(font_path(face), lazy=True) as font:  # type: ignore[arg-type]
        known = set(font.getBestCmap())
    assert not [letter for letter in "Aäßøåčł≤≥±×→²³·Ωµ°αβγδλμπρστφΔ–“”…" if ord(letter) not in known]


def test_no_line_is_wider_than_its_column_and_no_word_is_lost() -> None:
    words = "A sentence with " + "averyveryverylongword" * 9 + " in the middle of it and some more behind"
    lines = wrap(words, 9, 100)
    assert all(width(line, 9) <= 100 for line in lines)
    assert "".join(lines).replace(" ", "") == words.replace(" ", "")


def test_a_text_that_is_cut_says_so_and_fits() -> None:
    lines = fit("one two three four five six seven eight nine ten " * 5, 9, 80, 2)
    assert len(lines) == 2
    assert lines[-1].endswith("…")
    assert all(width(line, 9) <= 80 for line in lines)


# -- the matrix ---------------------------------------------------------------------------------------


def marks(svg: str) -> list[tuple[float, float, bool]]:
    """(x, y, filled) of every mark, in the order in which they were drawn."""
    found = []
    for circle in parsed(svg).iter(f"{SVG}circle"):
        filled = circle.get("fill") != figures.WHITE
        found.append((float(circle.get("cx", 0)), float(circle.get("cy", 0)), filled))
    return found


def cell_of(x: float, y: float, svg: str) -> tuple[int, int]:
    """Row and column of the framed cell that holds a point."""
    frames = [rect for rect in parsed(svg).iter(f"{SVG}rect") if rect.get("stroke")]
    lefts = sorted({float(rect.get("x", 0)) for rect in frames})
    tops = sorted({float(rect.get("y", 0)) for rect in frames})
    return sum(top <= y for top in tops) - 1, sum(left <= x for left in lefts) - 1


def test_marks_stand_in_the_cell_of_their_likelihood_and_severity(policy: Policy) -> None:
    levels = [band.level for band in policy.likelihood.levels]
    for severity in "12345":
        for first in levels:
            for last in levels[levels.index(first) :]:
                (figure,) = risk_matrices(policy, [score("H01", severity, first, last, policy)])
                (x1, y1, filled1), (x2, y2, filled2) = marks(figure.svg)
                assert (filled1, filled2) == (False, True)
                assert cell_of(x1, y1, figure.svg) == (levels.index(first), int(severity) - 1)
                assert cell_of(x2, y2, figure.svg) == (levels.index(last), int(severity) - 1)


def test_a_range_reaches_with_its_whisker_into_the_row_of_its_other_end(policy: Policy) -> None:
    (figure,) = risk_matrices(policy, [score("H01", "4", "A", ("B", "D"), policy)])
    dashed = next(path for path in parsed(figure.svg).iter(f"{SVG}path") if path.get("stroke-dasharray"))
    x, y = (float(number) for number in dashed.get("d", "").split("L")[1].split())
    assert cell_of(x, y, figure.svg) == (3, 3)


def test_three_dozen_hazards_stand_in_one_figure_without_touching(hood: Assessment) -> None:
    (figure,) = risk_matrices(hood.policy, hood.scores.values())
    ids = list(hood.scores)
    assert len(ids) == 36
    labels: list[Box] = []
    for text in parsed(figure.svg).iter(f"{SVG}text"):
        if text.text in ids and text.get("fill") == figures.INK:
            half, x, y = (
                width(text.text, matrix.LABEL_SIZE, "sans-bold") / 2,
                float(text.get("x", 0)),
                float(text.get("y", 0)),
            )
            labels.append((x - half, y - 4.4, x + half, y))
    assert len(labels) == 2 * len(ids)
    assert max(overlap(one, other) for one, other in combinations(labels, 2)) < 0.5
    circles = [(x - 2.7, y - 2.7, x + 2.7, y + 2.7) for x, y, _ in marks(figure.svg)]
    assert max(overlap(one, other) for one, other in combinations(circles, 2)) == 0


def test_two_hundred_hazards_are_spread_over_several_figures_and_none_is_lost(policy: Policy) -> None:
    scores = [score(f"H{place:03}", "5", "B", "D", policy) for place in range(200)]
    found = risk_matrices(policy, scores)
    assert len(found) > 1
    assert [id for figure in found for id in re.findall(r"H\d{3}(?=: before)", figure.alt)] == [
        each.id for each in scores
    ]
    assert all(figure.width <= 484 for figure in found)


def test_a_matrix_of_many_levels_is_shrunk_to_the_page() -> None:
    levels = [f"L{place}" for place in range(20)]
    steps = [str(place) for place in range(14)]
    large = Policy.model_validate(
        {
            "title": "large",
            "severity": [{"level": step, "word": f"word {step}"} for step in steps],
            "likelihood": {
                "exposure": "per use of the whole thing and all of its accessories",
                "levels": [
                    {"level": level, "word": "seldom", "above": f"1/{10 ** (place + 1)}"}
                    for place, level in enumerate(levels)
                ],
            },
            "regions": [{"name": "reduce"}],
            "matrix": {level: dict.fromkeys(steps, "reduce") for level in levels},
        }
    )
    (figure,) = risk_matrices(large, [score("H01", "3", "L1", "L9", large)])
    assert figure.width <= 484
    assert figure.height <= 602
    small = position(large, score("H01", "3", "L1", "L9", large))
    assert max(small.width, small.height) <= 110.01


def test_every_cell_says_its_region_in_words_and_number_and_by_hatching(policy: Policy) -> None:
    (figure,) = risk_matrices(policy, [score("H01", "3", "B", "C", policy)])
    words = "".join(text.text or "" for text in parsed(figure.svg).iter(f"{SVG}text"))
    for rank, region in enumerate(policy.regions, start=1):
        assert f"{rank} {region.name}"[:8] in words
    cells = [name for row in policy.matrix.values() for name in row.values()]
    hatched = sum(policy.region_rank(name) < len(matrix.HATCHES) for name in cells)
    strokes = [path for path in parsed(figure.svg).iter(f"{SVG}path") if path.get("stroke") == "#cfc7b8"]
    assert len(strokes) == hatched


def test_tints_of_the_regions_differ_in_grey() -> None:
    """Source: ITU-R BT.709 luma weights, the usual grey of a printer driver."""

    def grey(colour: str) -> float:
        red, green, blue = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    first, second = (grey(tint) for tint in matrix.TINTS)
    assert second - first > 0.05
    assert 1 - second > 0.04


def test_no_colour_on_paper_is_green_or_a_traffic_light(hood: Assessment) -> None:
    (figure,) = risk_matrices(hood.policy, hood.scores.values())
    css = (Path(__file__).parents[2] / "templates" / "dossier" / "print.css").read_text()
    bar = alarm_bar("H01", (("detect", 6.0), ("act", 25.0)), 58.0, "until harm")
    for colour in set(re.findall(r"#[0-9a-f]{6}", figure.svg + css + bar.svg)):
        red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
        assert not (green > red + 8 and green > blue + 8), colour
        assert max(red, green, blue) - min(red, green, blue) < 130, f"{colour} is a signal colour"


def test_a_hazard_that_does_not_move_keeps_both_of_its_marks(policy: Policy) -> None:
    figure = position(policy, score("H07", "4", "C", "C", policy))
    (x1, _, filled1), (x2, _, filled2) = marks(figure.svg)
    assert x1 != x2
    assert {filled1, filled2} == {True, False}


def test_the_alternative_text_says_where_every_hazard_stands(policy: Policy) -> None:
    (figure,) = risk_matrices(policy, [score("H02", "5", "C", "E", policy)])
    assert "H02: before severity 5, likelihood C" in figure.alt
    title = parsed(figure.svg).find(f"{SVG}title")
    assert title is not None
    assert title.text == figure.alt


# -- alarm bars ---------------------------------------------------------------------------------------


def test_an_alarm_bar_is_drawn_to_scale() -> None:
    """Source: the worked budget 6 + 4 + 1 + 30 + 25 = 66 s against 58 s, added by hand."""
    steps = (("detect", 6.0), ("delay", 4.0), ("signal", 1.0), ("notice", 30.0), ("act", 25.0))
    figure = alarm_bar("H01, C01", steps, 58.0, "until harm")
    boxes = [float(rect.get("width", 0)) for rect in parsed(figure.svg).iter(f"{SVG}rect")]
    assert sum(boxes) / boxes[0] == pytest.approx(66 / 6, rel=1e-3)
    mark = next(path for path in parsed(figure.svg).iter(f"{SVG}path") if path.get("stroke-width") == "1.8")
    x = float(mark.get("d", "M0")[1:].split()[0]) - 0.5
    assert x / sum(boxes) == pytest.approx(58 / 66, rel=1e-3)
    assert "together 66 s against 58 s" in figure.alt


# -- traces -------------------------------------------------------------------------------------------


def chain_of(count: int) -> Chain:
    nodes = [Node("H01", "hazards", "hazard", "Flow stops & <nobody> sees it")]
    nodes += [Node(f"C{place:02}", "controls", "protective control", "a measure " * 8) for place in range(count)]
    nodes += [Node(f"T{place:02}", "tests", "test", "a test", "on file: R1") for place in range(count)]
    links = [("H01", f"C{place:02}", "is answered by") for place in range(count)]
    links += [(f"T{place:02}", f"C{place:02}", "is meant to show") for place in range(count)]
    return Chain("H01", tuple(nodes), tuple(links), 3)


def boxes_of(svg: str) -> list[Box]:
    """Outer boxes of the nodes, from the drawing itself."""
    found = []
    for rect in parsed(svg).iter(f"{SVG}rect"):
        if abs(float(rect.get("width", 0)) - BOX_WIDTH) < 0.01:
            x, y = float(rect.get("x", 0)), float(rect.get("y", 0))
            found.append((x, y, x + BOX_WIDTH, y + float(rect.get("height", 0))))
    for path in parsed(svg).iter(f"{SVG}path"):
        steps = path.get("d", "")
        if steps.endswith("Z") and steps.count("L") == 7:
            numbers = [float(number) for number in re.findall(r"-?[\d.]+", steps)]
            found.append((min(numbers[::2]), min(numbers[1::2]), max(numbers[::2]), max(numbers[1::2])))
    return found


@pytest.mark.parametrize("place", [lambda graph: lay_out([graph]).graphs[0], layers], ids=["graphviz", "own layers"])
def test_no_two_boxes_of_a_trace_overlap(place: Callable[[Graph], Placed]) -> None:
    chain = chain_of(19)
    figure = draw_chain(chain, place(graph_of(chain)))
    boxes = boxes_of(figure.svg)
    assert len(boxes) == len(chain.nodes) == 39
    assert max(overlap(one, other) for one, other in combinations(boxes, 2)) == 0
    assert figure.width <= 482.01
    assert figure.height <= 560.01


def test_arrows_point_from_the_record_that_says_so() -> None:
    chain = chain_of(1)
    (placed,) = lay_out([graph_of(chain)]).graphs
    svg = draw_chain(chain, placed).svg
    ends = [tuple(float(n) for n in path.get("d", "M")[1:].split("L")[0].split()) for path in parsed(svg).iter(f"{SVG}path")
            if path.get("fill") == figures.GREY]  # fmt: skip
    control = placed.boxes["C00"]
    # Both tips touch the control: it answers the hazard, and the test, which stands to its right, is meant to show it.
    assert [abs(x - control[0]) < BOX_WIDTH / 2 + 2 for x, _ in ends] == [True, True]
    assert ends[0][0] < control[0] < ends[1][0]


def test_a_trace_says_how_many_records_it_leaves_out() -> None:
    chain = chain_of(2)
    assert "3 further records are not drawn." in draw_chain(chain, layers(graph_of(chain))).alt
    assert left_out_words(0) == ""


def test_hostile_titles_leave_the_drawing_well_formed() -> None:
    hostile = "</svg><script>alert(1)</script>\u202e\x07 \" ' & {{ 7*7 }}" + "x" * 500
    chain = Chain("H01", (Node("H01", "hazards", hostile, hostile, hostile), Node("C01", "controls", "control", hostile)),
                  (("H01", "C01", hostile),))  # fmt: skip
    svg = draw_chain(chain, layers(graph_of(chain))).svg
    assert parsed(svg).find(f".//{SVG}script") is None
    assert "\u202e" not in svg
    assert "\x07" not in svg


def test_equal_values_give_equal_bytes(hood: Assessment) -> None:
    first = [figure.svg for figure in risk_matrices(hood.policy, hood.scores.values())]
    assert first == [figure.svg for figure in risk_matrices(hood.policy, hood.scores.values())]
    chain = chain_of(8)
    one, other = (draw_chain(chain, lay_out([graph_of(chain)]).graphs[0]).svg for _ in range(2))
    assert one == other


def test_hatching_stays_inside_its_box() -> None:
    for rising in (True, False):
        numbers = re.findall(r"-?[\d.]+", figures.hatch(10, 20, 30, 15, 4, rising=rising).split('"')[1])
        assert all(10 <= float(x) <= 40 for x in numbers[::2])
        assert all(20 <= float(y) <= 35 for y in numbers[1::2])
