"""What a survey tells when it is kept, and what surveys tell beside one another.

mill.toml: 10 brackets a turn, 23 in all, 21 mm of rise from one to the next; 35 mm of deck and beam
leave 175 mm under each beam. With the railheads as drawn, a measured headroom that is a millimetre
lower leaves every car a millimetre less.
"""

import csv
import io
import re
from datetime import date
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from tests.cli.conftest import Clearance, Outcome
from tests.cli.test_as_built import NAME, as_drawn, overhead, survey_csv, write

PAPER = 80
YEARS = ("2016-03-01", "2020-03-01", "2024-03-01")
FOUR_YEARS = 1461  # days: 4 x 365.25
HALF_DIGIT_MM = 0.5e-4


def keep(clearance: Clearance, day: str, *options: str, **lower_mm: float) -> Outcome:
    """Keep a survey of a day whose headrooms are so much lower than drawn: ``k7=5.0``."""
    file = write(f"{day}.csv", survey_csv(as_drawn(**lower_mm), taken_on=day))
    return clearance("helix", "survey", NAME, file, *options)


def spare(clearance: Clearance, car: str, **lower_mm: float) -> float:
    """What a car has to spare overhead on the far track, as `check` tells it. [mm]"""
    file = write("asked.csv", survey_csv(as_drawn(**lower_mm)))
    helix = ("--helix", "mill.toml", "--cars", "cars.csv", "--blocks", "blocks.csv")
    found = overhead(clearance("check", car, *helix, "--survey", file, "--json"))
    gap: float = found["gap_mm"]
    allowance: float = found["allowance_mm"]
    return gap - allowance


def assert_fits_the_paper(text: str) -> None:
    assert max(map(len, text.splitlines())) <= PAPER
    assert not re.search(r"[ \t]$", text, re.MULTILINE)


# --- on import ------------------------------------------------------------------------------------


@pytest.mark.usefixtures("club")
def test_the_first_survey_is_held_against_the_drawing(clearance: Clearance) -> None:
    ended = keep(clearance, YEARS[0], "--json", k7=4.0)
    assert ended.status == 0
    assert ended.err.startswith(f"added: survey of {NAME}, 24 readings, of {YEARS[0]}\n")
    data = ended.data
    assert set(data) == {
        "helix", "change", "taken_on", "readings", "approved", "remarks", "moved", "changed",
        "later_survey", "left_out",
    }  # fmt: skip
    assert (data["helix"], data["change"], data["readings"]) == (NAME, "added", 24)
    assert (data["taken_on"], data["approved"]) == (YEARS[0], False)
    assert [words[:24] for words in data["remarks"]] == ["station 7: a headroom of"]
    assert data["moved"]["since"] is None
    (moved,) = [it for it in data["moved"]["places"] if it["moved_mm"]]
    assert moved == {
        "station": 7, "turn": 1, "angle_deg": 252.0, "track": "", "what": "headroom",
        "before_mm": 175.0, "now_mm": 171.0, "moved_mm": -4.0,
        "origin_before": "as designed", "origin": "as measured",
    }  # fmt: skip
    assert data["changed"]["since_last"] == data["changed"]["since_approved"]
    assert data["changed"]["since_last"]["since"] is None


@pytest.mark.usefixtures("club")
def test_what_moved_since_the_survey_before(clearance: Clearance) -> None:
    keep(clearance, YEARS[0], k7=1.0)
    railheads = {12.0: 12 * 21.0 - 2.5}
    headrooms = as_drawn(k7=4.0)
    del headrooms[5]
    file = write("s.csv", survey_csv(headrooms, railheads, taken_on=YEARS[1]))
    data = clearance("helix", "survey", NAME, file, "--json").data
    assert data["moved"]["since"] == YEARS[0]
    moved = {
        (it["station"], it["what"]): it["moved_mm"]
        for it in data["moved"]["places"]
        if it["moved_mm"]
    }
    assert moved == {(7, "headroom"): -3.0, (12, "railhead"): -2.5}
    (gone,) = data["moved"]["no_longer_measured"]
    assert (gone["station"], gone["what"], gone["track"]) == (5, "headroom", "")
    rows = list(
        csv.DictReader(io.StringIO(clearance("helix", "survey", NAME, file, "--format", "csv").out))
    )
    assert [(row["station"], row["what"]) for row in rows if float(row["moved_mm"])] == [
        ("7", "headroom"),
        ("12", "railhead"),
    ]
    text = clearance("helix", "survey", NAME, file).out
    assert_fits_the_paper(text)
    assert text.startswith("What moved since the survey of 1 March 2016:\n")
    for words in (
        r"7        1, 252°  147\.0 mm  0\.0 mm   171\.0 mm  -3\.0 mm\n",
        r"12       2, 72°   249\.5 mm  -2\.5 mm",
        r"At 22 more places nothing moved by more than 1\.0 mm",
        r"Measured before, but not this time: headroom at station 5\.\n",
    ):
        assert re.search(words, text), words


