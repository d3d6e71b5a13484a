"""The recordings that results name as evidence, read and reduced to what a page can show."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from riskkit.diagnostics import RiskkitError
from riskkit.evidence.columns import Column
from riskkit.evidence.envelopes import Envelope, envelope
from riskkit.evidence.measured import Measured
from riskkit.model.fields import Limit
from riskkit.model.register import Register
from riskkit.model.verification import Evidence, Result, Test
from riskkit.text.evidence_files import look_at_one
from riskkit.units import Quantity

STEPS = 420
"""Steps of time of an envelope: about one per point of paper."""

LARGEST_RECORDING = 512 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class DrawnLimit:
    """A limit of the test in the unit of the column; `uncertainty` is the expanded one of the readings, if stated."""

    level: float
    is_upper: bool
    uncertainty: float | None


@dataclass(frozen=True, slots=True)
class Recorded:
    """One recording of one result.

    Attributes:
        result: The result.
        file: Path inside the register's folder.
        measured: What it shows; None where it could not be read.
        whole: The recording in steps; None likewise.
        near: The part round the worst cycle; None where there are no cycles.
        limits: Limits of the test that are of the column's kind.
        problem: Why it could not be read; empty where it could.
    """

    result: str
    file: str
    measured: Measured | None = None
    whole: Envelope | None = None
    near: Envelope | None = None
    limits: tuple[DrawnLimit, ...] = ()
    problem: str = ""


def recorded(register: Register, folder: Path) -> Iterator[Recorded]:
    """Every recording that a result names, in the order of the results; one that cannot be read says why."""
    for result in register.results:
        for evidence in result.evidence:
            if evidence.recording is not None:
                try:
                    yield _read(result, evidence, register, folder)
                except RiskkitError as error:
                    yield Recorded(result.id, evidence.file, problem=error.headline)


def _read(result: Result, evidence: Evidence, register: Register, folder: Path) -> Recorded:
    from riskkit.evidence.metrics import measure
    from riskkit.evidence.recordings import read_recording

    asked = evidence.recording
    assert asked is not None
    found = look_at_one(folder, evidence.file)
    if not found.exists:
        raise RiskkitError(found.problem or "the file is not there")
    if found.size > LARGEST_RECORDING:
        raise RiskkitError("the file is too large to be drawn")
    recording = read_recording(
        os.path.join(folder, evidence.file),
        columns=asked.columns,
        interval=asked.interval.value if asked.interval is not None else None,
        time=asked.time,
        name=os.path.basename(evidence.file),
    )
    column = recording.column(asked.column)
    test = register.get(result.test, Test)
    limits = tuple(_limits(test, result, column)) if test is not None else ()
    measured = measure(
        recording,
        column.name,
        at_most=min((each.level for each in limits if each.is_upper), default=None),
        at_least=max((each.level for each in limits if not each.is_upper), default=None),
    )
    near = None
    if measured.worst is not None:
        margin = 0.15 * (measured.worst.end - measured.worst.start)
        near = envelope(recording, column.name, STEPS, measured.worst.start - margin, measured.worst.end + margin)
    return Recorded(result.id, evidence.file, measured, envelope(recording, column.name, STEPS), near, limits)


def _limits(test: Test, result: Result, column: Column) -> Iterator[DrawnLimit]:
    """The limits that can be drawn into the column: those of its kind."""
    for limit in test.limit:
        spread = result.uncertainty.get(limit.what or next(iter(result.readings), ""))
        for end, is_upper in _ends(limit):
            if column.kind is not None and end.kind == column.kind:
                level = column.number(end.written, "limit")
                wide = column.width(spread.written, "uncertainty", level) if spread is not None else None
                yield DrawnLimit(level, is_upper, wide)


def _ends(limit: Limit) -> Iterator[tuple[Quantity, bool]]:
    if limit.between is not None:
        yield limit.between[0], False
        yield limit.between[1], True
    if limit.at_least is not None:
        yield limit.at_least, False
    if limit.at_most is not None:
        yield limit.at_most, True
