"""`check --explain`: a working that can be followed with a calculator, and ends at the same gap."""

import csv
import io
import math
import re
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from tests.cli.conftest import Clearance

MILL = ("--helix", "mill.toml", "--cars", "cars.csv", "--blocks", "blocks.csv")
SHOWN_MM = 1e-3  # of a working whose numbers are written to 0.0001

CALCULATOR = {
    "pi": math.pi,
    "sqrt": math.sqrt,
    "sin": lambda angle: math.sin(math.radians(angle)),
    "cos": lambda angle: math.cos(math.radians(angle)),
    "tan": lambda angle: math.tan(math.radians(angle)),
    "asin": lambda ratio: math.degrees(math.asin(ratio)),
    "atan": lambda ratio: math.degrees(math.atan(ratio)),
}


def typed(working: str) -> float:
    """What a calculator in degrees shows for a line of the working."""
    assert re.fullmatch(r"[-+*/^(). \da-z]+", working), working
    return float(eval(working.replace("^", "**"), {"__builtins__": {}}, CALCULATOR))


def survey(folder: Path) -> list[str]:
    """Bracket 6 sags, and the beam over 4 hangs low."""
    rows = [f"{k},{21 * k - 2 * (k == 6)},{'168' if k == 4 else ''}" for k in range(24)]
    text = "station,railhead_mm,headroom_mm\n" + "\n".join(rows) + "\n"
    (folder / "s.csv").write_text(text, encoding="utf-8")
    return ["--survey", "s.csv"]


def on_paper(out: str) -> list[tuple[str, float]]:
    """Each working, folded as it may be, and what stands behind its =."""
    found, working = [], ""
    for text in [*out.splitlines(), ""]:
        if text.startswith(6 * " "):
            working = f"{working} {text.strip()}".strip()
        elif working:
            match = re.fullmatch(r"(.+) = (-?[\d.]+)(?: (?:mm|deg|mm/rad))?", working)
            assert match, working
            found.append((match[1], float(match[2])))
            working = ""
    return found


@pytest.mark.parametrize("as_built", [False, True])
@pytest.mark.parametrize("car", ["A 1", "B 2", "C 3", "E 5", "F 6", "J 9"])
def test_a_working_gives_the_gap_that_was_found(
    car: str, as_built: bool, files: Path, clearance: Clearance
) -> None:
    source = [*MILL, *(survey(files) if as_built else [])]
    ended = clearance("check", car, *source, "--explain", "--json")
    plain = clearance("check", car, *source, "--json")
    assert ended.status == plain.status
    (result,) = ended.data["results"]
    working = result.pop("explanation")
    assert {"results": [result]} == {"results": plain.data["results"]}
    (track,) = [it for it in result["tracks"] if it["track"] == working["track"]]
    finding = track["findings"][0]
    assert working["check"] == finding["check"]
    for step in working["steps"] + working["handbook"]:
        assert set(step) == {"what", "working", "value", "unit", "equation"}
        assert_allclose(typed(step["working"]), step["value"], rtol=0, atol=SHOWN_MM)
    by = {step["what"].partition(":")[0]: step["value"] for step in working["steps"]}
    assert_allclose(by["gap"], finding["gap_mm"], rtol=0, atol=0.01)
    assert_allclose(by["allowance"], finding["allowance_mm"], rtol=0, atol=1e-4)
    spare = finding["gap_mm"] - finding["allowance_mm"]
    assert_allclose(by["spare"], spare, rtol=0, atol=0.01)
    assert finding["verdict"] in working["steps"][-1]["what"]


def test_a_working_as_text(files: Path, clearance: Clearance) -> None:
    """What stands on the paper is typed in, line by line, and gives what stands behind the =."""
    ended = clearance("check", "B 2", *MILL, *survey(files), "--explain")
    assert ended.status == 3
    assert max(map(len, ended.out.splitlines())) <= 80
    assert ended.out.startswith("B 2, near track: marginal\n  Overhead: needs ")
    lines = on_paper(ended.out)
    assert len(lines) > 8
    for working, value in lines:
        assert_allclose(typed(working), float(value), rtol=0, atol=SHOWN_MM)
    assert "By the handbook, which no verdict rests on:\n" in ended.out
    assert re.search(r"^  \d+\. spare: .*marginal", ended.out, re.MULTILINE)


@pytest.mark.usefixtures("files")
def test_a_working_of_two_cars(clearance: Clearance) -> None:
    out = clearance("check", "A 1", "B 2", *MILL, "--explain", "--format", "csv").out
    rows = list(csv.DictReader(io.StringIO(out), strict=True))
    assert list(dict.fromkeys(row["car"] for row in rows)) == ["A 1", "B 2"]
    assert {row["part"] for row in rows} == {"exact", "handbook"}
    for row in rows:
        assert_allclose(typed(row["working"].lstrip("'")), float(row["value"]), atol=SHOWN_MM)


