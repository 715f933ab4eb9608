"""A helix as it stands, and articulated stock: surveys, --as-of, --every-obstacle, frames.

mill.toml: 10 brackets a turn, 23 in all, 21 mm of rise from one to the next; 35 mm of deck and beam
leave 175 mm under each beam. Numbers here are worked out from that by hand.
"""

import csv
import io
import math
import re
from pathlib import Path
from typing import Any

import pytest
from numpy.testing import assert_allclose

from catalog.cars_csv import read_cars
from catalog.clock import today
from tests.cli.conftest import Clearance, Outcome

HALF_DIGIT_MM = 0.5e-4  # numbers are rounded to 0.0001 mm
MILL = ("--helix", "mill.toml", "--cars", "cars.csv", "--blocks", "blocks.csv")
BRACKETS = range(24)
UNDER_BEAMS = range(14)
RISE_MM, HEADROOM_MM = 21.0, 175.0
NAME = "Mill Lane helix"


def survey_csv(
    headrooms: dict[float, float],
    railheads: dict[float, float] | None = None,
    taken_on: str = "2026-04-12",
) -> str:
    """A survey of every bracket as drawn, but for these."""
    railhead = {float(k): RISE_MM * k for k in BRACKETS} | (railheads or {})
    stations = sorted({*railhead, *headrooms})
    rows = ["station,railhead_mm,headroom_mm,taken_on,taken_by"]
    for station in stations:
        cells = [
            f"{figures[station]}" if station in figures else "" for figures in (railhead, headrooms)
        ]
        rows.append(f"{station:g},{cells[0]},{cells[1]},{taken_on},NO")
    return "\n".join(rows) + "\n"


def as_drawn(**lower_mm: float) -> dict[float, float]:
    """Every headroom as drawn, but for those that are so much lower: ``k7=5.0``."""
    return {k: HEADROOM_MM - lower_mm.get(f"k{k}", 0.0) for k in UNDER_BEAMS}


def write(name: str, text: str) -> str:
    Path(name).write_text(text, encoding="utf-8")
    return name


def overhead(ended: Outcome, track: str = "far") -> dict[str, Any]:
    """The overhead finding of the first car."""
    (found,) = [it for it in ended.data["results"][0]["tracks"] if it["track"] == track]
    (finding,) = [it for it in found["findings"] if it["check"] == "overhead"]
    result: dict[str, Any] = finding
    return result


def gaps(ended: Outcome, track: str = "far") -> dict[float, float]:
    """The gap of the first car at each station."""
    return {row["station"]: row["gap_mm"] for row in overhead(ended, track)["obstacles"]}


# --- a survey moves what it says, and nothing else ------------------------------------------------


@pytest.mark.usefixtures("files")
@pytest.mark.parametrize("car", ["A 1", "F 6", "J 9"])
def test_a_headroom_5_mm_lower_is_a_gap_5_mm_less(car: str, clearance: Clearance) -> None:
    """The railheads are the same, so the car stands the same: the gap there falls by just that."""
    before, after = (
        clearance(
            *("check", car, *MILL, "--json", "--every-obstacle", "--survey"),
            write("s.csv", survey_csv(as_drawn(**lower))),
        )
        for lower in ({}, {"k7": 5.0})
    )
    for track in ("near", "far"):
        old, new = gaps(before, track), gaps(after, track)
        assert list(old) == list(new)
        for station, gap in new.items():
            fall = 5.0 if station == 7 else 0.0
            assert_allclose(old[station] - gap, fall, rtol=0, atol=2 * HALF_DIGIT_MM)
    found = overhead(after)
    assert found["location"] == {
        "station": 7, "turn": 1, "angle_deg": 252.0, "obstacle": "beam", "everywhere": False,
        "origin": "as measured",
    }  # fmt: skip
    assert found["available_mm"] == 170.0


@pytest.mark.usefixtures("files")
def test_the_bracket_above_moves_the_beam(clearance: Clearance) -> None:
    """Bracket 18 sags by 4 mm, and with it the beam over bracket 8. A 1 is short: no car stands
    on 8 and 18 at once."""
    before, after = (
        clearance(
            *("check", "A 1", *MILL, "--json", "--every-obstacle", "--survey"),
            write("s.csv", survey_csv({}, railheads)),
        )
        for railheads in ({}, {18.0: 18 * RISE_MM - 4})
    )
    assert_allclose(gaps(before)[8] - gaps(after)[8], 4.0, rtol=0, atol=2 * HALF_DIGIT_MM)
    assert overhead(after)["location"]["station"] == 8
    assert overhead(after)["location"]["origin"] == "from surveyed railheads"
    assert overhead(after)["available_mm"] == HEADROOM_MM - 4


