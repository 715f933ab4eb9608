"""`car import` of articulated stock, when its frames are in the catalog already."""

from pathlib import Path

import pytest

from tests.cli.conftest import Clearance

CARS = """id,name,height_mm,width_mm,length_mm,wheelbase_mm
G7,{name},180,100,620,{wheelbase}
27,plain,190,105,600,400
"""
FRAMES = """car,frame,rear_support_mm,rear_on,front_support_mm,front_on
G7,rear unit,560,track,440,track
G7,front unit,180,track,60,track
G7,boiler,470,rear unit,150,front unit
"""
BLOCKS = """car,frame,from_mm,to_mm,width_mm,bottom_mm,top_mm
G7,front unit,0,200,100,10,120
G7,rear unit,420,620,100,10,120
G7,boiler,150,470,90,40,{top}
"""
IMPORT = ("car", "import", "cars.csv")


def write_cars(name: str = "Garratt", wheelbase: str = "") -> None:
    Path("cars.csv").write_text(CARS.format(name=name, wheelbase=wheelbase), encoding="utf-8")


@pytest.fixture
def known(here: Path, clearance: Clearance, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A catalog with one articulated car and a plain one."""
    monkeypatch.setenv("CLEARANCE_CATALOG", str(here / "club.sqlite"))
    write_cars()
    Path("frames.csv").write_text(FRAMES, encoding="utf-8")
    Path("blocks.csv").write_text(BLOCKS.format(top=180), encoding="utf-8")
    ended = clearance(*IMPORT, "--frames", "frames.csv", "--blocks", "blocks.csv")
    assert ended.out == "2 added, 0 changed, 0 unchanged\n"
    return here


def shown(clearance: Clearance) -> dict[str, object]:
    data: dict[str, object] = clearance("car", "show", "G7", "--json").data
    return data


@pytest.mark.usefixtures("known")
def test_known_frames_and_blocks_are_kept(clearance: Clearance) -> None:
    before = shown(clearance)
    assert clearance(*IMPORT).out == "0 added, 0 changed, 2 unchanged\n"
    write_cars(name="Emma")
    assert clearance(*IMPORT).out == "0 added, 1 changed, 1 unchanged\n"
    assert shown(clearance) == before | {"name": "Emma"}


@pytest.mark.usefixtures("known")
def test_new_blocks_go_with_known_frames(clearance: Clearance) -> None:
    before = shown(clearance)
    Path("blocks.csv").write_text(BLOCKS.format(top=179.5), encoding="utf-8")
    assert clearance(*IMPORT, "--blocks", "blocks.csv").out == "0 added, 1 changed, 1 unchanged\n"
    after = shown(clearance)
    assert after["frames"] == before["frames"]
    assert after["blocks"] != before["blocks"]


@pytest.mark.usefixtures("known")
def test_blocks_of_a_frame_that_is_none_are_refused(clearance: Clearance) -> None:
    wrong = BLOCKS.format(top=180).replace("G7,boiler", "G7,kettle")
    Path("blocks.csv").write_text(wrong, encoding="utf-8")
    ended = clearance(*IMPORT, "--blocks", "blocks.csv")
    assert (ended.status, ended.out, ended.err.count("\n")) == (1, "", 1)
    assert "'kettle'" in ended.err


@pytest.mark.usefixtures("known")
def test_with_a_wheelbase_it_is_a_plain_car_now(clearance: Clearance) -> None:
    """Its blocks belong to frames, so they must be given anew as well."""
    write_cars(wheelbase="400")
    ended = clearance(*IMPORT)
    assert (ended.status, ended.err.count("\n")) == (1, 1)
    assert "the car has no frames" in ended.err
    Path("blocks.csv").write_text("car,from_mm,to_mm,width_mm,top_mm\nG7,0,620,100,180\n", "utf-8")
    assert clearance(*IMPORT, "--blocks", "blocks.csv").out == "0 added, 1 changed, 1 unchanged\n"
    assert shown(clearance)["frames"] == []


@pytest.mark.usefixtures("here")
def test_without_known_frames_a_wheelbase_is_missing(
    clearance: Clearance, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CLEARANCE_CATALOG", "new.sqlite")
    write_cars()
    ended = clearance(*IMPORT)
    assert (ended.status, ended.out, ended.err.count("\n")) == (1, "", 1)
    assert "cars.csv, row 2, wheelbase_mm: is blank" in ended.err
    assert not Path("new.sqlite").exists()


@pytest.mark.usefixtures("known")
def test_a_retired_one_keeps_its_frames_too(clearance: Clearance) -> None:
    frames = shown(clearance)["frames"]
    assert clearance("car", "retire", "G7").status == 0
    write_cars(name="Emma")
    ended = clearance(*IMPORT)
    assert ended.out == "0 added, 1 changed, 1 unchanged\n"
    assert ended.err == "still retired: G7\n"
    assert shown(clearance)["frames"] == frames
