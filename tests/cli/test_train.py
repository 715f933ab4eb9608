"""`check --train`: the cars, their couplings, the length, and which to leave off.

Numbers are worked out by hand from mill.toml: R 900 and 1045, 210 mm of rise a turn.
"""

import csv
import io
import math
from pathlib import Path
from typing import Any

import pytest
from numpy.testing import assert_allclose

from tests.cli.conftest import Clearance, Outcome

HEAD = (
    "id,height_mm,width_mm,length_mm,wheelbase_mm,length_over_couplers_mm,coupler_swing_mm,"
    "coupler_drop_mm,coupler_angle_deg\n"
)
CARS = (
    "low,120,70,300,200,340,20,9,40\n"
    "twin,120,70,300,200,340,20,9,40\n"
    "tall,170,70,300,200,340,20,9,40\n"
    "stiff,120,70,300,200,340,20,9,18\n"
    "bare,120,70,300,200,,,,\n"
)
SOURCE = ("--helix", "mill.toml", "--cars", "train.csv")


@pytest.fixture
def yard(files: Path) -> Path:
    (files / "train.csv").write_text(HEAD + CARS, encoding="utf-8")
    return files


def track(ended: Outcome, name: str = "far") -> dict[str, Any]:
    (found,) = [it for it in ended.data["train"]["tracks"] if it["track"] == name]
    result: dict[str, Any] = found
    return result


@pytest.mark.usefixtures("yard")
def test_json_of_a_train(clearance: Clearance) -> None:
    ended = clearance("check", "--train", "low, twin ,low", *SOURCE, "--json")
    assert set(ended.data) == {"helix", "train", "results", "survey"}
    train = ended.data["train"]
    assert train["cars"] == ["low", "twin", "low"]
    assert train["length_over_couplers_mm"] == 3 * 340.0
    assert [result["car"] for result in ended.data["results"]] == ["low", "twin"]
    assert ended.status == 0
    far = track(ended)
    assert (far["verdict"], far["leave_off"]) == ("passes", [])
    assert_allclose(far["turn_mm"], math.hypot(2 * math.pi * 1045, 210), rtol=0, atol=1e-4)
    assert [(c["ahead"], c["behind"]) for c in far["couplings"]] == [
        ({"place": 1, "car": "low"}, {"place": 2, "car": "twin"}),
        ({"place": 2, "car": "twin"}, {"place": 3, "car": "low"}),
    ]
    for coupling in far["couplings"]:
        # Twins on a circle swing out alike, and stand at the angle that their length spans.
        assert coupling["verdict"] == "passes"
        assert_allclose(coupling["sideways_mm"], 0.0, rtol=0, atol=0.01)
        assert_allclose(coupling["angle_deg"], math.degrees(340 / 1045), rtol=0, atol=0.15)
        assert (coupling["swing_mm"], coupling["limit_deg"]) == (40.0, 40.0)


@pytest.mark.usefixtures("yard")
def test_the_worst_comes_first_and_is_left_off(clearance: Clearance) -> None:
    ended = clearance("check", "--train", "low,tall,twin", *SOURCE)
    assert ended.status == 3
    text = " ".join(ended.out.split())
    assert text.startswith(
        "Train low, tall, twin: 3 cars, 1020.0 mm (40 3/16 in) over the couplers"
    )
    assert "near track: marginal tall (car 2): Overhead: needs " in text
    assert text.count("Leave off tall (car 2); the rest passes.") == 2
    assert text.count("Every coupling holds.") == 2
    assert max(map(len, ended.out.splitlines())) <= 80
    data = clearance("check", "--train", "low,tall,twin", *SOURCE, "--json")
    assert track(data)["worst"]["car"] == "tall"
    assert track(data)["worst"]["finding"]["check"] == "overhead"
    assert track(data)["leave_off"] == [{"place": 2, "car": "tall"}]


@pytest.mark.usefixtures("yard")
def test_a_coupling_that_does_not_hold(clearance: Clearance) -> None:
    """At 900 mm the cars stand at 21.7 degrees; one of them bears 18."""
    ended = clearance("check", "--train", "stiff,low,twin", *SOURCE)
    assert ended.status == 4
    text = " ".join(ended.out.split())
    assert "Coupling of stiff (car 1) and low (car 2): out of line by 21." in text
    assert "in angle, and 18.0° hold: 3." in text
    assert "couplers and diaphragms that bear 3." in text
    assert "Coupling of low (car 2) and twin (car 3)" not in text


@pytest.mark.usefixtures("yard")
def test_what_was_not_measured_of_a_train(clearance: Clearance) -> None:
    ended = clearance("check", "--train", "low,bare,twin", *SOURCE)
    assert ended.status == 0  # it lowers nothing, as with single cars
    text = " ".join(ended.out.split())
    assert (
        "Couplings not measured: low (car 1) to bare (car 2), bare (car 2) to twin (car 3)." in text
    )
    assert "not measured: its length, for want of that of bare" in text
    data = clearance("check", "--train", "low,bare,twin", *SOURCE, "--json").data
    assert data["train"]["length_over_couplers_mm"] is None


