"""survey.csv: what a person writes, what is written back, and what is refused in one line."""

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from numpy.testing import assert_allclose

from catalog.errors import DataError
from catalog.lengths import Unit
from catalog.survey import Reading, Survey
from catalog.survey_csv import read_survey, write_survey_csv
from tests.catalog.possible import surveys

HEADER = "station,track,railhead,headroom,taken_on,taken_by"


def _read(folder: Path, text: str, units: Unit | None = None) -> Survey:
    path = folder / "survey.csv"
    path.write_bytes(text.encode())
    return read_survey(path, units)


def test_what_a_person_writes(tmp_path: Path) -> None:
    survey = _read(
        tmp_path,
        f"{HEADER}\n-6,,0 mm,,2026-05-30,Ann\n7.5,inner,17.81 cm,,2026-05-31,Bob\n\n"
        "8,,,8 3/4 in,,\n9, outer ,-2 mm,220 mm,,\n",
    )
    assert survey == Survey(
        readings=(
            Reading(station=-6, railhead_mm=0, taken_on=date(2026, 5, 30), taken_by="Ann"),
            Reading(
                station=7.5,
                track="inner",
                railhead_mm=178.1,
                taken_on=date(2026, 5, 31),
                taken_by="Bob",
            ),
            Reading(station=8, headroom_mm=222.25),
            Reading(station=9, track="outer", railhead_mm=-2, headroom_mm=220),
        )
    )
    assert survey.taken_on == date(2026, 5, 31)


@pytest.mark.parametrize(
    ("text", "units"),
    [
        ("station,railhead_mm\n7,168\n7.5,178\n", None),
        ("station,railhead\n7,168\n7.5,178\n", "mm"),
        ("railhead;station\n168 mm;7\n178 mm;7,5\n", None),
        ("Station,Railhead mm\n+7,168\n75e-1,178\n", None),
        ("\ufeffstation,track,railhead_mm,headroom\n7,,168,\n7.50,,178\n", None),
    ],
)
def test_other_ways_to_write_the_same(tmp_path: Path, text: str, units: Unit | None) -> None:
    survey = _read(tmp_path, text, units)
    assert [(r.station, r.railhead_mm) for r in survey.readings] == [(7, 168), (7.5, 178)]


def test_inches_by_column(tmp_path: Path) -> None:
    """1 in is 25.4 mm exactly (international yard and pound agreement, 1959)."""
    (reading,) = _read(tmp_path, "station,headroom_in\n7,8 3/4\n").readings
    assert_allclose(reading.headroom_mm, 8.75 * 25.4)


def test_a_row_without_figures_is_a_place_that_nobody_measured(tmp_path: Path) -> None:
    """As on a sheet that was filled in here and there: it is skipped, even dated and signed."""
    rows = "5,inner,,,2026-05-31,PL\n6,,126 mm,,,\n7,outer,,,,\n8,outer,,220 mm,2026-05-31,PL\n"
    survey = _read(tmp_path, f"{HEADER}\n{rows}")
    assert [(r.station, r.track) for r in survey.readings] == [(6, ""), (8, "outer")]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One folder for all examples of a property."""
    return tmp_path_factory.mktemp("survey")


@given(surveys())
def test_what_is_written_reads_back_equal(folder: Path, survey: Survey) -> None:
    assert _read(folder, write_survey_csv(survey)) == survey


def test_the_header_is_the_documented_one() -> None:
    survey = Survey(readings=(Reading(station=7, railhead_mm=168),))
    assert write_survey_csv(survey).splitlines() == [HEADER, "7,,168 mm,,,"]


@pytest.mark.parametrize(
    ("text", "beginning", "right"),
    [
        # The file as a whole
        ("", ": is empty", "first row names the columns"),
        (f"{HEADER}\n", ": holds no reading", "write a row a station"),
        (f"{HEADER}\n\n,,,\n", ": holds no reading", "write a row a station"),
        ("railhead\n1 mm\n", ", row 1: has no column 'station'", "needed are station"),
        ("station,railhaed\n", ", row 1: unknown column 'railhaed'", "did you mean 'railhead'?"),
        ("station,railhead,railhead_mm\n", ", row 1: column 'railhead' stands twice", "keep one"),
        ("station,railhead\n7,1 mm,3\n", ", row 2: has 3 cells", "'3' is one too many"),
        # A cell by itself
        (f"{HEADER}\n,,1 mm\n", ", row 2, station: is blank", "like 7 or 7.5"),
        (f"{HEADER}\nseven,,1 mm\n", ", row 2, station: 'seven' is not the number of a br", "7.5"),
        (f"{HEADER}\n7 1/2,,1 mm\n", ", row 2, station: '7 1/2' is not the number of a br", "7.5"),
        (f"{HEADER}\nnan,,1 mm\n", ", row 2, station: 'nan' is not the number of a bracket", "7"),
        (f"{HEADER}\n1_0,,1 mm\n", ", row 2, station: '1_0' is not the number of a bracket", "7"),
        (f"{HEADER}\n1e999,,1 mm\n", ", row 2, station: '1e999' must be a real number", ""),
        (f'{HEADER}\n"7,5",,1 mm\n', ", row 2, station: '7,5' is not the number of a brac", "7.5"),
        (f"{HEADER}\n7,,168\n", ", row 2, railhead: '168' has no unit", "railhead_mm or"),
        (f"{HEADER}\n7,,high\n", ", row 2, railhead: 'high'", "write mm, cm"),
        (f"{HEADER}\n7,,200 m\n", ", row 2, railhead: '200 m' is absurd", "100 m"),
        (f"{HEADER}\n7,,,0 mm\n", ", row 2, headroom: '0 mm' must be more than 0", ""),
        (f"{HEADER}\n7,,,-220 mm\n", ", row 2, headroom: '-220 mm' must be more than 0", ""),
        (f"{HEADER}\n7,,1 mm,,31.5.26\n", ", row 2, taken_on: '31.5.26' must be a date", "2026-05"),
        (f"{HEADER}\n7,,1 mm,,2026-02-30\n", ", row 2, taken_on: '2026-02-30' must be a date", ""),
        # Rows
        (f"{HEADER}\n6,inner\n7,,,,2026-05-31,PL\n", ": holds no reading", "railhead or its head"),
        (f"{HEADER}\n6,,1 mm\nseven,inner\n", ", row 3, station: 'seven' is not the number", "7.5"),
        (
            f"{HEADER}\n5,,\n7,,1 mm\n6,,\n7,,2 mm\n",
            ", row 5, station: station 7 stands twice",
            "keep one",
        ),
        (
            f"{HEADER}\n7,,1 mm\n\n8,,2 mm\n7.0,,,220 mm\n",
            ", row 5, station: station 7 stands twice",
            "keep one",
        ),
        (
            f"{HEADER}\n7,inner,1 mm\n7,outer,1 mm\n7,,1 mm\n7,inner,1 mm\n",
            ", row 5, station: station 7 of track 'inner' stands twice",
            "keep one",
        ),
        # The topmost row is told first, whatever the column.
        (f"{HEADER}\n7,,high\nx,,1 mm\n", ", row 2, railhead: 'high'", ""),
    ],
)
def test_a_bad_survey(tmp_path: Path, text: str, beginning: str, right: str) -> None:
    with pytest.raises(DataError) as raised:
        _read(tmp_path, text)
    line = str(raised.value)
    assert "\n" not in line
    assert line.startswith(f"{tmp_path / 'survey.csv'}{beginning}")
    assert right in line


def test_a_survey_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(DataError, match=r"survey\.csv: cannot be read: No such file"):
        read_survey(tmp_path / "survey.csv")
