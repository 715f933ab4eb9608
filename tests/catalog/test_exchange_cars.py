"""cars.csv, blocks.csv, frames.csv: every way to write them that is understood, and back again."""

import csv
import io
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from numpy.testing import assert_allclose

from catalog.blocks_csv import write_blocks_csv
from catalog.cars_csv import COLUMNS, read_cars, write_cars_csv
from catalog.columns import CarTable
from catalog.frames import Frame
from catalog.frames_csv import write_frames_csv
from catalog.lengths import Unit
from catalog.sheet import BATCH
from tests.catalog.possible import car_tables

HEADER = "id,height,width,length,wheelbase"


def _read(
    folder: Path,
    cars: str,
    blocks: str | None = None,
    frames: str | None = None,
    units: Unit | None = None,
) -> CarTable:
    paths: list[Path | None] = []
    for name, text in (("cars", cars), ("blocks", blocks), ("frames", frames)):
        path = folder / f"{name}.csv"
        if text is not None:
            path.write_bytes(text.encode())
        paths.append(None if text is None else path)
    assert paths[0] is not None
    return read_cars(paths[0], *paths[1:], units=units)


def _again(folder: Path, table: CarTable) -> CarTable:
    return _read(folder, write_cars_csv(table), write_blocks_csv(table), write_frames_csv(table))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One folder for all examples of a property."""
    return tmp_path_factory.mktemp("exchange")


@given(car_tables())
def test_export_then_import_gives_an_equal_fleet(folder: Path, table: CarTable) -> None:
    assert _again(folder, table) == table


def test_a_blank_file_of_cars_is_no_cars(tmp_path: Path) -> None:
    assert len(_read(tmp_path, f"{HEADER}\n")) == 0
    assert len(_read(tmp_path, f"{HEADER}")) == 0
    assert len(_read(tmp_path, f"{HEADER}\n", "car,from,to,left,right,top\n")) == 0
    assert _again(tmp_path, _read(tmp_path, HEADER)) == _read(tmp_path, HEADER)


@pytest.mark.parametrize(
    ("cars", "units"),
    [
        (f"{HEADER}\n27,216 mm,11.2 cm,0.65 m,400 mm\n", None),
        (f"{HEADER}\n27,216,112,650,400\n", "mm"),
        ("id,height_mm,width_mm,length_mm,wheelbase_mm\n27,216,112,650,400\n", None),
        # The column's name wins over the units, a value's own unit over both.
        ("id,height_mm,width_mm,length_mm,wheelbase_mm\n27,216,11.2 cm,650,400\n", "in"),
        ("height_mm,wheelbase,id,width,length\n216,400 mm,27,112 mm,650 mm\n", None),
        ('id, Height , WIDTH,length,"wheelbase"\n 27 ,216 mm,112 mm,650 mm, 400 mm \n', None),
        ("id;height;width;length;wheelbase\n27;216 mm;11,2 cm;0,65 m;400,0 mm\n", None),
        ("id;height_mm;width_mm;length_mm;wheelbase_mm\n27;216,0;112;650;400\n", None),
        ("\ufeffid,height,width,length,wheelbase\n27,216 mm,112 mm,650 mm,400 mm\n", None),
        (f"{HEADER}\r\n27,216 mm,112 mm,650 mm,400 mm\r\n\r\n", None),
        (f"{HEADER}\r27,216 mm,112 mm,650 mm,400 mm\r", None),
        (f"{HEADER},,\n27,216 mm,112 mm,650 mm,400 mm,,\n,,,,,,\n", None),
        (f"{HEADER},notes,owner\n27,216 mm,112 mm,650 mm,400 mm\n", None),
        (f"{HEADER}\n27,+216 mm,1.12e2 mm,65 cm,400.0mm\n", None),
    ],
)
def test_many_ways_to_write_the_same_car(tmp_path: Path, cars: str, units: Unit | None) -> None:
    table = _read(tmp_path, cars, units=units)
    assert table.text["id"] == ["27"]
    figures = [table.figures[f"{name}_mm"][0] for name in HEADER.split(",")[1:]]
    assert figures == [216.0, 112.0, 650.0, 400.0]


def test_inches_by_column_by_units_and_by_value(tmp_path: Path) -> None:
    """1 in is 25.4 mm exactly (international yard and pound agreement, 1959)."""
    written = [
        ('id,height_in,width_in,length_in,wheelbase_in\n27,8 1/2,4.5,25,"15"""\n', None),
        (f"{HEADER}\n27,8-1/2,4 1/2,2' 1\",15\n", "in"),
    ]
    for cars, units in written:
        table = _read(tmp_path, cars, units=units)
        figures = [table.figures[f"{name}_mm"][0] for name in HEADER.split(",")[1:]]
        assert_allclose(figures, [215.9, 114.3, 635.0, 381.0], rtol=0, atol=1e-9)


