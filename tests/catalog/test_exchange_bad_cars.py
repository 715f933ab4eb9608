"""Whatever is wrong with a file of cars ends in one line: where, what, and what is right."""

from pathlib import Path

import pytest

from catalog.cars_csv import read_cars
from catalog.errors import DataError
from catalog.lengths import Unit
from catalog.store import Catalog

HEADER = "id,height,width,length,wheelbase"
GOOD = "27,216 mm,112 mm,650 mm,400 mm"
BLOCKS = "car,from,to,left,right,top"
FRAMES = "car,frame,rear_support,rear_on,front_support,front_on"


def _refusal(
    folder: Path,
    cars: str | bytes,
    blocks: str | None = None,
    frames: str | None = None,
    units: Unit | None = None,
) -> str:
    """The one line with which an import of these files ends; nothing of it may be stored."""
    paths = [folder / "cars.csv", folder / "blocks.csv", folder / "frames.csv"]
    for path, content in zip(paths, (cars, blocks, frames), strict=True):
        if content is not None:
            path.write_bytes(content.encode() if isinstance(content, str) else content)
    with Catalog.open(folder / "catalog.sqlite", create=True) as opened:
        with pytest.raises(DataError) as raised:
            opened.import_cars(
                read_cars(
                    paths[0],
                    paths[1] if blocks else None,
                    paths[2] if frames else None,
                    units=units,
                )
            )
        assert len(opened.cars(include_retired=True)) == 0
    line = str(raised.value)
    assert "\n" not in line
    return line.removeprefix(f"{folder}/")


def _with(column: str, cell: str, dimensions: str = "") -> str:
    """A good row and, below it, one with this cell."""
    cells = dict(zip(HEADER.split(","), GOOD.split(","), strict=True))
    cells |= {"dimensions": dimensions, "scale": "1:22.5" if dimensions else ""}
    cells |= {"id": "28", column: cell}
    quoted = ['"' + text.replace('"', '""') + '"' for text in cells.values()]
    good = dict(zip(HEADER.split(","), GOOD.split(","), strict=True))
    return "\n".join(
        [",".join(cells), ",".join(good.get(name, "") for name in cells), ",".join(quoted), ""]
    )


