"""One edit of a file of 10,000 lines against reading that file: ratios in one run."""

from __future__ import annotations

import gc
import os
import statistics
import tempfile
import time
from collections.abc import Callable
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path

from large_register import write_register

RUNS = 9


def median(work: Callable[[], object], runs: int = RUNS) -> float:
    """Median wall seconds."""
    times = []
    for _ in range(runs):
        gc.collect()
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def one_file(folder: Path) -> Path:
    """A register of one file with about 10,000 lines, made of the large one."""
    write_register(folder / "many", 400, per_file=1_000)
    register = folder / "one"
    register.mkdir()
    lines: list[str] = []
    for path in sorted((folder / "many").glob("*.yaml")):
        lines += path.read_text().splitlines()[: 10_000 - len(lines)]
    (register / "register.yaml").write_text("\n".join(lines) + "\n")
    return register


def main() -> None:
    os.environ["RISKKIT_OWN_PROCESS"] = "1"
    from riskkit.cli.adding_record import add
    from riskkit.cli.editing import set_value
    from riskkit.text.editing import set_field
    from riskkit.text.reader import read
    from riskkit.text.snapshot import read_folder
    from riskkit.text.syntax import parse_file

    with tempfile.TemporaryDirectory() as place:
        folder = one_file(Path(place))
        reading = read(*read_folder(folder))
        content = reading.snapshot.files["register.yaml"]
        hazard = reading.register.hazards[len(reading.register.hazards) // 2].id
        path = reading.places.homes[hazard].path
        quiet = StringIO()

        def edited() -> None:
            document = parse_file("register.yaml", content)
            set_field(document, content, path, ("notes",), "seen again")

        count = iter(range(1_000_000))

        def written() -> None:
            with redirect_stdout(quiet):
                set_value(hazard, "notes", f"seen again {next(count)}", folder, clear=False, dry_run=False)

        def added() -> None:
            with redirect_stdout(quiet):
                add("hazard", f"another {next(count)}", folder, (), None, None, None, None, dry_run=False)

        parsed = median(lambda: parse_file("register.yaml", content))
        whole = median(lambda: read(*read_folder(folder)))
        edit = median(edited)
        command = median(written)
        more = median(added)
        lines = content.count(b"\n")
        print(f"{lines} lines; parsing them {parsed * 1000:.0f} ms, reading them as a register {whole * 1000:.0f} ms")
        print(f"  parsed and edited / parsed               = {edit / parsed:.2f}   (budget 1.5)")
        print(f"  `set`, read, proven and on the disk / read = {command / whole:.2f}   (budget 1.5)")
        print(f"  `add`, the same / read                     = {more / whole:.2f}")


if __name__ == "__main__":
    main()
