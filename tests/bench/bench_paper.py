"""A long paper, joined from parts, against one single layout of the same content: time and memory as ratios."""

from __future__ import annotations

import argparse
import json
import random
import subprocess
import sys
from pathlib import Path

WORDS = [
    "outlet",
    "flap",
    "sensor",
    "hose",
    "seal",
    "blower",
    "relief",
    "filter",
    "sounder",
    "pack",
    "level",
    "flow",
    "stop",
    "limit",
    "reading",
    "margin",
    "run",
    "unit",
]
SHEET = """
@page { size: A4; margin: 22mm 16mm; @top-left { content: string(chapter); font-size: 8pt }
        @bottom-right { content: "page " counter(page) " of " counter(pages); font-size: 8pt } }
html { font: 9pt/1.35 "DejaVu Sans", sans-serif } h1 { font-size: 16pt; string-set: chapter content(); bookmark-level: 1 }
table { border-collapse: collapse; width: 100%; table-layout: fixed; margin: 3mm 0 }
td, th { border: .3pt solid #888; padding: .6mm 1mm; font-size: 7pt; vertical-align: top; overflow-wrap: anywhere }
tr { break-inside: avoid } tbody tr:nth-child(even) { background: #f4f4f6 } figure svg { width: 100% }
"""
ROWS_A_PAGE = 17


def chapters(pages: int, numbered: bool) -> list[str]:
    """Bodies of chapters of ten pages each; with `numbered`, each row names the page of another chapter."""
    chance = random.Random(1)
    count = max(2, pages // 10)

    def sentence(words: int) -> str:
        return " ".join(chance.choice(WORDS) for _ in range(words))

    made = []
    for chapter in range(count):
        boxes = "".join(
            f'<rect x="{20 + i % 5 * 150}" y="{20 + i // 5 * 80}" width="110" height="40" fill="#eee" stroke="#333"/>'
            for i in range(14)
        )
        rows = []
        for row in range(ROWS_A_PAGE * 10 - 8):
            to = chance.randrange(count)
            cells = "".join(f"<td>{sentence(chance.randint(3, 11))}</td>" for _ in range(6))
            page = f'<a class="page-of" href="#c{to}"></a>' if numbered else ""
            rows.append(
                f'<tr id="r{chapter}-{row}"><td>{row}</td>{cells}<td><a href="#c{to}">c{to}</a> {page}</td></tr>'
            )
        tables = "".join(
            f"<table><thead><tr>{''.join(f'<th scope=col>{word}</th>' for word in WORDS[:8])}</tr></thead>"
            f"<tbody>{''.join(rows[at : at + 40])}</tbody></table>"
            for at in range(0, len(rows), 40)
        )
        made.append(
            f'<h1 id="c{chapter}">Chapter {chapter} {sentence(2)}</h1><figure><svg viewBox="0 0 780 280">{boxes}</svg></figure>{tables}'
        )
    return made


def single(pages: int, numbered: bool) -> None:
    """One layout of everything, as WeasyPrint alone does it."""
    from weasyprint import HTML

    body = "<div style='break-after: page'></div>".join(chapters(pages, numbered))
    cross = "a.page-of::after { content: target-counter(attr(href), page) }"
    HTML(string=f"<html lang=en><title>x</title><style>{SHEET}{cross}</style><body>{body}</body></html>").write_pdf(
        "/dev/null", pdf_variant="pdf/ua-1"
    )


def joined(pages: int, numbered: bool) -> None:
    """The same content in parts."""
    from riskkit.dossier.paper import Head, Part, print_paper

    print_paper(Head((SHEET,), "x"), [Part(body) for body in chapters(pages, numbered)])


def measured(way: str, pages: int, numbered: bool) -> dict[str, float]:
    """Wall seconds and peak memory of the largest process, in a process of its own."""
    code = (
        f"import sys, json, time, resource; sys.path.insert(0, {str(Path(__file__).parent)!r}); import bench_paper\n"
        f"t = time.perf_counter(); bench_paper.{way}({pages}, {numbered})\n"
        "peak = max(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))\n"
        "print(json.dumps({'seconds': time.perf_counter() - t, 'peak': peak / 1024}))"
    )
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    return json.loads(done.stdout.splitlines()[-1])


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--pages", type=int, default=60)
    parser.add_argument("--plain", action="store_true", help="without a page reference in every row")
    asked = parser.parse_args()
    numbered = not asked.plain
    parts, fifth = measured("joined", asked.pages, numbered), measured("joined", max(20, asked.pages // 5), numbered)
    whole = measured("single", asked.pages, numbered)
    grown = parts["seconds"] / fifth["seconds"]
    print(
        f"paper of about {asked.pages} pages, {'a page reference in every row' if numbered else 'no page references'}"
    )
    print(
        f"  joined {parts['seconds']:.1f} s, {parts['peak']:.0f} MiB; single {whole['seconds']:.1f} s, {whole['peak']:.0f} MiB"
    )
    print(f"  time   joined / single = {parts['seconds'] / whole['seconds']:.2f}")
    print(f"  memory joined / single = {parts['peak'] / whole['peak']:.2f}")
    print(f"  time of all pages / time of a fifth of them = {grown:.2f}")


if __name__ == "__main__":
    main()
