"""Whole outputs for people: they fit, they are harmless, they leave nothing out."""

import csv
import io
import random
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pytest
from markdown_it import MarkdownIt
from numpy.typing import NDArray
from rich.cells import cell_len

from catalog.car import Car
from catalog.columns import CarTable
from catalog.helix import Helix, Lead, Obstacle, Track
from catalog.history import CarVersion
from catalog.survey import Reading, Survey
from catalog.survey_rows import StoredSurvey
from clearance.cli.options import Output
from clearance.cli.output import emit
from clearance.judge.check import check
from clearance.judge.fleet import Fleet
from clearance.judge.meets import Meeting, meetings
from clearance.judge.roster import board_order, post
from clearance.judge.sizing import size
from clearance.judge.structure import Structure
from clearance.judge.telltales import telltales
from clearance.judge.trains import check_train
from clearance.show import cautions, listing
from clearance.show.check import check_data, check_rows, check_text
from clearance.show.meets import meets_rows, meets_text
from clearance.show.paper import Paper
from clearance.show.plain import plain
from clearance.show.roster import roster_data, roster_markdown, roster_rows, roster_text
from clearance.show.size import size_data, size_rows, size_text
from clearance.show.standing import Standing
from clearance.show.surveys import readings_text, surveys_rows, surveys_text
from clearance.show.telltales import telltales_data, telltales_rows, telltales_text
from clearance.show.train import train_text
from clearance.show.words import FULL_SIZE, from_drawings
from tests.show.conftest import PAPER, OnTerminal, printed


def check_lines(helix: Helix, fleet: Fleet) -> Paper:
    return check_text(check(helix, fleet))


def obstacle_lines(helix: Helix, fleet: Fleet) -> Paper:
    return check_text(check(helix, fleet, every_obstacle=True), every_obstacle=True)


def built_lines(helix: Helix, fleet: Fleet) -> Paper:
    """By a survey, with a lead; what is painted on the cars is in the name of the survey too."""
    sagging = Reading(station=14, railhead_mm=14 * helix.rise_per_turn_mm / 10 - 2)
    survey = Survey(readings=(sagging, Reading(station=2, headroom_mm=170.0)))
    lead = Lead(at="foot", length_mm=900.0, grade=0.03)
    helix = helix.model_copy(update={"leads": (lead,)})
    remarks = (f"something is odd about {fleet.ids[0]}",)
    standing = Standing(helix, survey, None, fleet.ids[0], remarks)
    return [*check_text(check(helix, fleet, survey)), *standing.lines]


def train_lines(helix: Helix, fleet: Fleet) -> Paper:
    return train_text(check_train(helix, fleet, [*fleet.ids, fleet.ids[0]]))


def roster_lines(helix: Helix, fleet: Fleet) -> Paper:
    return roster_text(post(check(helix, fleet)), Standing(helix))


def meets_lines(helix: Helix, fleet: Fleet) -> Paper:
    return meets_text(helix, meetings(helix, fleet), np.ones(len(fleet), bool))


def telltales_lines(helix: Helix, fleet: Fleet) -> Paper:
    found = telltales(helix, fleet)
    return telltales_text(Structure(helix), found, from_drawings(fleet))


def size_lines(helix: Helix, fleet: Fleet) -> Paper:
    return size_text(size(helix, fleet), from_drawings(fleet))


def cars_lines(_helix: Helix, fleet: Fleet) -> Paper:
    return listing.cars_text(fleet.table.cars(), fleet.ids[:1])


def car_lines(_helix: Helix, fleet: Fleet) -> Paper:
    lines: Paper = []
    for car in fleet.table.cars():
        version = CarVersion(1, car, False, "add", "2026-05-31T10:00:00+00:00", car.owner)
        lines += listing.car_text(car, [version])
    return lines


def helices_lines(helix: Helix, _fleet: Fleet) -> Paper:
    return listing.helices_text([helix], {helix.name: [stored(helix.name)]}, [helix.name])


