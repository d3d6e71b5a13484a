"""Rules about results that leaned on something which has changed since."""

from __future__ import annotations

from collections.abc import Iterator

from riskkit.checks import Context, Finding, rule
from riskkit.model.verification import Result


@rule("warning")
def result_is_stale(context: Context) -> Iterator[Finding]:
    """A result that was taken on what is not there any more: another version, criterion, instrument or calculation.

    It was true of the device as it was. Until the test is done again, or someone answers for its holding all the same,
    it carries no claim.

    Bad:

        tests:
          T01: {title: alarm sounds, limit: {shows: it sounds}, configuration: [P05]}
        parts:
          P05: {title: controller, version: firmware 0.9.4}
        results:
          R01:
            test: T01
            on: 2026-08-30
            configuration: {P05: firmware 0.9.2}   # <-
            inspection: as it should be

    Good:

        tests:
          T01: {title: alarm sounds, limit: {shows: it sounds}, configuration: [P05]}
        parts:
          P05: {title: controller, version: firmware 0.9.4}
        results:
          R01:
            test: T01
            on: 2026-10-02
            configuration: {P05: firmware 0.9.4}
            inspection: as it should be
    """
    for found in context.freshness.values():
        result = context.register.get(found.result, Result)
        if result is None or not found.is_stale:
            continue
        part = next((each.record for each in found.lapses if each.record in result.configuration), None)
        remembered = next((each.record for each in found.lapses if each.record in result.remembers), None)
        path: tuple[str, ...] = ("test",)
        if part is not None:
            path = ("configuration", part)
        elif remembered is not None:
            path = ("remembers", remembered)
        elif found.lapses[0].record in result.instruments:
            path = ("instruments",)
        ended = f" (what {found.expired.by} judged ended on {found.expired.until})" if found.expired is not None else ""
        if found.outgrown is not None:
            ended = f" (what {found.outgrown.by} judged on {found.outgrown.on} was about other changes)"
        yield Finding(
            result.id,
            path,
            f"{result.id} is stale: {found.because}{ended}",
            f"do {result.test} again; or add `still_valid:` with because, by, on and until, if it holds all the same",
            tuple((each.record, (), "what changed") for each in found.lapses if each.record != "policy"),
        )
