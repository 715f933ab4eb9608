"""`size` with its limits and its timber, and `helix setout` with the sheet that comes back."""

import csv
import io
import math
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from tests.cli.conftest import Clearance

MILL = ("--helix", "mill.toml", "--cars", "cars.csv", "--blocks", "blocks.csv")
TIMBER = ("--track-height", "12 mm", "--deck-stock", "9=8.5, 6 mm", "--beam-stock", "24x15 mm")


# --- size -----------------------------------------------------------------------------------------


@pytest.mark.usefixtures("files")
def test_the_json_of_size_has_all_that_is_built_from(clearance: Clearance) -> None:
    data = clearance("size", *MILL, *TIMBER, "--json").data
    assert data["stack"]["parts"] == [
        {
            "part": "rail, tie and roadbed",
            "thickness_mm": 12.0,
            "sold_mm": None,
            "measured": True,
        },
        {"part": "deck board", "thickness_mm": 6.0, "sold_mm": 6.0, "measured": False},
        {
            "part": "beam, 24 mm along the track",
            "thickness_mm": 15.0,
            "sold_mm": 15.0,
            "measured": False,
        },
    ]
    assert data["stack"]["depth_mm"] == 33.0
    assert_allclose(data["headroom_mm"] + 33, data["rise_per_turn_mm"])
    assert [choice["depth_mm"] for choice in data["stack_choices"]] == [35.5, 33.0]
    assert data["step_mm"] == data["rise_per_turn_mm"] / 10
    for station, bracket in enumerate(data["brackets"]):
        assert bracket["station"] == station
        assert_allclose(bracket["railhead_mm"], station * data["step_mm"], atol=1e-4)
    assert len(data["brackets"]) == 24
    radii = {"near": data["radius_mm"], "far": data["radius_mm"] + data["track_spacing_mm"]}
    for track, radius in radii.items():
        run = data["turns"] * math.hypot(2 * math.pi * radius, data["rise_per_turn_mm"])
        assert_allclose(data["run_mm"][track], run, atol=1e-3)
    assert {cost["dimension"] for cost in data["costs"]} >= {"rise_per_turn", "inside", "outside"}
    assert data["never_pass"] == []


@pytest.mark.usefixtures("files")
def test_what_a_governing_car_costs_is_what_is_saved_without_it(clearance: Clearance) -> None:
    whole = clearance("size", *MILL, "--json").data
    rows = csv.DictReader(io.StringIO(Path("cars.csv").read_text("utf-8")))
    cars = [row["id"] for row in rows if row["id"] != "H 8"]  # that one is of another gauge
    for cost in whole["costs"]:
        others = [name for name in cars if name != cost["car"]]
        less = clearance("size", *others, *MILL, "--json").data
        saved = whole[f"{cost['dimension']}_mm"] - less[f"{cost['dimension']}_mm"]
        if cost["dimension"] in ("inside", "outside"):
            # Without the car the curve may be another as well; that is not this dimension's cost.
            assert abs(saved - cost["costs_mm"]) <= 2
        else:
            assert saved == cost["costs_mm"]


@pytest.mark.usefixtures("files")
@pytest.mark.parametrize("count", ["1", "2", "3"])
def test_tracks(count: str, clearance: Clearance) -> None:
    data = clearance("size", *MILL, "--tracks", count, "--write", "next.toml", "--json").data
    assert (data["track_spacing_mm"] is None) == (count == "1")
    assert len(data["run_mm"]) == int(count)
    named = {"1": ["single"], "2": ["near", "far"], "3": ["inner", "middle", "outer"]}
    assert list(data["run_mm"]) == named[count]
    assert clearance("check", "--helix", "next.toml", *MILL[2:]).status == 0


@pytest.mark.usefixtures("files")
def test_a_radius_is_half_a_diameter(clearance: Clearance) -> None:
    by_radius = clearance("size", *MILL, "--max-radius", "700 mm")
    by_diameter = clearance("size", *MILL, "--max-diameter", "1400 mm")
    assert by_radius.status == by_diameter.status == 1
    assert by_radius.err == by_diameter.err
    assert "1400 mm contradicts" in by_radius.err


