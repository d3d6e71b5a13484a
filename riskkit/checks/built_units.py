"""Rules about built units: readings of their checks, firmware as read back, ages of parts, re-tests of deviations."""

from __future__ import annotations

import re
from collections.abc import Iterator

from riskkit.checks import Context, Finding, rule
from riskkit.judgement.as_built import lives, repeats, step_verdict
from riskkit.judgement.verdicts import Word
from riskkit.model.fields import plain_words
from riskkit.model.records import Part
from riskkit.model.upkeep import Unit

_DIGITS = re.compile(r"[0-9a-f]{8,64}")


def _in_use(context: Context) -> Iterator[Unit]:
    return (unit for unit in context.register.units if unit.retired is None)


@rule("error")
def build_check_outside_limit(context: Context) -> Iterator[Finding]:
    """A check of a build whose reading does not keep to its limit, or where a look found something wrong.

    The copy is not what was drawn, whatever was tested on the first one.

    Bad:

        units:
          U01:
            title: first unit
            checks:
              - {step: relief weight, kind: weight, limit: {between: [82 g, 84 g]}, reading: 86 g ± 0.5 g, by: builder-1}   # <-

    Good:

        units:
          U01:
            title: first unit
            checks:
              - {step: relief weight, kind: weight, limit: {between: [82 g, 84 g]}, reading: 83 g ± 0.5 g, by: builder-1}
    """
    yield from _checks(context, "does not meet", "does not keep to its limit", "mend it and do the check again")


@rule("warning")
def build_check_cannot_be_told(context: Context) -> Iterator[Finding]:
    """A check of a build with a limit, whose reading does not say on which side of it the unit lies.

    The gauge is too poor, or nobody wrote down how good it is. The same reading on a better gauge may settle it.

    Bad:

        units:
          U01:
            title: first unit
            checks:
              - {step: static level, kind: pressure, limit: {at_most: 5.7 hPa}, reading: 5.3 hPa ± 0.6 hPa, by: builder-1}   # <-

    Good:

        units:
          U01:
            title: first unit
            checks:
              - {step: static level, kind: pressure, limit: {at_most: 5.7 hPa}, reading: 5.3 hPa ± 0.18 hPa, by: builder-1}
    """
    help = "read it again with a better gauge, and write its expanded uncertainty under `uncertainty:`"
    yield from _checks(context, "cannot tell", "cannot be told from its limit", help)


def _checks(context: Context, word: Word, words: str, help: str) -> Iterator[Finding]:
    for unit in _in_use(context):
        for place, check in enumerate(unit.checks):
            if check.by is None and check.reading is None and check.inspection is None:
                continue  # it is not filled in, and another rule says so
            verdict = step_verdict(check, context.register, context.policy.evidence)
            if verdict is not None and verdict.word == word:
                yield Finding(
                    unit.id,
                    ("checks", place),
                    f"the check `{check.step}` of {unit.id} {words}: {verdict.because}",
                    help,
                )


@rule("error")
def firmware_read_back_differs(context: Context) -> Iterator[Finding]:
    """Firmware in a unit that is not the file of the drawings, although it calls itself the same.

    A version is what somebody typed; the hash is what is in the chip.

    Bad:

        parts:
          P05: {title: controller, version: 0.9.4, firmware_sha256: 5f0c8a1e77d24b6f, no_hazard_because: example}
        units:
          U01:
            title: first unit
            parts: {P05: 0.9.4}
            firmware_sha256:
              P05: 77d24b6f9b3e2c41   # <-

    Good:

        parts:
          P05: {title: controller, version: 0.9.4, firmware_sha256: 5f0c8a1e77d24b6f, no_hazard_because: example}
        units:
          U01: {title: first unit, parts: {P05: 0.9.4}, firmware_sha256: {P05: 5F0C8A1E77D2}}
    """
    for unit in _in_use(context):
        said = {part for deviation in unit.deviations for part in deviation.parts}
        for id, digits in unit.firmware_sha256.items():
            read = digits.casefold()
            if not _DIGITS.fullmatch(read):
                headline = f"`{digits}` in {unit.id} is no SHA-256: that has digits from 0 to f, 64 in all"
                yield Finding(unit.id, ("firmware_sha256", id), headline, "write all 64 digits, or the first 8 or more")
                continue
            part = context.register.get(id, Part)
            drawn = part.firmware_sha256.casefold() if part is not None and part.firmware_sha256 is not None else None
            if part is None or drawn is None or id in said:
                continue
            fitted = unit.parts.get(id)
            other = fitted is not None and part.version is not None and plain_words(fitted) != plain_words(part.version)
            if not other and not drawn.startswith(read) and not read.startswith(drawn):
                yield Finding(
                    unit.id,
                    ("firmware_sha256", id),
                    f"{unit.id} read back firmware {read[:8]} from {id} ({part.title}), and the drawings have {drawn[:8]}",
                    f"put the drawn firmware on it and read it back, or add a deviation that names {id}",
                )