@pytest.mark.usefixtures("files")
def test_a_survey_equal_to_the_design_gives_the_designs_answer(clearance: Clearance) -> None:
    drawn = clearance("check", *MILL, "--json")
    survey = write("s.csv", survey_csv(as_drawn()))
    surveyed = clearance("check", *MILL, "--json", "--survey", survey)
    assert surveyed.status == drawn.status
    for one, other in zip(drawn.data["results"], surveyed.data["results"], strict=True):
        assert one["verdict"] == other["verdict"]
        for here, there in zip(one["tracks"], other["tracks"], strict=True):
            gap = {f["check"]: f["gap_mm"] for f in here["findings"]}
            again = {f["check"]: f["gap_mm"] for f in there["findings"]}
            for check in ("overhead", "inner_side", "outer_side"):
                if check in gap:
                    assert_allclose(again[check], gap[check], rtol=0, atol=0.001)


@pytest.mark.usefixtures("files")
@pytest.mark.parametrize("command", ["check", "meets", "roster", "telltales"])
def test_what_a_result_is_judged_by(command: str, clearance: Clearance) -> None:
    """In every form: below the text, in the JSON, and beside rows."""
    survey = write("s.csv", survey_csv({0: 175.0, 3: 174.0}))
    data = clearance(command, *MILL, "--survey", survey, "--json").data["survey"]
    assert data["taken_on"] == "2026-04-12"
    assert data["source"] == "s.csv"
    missing = {"railhead": [], "headroom": [1, 2, *range(4, 14)]}
    assert data["not_surveyed"] == {"near": missing, "far": missing}
    assert data["remarks"] == ["headroom not surveyed at stations 1, 2, 4 to 13"]
    words = "Judged by the survey of 12 April 2026 (s.csv).\n"
    remark = "  Not surveyed: the headroom at 12 places; --json tells where.\n"
    ended = clearance(command, *MILL, "--survey", survey)
    assert ended.out.endswith(f"\n\n{words}{remark}")
    ended = clearance(command, *MILL, "--survey", survey, "--format", "csv")
    assert ended.err.endswith(words + remark)
    assert "Judged" not in ended.out
    assert clearance(command, *MILL, "--json").data["survey"] is None
    assert "Judged" not in clearance(command, *MILL).out


@pytest.mark.usefixtures("files")
def test_a_roster_says_what_it_rests_on(clearance: Clearance) -> None:
    survey = write("s.csv", survey_csv(as_drawn()))
    data = clearance("roster", *MILL, "--survey", survey, "--json").data
    assert data["rests_on"] == "the survey of 12 April 2026"
    for form in ("text", "markdown"):
        out = clearance("roster", *MILL, "--survey", survey, "--format", form).out
        assert out.splitlines()[0].endswith(", by the survey of 12 April 2026")
    assert clearance("roster", *MILL, "--json").data["rests_on"] == "the helix as drawn"


@pytest.mark.usefixtures("files")
def test_a_survey_that_nobody_dated(clearance: Clearance) -> None:
    survey = write("s.csv", survey_csv(as_drawn(), taken_on=""))
    ended = clearance("check", "A 1", *MILL, "--survey", survey)
    assert ended.out.endswith("Judged by a survey without a date (s.csv).\n")


@pytest.mark.usefixtures("files")
def test_telltales_hang_by_the_lowest_beam_as_measured(clearance: Clearance) -> None:
    survey = write("s.csv", survey_csv(as_drawn(k9=6.0)))
    ended = clearance("telltales", *MILL, "--survey", survey, "--json")
    lowest = {found["track"]: found["lowest"] for found in ended.data["telltales"]}
    assert (lowest["far"]["station"], lowest["far"]["headroom_mm"]) == (9, 169.0)
    assert (lowest["near"]["station"], lowest["near"]["headroom_mm"]) == (9, 169.0)  # lamp: 172


