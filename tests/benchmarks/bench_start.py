"""How long a command takes to start, beside what its imports alone take.

Measured in one run, reported as ratios, never asserted: `pytest -m benchmark -n 0 -s`.
"""

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
IMPORTS = "import numpy, sqlalchemy, pydantic, typer"
COMMAND = "from clearance.cli import main; main()"


def best(code: str, *arguments: str) -> float:
    """The quickest of some fresh interpreters. [s]"""
    times = []
    for _ in range(RUNS):
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", code, *arguments], capture_output=True, check=False)
        times.append(time.perf_counter() - start)
    return min(times)


@pytest.mark.benchmark
def test_starting(tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, "-c", COMMAND, "demo", str(tmp_path)], capture_output=True, check=True
    )
    catalog = str(tmp_path / "catalog.sqlite")
    helix = ("--catalog", catalog, "--helix", "Quarry Bank helix")
    bare_help, own_help = best(BARE_PROGRAM), best(COMMAND, "--help")
    imports, check = best(IMPORTS), best(COMMAND, "check", "27", *helix)
    print(
        f"\nstarting, in ms"
        f"\n  a bare typer program's --help              {1e3 * bare_help:6.0f}"
        f"\n  clearance --help                           {1e3 * own_help:6.0f}"
        f"   {own_help / bare_help:.2f} times"
        f"\n  importing numpy, sqlalchemy, pydantic, typer {1e3 * imports:4.0f}"
        f"\n  clearance check, one car of the catalog    {1e3 * check:6.0f}"
        f"   {check / imports:.2f} times"
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