@pytest.mark.usefixtures("files")
def test_the_text_of_size_fits_a_page(clearance: Clearance) -> None:
    text = clearance("size", *MILL, *TIMBER, "--max-diameter", "4 m").out
    assert max(map(len, text.splitlines())) <= 80
    for words in (
        "Stack-up, from the railhead down",
        "as sold, not measured",
        "9 mm and 24x15 mm",
        "Railhead at every bracket",
        "The same as a curve",
        "What each governing car costs",
        "too wide",
        "Caution:",
    ):
        assert words in text
    points = [line.index("*") for line in text.splitlines() if ".*" in line]
    assert len(points) == 6
    assert points == sorted(points, reverse=True)  # the gentler, the wider


BAD = {
    "comma": ("--deck-stock", "12,18 mm", ["'12,18 mm'", "blank after a comma"]),
    "no unit": ("--deck-stock", "12, 18", ["--deck-stock", "'12' has no unit"]),
    "nothing": ("--deck-stock", "12,, 18 mm", ["nothing between two commas"]),
    "two measured": ("--deck-stock", "18=17=16 mm", ["more than one ="]),
    "zero": ("--deck-stock", "0 mm", ["'0 mm'", "no thickness"]),
    "no section": ("--beam-stock", "38 mm", ["'38 mm' is no section", "38x24 mm"]),
    "a word": ("--beam-stock", "twox4 in", ["--beam-stock"]),
    "turns": ("--max-turns", "many", ["--max-turns", "'many'"]),
    "tracks": ("--tracks", "0", ["--tracks"]),
    "radius": ("--max-radius", "-2 m", ["--max-radius", "more than 0"]),
}


@pytest.mark.usefixtures("files")
@pytest.mark.parametrize("name", BAD)
def test_bad_usage(name: str, clearance: Clearance) -> None:
    option, value, words = BAD[name]
    ended = clearance("size", *MILL, f"{option}={value}")
    assert (ended.status, ended.out) == (2, "")
    assert len(ended.err.splitlines()) == 1
    for word in words:
        assert word in ended.err


@pytest.mark.usefixtures("files")
def test_what_lacks_is_said(clearance: Clearance) -> None:
    ended = clearance("size", *MILL, "--deck-stock", "12 mm")
    assert ended.status == 1
    assert "--track-height" in ended.err
    ended = clearance("size", *MILL, "--max-radius", "1 m", "--max-diameter", "2 m")
    assert ended.status == 2
    assert "write one of them" in ended.err


@pytest.mark.usefixtures("files")
def test_units_of_timber(clearance: Clearance) -> None:
    """A unit holds for what is before it; bare numbers have that of --units."""
    said = []
    for timber, units in (
        ("1/2, 3/4 in", ()),
        ('1/2", 3/4"', ()),
        ("12.7 mm, 19.05 mm", ()),
        ("1/2, 3/4", ("--units", "in")),
    ):
        options = ("--track-height", "12 mm", "--deck-stock", timber, *units)
        data = clearance("size", *MILL[:2], *MILL[2:], *options, "--json").data
        said.append([choice["parts"][1]["sold_mm"] for choice in data["stack_choices"]])
    assert said == [[12.7, 19.05]] * 4


@pytest.mark.usefixtures("files")
def test_no_file_of_somebody_else_is_written_over_by_a_design(clearance: Clearance) -> None:
    drawn = Path("mill.toml").read_text(encoding="utf-8")
    ended = clearance("size", *MILL, "--write", "mill.toml")
    assert (ended.status, ended.out) == (1, "")
    assert ended.err == (
        "clearance: mill.toml: is there already, and is not a design that size wrote; "
        "name another file\n"
    )
    assert Path("mill.toml").read_text(encoding="utf-8") == drawn
    for _ in range(2):  # over its own it may
        assert clearance("size", *MILL, "--write", "next.toml").status == 0


