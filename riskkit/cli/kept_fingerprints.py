"""Fingerprints that stand in a register: one that fitted before a rename fits after it.

An id is part of what a fingerprint is taken of, so that another control in the same place is noticed. A rename
changes the id and nothing that anybody signed; a signature that was void before stays void.
"""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Mapping
from typing import TYPE_CHECKING

from riskkit.cli.editing import data_of, home_of
from riskkit.cli.linking import in_data

if TYPE_CHECKING:
    from riskkit.model.register import Register
    from riskkit.text.positions import Path
    from riskkit.text.reader import Reading

Kept = Mapping[tuple[str, "Path"], tuple[str, str]]
"""(record, path to the fingerprint) -> (what stands there, what fits today)."""


def with_fingerprints(
    reading: Reading, grown: Reading, after: dict[str, bytes], old: str, new: str
) -> dict[str, bytes]:
    """The files after a rename, with the fingerprints that fitted before it made to fit again.

    Args:
        reading: The register before.
        grown: The register after, with the fingerprints as they were.
        after: Name of a file -> its bytes after the rename.
        old: The id before.
        new: The id after.
    """
    from riskkit.text.editing import replace_words
    from riskkit.text.syntax import parse_file

    before, now = kept_fingerprints(reading.register), kept_fingerprints(grown.register)
    words: dict[str, dict[Path, str]] = defaultdict(dict)
    for (record, path), (stored, fits) in before.items():
        there = (new if record == old else record, tuple(new if step == old else step for step in path))
        fits_now = now.get(there, ("", ""))[1]
        if stored.casefold() == fits and fits_now not in ("", fits):
            document, home = home_of(grown, there[0])
            words[document.name][*home, *in_data(data_of(grown, there[0]), there[1])[0]] = fits_now
    files = dict(after)
    for name, values in words.items():
        content = files.get(name, reading.snapshot.files[name])
        files[name] = replace_words(parse_file(name, content), content, values, {}).content
    return files


def kept_fingerprints(register: Register) -> Kept:
    """Every fingerprint that stands in a register, and the one that fits today."""
    from riskkit.judgement.calculations import with_answers, work_out_all
    from riskkit.judgement.fingerprints import fingerprint
    from riskkit.judgement.freshness import freshness, mark_of, remembered
    from riskkit.judgement.signatures import signatures
    from riskkit.model.records import Hazard
    from riskkit.model.upkeep import Decision
    from riskkit.text.policies import shipped_policy

    policy = register.policy or shipped_policy()
    found: dict[tuple[str, Path], tuple[str, str]] = {}
    for decision in register.of(Decision):
        for id, stored in decision.covers.items():
            if register.get(id, Hazard) is not None:
                found[decision.id, ("covers", id)] = (stored, fingerprint(register, policy, id))
    for signature in signatures(register):
        if signature.stored is not None:
            found[signature.record, signature.path] = (signature.stored, signature.now)
    leaning = [result for result in register.results if result.remembers or result.still_valid]
    if leaning:
        worked = work_out_all(register)
        answered = with_answers(register, worked)
        fresh = freshness(answered, worked, datetime.date.min)
        for result in leaning:
            for id, stored in result.remembers.items():
                found[result.id, ("remembers", id)] = (stored, remembered(id, answered, worked) or "")
            for place, judged in enumerate(result.still_valid):
                if judged.fingerprint is not None and result.id in fresh:
                    path = ("still_valid", place, "fingerprint")
                    found[result.id, path] = (judged.fingerprint, mark_of(fresh[result.id].lapses))
    return found