def helix_lines(helix: Helix, _fleet: Fleet) -> Paper:
    return listing.helix_text(helix, [stored(helix.name)], retired=True)


def stored(words: str) -> StoredSurvey:
    """A survey that is kept; the words stand wherever there is room for any."""
    survey = Survey(
        readings=(
            Reading(station=2, headroom_mm=170.0, taken_by=words),
            Reading(station=2, track=words, railhead_mm=35.0, taken_on=date(2026, 4, 12)),
        )
    )
    at = "2026-04-12T10:00:00+00:00"
    return StoredSurvey(1, survey, date(2026, 4, 12), at, words, at, words)


def surveys_lines(helix: Helix, fleet: Fleet) -> Paper:
    return surveys_text(helix, [stored(name) for name in fleet.ids])


def readings_lines(helix: Helix, fleet: Fleet) -> Paper:
    lines: Paper = []
    for name in fleet.ids:
        lines += readings_text(helix, stored(name), [f"something is odd about {name}"])
    return lines


OUTPUTS: dict[str, Callable[[Helix, Fleet], Paper]] = {
    "check": check_lines,
    "every obstacle": obstacle_lines,
    "as built": built_lines,
    "train": train_lines,
    "roster": roster_lines,
    "meets": meets_lines,
    "telltales": telltales_lines,
    "size": size_lines,
    "car list": cars_lines,
    "car show": car_lines,
    "helix list": helices_lines,
    "helix show": helix_lines,
    "surveys": surveys_lines,
    "readings": readings_lines,
}

HOSTILE = {
    "escape": "\x1b[2J\x1b]0;owned\x07",
    "C1 escape": "\x9b31m",
    "from the right": "\u202e72\u2066",
    "zero width": "2\u200b7\u200d\ufeff",
    "line ends": "a\r\nb\x0bc\x0cd\x1ce\x85f\u2028g\u2029h",
    "tab": "a\tb",
    "10 kB": "x" * 10_000,
    "10 kB of words": "word " * 2_000,
    "wide": "車" * 200,
    "markup": "[bold red]x[/] :smile: [link=http://x]y[/link]",
}


def hostile(table: CarTable, words: str) -> Fleet:
    """The same cars with these words in every text of theirs."""
    texts = {
        name: [f"{words}{number}" for number in range(len(table))]
        for name in ("id", "name", "kind", "owner", "notes", "measured_by")
    }
    return Fleet(replace(table, text=table.text | texts))


def hostile_helix(helix: Helix, words: str) -> Helix:
    """The same helix with these words in every text of its."""
    return helix.model_copy(
        update={
            "name": words,
            "tracks": tuple(
                track.model_copy(update={"name": f"{words}{number}"})
                for number, track in enumerate(helix.tracks)
            ),
            "obstacles": (
                Obstacle(name=words, station=3.5, headroom_mm=172.0, left_mm=60.0, right_mm=60.0),
            ),
        }
    )


def assert_fits(shown: str, width: int = PAPER) -> None:
    """No line is wider than the paper, and none holds anything but what can be printed."""
    for line in shown.split("\n"):
        assert cell_len(line) <= width, line
        assert plain(line) == line


# --- it fits, and it is harmless ------------------------------------------------------------------


@pytest.mark.parametrize("kind", HOSTILE)
@pytest.mark.parametrize("name", OUTPUTS)
def test_whatever_is_painted_on_the_cars(
    name: str, kind: str, mill: Helix, mill_cars: CarTable
) -> None:
    fleet = hostile(mill_cars, HOSTILE[kind])
    helix = hostile_helix(mill, HOSTILE[kind])
    shown = printed(OUTPUTS[name](helix, fleet))
    assert_fits(shown)
    assert shown.strip()


@pytest.mark.parametrize("width", [40, 80, 132])
@pytest.mark.parametrize("name", OUTPUTS)
def test_as_wide_as_the_terminal(
    name: str, width: int, mill: Helix, mill_fleet: Fleet, on_terminal: OnTerminal
) -> None:
    shown = on_terminal(OUTPUTS[name](mill, mill_fleet), width)
    assert_fits(re.sub(r"\x1b\[[\d;]*m", "", shown), width)


