"""`gate`: may this unit go to the next step, and if not, what stands between."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.opening import one_of, open_register, print_text, warn_if_broken, width
from riskkit.cli.output import wrapped
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.assess import Assessment
    from riskkit.checks.readiness import Readiness
    from riskkit.model.upkeep import Gate, Unit


def show_gate(folder: Path, unit: str, to: str, format: str, today: str | None) -> None:
    """Print whether a unit may go to a gate."""
    one_of("--format", format, ("text", "json"))
    if not unit or not to:
        raise RiskkitError("a gate is asked for one unit and one step", "write riskkit gate --unit U02 --to G2")
    from riskkit.checks.readiness import readiness

    assessment = open_register(folder, today)
    warn_if_broken(assessment.report)
    found_unit, found_gate = _unit(unit, assessment), _gate(to, assessment)
    answer = readiness(found_unit, found_gate, assessment.context, assessment.open_findings)
    print_text(_json(answer) if format == "json" else _text(answer, found_gate))


def _unit(id: str, assessment: Assessment) -> Unit:
    from riskkit.model.upkeep import Unit
    from riskkit.text.complaints import nearest

    found = assessment.register.get(id, Unit)
    if found is not None:
        return found
    ids = tuple(each.id for each in assessment.register.units)
    guess = nearest(id, ids)
    help = f"did you mean {guess}?" if guess else f"the units are {', '.join(ids)}" if ids else "add it under `units:`"
    raise RiskkitError(f"there is no unit {id}", help)


def _gate(name: str, assessment: Assessment) -> Gate:
    """A gate by id, by title, or by words of its title that no other one has."""
    from riskkit.model.upkeep import Gate

    gates = assessment.register.of(Gate)
    wanted = name.casefold().strip()
    exact = [each for each in gates if wanted in (each.id.casefold(), each.title.casefold())]
    near = exact or [each for each in gates if wanted and wanted in each.title.casefold()]
    if len(near) == 1:
        return near[0]
    listed = ", ".join(f"{each.id} ({each.title})" for each in (near or gates))
    if near:
        raise RiskkitError(f"`{name}` may be more than one gate", f"name one of {listed}")
    raise RiskkitError(f"there is no gate {name}", f"the gates are {listed}" if listed else "add it under `gates:`")


def _json(answer: Readiness) -> str:
    from riskkit.checks.readiness import MOST_REASONS, SAYS_NOTHING

    return (
        json.dumps(
            {
                "unit": answer.unit,
                "gate": answer.gate,
                "answer": answer.word,
                "reasons": [each.because for each in answer.reasons[:MOST_REASONS]],
                "further_reasons": max(0, len(answer.reasons) - MOST_REASONS),
                "path": list(answer.path),
                "about": [
                    {"answer": each.word, "gate": each.gate, "ask": each.ask, "records": list(each.records)}
                    for each in answer.reasons[:MOST_REASONS]
                ],
                "caution": SAYS_NOTHING,
            },
            ensure_ascii=False,
            indent=2,
        )
        + "\n"
    )


def _text(answer: Readiness, gate: Gate) -> str:
    from riskkit.checks.readiness import MOST_REASONS, SAYS_NOTHING

    columns = width()
    lines = wrapped(f"May {answer.unit} go to `{gate.title}` ({gate.id})? {answer.word.capitalize()}.", columns)
    for number, each in enumerate(answer.reasons[:MOST_REASONS], start=1):
        lines += wrapped(f"{number}. {each.because} ({each.gate}).", columns, "  ", "     ")
    left = len(answer.reasons) - MOST_REASONS
    if left > 0:
        lines += wrapped(f"And {left} more.", columns, "  ")
    if answer.path:
        lines += ["", "The shortest way to yes; all of it is needed, in any order:"]
        for step in answer.path:
            lines += wrapped(f"- {step}", columns, "  ", "    ")
    else:
        lines += wrapped("Every question of this gate and of those before it is answered with yes.", columns, "  ")
    return "\n".join([*lines, "", *wrapped(SAYS_NOTHING, columns)]) + "\n"
