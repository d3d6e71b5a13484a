"""What must hold for the whole house: floors, weight at start-up, size of files, what stands at the top."""

from __future__ import annotations

import ast
import importlib.util
import re
import subprocess
import sys
import tomllib
from importlib import metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "riskkit"
MODULES = sorted(PACKAGE.rglob("*.py"))
HEAVY = ("weasyprint", "jinja2", "numpy", "scipy", "rich", "networkx", "pikepdf", "pygraphviz", "fontTools")


def loaded_after(code: str) -> set[str]:
    probe = f"{code}\nimport sys; print(' '.join(sys.modules))"
    return set(subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True).stdout.split())


def test_nothing_imports_a_floor_above_it() -> None:
    lint = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run([str(lint), "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_nothing_inside_imports_the_public_names_of_the_package(path: Path) -> None:
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            assert "riskkit" not in {alias.name for alias in node.names}, f"line {node.lineno}: name the room"
        elif isinstance(node, ast.ImportFrom) and node.module == "riskkit":
            public = {alias.name for alias in node.names} & {"assess", "load", "render", "__version__", "*"}
            assert not public, f"line {node.lineno}: take {public} from its room"


def test_the_public_names_work_again_and_again_and_load_nothing_before_they_are_used() -> None:
    assert not loaded_after("import riskkit") & {*HEAVY, "pydantic", "riskkit.assess", "riskkit.text.reader"}
    loaded_after(
        "import datetime, riskkit\n"
        f"reading = riskkit.load({str(ROOT / 'catalogs' / 'examples' / 'small')!r})\n"
        "first = riskkit.assess(reading, today=datetime.date(2026, 11, 25))\n"
        "assert riskkit.assess(reading, today=datetime.date(2026, 11, 25)) == first\n"
        "assert len(first.report) and callable(riskkit.render) and riskkit.__version__"
    )


def test_the_command_line_starts_without_anything_heavy() -> None:
    loaded = loaded_after("import riskkit.cli.commands")
    assert not loaded & {*HEAVY, "pydantic", "pint", "ruamel.yaml"}


def test_a_check_needs_nothing_heavy_and_loads_pint_only_for_quantities(tmp_path: Path) -> None:
    run = "import os; os.environ['RISKKIT_OWN_PROCESS'] = '1'\nimport contextlib, io, riskkit.cli.checking as c, pathlib\nwith contextlib.redirect_stdout(io.StringIO()):\n    c.check_register(pathlib.Path({path!r}), 'text', None, '2026-11-25', wide=False, memory=False)"
    (tmp_path / "r.yaml").write_text("parts:\n  P01: {title: blower}\n")
    light = loaded_after(run.format(path=str(tmp_path)))
    assert not light & {*HEAVY, "pint", "ruamel.yaml"}
    demo = loaded_after(run.format(path=str(ROOT / "catalogs" / "examples" / "hood")))
    assert not demo & {*HEAVY, "ruamel.yaml"}
    assert "pint" not in demo, "everyday units are in a table"
    rare = loaded_after("from riskkit.units import read_quantity; read_quantity('3 inHg/ft')")
    assert "pint" in rare


def test_the_whole_of_ruamel_still_works_beside_its_c_part() -> None:
    """Reading borrows the compiled module of ruamel.yaml; whoever needs the library itself must still get it."""
    loaded_after(
        "from riskkit.text.syntax import parse_file\nassert parse_file('f', b'a: 1').data == {'a': 1}\n"
        "import ruamel.yaml\nassert ruamel.yaml.YAML(typ='safe').load('a: 1') == {'a': 1}\n"
        "assert parse_file('f', b'a: 2').data == {'a': 2}"
    )
    loaded_after(
        "import ruamel.yaml\nassert ruamel.yaml.YAML(typ='safe').load('a: 1') == {'a': 1}\n"
        "from riskkit.text.syntax import parse_file\nassert parse_file('f', b'a: [1, 2]').data == {'a': [1, 2]}"
    )


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_module_says_what_it_knows_and_stays_small(path: Path) -> None:
    text = path.read_text()
    tree = ast.parse(text)
    if text.strip():
        assert ast.get_docstring(tree), "a module says what it knows"
    code = len(text.splitlines()) - sum(_docstring_lines(node) for node in ast.walk(tree))
    assert code <= 450, f"{code} lines of code: make two files of it, each named after what it knows"


def _docstring_lines(node: ast.AST) -> int:
    if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef):
        first = node.body[0] if node.body else None
        if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant) and isinstance(first.value.value, str):
            return (first.end_lineno or first.lineno) - first.lineno + 1
    return 0


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_module_keeps_no_state_that_can_change(path: Path) -> None:
    for node in ast.parse(path.read_text()).body:
        if not isinstance(node, ast.Assign | ast.AnnAssign) or node.value is None:
            continue
        targets = node.targets if isinstance(node, ast.Assign) else [node.target]
        if any(isinstance(target, ast.Name) and target.id == "__all__" for target in targets):
            continue
        assert not _can_change(node.value), (
            f"line {node.lineno}: what stands at the top of a module is for all to change"
        )