@pytest.mark.usefixtures("files")
def test_a_working_at_the_door_and_of_what_nobody_measured(clearance: Clearance) -> None:
    figures = ["--height", "6 in", "--width", "3 in", "--length", "14 in", "--wheelbase", "9 in"]
    ended = clearance("check", *figures, "--helix", "mill.toml", "--explain")
    assert "at the door, near track: passes\n" in ended.out
    bare = clearance("check", "A 1", "--helix", "bare.toml", *MILL[2:], "--explain")
    assert bare.status == 3
    assert "not measured: the helix does not say what stands inside" in " ".join(bare.out.split())
    data = clearance("check", "A 1", "--helix", "bare.toml", *MILL[2:], "--explain", "--json").data
    assert [step["value"] for step in data["results"][0]["explanation"]["steps"]] == [None]


# --- trucks, undersides and couplings, and trains -------------------------------------------------

YARD = ("--helix", "mill.toml", "--cars", "yard.csv")
HEAD = (
    "id,height_mm,width_mm,length_mm,wheelbase_mm,truck_wheelbase_mm,length_over_couplers_mm,"
    "coupler_swing_mm,coupler_drop_mm,coupler_angle_deg,truck_swing_deg,underside_mm\n"
)
ROWS = (
    "short,120,70,300,200,,340,20,9,40,,9\n"
    "long,120,70,420,280,60,450,8,6,40,6,0.2\n"
    "stiff,120,70,300,200,,340,20,9,18,,9\n"
)


@pytest.fixture
def yard(files: Path) -> Path:
    (files / "yard.csv").write_text(HEAD + ROWS, encoding="utf-8")
    return files


@pytest.mark.parametrize("as_built", [False, True])
@pytest.mark.parametrize("check", ["truck_swing", "underside", "coupling"])
@pytest.mark.parametrize("asked", [["long"], ["--train", "short, long, stiff"]])
def test_what_a_car_does_as_it_runs(
    asked: list[str], check: str, as_built: bool, yard: Path, clearance: Clearance
) -> None:
    source = [*YARD, *(survey(yard) if as_built else []), "--explain", "--of", check]
    out = clearance("check", *asked, *source).out
    assert max(map(len, out.splitlines())) <= 80
    assert "found it" not in out  # nothing is only told
    for working, value in on_paper(out):
        assert_allclose(typed(working), value, rtol=0, atol=SHOWN_MM)
    rows = clearance("check", *asked, *source, "--format", "csv").out
    for row in csv.DictReader(io.StringIO(rows), strict=True):
        assert row["check"] == check
        assert_allclose(typed(row["working"].lstrip("'")), float(row["value"]), atol=SHOWN_MM)
    data = clearance("check", *asked, *source, "--json").data
    working = (data["train"] if "--train" in asked else data["results"][0])["explanation"]
    gap = next(step for step in working["steps"] if step["what"].startswith("gap: "))
    assert working["check"] == check
    told = [
        finding
        for track in next(it for it in data["results"] if it["car"] == "long")["tracks"]
        for finding in track["findings"]
        if finding["check"] == check and track["track"] == working["track"]
    ]
    if "--train" in asked and check == "coupling":
        assert told == []  # that is a matter of the train
        (track,) = [it for it in data["train"]["tracks"] if it["track"] == working["track"]]
        (one, _) = working["cars"]
        coupling = track["couplings"][one["place"] - 1]
        half = 35  # of the widths, both 70 mm
        has, does = (math.sin(math.radians(coupling[it])) for it in ("limit_deg", "angle_deg"))
        assert_allclose(gap["value"], half * (has - does), rtol=0, atol=SHOWN_MM)
    else:
        assert_allclose(gap["value"], told[0]["gap_mm"], rtol=0, atol=SHOWN_MM)


@pytest.mark.usefixtures("yard")
def test_the_worst_of_a_train(clearance: Clearance) -> None:
    ended = clearance("check", "--train", "short, long, stiff", *YARD, "--explain")
    plain = clearance("check", "--train", "short, long, stiff", *YARD)
    assert ended.status == plain.status == 4
    text = " ".join(ended.out.split())
    assert text.startswith(
        "Train short, long, stiff, near track: does not fit long (car 2) and stiff (car 3): "
        "Coupling: with the rear coupler of long it is out of line by "
    )
    data = clearance("check", "--train", "short, long, stiff", *YARD, "--explain", "--json").data
    assert data["train"]["explanation"]["cars"] == [
        {"place": 2, "car": "long"},
        {"place": 3, "car": "stiff"},
    ]
