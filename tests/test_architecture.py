"""The rules of the code itself: imports go one way, modules and functions stay small, docstrings agree with signatures."""

from __future__ import annotations

import ast
import builtins
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
ROOMS = {
    "materials": {"materials"},
    "geometry": {"geometry"},
    "fem": {"fem", "geometry", "materials"},
    "cases": {"cases", "fem", "geometry", "materials"},
}
LIBRARIES = {
    "materials": {"numpy", "scipy", "pint"},
    "geometry": {"numpy", "skfem"},
    "fem": {"numpy", "scipy", "skfem", "threadpoolctl"},
}
HEAVY = {"matplotlib", "meshio"}  # imported inside functions, so that commands start fast
WAY = (
    ("inputs", "statistics"),
    ("studies",),
    ("outputs",),
    ("explore",),
    ("commands", "front"),
)  # of the data through cases
# A unit as people write it, in a text: not within a word, nor after an apostrophe
UNIT = re.compile(r"(?<![\w'.])(degC|deg|degrees|mm|mm3|um|MPa|Pa|kJ|W|K|N|J|kg|s|m|m2|m3)(?![\w'])|%")
# Names of classes that still mean two things; to become fewer.
NAMED_TWICE = {
    "Bar",
    "Block",
    "Found",
    "Given",
    "Kind",
    "Overrides",
    "Point",
    "Sampled",
    "Section",
    "SetOption",
    "Source",
}
MODULE_LINES, FUNCTION_LINES = 300, 40
# What may be longer, with the reason; the number is a lid, not an allowance to grow.
LONGER_MODULES: dict[str, tuple[int, str]] = {}
LONGER_FUNCTIONS: dict[str, tuple[int, str]] = {}
# Words in backticks that are neither parameters nor names: symbols of a text
PLAIN_WORDS = {"docs", "name", "meltzone"}

Function = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(frozen=True)
class Module:
    """One source file of the package."""

    path: Path

    @property
    def name(self) -> str:
        """Dotted name below meltzone."""
        return ".".join(self.path.relative_to(ROOT).with_suffix("").parts)

    @property
    def room(self) -> str:
        """The subpackage."""
        return self.path.relative_to(ROOT).parts[0]

    @cached_property
    def text(self) -> str:
        """Its source."""
        return self.path.read_text(encoding="utf-8")

    @cached_property
    def tree(self) -> ast.Module:
        """Its syntax tree."""
        return ast.parse(self.text)

    def imports(self, everywhere: bool = True) -> set[str]:
        """Dotted names of the modules imported, those for type checking left out; only at the top unless `everywhere`."""
        nodes = _walk_at_run_time(self.tree) if everywhere else _walk_at_import(self.tree)
        found = set()
        for node in nodes:
            if isinstance(node, ast.Import):
                found |= {alias.name for alias in node.names}
            if isinstance(node, ast.ImportFrom):
                assert node.level == 0, f"{self.name} imports by relative name"
                found |= {
                    f"{node.module}.{alias.name}" if _is_package(node.module) else str(node.module)
                    for alias in node.names
                }
        return found

    def functions(self) -> Iterator[tuple[str, Function, ast.ClassDef | None]]:
        """Functions and methods with their dotted name and class."""
        for node in self.tree.body:
            if isinstance(node, Function):
                yield node.name, node, None
            if isinstance(node, ast.ClassDef):
                for inner in node.body:
                    if isinstance(inner, Function):
                        yield f"{node.name}.{inner.name}", inner, node


def _is_package(name: str | None) -> bool:
    return name is not None and name.startswith("meltzone") and (ROOT / Path(*name.split(".")[1:])).is_dir()


def _is_for_types(node: ast.AST) -> bool:
    return isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"


def _walk_at_run_time(node: ast.AST) -> Iterator[ast.AST]:
    for child in ast.iter_child_nodes(node):
        if not _is_for_types(child):
            yield child
            yield from _walk_at_run_time(child)


def _walk_at_import(node: ast.AST) -> Iterator[ast.AST]:
    for child in ast.iter_child_nodes(node):
        if not _is_for_types(child) and not isinstance(child, Function | ast.Lambda):
            yield child
            yield from _walk_at_import(child)


MODULES = [Module(path) for room in ROOMS for path in sorted((ROOT / room).rglob("*.py")) if path.stat().st_size]
NAMES = {module.name for module in MODULES}
DEFINED = {name.split(".")[0] for module in MODULES for name, _, _ in module.functions()}
EACH = pytest.mark.parametrize("module", MODULES, ids=lambda module: module.name)


def _ours(names: set[str]) -> set[str]:
    return {name.removeprefix("meltzone.") for name in names if name.startswith("meltzone")}


