"""The command line: the only room that prints and exits.

Exit status: 0 nothing open, 1 gaps, 2 broken register or impossible request, 3 our bug, 130 interrupted.
"""

from __future__ import annotations

import gc
import os
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from typer import Typer


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
        _keep_options_of(_asked_for(), app)
        app(prog_name="riskkit")
    except BrokenPipeError:
        _leave_a_closed_pipe()
    except KeyboardInterrupt:
        sys.exit(130)
    except Exception as error:
        sys.exit(_told(error))


def _asked_for() -> str:
    """The command that is run or being completed; empty where there is none yet."""
    words = (
        os.environ["COMP_WORDS"].split()
        if "_RISKKIT_COMPLETE" in os.environ and "COMP_WORDS" in os.environ
        else sys.argv
    )
    return next((word for word in words[1:] if not word.startswith("-")), "")


def _keep_options_of(name: str, app: Typer) -> None:
    """Take the options off all other commands: only names and first sentences of those are ever shown.

    typer works out every option of every command at each start, which takes longer than running a small one.
    """
    for command in app.registered_commands:
        callback = command.callback
        if callback is not None and (command.name or callback.__name__) != name:
            bare = lambda: None  # noqa: E731 - a name of its own would be wrong for all but one
            bare.__doc__, bare.__name__ = callback.__doc__, callback.__name__
            command.callback = bare


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
