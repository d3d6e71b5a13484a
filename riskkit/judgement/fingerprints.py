"""A short name for what a hazard says, so that a decision about it is void when it says something else.

Formatting, comments, the order of keys and the spelling of a unit do not count; nor do owner, notes
and origin. Content that counts: the hazard, its live controls and the policy it is scored under.
"""

from __future__ import annotations

import datetime
import hashlib
import json
from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel

from riskkit.model.fields import Probability
from riskkit.model.policy import EvidenceRules, Policy
from riskkit.model.records import Control, Hazard
from riskkit.model.register import Register
from riskkit.model.upkeep import Decision
from riskkit.units import Quantity

NOT_CONTENT = frozenset({"owner", "notes", "origin", "parked", "adopted"})
DIGITS = 12

EMPTY_IS_AN_ANSWER = frozenset({"introduces"})
"""Fields whose empty list says that someone looked and found none; left out, they say that nobody has looked."""


def fingerprints(register: Register, policy: Policy) -> Mapping[str, str]:
    """Fingerprints of the hazards that any decision covers; the others are worked out when asked for."""
    covered = {id for decision in register.of(Decision) for id in decision.covers}
    return {id: fingerprint(register, policy, id) for id in sorted(covered) if register.get(id, Hazard) is not None}


def fingerprint(register: Register, policy: Policy, hazard_id: str) -> str:
    """The fingerprint of one hazard, 12 hexadecimal digits.

    Raises:
        KeyError: where there is no such hazard.
    """
    hazard = register.records[hazard_id]
    controls = [
        control for control in register.all_of(getattr(hazard, "controls", ()), Control) if not control.withdrawn
    ]
    return digest([hazard, controls, policy])


def digest(content: object) -> str:
    """A short name for what a record or a group of values says, 12 hexadecimal digits."""
    return _digest(content, NOT_CONTENT)


def digest_of_all(content: object) -> str:
    """As `digest`, over owners, notes, origins and parkings too."""
    return _digest(content, frozenset())


def _digest(content: object, left_out: frozenset[str]) -> str:
    text = json.dumps(_content(content, left_out), sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:DIGITS]


def _content(value: Any, left_out: frozenset[str]) -> Any:
    """A value as plain data in which equal meaning gives equal text."""
    match value:
        case EvidenceRules() if value == EvidenceRules():
            return None  # the defaults spelt out say no more than leaving them out
        case BaseModel():
            fields = {name: _content(part, left_out) for name, part in value if name not in left_out}
            return {
                name: part
                for name, part in fields.items()
                if (part not in ([], {}) if name in EMPTY_IS_AN_ANSWER else part not in (None, [], {}))
            }
        case Quantity():
            spread = None if value.plus_minus is None else _number(value.plus_minus)
            return [value.kind, _number(value.value), spread]
        case Probability():
            return f"{value.exact.numerator}/{value.exact.denominator}"
        case Mapping():
            return {str(key): _content(part, left_out) for key, part in value.items()}
        case tuple() | list():
            return [_content(part, left_out) for part in value]
        case datetime.date():
            return value.isoformat()
        case float():
            return _number(value)
        case str():
            return " ".join(value.split())  # where a line of YAML is broken does not count
        case _:
            return value


def _number(value: float) -> str:
    """Twelve significant digits: 12 hPa and 1.2 kPa are one number, and so are 0 and -0."""
    return f"{value + 0.0:.{DIGITS - 1}e}"