@pytest.mark.parametrize(
    ("cars", "beginning", "right"),
    [
        # The file as a whole
        ("", "cars.csv: is empty", "first row names the columns"),
        ("\n\n", "cars.csv: is empty", "first row names the columns"),
        (b"\xff\xfei\x00d\x00", "cars.csv, line 1: byte 0xFF is not UTF-8", "save the file as"),
        (f"{HEADER}\n27,é".encode("latin-1"), "cars.csv, line 2: byte 0xE9 is not", "UTF-8"),
        (f"{HEADER}\n27,\0,1,1,1\n", "cars.csv, line 2: holds a NUL byte", "save it again"),
        # The header
        ("id\theight\n27\t1 mm\n", "cars.csv, row 1: the columns are split by tabs", "commas"),
        ("id,hieght\n", "cars.csv, row 1: unknown column 'hieght'", "did you mean 'height'?"),
        ("id,height_cm\n", "cars.csv, row 1: unknown column 'height_cm'", "'height_mm'?"),
        ("id,colour\n", "cars.csv, row 1: unknown column 'colour'", "known are id, name, kind"),
        ("id,height,Height\n", "cars.csv, row 1: column 'height' stands twice", "keep one"),
        ("id,height,height_mm\n", "cars.csv, row 1: column 'height' stands twice", "'height_mm'"),
        ("id,,height\n", "cars.csv, row 1: column 2 has no name", ""),
        ("id,height,width\n27,,\n", "cars.csv, row 1: has no column 'length'", "needed are id"),
        (f"{GOOD}\n", "cars.csv, row 1: unknown column '27'", "known are"),
        # Rows
        (f"{HEADER}\n{GOOD},7\n", "cars.csv, row 2: has 6 cells", "names 5 columns; '7' is one"),
        (f'{HEADER}\n{GOOD}\n"28,1\n', "cars.csv, row 3: a quotation mark is opened", "written"),
        (f'{HEADER}\n{GOOD}\n"28"x,1\n', "cars.csv, row 3: text follows a closing", "written"),
        (f"{HEADER}\n{GOOD}\n{'x' * 200_000}\n", "cars.csv, row 3: field larger than", ""),
        (
            f"{HEADER}\n27,,112 mm,650 mm,400 mm\n",
            "cars.csv, row 2, height: is blank",
            "its height",
        ),
        (f"{HEADER}\n27,1 mm\n", "cars.csv, row 2, width: is blank", "every car needs its width"),
        (f"{HEADER}\n,216 mm,,,\n", "cars.csv, row 2, id: is blank", "painted on it|the car"),
        (
            f"{HEADER}\n{GOOD}\n\n{GOOD}\n",
            "cars.csv, row 4, id: '27' stands in row 2 too",
            "unique",
        ),
        ("id,height,width,length\n27,1 mm,1 mm,1 mm\n", "cars.csv, row 2, wheelbase: is", "frames"),
        # A figure by itself
        (_with("height", "tall"), "cars.csv, row 3, height: 'tall' ", "write"),
        (_with("height", "216"), "cars.csv, row 3, height: '216' has no unit", "height_mm or"),
        (_with("height", "8,5 in"), "cars.csv, row 3, height: '8,5 in' has a comma", "8.5 in"),
        (_with("height", "1,234.5 mm"), "cars.csv, row 3, height: '1,234.5 mm'", "write"),
        (_with("height", "nan"), "cars.csv, row 3, height: 'nan'", "write"),
        (_with("height", "inf mm"), "cars.csv, row 3, height: 'inf mm'", "write"),
        (_with("height", "1e99 mm"), "cars.csv, row 3, height: '1e99 mm' is over 100 km", "unit"),
        (_with("height", "0 mm"), "cars.csv, row 3, height: '0 mm' must be more than 0", ""),
        (_with("width", "-112 mm"), "cars.csv, row 3, width: '-112 mm' must be more than 0", ""),
        (_with("underside", "-1 mm"), "cars.csv, row 3, underside: '-1 mm' must not be neg", ""),
        (_with("height", "8 1/0 in"), "cars.csv, row 3, height: '8 1/0 in' divides by zero", "1/2"),
        (_with("height_mm", "8 1/2"), "cars.csv, row 1: column 'height' stands twice", ""),
        (_with("scale", "22,5"), "cars.csv, row 3, scale: '22,5' is not a scale", "like 1:22.5"),
        (_with("scale", "1:0"), "cars.csv, row 3, scale: '1:0' is not a scale", "between 1:1"),
        (_with("scale", "", "full-size"), "cars.csv, row 3, scale: is blank", "like 1:22.5"),
        (_with("gauge", "1435 mm"), "cars.csv, row 3, gauge: '1435 mm' is no model", "blank"),
        (_with("dimensions", "half"), "cars.csv, row 3, dimensions: 'half' must be", "'full-size'"),
        (_with("weight", "heavy"), "cars.csv, row 3, weight: 'heavy' must be", "like 850 g"),
        (
            _with("truck_swing", "12 mm"),
            "cars.csv, row 3, truck_swing: '12 mm' is not an",
            "12 deg",
        ),
        (_with("truck_swing", "0"), "cars.csv, row 3, truck_swing: '0' must be more than 0", "90"),
        (_with("truck_swing", "91 deg"), "cars.csv, row 3, truck_swing: '91 deg' must be", "90"),
        (_with("truck_swing", "-3"), "cars.csv, row 3, truck_swing: '-3' is not an angle", "12.5"),
        (_with("truck_swing", "9" * 50), "cars.csv, row 3, truck_swing: '999", "in degrees"),
        (
            _with("truck_swing_mm", "3"),
            "cars.csv, row 1: unknown column 'truck_swing_mm'",
            "did you mean 'truck_swing'?",
        ),
        (_with("coupler_angle", "9 9"), "cars.csv, row 3, coupler_angle: '9 9' is not an", "12.5"),
        (_with("coupler_angle", "nan"), "cars.csv, row 3, coupler_angle: 'nan' is not an", "12.5"),
        (_with("coupler_swing", "8"), "cars.csv, row 3, coupler_swing: '8' has no unit", "_mm or"),
        (_with("coupler_swing", "-1mm"), "cars.csv, row 3, coupler_swing: '-1mm' must not be", ""),
        (_with("coupler_drop", "0 mm"), "cars.csv, row 3, coupler_drop: '0 mm' must be more", ""),
        (_with("measured_on", "31.5.26"), "cars.csv, row 3, measured_on: '31.5.26'", "2026-05-31"),
        (_with("measured_on", "2026-02-30"), "cars.csv, row 3, measured_on: '2026-0", "a date"),
        # Figures that contradict each other
        (_with("wheelbase", "700 mm"), "cars.csv, row 3, car '28': the wheelbase (700 mm)", "body"),
        (_with("truck_wheelbase", "400 mm"), "cars.csv, row 3, car '28': the truck wheel", "truck"),
        (_with("front_overhang", "300 mm"), "cars.csv, row 3, car '28': overhang and", "longer"),
        (_with("length_over_couplers", "1 mm"), "cars.csv, row 3, car '28': the length ov", "body"),
        (_with("underside", "216 mm"), "cars.csv, row 3, car '28': the underside (216 mm)", "top"),
        (
            _with("tolerance", "0.3 m"),
            "cars.csv, row 3, car '28': the tolerance (300 mm)",
            "height",
        ),
        (_with("minimum_radius", "9 cm"), "cars.csv, row 3, car '28': the least radius", "200.0"),
        (
            _with("wheelbase", "700 mm", "full-size"),
            "cars.csv, row 3, car '28': the wheelbase (31.1111 mm)",
            "(full size divided by 22.5)",
        ),
    ],
)
def test_a_bad_file_of_cars(tmp_path: Path, cars: str | bytes, beginning: str, right: str) -> None:
    line = _refusal(tmp_path, cars)
    assert line.startswith(beginning)
    assert any(words in line for words in right.split("|"))