@pytest.mark.usefixtures("club")
def test_whose_verdict_changed_since_then_and_since_it_was_approved(clearance: Clearance) -> None:
    """B 2 is 164 mm high and is short already; A 1 has so much to spare, and loses more than that
    in two steps."""
    left = spare(clearance, "A 1")
    assert left > 0
    keep(clearance, YEARS[0], "--approve")
    keep(clearance, YEARS[1], k7=left - 1)
    ended = keep(clearance, YEARS[2], "--json", k7=left + 1)
    changed = ended.data["changed"]
    assert changed["since_last"]["since"] == YEARS[1]
    assert changed["since_approved"]["since"] == YEARS[0]
    for since, before in (("since_last", 1.0), ("since_approved", left)):
        (far,) = [it for it in changed[since]["cars"] if (it["car"], it["track"]) == ("A 1", "far")]
        assert (far["before"], far["now"]) == ("passes", "marginal")
        assert (far["check"], far["station"]) == ("overhead", 7)
        assert_allclose(far["spare_mm"], -1, atol=4 * HALF_DIGIT_MM)
        # With the beams as drawn another one governs; all of them are the same then.
        assert_allclose(far["spare_before_mm"], before, atol=4 * HALF_DIGIT_MM)
    again = clearance("helix", "survey", NAME, f"{YEARS[2]}.csv")
    assert again.err.startswith("unchanged: ")
    assert_fits_the_paper(again.out)
    words = " ".join(again.out.split())
    assert "Since the survey of 1 March 2020: another verdict for " in words
    assert "Since it was approved with the survey of 1 March 2016: another verdict for " in words
    assert "overhead at bracket 7 (turn 1, 252°): 1.0 mm short, before 1.0 mm to spare" in words
    assert "By this survey, 8 cars: " in words


@pytest.mark.usefixtures("club")
def test_approving_is_said_and_kept(clearance: Clearance) -> None:
    keep(clearance, YEARS[0])
    ended = keep(clearance, YEARS[0], "--approve", "--json")
    assert ended.err == f"approved: survey of {NAME}, 24 readings, of {YEARS[0]}\n"
    assert (ended.data["change"], ended.data["approved"]) == ("approved", True)
    assert keep(clearance, YEARS[0], "--approve").err.startswith("unchanged: ")
    text = keep(clearance, YEARS[1], k7=0.5).out
    assert "Since the survey of 1 March 2016, with which it was approved: no verdict" in text
    assert text.startswith(
        "What moved since the survey of 1 March 2016: nothing by more than\n1.0 "
    )


@pytest.mark.usefixtures("club")
def test_an_older_survey_is_held_against_what_was_before_it(clearance: Clearance) -> None:
    keep(clearance, YEARS[0], k7=1.0)
    keep(clearance, YEARS[2], k7=9.0)
    data = keep(clearance, YEARS[1], "--json", k7=3.0).data
    assert (data["moved"]["since"], data["later_survey"]) == (YEARS[0], YEARS[2])
    (moved,) = [it for it in data["moved"]["places"] if it["moved_mm"]]
    assert moved["moved_mm"] == -2.0
    assert (
        "It is judged by a later survey, of 1 March 2024." in keep(clearance, YEARS[1], k7=3.0).out
    )


@pytest.mark.usefixtures("club")
def test_a_survey_of_what_was_drawn_anew_is_left_aside(clearance: Clearance) -> None:
    keep(clearance, YEARS[0])
    text = Path("mill.toml").read_text("utf-8").replace("turns = 2.3", "turns = 0.9")
    assert clearance("helix", "add", write("short.toml", text)).status == 0
    file = write("few.csv", "station,railhead_mm,taken_on\n2,42,2020-03-01\n")
    data = clearance("helix", "survey", NAME, file, "--json").data
    assert data["left_out"] == [YEARS[0]]
    assert data["moved"]["since"] is None
    shown = clearance("helix", "survey", NAME, file).out
    assert "Drawn anew since, so left aside: the survey of 1 March 2016." in shown


