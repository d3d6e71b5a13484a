"""The last look at HTML before it is printed: no page claims what a bench register cannot claim, whoever wrote it."""

from __future__ import annotations

import html
import re

from riskkit.checks.wording import Claim, unprintable, worth_a_closer_look
from riskkit.diagnostics import RiskkitError
from riskkit.dossier.cautions import SENTENCES

_CODE = re.compile(r"<(code|style|title|svg)\b[^<]*(?:<(?!/\1>)[^<]*)*</\1>")
_TAG = re.compile(r"<[^>]*>")
_REMOVED = re.compile(r"\[claim removed: [^\]]*\]")
_QUOTED = re.compile(r"`[^`]*`")


def claims_in(text: str) -> tuple[Claim, ...]:
    """Everything in a text that claims, permits or suggests what no paper of ours may."""
    return unprintable(text)


def refuse_claims_in(page: str, place: str) -> None:
    """Refuse HTML in which a claim is left.

    Texts of the register have lost their claims on the way here; what is caught now is an id or a
    sentence of our own. File names, quotations and the fixed cautions are passed over.

    Args:
        page: The HTML.
        place: Where it would be printed, such as `section 7`.

    Raises:
        RiskkitError: naming the words and the place.
    """
    for text in _TAG.sub("\n\n", _CODE.sub("\n\n", page)).split("\n\n"):
        plain = html.unescape(text)
        if not worth_a_closer_look(plain):
            continue
        said = _QUOTED.sub("", _REMOVED.sub("", plain)).strip()
        for claim in claims_in(said) if said not in SENTENCES else ():
            raise RiskkitError(
                f"{place} would print `{claim.phrase}`, which nothing here can show",
                f"change the id or the name that says so; {claim.offer}",
            )
