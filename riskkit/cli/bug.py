"""The third voice: something went wrong in riskkit itself, and here is the file to send."""

from __future__ import annotations

import platform
import tempfile
import traceback
from collections.abc import Sequence

from riskkit.version import __version__


def report_bug(error: Exception, arguments: Sequence[str]) -> str:
    """Write a log that can be sent and return the sentence that names it."""
    trace = "".join(traceback.format_exception(error))
    text = (
        f"riskkit {__version__}, Python {platform.python_version()}, {platform.platform()}\n"
        f"asked: {' '.join(arguments[1:])}\n\n{trace}"
    )
    try:
        with tempfile.NamedTemporaryFile(
            "w", prefix="riskkit-bug-", suffix=".txt", delete=False, encoding="utf-8"
        ) as log:
            log.write(text)
        where = f"please send {log.name} with the smallest register that shows it"
    except OSError:
        where = f"please send these lines:\n{text}"
    return f"riskkit: this is a bug in riskkit, not in your files ({type(error).__name__})\n  {where}\n"