@pytest.mark.usefixtures("files")
def test_a_new_helix_has_no_survey(clearance: Clearance) -> None:
    drawn = clearance("size", *MILL, "--json")
    ended = clearance("size", *MILL, "--survey", "nowhere.csv", "--json")
    assert (ended.status, ended.out) == (0, drawn.out)
    assert ended.err == f"a new helix has no survey: nowhere.csv is left aside\n{drawn.err}"


# --- surveys in the catalog -----------------------------------------------------------------------


@pytest.fixture
def surveyed(club: Path, clearance: Clearance) -> Path:
    """The catalog with two surveys: of the autumn, and of the spring, which was entered first."""
    spring = write("spring.csv", survey_csv(as_drawn(k7=3.0)))
    autumn = write("autumn.csv", survey_csv(as_drawn(k4=2.0), taken_on="2025-10-05"))
    for file, day in ((spring, "2026-04-12"), (autumn, "2025-10-05")):
        ended = clearance("helix", "survey", NAME, file)
        assert ended.status == 0
        assert ended.err == f"added: survey of {NAME}, 24 readings, of {day}\n"
    return club


@pytest.mark.usefixtures("surveyed")
@pytest.mark.parametrize(
    ("as_of", "taken_on", "station", "available_mm"),
    [
        (None, "2026-04-12", 7, 172.0),
        ("2026-05-01", "2026-04-12", 7, 172.0),
        ("2026-04-12", "2026-04-12", 7, 172.0),
        ("2026-04-11", "2025-10-05", 4, 173.0),
        ("2025-10-05", "2025-10-05", 4, 173.0),
        ("2025-10-04", None, 0, 175.0),
    ],
)
def test_the_survey_that_stood(
    as_of: str | None,
    taken_on: str | None,
    station: int,
    available_mm: float,
    clearance: Clearance,
) -> None:
    when = ["--as-of", as_of] if as_of else []
    ended = clearance("check", "A 1", "--json", *when)
    found = overhead(ended)
    assert (found["location"]["station"], found["available_mm"]) == (station, available_mm)
    survey = ended.data["survey"]
    if taken_on is None:
        assert survey is None
        shown = clearance("check", "A 1", *when).out
        assert shown.endswith("Judged as drawn: there was no survey yet on 4 October 2025.\n")
    else:
        assert (survey["taken_on"], survey["source"]) == (taken_on, "catalog")
    for command in ("meets", "roster", "telltales"):
        assert clearance(command, "--json", *when).data["survey"] == survey


@pytest.mark.usefixtures("surveyed")
def test_no_survey_is_overwritten(clearance: Clearance) -> None:
    again = clearance("helix", "survey", NAME, "spring.csv")
    assert again.err == f"unchanged: survey of {NAME}, 24 readings, of 2026-04-12\n"
    assert clearance("helix", "add", "mill.toml").err == f"unchanged: {NAME}\n"
    shown = clearance("helix", "show", NAME, "--json").data
    assert shown["surveyed_on"] == ["2025-10-05", "2026-04-12"]
    assert "2, the latest of 12 April 2026" in clearance("helix", "show", NAME).out
    listed = clearance("helix", "list", "--json").data["helices"]
    assert listed == [shown]


@pytest.mark.usefixtures("surveyed")
def test_a_file_goes_before_the_catalog(clearance: Clearance) -> None:
    """A survey in a file is judged by; a helix in a file knows nothing of the catalog's."""
    other = write("other.csv", survey_csv(as_drawn(k2=3.0)))
    assert overhead(clearance("check", "A 1", "--survey", other, "--json"))["available_mm"] == 172
    from_file = clearance("check", "A 1", "--helix", "mill.toml", "--json")
    assert from_file.data["survey"] is None


@pytest.mark.usefixtures("club")
def test_a_survey_without_a_date_holds_from_today(clearance: Clearance) -> None:
    file = write("s.csv", survey_csv({0: 175.0, 8: 175.0}, taken_on=""))
    ended = clearance("helix", "survey", NAME, file)
    assert ended.err == (
        f"added: survey of {NAME}, 24 readings, without a date: it holds from today\n"
        "  Headroom not surveyed at stations 1 to 7, 9 to 13.\n"
    )
    data = clearance("check", "A 1", "--json").data["survey"]
    assert data["taken_on"] == today().isoformat()