@pytest.mark.parametrize(
    ("blocks", "beginning", "right"),
    [
        ("name,from\n", "blocks.csv, row 1: has no column 'car'", "needed are car, from, to, top"),
        ("car,frm\n", "blocks.csv, row 1: unknown column 'frm'", "did you mean 'from'?"),
        (f"{BLOCKS}\n72,0mm,9mm,1mm,1mm,9mm\n", "blocks.csv, row 2, car: there is no car '72'", ""),
        (f"{BLOCKS}\n,0mm,9mm,1mm,1mm,9mm\n", "blocks.csv, row 2, car: is blank", "id of the car"),
        (f"{BLOCKS}\n27,,9mm,1mm,1mm,9mm\n", "blocks.csv, row 2, from: is blank", "its from"),
        (
            f"{BLOCKS}\n27,0mm,9mm,1mm,,9mm\n",
            "blocks.csv, row 2, right: is blank",
            "width for both",
        ),
        (f"{BLOCKS}\n27,0mm,9 m,?,1mm,9mm\n", "blocks.csv, row 2, left: '?'", "write"),
        (
            f"{BLOCKS},width\n27,0mm,650mm,56mm,56mm,216mm,112mm\n",
            "blocks.csv, row 2, width: '112mm' stands beside left or right",
            "write one",
        ),
        (
            f"{BLOCKS},frame\n27,0mm,650mm,56mm,56mm,216mm,boiler\n",
            "blocks.csv, row 2: block 1 belongs to frame 'boiler', but the car has no frames",
            "",
        ),
        (f"{BLOCKS}\n27,9mm,9mm,56mm,56mm,216mm\n", "blocks.csv, row 2: to (9 mm) must be", "from"),
        (f"{BLOCKS}\n27,0mm,650mm,-9mm,9mm,216mm\n", "blocks.csv, row 2: left (-9 mm) and", "no w"),
        (f"{BLOCKS}\n27,-1mm,650mm,56mm,56mm,216mm\n", "blocks.csv, row 2, from: '-1mm' must", ""),
        (f"{BLOCKS}\n27,0mm,650mm,56mm,56mm,0mm\n", "blocks.csv, row 2, top: '0mm' must be", ""),
        # As boxes they are possible; as the shape of this car they are not.
        (f"{BLOCKS}\n27,0mm,650mm,56mm,56mm,230mm\n", "cars.csv, row 2, car '27': the tallest", ""),
        (f"{BLOCKS}\n27,0mm,650mm,40mm,40mm,216mm\n", "cars.csv, row 2, car '27': the blocks", ""),
        (f"{BLOCKS}\n27,0mm,600mm,56mm,56mm,216mm\n", "cars.csv, row 2, car '27': the blocks", ""),
    ],
)
def test_a_bad_file_of_blocks(tmp_path: Path, blocks: str, beginning: str, right: str) -> None:
    line = _refusal(tmp_path, f"{HEADER}\n{GOOD}\n", blocks)
    assert line.startswith(beginning)
    assert right in line


