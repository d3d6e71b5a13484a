"""The command line: the only room that prints and exits.

Exit status: 0 nothing open, 1 gaps, 2 broken register or impossible request, 3 our bug, 130 interrupted.
"""

from __future__ import annotations

import sys


def main() -> None:
    """Run riskkit in one of three voices: an answer, "this cannot be done", "this is our bug"."""
    from riskkit.diagnostics import RiskkitError

    try:
        from riskkit.cli.commands import app

        app(prog_name="riskkit")
    except RiskkitError as error:
        sys.stderr.write(f"riskkit: {error.headline}\n")
        if error.help:
            sys.stderr.write(f"  {error.help}\n")
        sys.exit(2)
    except BrokenPipeError:
        _leave_a_closed_pipe()
    except KeyboardInterrupt:
        sys.exit(130)
    except Exception as error:
        from riskkit.cli.bug import report_bug

        sys.stderr.write(report_bug(error, sys.argv))
        sys.exit(3)


def _leave_a_closed_pipe() -> None:
    """The reader has gone (`riskkit check | head`): that is no error, and nothing more can be written."""
    import os

    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    sys.exit(1)