@pytest.mark.usefixtures("club")
@pytest.mark.parametrize("form", [["--format", "xml"], ["--json", "--format", "csv"]])
def test_a_form_that_there_is_not_keeps_nothing(form: list[str], clearance: Clearance) -> None:
    ended = keep(clearance, YEARS[0], *form)
    assert (ended.status, ended.out) == (2, "")
    assert clearance("helix", "history", NAME, "--json").data["surveys"] == []


def test_a_helix_without_cars(files: Path, clearance: Clearance) -> None:
    assert clearance("helix", "add", "mill.toml", "--catalog", "c.sqlite").status == 0
    file = write("s.csv", survey_csv(as_drawn(k7=4.0)))
    ended = clearance("helix", "survey", NAME, file, "--catalog", files / "c.sqlite")
    assert ended.status == 0
    assert "The catalog holds no car of its gauge" in ended.out


# --- the history ----------------------------------------------------------------------------------


def even_fall(clearance: Clearance, lower_mm: float = 0.0) -> None:
    """Beam 7 comes down by a millimetre in four years, twice."""
    for number, day in enumerate(YEARS):
        options = ["--approve"] if number == 1 else []
        keep(clearance, day, *options, k7=lower_mm + number)


@pytest.mark.usefixtures("club")
def test_the_history_as_data(clearance: Clearance) -> None:
    """A 1 has so much to spare by the last survey, and loses a millimetre in four years.

    Over the near track a lamp hangs lower than the beam, today.
    """
    even_fall(clearance, 1.0)
    ended = clearance("helix", "history", NAME, "--json")
    assert ended.status == 0
    data = ended.data
    assert set(data) == {"helix", "since", "surveys", "drift", "forecast"}
    assert [it["taken_on"] for it in data["surveys"]] == list(YEARS)
    assert [it["approved"] for it in data["surveys"]] == [False, True, False]
    assert all(it["taken_by"] == ["NO"] and it["readings"] == 24 for it in data["surveys"])
    assert all(sum(it["verdicts"].values()) == 8 for it in data["surveys"])
    (room,) = [it for it in data["drift"] if (it["station"], it["what"]) == (7, "headroom")]
    assert room == {
        "station": 7, "turn": 1, "angle_deg": 252.0, "track": "", "what": "headroom",
        "origin": "as measured", "moved_mm": -2.0, "rate_mm_year": -0.25,
        "rate_error_mm_year": 0.1021,
        "readings": [
            {"taken_on": day, "value_mm": value}
            for day, value in zip(YEARS, (174.0, 173.0, 172.0), strict=True)
        ],
    }  # fmt: skip
    left = spare(clearance, "A 1", k7=3.0)
    forecast = data["forecast"]
    assert (forecast["too_few_surveys"], forecast["surveys"]) == (False, list(YEARS))
    assert (forecast["band_percent"], forecast["horizon_years"]) == (90, 50)
    (near,) = [it for it in forecast["cars"] if (it["car"], it["track"]) == ("A 1", "near")]
    assert (near["station"], near["obstacle"]) == (7, "beam")
    (one,) = [it for it in forecast["cars"] if (it["car"], it["track"]) == ("A 1", "far")]
    assert_allclose(one["spares_mm"], [left + 2, left + 1, left], atol=4 * HALF_DIGIT_MM)
    assert (one["station"], one["obstacle"]) == (7, "beam")
    assert_allclose(one["rate_mm_year"], -0.25, atol=HALF_DIGIT_MM)
    expected = date.fromisoformat(one["marginal_on"]).toordinal()
    by_hand = date(2024, 3, 1).toordinal() + left * FOUR_YEARS
    assert abs(expected - by_hand) <= 1
    # The band is that of readings to 1 mm: a year and more to each side, years later.
    assert date.fromisoformat(one["earliest"]).toordinal() < by_hand - 365
    assert one["latest"] is None or one["latest"] > one["marginal_on"]
    assert forecast["first"] == forecast["cars"][0]
    # B 2 and C 3 are too tall for it, whatever happens.
    assert {it["car"] for it in forecast["short"]} >= {"B 2", "C 3"}
    assert not {it["car"] for it in forecast["cars"]} & {"B 2", "C 3"}


