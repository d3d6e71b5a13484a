"""Rules about signatures that were given for something else than stands there now."""

from __future__ import annotations

from collections.abc import Iterator

from riskkit.checks import Context, Finding, rule


@rule("error")
def sign_off_void(context: Context) -> Iterator[Finding]:
    """A signature whose fingerprint says that something else was signed.

    Somebody confirmed, read, judged or answered one text, and another stands there now. The signature counts as not
    given until it is given again.

    Bad:

        assumptions:
          A01:
            text: carbon dioxide harms from 4 %
            owner: emergency physician
            confirmed: 2026-11-01
            fingerprint: 0123456789ab   # <-

    Good:

        assumptions:
          A01:
            text: carbon dioxide harms from 3 %
            owner: emergency physician
            confirmed: 2026-11-01
    """
    for each in context.void:
        if each.now:
            yield Finding(
                each.record,
                each.path,
                f"{each.what} was given for something else ({each.stored}); it is another now ({each.now})",
                f"have it signed again and write `{each.now}`, or put back what was signed",
            )
        else:
            yield Finding(
                each.record,
                each.path,
                f"{each.what} answers what is asked no more",
                "take the answer out, and answer what the gate asks now",
            )