@pytest.mark.parametrize("kind", ["escape", "C1 escape", "markup"])
@pytest.mark.parametrize("name", OUTPUTS)
def test_a_terminal_gets_no_escapes_but_ours(
    name: str, kind: str, mill: Helix, mill_cars: CarTable, on_terminal: OnTerminal
) -> None:
    fleet, helix = hostile(mill_cars, HOSTILE[kind]), hostile_helix(mill, HOSTILE[kind])
    shown = on_terminal(OUTPUTS[name](helix, fleet), PAPER)
    ours = re.compile(r"\x1b\[(0|[12](;3[1236])?)m")
    rest = ours.sub("", shown)
    assert_fits(rest)
    assert rest != shown  # there are some


def test_forty_tracks(mill: Helix, mill_fleet: Fleet) -> None:
    """More than there are columns for: every track still stands beside every car."""
    tracks = tuple(
        Track(name=f"number {number}", radius_mm=900.0 + 150 * number) for number in range(40)
    )
    helix = mill.model_copy(update={"tracks": tracks, "obstacles": ()})
    for name in ("check", "meets", "telltales", "helix list", "helix show"):
        assert_fits(printed(OUTPUTS[name](helix, mill_fleet)))
    shown = printed(roster_lines(helix, mill_fleet))
    assert_fits(shown)
    for name in mill_fleet.ids:
        assert re.search(rf"^{name} ", shown, re.MULTILINE)
    words = " ".join(shown.split())
    for number in range(40):
        assert words.count(f"number {number}") >= 2, number
    assert "passes: number" in words


def test_three_tracks_have_columns_of_their_own(mill: Helix, mill_fleet: Fleet) -> None:
    tracks = tuple(
        Track(name=name, radius_mm=900.0 + 150 * number) for number, name in enumerate("abc")
    )
    helix = mill.model_copy(update={"tracks": tracks, "obstacles": ()})
    shown = printed(roster_lines(helix, mill_fleet))
    assert_fits(shown)
    assert re.search(r"^car +name +owner +a +b +c +restrictions$", shown, re.MULTILINE)


# --- colour ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", OUTPUTS)
def test_colour_is_never_alone(
    name: str, mill: Helix, mill_fleet: Fleet, on_terminal: OnTerminal
) -> None:
    """Without it the text is the same to the letter; and only words that say it are coloured."""
    lines = OUTPUTS[name](mill, mill_fleet)
    shown = on_terminal(lines, PAPER)
    bare = re.sub(r"\x1b\[[\d;]*m", "", shown)
    assert [line.rstrip() for line in bare.splitlines()] == printed(lines).splitlines()
    coloured = {words.strip() for words in re.findall(r"\x1b\[[\d;]*3\dm(.*?)\x1b\[0m", shown)}
    assert coloured <= {
        "passes", "not measured", "marginal", "does not fit", "touch", "too close", "",
    }  # fmt: skip
    if name in ("check", "roster"):
        assert {"passes", "marginal", "does not fit"} <= coloured


def test_all_clear_is_green_in_words(quarry: Helix) -> None:
    fleet = Fleet(CarTable.from_cars([_boxcar("1"), _boxcar("2")]))
    assert "every car may pass every other" in printed(meets_lines(quarry, fleet))


# --- a drawing is marked wherever it shows --------------------------------------------------------


@pytest.mark.parametrize(
    "name", ["check", "every obstacle", "as built", "train", "roster", "telltales", "car show"]
)
def test_a_drawing_is_marked_in_text(name: str, mill: Helix, mill_fleet: Fleet) -> None:
    """G 7 is one, and the only one."""
    words = " ".join(printed(OUTPUTS[name](mill, mill_fleet)).split())
    mark = "from a full-size drawing, not measured on"  # on a board it goes on below
    assert words.count(mark) == 1
    measured = Fleet(mill_fleet.table.take([car != "G 7" for car in mill_fleet.ids]))
    assert mark not in " ".join(printed(OUTPUTS[name](mill, measured)).split())


