"""Turns an assessment into words: everything a template prints, already said, cut, cleaned and counted.

The view holds plain frozen values. It must not know HTML; templates must not know the model, and do
no more than loop over what stands here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from riskkit.assess import Assessment
from riskkit.dossier.view.calculations import CalculationBlock, calculation_blocks
from riskkit.dossier.view.configuration import Configuration, configuration
from riskkit.dossier.view.device import (
    DeviceSheet,
    Limits,
    Method,
    device_sheet,
    limits,
    method,
)
from riskkit.dossier.view.fault_trees import TreeBlock, tree_blocks
from riskkit.dossier.view.front import Front, front
from riskkit.dossier.view.gaps import OpenList, open_list
from riskkit.dossier.view.hazards import HazardBlock, hazard_blocks
from riskkit.dossier.view.proof import (
    EvidenceLine,
    InstrumentLine,
    ProofRow,
    ResultBlock,
    TestLine,
    evidence_lines,
    instrument_lines,
    proof_rows,
    result_blocks,
    test_lines,
)
from riskkit.dossier.view.review import Ledger, Review, ledger, review
from riskkit.dossier.view.risks import (
    ControlLine,
    FaultPicture,
    Picture,
    control_lines,
    fault_picture,
    picture,
)
from riskkit.dossier.view.since import Changes, Since, changes
from riskkit.dossier.view.telling import Claims, Teller
from riskkit.dossier.view.traces import TraceBlock, trace_blocks
from riskkit.dossier.view.units import GateLine, UnitBlock, gate_lines, unit_blocks
from riskkit.dossier.view.words import WORDS
from riskkit.model.upkeep import Comment, Unit
from riskkit.model.verification import Assumption, Calculation, Result
from riskkit.text.evidence_files import evidence_of
from riskkit.text.recorded import Recorded
from riskkit.version import __version__

__all__ = ["Cover", "DossierView", "Since", "view_of"]

ANCHORED = (
    "parts",
    "functions",
    "use_steps",
    "energy_sources",
    "hazards",
    "controls",
    "tests",
    "results",
    "instruments",
    "fault_trees",
    "calculations",
    "assumptions",
    "observations",
    "decisions",
    "waivers",
    "comments",
    "units",
    "gates",
)
"""Sections whose records have a place of their own on paper."""


@dataclass(frozen=True, slots=True)
class Cover:
    """What stands on every page, and what was counted.

    `stamps` are words such as INCOMPLETE; an empty tuple means that nothing is open.
    """

    name: str
    revision: str
    build: str
    today: str
    open: int
    stamps: tuple[str, ...]
    counts: tuple[tuple[str, int], ...]
    rules: int
    version: str


@dataclass(frozen=True)
class DossierView:
    """The whole dossier in words."""

    cover: Cover
    front: Front
    limits: Limits
    changes: Changes
    device: DeviceSheet
    method: Method
    picture: Picture
    faults: FaultPicture
    trees: tuple[TreeBlock, ...]
    hazards: tuple[HazardBlock, ...]
    controls: tuple[ControlLine, ...]
    proof: tuple[ProofRow, ...]
    tests: tuple[TestLine, ...]
    results: tuple[ResultBlock, ...]
    traces: tuple[TraceBlock, ...]
    calculations: tuple[CalculationBlock, ...]
    configuration: Configuration
    ledger: Ledger
    units: tuple[UnitBlock, ...]
    gates: tuple[GateLine, ...]
    review: Review
    open: OpenList
    instruments: tuple[InstrumentLine, ...]
    evidence: tuple[EvidenceLine, ...]
    files: tuple[tuple[str, int, str], ...]
    words: tuple[tuple[str, str], ...]
    anchored: frozenset[str]


def view_of(
    assessment: Assessment,
    claims: Claims,
    *,
    page: str = "a4",
    rules: int = 0,
    files: tuple[tuple[str, int, str], ...] = (),
    recordings: Sequence[Recorded] = (),
    since: Since | None = None,
    baseline: str = "",
) -> DossierView:
    """Say everything that is known about a register.

    Args:
        assessment: What was worked out.
        claims: The wording check; a sentence in which it finds something is not printed.
        page: The paper, `a4` or `letter`; the front sheet is cut to it.
        rules: Number of rules that were run, for the open list.
        files: Name, size and SHA-256 of each attached file.
        recordings: Recordings that results name as evidence.
        since: The earlier state that section 2 compares with.
        baseline: What section 2 says where there is none.
    """
    tell = Teller(claims)
    gaps = open_list(assessment, tell)
    faults = fault_picture(assessment, tell)
    register = assessment.register
    view = DossierView(
        cover=_cover(assessment, tell, rules),
        front=front(assessment, tell, gaps, faults, page),
        limits=limits(assessment, tell),
        changes=changes(assessment, since, baseline, tell),
        device=device_sheet(assessment, tell),
        method=method(assessment, tell),
        picture=picture(assessment, tell, gaps.of_hazard),
        faults=faults,
        trees=tree_blocks(assessment, tell),
        hazards=hazard_blocks(assessment, tell, gaps.of_hazard),
        controls=control_lines(assessment, tell),
        proof=proof_rows(assessment, tell),
        tests=test_lines(assessment, tell),
        results=result_blocks(assessment, tell),
        traces=trace_blocks(recordings, _changed_files(assessment), assessment.policy.evidence.guard_band, tell),
        calculations=calculation_blocks(assessment, tell),
        configuration=configuration(assessment, tell),
        ledger=ledger(assessment, tell),
        units=unit_blocks(assessment, tell),
        gates=gate_lines(assessment, tell),
        review=review(assessment, tell),
        open=gaps,
        instruments=instrument_lines(assessment, tell),
        evidence=evidence_lines(assessment, tell),
        files=files,
        words=WORDS,
        anchored=frozenset(id for id, record in register.records.items() if record.SECTION in ANCHORED),
    )
    # Claims are met while the sections are put into words, so that the list of them is complete only now.
    complete = replace(gaps, removed=tell.removed)
    return replace(view, open=complete, cover=replace(view.cover, stamps=_stamps(complete)))


def _changed_files(assessment: Assessment) -> frozenset[str]:
    """Evidence files that are not what they were when they were entered."""
    found = assessment.reading.evidence or {}
    owners: tuple[Result | Unit, ...] = (*assessment.register.results, *assessment.register.units)
    return frozenset(
        evidence.file
        for record in owners
        for _, evidence in evidence_of(record)
        if evidence.sha256 and evidence.file in found and found[evidence.file].sha256 != evidence.sha256.lower()
    )


def _cover(assessment: Assessment, tell: Teller, rules: int) -> Cover:
    register, device = assessment.register, assessment.register.device
    counts = [
        (word, len(records))
        for word, records in (
            ("hazards", register.hazards),
            ("controls", register.controls),
            ("tests", register.tests),
            ("results", register.results),
            ("calculations", register.of(Calculation)),
            ("assumptions", register.of(Assumption)),
            ("units", register.units),
            ("comments", register.of(Comment)),
        )
    ]
    return Cover(
        name=tell(device.name if device is not None else "A device without a name", "device"),
        revision=tell(device.revision or "", "device") if device is not None else "",
        build=tell(assessment.revision or assessment.reading.snapshot.fingerprint()[:12], "the build"),
        today=assessment.today.isoformat(),
        open=len(assessment.report.open),
        stamps=(),
        counts=tuple(counts),
        rules=rules,
        version=__version__,
    )


def _stamps(gaps: OpenList) -> tuple[str, ...]:
    """INCOMPLETE while anything is open, left open on purpose, or was not printed."""
    return () if gaps.is_empty else ("INCOMPLETE",)
