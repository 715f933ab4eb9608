"""The arrows between the packages, and the house rules that a reader would not find by running it.

cli calls judge, judge calls geometry, show is handed what was found, catalog lies beneath
(DEVELOPERS.md).
"""

import ast
import importlib.util
import os
import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGES = ("catalog", "clearance")
LONGEST_MODULE = 450
TOP = {
    ".ci",
    ".gitignore",
    "DEVELOPERS.md",
    "README.md",
    "catalog",
    "clearance",
    "docs",
    "pyproject.toml",
    "tests",
}
HEAVY = ("numpy", "sqlalchemy", "pydantic", "rich.table", "scipy")

# What each part of the house may import of the house itself; longest name first decides.
ARROWS = {
    "catalog": {"catalog"},
    "clearance.geometry": {"clearance.geometry"},
    "clearance.judge": {"clearance.judge", "clearance.geometry", "catalog"},
    "clearance.show": {"clearance.show", "clearance.judge", "clearance.geometry", "catalog"},
    "clearance.demo": {"clearance.demo"},
    "clearance.cli": {"clearance.cli", "clearance.show", "clearance.judge", "clearance.demo"}
    | {"catalog"},
    "clearance": set(),
}


def name_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@cache
def modules() -> dict[str, Path]:
    """Every module of the two packages, by its dotted name."""
    found = {name_of(path): path for package in PACKAGES for path in (ROOT / package).rglob("*.py")}
    assert len(found) > 30
    return found


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


MODULES = sorted(modules())


def house(name: str) -> bool:
    return name.split(".")[0] in PACKAGES


@cache
def imported(name: str) -> frozenset[str]:
    """Every module that one imports anywhere, inside functions and for type checking too."""
    found = set()
    for node in ast.walk(tree(modules()[name])):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{name}: a relative import hides where it comes from"
            assert node.module is not None
            for alias in node.names:
                whole = f"{node.module}.{alias.name}"
                found.add(whole if whole in modules() else node.module)
    return frozenset(found)


def part_of(name: str) -> str:
    """Which part of the house a module belongs to."""
    candidates = [part for part in ARROWS if name == part or name.startswith(part + ".")]
    return max(candidates, key=len)


# --- arrows ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", MODULES)
def test_imports_follow_the_arrows(name: str) -> None:
    allowed = ARROWS[part_of(name)]
    wrong = {other for other in imported(name) if house(other) and part_of(other) not in allowed}
    assert not wrong


def test_geometry_imports_numpy_and_the_standard_library_alone() -> None:
    for name in MODULES:
        if part_of(name) == "clearance.geometry":
            roots = {other.split(".")[0] for other in imported(name) if not house(other)}
            assert roots <= {"numpy"} | sys.stdlib_module_names, name


def test_the_catalog_knows_no_terminal_and_no_page() -> None:
    """Records and storage are for programs too."""
    for name in MODULES:
        if part_of(name) == "catalog":
            roots = {other.split(".")[0] for other in imported(name)}
            assert not roots & {"typer", "click", "rich", "tabulate"}, name


def test_a_wrong_arrow_would_be_seen() -> None:
    """The arrows above are there to be imported along: each part does use what lies beneath."""
    used = {
        (part_of(name), part_of(other))
        for name in MODULES
        for other in imported(name)
        if house(other)
    }
    for pair in (
        ("clearance.judge", "clearance.geometry"),
        ("clearance.judge", "catalog"),
        ("clearance.show", "clearance.judge"),
        ("clearance.cli", "clearance.show"),
    ):
        assert pair in used


def test_no_module_imports_itself_round_a_corner() -> None:
    """No cycles, whether at the top of a module or inside a function."""
    links = {name: {other for other in imported(name) if other in modules()} for name in MODULES}
    while True:
        done = {name for name, others in links.items() if not others}
        if not done:
            break
        links = {name: others - done for name, others in links.items() if name not in done}
    assert links == {}, "these import one another in a circle"


# --- every module by itself -----------------------------------------------------------------------

ALONE = """
import importlib, sys
ours = lambda: [name for name in sys.modules if name.split(".")[0] in ("catalog", "clearance")]
for name in sys.argv[1:]:
    for loaded in ours():
        del sys.modules[loaded]
    module = importlib.import_module(name)
    for listed in getattr(module, "__all__", []):
        if not hasattr(module, listed):
            print(f"{name}: __all__ lists {listed}, which does not exist")
"""


def fresh(code: str, *arguments: str) -> str:
    """What a fresh interpreter prints."""
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_every_module_imports_alone_and_has_what_it_lists() -> None:
    assert fresh(ALONE, *MODULES) == ""


def test_commands_start_without_what_they_may_not_need() -> None:
    """`clearance --help` loads neither arrays nor the database nor the records."""
    code = "import sys; from clearance.cli.app import program; program(); print(*sys.modules)"
    loaded = set(fresh(code).split())
    assert "clearance.cli.check" in loaded
    for heavy in HEAVY:
        assert importlib.util.find_spec(heavy) is not None
        assert heavy not in loaded, f"importing the commands imports {heavy}"


