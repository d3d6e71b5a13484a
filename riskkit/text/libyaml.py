"""The C event parser of ruamel.yaml, without the 25 ms that its Python part takes to import.

The compiled module wants a handful of classes (marks, tokens, events, nodes, errors) from the Python
package, whose `__init__` imports a whole library of loaders and dumpers that reading needs nothing of.
So the package is replaced by an empty shell while the compiled module is imported, and everything
that was put in its place is taken away again: a later `import ruamel.yaml` gets the real thing.
Measured on one machine: 33 ms with the package, 8 ms this way, of 110 ms for a whole small check; and
events made of `lean_events` instead of the package's own classes cost half as much.
"""

from __future__ import annotations

import importlib
import os
import sys
from functools import cache
from types import ModuleType
from typing import Any

from riskkit.text import lean_events

_PACKAGE = "ruamel.yaml"

OWN_PROCESS = "RISKKIT_OWN_PROCESS"
"""Set in the environment by riskkit's own program. Elsewhere the package is imported as it is: a host program may
need it, and the compiled module can be bound to one set of classes only."""

_ERRORS = (
    ("reader", "ReaderError"),
    ("scanner", "ScannerError"),
    ("parser", "ParserError"),
    ("composer", "ComposerError"),
    ("constructor", "ConstructorError"),
    ("emitter", "EmitterError"),
    ("serializer", "SerializerError"),
    ("representer", "RepresenterError"),
)
"""Modules of which only one error class is wanted."""


@cache
def libyaml() -> tuple[Any, Any]:
    """The compiled class `CParser` and the module with the classes of its events.

    `CParser(bytes).get_event()` gives one event after the other, then None.
    """
    if _PACKAGE in sys.modules or OWN_PROCESS not in os.environ:
        importlib.import_module(_PACKAGE)
        return importlib.import_module("_ruamel_yaml").CParser, importlib.import_module(f"{_PACKAGE}.events")
    namespace = importlib.import_module("ruamel")
    before = set(sys.modules)
    shell = ModuleType(_PACKAGE)
    shell.__path__ = [f"{folder}/yaml" for folder in namespace.__path__]
    sys.modules[_PACKAGE] = shell
    try:
        error = importlib.import_module(f"{_PACKAGE}.error")
        sys.modules[f"{_PACKAGE}.events"] = lean_events
        for name, class_name in _ERRORS:
            module = ModuleType(f"{_PACKAGE}.{name}")
            setattr(module, class_name, type(class_name, (error.MarkedYAMLError,), {"__init__": _keep_arguments}))
            sys.modules[module.__name__] = module
        return importlib.import_module("_ruamel_yaml").CParser, lean_events
    finally:
        for name in set(sys.modules) - before:
            if name == _PACKAGE or name.startswith(f"{_PACKAGE}."):
                del sys.modules[name]
        if hasattr(namespace, "yaml"):
            del namespace.yaml


def _keep_arguments(error: Any, *arguments: object) -> None:
    """Errors come as (context, its mark, problem, its mark) from the parser, otherwise from the byte reader."""
    if len(arguments) == 4:
        error.context, error.context_mark, error.problem, error.problem_mark = arguments
    else:
        error.context = error.context_mark = error.problem_mark = None
        error.problem = str(arguments[-1]) if arguments else ""