def test_a_drawing_is_marked_in_the_list(mill_fleet: Fleet, mill: Helix) -> None:
    lines = printed(cars_lines(mill, mill_fleet)).splitlines()
    assert [line.split("  ")[0] for line in lines if line.endswith("drawing")] == ["G 7"]


def test_a_drawing_is_marked_where_it_governs(mill: Helix) -> None:
    """In meets and in size only the cars that are named are marked."""
    drawn = _boxcar("drawn", dimensions="full-size", scale=45.0, width_mm=180.0, height_mm=150.0)
    fleet = Fleet(CarTable.from_cars([_boxcar("1"), drawn]))
    for lines in (meets_lines, size_lines):
        assert f"drawn: {FULL_SIZE}." in " ".join(printed(lines(mill, fleet)).split())
    small = _boxcar("drawn", dimensions="full-size", scale=45.0, width_mm=40.0, height_mm=50.0)
    fleet = Fleet(CarTable.from_cars([_boxcar("1"), _boxcar("2"), small]))
    for lines in (meets_lines, size_lines):
        assert FULL_SIZE not in " ".join(printed(lines(mill, fleet)).split())


def test_a_drawing_is_marked_in_data(mill: Helix, mill_fleet: Fleet) -> None:
    drawn = ["G 7"]
    result = check(mill, mill_fleet)
    rows: list[dict[str, Any]] = check_data(result)["results"]
    assert [row["car"] for row in rows if row["dimensions"] == "full-size"] == drawn
    rows = check_rows(result)
    assert {row["car"] for row in rows if row["dimensions"] == "full-size"} == set(drawn)
    roster = post(result)
    for rows in (roster_data(roster, Standing(mill))["cars"], roster_rows(roster)):
        assert [row["car"] for row in rows if row["dimensions"] == "full-size"] == drawn
        assert [row["car"] for row in rows if FULL_SIZE in str(row["restrictions"])] == drawn
    found = telltales(mill, mill_fleet)
    assert telltales_data(Structure(mill), found, drawn)["full_size"] == drawn
    assert telltales_rows(Structure(mill), found, drawn)[0]["full_size"] == "G 7"
    assert size_data(size(mill, mill_fleet), drawn)["full_size"] == drawn
    pairs = meets_rows(meetings(mill, mill_fleet), np.ones(len(mill_fleet), bool))
    for side in ("inner", "outer"):
        marked = {row[side] for row in pairs if row[f"{side}_dimensions"] == "full-size"}
        assert marked == set(drawn)


# --- cautions stand -------------------------------------------------------------------------------


def test_cautions(mill: Helix, mill_fleet: Fleet) -> None:
    for lines, caution in (
        (roster_lines, cautions.RUNNING),
        (telltales_lines, cautions.TELLTALE),
        (size_lines, cautions.BUILDING),
    ):
        words = " ".join(printed(lines(mill, mill_fleet)).split())
        assert words.endswith(f"Caution: {caution}")
    roster = post(check(mill, mill_fleet))
    assert roster_data(roster, Standing(mill))["caution"] == cautions.RUNNING
    assert cautions.RUNNING in roster_markdown(roster, Standing(mill))
    assert cautions.RULE in roster_markdown(roster, Standing(mill))


# --- Markdown and spreadsheets --------------------------------------------------------------------

ACTIVE = (
    "<script>alert(1)</script>",
    "a|b||c",
    "[x](http://example.org)",
    "![x](http://example.org/x.png)",
    "https://example.org/x",
    "<https://example.org>",
    "www.example.org",
    "`code` **bold** _it_ ~~gone~~",
    "# heading",
    "- item",
    "1. item",
    "&lt;b&gt; &#x41;",
    "\\| \\* \\",
    "$x$ :tada: @somebody ^up^ =marked=",
    "a\nb\n\n| c | d |",
)