@pytest.mark.usefixtures("surveyed")
def test_a_helix_that_was_drawn_anew(clearance: Clearance) -> None:
    """A survey of what does not stand any more is not quietly judged by."""
    text = Path("mill.toml").read_text("utf-8").replace("turns = 2.3", "turns = 0.9")
    write("short.toml", text)
    assert clearance("helix", "add", "short.toml").status == 0
    ended = clearance("check", "A 1")
    assert (ended.status, ended.out, ended.err.count("\n")) == (1, "", 1)
    for words in ("the survey of 2026-04-12", "drawn anew", "helix survey", "--as-of"):
        assert words in ended.err
    assert clearance("check", "A 1", "--as-of", "2025-01-01").status == 0


# --- what hangs over a track, one by one ----------------------------------------------------------


@pytest.mark.usefixtures("files")
def test_every_beam_as_a_table(clearance: Clearance) -> None:
    survey = write("s.csv", survey_csv({0: 175.0, 6.5: 173.0}))
    ended = clearance("check", "A 1", *MILL, "--survey", survey, "--every-obstacle")
    near, far = ended.out.split("far track")
    expected = [
        *((f"{k}", "beam", "175.0 mm", "as measured" if k == 0 else "from surveyed railheads")
          for k in UNDER_BEAMS),
        ("6.5", "underside", "173.0 mm", "as measured"),
    ]  # fmt: skip
    for text, rows in (
        (near, [*expected, ("3.5", "lamp", "172.0 mm", "as designed")]),
        (far, expected),
    ):
        table = [line.split("  ") for line in text.splitlines() if " mm  " in line]
        cells = [[cell.strip() for cell in row if cell.strip()] for row in table]
        assert [(row[0], row[1], row[2], row[4]) for row in cells] == sorted(
            rows, key=lambda row: float(row[0])
        )
        assert max(map(len, text.splitlines())) <= 80
    data = clearance("check", "A 1", *MILL, "--survey", survey, "--every-obstacle", "--json")
    assert len(overhead(data, "near")["obstacles"]) == 16
    assert [row["station"] for row in overhead(data)["obstacles"]] == sorted([*UNDER_BEAMS, 6.5])


# --- articulated stock ----------------------------------------------------------------------------

G7 = "id,height,width,length\nG7,150 mm,80 mm,620 mm\n"
G7_FRAMES = """car,frame,rear_support,rear_on,front_support,front_on
G7,rear unit,560 mm,track,440 mm,track
G7,front unit,180 mm,track,60 mm,track
G7,boiler,470 mm,rear unit,150 mm,front unit
"""
"""The example of docs/formats.md."""


@pytest.fixture
def g7(files: Path) -> list[str]:
    write("g7.csv", G7)
    write("frames.csv", G7_FRAMES)
    assert files.exists()
    return ["--helix", "mill.toml", "--cars", "g7.csv", "--frames", "frames.csv"]


def test_the_boiler_of_the_example_swings_as_worked_out_by_hand(
    g7: list[str], clearance: Clearance
) -> None:
    """Units of 120 mm on the curve; the boiler rests 30 mm off the middle of each, and is all the
    shape there is (G2). On a grade the top of its lower end lies further back (G3)."""
    ended = clearance("check", "G7", *g7, "--json")
    by = {
        (track["track"], finding["check"]): finding
        for track in ended.data["results"][0]["tracks"]
        for finding in track["findings"]
    }
    for track, check, radius in (("near", "inner_side", 900.0), ("far", "outer_side", 1045.0)):
        pivots = math.hypot(math.sqrt(radius**2 - 60**2), 30)
        middle = math.sqrt(pivots**2 - 160**2)
        pitch = math.atan(210 / (2 * math.pi * radius))
        end = 310 * math.cos(pitch) + 150 * math.sin(pitch)
        least, greatest = middle - 40, math.hypot(middle + 40, end)
        needs = radius - least if check == "inner_side" else greatest - radius
        assert_allclose(by[track, check]["required_mm"], needs, rtol=0, atol=0.05)
    assert by["far", "overhead"]["verdict"] == "passes"
    assert "wheelbase" not in by["far", "radius"]["reason"]


