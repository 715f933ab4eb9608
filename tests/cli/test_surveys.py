"""Surveys that are kept, looked at again: listed, reading by reading, and as a file.

The helix is that of tests/cli/test_as_built.py.
"""

import csv
import io
from pathlib import Path

import pytest

from catalog.survey_csv import read_survey
from tests.cli.conftest import Clearance
from tests.cli.test_as_built import MILL, NAME, as_drawn, survey_csv, write

SPRING, SUMMER = "2026-04-12", "2026-07-05"


@pytest.fixture
def kept(club: Path, clearance: Clearance) -> Path:
    """A catalog with two surveys, of which the first was approved."""
    spring = write("spring.csv", survey_csv(as_drawn(), taken_on=SPRING))
    summer = write("summer.csv", survey_csv({0: 175.0, 7: 172.5}, {7.5: 158.5}, taken_on=SUMMER))
    assert clearance("helix", "survey", NAME, spring, "--approve").status == 0
    assert clearance("helix", "survey", NAME, summer).status == 0
    return club


@pytest.mark.usefixtures("kept")
def test_surveys_are_listed(clearance: Clearance) -> None:
    ended = clearance("helix", "survey", NAME)
    assert ended.status == 0
    lines = ended.out.splitlines()
    assert lines[0] == f"{NAME}: 2 surveys"
    assert lines[1].split() == ["survey", "by", "readings", "approved"]
    spring, summer = lines[2].split(), lines[3].split()
    assert spring[:3] == [SPRING, "NO", "24"]
    assert len(spring) > 3
    assert summer == [SUMMER, "NO", "25"]
    data = clearance("helix", "survey", NAME, "--json").data
    assert data["helix"] == NAME
    assert [(it["taken_on"], it["taken_by"], it["readings"]) for it in data["surveys"]] == [
        (SPRING, ["NO"], 24),
        (SUMMER, ["NO"], 25),
    ]
    assert [it["approved"] for it in data["surveys"]] == [True, False]
    rows = list(csv.DictReader(io.StringIO(clearance(*_LIST, "--format", "csv").out)))
    assert [(row["taken_on"], row["taken_by"]) for row in rows] == [(SPRING, "NO"), (SUMMER, "NO")]


_LIST = ("helix", "survey", NAME)


@pytest.mark.usefixtures("club")
def test_there_are_none_yet(clearance: Clearance) -> None:
    ended = clearance(*_LIST)
    assert ended.status == 0
    assert "no survey yet" in ended.out
    assert clearance(*_LIST, "--json").data == {"helix": NAME, "surveys": []}
    assert clearance(*_LIST, "--format", "csv").out == ""


@pytest.mark.usefixtures("kept")
@pytest.mark.parametrize(
    ("day", "file"),
    [(SPRING, "spring.csv"), ("2026-07-04", "spring.csv"), (SUMMER, "summer.csv")],
)
def test_a_survey_comes_out_as_it_went_in(day: str, file: str, clearance: Clearance) -> None:
    ended = clearance(*_LIST, "--as-of", day, "--format", "csv", "--output", "again.csv")
    assert ended.status == 0
    assert read_survey(Path("again.csv")) == read_survey(Path(file))
    ended = clearance("helix", "survey", NAME, "again.csv")
    assert ended.err.startswith("unchanged: ")


@pytest.mark.usefixtures("kept")
def test_the_readings_of_a_day(clearance: Clearance) -> None:
    ended = clearance(*_LIST, "--as-of", SUMMER)
    lines = ended.out.splitlines()
    assert lines[0] == f"{NAME}, surveyed on 5 July 2026: 25 readings, NO"
    assert lines[1].split() == ["station", "track", "railhead", "headroom", "on", "by"]
    assert len(lines) == 2 + 25 + 1
    (between,) = [line.split() for line in lines if line.startswith("7.5 ")]
    assert between == ["7.5", "all", "158.5", "mm", SUMMER, "NO"]
    assert lines[-1] == "  Headroom not surveyed at stations 1 to 6, 8 to 13."
    data = clearance(*_LIST, "--as-of", SUMMER, "--json").data
    assert (data["helix"], data["survey"]["taken_on"]) == (NAME, SUMMER)
    assert data["remarks"] == ["headroom not surveyed at stations 1 to 6, 8 to 13"]
    assert data["readings"][7] == {
        "station": 7, "track": "", "railhead_mm": 147.0, "headroom_mm": 172.5,
        "taken_on": SUMMER, "taken_by": "NO",
    }  # fmt: skip
    assert data["readings"][8]["station"] == 7.5
    assert data["readings"][8]["headroom_mm"] is None
    assert "approved" in clearance(*_LIST, "--as-of", SPRING).out.splitlines()[0]