@pytest.mark.parametrize("words", ACTIVE)
def test_markdown_says_what_is_painted_on_the_car(
    words: str, mill: Helix, mill_cars: CarTable
) -> None:
    """Read by a Markdown parser, every cell is the text itself, and only text."""
    table = mill_cars.take([0])
    table = replace(table, text=table.text | {"id": [words], "name": [words], "owner": [words]})
    helix = hostile_helix(mill, words)
    roster = post(check(helix, Fleet(table)))
    written = roster_markdown(roster, Standing(helix))
    tokens = MarkdownIt("commonmark").enable(["table", "strikethrough"]).parse(written)
    assert [token.tag for token in tokens if token.type == "heading_open"] == ["h1"]
    cells = [token for token in tokens if token.type == "inline"]
    said = []
    for cell in cells:
        for part in cell.children or ():
            assert part.type in ("text", "text_special", "strong_open", "strong_close"), part
        said.append("".join(part.content for part in cell.children or ()).strip())
    expected = plain(words).strip()
    heading, *head = said[: 1 + 6]
    assert heading == f"{expected}: roster of{heading.partition(': roster of')[2]}"
    assert head == ["car", "name", "owner", f"{expected}0", f"{expected}1", "restrictions"]
    assert said[7:10] == [expected] * 3
    assert "http:" not in written  # what some take for a link wherever it stands
    assert not re.search(r"https?://|(?<!\\)@|www\.", written)


@pytest.mark.parametrize(
    "words", ["=cmd|' /C calc'!A0", "+1", "-1+1", "@SUM(1)", "\t=1", "\r=1", "'=1"]
)
def test_no_spreadsheet_runs_a_cell(
    words: str, mill: Helix, mill_cars: CarTable, capsys: pytest.CaptureFixture[str]
) -> None:
    """A guarded cell begins with an apostrophe, the header's cells too."""
    fleet, helix = hostile(mill_cars, words), hostile_helix(mill, words)
    result = check(helix, fleet)
    found = telltales(helix, fleet)
    for rows in (
        check_rows(result),
        roster_rows(post(result)),
        meets_rows(meetings(helix, fleet), np.ones(len(fleet), bool)),
        telltales_rows(Structure(helix), found, fleet.ids),
        size_rows(size(helix, fleet), fleet.ids),
        listing.helix_rows([helix], {helix.name: [stored(words)]}, []),
        surveys_rows([stored(words)]),
    ):
        capsys.readouterr()
        emit(Output(format="csv"), text=list, data=list, rows=lambda rows=rows: rows)
        written = io.StringIO(capsys.readouterr().out, newline="")
        cells = [cell for row in csv.reader(written, strict=True) for cell in row]
        assert any(words.strip("'\t\r") in cell for cell in cells)
        for cell in cells:
            if not re.fullmatch(r"-?\d+(\.\d+)?", cell):  # a number is one, whatever its sign
                assert not cell.startswith(("=", "+", "-", "@", "\t", "\r"))


# --- which cars may not pass which ----------------------------------------------------------------


def _boxcar(name: str, **changes: Any) -> Car:
    figures = {"height_mm": 110.0, "width_mm": 80.0, "length_mm": 300.0, "wheelbase_mm": 200.0}
    return Car(id=name, **(figures | changes))