@pytest.mark.usefixtures("club")
def test_the_history_on_paper(clearance: Clearance) -> None:
    even_fall(clearance, 1.0)
    text = clearance("helix", "history", NAME).out
    assert_fits_the_paper(text)
    assert text.startswith(f"{NAME}: 3 surveys\n")
    for words in (
        rf"{YEARS[1]}  NO  24        20\d\d-\d\d-\d\d, \S+ +\d of 8\n",
        r"7        147\.0     0\.0    0\.0 ± 0\.1  172\.0     -2\.0   -0\.3 ± 0\.1\n",
        r"Headroom shrinks fastest at bracket 7: -0\.3 mm a year\.",
        r"First expected to become marginal overhead: A 1 on the near track at beam 7,\nabout ",
        r"car +track +at +to spare +a year +marginal +90 % band\n",
        r"Short overhead already: ",
    ):
        assert re.search(words, text), words


@pytest.mark.usefixtures("club")
def test_the_history_as_rows(clearance: Clearance) -> None:
    even_fall(clearance)
    ended = clearance("helix", "history", NAME, "--format", "csv")
    rows = {(row["station"], row["what"]): row for row in csv.DictReader(io.StringIO(ended.out))}
    room = rows["7", "headroom"]
    assert (room["surveys"], room["first_on"], room["last_on"]) == ("3", YEARS[0], YEARS[2])
    assert (float(room["first_mm"]), float(room["last_mm"])) == (175.0, 173.0)
    assert (float(room["moved_mm"]), float(room["rate_mm_year"])) == (-2.0, -0.25)
    assert len(rows) == 24 + 14


@pytest.mark.usefixtures("club")
def test_too_few_surveys_is_said(clearance: Clearance) -> None:
    empty = clearance("helix", "history", NAME)
    assert empty.out == f"{NAME}: no survey yet; keep one with 'clearance helix survey'.\n"
    assert empty.status == 0
    keep(clearance, YEARS[0])
    assert (
        "1 survey to go by: it takes two to show a drift."
        in clearance("helix", "history", NAME).out
    )
    keep(clearance, YEARS[1], k7=2.0)
    words = " ".join(clearance("helix", "history", NAME).out.split())
    assert "-2.0 -0.5" in words
    assert "±" not in words
    assert (
        "Too few surveys to say when a car becomes marginal: it takes 3 of different days, and "
        "there are 2." in words
    )
    forecast = clearance("helix", "history", NAME, "--json").data["forecast"]
    assert (forecast["too_few_surveys"], forecast["first"]) == (True, None)
    assert all(it["marginal_on"] is None for it in forecast["cars"])
    # A second look on the same day makes no third survey.
    keep(clearance, YEARS[1], k7=2.5)
    data = clearance("helix", "history", NAME, "--json").data
    assert data["forecast"]["surveys"] == list(YEARS[:2])
    assert [it["left_out"] for it in data["surveys"]] == [
        None,
        "another one of the same day came after it",
        None,
    ]


@pytest.mark.usefixtures("club")
def test_what_was_before_a_day_is_left_out(clearance: Clearance) -> None:
    """The nuts were turned before 2020: from then on nothing moved."""
    for day, lower in zip(YEARS, (9.0, 1.0, 1.0), strict=True):
        keep(clearance, day, k7=lower)
    data = clearance("helix", "history", NAME, "--since", "2020-03-01", "--json").data
    assert data["since"] == "2020-03-01"
    assert [it["verdicts"] is None for it in data["surveys"]] == [True, False, False]
    (room,) = [it for it in data["drift"] if (it["station"], it["what"]) == (7, "headroom")]
    assert (room["moved_mm"], room["rate_mm_year"]) == (0.0, 0.0)
    text = clearance("helix", "history", NAME, "--since", "2020-03-01").out
    assert "Left out, of 1 March 2016: before the day that was asked for." in text


@pytest.mark.usefixtures("club")
@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        ((NAME, "--since", "May"), 2, "--since 'May' is no day; write one like 2026-05-31"),
        (("Mil Lane helix",), 1, "there is no helix 'Mil Lane helix' in the catalog"),
        ((NAME, "--format", "xml"), 2, "--format 'xml' is not one of text, csv, json"),
    ],
)
def test_what_history_refuses(
    arguments: tuple[str, ...], status: int, words: str, clearance: Clearance
) -> None:
    ended = clearance("helix", "history", *arguments)
    assert (ended.status, ended.out, ended.err.count("\n")) == (status, "", 1)
    assert words in ended.err