# --- what a module offers -------------------------------------------------------------------------


def listed(name: str) -> list[str] | None:
    """`__all__` as it is written; None: there is none."""
    for node in tree(modules()[name]).body:
        if isinstance(node, ast.Assign) and any(
            isinstance(target, ast.Name) and target.id == "__all__" for target in node.targets
        ):
            names = ast.literal_eval(node.value)
            assert isinstance(names, list)
            return names
    return None


def defined(name: str) -> set[str]:
    """Functions, classes and constants at the top of a module."""
    found = set()
    for node in tree(modules()[name]).body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            found.add(node.name)
        elif isinstance(node, ast.Assign):
            found |= {n.id for t in node.targets for n in ast.walk(t) if isinstance(n, ast.Name)}
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            found.add(node.target.id)
    return found - {"__all__"}


@cache
def taken() -> dict[str, set[tuple[str, str]]]:
    """Of each module: which of its names are imported, and by which other module."""
    found: dict[str, set[tuple[str, str]]] = {name: set() for name in MODULES}
    for name in MODULES:
        for node in ast.walk(tree(modules()[name])):
            if isinstance(node, ast.ImportFrom) and node.module in found:
                found[node.module] |= {
                    (alias.name, name)
                    for alias in node.names
                    if f"{node.module}.{alias.name}" not in modules()
                }
    return found


@pytest.mark.parametrize("name", MODULES)
def test_all_is_complete(name: str) -> None:
    """It lists what exists, once, and everything that another module takes from it."""
    here, offered = defined(name), listed(name)
    if offered is None:
        assert not {what for what in here if not what.startswith("_")}, "no __all__"
        return
    assert len(set(offered)) == len(offered)
    assert set(offered) <= here
    missing = {(what, user) for what, user in taken()[name] if what not in offered}
    assert not missing


# A command offers its `app`; what hangs on it is read from --help.
PROGRAMMED = [name for name in MODULES if part_of(name) != "clearance.cli"]


@pytest.mark.parametrize("name", PROGRAMMED)
def test_every_public_function_and_class_is_listed_and_says_what_it_does(name: str) -> None:
    for node in tree(modules()[name]).body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            assert node.name in (listed(name) or []), f"{node.name} is public and not in __all__"
            assert ast.get_docstring(node), f"{node.name} says nothing"


@pytest.mark.parametrize("name", MODULES)
def test_a_module_can_be_read_at_a_sitting(name: str) -> None:
    lines = modules()[name].read_text(encoding="utf-8").count("\n")
    assert lines <= LONGEST_MODULE
    if defined(name):
        assert ast.get_docstring(tree(modules()[name])), "no first sentence"


# --- tests and the top of the tree ----------------------------------------------------------------


def bare_comparisons(code: ast.Module) -> list[int]:
    """Lines that use `allclose` or `isclose` of an array library, under any name."""
    found = []
    for node in ast.walk(code):
        if isinstance(node, ast.Attribute) and node.attr in ("allclose", "isclose"):
            if isinstance(node.value, ast.Name) and node.value.id == "math":
                continue
            found.append(node.lineno)
        elif isinstance(node, ast.ImportFrom) and node.module and node.module != "math":
            found += [node.lineno for a in node.names if a.name in ("allclose", "isclose")]
    return found


def test_no_test_compares_silently() -> None:
    """`np.allclose` on a line of its own checks nothing; `assert_allclose` cannot be forgotten."""
    for path in (ROOT / "tests").rglob("*.py"):
        assert bare_comparisons(tree(path)) == [], path.relative_to(ROOT)


@pytest.mark.parametrize(
    "code",
    ["np.allclose(a, b)", "x = numpy.isclose(a, b).all()", "from numpy import allclose as near"],
)
def test_a_silent_comparison_would_be_seen(code: str) -> None:
    assert bare_comparisons(ast.parse(code)) == [1]


def at_the_top() -> set[str]:
    """First parts of every path that belongs to the project."""
    git = shutil.which("git")
    if git and (ROOT / ".git").exists():
        done = subprocess.run(
            [git, "-C", str(ROOT), "ls-files", "--cached", "--others", "--exclude-standard"],
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode == 0:
            return {line.strip('"').split("/")[0] for line in done.stdout.splitlines()}
    ignored = (ROOT / ".gitignore").read_text(encoding="utf-8").split()
    return {
        path.name
        for path in ROOT.iterdir()
        if path.name != ".git" and not any(path.match(pattern.rstrip("/")) for pattern in ignored)
    }


def test_the_top_of_the_tree_stays_small() -> None:
    assert at_the_top() <= TOP
    assert {"catalog", "clearance", "tests", "pyproject.toml"} <= at_the_top()
