"""Results as they come out, without a command around them."""

import io
from collections.abc import Callable
from pathlib import Path

import pytest

from catalog.cars_csv import read_cars
from catalog.columns import CarTable
from catalog.helix import Helix
from catalog.helix_toml import read_helix_toml
from clearance.judge.fleet import Fleet
from clearance.show.paper import Paper, as_plain, print_styled

FILES = Path(__file__).resolve().parents[1] / "data" / "cli"
DEMO = Path(__file__).resolve().parents[2] / "clearance" / "demo" / "files"

PAPER = 80

OnTerminal = Callable[[Paper, int], str]


def printed(paper: Paper) -> str:
    """A text as it stands in a pipe or a file."""
    return as_plain(paper, PAPER)


class Terminal(io.StringIO):
    """A screen that keeps what it is sent."""

    def isatty(self) -> bool:
        return True


@pytest.fixture
def on_terminal(monkeypatch: pytest.MonkeyPatch) -> OnTerminal:
    """A text as a terminal with colours and so many columns gets it."""
    for name in ("NO_COLOR", "FORCE_COLOR", "TTY_COMPATIBLE", "COLORTERM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm")

    def shown(paper: Paper, width: int) -> str:
        terminal = Terminal()
        with monkeypatch.context() as there:
            there.setenv("COLUMNS", str(width))
            there.setattr("sys.stdout", terminal)
            print_styled(paper)
        return terminal.getvalue()

    return shown


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
