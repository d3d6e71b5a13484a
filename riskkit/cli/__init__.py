"""The command line: the only room that prints and exits.

Exit status: 0 nothing open, 1 gaps, 2 broken register or impossible request, 3 our bug, 130 interrupted.
"""

from __future__ import annotations

import gc
import os
import sys


def main() -> None:
    """Run riskkit in one of three voices: an answer, "this cannot be done", "this is our bug"."""
    # A short process makes no garbage worth looking for; looking costs a fifth of a check.
    gc.disable()
    # pydantic otherwise looks through all installed packages for plug-ins at every start.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    # Nobody else lives in this process: YAML may be read without the Python part of its library (text/libyaml.py).
    os.environ["RISKKIT_OWN_PROCESS"] = "1"
    try:
        from riskkit.cli.commands import app

        if "_RISKKIT_COMPLETE" in os.environ:
            from riskkit.cli.completing import convert_nothing

            convert_nothing()
        app(prog_name="riskkit")
    except BrokenPipeError:
        _leave_a_closed_pipe()
    except KeyboardInterrupt:
        sys.exit(130)
    except Exception as error:
        sys.exit(_told(error))


def _told(error: Exception) -> int:
    """Say what went wrong in the second or the third voice; the exit status."""
    from riskkit.diagnostics import RiskkitError

    if isinstance(error, RiskkitError):
        sys.stderr.write(f"riskkit: {error.headline}\n" + (f"  {error.help}\n" if error.help else ""))
        return 2
    from riskkit.cli.bug import report_bug

    sys.stderr.write(report_bug(error, sys.argv))
    return 3


def _leave_a_closed_pipe() -> None:
    """The reader has gone (`riskkit check | head`): that is no error, and nothing more can be written."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    sys.exit(1)