def test_all_modules_are_read() -> None:
    assert len(MODULES) > 50
    assert {module.room for module in MODULES} == set(ROOMS)


@EACH
def test_imports_go_one_way(module: Module) -> None:
    rooms = {name.split(".")[0] for name in _ours(module.imports())}
    assert rooms <= ROOMS[module.room], f"{module.name} imports from {rooms - ROOMS[module.room]}"


@EACH
def test_within_cases_imports_follow_the_way_of_the_data(module: Module) -> None:
    """From the file to the numbers, from the numbers to what shows them, from there to the command line."""
    if module.room != "cases":
        return
    place = {name: number for number, step in enumerate(WAY) for name in step}
    own = place.get(module.name.split(".")[1])
    for name in _every_import(module):
        step = place.get(name.split(".")[1]) if name.startswith("cases.") else None
        assert own is None or step is None or step <= own, f"{module.name} imports {name}"


@EACH
def test_types_too_come_from_where_imports_may(module: Module) -> None:
    named = {str(node.module) for node in ast.walk(module.tree) if isinstance(node, ast.ImportFrom)}
    assert {name.split(".")[0] for name in _ours(named)} <= ROOMS[module.room]


@EACH
def test_each_room_keeps_to_its_libraries(module: Module) -> None:
    outside = {name.split(".")[0] for name in module.imports()} - set(sys.stdlib_module_names) - {"meltzone"}
    if module.room in LIBRARIES:
        assert outside <= LIBRARIES[module.room]
    assert not {name.split(".")[0] for name in module.imports(everywhere=False)} & HEAVY, "import it where it is used"


def _every_import(module: Module) -> set[str]:
    """All modules of ours that it imports: at its top, inside functions, or for type checking only."""
    found = set()
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        if isinstance(node, ast.ImportFrom) and node.module:
            whole = {f"{node.module}.{alias.name}" for alias in node.names}
            found |= whole & {f"meltzone.{name}" for name in NAMES} or {node.module}
    return _ours(found)


def test_no_module_imports_itself_round_a_circle() -> None:
    """Neither at the top nor by an import inside a function or for type checking: those too say what knows what."""
    below = {module.name: _every_import(module) for module in MODULES}
    assert "cases.studies.run" in below["cases.commands.predict"], "also those inside functions"
    assert "fem.across.division" in below["fem.divided"], "also those for type checking"
    done: set[str] = set()

    def descend(name: str, above: tuple[str, ...]) -> None:
        assert name not in above, f"a circle of imports: {' > '.join((*above, name))}"
        if name not in done:
            for other in below.get(name, ()):
                descend(other, (*above, name))
            done.add(name)

    for name in below:
        descend(name, ())


@EACH
def test_solver_and_geometry_speak_no_units(module: Module) -> None:
    """Their numbers are SI, and whoever words them for people chooses the units: no unit in a text, no offset of a scale."""
    if module.room not in ("fem", "geometry"):
        return
    said = {id(_docstring_node(node)) for node in ast.walk(module.tree)}
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Constant) and id(node) not in said:
            assert node.value != 273.15, f"line {node.lineno}"
            assert not (isinstance(node.value, str) and UNIT.search(node.value)), f"line {node.lineno}: {node.value!r}"


def test_units_in_a_text_are_found() -> None:
    for text in (
        "at 200 degC",
        "{power:g} W of a rating",
        " m did not settle",
        "10 deg",
        "the innermost 10 %",
        "0.2 um",
    ):
        assert UNIT.search(text), text
    for text in ("the block's height of {height:g}", "{slant:long g}", "ei,eiq->eq", "A 2 x 2 grid", "no {name}"):
        assert not UNIT.search(text), text


@EACH
def test_weighings_calibration_and_validation_build_on_each_other_in_that_order(module: Module) -> None:
    """And statistics know nothing but numbers."""
    stages = [f"cases.studies.{name}." for name in ("bench", "calibration", "validation")]
    for stage, later in ((stage, stages[place + 1 :]) for place, stage in enumerate(stages)):
        if module.name.startswith(stage):
            assert not [name for name in _ours(module.imports()) if name.startswith(tuple(later))]
    if module.name.startswith("cases.statistics."):
        assert all(name.startswith("cases.statistics") for name in _ours(module.imports()))


@EACH
def test_a_module_says_what_it_is_for_in_its_first_line(module: Module) -> None:
    text = ast.get_docstring(module.tree)
    assert text and text.splitlines()[0].endswith("."), "one sentence in one line"
    assert module.text.startswith('"""')


