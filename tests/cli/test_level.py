"""`clearance level` and `check --mend`, as a person runs them.

mill.toml: 10 brackets a turn, 23 in all, 21 mm of rise from one to the next; 35 mm of deck and beam
leave 175 mm under each beam.
"""

import csv
import io
import subprocess
import sys
from pathlib import Path

import pytest

from catalog.survey_csv import read_survey
from tests.cli.conftest import Clearance
from tests.cli.test_as_built import as_drawn, survey_csv, write

CARS = ("--cars", "cars.csv", "--blocks", "blocks.csv")
ADJUSTERS = '\n[adjusters]\npitch = "1 mm"\nstep = 0.5\ntravel = "30 mm"\nwrench = "a 10 mm key"\n'
LOW_MM = 9.0


@pytest.fixture
def mill(files: Path) -> tuple[str, ...]:
    """The mill's helix with adjusters, and a survey that finds beam 3 low."""
    text = (files / "mill.toml").read_text(encoding="utf-8")
    assert "[adjusters]" not in text
    head, lists, rest = text.partition("\n[[leads]]") if "\n[[leads]]" in text else (text, "", "")
    (files / "nuts.toml").write_text(head + ADJUSTERS + lists + rest, encoding="utf-8")
    write("low.csv", survey_csv(as_drawn(k3=LOW_MM)))
    return ("--helix", "nuts.toml", *CARS)


def tallest(clearance: Clearance, mill: tuple[str, ...]) -> str:
    """The car with the least to spare overhead as drawn, that still passes."""
    cars = clearance("check", *mill, "--json").data["results"]
    spare = {}
    for car in cars:
        findings = [it for track in car["tracks"] for it in track["findings"]]
        over = [it for it in findings if it["check"] == "overhead"]
        if over and all(it["verdict"] == "passes" for it in over):
            spare[car["car"]] = min(it["gap_mm"] - it["allowance_mm"] for it in over)
    name = min(spare, key=spare.__getitem__)
    assert spare[name] < LOW_MM
    return str(name)


def test_json_is_as_agreed_and_holds_when_put_back(
    clearance: Clearance, mill: tuple[str, ...]
) -> None:
    name = tallest(clearance, mill)
    low = clearance("check", name, *mill, "--survey", "low.csv")
    assert low.status in (3, 4)
    wide = ("--max-grade", "15", "--max-change", "15")
    ended = clearance(
        "level", *mill, "--survey", "low.csv", *wide, "--write", "expected.csv", "--json"
    )
    assert ended.status == 0
    found = ended.data
    assert found["moves"]
    for move in found["moves"]:
        assert {"station", "move_mm", "nut_turns"} <= set(move)
        assert move["nut_turns"] == move["move_mm"]  # 1 mm a turn
        assert move["nut_turns"] % 0.5 == 0
    for state in ("before", "after"):
        assert {"least_spare_mm", "greatest_grade_percent"} <= set(found[state])
    assert found["before"]["least_spare_mm"] < 0 <= found["after"]["least_spare_mm"]
    assert found["cannot"] is None
    assert found["adjusters"]["wrench"] == "a 10 mm key"
    assert "measure it all the same" in ended.err
    again = clearance("check", *mill, "--survey", "expected.csv", "--json").data["results"]
    drawn = clearance("check", *mill, "--json").data["results"]
    for before, after in zip(drawn, again, strict=True):
        for was, now in zip(before["tracks"], after["tracks"], strict=True):
            over = [
                next((it["verdict"] for it in track["findings"] if it["check"] == "overhead"), "")
                for track in (was, now)
            ]
            assert over[0] != "passes" or over[1] == "passes", (before["car"], was["track"])
    taken = {it.taken_by for it in read_survey(Path("expected.csv")).readings}
    assert "expected, not measured" in taken


def test_the_work_list_on_paper(clearance: Clearance, mill: tuple[str, ...]) -> None:
    wide = ("--max-grade", "15", "--max-change", "15")
    ended = clearance("level", *mill, "--survey", "low.csv", *wide)
    assert ended.status == 0
    assert all(len(text) <= 80 for text in ended.out.splitlines())
    assert "a 10 mm key" in ended.out
    assert "Never turn a nut with a train on the deck" in ended.out
    rows = list(
        csv.DictReader(
            io.StringIO(
                clearance("level", *mill, "--survey", "low.csv", *wide, "--format", "csv").out
            )
        )
    )
    assert [int(row["station"]) for row in rows] == sorted(int(row["station"]) for row in rows)
    for row in rows:
        assert row["station"] in ended.out


def test_the_adjusters_are_shown_with_the_helix(
    clearance: Clearance, mill: tuple[str, ...]
) -> None:
    assert clearance("helix", "add", mill[1]).status == 0
    words = " ".join(clearance("helix", "show", "Mill Lane helix").out.split())
    nuts = "1 mm a turn of the nut, in steps of 0.5 turn, 30.0 mm (1 3/16 in) each way, a 10 mm key"
    assert f"adjusters {nuts}" in words


