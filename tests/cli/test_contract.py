"""What every command promises to programs: docs/formats.md, "Commands" and "JSON".

The verdicts are reckoned again here, from the table in docs/theory.md (G7) alone.
"""

import csv
import io
import math
from collections.abc import Iterator
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from numpy.testing import assert_allclose

from catalog.cars_csv import read_cars
from catalog.store import Catalog
from tests.cli.conftest import Clearance

RUNNING_CHECKS = {"radius", "rigid_wheelbase", "truck_swing", "underside", "coupling", "recovery"}
CHECKS = RUNNING_CHECKS | {"overhead", "inner_side", "outer_side"}
HALF_DIGIT_MM = 0.5e-4  # numbers are rounded to 0.0001 mm
WORST_FIRST = ("does not fit", "marginal", "not measured", "passes")
MILL = ("--helix", "mill.toml", "--cars", "cars.csv", "--blocks", "blocks.csv")
BARE = ("--helix", "bare.toml", "--cars", "cars.csv", "--blocks", "blocks.csv")
SOURCES = {"mill": MILL, "bare": BARE}


def verdict_of(gap_mm: float | None, allowance_mm: float | None) -> str:
    """G7: passes, gap >= allowance; marginal, 0 < gap < allowance; does not fit, gap <= 0."""
    if gap_mm is None or allowance_mm is None:
        return "not measured"
    if gap_mm >= allowance_mm:
        return "passes"
    return "marginal" if gap_mm > 0 else "does not fit"


def worst(verdicts: list[str]) -> str:
    return min(verdicts, key=WORST_FIRST.index, default="passes")


def status_of(verdicts: list[str]) -> int:
    """0 all pass, 3 the worst is marginal or not measured, 4 something does not fit."""
    return {"passes": 0, "not measured": 3, "marginal": 3, "does not fit": 4}[worst(verdicts)]


def numbers_in(data: Any) -> Iterator[float]:
    if isinstance(data, dict):
        for value in data.values():
            yield from numbers_in(value)
    elif isinstance(data, list):
        for value in data:
            yield from numbers_in(value)
    elif isinstance(data, int | float) and not isinstance(data, bool):
        yield data


def assert_numbers(row: dict[str, Any], *names: str) -> None:
    for name in names:
        assert isinstance(row[name], float), (name, row)


# --- check ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("source", SOURCES)
def test_json_of_check(source: str, files: Path, clearance: Clearance) -> None:
    ended = clearance("check", *SOURCES[source], "--json")
    assert set(ended.data) == {"helix", "results", "survey"}
    assert ended.data["survey"] is None
    assert ended.data["helix"] in (files / f"{source}.toml").read_text("utf-8")
    results = ended.data["results"]
    assert [result["car"] for result in results] == [
        "A 1", "B 2", "C 3", "D 4", "E 5", "F 6", "G 7", "J 9",
    ]  # fmt: skip
    for result in results:
        assert set(result) == {"car", "verdict", "dimensions", "tracks", "remarks"}
        assert result["remarks"] == []
        assert result["dimensions"] == ("full-size" if result["car"] == "G 7" else "model")
        assert [track["track"] for track in result["tracks"]] == (
            ["near", "far"] if source == "mill" else ["only"]
        )
        assert result["verdict"] == worst([track["verdict"] for track in result["tracks"]])
        for track in result["tracks"]:
            assert set(track) == {"track", "verdict", "findings"}
            counting = [f for f in track["findings"] if f.get("lowers_the_verdict", True)]
            assert track["verdict"] == worst([finding["verdict"] for finding in counting])
    assert all(map(math.isfinite, numbers_in(ended.data)))
    assert ended.status == status_of([result["verdict"] for result in results])


