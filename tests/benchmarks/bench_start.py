"""How long a command takes to start, beside what its imports alone take.

Measured in one run, reported as ratios, never asserted: `pytest -m benchmark -n 0 -s`.
"""

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

RUNS = 9

BARE_PROGRAM = """
import typer
app = typer.Typer(no_args_is_help=True)
car, helix = typer.Typer(), typer.Typer()
app.add_typer(car, name="car")
app.add_typer(helix, name="helix")
def command(name: str = "x", count: int = 1) -> None: "Does it."
for name in ("demo", "check", "meets", "roster", "telltales", "size"):
    app.command(name)(command)
for name in ("add", "list", "show", "edit", "retire", "restore", "import", "export"):
    car.command(name)(command)
for name in ("add", "list", "show", "retire", "restore"):
    helix.command(name)(command)
app(["--help"])
"""
# Of others' modules, those that a check of one car in a catalog ends up with, and none besides:
# pydantic and typer load a part of theirs only when it is asked for, SQLAlchemy its dialect.
IMPORTS = """
import numpy.ma, sqlalchemy.dialects.sqlite, typer
from pydantic import BaseModel, Field, TypeAdapter
"""
COMMAND = "from clearance.cli import main; main()"


# Modules compiled beforehand, as an installed program's are.
ENVIRONMENT = {name: text for name, text in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}


def start_s(code: str, *arguments: str) -> float:
    """From start to end of a fresh interpreter. [s]"""
    start = time.perf_counter()
    subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, check=False, env=ENVIRONMENT
    )
    return time.perf_counter() - start


def side_by_side(*commands: tuple[str, ...]) -> list[float]:
    """The quickest start of each, turn and turn about, so that a busy moment hits them all. [s]"""
    rounds = [[start_s(*command) for command in commands] for _ in range(RUNS + 1)]
    return [min(times) for times in zip(*rounds[1:], strict=True)]


@pytest.mark.benchmark
def test_starting(tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, "-c", COMMAND, "demo", str(tmp_path)],
        capture_output=True,
        check=True,
        env=ENVIRONMENT,
    )
    catalog = str(tmp_path / "catalog.sqlite")
    helix = ("--catalog", catalog, "--helix", "Quarry Bank helix")
    bare_help, own_help, imports, check, data = side_by_side(
        (BARE_PROGRAM,),
        (COMMAND, "--help"),
        (IMPORTS,),
        (COMMAND, "check", "27", *helix),
        (COMMAND, "check", "27", *helix, "--json"),
    )
    print(
        f"\nstarting, in ms"
        f"\n  a bare typer program's --help              {1e3 * bare_help:6.0f}"
        f"\n  clearance --help                           {1e3 * own_help:6.0f}"
        f"   {own_help / bare_help:.2f} times"
        f"\n  importing what a check needs of others      {1e3 * imports:5.0f}"
        f"\n  clearance check, one car of the catalog    {1e3 * check:6.0f}"
        f"   {check / imports:.2f} times"
        f"\n  the same with --json                       {1e3 * data:6.0f}"
        f"   {data / imports:.2f} times"
    )


@pytest.mark.benchmark
def test_installed_size(tmp_path: Path) -> None:
    """The base install, pip and setuptools not counted."""
    root = Path(__file__).parents[2]
    subprocess.run(
        [sys.executable, "-m", "pip", "install", "-q", "--target", str(tmp_path), str(root)],
        check=True,
        capture_output=True,
    )
    size = sum(file.stat().st_size for file in tmp_path.rglob("*") if file.is_file())
    print(f"\ninstalled size of the base: {size / 1e6:.0f} MB")