def _can_change(value: ast.expr) -> bool:
    if isinstance(value, ast.Call):
        called = value.func.attr if isinstance(value.func, ast.Attribute) else getattr(value.func, "id", "")
        return called in {"list", "dict", "set", "bytearray", "defaultdict", "deque", "Counter", "OrderedDict"}
    return isinstance(value, ast.List | ast.Dict | ast.Set | ast.ListComp | ast.DictComp | ast.SetComp)


@pytest.mark.parametrize("code", ["[]", "{}", "{1}", "[n for n in ()]", "dict(a=1)", "collections.Counter()", "set()"])
def test_what_can_change_is_recognized(code: str) -> None:
    assert _can_change(ast.parse(code, mode="eval").body)


@pytest.mark.parametrize("code", ["()", "frozenset({1})", "MappingProxyType({})", "tuple([1])", "'text'", "Rule('a')"])
def test_what_cannot_change_is_let_through(code: str) -> None:
    assert not _can_change(ast.parse(code, mode="eval").body)


def test_the_top_of_the_checkout_holds_what_the_user_fixed_and_nothing_else() -> None:
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout.split(
        "\n"
    )
    if not tracked[0]:
        pytest.skip("not a git checkout")
    tops = {name.split("/")[0] for name in tracked if name}
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "riskkit", "catalogs", "tests", "templates", "docs"}
    assert {top for top in tops if not top.startswith(".")} <= allowed | {"LICENSE", "CHANGELOG.md", "Makefile"}


def pins() -> dict[str, str]:
    lines = (ROOT / ".ci" / "constraints.txt").read_text().splitlines()
    return {_plain(name): version for name, _, version in (line.partition("==") for line in lines if line.strip())}


def test_every_dependency_direct_or_not_is_pinned() -> None:
    told = tomllib.loads((ROOT / "pyproject.toml").read_text())
    project = told["project"]
    first = [*project["dependencies"], *project["optional-dependencies"]["dev"], *told["build-system"]["requires"]]
    waiting, followed = [Requirement(text) for text in first], set[str]()
    assert len(waiting) > 20
    while waiting:
        wanted = waiting.pop()
        if str(wanted) in followed:
            continue
        followed.add(str(wanted))
        assert _plain(wanted.name) in pins(), f"add {wanted.name} to .ci/constraints.txt"
        for need in map(Requirement, metadata.requires(wanted.name) or ()):
            if need.marker is None or any(need.marker.evaluate({"extra": extra}) for extra in ("", *wanted.extras)):
                waiting.append(need)


def test_what_is_installed_is_what_is_pinned() -> None:
    installed = {_plain(found.name): found.version for found in metadata.distributions()}
    differing = {name: installed[name] for name, version in pins().items() if installed.get(name, version) != version}
    assert not differing, "not as in .ci/constraints.txt; run `make set-up`"


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def test_the_version_stands_in_one_place() -> None:
    spec = importlib.util.spec_from_file_location("version", PACKAGE / "version.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    import riskkit

    assert riskkit.__version__ == module.__version__
    assert 'path = "riskkit/version.py"' in (ROOT / "pyproject.toml").read_text()
