"""Start-up and small checks against `python -c pass`: ratios in one run."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from large_register import write_register

HOOD = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "hood"
RISKKIT = [str(Path(sys.executable).with_name("riskkit"))]
RUNS = 11


def median(command: list[str], **environment: str) -> float:
    """Median wall seconds of a whole process."""
    times = []
    for _ in range(RUNS):
        start = time.perf_counter()
        subprocess.run(
            command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False, env=os.environ | environment
        )
        times.append(time.perf_counter() - start)
    return statistics.median(times)


FLOOR = """
import gc; gc.disable()
import typer
app = typer.Typer(rich_markup_mode=None, pretty_exceptions_enable=False)
@app.command()
def check(folder: str = ".", format: str = "text"):
    from pydantic import BaseModel
    class Record(BaseModel):
        title: str
    Record.model_validate({"title": "x"})
app()
"""


def main() -> None:
    with tempfile.TemporaryDirectory() as place:
        register = Path(place) / "register"
        write_register(register, 100)
        cache = {"XDG_CACHE_HOME": f"{place}/cache"}
        bare = median([sys.executable, "-c", "pass"])
        complete = {"_RISKKIT_COMPLETE": "complete_bash", "COMP_WORDS": "riskkit ch", "COMP_CWORD": "1"}
        check = [*RISKKIT, "check"]
        rows = [
            ("an empty typer command with one pydantic record", median([sys.executable, "-c", FLOOR]), None),
            ("--help", median([*RISKKIT, "--help"]), 6),
            ("completion", median(RISKKIT, **complete), 6),
            ("check of 100 records, cold", median([*check, str(register), "--no-memory"], **cache), 14),
            ("check of 100 records, again", median([*check, str(register)], **cache), None),
            ("check of the demo, cold", median([*check, str(HOOD), "--no-memory"], **cache), 40),
            ("check of the demo, again", median([*check, str(HOOD)], **cache), None),
        ]
        print(f"python -c pass: {bare * 1000:.1f} ms")
        for what, seconds, budget in rows:
            told = f"   (budget {budget})" if budget else ""
            print(f"  {what:48} = {seconds / bare:.1f} x{told}")


if __name__ == "__main__":
    main()