def test_full_size_lengths_are_divided_but_not_the_gauge(tmp_path: Path) -> None:
    table = _read(
        tmp_path,
        f"{HEADER},dimensions,scale,gauge,tolerance,length_over_couplers\n"
        "27,4.5 m,2.25 m,9 m,6.75 m,Full-size,1:22.5,45 mm,45 mm,9.9 m\n",
        "car,from,to,width,top\n27,0 m,9 m,2.25 m,4.5 m\n",
    )
    car = table.cars()[0]
    assert (car.height_mm, car.width_mm, car.length_mm, car.wheelbase_mm) == (200, 100, 400, 300)
    assert (car.gauge_mm, car.tolerance_mm, car.length_over_couplers_mm) == (45, 2, 440)
    assert car.dimensions == "full-size"
    assert car.scale == 22.5
    block = car.blocks[0]
    assert (block.from_mm, block.to_mm, block.top_mm) == (0, 400, 200)
    assert (block.left_mm, block.right_mm, block.bottom_mm) == (50, 50, 0)


def test_full_size_figures_are_exported_as_they_were_written(tmp_path: Path) -> None:
    # 1:20.3 leaves no whole figure whole: only the multiplied-back one is what a person wrote.
    written = _read(
        tmp_path,
        f"{HEADER},dimensions,scale\n27,15' 6\",2.9 m,10.001 m,7.5 m,full-size,1:20.3\n",
    )
    cells = next(csv.DictReader(io.StringIO(write_cars_csv(written))))
    assert [cells[name] for name in HEADER.split(",")[1:]] == [
        "4724.4 mm",
        "2900 mm",
        "10001 mm",
        "7500 mm",
    ]


def test_decimal_commas_of_a_semicolon_file(tmp_path: Path) -> None:
    table = _read(
        tmp_path,
        "id;height;width;length;wheelbase;scale;weight\n"
        "27;8,5 in;112,25 mm;650 mm;400 mm;1:22,5;2,4 kg\n",
    )
    assert_allclose(table.figures["height_mm"], [215.9])  # 8.5 in
    assert_allclose(table.figures["width_mm"], [112.25])
    assert table.figures["scale"].tolist() == [22.5]
    assert table.text["weight"] == ["2.4 kg"]


def test_blanks_stay_blank(tmp_path: Path) -> None:
    car = _read(tmp_path, f"{HEADER},gauge,scale,tolerance,measured_on\n27,9in,9cm,1m,9in,,,,\n")
    assert np.isnan(car.figures["gauge_mm"]).all()
    assert np.isnan(car.figures["tolerance_mm"]).all()
    only = car.cars()[0]
    assert only.truck_wheelbase_mm == 0
    assert only.measured_on is None
    assert only.dimensions == "model"


def test_blocks_of_several_cars_in_any_order(tmp_path: Path) -> None:
    table = _read(
        tmp_path,
        f"{HEADER}\nA,200 mm,100 mm,400 mm,300 mm\nB,150 mm,90 mm,300 mm,200 mm\n"
        "C,150 mm,90 mm,300 mm,200 mm\n",
        "car,name,from,to,left,right,bottom,top\n"
        "C,body,0 mm,300 mm,45 mm,45 mm,,150 mm\n"
        "A,boiler,0 mm,250 mm,30 mm,30 mm,60 mm,140 mm\n"
        "C,step,10 mm,20 mm,-30 mm,45 mm,20 mm,25 mm\n"
        "A,cab,250 mm,400 mm,50 mm,50 mm,20 mm,200 mm\n",
    )
    shapes = {car.id: [block.name for block in car.blocks] for car in table.cars()}
    assert shapes == {"A": ["boiler", "cab"], "B": [], "C": ["body", "step"]}
    assert table.cars()[2].blocks[1].left_mm == -30


