"""riskkit: hazards, controls, tests and results of a bench device, kept as YAML, checked and printed.

    import datetime, riskkit
    assessment = riskkit.assess(riskkit.load("register"), today=datetime.date.today())
    for finding in assessment.report:
        print(finding.place, finding.headline)

Nothing inside the package imports these names; they are looked up when first used.
"""

from __future__ import annotations

import sys
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pathlib import Path

    from riskkit.assess import assess
    from riskkit.dossier.render import render
    from riskkit.text.reader import Reading
    from riskkit.version import __version__

__all__ = ["__version__", "assess", "load", "render"]


def load(folder: str | Path) -> Reading:
    """Read a register's folder, and look at the files that its results name as evidence.

    Raises:
        riskkit.diagnostics.RiskkitError: where there is no such folder or no YAML file in it.
    """
    from pathlib import Path

    from riskkit.text.reader import read, with_evidence
    from riskkit.text.snapshot import read_folder

    return with_evidence(read(*read_folder(Path(folder))), Path(folder))


def __getattr__(name: str) -> Any:
    match name:
        case "render":
            from riskkit.dossier.render import render

            return render
        case "__version__":
            from riskkit.version import __version__

            return __version__
        case _:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


class _Package(ModuleType):
    """The package itself, in which `assess` stays the function.

    Importing the file `assess.py` sets the package's attribute of that name to the module, by the rules of Python,
    and a second `riskkit.assess(...)` would call a module.
    """

    @property
    def assess(self) -> Any:
        from riskkit.assess import assess

        return assess

    @assess.setter
    def assess(self, module: ModuleType) -> None:
        pass


sys.modules[__name__].__class__ = _Package