@pytest.mark.usefixtures("kept")
def test_a_survey_of_what_stands_no_more_is_shown_all_the_same(clearance: Clearance) -> None:
    text = Path("mill.toml").read_text("utf-8").replace("turns = 2.3", "turns = 0.9")
    write("short.toml", text)
    assert clearance("helix", "add", "short.toml").status == 0
    ended = clearance(*_LIST, "--as-of", SPRING)
    assert ended.status == 0
    assert "As the helix is drawn today, station 20: is more than a turn off" in ended.out
    file = clearance(*_LIST, "--as-of", SPRING, "--format", "csv").out
    assert len(file.splitlines()) == 1 + 24


@pytest.mark.usefixtures("kept")
def test_before_the_first_survey_there_is_none(clearance: Clearance) -> None:
    ended = clearance(*_LIST, "--as-of", "2026-04-11")
    assert (ended.status, ended.out, ended.err.count("\n")) == (1, "", 1)
    assert f"yet on 2026-04-11; the first is of {SPRING}" in ended.err


@pytest.mark.usefixtures("kept")
def test_a_helix_says_as_which_survey_it_was_approved(clearance: Clearance) -> None:
    shown = clearance("helix", "show", NAME)
    words = " ".join(shown.out.split())
    assert "2, the latest of 5 July 2026; approved as found on 12 April 2026" in words
    data = clearance("helix", "show", NAME, "--json").data
    assert (data["surveyed_on"], data["approved_on"]) == ([SPRING, SUMMER], [SPRING])
    listed = clearance("helix", "list").out
    assert SUMMER in listed
    assert "approved" not in listed
    (row,) = csv.DictReader(io.StringIO(clearance("helix", "list", "--format", "csv").out))
    assert (row["surveyed_on"], row["approved_on"]) == (SUMMER, SPRING)
    assert clearance("helix", "survey", NAME, "summer.csv", "--approve").status == 0
    assert clearance("helix", "show", NAME, "--json").data["approved_on"] == [SPRING, SUMMER]
    assert "approved" in clearance("helix", "list").out


@pytest.mark.usefixtures("club")
def test_none_is_approved(clearance: Clearance) -> None:
    assert "none: it is judged as drawn" in clearance("helix", "show", NAME).out
    clearance("helix", "survey", NAME, write("s.csv", survey_csv(as_drawn())))
    assert "12 April 2026; none is approved" in " ".join(
        clearance("helix", "show", NAME).out.split()
    )
    assert clearance("helix", "show", NAME, "--json").data["approved_on"] == []


# --- what is refused ------------------------------------------------------------------------------


@pytest.mark.usefixtures("club")
@pytest.mark.parametrize("command", [("helix", "survey", NAME), ("check", *MILL, "--survey")])
def test_a_survey_dated_in_the_future(command: tuple[str, ...], clearance: Clearance) -> None:
    """2099 for 2026: it would stand until then."""
    text = survey_csv(as_drawn()).replace(f"\n5,105.0,175.0,{SPRING}", "\n5,105.0,175.0,2099-04-12")
    ended = clearance(*command, write("s.csv", text))
    assert (ended.status, ended.out, ended.err.count("\n")) == (1, "", 1)
    assert "s.csv, row 7, taken_on: 2099-04-12 is in the future, for today is" in ended.err
    assert clearance("helix", "show", NAME, "--json").data["surveyed_on"] == []


@pytest.mark.usefixtures("club")
@pytest.mark.parametrize(
    ("row", "place"),
    [
        ("5,,4.13,,", "s.csv, row 9, railhead, stations 4 and 5: the railhead goes from"),
        ("5,,,17.5,", "s.csv, row 9, headroom, station 5: a headroom of 17.5 mm, where the"),
        ("5,nera,105,,", "s.csv, row 9, track, station 5: there is no track 'nera'"),
        ("99,,105,,", "s.csv, row 9, station, station 99: is more than a turn off the line"),
    ],
)
def test_a_refusal_names_the_row_and_the_column(row: str, place: str, clearance: Clearance) -> None:
    """Rows as a spreadsheet counts them, those that nobody filled in too."""
    head = "station,track,railhead_mm,headroom_mm,taken_on\n"
    drawn = "".join(f"{k},,{21.0 * k},,\n" for k in (0, 1, 2, 3))
    file = write("s.csv", f"{head}{drawn}4,,,,\n\n4,near,,,\n{row}\n6,,126,,\n")
    ended = clearance("helix", "survey", NAME, file)
    assert (ended.status, ended.out, ended.err.count("\n")) == (1, "", 1)
    assert place in ended.err


@pytest.mark.usefixtures("kept")
def test_a_question_is_followed_by_a_sentence(clearance: Clearance) -> None:
    """The survey goes no more with a helix that was drawn so much less steep."""
    text = Path("mill.toml").read_text("utf-8")
    text = text.replace('rise_per_turn = "210 mm"', 'rise_per_turn = "60 mm"')
    assert clearance("helix", "add", write("flat.toml", text)).status == 0
    ended = clearance("check", "A 1")
    assert (ended.status, ended.err.count("\n")) == (1, 1)
    assert "? The helix has been drawn anew since" in ended.err
    assert "?;" not in ended.err
