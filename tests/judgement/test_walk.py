"""Single faults and shared elements against a walk by hand and against networkx."""

from __future__ import annotations

import math
from collections.abc import Callable

import networkx
import pytest
from hypothesis import given, strategies as st

from riskkit.assess import Assessment
from riskkit.judgement.dormancy import dormant_unavailability, dormant_unavailability_exact
from riskkit.judgement.walk import dependencies, single_faults
from riskkit.model.records import Control, Hazard, Part
from riskkit.model.register import Register

HOUSE = """
energy_sources:
  E01: {title: mains}
parts:
  P01: {title: supply, supplied_by: [E01]}
  P02: {title: controller, supplied_by: [P01]}
  P03: {title: sensor, supplied_by: [P02]}
  P04: {title: valve}
hazards:
  H01:
    title: overpressure
    condition: single fault
    causes: [P02]
    harm: {text: injury, severity: 4}
    controls: [C01, C02, C03, C04]
  H02:
    title: silence
    condition: single fault
    causes: [P04]
    loss_of: E01
    harm: {text: injury, severity: 4}
    controls: [C01, C04]
controls:
  C01: {title: alarm, kind: protective, depends_on: [P03], people: attendant}
  C02: {title: blow-off, kind: protective, depends_on: [P04]}
  C03: {title: old cut, kind: protective, depends_on: [P02], withdrawn: {on: 2026-01-01, because: useless}}
  C04: {title: call, kind: information, people: attendant}
"""


def test_a_walk_by_hand_gives_the_same(project: Callable[..., Assessment]) -> None:
    assessment = project(HOUSE)
    found = {fault.element: fault for fault in assessment.faults}
    walked = {id: (set(fault.starts), set(fault.disables)) for id, fault in found.items()}
    assert walked == {
        "P01": (set(), {"C01"}),
        "P02": ({"H01"}, {"C01"}),
        "P03": (set(), {"C01"}),
        "P04": ({"H02"}, {"C02"}),
        "E01": ({"H02"}, {"C01"}),
    }
    assert [(on.disabled, on.left) for on in found["P02"].hazards] == [(("C01",), ("C02", "C04"))]
    assert [(on.disabled, on.left) for on in found["E01"].hazards] == [(("C01",), ("C04",))]
    assert {(each.hazard, each.element, each.controls) for each in assessment.shared} == {
        ("H01", "attendant", ("C01", "C04")),
        ("H02", "attendant", ("C01", "C04")),
    }


parts = st.lists(st.lists(st.integers(0, 7), max_size=3), min_size=8, max_size=8)
controls = st.lists(st.lists(st.integers(0, 7), max_size=3), min_size=1, max_size=5)


@given(parts, controls, st.lists(st.integers(0, 7), max_size=3))
def test_the_walk_agrees_with_reachability_in_networkx(
    supplies: list[list[int]], needs: list[list[int]], causes: list[int]
) -> None:
    """Reachability along "is supplied by" and "depends on" is the second method."""
    records = [Part(id=f"P{i}", title="x", supplied_by=tuple(f"P{j}" for j in by)) for i, by in enumerate(supplies)]
    made = [
        Control(id=f"C{i}", title="x", kind="protective", depends_on=tuple(f"P{j}" for j in on))
        for i, on in enumerate(needs)
    ]
    hazard = Hazard.model_validate(
        {
            "id": "H1", "title": "x", "condition": "normal", "harm": {"text": "x", "severity": 1},
            "causes": [f"P{i}" for i in causes], "controls": [control.id for control in made],
        }
    )  # fmt: skip
    register = Register({record.id: record for record in (*records, *made, hazard)})
    graph: networkx.DiGraph[str] = networkx.DiGraph()
    graph.add_nodes_from(register.records)
    graph.add_edges_from((part.id, by) for part in records for by in part.supplied_by)
    graph.add_edges_from((control.id, on) for control in made for on in control.depends_on)
    reached = {control.id: networkx.descendants(graph, control.id) for control in made}
    assert dependencies(register) == {id: frozenset(found) for id, found in reached.items()}
    for fault in single_faults(register):
        assert set(fault.disables) == {id for id, found in reached.items() if fault.element in found}
        assert set(fault.starts) == ({"H1"} if fault.element in {f"P{i}" for i in causes} else set())
        for on in fault.hazards:
            assert sorted((*on.disabled, *on.left)) == sorted(control.id for control in made)


def test_the_graph_in_networkx_has_the_same_links_with_their_reasons(project: Callable[..., Assessment]) -> None:
    trace = project(HOUSE).trace
    graph = trace.graph()
    assert graph.number_of_edges() == len(trace.links)
    assert {data["relation"] for _, _, data in graph.out_edges("C01", data=True)} == {"depends on"}


def test_what_leans_on_a_part_is_told_with_the_shortest_chain(project: Callable[..., Assessment]) -> None:
    chains = {chain.record: chain.links for chain in project(HOUSE).trace.leaning_on("P01")}
    assert set(chains) == {"P02", "P03", "C01", "C03", "H01", "H02"}
    assert [link.sentence() for link in chains["H02"]] == [
        "H02 is answered by C01", "C01 depends on P03", "P03 is supplied by P02", "P02 is supplied by P01"
    ]  # fmt: skip
    graph = project(HOUSE).trace.graph()
    for record, links in chains.items():
        assert len(links) == networkx.shortest_path_length(graph, record, "P01")


def test_a_neighbourhood_is_small_enough_to_draw(project: Callable[..., Assessment]) -> None:
    near = project(HOUSE).trace.neighbourhood("H01", most=3)
    assert near.nodes[0] == "H01"
    assert len(near.nodes) == 3
    assert near.left_out == len(project(HOUSE).trace.neighbourhood("H01").nodes) - 3


# IEC 61508-6 and ISA-TR84.00.02, one channel: lambda T / 2 against the exact average of 1 - exp(-lambda t),
# lambda 2e-6/h, T 8760 h; equations from memory, numbers recomputed.
def test_a_dormant_control_is_broken_half_the_interval_on_average() -> None:
    assert dormant_unavailability(2e-6, 8760) == pytest.approx(8.760000e-3, rel=1e-8)
    assert dormant_unavailability_exact(2e-6, 8760) == pytest.approx(8.709064891e-3, rel=1e-8)
    assert dormant_unavailability(1e-4, 100) == pytest.approx(0.005)
    assert dormant_unavailability_exact(0, 100) == 0


@given(st.floats(1e-9, 1e-2), st.floats(0.1, 1e4))
def test_the_exact_average_agrees_with_a_numerical_integral(rate: float, interval: float) -> None:
    steps = 2000
    mean = sum(-math.expm1(-rate * interval * (i + 0.5) / steps) for i in range(steps)) / steps
    assert dormant_unavailability_exact(rate, interval) == pytest.approx(mean, rel=1e-5)


# Constant rates in series and in parallel (constructed; recomputed by hand): three 1e-5/h in series for 1000 h,
# and two such blocks beside each other.
def test_constant_rates_combine_as_in_the_textbooks() -> None:
    one = -math.expm1(-1e-5 * 1000)
    assert -math.expm1(-3e-5 * 1000) == pytest.approx(0.0295544665, rel=2e-9)
    assert one**2 == pytest.approx(9.900581e-5, rel=1e-6)