def test_frames_go_into_the_catalog_and_out_of_it(
    g7: list[str], club: Path, clearance: Clearance
) -> None:
    """The board is the same from the catalog as from files; exported, it is read back equal."""
    load = ["car", "import", "g7.csv", "--frames", "frames.csv"]
    assert clearance(*load).out == "1 added, 0 changed, 0 unchanged\n"
    stored = clearance("check", "G7", "--json")
    assert stored.data == clearance("check", "G7", *g7, "--json").data
    refused = clearance("car", "export", "out.csv", "--blocks", "b.csv")
    assert (refused.status, "--frames FILE" in refused.err) == (2, True)
    assert not Path("out.csv").exists()
    names = ["out.csv", "--blocks", "b.csv", "--frames", "f.csv"]
    ended = clearance("car", "export", *names)
    assert ended.err == "10 cars written: out.csv, b.csv, f.csv\n"
    assert clearance("car", "import", *names).out == "0 added, 0 changed, 10 unchanged\n"
    back = read_cars(Path("out.csv"), Path("b.csv"), Path("f.csv")).cars()
    (again,) = [car for car in back if car.id == "G7"]
    assert [frame.name for frame in again.frames] == ["rear unit", "front unit", "boiler"]
    assert club.exists()


@pytest.mark.usefixtures("club", "g7")
def test_frames_are_shown(clearance: Clearance) -> None:
    assert clearance("car", "import", "g7.csv", "--frames", "frames.csv").status == 0
    shown = clearance("car", "show", "G7")
    assert "wheelbase" not in shown.out
    assert "frame       rear support  on         front support  on\n" in shown.out
    assert "boiler      470.0 mm      rear unit  150.0 mm       front unit\n" in shown.out
    data = clearance("car", "show", "G7", "--json").data
    assert data["frames"][0] == {
        "name": "rear unit", "rear_support_mm": 560.0, "rear_on": "track",
        "front_support_mm": 440.0, "front_on": "track",
    }  # fmt: skip
    row = next(line for line in clearance("car", "list").out.splitlines() if line.startswith("G7"))
    assert row.endswith("articulated")
    rows = csv.DictReader(io.StringIO(clearance("car", "list", "--format", "csv").out))
    assert rows.fieldnames is not None
    assert not {"frames", "blocks"} & set(rows.fieldnames)


# --- running checks -------------------------------------------------------------------------------

DOOR = ("--height", "150 mm", "--width", "80 mm", "--length", "360 mm", "--wheelbase", "240 mm")


def running(ended: Outcome, check: str, track: str = "near") -> dict[str, Any]:
    (found,) = [it for it in ended.data["results"][0]["tracks"] if it["track"] == track]
    (finding,) = [it for it in found["findings"] if it["check"] == check]
    result: dict[str, Any] = finding
    return result


@pytest.mark.usefixtures("files")
def test_a_rigid_wheelbase_as_worked_out_by_hand(clearance: Clearance) -> None:
    """R - sqrt(R^2 - (B/2)^2), against the side play and the 1.5 mm of play in the track (G8)."""
    shift = 900 - math.sqrt(900**2 - 120**2)
    for play, verdict, status in (("7 mm", "passes", 0), ("6 mm", "does not fit", 4)):
        ended = clearance("check", *DOOR, "--side-play", play, "--helix", "mill.toml", "--json")
        found = running(ended, "rigid_wheelbase")
        assert_allclose(found["required_mm"], shift, rtol=0, atol=HALF_DIGIT_MM)
        assert_allclose(found["available_mm"], float(play[0]) + 1.5, rtol=0, atol=HALF_DIGIT_MM)
        assert (found["verdict"], ended.status) == (verdict, status)
    text = clearance("check", *DOOR, "--side-play", "6 mm", "--helix", "mill.toml").out
    words = " ".join(text.split())
    assert "Rigid wheelbase: a middle axle must shift 8.1 mm (3/8 in) on this curve" in words
    assert "it binds by 0.6 mm (1/16 in)" in words
    assert "To mend: 0.6 mm (1/16 in) more side play" in words