def test_a_block_is_found_in_its_row_when_cars_and_blocks_are_in_different_order(
    tmp_path: Path,
) -> None:
    cars = f"{HEADER}\n{GOOD}\n28,216 mm,112 mm,650 mm,400 mm\n"
    good, bad = "0mm,650mm,56mm,56mm,216mm", "0mm,650mm,56mm,56mm,-3mm"
    line = _refusal(tmp_path, cars, f"{BLOCKS}\n28,{good}\n\n28,{bad}\n27,{good}\n")
    assert line.startswith("blocks.csv, row 4, top: '-3mm' must be more than 0")


SLUNG = """\
G7,rear unit,560 mm,track,440 mm,track
G7,front unit,180 mm,track,60 mm,track
G7,boiler,470 mm,rear unit,150 mm,front unit
"""


@pytest.mark.parametrize(
    ("old", "new", "beginning", "right"),
    [
        # The file as a whole
        (FRAMES, "car,frame", "frames.csv, row 1: has no column 'rear_support'", "needed are car"),
        ("front_on", "front", "frames.csv, row 1: unknown column 'front'", "'front_on'?"),
        ("G7,boiler,4", "G8,boiler,4", "frames.csv, row 4, car: there is no car 'G8'", "27, G7"),
        (
            "G7,boiler,4",
            ",boiler,4",
            "frames.csv, row 4, car: is blank",
            "that the frame belongs to",
        ),
        # A cell by itself
        ("boiler,4", ",4", "frames.csv, row 4, frame: is blank", "needs a name"),
        ("boiler,4", "track,4", "frames.csv, row 4, frame: 'track' means the track itself", "else"),
        ("470 mm", "", "frames.csv, row 4, rear_support: is blank", "from the front end"),
        ("470 mm", "long", "frames.csv, row 4, rear_support: 'long'", "write"),
        (
            "470 mm",
            "470",
            "frames.csv, row 4, rear_support: '470' has no unit",
            "rear_support_mm or",
        ),
        ("150 mm", "-1 mm", "frames.csv, row 4, front_support: '-1 mm' must not be negative", ""),
        ("470 mm", "1e9 mm", "frames.csv, row 4, rear_support: '1e9 mm' is over", ""),
        ("470 mm", "200 m", "frames.csv, row 4, rear_support: '200 m' is absurd", "100 m"),
        (",60 mm,track", ",60 mm,", "frames.csv, row 3, front_on: is blank", "write track, or"),
        # Frames that contradict each other, or cannot stand
        (
            "150 mm,front unit",
            "150 mm,fornt unit",
            "frames.csv, row 4: frame 'boiler' rests on 'fornt unit', which is no frame of this",
            "did you mean 'front unit'?",
        ),
        (
            ",60 mm,track",
            ",60 mm,Track",
            "frames.csv, row 3: frame 'front unit' rests on",
            "'track'?",
        ),
        (
            "G7,boiler,4",
            "G7,rear unit,4",
            "frames.csv, row 4: two frames are called 'rear unit'",
            "",
        ),
        (
            "470 mm",
            "150 mm",
            "frames.csv, row 4: frame 'boiler': the front support (150 mm) is",
            "",
        ),
        (
            "180 mm",
            "440 mm",
            "frames.csv, row 3: frames 'rear unit' and 'front unit' have axles at the same place",
            "(440 mm)",
        ),
        (
            "560 mm",
            "621 mm",
            "frames.csv, row 2: frame 'rear unit': the rear support (621 mm)",
            "620",
        ),
        (
            "560 mm,track",
            "560 mm,boiler",
            "frames.csv, row 2: frames 'rear unit', 'boiler' form a loop",
            "",
        ),
        # The car's own row
        (
            ",400 mm\nG7",
            ",400 mm\nG8,1 mm,1 mm,9 mm,\nG7",
            "cars.csv, row 3, wheelbase: is blank",
            "frames.csv",
        ),
        (
            "620 mm,",
            "620 mm,300 mm",
            "cars.csv, row 3, car 'G7': the wheelbase (300 mm) stands beside frames",
            "leave it blank",
        ),
        ("620 mm,", "0 mm,", "cars.csv, row 3, length: '0 mm' must be more than 0", ""),
        ("200 mm,100 mm", "1 mm,100 mm", "cars.csv, row 3, car 'G7': the tolerance (1 mm)", ""),
        # Blocks
        ("G7,boiler,0", "G7,boilre,0", "blocks.csv, row 2: block 1 belongs to frame 'boilre'", "?"),
        (
            "G7,boiler,0",
            "27,boiler,0",
            "blocks.csv, row 2: block 1 belongs to frame 'boiler'",
            "no",
        ),
        (
            "470 mm,rear unit,150 mm,front unit",
            "170 mm,front unit,150 mm,front unit",
            "blocks.csv, row 3: block 2 does not say to which frame it belongs: rear unit, boiler",
            "",
        ),
    ],
)
def test_a_bad_file_of_frames(
    tmp_path: Path, old: str, new: str, beginning: str, right: str
) -> None:
    files = [
        f"{HEADER}\n{GOOD}\nG7,200 mm,100 mm,620 mm,\n",
        f"car,frame,{BLOCKS[4:]}\nG7,boiler,0mm,620mm,50mm,50mm,200mm\n"
        "G7,,0mm,620mm,50mm,50mm,200mm\n",
        f"{FRAMES}\n{SLUNG}",
    ]
    assert sum(old in text for text in files) == 1
    line = _refusal(tmp_path, *(text.replace(old, new, 1) for text in files))
    assert line.startswith(beginning)
    assert right in line


