"""The commands and their options, in the order of a working day. The work is done in the files beside this folder."""

from riskkit.cli.application import app

from riskkit.cli.commands import keeping, editing, prompting, finding, bench, weighing, readiness, printing, exchanging  # isort: skip

__all__ = [
    "app",
    "bench",
    "editing",
    "exchanging",
    "finding",
    "keeping",
    "printing",
    "prompting",
    "readiness",
    "weighing",
]