@rule("error")
def part_beyond_life_limit(context: Context) -> Iterator[Finding]:
    """A part of a unit that is older than its drawing allows.

    Foam hardens, adhesive lets go and a store loses its charge, on the shelf too.

    Bad:

        parts:
          P01: {title: neck seal, life_limit: 12 months, no_hazard_because: example}
        units:
          U01:
            title: first unit
            built: 2018-02-01
            parts: {P01: C}
            fitted:
              P01: 2019-03-01   # <-

    Good:

        parts:
          P01: {title: neck seal, life_limit: 12 months, no_hazard_because: example}
        units:
          U01: {title: first unit, built: 2018-02-01, parts: {P01: C}, fitted: {P01: 2199-03-01}}
    """
    for unit in _in_use(context):
        for life in lives(unit, context.register):
            part = context.register.get(life.part, Part)
            if part is None or part.life_limit is None or life.due is None or life.due >= context.today:
                continue
            yield Finding(
                unit.id,
                ("fitted", life.part) if life.part in unit.fitted else ("parts", life.part),
                f"{life.part} ({part.title}) of {unit.id} is in since {life.since} and was to be replaced "
                f"after {part.life_limit.written}, by {life.due}",
                f"replace it and write the day under `fitted:` as `{life.part}:`",
                ((life.part, ("life_limit",), "its life limit"),),
            )


@rule("warning")
def age_of_part_unknown(context: Context) -> Iterator[Finding]:
    """A part with a life limit in a unit of which nobody wrote down when it was built or when the part was fitted.

    Nothing says that it is too old, and nothing says that it is not.

    Bad:

        parts:
          P01: {title: neck seal, life_limit: 12 months, no_hazard_because: example}
        units:
          U01:
            title: first unit
            parts:
              P01: C   # <-

    Good:

        parts:
          P01: {title: neck seal, life_limit: 12 months, no_hazard_because: example}
        units:
          U01: {title: first unit, parts: {P01: C}, built: 2199-03-01}
    """
    for unit in _in_use(context):
        for life in lives(unit, context.register):
            if life.since is None:
                title = context.register.title_of(life.part)
                yield Finding(
                    unit.id,
                    ("parts", life.part),
                    f"nobody knows how old {life.part} ({title}) of {unit.id} is, and it has a life limit",
                    f"write the day under `fitted:` as `{life.part}:`, or the unit's `built:`",
                    ((life.part, ("life_limit",), "its life limit"),),
                )


@rule("warning")
def deviation_not_tested_again(context: Context) -> Iterator[Finding]:
    """A deviation that was judged, and a test that the judgement asks to repeat is not done on this unit, or not passed.

    The judgement stands on a reading that nobody has taken yet.

    Bad:

        parts:
          P01: {title: outflow valve, no_hazard_because: example}
        tests:
          T36: {title: static levels, scope: every unit, limit: {at_most: 5.7 hPa}}
        units:
          U02:
            title: second unit
            deviations:
              - text: stiffer spring fitted   # <-
                parts: P01
                judged: {verdict: repeat the levels, by: biomedical engineer, on: 2026-11-02, repeat: T36}
        results:
          R01: {test: T36, on: 2026-10-30, unit: U02, readings: {level: [5.1 hPa ± 0.1 hPa]}}

    Good:

        parts:
          P01: {title: outflow valve, no_hazard_because: example}
        tests:
          T36: {title: static levels, scope: every unit, limit: {at_most: 5.7 hPa}}
        units:
          U02:
            title: second unit
            deviations:
              - text: stiffer spring fitted
                parts: P01
                judged: {verdict: repeat the levels, by: biomedical engineer, on: 2026-11-02, repeat: T36}
        results:
          R01: {test: T36, on: 2026-11-03, unit: U02, readings: {level: [5.1 hPa ± 0.1 hPa]}}
    """
    for unit in _in_use(context):
        for place, deviation in enumerate(unit.deviations):
            asked = repeats(unit, deviation, context.register, context.verdicts, context.freshness)
            waiting = [each for each in asked if each.open]
            if waiting:
                yield Finding(
                    unit.id,
                    ("deviations", place),
                    f"{unit.id} differs ({deviation.text}), and what its judgement rests on is open: "
                    f"{'; '.join(each.open for each in waiting)}",
                    f"do {' and '.join(each.test for each in waiting)} on {unit.id}",
                )