def test_a_framed_car_without_its_file_of_frames(tmp_path: Path) -> None:
    line = _refusal(tmp_path, f"{HEADER}\n{GOOD}\nG7,200 mm,100 mm,620 mm,\n")
    assert line.startswith("cars.csv, row 3, wheelbase: is blank; it is needed: between truck")
    assert "describe the car in frames.csv" in line


def test_the_topmost_row_is_told_first_whatever_the_column(tmp_path: Path) -> None:
    rows = "27,216 mm,112 mm,650 mm,tall\n28,tall,112 mm,650 mm,400 mm\n"
    assert _refusal(tmp_path, f"{HEADER}\n{rows}").startswith("cars.csv, row 2, wheelbase: 'tall'")


def test_rows_are_numbered_as_a_spreadsheet_does(tmp_path: Path) -> None:
    """Empty rows count, line ends inside a cell do not."""
    cars = f'{HEADER},notes\n{GOOD},"two\nlines"\n\n28,tall,112 mm,650 mm,400 mm,\n'
    assert _refusal(tmp_path, cars).startswith("cars.csv, row 4, height: 'tall'")


def test_an_id_may_stand_twice_far_apart(tmp_path: Path) -> None:
    rows = "".join(f"{n},216 mm,112 mm,650 mm,400 mm\n" for n in range(1500))
    line = _refusal(tmp_path, f"{HEADER}\n{rows}3,216 mm,112 mm,650 mm,400 mm\n")
    assert line.startswith("cars.csv, row 1502, id: '3' stands in row 5 too")


def test_an_absurd_number_of_figures_is_shown_shortened(tmp_path: Path) -> None:
    line = _refusal(tmp_path, _with("dimensions", "x" * 5000))
    assert line.startswith("cars.csv, row 3, dimensions: 'xxx")
    assert len(line) < 200


def test_a_fraction_under_a_column_of_millimetres(tmp_path: Path) -> None:
    cars = "id,height_mm,width_mm,length_mm,wheelbase_mm\n27,8 1/2,112,650,400\n"
    line = _refusal(tmp_path, cars)
    assert line.startswith("cars.csv, row 2, height_mm: '8 1/2' is a fraction where millimetres")


def test_a_file_that_cannot_be_read(tmp_path: Path) -> None:
    for path, reason in ((tmp_path, "directory"), (tmp_path / "no.csv", "No such file")):
        with pytest.raises(DataError, match=f"{path}: cannot be read: .*{reason}"):
            read_cars(path)