def test_a_fleet_longer_than_one_batch(tmp_path: Path) -> None:
    count = 2 * BATCH + 7
    rows = "".join(f"{n},{100 + n} mm,90 mm,500 mm,300 mm\n" for n in range(count))
    table = _read(tmp_path, f"{HEADER}\n{rows}")
    assert table.text["id"] == [str(n) for n in range(count)]
    assert_allclose(table.figures["height_mm"], 100 + np.arange(count))


def test_a_fleet_with_more_different_lengths_than_are_kept_in_mind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("catalog.sheet.MOST_KNOWN", 3)
    rows = "".join(f"{n},{100 + n} mm,{90 + n % 2} mm,500 mm,300 mm\n" for n in range(3 * BATCH))
    table = _read(tmp_path, f"{HEADER}\n{rows}")
    assert_allclose(table.figures["height_mm"], 100 + np.arange(3 * BATCH))
    assert_allclose(table.figures["width_mm"], 90 + np.arange(3 * BATCH) % 2)


@pytest.mark.parametrize(
    "text", ["=1+1", "+49", "-3", "@SUM(A1)", "'=x", "''-x", "'+", "'", "plain", "it's"]
)
def test_no_cell_is_run_by_a_spreadsheet_and_all_come_back(tmp_path: Path, text: str) -> None:
    source = io.StringIO(newline="")
    writer = csv.writer(source)
    writer.writerow([*HEADER.split(","), "notes"])
    writer.writerow([f"id{text}", "200 mm", "100 mm", "400 mm", "300 mm", f"'{text}"])
    table = _read(tmp_path, source.getvalue())
    table.text["notes"] = [text]
    table.text["id"] = [text]
    exported = write_cars_csv(table)
    for row in csv.reader(io.StringIO(exported)):
        assert not any(cell[:1] in ("=", "+", "-", "@", "\t", "\r") for cell in row if cell)
    assert _read(tmp_path, exported) == table


def test_the_header_is_the_documented_one_in_its_order() -> None:
    header = next(csv.reader(io.StringIO(write_cars_csv(CarTable.from_cars([])))))
    assert tuple(header) == COLUMNS
    assert write_blocks_csv(CarTable.from_cars([])).split() == [
        "car,name,from,to,left,right,bottom,top"
    ]
    assert write_frames_csv(CarTable.from_cars([])).split() == [
        "car,frame,rear_support,rear_on,front_support,front_on"
    ]


# The example of docs/formats.md: a boiler slung between two engine units.
SLUNG = """\
car,frame,rear_support,rear_on,front_support,front_on
G7,rear unit,560 mm,track,440 mm,track
G7,front unit,180 mm,track,60 mm,track
G7,boiler,470 mm,rear unit,150 mm,front unit
"""
FRAMED = f"{HEADER}\n27,216 mm,112 mm,650 mm,400 mm\nG7,200 mm,100 mm,620 mm,\n"
SLUNG_FRAMES = (
    Frame(
        name="rear unit",
        rear_support_mm=560,
        rear_on="track",
        front_support_mm=440,
        front_on="track",
    ),
    Frame(
        name="front unit",
        rear_support_mm=180,
        rear_on="track",
        front_support_mm=60,
        front_on="track",
    ),
    Frame(
        name="boiler",
        rear_support_mm=470,
        rear_on="rear unit",
        front_support_mm=150,
        front_on="front unit",
    ),
)


def test_a_car_on_frames(tmp_path: Path) -> None:
    table = _read(
        tmp_path,
        FRAMED,
        "car,frame,from,to,width,top\nG7,front unit,0 mm,200 mm,80 mm,90 mm\n"
        "G7,,0 mm,620 mm,100 mm,200 mm\n27,,0 mm,650 mm,112 mm,216 mm\n",
        SLUNG,
    )
    plain, framed = table.cars()
    assert framed.frames == SLUNG_FRAMES
    assert (framed.wheelbase_mm, plain.wheelbase_mm, plain.frames) == (None, 400.0, ())
    assert [block.frame for block in framed.blocks] == ["front unit", ""]
    assert [framed.block_frame(block) for block in framed.blocks] == ["front unit", "boiler"]
    assert [plain.block_frame(block) for block in plain.blocks] == [""]
    assert table.framed.tolist() == [False, True]
    assert table.frame_car.tolist() == [1, 1, 1]
    assert table.frame_name == ["rear unit", "front unit", "boiler"]
    assert table.frame_rear_on == ["track", "track", "rear unit"]
    assert table.frame_front_on == ["track", "track", "front unit"]
    assert table.frame_figures["rear_support_mm"].tolist() == [560, 180, 470]
    assert table.frame_figures["front_support_mm"].tolist() == [440, 60, 150]
    assert table.block_frame == ["", "front unit", ""]
    assert np.isnan(table.figures["wheelbase_mm"]).tolist() == [False, True]
    assert table.figures["truck_wheelbase_mm"].tolist() == [0, 0]
    assert _again(tmp_path, table) == table