@pytest.mark.usefixtures("files")
def test_figures_typed_at_the_door(clearance: Clearance) -> None:
    """Trucks 240 mm apart turn by about half of 240 / 900; couplers 30 mm beyond each end."""
    ended = clearance(
        *("check", *DOOR, "--truck-wheelbase", "50 mm", "--truck-swing", "9 deg"),
        *("--length-over-couplers", "420 mm", "--coupler-swing", "20 mm"),
        *("--coupler-drop", "4 mm", "--coupler-angle", "30°", "--helix", "mill.toml", "--json"),
    )
    swing = running(ended, "truck_swing")
    half = math.degrees(math.asin(120 / math.sqrt(900**2 - 25**2)))
    assert_allclose(swing["swing_deg"], half, rtol=0, atol=0.01)
    assert (swing["limit_deg"], swing["verdict"]) == (9.0, "passes")
    coupling = running(ended, "coupling")
    assert (coupling["swing_mm"], coupling["drop_mm"], coupling["limit_deg"]) == (40.0, 4.0, 30.0)
    assert_allclose(coupling["sideways_mm"], 0.0, atol=0.01)  # its own like, on a circle
    assert_allclose(coupling["angle_deg"], math.degrees(420 / 900), rtol=0, atol=0.5)
    assert coupling["verdict"] == "passes"
    tight = clearance(
        *("check", *DOOR, "--truck-wheelbase", "50 mm", "--truck-swing", "7"),
        *("--length-over-couplers", "420 mm", "--coupler-swing", "20 mm"),
        *("--coupler-angle", "25", "--helix", "mill.toml"),
    )
    assert tight.status == 4
    words = " ".join(tight.out.split())
    assert "Truck swing: its trucks turn 7.7° under the body, and can by 7.0°: 0.7° short." in words
    assert "To mend: room for the trucks to turn 0.7° further." in words
    assert "Coupling: with another of its kind it is out of line by 26." in words
    assert "couplers and diaphragms that bear " in words


@pytest.mark.usefixtures("club")
def test_new_figures_of_a_car(clearance: Clearance) -> None:
    figures = ["--truck-swing", "12 deg", "--coupler-angle", "15", "--coupler-swing", "8 mm"]
    assert clearance("car", "edit", "A 1", *figures, "--coupler-drop", "3 mm").status == 0
    car = clearance("car", "show", "A 1", "--json").data
    names = ("truck_swing_deg", "coupler_angle_deg", "coupler_swing_mm", "coupler_drop_mm")
    assert [car[name] for name in names] == [12.0, 15.0, 8.0, 3.0]
    shown = clearance("car", "show", "A 1").out
    assert re.search(r"^truck swing +12 deg$", shown, re.MULTILINE)
    assert re.search(r"^coupler angle +15 deg$", shown, re.MULTILINE)
    assert clearance("car", "edit", "A 1", "--clear", "truck-swing").status == 0
    assert clearance("car", "show", "A 1", "--json").data["truck_swing_deg"] is None


@pytest.mark.usefixtures("files")
def test_a_car_that_cannot_stand_on_the_radius(clearance: Clearance) -> None:
    """Axles 2 m apart reach no circle of 900 mm: it does not fit, and the text says why."""
    figures = ["--height", "90 mm", "--width", "60 mm", "--length", "2 m", "--wheelbase", "2 m"]
    ended = clearance("check", *figures, "--helix", "mill.toml")
    assert ended.status == 4
    assert (
        "Least radius: it cannot stand on 900.0 mm (35 3/8 in) at all; so long a car needs more "
        "than 1000.0 mm (39 3/8 in)."
    ) in " ".join(ended.out.split())


@pytest.mark.usefixtures("files")
@pytest.mark.parametrize(
    ("hand", "words"),
    [
        (None, "; the helix file does not say how much a hand needs."),
        ("12 mm", "; a hand needs 12.0 mm (1/2 in)."),
        ("60 mm", "; a hand needs 60.0 mm (2 3/8 in)."),
    ],
)
def test_room_for_a_hand_is_said_apart(hand: str | None, words: str, clearance: Clearance) -> None:
    """Under the lamp there are 16 mm over A 1: that lowers nothing, whatever a hand needs."""
    table = f'\n[recovery]\nhand = "{hand}"\n' if hand else ""
    write("hand.toml", Path("mill.toml").read_text("utf-8") + table)
    source = ["--helix", "hand.toml", "--cars", "cars.csv", "--blocks", "blocks.csv"]
    ended = clearance("check", "A 1", *source)
    assert ended.status == 0
    said = " ".join(ended.out.split())
    assert "Room for a hand over the roof: 16.0 mm (5/8 in) at station 3.5" in said
    assert words in said
    many = clearance("check", "A 1", "D 4", *source).out
    assert many.count("Room for a hand") == (2 if hand == "60 mm" else 0)