@pytest.mark.usefixtures("files")
def test_what_the_design_has_not_is_said(clearance: Clearance) -> None:
    lead = '\n[[leads]]\nat = "foot"\nlength = "1 m"\ngrade = 0.0\n'
    text = Path("mill.toml").read_text(encoding="utf-8")
    assert "[[leads]]" not in text
    Path("leads.toml").write_text(text + lead, encoding="utf-8")
    some = ("--helix", "leads.toml", *MILL[2:], "--tracks", "3")
    assert clearance("size", *some, "--json").data["left_behind"] == ["leads", "obstacles"]
    words = " ".join(clearance("size", *some).out.split())
    assert "Sized without the leads and obstacles of the helix file; the design has none." in words
    assert "write the leads into the design, and check it again" in words


@pytest.mark.usefixtures("files")
@pytest.mark.parametrize(
    ("option", "value", "words"),
    [
        ("--tracks", "two", "'two' is no whole number from 1 to 9"),
        ("--tracks", "10", "'10' is no whole number from 1 to 9"),
        ("--deck-stock", " ", 'is blank; write sizes like "12, 18 mm"'),
    ],
)
def test_what_size_cannot_read(option: str, value: str, words: str, clearance: Clearance) -> None:
    ended = clearance("size", *MILL, option, value)
    assert (ended.status, ended.out) == (2, "")
    assert words in ended.err
    assert ended.err.count("\n") == 1


# --- setting out ----------------------------------------------------------------------------------


@pytest.mark.usefixtures("club")
def test_json_of_setout(clearance: Clearance) -> None:
    data = clearance("helix", "setout", "Mill Lane helix", "--base", "500 mm", "--json").data
    assert [(c["kind"], c["track"], c["radius_mm"]) for c in data["circles"]] == [
        ("inside posts", "", 820.0),
        ("track", "near", 900.0),
        ("track", "far", 1045.0),
        ("outside posts", "", 1130.0),
    ]
    for circle in data["circles"]:
        assert_allclose(
            circle["chord_mm"], 2 * circle["radius_mm"] * math.sin(math.pi / 10), atol=1e-4
        )
    assert [b["station"] for b in data["brackets"]] == list(range(24))
    fifth = data["brackets"][5]
    # 210 mm a turn of 10 brackets; 20 mm of deck and 15 of beam.
    assert (fifth["turn"], fifth["angle_deg"], fifth["railhead_mm"]) == (1, 180, 105)
    assert (fifth["deck_mm"], fifth["post_mm"], fifth["headroom_mm"]) == (85, 570, 175)
    assert data["brackets"][14]["headroom_mm"] is None
    assert data["brackets"][-1]["rise_mm"] is None
    assert clearance("helix", "setout", "mill.toml", "--base", "500 mm", "--json").data == data


@pytest.mark.usefixtures("club")
def test_csv_of_setout(clearance: Clearance) -> None:
    text = clearance("helix", "setout", "mill.toml", "--format", "csv").out
    rows = list(csv.DictReader(io.StringIO(text), strict=True))
    assert len(rows) == 24 * 4
    assert {row["circle"] for row in rows} == {"inside posts", "track", "outside posts"}
    assert all((row["chord_mm"] == "") == (row["station"] == "23") for row in rows)


@pytest.mark.usefixtures("club")
@pytest.mark.parametrize("options", [(), ("--sheet",)])
def test_text_fits_a_page(options: tuple[str, ...], clearance: Clearance) -> None:
    text = clearance("helix", "setout", "mill.toml", *options).out
    assert max(map(len, text.splitlines())) <= 80
    assert "Caution:" in text
    assert "headroom" in text


