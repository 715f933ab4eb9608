"""The program as a person runs it: what is typed goes in, what is seen comes out."""

import json
import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from catalog.cars_csv import read_cars
from catalog.helix_toml import read_helix_toml
from catalog.store import Catalog
from clearance.cli import main

FILES = Path(__file__).resolve().parents[1] / "data" / "cli"
"""Two invented helices on 32 mm gauge, and cars for them."""


@dataclass(frozen=True)
class Outcome:
    """How a command ended: its exit status, and what it wrote on both streams."""

    status: int
    out: str
    err: str

    @property
    def data(self) -> Any:
        """The output as JSON, which knows no NaN."""
        return json.loads(self.out, parse_constant=_refuse_constant)


def _refuse_constant(name: str) -> None:
    raise AssertionError(f"{name} is no JSON")


Clearance = Callable[..., Outcome]


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to work in, with the data folder, the home and the terminal of nobody."""
    for name in ("CLEARANCE_CATALOG", "CLEARANCE_DEBUG", "FORCE_COLOR", "NO_COLOR"):
        monkeypatch.delenv(name, raising=False)
    for name in ("HOME", "XDG_DATA_HOME", "LOCALAPPDATA", "APPDATA"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    monkeypatch.setenv("COLUMNS", "80")
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)
    return folder


@pytest.fixture
def clearance(
    here: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Clearance:
    """Run one command in this process: ``clearance("check", "27", "--json")``."""
    assert here.is_dir()

    def run(*arguments: str | Path) -> Outcome:
        monkeypatch.setattr(sys, "argv", ["clearance", *map(str, arguments)])
        capsys.readouterr()
        with pytest.raises(SystemExit) as left:
            main()
        streams = capsys.readouterr()
        assert isinstance(left.value.code, int)
        return Outcome(left.value.code, streams.out, streams.err)

    return run


@pytest.fixture
def files(here: Path) -> Path:
    """The folder to work in, with helices and cars in files."""
    for file in FILES.iterdir():
        shutil.copy(file, here / file.name)
    return here


@pytest.fixture(scope="session")
def catalog_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A catalog with the helix and the cars of the files, made once."""
    path = tmp_path_factory.mktemp("catalog") / "club.sqlite"
    with Catalog.open(path, create=True) as catalog:
        catalog.add_helix(read_helix_toml(FILES / "mill.toml"))
        catalog.import_cars(read_cars(FILES / "cars.csv", FILES / "blocks.csv"))
    return path


@pytest.fixture
def club(files: Path, catalog_file: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The same in a catalog as well, which ``CLEARANCE_CATALOG`` names."""
    catalog = files / "club.sqlite"
    shutil.copy(catalog_file, catalog)
    monkeypatch.setenv("CLEARANCE_CATALOG", str(catalog))
    return catalog