def fleet_of_models(models: int, cars: int, seed: int) -> Fleet:
    """Cars of some models each, as clubs have them: boxcars by the dozen, long coaches, engines.

    Full-size lengths of 8 to 22 m at the scales of 45 mm gauge, common practice, no source.
    """
    dice = random.Random(seed)
    kinds = []
    for _ in range(models):
        scale = dice.choice([20.3, 22.5, 24.0, 29.0, 32.0])
        full_size_m = dice.choice([8, 9, 10, 12, 13, 16, 18, 20, 22]) * dice.uniform(0.95, 1.05)
        length = float(round(min(1000 * full_size_m / scale, 900)))
        kinds.append(
            {
                "height_mm": float(dice.randrange(110, 205)),
                "width_mm": float(round(dice.uniform(2500, 3000) / scale * 0.95)),
                "length_mm": length,
                "wheelbase_mm": float(round(length * dice.uniform(0.6, 0.75))),
                "truck_wheelbase_mm": 60.0 if length > 300 else 0.0,
            }
        )
    chosen = [Car(id=f"c{100 + number}", **dice.choice(kinds)) for number in range(cars)]
    return Fleet(CarTable.from_cars(chosen))


def barred_by_word(found: list[Meeting], chosen: NDArray[np.bool_]) -> dict[tuple[str, str], str]:
    """The pairs that do not pass, by the rows of the same result, under the text's words."""
    words = {"does not fit": "touch", "marginal": "too close"}
    return {
        (row["inner"], row["outer"]): words[row["verdict"]]
        for row in meets_rows(found, chosen)
        if row["verdict"] != "passes"
    }


def spelled_out(shown: str, fleet: Fleet) -> dict[tuple[str, str], str]:
    """The pairs that a text of `meets` speaks of, one by one, under the word it has for them."""
    pairs: dict[tuple[str, str], str] = {}
    word = ""
    for block in re.split(r"\n(?= {2,4}\S)", re.sub(r"\n {4}(?!inner )", " ", shown)):
        if block.strip() in ("touch", "too close"):
            word = block.strip()
        if told := re.fullmatch(r" *inner (.*?) not past (.*)", " ".join(block.split())):
            ones, others = told[1], told[2]
            if others.startswith("any car"):
                but = set(re.findall(r"c\d+", others))
                partners = [name for name in fleet.ids if name not in but]
            else:
                partners = re.findall(r"c\d+", others)
            for one in re.findall(r"c\d+", ones):
                pairs |= {(one, other): word for other in partners}
    return pairs


@pytest.mark.parametrize(("cars", "apart_mm"), [(30, 190), (30, 150), (60, 130), (300, 190)])
def test_the_short_list_leaves_no_pair_out(cars: int, apart_mm: int, quarry: Helix) -> None:
    """Spelled out again, it is the pairs that do not pass, each under its word."""
    tracks = (quarry.tracks[0], Track(name="outer", radius_mm=1190.0 + apart_mm))
    helix = quarry.model_copy(update={"tracks": tracks})
    fleet = fleet_of_models(24, cars, seed=cars)
    fleet = fleet.select(board_order(fleet))
    found = meetings(helix, fleet)
    everybody = np.ones(len(fleet), bool)
    shown = printed(meets_text(helix, found, everybody))
    assert_fits(shown)
    expected = barred_by_word(found, everybody)
    assert expected
    assert spelled_out(shown, fleet) == expected
    assert f"{len(expected)} of {cars**2} pairs may not pass." in shown


def test_three_hundred_cars_on_a_page_or_two(quarry: Helix) -> None:
    """Thousands of pairs; cars of a model stand together, and reach is nested."""
    for seed in range(3):
        fleet = fleet_of_models(24, 300, seed)
        shown = printed(meets_lines(quarry, fleet))
        assert int(re.findall(r"(\d+) of 90000 pairs", shown)[0]) > 1000
        assert shown.count("\n") < 100


def test_one_car_of_three_hundred(quarry: Helix) -> None:
    fleet = fleet_of_models(24, 300, seed=0)
    found = meetings(quarry, fleet)
    longest = int(np.argmax(fleet.figure("length_mm")))
    chosen = np.arange(len(fleet)) == longest
    shown = printed(meets_text(quarry, found, chosen))
    name = fleet.ids[longest]
    assert all(name in pair for pair in spelled_out(shown, fleet))
    assert 3 < shown.count("\n") < 40


