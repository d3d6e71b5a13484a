"""Ids for new records, following what the register already does, and never one that was used before."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from riskkit.model.register import Register
from riskkit.model.verification import Result

_NUMBERED = re.compile(r"[A-Za-z]+[-._]?(?P<number>\d.*)")


def next_id(section: str, register: Register, usual: str, given: Sequence[str] = ()) -> str:
    """The id after the highest of a section, written like it; `usual` such as H01 where there is none yet.

    Ids of tombstones and of records that cannot be read count as used.

    Args:
        section: Such as `hazards`.
        register: Its ids.
        usual: An id that ends in a number.
        given: Ids of the section that were given out and are not in the register yet.
    """
    taken = {id.casefold() for id in (*register.records, *register.broken, *given)}
    own = [*(record.id for record in register.records.values() if section == record.SECTION), *given]
    numbered = [found for id in own if (found := re.fullmatch(r"(.*?)(\d+)", id)) is not None]
    last = max(numbered, key=lambda found: int(found[2]), default=re.fullmatch(r"(.*?)(\d+)", usual))
    assert last is not None, "a usual id ends in a number"
    number = int(last[2]) + (1 if numbered else 0)
    while f"{last[1]}{number:0{len(last[2])}}".casefold() in taken:
        number += 1
    return f"{last[1]}{number:0{len(last[2])}}"


def new_result_id(test_id: str, register: Register) -> str:
    """The id of the next result of a test.

    R07-1, R07-2 are followed by R07-3; R05 alone by R05-2. The first result of a test is R34 where the
    register writes first results so, and R34-1 otherwise. Ids of tombstones and of records that cannot be
    read count as used.
    """
    taken = {id.casefold() for id in (*register.records, *register.broken)}
    own = [result.id for result in register.of(Result) if result.test == test_id]
    stem = _stem(test_id, own)
    if not own and stem.casefold() not in taken and _writes_first_results_plain(register):
        return stem
    form = re.compile(rf"{re.escape(stem)}([-._])(\d+)", re.IGNORECASE)
    used = [found for id in (*register.records, *register.broken) if (found := form.fullmatch(id)) is not None]
    sign = used[-1][1] if used else "-"
    digits = max((len(found[2]) for found in used if found[2].startswith("0")), default=1)
    first = max([1 if stem.casefold() in taken else 0, *(int(found[2]) for found in used)]) + 1
    return next(id for id in _counted(f"{stem}{sign}", first, digits) if id.casefold() not in taken)


def _counted(stem: str, first: int, digits: int) -> Iterator[str]:
    while True:
        yield f"{stem}{first:0{digits}}"
        first += 1


def _stem(test_id: str, own: list[str]) -> str:
    """What the results of a test have in common before their count: R07 for T07."""
    found = _NUMBERED.fullmatch(test_id)
    wanted = f"R{found['number']}" if found else f"R-{test_id}"
    stems = [re.sub(r"[-._]\d+$", "", id) for id in own]
    if not own or any(id == wanted or re.fullmatch(rf"{re.escape(wanted)}[-._]\d+", id) for id in own):
        return wanted
    return own[-1] if stems[-1] == own[-1] or not stems[-1] else stems[-1]


def _writes_first_results_plain(register: Register) -> bool:
    """Whether more tests have a result such as R34 than one such as R34-1."""
    plain = counted = 0
    for result in register.of(Result):
        if result.id == _stem(result.test, []):
            plain += 1
        elif re.fullmatch(rf"{re.escape(_stem(result.test, []))}[-._]0*1", result.id):
            counted += 1
    return plain > counted
