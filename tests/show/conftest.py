"""Results as they come out, without a command around them."""

import io
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from rich.console import Console, RenderableType

from catalog.cars_csv import read_cars
from catalog.columns import CarTable
from catalog.helix import Helix
from catalog.helix_toml import read_helix_toml
from clearance.cli.options import Output
from clearance.cli.output import emit
from clearance.judge.fleet import Fleet

FILES = Path(__file__).resolve().parents[1] / "data" / "cli"
DEMO = Path(__file__).resolve().parents[2] / "clearance" / "demo" / "files"

Printed = Callable[[Sequence[RenderableType]], str]


@pytest.fixture
def printed(capsys: pytest.CaptureFixture[str]) -> Printed:
    """A text as it stands in a pipe or a file."""

    def to_pipe(lines: Sequence[RenderableType]) -> str:
        capsys.readouterr()
        emit(Output(), text=lambda: lines, data=list, rows=list)
        return capsys.readouterr().out

    return to_pipe


def on_terminal(lines: Sequence[RenderableType], width: int = 80) -> str:
    """A text as a terminal with colours gets it."""
    file = io.StringIO()
    console = Console(
        file=file,
        width=width,
        force_terminal=True,
        color_system="standard",
        highlight=False,
        markup=False,
        emoji=False,
        legacy_windows=False,
    )
    for line in lines:
        console.print(line)
    return file.getvalue()


@pytest.fixture(scope="session")
def mill() -> Helix:
    """An invented helix of two tracks on 32 mm gauge."""
    return read_helix_toml(FILES / "mill.toml")


@pytest.fixture(scope="session")
def mill_cars() -> CarTable:
    """Cars of every verdict on it, one of them from a drawing; without the one of another gauge."""
    table = read_cars(FILES / "cars.csv", FILES / "blocks.csv")
    return table.take([name != "H 8" for name in table.text["id"]])


@pytest.fixture(scope="session")
def mill_fleet(mill_cars: CarTable) -> Fleet:
    return Fleet(mill_cars)


@pytest.fixture(scope="session")
def quarry() -> Helix:
    """The garden helix of the demonstration, two tracks on 45 mm gauge."""
    return read_helix_toml(DEMO / "quarry-bank.toml")