def test_one_track_has_no_meets(mill: Helix, mill_fleet: Fleet) -> None:
    single = mill.model_copy(update={"tracks": mill.tracks[:1]})
    shown = printed(meets_lines(single, mill_fleet))
    assert shown == "Mill Lane helix has one track: no trains meet on it.\n"


# --- check ----------------------------------------------------------------------------------------


def test_the_verdict_comes_first(mill: Helix, mill_fleet: Fleet) -> None:
    lines = printed(check_lines(mill, mill_fleet)).splitlines()
    assert lines[0] == "A 1 Wren: passes"
    assert lines[1] == "  near track: passes"
    assert lines[2].startswith("    Overhead: needs 156.0 mm (6 3/16 in), has 172.0 mm")
    assert lines[-1] == "8 cars: 4 pass, 2 marginal, 2 do not fit."


def test_which_way_round(mill: Helix, mill_fleet: Fleet) -> None:
    """F 6 has a step on one side: it passes one way round, and the text says which."""
    shown = printed(check_lines(mill, mill_fleet))
    assert "  near track: marginal; front uphill it passes\n" in shown
    assert "  far track: marginal; front downhill it passes\n" in shown


def test_what_a_verdict_does_not_rest_on(mill: Helix, mill_fleet: Fleet) -> None:
    """D 4: nobody knows its least radius; that stands beside the verdict, and does not lower it."""
    only = Fleet(mill_fleet.table.take([name == "D 4" for name in mill_fleet.ids]))
    shown = printed(check_lines(mill, only))
    assert shown.startswith("D 4: passes\n  near track: passes\n")
    assert shown.endswith("\n  not measured: least radius, truck swing, coupling\n")
    assert "cars:" not in shown  # nothing is to be counted


def test_counting(mill: Helix, mill_fleet: Fleet) -> None:
    for number, words in ((1, "1 car: 1 passes."), (2, "2 cars: 1 passes, 1 marginal.")):
        some = Fleet(mill_fleet.table.take(np.arange(number)))
        assert f"\n{words} By each" in printed(roster_lines(mill, some))


def laddered(shown: str) -> dict[tuple[str, str], str]:
    """The pairs of a long list: rows in which each inner car is barred from all outer ones so far.

    Under the second word stand the pairs of the first as well.
    """
    pairs: dict[tuple[str, str], str] = {}
    parts = re.split(r"(?<=\n)  too close", shown)
    for word, part in zip(("touch", "too close"), parts, strict=True):
        for row in re.findall(r"named up to it:\n((?: {6}.*\n)+)", part):
            so_far: list[str] = []
            for step in " ".join(row.split()).split("; "):
                ones, _, others = step.partition(": ")
                so_far += re.findall(r"c\d+", others)
                for one in re.findall(r"c\d+", ones):
                    for other in so_far:
                        pairs.setdefault((one, other), word)
        for row in re.findall(r"\n    inner (c(?:.*\n)(?: {4}(?!inner).*\n)*)", part):
            ones, _, others = " ".join(row.split()).partition(" not past ")
            for one in re.findall(r"c\d+", ones):
                for other in re.findall(r"c\d+", others):
                    pairs.setdefault((one, other), word)
    return pairs


@pytest.mark.parametrize(("apart_mm", "most_lines"), [(190, 130), (160, 150)])
def test_three_hundred_different_cars(quarry: Helix, apart_mm: int, most_lines: int) -> None:
    """No two alike, tens of thousands of pairs: whom a car may not pass grows with its reach."""
    tracks = (quarry.tracks[0], Track(name="outer", radius_mm=1190.0 + apart_mm))
    helix = quarry.model_copy(update={"tracks": tracks})
    fleet = fleet_of_models(300, 300, seed=1)
    found = meetings(helix, fleet)
    everybody = np.ones(len(fleet), bool)
    shown = printed(meets_text(helix, found, everybody))
    assert_fits(shown)
    expected = barred_by_word(found, everybody)
    assert "any car" not in shown
    assert laddered(shown) == expected
    assert len(shown.splitlines()) < most_lines