@EACH
def test_what_is_public_is_documented(module: Module) -> None:
    classes = [node for node in module.tree.body if isinstance(node, ast.ClassDef) and not node.name.startswith("_")]
    bare = [node.name for node in classes if not ast.get_docstring(node)]
    for name, function, _ in module.functions():
        hidden = any(part.startswith("_") for part in name.split("."))
        if not hidden and not ast.get_docstring(function):
            bare.append(name)
        if function.name == "__call__" and not name.startswith("_") and not ast.get_docstring(function):
            bare.append(name)
    assert not bare


@EACH
def test_names_in_docstrings_exist(module: Module) -> None:
    """A word in backticks is a parameter, a field, a name or key that the module knows, or what another module defines."""
    known = _names_in(module) | PLAIN_WORDS | DEFINED
    nodes = [node for node in ast.walk(module.tree) if isinstance(node, Function | ast.ClassDef | ast.Module)]
    for node in nodes:
        for word in re.findall(r"`([A-Za-z_]\w*)(?:\[\w+\])?`", ast.get_docstring(node) or ""):
            assert word in known, f"{getattr(node, 'name', 'module')}: `{word}`"


def _names_in(module: Module) -> set[str]:
    """Every identifier and every word of every text in the module, docstrings left out; fields of what it imports."""
    names: set[str] = set(dir(builtins))
    texts = {id(_docstring_node(node)) for node in ast.walk(module.tree)}
    for node in ast.walk(module.tree):
        for field in ("id", "attr", "arg", "name", "asname"):
            value = getattr(node, field, None)
            if isinstance(value, str):
                names.add(value)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in texts:
            names |= set(re.findall(r"\w+", node.value))
    return names | {word for name in _ours(module.imports()) for word in name.split(".")}


def _docstring_node(node: ast.AST) -> ast.AST | None:
    body = getattr(node, "body", None)
    first = body[0] if isinstance(body, list) and body else None
    return first.value if isinstance(first, ast.Expr) else None


@EACH
def test_arrays_come_with_shape_or_unit(module: Module) -> None:
    """A public function that takes an array says in its docstring what the array holds: a shape, or a unit in brackets."""
    for name, function, owner in module.functions():
        arguments = [*function.args.args, *function.args.kwonlyargs]
        takes = any(arg.annotation and "ndarray" in ast.unparse(arg.annotation) for arg in arguments)
        if takes and not any(part.startswith("_") and part != "__call__" for part in name.split(".")):
            told = (ast.get_docstring(function) or "") + ((owner and ast.get_docstring(owner)) or "")
            assert re.search(r"\[[^\]]+\]|shape|\(n|\(size", told), f"{name} says neither shape nor unit"


@EACH
def test_sizes(module: Module) -> None:
    lid, _ = LONGER_MODULES.get(module.name, (MODULE_LINES, ""))
    lines = len(module.text.splitlines())
    assert lines <= lid, f"{module.name} has {lines} lines"
    for name, function, _ in module.functions():
        lid, _ = LONGER_FUNCTIONS.get(f"{module.name}.{name}", (FUNCTION_LINES, ""))
        start = min([function.lineno, *(node.lineno for node in function.decorator_list)])
        lines = (function.end_lineno or start) - start + 1
        assert lines <= lid, f"{module.name}.{name} has {lines} lines"


def test_exceptions_are_still_needed() -> None:
    by_name = {module.name: module for module in MODULES}
    for name, (lid, reason) in LONGER_MODULES.items():
        assert reason and MODULE_LINES < len(by_name[name].text.splitlines()) <= lid, f"{name} needs no exception"
    for name in LONGER_FUNCTIONS:
        assert any(name.startswith(f"{module}.") for module in by_name)


# What a plain ceiling must load without: pictures, files of fields, the unit library, searches, other verbs' solvers
UNASKED = (
    "matplotlib", "jinja2", "meshio", "pint", "scipy.optimize", "scipy.integrate", "scipy.interpolate",
    "numpy.f2py.crackfortran", "numpy.testing._private", "meltzone.fem.slow_flow", "meltzone.fem.across",
    "meltzone.fem.in_time", "meltzone.cases.studies.calibration", "meltzone.cases.outputs.axis_figure",
)  # fmt: skip


def test_a_plain_ceiling_loads_nothing_that_it_does_not_ask_for() -> None:
    code = (
        "import sys\nfrom meltzone.cases.commands.cli import main\n"
        "sys.argv = ['meltzone', 'ceiling', 'short-block', '--set', 'mesh.level=0.25']\n"
        "try:\n    main()\nfinally:\n    print(*sys.modules, file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(done.stderr.split())
    assert "short-block" in done.stdout and "meltzone.fem.ceiling" in loaded
    assert not [name for name in UNASKED if name in loaded]