def findings(data: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for result in data["results"]:
        for track in result["tracks"]:
            for finding in track["findings"]:
                yield result["car"], track["track"], finding


@pytest.mark.usefixtures("files")
@pytest.mark.parametrize("source", SOURCES)
def test_a_finding_says_what_was_compared(source: str, clearance: Clearance) -> None:
    data = clearance("check", *SOURCES[source], "--json").data
    seen = set()
    for _, _, finding in findings(data):
        seen.add((finding["check"], finding["verdict"]))
        assert finding["facing"] in ("front uphill", "front downhill")
        if finding["verdict"] == "not measured":
            assert finding["reason"]
            assert finding["gap_mm"] is None
            assert finding["allowance_mm"] is None
            if finding["check"] in RUNNING_CHECKS:
                assert finding["lowers_the_verdict"] is False
            continue
        assert "reason" not in finding
        assert_numbers(finding, "required_mm", "available_mm", "gap_mm", "allowance_mm")
        gap, allowance = finding["gap_mm"], finding["allowance_mm"]
        assert finding["verdict"] == verdict_of(gap, allowance)
        assert_allclose(
            gap, finding["available_mm"] - finding["required_mm"], rtol=0, atol=3 * HALF_DIGIT_MM
        )
        parts, tolerances = finding["allowance_parts"], finding["tolerance_parts"]
        assert_allclose(allowance, sum(parts.values()), rtol=0, atol=4 * HALF_DIGIT_MM)
        assert_allclose(
            parts.get("tolerances", 0.0),
            math.sqrt(sum(value**2 for value in tolerances.values())),
            rtol=0,
            atol=4 * HALF_DIGIT_MM,
        )
    # Otherwise what stands above has compared nothing.
    assert {check for check, _ in seen} == CHECKS
    if source == "mill":
        assert {verdict for _, verdict in seen} == set(WORST_FIRST)


@pytest.mark.usefixtures("files")
def test_margins_come_from_the_helix_and_the_car(clearance: Clearance) -> None:
    """mill.toml: overhead 8, side 5, play 1.5, reading 1, settlement 2; A 1: 1, C 3: 1/32 in."""
    data = clearance("check", *MILL, "--json").data
    by = {(car, track, finding["check"]): finding for car, track, finding in findings(data)}
    overhead = by["C 3", "far", "overhead"]
    assert overhead["allowance_parts"]["running clearance"] == 8.0
    tolerances = overhead["tolerance_parts"]
    assert list(tolerances) == ["car", "headroom reading", "settlement"]
    assert_allclose(list(tolerances.values()), [25.4 / 32, 1.0, 2.0], rtol=0, atol=HALF_DIGIT_MM)
    drawing = by["G 7", "far", "overhead"]["tolerance_parts"]["car"]
    assert_allclose(drawing, 0.03 * 13.5 * 304.8 / 45, rtol=0, atol=HALF_DIGIT_MM)
    # A 1 swings in between its supports: q there; out at its ends: q (2n + B) / B (G7).
    assert by["A 1", "near", "inner_side"]["allowance_parts"]["lateral play"] == 1.5
    beyond = (360 - 240) / 2
    assert_allclose(
        by["A 1", "far", "outer_side"]["allowance_parts"]["lateral play"],
        1.5 * (2 * beyond + 240) / 240,
        rtol=0,
        atol=HALF_DIGIT_MM,
    )


@pytest.mark.usefixtures("files")
def test_sides_are_those_of_the_closed_form(clearance: Clearance) -> None:
    """docs/theory.md, G5, one block on a level circle; and what the grade adds to it.

    A car stands at right angles to its own base line (G3), so on a grade the top of its lower end
    lies further back than the foot of it, and swings out further.
    """
    data = clearance("check", "A 1", *MILL, "--json").data
    by = {(track, finding["check"]): finding for _, track, finding in findings(data)}
    middle = math.sqrt(900**2 - (50 / 2) ** 2 - (240 / 2) ** 2)
    inner = by["near", "inner_side"]
    assert_allclose(inner["required_mm"], 900 - (middle - 45), rtol=0, atol=0.02)
    assert_allclose(inner["gap_mm"], (middle - 45) - (900 - 80), rtol=0, atol=0.02)
    middle = math.sqrt(1045**2 - (50 / 2) ** 2 - (240 / 2) ** 2)
    pitch = math.atan(210 / (2 * math.pi * 1045))
    end = 360 / 2 * math.cos(pitch) + 155 * math.sin(pitch)
    outer = by["far", "outer_side"]
    assert_allclose(outer["gap_mm"], 1045 + 85 - math.hypot(middle + 45, end), rtol=0, atol=0.02)


@pytest.mark.usefixtures("files")
def test_where_a_finding_is(clearance: Clearance) -> None:
    data = clearance("check", "A 1", *MILL, "--json").data
    by = {(track, finding["check"]): finding for _, track, finding in findings(data)}
    lamp = by["near", "overhead"]["location"]
    assert lamp == {
        "station": 3.5, "turn": 1, "angle_deg": 126.0, "obstacle": "lamp", "everywhere": False,
        "origin": "as designed",
    }  # fmt: skip
    beams = by["far", "overhead"]["location"]
    assert beams == {
        "station": 0, "turn": 1, "angle_deg": 0.0, "obstacle": "beam", "everywhere": True,
        "origin": "as designed",
    }  # fmt: skip
    assert by["near", "radius"]["location"] is None


@pytest.mark.usefixtures("files")
def test_every_obstacle(clearance: Clearance) -> None:
    """23 brackets in 2.3 turns of 10: beams over 0 to 13, and the lamp at the near track."""
    plain = clearance("check", "B 2", *MILL, "--json").data
    every = clearance("check", "B 2", *MILL, "--json", "--every-obstacle").data
    for track, stations in (("near", [0, 1, 2, 3, 3.5, *range(4, 14)]), ("far", list(range(14)))):
        rows = [f for _, name, f in findings(every) if name == track and f["check"] == "overhead"]
        obstacles = rows[0].pop("obstacles")
        assert [obstacle["station"] for obstacle in obstacles] == stations
        for obstacle in obstacles:
            assert set(obstacle) == {
                "station", "gap_mm", "obstacle", "headroom_mm", "origin", "facing",
            }  # fmt: skip
            assert obstacle["facing"] == "front uphill"  # it is the same turned round
            is_lamp = obstacle["station"] == 3.5
            assert obstacle["obstacle"] == ("lamp" if is_lamp else "beam")
            assert obstacle["headroom_mm"] == (172.0 if is_lamp else 210.0 - 20 - 15)
            assert obstacle["origin"] == "as designed"
        assert min(obstacle["gap_mm"] for obstacle in obstacles) == rows[0]["gap_mm"]
    assert every == plain  # nothing else has changed


@pytest.mark.usefixtures("club")
@pytest.mark.parametrize(
    ("cars", "verdict", "status"),
    [
        (["A 1", "G 7", "J 9"], "passes", 0),
        (["A 1", "D 4"], "passes", 0),  # nobody knows its least radius: that lowers nothing
        (["A 1", "B 2"], "marginal", 3),
        (["B 2", "C 3"], "does not fit", 4),
        (["E 5"], "does not fit", 4),  # on the near track, by its least radius
        (["H 8"], "does not fit", 4),  # of another gauge; named, it is judged all the same
    ],
)
def test_exit_status_of_check(
    cars: list[str], verdict: str, status: int, clearance: Clearance
) -> None:
    ended = clearance("check", *cars, "--json")
    assert worst([result["verdict"] for result in ended.data["results"]]) == verdict
    assert ended.status == status
    assert clearance("check", *cars).status == status
    assert clearance("check", *cars, "--format", "csv").status == status


@pytest.mark.usefixtures("files")
def test_exit_status_of_what_nobody_measured(clearance: Clearance) -> None:
    ended = clearance("check", "A 1", *BARE)
    assert ended.status == 3
    assert "not measured; the helix does not say what stands inside" in ended.out


@pytest.mark.usefixtures("files")
def test_the_car_at_the_door(clearance: Clearance) -> None:
    """The same figures give the same findings, whether they stand in a file or are typed."""
    figures = ["--height", "155 mm", "--width", "9 cm", "--length", "0.36 m"]
    figures += ["--wheelbase", "240", "--truck-wheelbase", "50", "--minimum-radius", "800"]
    figures += ["--underside", "9", "--units", "mm"]
    typed = clearance("check", *figures, "--helix", "mill.toml", "--json")
    known = clearance("check", "A 1", *MILL, "--json")
    assert typed.data["results"][0].pop("car") == "at the door"
    assert known.data["results"][0]["tracks"] == typed.data["results"][0]["tracks"]
    assert typed.status == known.status == 0


@pytest.mark.usefixtures("files")
def test_a_drawing_at_the_door(clearance: Clearance) -> None:
    typed = clearance(
        *("check", "--height", "13' 6\"", "--width", "10 ft", "--length", "36 ft"),
        *("--wheelbase", "24 ft", "--dimensions", "full-size", "--scale", "1:45"),
        *("--helix", "mill.toml", "--json"),
    )
    known = clearance("check", "G 7", *MILL, "--json")
    assert typed.data["results"][0]["dimensions"] == "full-size"
    assert typed.data["results"][0]["tracks"] == known.data["results"][0]["tracks"]


# --- meets ----------------------------------------------------------------------------------------


@pytest.mark.usefixtures("files")
def test_json_of_meets(clearance: Clearance) -> None:
    ended = clearance("meets", *MILL, "--json")
    assert set(ended.data) == {"helix", "pairs", "survey"}
    cars = ["A 1", "B 2", "C 3", "D 4", "E 5", "F 6", "G 7", "J 9"]
    pairs = ended.data["pairs"]
    assert [(pair["inner"], pair["outer"]) for pair in pairs] == list(product(cars, cars))
    for pair in pairs:
        assert set(pair) == {
            "inner", "outer", "inner_track", "outer_track", "inner_dimensions", "outer_dimensions",
            "verdict", "required_mm", "available_mm", "gap_mm", "allowance_mm",
        }  # fmt: skip
        assert (pair["inner_track"], pair["outer_track"]) == ("near", "far")
        assert pair["available_mm"] == 1045 - 900
        assert pair["verdict"] == verdict_of(pair["gap_mm"], pair["allowance_mm"])
        assert_allclose(pair["gap_mm"], 145 - pair["required_mm"], rtol=0, atol=2 * HALF_DIGIT_MM)
        for side in ("inner", "outer"):
            drawn = pair[side] == "G 7"
            assert pair[f"{side}_dimensions"] == ("full-size" if drawn else "model")
    by = {(pair["inner"], pair["outer"]): pair for pair in pairs}
    assert_allclose(by["A 1", "J 9"]["allowance_mm"], 7 + math.sqrt(2), rtol=0, atol=HALF_DIGIT_MM)
    assert {pair["verdict"] for pair in pairs} == {"passes", "marginal", "does not fit"}
    assert ended.status == status_of([pair["verdict"] for pair in pairs]) == 4


@pytest.mark.usefixtures("files")
def test_pairs_of_one_car(clearance: Clearance) -> None:
    every = clearance("meets", *MILL, "--json").data["pairs"]
    for name, status in (("J 9", 4), ("A 1", 0)):
        some = clearance("meets", name, *MILL, "--json")
        assert some.data["pairs"] == [
            pair for pair in every if name in (pair["inner"], pair["outer"])
        ]
        assert some.status == status_of([pair["verdict"] for pair in some.data["pairs"]]) == status


@pytest.mark.usefixtures("files")
def test_a_single_track_has_no_meets(clearance: Clearance) -> None:
    ended = clearance("meets", *BARE, "--json")
    assert (ended.status, ended.data["helix"], ended.data["pairs"]) == (0, "Bare helix", [])


# --- tell-tales -----------------------------------------------------------------------------------


@pytest.mark.usefixtures("files")
def test_json_of_telltales(clearance: Clearance) -> None:
    ended = clearance("telltales", *MILL, "--json")
    assert ended.status == 0
    assert set(ended.data) == {"helix", "telltales", "full_size", "survey"}
    assert ended.data["full_size"] == ["G 7"]
    heights = {
        car["id"]: car["height_mm"]
        for car in _listed_cars(clearance)
        if car["gauge_mm"] in (None, 32.0)
    }
    checked = clearance("check", *MILL, "--json").data
    overhead = {
        (car, track): finding
        for car, track, finding in findings(checked)
        if finding["check"] == "overhead"
    }
    assert [(t["track"], t["at"]) for t in ended.data["telltales"]] == list(
        product(["near", "far"], ["foot", "head"])
    )
    for telltale in ended.data["telltales"]:
        assert {
            "track", "at", "set_at_mm", "before_mm", "width_mm", "lowest", "stops", "lets_through",
            "false_alarms", "missed", "not_measured",
        } <= set(telltale)  # fmt: skip
        assert_numbers(telltale, "set_at_mm", "before_mm", "width_mm")
        assert set(telltale["lowest"]) == {
            "station", "turn", "angle_deg", "obstacle", "headroom_mm",
        }  # fmt: skip
        # "height + gap - allowance", the least of them, rounded down.
        limits = {
            car: heights[car] + finding["gap_mm"] - finding["allowance_mm"]
            for (car, track), finding in overhead.items()
            if track == telltale["track"]
        }
        assert telltale["set_at_mm"] == math.floor(min(limits.values()))
        assert telltale["governing"] == min(limits, key=lambda car: limits[car])
        stops = {car for car in limits if heights[car] > telltale["set_at_mm"]}
        fails = {car for car in limits if overhead[car, telltale["track"]]["verdict"] != "passes"}
        assert set(telltale["stops"]) == stops
        assert set(telltale["lets_through"]) == set(limits) - stops
        assert set(telltale["false_alarms"]) == stops - fails
        assert telltale["missed"] == []
        assert fails <= stops
        # So much before the lamp or the first beam that a train stops, and as practice has it.
        assert telltale["before_mm"] >= telltale["stopping_mm"]
        assert telltale["before_mm"] >= telltale["practice_before_mm"]
    assert all(map(math.isfinite, numbers_in(ended.data)))


def _listed_cars(clearance: Clearance) -> list[dict[str, Any]]:
    imported = clearance(
        *("car", "import", "cars.csv", "--blocks", "blocks.csv", "--catalog", "list.sqlite")
    )
    assert imported.status == 0
    listed = clearance("car", "list", "--json", "--catalog", "list.sqlite")
    cars: list[dict[str, Any]] = listed.data["cars"]
    return cars


@pytest.mark.usefixtures("files")
def test_a_faster_train_needs_a_longer_way(clearance: Clearance) -> None:
    slow, fast = (
        clearance("telltales", *MILL, "--json", "--speed", speed).data["telltales"][0]
        for speed in ("0.2", "1.4")
    )
    # v t + v^2 / 2 (a + g sin): uphill the grade helps, G1 of docs/theory.md.
    grade = 210 / (2 * math.pi * 900)
    for telltale, speed in ((slow, 0.2), (fast, 1.4)):
        way = speed * 1.5 + speed**2 / (2 * (2.0 + 9.80665 * grade))
        assert_allclose(telltale["stopping_mm"], 1000 * way, rtol=2e-3)
    assert fast["before_mm"] > slow["before_mm"]
    assert fast["set_at_mm"] == slow["set_at_mm"]


# --- size -----------------------------------------------------------------------------------------


@pytest.mark.usefixtures("files")
def test_json_of_size(clearance: Clearance) -> None:
    ended = clearance("size", *MILL, "--max-grade", "3.2", "--json")
    assert ended.status == 0
    data = ended.data
    assert {
        "governing", "rise_per_turn_mm", "radius_mm", "track_spacing_mm", "inside_mm", "outside_mm",
        "grade_percent", "turns", "footprint_mm", "alternatives",
    } <= set(data)  # fmt: skip
    assert set(data["governing"]) == {
        "rise_per_turn", "radius", "track_spacing", "inside", "outside",
    }  # fmt: skip
    cars = {"A 1", "B 2", "C 3", "D 4", "E 5", "F 6", "G 7", "J 9"}
    assert data["governing"]["radius"] in cars | {"grade"}
    assert set(data["governing"]["track_spacing"]) <= cars
    assert len(data["governing"]["track_spacing"]) == 2
    for dimension in ("rise_per_turn", "inside", "outside"):
        assert data["governing"][dimension] in cars
    assert data["turns"] == 2.3
    grade = 100 * data["rise_per_turn_mm"] / (2 * math.pi * data["radius_mm"])
    assert_allclose(data["grade_percent"], grade, rtol=0, atol=1e-4)
    assert data["grade_percent"] <= 3.2
    outer = data["radius_mm"] + data["track_spacing_mm"] + data["outside_mm"]
    assert data["footprint_mm"] == 2 * outer
    for other in data["alternatives"]:
        assert other["change"] in ("grade", "rise_per_turn", "track_spacing")
        assert set(other["without"]) <= cars
    assert all(map(math.isfinite, numbers_in(data)))


@pytest.mark.usefixtures("club")
@pytest.mark.parametrize("options", [[], ["--max-grade", "2"], ["--climb", "900 mm"]])
def test_a_design_passes_the_cars_it_was_made_for(options: list[str], clearance: Clearance) -> None:
    """And with one millimetre less it would not: nothing is to spare beyond rounding up."""
    sized = clearance("size", *options, "--json", "--write", "next.toml")
    assert sized.status == 0
    checked = clearance("check", "--helix", "next.toml", "--json")
    assert checked.status == 0
    assert clearance("meets", "--helix", "next.toml").status == 0
    assert all(
        finding["verdict"] == "passes" or not finding.get("lowers_the_verdict", True)
        for _, _, finding in findings(checked.data)
    )
    if options[:1] == ["--climb"]:
        assert 900 <= sized.data["climb_mm"] < 900 + sized.data["rise_per_turn_mm"] / 10 + 1
    text = Path("next.toml").read_text("utf-8")
    for key, value in (
        ("rise_per_turn", sized.data["rise_per_turn_mm"]),
        ("inside", sized.data["inside_mm"]),
        ("outside", sized.data["outside_mm"]),
    ):
        line = f'{key} = "{value:g} mm"'
        assert text.count(line) == 1
        Path("less.toml").write_text(
            text.replace(line, f'{key} = "{value - 1:g} mm"'), encoding="utf-8"
        )
        assert clearance("check", "--helix", "less.toml").status == 3
    outer = f'radius = "{sized.data["radius_mm"] + sized.data["track_spacing_mm"]:g} mm"'
    assert text.count(outer) == 1
    inner_by_one = float(outer.split('"')[1].split()[0]) - 1
    Path("less.toml").write_text(
        text.replace(outer, f'radius = "{inner_by_one:g} mm"'), encoding="utf-8"
    )
    assert clearance("meets", "--helix", "less.toml").status == 3


@pytest.mark.usefixtures("club")
def test_a_design_does_not_take_the_place_of_what_stands(clearance: Clearance) -> None:
    assert clearance("size", "--write", "next.toml").status == 0
    assert clearance("helix", "add", "next.toml").err == "added: Mill Lane helix, as sized\n"
    assert clearance("size", "--helix", "next.toml", "--write", "again.toml").status == 0
    assert clearance("helix", "add", "again.toml").err.endswith(": Mill Lane helix, as sized\n")


@pytest.mark.usefixtures("club")
def test_a_design_for_the_cars_that_are_named(clearance: Clearance) -> None:
    sized = clearance("size", "A 1", "B 2", "--json", "--write", "next.toml").data
    assert sized["governing"]["rise_per_turn"] == "B 2"
    assert clearance("check", "A 1", "B 2", "--helix", "next.toml").status == 0
    assert clearance("check", "C 3", "--helix", "next.toml").status > 0


# --- cars and helices -----------------------------------------------------------------------------


@pytest.mark.usefixtures("club")
def test_json_of_car_list(clearance: Clearance) -> None:
    assert clearance("car", "retire", "D 4").status == 0
    listed = clearance("car", "list", "--json").data
    assert set(listed) == {"cars"}
    cars = {car["id"]: car for car in listed["cars"]}
    assert list(cars) == ["A 1", "B 2", "C 3", "E 5", "F 6", "G 7", "H 8", "J 9"]
    assert cars["A 1"] == {
        "id": "A 1", "name": "Wren", "kind": "boxcar", "owner": "NO", "notes": "",
        "scale": "1:43.5", "gauge_mm": 32.0, "dimensions": "model",
        "height_mm": 155.0, "width_mm": 90.0, "length_mm": 360.0,
        "wheelbase_mm": 240.0, "truck_wheelbase_mm": 50.0, "axles": None,
        "front_overhang_mm": None, "rear_overhang_mm": None,
        "length_over_couplers_mm": None, "underside_mm": 9.0, "minimum_radius_mm": 800.0,
        "side_play_mm": None, "truck_swing_deg": None, "coupler_swing_mm": None,
        "coupler_drop_mm": None, "coupler_angle_deg": None, "weight": "", "tolerance_mm": None,
        "measured_by": "NO", "measured_on": "2026-04-18", "blocks": [], "frames": [],
        "retired": False,
    }  # fmt: skip
    assert_allclose(cars["C 3"]["height_mm"], 7.25 * 25.4)
    assert (cars["G 7"]["dimensions"], cars["G 7"]["scale"]) == ("full-size", "1:45")
    assert_allclose(cars["G 7"]["height_mm"], 13.5 * 304.8 / 45)
    assert [block["name"] for block in cars["F 6"]["blocks"]] == ["body", "step", "stack"]
    every = clearance("car", "list", "--json", "--retired").data["cars"]
    assert [car["id"] for car in every if car["retired"]] == ["D 4"]
    shown = clearance("car", "show", "A 1", "--json").data
    assert shown == cars["A 1"]


def test_a_listing_of_cars_is_not_taken_for_cars_csv(club: Path, clearance: Clearance) -> None:
    """Its full-size cars are divided already; read again they would be divided again."""
    assert clearance("car", "list", "--format", "csv", "--output", "list.csv").status == 0
    before = club.read_bytes()
    ended = clearance("car", "import", "list.csv")
    assert ended.status == 1
    assert "'retired'" in ended.err
    assert club.read_bytes() == before


@pytest.mark.usefixtures("files")
def test_import_counts(clearance: Clearance) -> None:
    load = ["car", "import", "cars.csv", "--blocks", "blocks.csv", "--catalog", "new.sqlite"]
    assert clearance(*load).out == "9 added, 0 changed, 0 unchanged\n"
    before = Path("new.sqlite").read_bytes()
    assert clearance(*load).out == "0 added, 0 changed, 9 unchanged\n"
    assert Path("new.sqlite").read_bytes() == before
    text = Path("cars.csv").read_text("utf-8")
    assert text.count("155 mm") == 1
    Path("cars.csv").write_text(
        text.replace("155 mm", "156 mm") + "K 1,,,,,,,50 mm,40 mm,90 mm,60 mm\n", encoding="utf-8"
    )
    assert clearance(*load).out == "1 added, 1 changed, 8 unchanged\n"
    # Without --blocks the blocks stay; with an empty file of them they go.
    assert clearance(*load[:3], *load[5:]).out == "0 added, 0 changed, 10 unchanged\n"
    Path("none.csv").write_text("car,from,to,width,top\n", encoding="utf-8")
    ended = clearance(*load[:3], "--blocks", "none.csv", *load[5:])
    assert ended.out == "0 added, 2 changed, 8 unchanged\n"


def test_export_then_import_is_equal(club: Path, clearance: Clearance) -> None:
    assert clearance("car", "export", "out.csv", "--blocks", "out-blocks.csv").status == 0
    again = ["car", "import", "out.csv", "--blocks", "out-blocks.csv"]
    assert clearance(*again).out == "0 added, 0 changed, 9 unchanged\n"
    assert clearance(*again, "--catalog", "copy.sqlite").out == "9 added, 0 changed, 0 unchanged\n"
    with Catalog.open(club, create=False) as one, Catalog.open("copy.sqlite", create=False) as two:
        assert one.cars().cars() == two.cars().cars()
    assert (
        read_cars(Path("out.csv"), Path("out-blocks.csv")).cars()
        == read_cars(Path("cars.csv"), Path("blocks.csv")).cars()
    )


@pytest.mark.usefixtures("club")
def test_add_edit_retire_restore(clearance: Clearance) -> None:
    figures = ["--height", "8 1/2 in", "--width", "110mm", "--length", "42 cm", "--gauge", "32 mm"]
    about = ["--name", "Kite", "--owner", "SV", "--measured-on", "2026-05-31"]
    assert clearance("car", "add", "K 1", *figures, "--wheelbase", "260mm", *about).status == 0
    assert clearance("check", "K 1").status == 4
    edited = clearance("car", "edit", "K 1", "--height", "6 in", "--notes", "shorter stack")
    assert (edited.status, edited.err) == (0, "changed: K 1\n")
    assert clearance("check", "K 1").status == 0
    assert clearance("car", "edit", "K 1", "--clear", "measured-on", "--clear", "owner").status == 0
    car = clearance("car", "show", "K 1", "--json").data
    assert (car["height_mm"], car["notes"], car["name"]) == (152.4, "shorter stack", "Kite")
    assert (car["measured_on"], car["owner"]) == (None, "")
    assert clearance("car", "retire", "K 1").err == "retired: K 1\n"
    assert "K 1" not in clearance("car", "list").out
    assert "K 1" not in clearance("roster").out
    assert clearance("car", "restore", "K 1").err == "restored: K 1\n"
    assert "K 1" in clearance("roster").out
    shown = clearance("car", "show", "K 1").out
    for number, what in enumerate(("add", "edit", "edit", "retire", "restore"), start=1):
        assert f"version {number}: {what} by " in shown


@pytest.mark.usefixtures("club")
def test_a_drawing_is_edited_as_one(clearance: Clearance) -> None:
    drawn = ["--height", "14 ft", "--dimensions", "full-size"]
    assert clearance("car", "edit", "G 7", *drawn).status == 0
    car = clearance("car", "show", "G 7", "--json").data
    assert_allclose(car["height_mm"], 14 * 304.8 / 45, rtol=0, atol=1e-6)
    taped = ["--height", "96 mm", "--dimensions", "model"]
    assert clearance("car", "edit", "G 7", *taped).status == 0
    car = clearance("car", "show", "G 7", "--json").data
    assert (car["height_mm"], car["dimensions"]) == (96.0, "model")


@pytest.mark.usefixtures("club")
def test_helices(clearance: Clearance) -> None:
    assert clearance("helix", "add", "mill.toml").err == "unchanged: Mill Lane helix\n"
    assert clearance("helix", "add", "bare.toml").err == "added: Bare helix\n"
    listed = clearance("helix", "list", "--json").data["helices"]
    assert [helix["name"] for helix in listed] == ["Mill Lane helix", "Bare helix"]
    assert [track["radius_mm"] for track in listed[0]["tracks"]] == [900.0, 1045.0]
    assert listed[1]["posts"] == {"inside_mm": None, "outside_mm": None}
    assert clearance("helix", "show", "Mill Lane helix", "--json").data == listed[0]
    assert clearance("helix", "retire", "Bare helix").err == "retired: Bare helix\n"
    assert "Bare" not in clearance("helix", "list").out
    every = clearance("helix", "list", "--retired", "--json").data["helices"]
    assert [helix["retired"] for helix in every] == [False, True]
    assert "retired" in clearance("helix", "show", "Bare helix").out
    assert clearance("check", "A 1").status == 0  # of the one that is left
    assert clearance("helix", "restore", "Bare helix").status == 0
    assert "Bare" in clearance("helix", "list").out


# --- forms and sources ----------------------------------------------------------------------------

LISTINGS = {
    "check": ["check"],
    "check --train": ["check", "--train", "A 1, B 2, D 4"],
    "meets": ["meets"],
    "roster": ["roster"],
    "telltales": ["telltales"],
    "size": ["size"],
    "car list": ["car", "list"],
    "car show": ["car", "show", "F 6"],
    "helix list": ["helix", "list"],
    "helix show": ["helix", "show", "Mill Lane helix"],
}


@pytest.mark.usefixtures("club")
@pytest.mark.parametrize("name", LISTINGS)
def test_forms(name: str, clearance: Clearance) -> None:
    command = LISTINGS[name]
    usual = clearance(*command, "--json")
    for status in {clearance(*command, "--format", form).status for form in ("text", "csv")}:
        assert status == usual.status
    assert clearance(*command, "--format", "json").out == usual.out
    assert clearance(*command, "--format", "text").out == clearance(*command).out
    for form in ("text", "csv", "json"):
        shown = clearance(*command, "--format", form).out
        ended = clearance(*command, "--format", form, "--output", "out.txt")
        assert (ended.status, ended.out) == (usual.status, "")
        assert ended.err.endswith("written: out.txt\n")
        assert Path("out.txt").read_bytes().decode("utf-8") == shown


@pytest.mark.usefixtures("club")
@pytest.mark.parametrize("name", LISTINGS)
def test_csv(name: str, clearance: Clearance) -> None:
    """Every row has a cell for every column, and none of them is a value of Python's."""
    text = clearance(*LISTINGS[name], "--format", "csv").out
    header, *rows = csv.reader(io.StringIO(text), strict=True)
    assert rows
    assert len(set(header)) == len(header)
    for row in rows:
        assert len(row) == len(header)
        for cell in row:
            assert not cell.startswith(("[", "{", "(", "<"))
            assert cell not in ("None", "nan", "inf")


@pytest.mark.usefixtures("files")
def test_csv_holds_what_json_holds(clearance: Clearance) -> None:
    data = clearance("check", *MILL, "--json").data
    text = clearance("check", *MILL, "--format", "csv").out
    rows = list(csv.DictReader(io.StringIO(text), strict=True))
    flat = list(findings(data))
    assert [(r["car"], r["track"], r["check"]) for r in rows] == [
        (car, track, finding["check"]) for car, track, finding in flat
    ]
    for row, (_, _, finding) in zip(rows, flat, strict=True):
        for name in ("required_mm", "available_mm", "gap_mm", "allowance_mm"):
            assert (float(row[name]) if row[name] else None) == finding[name]
    pairs = clearance("meets", *MILL, "--json").data["pairs"]
    text = clearance("meets", *MILL, "--format", "csv").out
    rows = list(csv.DictReader(io.StringIO(text), strict=True))
    assert [(r["inner"], r["outer"], r["verdict"], float(r["gap_mm"])) for r in rows] == [
        (p["inner"], p["outer"], p["verdict"], p["gap_mm"]) for p in pairs
    ]


@pytest.mark.parametrize("name", ["check", "meets", "roster", "telltales", "size"])
def test_files_in_place_of_the_catalog(name: str, club: Path, clearance: Clearance) -> None:
    for form in ("json", "text"):
        stored = clearance(name, "--format", form)
        for source in (
            MILL,
            ("--helix", "mill.toml"),
            MILL[2:],
            ("--helix", "Mill Lane helix"),
            ("--catalog", f"sqlite:///{club}"),
        ):
            given = clearance(name, *source, "--format", form)
            assert (given.status, given.out, given.err) == (stored.status, stored.out, stored.err)
    assert stored.err == "left out: 1 car of another gauge than 32 mm (check CAR asks about one)\n"


@pytest.mark.usefixtures("club")
def test_a_car_named_twice_is_shown_once(clearance: Clearance) -> None:
    for source in ((), MILL):
        assert clearance("check", "A 1", "B 2", "A 1", *source).out.count("A 1 Wren") == 1


@pytest.mark.usefixtures("club")
def test_cars_come_in_the_order_in_which_they_are_named(clearance: Clearance) -> None:
    for source in ((), MILL):
        data = clearance("check", "J 9", "A 1", *source, "--json").data
        assert [result["car"] for result in data["results"]] == ["J 9", "A 1"]


def test_which_catalog(files: Path, clearance: Clearance, monkeypatch: pytest.MonkeyPatch) -> None:
    """The option, then the variable, then the platform's data folder, which an import makes."""
    load = ["car", "import", "cars.csv", "--blocks", "blocks.csv"]
    assert clearance(*load).status == 0
    assert not list(files.glob("*.sqlite"))
    assert len(list(files.parent.rglob("catalog.sqlite"))) == 1
    monkeypatch.setenv("CLEARANCE_CATALOG", "one.sqlite")
    assert clearance(*load).status == 0
    assert clearance(*load, "--catalog", "two.sqlite").status == 0
    assert sorted(path.name for path in files.glob("*.sqlite")) == ["one.sqlite", "two.sqlite"]
    assert clearance("car", "retire", "A 1", "--catalog", "two.sqlite").status == 0
    assert "A 1" in clearance("car", "list").out
    assert "A 1" not in clearance("car", "list", "--catalog", "two.sqlite").out


@pytest.mark.usefixtures("files")
def test_json_of_roster(clearance: Clearance) -> None:
    data = clearance("roster", *MILL, "--json").data
    assert {"helix", "date", "rule", "caution", "cars"} <= set(data)
    cars = {car["car"]: car for car in data["cars"]}
    assert cars["E 5"]["tracks"] == {"near": "does not fit", "far": "passes"}
    assert cars["E 5"]["restrictions"] == ["far track only"]
    assert cars["F 6"]["facing"] == {"near": "front uphill", "far": "front downhill"}
    pairs = clearance("meets", *MILL, "--json").data["pairs"]
    runs = {
        (car, track)
        for car in cars
        for track, word in cars[car]["tracks"].items()
        if word == "passes"
    }
    for name, car in cars.items():
        expected = {
            "near": {
                p["outer"]
                for p in pairs
                if p["inner"] == name != p["outer"]
                and p["verdict"] != "passes"
                and {(name, "near"), (p["outer"], "far")} <= runs
            },
            "far": {
                p["inner"]
                for p in pairs
                if p["outer"] == name != p["inner"]
                and p["verdict"] != "passes"
                and {(name, "far"), (p["inner"], "near")} <= runs
            },
        }
        assert {t: set(others) for t, others in car["not_past"].items()} == {
            track: others for track, others in expected.items() if others
        }
    rows = csv.DictReader(io.StringIO(clearance("roster", *MILL, "--format", "csv").out))
    for row in rows:
        assert row["near track"] == cars[row["car"]]["tracks"]["near"]
        assert row["restrictions"] == "; ".join(cars[row["car"]]["restrictions"])


def test_the_board_by_number_and_by_owner(files: Path, clearance: Clearance) -> None:
    head = "id,owner,height_mm,width_mm,length_mm,wheelbase_mm\n"
    rows = [
        f"{name},{owner},60,40,90,60\n"
        for name, owner in (("10", "SV"), ("9", ""), ("27a", "NO"), ("27", "sv"), ("100", "NO"))
    ]
    (files / "few.csv").write_text(head + "".join(rows), encoding="utf-8")
    source = ["--helix", "mill.toml", "--cars", "few.csv", "--json"]
    by_number = clearance("roster", *source).data["cars"]
    assert [car["car"] for car in by_number] == ["9", "10", "27", "27a", "100"]
    by_owner = clearance("roster", *source, "--sort", "owner").data["cars"]
    assert [car["car"] for car in by_owner] == ["27a", "100", "10", "27", "9"]


@pytest.mark.usefixtures("here")
def test_the_demo_club_in_files_and_in_a_catalog(clearance: Clearance) -> None:
    """The files of the demonstration hold to the same contract."""
    demo = Path(__file__).resolve().parents[2] / "clearance" / "demo" / "files"
    source = ["--helix", demo / "quarry-bank.toml", "--cars", demo / "cars.csv"]
    source += ["--blocks", demo / "blocks.csv", "--frames", demo / "frames.csv"]
    ended = clearance("check", *source, "--survey", demo / "survey.csv", "--json")
    verdicts = [result["verdict"] for result in ended.data["results"]]
    assert ended.status == status_of(verdicts) == 4
    assert set(verdicts) == {"passes", "marginal", "does not fit"}
    for _, _, finding in findings(ended.data):
        if finding["gap_mm"] is not None:
            assert finding["verdict"] == verdict_of(finding["gap_mm"], finding["allowance_mm"])
    assert clearance("size", *source, "--write", "next.toml").status == 0
    assert clearance("check", "--helix", "next.toml", *source[2:]).status == 0
    assert clearance("meets", "--helix", "next.toml", *source[2:]).status == 0


@pytest.mark.parametrize(
    ("command", "has_markdown"),
    [(("check",), False), (("meets",), False), (("helix", "survey"), False), (("roster",), True)],
)
def test_the_help_names_the_forms_that_there_are(
    command: tuple[str, ...], has_markdown: bool, clearance: Clearance
) -> None:
    words = " ".join(clearance(*command, "--help").out.split())
    assert ("csv, json or markdown" in words) == has_markdown
    assert ("text, csv or json" in words) != has_markdown
