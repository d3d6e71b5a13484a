"""What each column of an exported sheet says about a hazard; an import compares with the same words."""

from __future__ import annotations

from riskkit.exchange.columns import NAMES
from riskkit.model.records import Hazard, Likelihood
from riskkit.model.register import Register


def cell_text(hazard: Hazard, name: str, register: Register) -> str:
    """The cell of one column; several values stand on lines of their own."""
    match name:
        case "id":
            return hazard.id
        case "title":
            return hazard.title
        case "condition":
            return "\n".join(hazard.condition)
        case "source":
            return hazard.source or ""
        case "part":
            return "\n".join(dict.fromkeys(f"{cause.by} {register.title_of(cause.by)}" for cause in hazard.causes))
        case "mode":
            return "\n".join(cause.mode for cause in hazard.causes if cause.mode)
        case "sequence":
            return "\n".join(hazard.sequence)
        case "situation":
            return hazard.situation or ""
        case "harm":
            return hazard.harm.text
        case "severity":
            return hazard.harm.severity
        case "severity because":
            return hazard.harm.because or ""
        case "before":
            return likelihood_text(hazard.likelihood.before)
        case "claimed":
            return likelihood_text(hazard.likelihood.claimed)
        case "controls":
            return "\n".join(hazard.controls)
        case "tests":
            return "\n".join(hazard.tests)
        case "owner":
            return hazard.owner or ""
        case "notes":
            return hazard.notes or ""
        case _:
            return ""


def likelihood_text(said: Likelihood | None) -> str:
    """A likelihood as it was typed: a level, a probability, a tree, or that it is eliminated."""
    if said is None:
        return ""
    if said.level is not None:
        levels = said.level if isinstance(said.level, tuple) else (said.level,)
        return " to ".join(dict.fromkeys(str(each) for each in levels))
    if said.eliminated:
        return "eliminated"
    if said.tree is not None:
        return f"tree {said.tree}"
    if said.p is not None:
        return f"p {_ends(said.p)}"
    return f"p1 {_ends(said.p1)}, p2 {_ends(said.p2)}"


def _ends(value: object) -> str:
    ends = value if isinstance(value, tuple) else (value,)
    return " to ".join(dict.fromkeys(getattr(each, "written", str(each)) for each in ends))


def rows_of(register: Register) -> list[list[str]]:
    """A row per hazard, with every column that can be read back."""
    return [[cell_text(hazard, name, register) for name in exported_names()] for hazard in register.of(Hazard)]


def exported_names() -> tuple[str, ...]:
    """Columns of an exported sheet that are read back; a cause of a foreign sheet is a line of the sequence here."""
    return tuple(name for name in NAMES if name != "cause")