def test_no_file_of_somebody_else_is_written_over(
    clearance: Clearance, mill: tuple[str, ...]
) -> None:
    wide = ("--max-grade", "15", "--max-change", "15")
    asked = ("level", *mill, "--survey", "low.csv", *wide, "--write")
    measured = Path("low.csv").read_text(encoding="utf-8")
    ended = clearance(*asked, "low.csv")
    assert (ended.status, ended.out) == (1, "")
    assert ended.err == (
        "clearance: low.csv: is there already, and is not a survey that level wrote; "
        "name another file\n"
    )
    assert Path("low.csv").read_text(encoding="utf-8") == measured
    for _ in range(2):  # over its own it may
        assert clearance(*asked, "expected.csv").status == 0
    ended = clearance("level", *mill, "--write", "nothing.csv")
    assert "nothing.csv is not written: nothing is to be turned" in ended.err
    assert not Path("nothing.csv").exists()


def test_nothing_to_turn(clearance: Clearance, mill: tuple[str, ...]) -> None:
    ended = clearance("level", *mill, "--write", "expected.csv")
    assert ended.status == 0
    assert ended.out.startswith("Nothing to turn")
    assert not Path("expected.csv").exists()
    assert "not written" in ended.err


def test_what_cannot_be_done_says_what_stands_in_the_way(
    clearance: Clearance, mill: tuple[str, ...]
) -> None:
    text = Path(mill[1]).read_text(encoding="utf-8")
    write("stiff.toml", text.replace('travel = "30 mm"', 'travel = "1 mm"'))
    write("lower.csv", survey_csv(as_drawn(k3=3 * LOW_MM)))
    asked = ("--helix", "stiff.toml", *CARS, "--survey", "lower.csv", "--max-grade", "15")
    ended = clearance("level", *asked, "--max-change", "15")
    assert ended.status == 4
    assert "Cannot be done" in ended.out
    assert "under the beam at bracket 3" in ended.out
    assert "end of its travel" in ended.out
    data = clearance("level", *asked, "--max-change", "15", "--json").data
    assert data["moves"] == []
    assert data["after"] is None
    kinds = {it["kind"] for it in data["cannot"]}
    assert kinds == {"clearance", "travel"}


def test_without_adjusters_it_says_what_to_write(clearance: Clearance, files: Path) -> None:
    assert (files / "mill.toml").exists()
    ended = clearance("level", "--helix", "mill.toml", *CARS)
    assert ended.status == 1
    (words,) = ended.err.splitlines()
    assert "[adjusters]" in words
    for key in ("pitch", "step", "travel"):
        assert f"{key} = " in words


def test_an_unknown_track_is_refused(clearance: Clearance, mill: tuple[str, ...]) -> None:
    ended = clearance("level", *mill, "--track", "middle")
    assert ended.status == 2
    assert "'middle'" in ended.err


def test_mends_are_listed_and_given(clearance: Clearance, mill: tuple[str, ...]) -> None:
    name = tallest(clearance, mill)
    asked = ("check", name, *mill, "--survey", "low.csv")
    plain = clearance(*asked)
    ended = clearance(*asked, "--mend")
    assert ended.status == plain.status
    assert "Would let it pass, each checked again:" in ended.out
    assert "off " in ended.out
    (car,) = clearance(*asked, "--mend", "--json").data["results"]
    kinds = [mend["kind"] for mend in car["mends"]]
    assert "off_top" in kinds
    assert set(kinds) <= {"brackets", "off_top", "one_track", "one_way", "not_past"}
    door = clearance(
        *("check", "--height", "170 mm", "--width", "80 mm", "--length", "300 mm"),
        *("--wheelbase", "180 mm", "--helix", "nuts.toml", "--mend"),
    )
    assert door.status in (3, 4)
    assert "off its top" in door.out


def test_mend_goes_with_a_car_and_with_nothing_else(
    clearance: Clearance, mill: tuple[str, ...]
) -> None:
    assert clearance("check", *mill, "--mend").status == 2
    name = tallest(clearance, mill)
    assert clearance("check", name, *mill, "--mend", "--explain").status == 2
    assert clearance("check", name, *mill, "--mend", "--format", "csv").status == 2


def test_the_solver_is_read_only_where_it_is_needed(files: Path) -> None:
    """Help, and a plain check, start without it."""
    code = (
        "import sys; from clearance.cli.app import run\n"
        "try: run(sys.argv[1:])\n"
        "except SystemExit: pass\n"
        "print([name for name in sys.modules if name.split('.')[0] == 'scipy'])"
    )
    for arguments in (["--help"], ["check", "--helix", "mill.toml", *CARS]):
        done = subprocess.run(
            [sys.executable, "-c", code, *arguments],
            cwd=files,
            env={"PYTHONPATH": str(Path(__file__).resolve().parents[2]), "HOME": str(files)},
            capture_output=True,
            text=True,
            check=False,
            timeout=120,
        )
        assert done.stdout.splitlines()[-1] == "[]", done.stderr