def test_frames_of_several_cars_in_any_order_and_unit(tmp_path: Path) -> None:
    """1 in is 25.4 mm exactly (international yard and pound agreement, 1959)."""
    table = _read(
        tmp_path,
        f"{HEADER}\nA,8 in,4 in,20 in,\nB,8 in,4 in,20 in,\n",
        None,
        "front_on,Front Support,rear_on,rear_support_mm,frame,car\n"
        "track,2 in,track,254,unit,B\n track ,0 in, track ,50.8,truck,A\n"
        "truck,1 in,tail,317.5,body,A\ntrack,12 in,track,330.2,tail,A\n",
    )
    assert [[f.name for f in car.frames] for car in table.cars()] == [
        ["truck", "body", "tail"],
        ["unit"],
    ]
    body = table.cars()[0].frames[1]
    assert (body.rear_on, body.front_on) == ("tail", "truck")
    assert_allclose((body.front_support_mm, body.rear_support_mm), (25.4, 317.5))


def test_full_size_frames_are_divided_and_go_out_as_they_came(tmp_path: Path) -> None:
    cars = f"{HEADER},dimensions,scale\nG7,4.5 m,2.25 m,13.95 m,,full-size,1:22.5\n"
    table = _read(tmp_path, cars, None, SLUNG.replace("0 mm", "0 cm"))
    frame = table.cars()[0].frames[0]
    # 560 cm at 1:22.5; the division leaves no whole figure
    assert_allclose(frame.rear_support_mm, 5600 / 22.5, atol=1e-6)
    rows = list(csv.DictReader(io.StringIO(write_frames_csv(table))))
    assert [row["rear_support"] for row in rows] == ["5600 mm", "1800 mm", "4700 mm"]
    assert _again(tmp_path, table) == table


def test_blocks_are_written_with_a_frame_only_where_one_has_any(tmp_path: Path) -> None:
    blocks = "car,from,to,width,top\nG7,0 mm,620 mm,100 mm,200 mm\n"
    table = _read(tmp_path, FRAMED, blocks, SLUNG)
    assert write_blocks_csv(table).split()[0] == "car,name,from,to,left,right,bottom,top"
    table = _read(tmp_path, FRAMED, blocks.replace("top", "top,frame", 1)[:-1] + ",boiler", SLUNG)
    assert write_blocks_csv(table).split()[0] == "car,name,frame,from,to,left,right,bottom,top"


def test_what_trucks_and_couplers_bear(tmp_path: Path) -> None:
    table = _read(
        tmp_path,
        f"{HEADER},truck_swing,coupler_swing,coupler_drop_mm,coupler_angle_deg,dimensions,scale\n"
        "A,216 mm,112 mm,650 mm,400 mm,12.5 deg,8 mm,3,20,,\n"
        "B,216 mm,112 mm,650 mm,400 mm,,,,,,\n"
        "C,216 mm,112 mm,650 mm,400 mm,12.5°,8 mm,3,20 degrees,full-size,1:2\n",
    )
    # Lengths of a full-size row are divided, angles are not.
    for name, values in (
        ("truck_swing_deg", [12.5, np.nan, 12.5]),
        ("coupler_swing_mm", [8, np.nan, 4]),
        ("coupler_drop_mm", [3, np.nan, 1.5]),
        ("coupler_angle_deg", [20, np.nan, 20]),
    ):
        assert_allclose(table.figures[name], values)
    assert table.cars()[1].truck_swing_deg is None
    row = next(csv.DictReader(io.StringIO(write_cars_csv(table))))
    assert (row["truck_swing"], row["coupler_drop"]) == ("12.5 deg", "3 mm")
    assert _again(tmp_path, table) == table
