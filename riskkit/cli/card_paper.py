"""`cards` and `pack`: paper for the bench."""

from __future__ import annotations

import sys
from pathlib import Path

from riskkit.cli.opening import day, one_of, print_text, warn_if_broken, write_whole
from riskkit.cli.output import counted
from riskkit.cli.paper import file_name, print_progress

PAGES = ("a4", "letter")


def print_bench_cards(
    folder: Path,
    asked: tuple[tuple[str, ...], tuple[str, ...], str, bool],
    page: str,
    output: Path | None,
    today: str | None,
    *,
    large: bool,
    left_handed: bool,
) -> None:
    """Print cards, then the path, how many they are and on how many sheets.

    Args:
        folder: Where the register stands.
        asked: Ids, kinds, unit, and whether limits are left out.
        page: `a4` or `letter`.
        output: File or folder to write to; None for a file named after the device.
        today: The day for due dates.
        large: Two cards to a sheet.
        left_handed: Boxes at the left edge.
    """
    from riskkit.dossier.cards.choosing import KINDS, Choice, Wanted
    from riskkit.dossier.cards.formats import Format
    from riskkit.dossier.cards.printing import foot_of, print_cards
    from riskkit.dossier.refusing import claims_in
    from riskkit.dossier.view.telling import Teller
    from riskkit.judgement.calculations import with_own_answers
    from riskkit.text.reader import read
    from riskkit.text.revisions import name_of_revision
    from riskkit.text.snapshot import read_folder

    one_of("--page", page, PAGES)
    wanted = Wanted(*asked)
    for kind in wanted.kinds:
        one_of("--kind", kind, KINDS)
    on = day(today)
    reading = read(*read_folder(folder))
    warn_if_broken(reading.report)
    # A calculated limit is printed as `record` will ask for it, and so is the code of the card.
    register = with_own_answers(reading.register)
    build = name_of_revision(folder) or reading.snapshot.fingerprint()[:12]
    tell = Teller(claims_in)
    drafts = Choice(register, wanted, on, foot_of(register, build, on, tell), tell).drafts()
    name = register.device.name if register.device is not None else "register"
    paper, cards = print_cards(
        drafts, Format(page, large=large, left_handed=left_handed), tell(name, "device"), on_progress=print_progress()
    )
    chosen = f"card-{wanted.ids[0].lower()}" if len(wanted.ids) == 1 and not wanted.kinds else "cards"
    path = _place(output, file_name(name, chosen))
    write_whole(path, paper.pdf)
    for removed in tell.removed:
        sys.stderr.write(f"riskkit: {removed.where}: `{removed.phrase}` is not printed; {removed.offer}\n")
    print_text(f"{path}: {counted(cards, 'card')} on {counted(paper.pages, 'sheet')}\n")


def _place(output: Path | None, name: str) -> Path:
    """Where the paper goes: the file that was named, a file in the folder that was named, or one here."""
    if output is None:
        return Path(name)
    return output / name if output.is_dir() else output


def print_build_pack(folder: Path, page: str, output: Path | None, policy: str | None, today: str | None) -> None:
    """Print the build pack, then its path, its pages and the number of open gaps."""
    from riskkit.cli.opening import open_register
    from riskkit.dossier.pack.printing import print_pack
    from riskkit.text.revisions import name_of_revision

    one_of("--page", page, PAGES)
    assessment = open_register(folder, day(today).isoformat(), policy, name_of_revision(folder))
    warn_if_broken(assessment.report)
    device = assessment.register.device
    paper = print_pack(assessment, page=page, on_progress=print_progress())
    path = _place(output, file_name(device.name if device is not None else "register", "build-pack"))
    write_whole(path, paper.pdf)
    print_text(f"{path}: {counted(paper.pages, 'page')}, {len(assessment.report.open)} open\n")
