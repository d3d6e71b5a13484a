"""Completion at the speed of a key press: values that are only being completed are not converted.

While a command line is completed, typer converts every option of the command as if it were to run, and
loads pydantic for it: three times the time of everything else. Nothing that is typed so far is used as a
value, so it is passed through as it is.
"""

from __future__ import annotations

from typing import Any


class _AsTyped:
    """Stands in for typer's conversion of a value."""

    def coerce(self, value: Any, **_: Any) -> Any:
        """The value itself."""
        return value


def convert_nothing() -> None:
    """Let typer pass values through; where another release of it has no such place, completion is merely slower."""
    import typer.core

    if hasattr(typer.core, "build_runtime_param"):
        typer.core.build_runtime_param = lambda descriptor: _AsTyped()