@pytest.mark.usefixtures("club")
def test_the_sheet_comes_back_as_a_survey(clearance: Clearance) -> None:
    """Blank as it is there is no survey in it; filled in here and there it is one."""
    sheet = ("helix", "setout", "Mill Lane helix", "--sheet", "--format", "csv")
    blank = clearance(*sheet).out
    assert blank.splitlines()[0] == "station,track,railhead,headroom,taken_on,taken_by"
    assert len(blank.splitlines()) == 1 + 24 * 2
    Path("survey.csv").write_text(blank, encoding="utf-8")
    ended = clearance("helix", "survey", "Mill Lane helix", "survey.csv")
    assert ended.status == 1
    assert "holds no reading" in ended.err
    filled = blank.replace("\n3,far,,,,\n", "\n3,far,63 mm,176 mm,2026-05-31,PL\n")
    filled = filled.replace("\n7,near,,,,\n", "\n7,near,,174 mm,2026-05-31,PL\n")
    filled = filled.replace("\n8,near,,,,\n", "\n8,near,,,2026-05-31,PL\n")
    Path("survey.csv").write_text(filled, encoding="utf-8")
    ended = clearance("helix", "survey", "Mill Lane helix", "survey.csv")
    assert ended.status == 0
    assert "2 readings, of 2026-05-31" in ended.err


@pytest.mark.usefixtures("club")
def test_a_sheet_in_millimetres_takes_bare_numbers(clearance: Clearance) -> None:
    blank = clearance("helix", "setout", "mill.toml", "--sheet", "--units", "mm", "--format", "csv")
    assert blank.out.startswith("station,track,railhead_mm,headroom_mm,")
    Path("survey.csv").write_text(blank.out.replace("\n3,far,,", "\n3,far,63,176"), "utf-8")
    ended = clearance("helix", "survey", "Mill Lane helix", "survey.csv")
    assert "1 reading, without a date" in ended.err


@pytest.mark.usefixtures("club")
def test_a_design_is_set_out_as_it_was_written(clearance: Clearance) -> None:
    sized = clearance("size", "--write", "next.toml", "--json").data
    data = clearance("helix", "setout", "next.toml", "--json").data
    shown = [{key: b[key] for key in sized["brackets"][0]} for b in data["brackets"]]
    assert shown == sized["brackets"]
    inside, outside = data["circles"][0]["radius_mm"], data["circles"][-1]["radius_mm"]
    assert inside == sized["radius_mm"] - sized["inside_mm"]
    assert 2 * outside == sized["footprint_mm"]


@pytest.mark.usefixtures("club")
def test_bad_setout(clearance: Clearance) -> None:
    for options, words in (
        (("Mill Lane helix", "--sheet", "--base", "1 m"), "leave one of them out"),
        (("Mill Lane helix", "--base", "40"), "has no unit"),
        (("Mole Lane helix",), "Mole Lane helix"),
        (("nowhere.toml",), "nowhere.toml"),
    ):
        ended = clearance("helix", "setout", *options)
        assert ended.status in (1, 2)
        assert words in ended.err
        assert len(ended.err.splitlines()) == 1


@pytest.mark.usefixtures("files")
def test_heights_in_inches_for_those_who_work_in_them(clearance: Clearance) -> None:
    """Bracket 1 stands 21 mm up, 13/16 in; its headroom, 175 mm, is 6 7/8 in and no more."""
    out = clearance("helix", "setout", "mill.toml", "--units", "in").out
    row = next(text for text in out.splitlines() if text.startswith("1 "))
    assert "13/16 in" in row
    assert row.rstrip().endswith("6 7/8 in")
    assert "mm" not in row
    sheet = clearance("helix", "setout", "mill.toml", "--sheet", "--units", "in").out
    row = next(text for text in sheet.splitlines() if text.startswith("1 "))
    assert "13/16 in" in row
    assert "6 7/8 in" in row
    sized = clearance("size", *MILL, "--units", "in").out
    table = sized.partition("Railhead at every bracket")[2].partition("Greatest grade")[0]
    assert " in" in table
    assert "mm" not in table