@pytest.mark.usefixtures("yard")
def test_a_train_against_a_turn_and_a_lead(clearance: Clearance) -> None:
    lead = '\n[[leads]]\nat = "foot"\nlength = "1 m"\ngrade = 0.037\n'
    Path("lead.toml").write_text(Path("mill.toml").read_text("utf-8") + lead, encoding="utf-8")
    source = ["--helix", "lead.toml", *SOURCE[2:]]
    short = " ".join(clearance("check", "--train", "low,twin", *source).out.split())
    assert "It stands on the lead at the foot (1000.0 mm (39 5/16 in))." in short
    long = clearance("check", "--train", ",".join(["low"] * 20), *source)
    text = " ".join(long.out.split())
    assert "It is longer than the lead at the foot (1000.0 mm (39 5/16 in))." in text
    near = math.hypot(2 * math.pi * 900, 210)  # 5659 mm; 20 cars are 6800
    assert f"It is longer than a turn ({math.floor(10 * near) / 10:.1f} mm" in text


@pytest.mark.usefixtures("yard")
def test_csv_of_a_train(clearance: Clearance) -> None:
    out = clearance("check", "--train", "low,tall,bare", *SOURCE, "--format", "csv").out
    rows = list(csv.DictReader(io.StringIO(out), strict=True))
    assert [(row["track"], row["place"], row["car"]) for row in rows] == [
        (name, str(place), car)
        for name in ("near", "far")
        for place, car in enumerate(("low", "tall", "bare"), start=1)
    ]
    assert [row["verdict"] for row in rows[:3]] == ["passes", "marginal", "passes"]
    assert [row["leave_off"] for row in rows[:3]] == ["False", "True", "False"]
    assert [row["coupling_behind"] for row in rows[:3]] == ["passes", "not measured", ""]


@pytest.mark.usefixtures("club")
def test_a_train_from_the_catalog(clearance: Clearance) -> None:
    ended = clearance("check", "--train", "A 1, A 1, D 4", "--json")
    assert ended.data["train"]["cars"] == ["A 1", "A 1", "D 4"]
    assert ended.status == 0


@pytest.mark.usefixtures("yard")
def test_one_car_is_a_train(clearance: Clearance) -> None:
    out = clearance("check", "--train", "low", *SOURCE).out
    assert out.startswith("Train low: 1 car, 340.0 mm")


@pytest.mark.usefixtures("yard")
def test_two_that_cannot_stand_coupled(clearance: Clearance) -> None:
    """6400 mm over couplers for 340: no bar as long as that lies across the circle."""
    text = (HEAD + CARS).replace("stiff,120,70,300,200,340,", "stiff,120,70,300,200,6400,")
    Path("train.csv").write_text(text, encoding="utf-8")
    ended = clearance("check", "--train", "low, stiff", *SOURCE)
    words = " ".join(ended.out.split())
    assert ended.status == 4
    assert (
        "Coupling of low (car 1) and stiff (car 2): coupled they cannot stand on this track at "
        "all; is the length over couplers right?" in words
    )
    assert "out of line by ." not in words
    words = " ".join(clearance("check", "stiff", *SOURCE).out.split())
    assert "Coupling: coupled with another of its kind it cannot stand on this track" in words


@pytest.mark.usefixtures("yard")
def test_a_row_of_a_coupling_can_be_understood(clearance: Clearance) -> None:
    """Of the stiff ones the angle governs: all three offsets and limits are in the row, and the gap
    is their angle's, at the corner of the car's end, 35 mm from its middle.
    """
    ended = clearance("check", "stiff", *SOURCE, "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(ended.out)))
    (row,) = [row for row in rows if (row["track"], row["check"]) == ("far", "coupling")]
    figures = {
        name: float(row[name])
        for name in (
            *("gap_mm", "available_mm", "required_mm", "at_mm", "coupling_deg", "limit_deg"),
            *("sideways_mm", "swing_mm", "vertical_mm", "drop_mm"),
        )
    }
    assert row["verdict"] == "does not fit"
    assert figures["limit_deg"] == 18
    assert (figures["swing_mm"], figures["drop_mm"], figures["at_mm"]) == (40, 9, 35)
    for name, angle in (("available_mm", "limit_deg"), ("required_mm", "coupling_deg")):
        expected = 35 * math.sin(math.radians(figures[angle]))
        assert_allclose(figures[name], expected, rtol=0, atol=2e-4)
    assert figures["gap_mm"] <= 0
    (other,) = [row for row in rows if (row["track"], row["check"]) == ("far", "overhead")]
    assert (other["at_mm"], other["coupling_deg"]) == ("", "")
