"""Findings in words: what is said, that it is harmless, and that it errs on the safe side."""

import re
import sys
import unicodedata
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clearance.judge.findings import Finding
from clearance.judge.roster import RosterRow
from clearance.judge.verdict import DOES_NOT_FIT, MARGINAL, NOT_MEASURED, PASSES
from clearance.show.plain import plain
from clearance.show.roster import restrictions
from clearance.show.sentences import hand_words, mend, place_words, sentence
from clearance.show.words import (
    FULL_SIZE,
    full_size_mark,
    full_size_note,
    listed,
    show_degrees,
)

MM_PER_INCH = 25.4


def finding(**changes: Any) -> Finding:
    """A marginal one overhead; any part of it can be changed."""
    parts: dict[str, Any] = {
        "car": "27",
        "track": "inner",
        "check": "overhead",
        "code": MARGINAL,
        "lowers": True,
        "location": {
            "station": 17,
            "turn": 2,
            "angle_deg": 150.0,
            "obstacle": "beam",
            "everywhere": False,
        },
        "facing": "front uphill",
        "required_mm": 214.93,
        "available_mm": 223.0,
        "gap_mm": 8.07,
        "allowance_mm": 15.3166,
        "allowance_parts": {},
        "tolerance_parts": {},
        "other_way_gap_mm": None,
        "reason": "",
        "more": {},
    }
    return Finding(**(parts | changes))


# --- harmless text --------------------------------------------------------------------------------


def test_no_character_acts_on_a_terminal() -> None:
    """Of all there are, one by one."""
    for code in range(sys.maxunicode + 1):
        shown = plain(chr(code))
        assert len(shown) == 1
        category = unicodedata.category(shown)
        assert category not in {"Cc", "Cf", "Cs", "Zl", "Zp"}, hex(code)
        assert shown in (chr(code), "\N{REPLACEMENT CHARACTER}")


@pytest.mark.parametrize(
    "text",
    ["", "27", "R 7", "Grüne Minna", "Ж-12", "車 9", "דרור", "½ \N{STEAM LOCOMOTIVE}", "a|b"],
)
def test_what_people_paint_on_cars_stays(text: str) -> None:
    assert plain(text) == text


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("\x1b[31mred", "\N{REPLACEMENT CHARACTER}[31mred"),
        ("\x9b31mred", "\N{REPLACEMENT CHARACTER}31mred"),  # the same escape in one character
        ("a\nb\r\tc\x07", "a?b??c?".replace("?", "\N{REPLACEMENT CHARACTER}")),
        ("27\u202e72", "27\N{REPLACEMENT CHARACTER}72"),  # what follows would run from the right
        ("27\u200b", "27\N{REPLACEMENT CHARACTER}"),  # a car that looks like 27
        ("a\u2028b\u2029c", "a?b?c".replace("?", "\N{REPLACEMENT CHARACTER}")),
    ],
)
def test_what_would_act_is_shown_as_replaced(text: str, shown: str) -> None:
    assert plain(text) == shown
    assert shown in listed([text])


@pytest.mark.parametrize(
    ("ids", "most", "words"),
    [
        ([], None, ""),
        (["27"], None, "27"),
        (["27", "31"], None, "27 and 31"),
        (["27", "31", "9"], None, "27, 31 and 9"),
        (["27", "31", "9"], 3, "27, 31 and 9"),
        (["27", "31", "9", "8"], 3, "27, 31 and 2 more"),
    ],
)
def test_listed(ids: list[str], most: int | None, words: str) -> None:
    assert listed(ids, most) == words


# --- rounding -------------------------------------------------------------------------------------


def figures(text: str) -> list[tuple[float, float]]:
    """Every length in a sentence: millimetres, and the same in inches."""
    found = []
    text = text.replace("under 1/16 in", "0 in")
    for mm, inches in re.findall(r"(-?\d+\.\d) mm \((-?[\d/ ]+) in\)", text):
        sign = -1 if inches.startswith("-") else 1
        whole = sum(
            float(part.split("/")[0]) / float(part.split("/")[1]) if "/" in part else float(part)
            for part in inches.lstrip("-").split()
        )
        found.append((float(mm), sign * whole * MM_PER_INCH))
    return found


# Float noise of a decimal figure, and the half of 1e-6 mm that docs of the rounding allow.
NOISE_MM = 1e-6
lengths = st.floats(0.01, 900.0)


@given(available=lengths, gap=st.floats(0.01, 300.0), allowance=st.floats(0.0, 60.0))
def test_what_is_left_is_never_flattered(available: float, gap: float, allowance: float) -> None:
    """Needed up, had down, left down, wanted up: each in both units. But where there is enough, it
    looks like enough in both: what is needed, or wanted, is then shown as no more than there is.
    """
    required = available - gap
    text = sentence(
        finding(available_mm=available, required_mm=required, gap_mm=gap, allowance_mm=allowance)
    )
    needs, has, left, wanted = figures(text)
    for shown, there in zip(needs, has, strict=True):
        assert min(required, there) - NOISE_MM <= shown < required + 1.6
        assert shown <= there + NOISE_MM
    for shown in has:
        assert available - 1.6 < shown <= available + NOISE_MM
    if "less than" in text:
        assert gap < 0.1
        left = (0.0, 0.0)
    for shown in left:
        assert gap - 1.6 < shown <= gap + NOISE_MM
    for shown, there in zip(wanted, left, strict=True):
        assert min(allowance, there) - NOISE_MM <= shown < allowance + 1.6
        assert gap < allowance or shown <= there + NOISE_MM


@given(gap=st.floats(-300.0, 0.0), allowance=st.floats(0.0, 60.0))
def test_a_foul_is_never_belittled(gap: float, allowance: float) -> None:
    fouls = finding(code=DOES_NOT_FIT, gap_mm=gap, required_mm=223 - gap, allowance_mm=allowance)
    if gap > -NOISE_MM:
        assert ("nothing left" in sentence(fouls)) != ("fouls by" in sentence(fouls))
        return
    assert "fouls by" in sentence(fouls)
    for shown in figures(sentence(fouls))[2]:
        assert -gap - NOISE_MM <= shown < -gap + 1.6
    for shown in figures(mend(fouls))[0] if allowance - gap > 0 else ():
        assert shown >= allowance - gap - NOISE_MM


@pytest.mark.parametrize(
    ("gap_mm", "allowance_mm", "words"),
    [
        (15.45, 15.4, "15.4 mm (9/16 in) left, 15.4 mm (9/16 in) wanted"),  # both 9.7 sixteenths
        (15.39, 15.4, "15.3 mm (9/16 in) left, 15.4 mm (5/8 in) wanted"),
        (0.8, 0.0, "0.8 mm (under 1/16 in) left, 0.0 mm (0 in) wanted"),
        (0.03, 12.0, "less than 0.1 mm (under 1/16 in) left, 12.0 mm (1/2 in) wanted"),
        (0.0, 12.0, "nothing left, 12.0 mm (1/2 in) wanted"),
        (-0.03, 12.0, "fouls by 0.1 mm (1/16 in), 12.0 mm (1/2 in) wanted"),
    ],
)
def test_no_figure_contradicts_the_verdict(gap_mm: float, allowance_mm: float, words: str) -> None:
    shown = finding(gap_mm=gap_mm, required_mm=223 - gap_mm, allowance_mm=allowance_mm)
    assert f": {words}. " in sentence(shown)


def test_a_radius_that_is_just_enough_is_so_in_inches_too() -> None:
    """1200 mm are 47 1/4 in less a hair."""
    figures = {"available_mm": 1200.0, "required_mm": 1200.0, "gap_mm": 0.0, "allowance_mm": 0.0}
    shown = finding(check="radius", location=None, **figures)
    assert "needs 1200.0 mm (47 3/16 in), has 1200.0 mm (47 3/16 in)" in sentence(shown)


def test_the_other_way_round_is_rounded_down_too() -> None:
    turned = finding(other_way_gap_mm=49.96)
    assert "front uphill; turned round 49.9 mm (1 15/16 in) left" in place_words(turned)
    assert "turned round it fouls as well" in place_words(finding(other_way_gap_mm=0.0))
    assert "turned round" not in place_words(finding(other_way_gap_mm=8.08))  # by a hair


# --- sentences ------------------------------------------------------------------------------------


def test_a_finding_as_a_person_would_say_it() -> None:
    assert sentence(finding()) == (
        "Overhead: needs 215.0 mm (8 1/2 in), has 223.0 mm (8 3/4 in): 8.0 mm (5/16 in) left, "
        "15.4 mm (5/8 in) wanted. Under the beam at bracket 17 (turn 2, 150°)."
    )
    assert mend(finding()) == (
        "To mend: 7.3 mm (5/16 in) off its top, or the tier above raised by as much."
    )


def test_where_it_is_the_same_all_along() -> None:
    place = finding().location
    assert place is not None
    all_along = finding(check="inner_side", location=place | {"everywhere": True})
    assert place_words(all_along) == (
        "Beside the beam at every bracket, first at bracket 17 (turn 2, 150°)."
    )
    between = finding(location=place | {"station": 3.5, "obstacle": "lamp\x1b[2J"})
    assert place_words(between) == (
        "Under the lamp\N{REPLACEMENT CHARACTER}[2J at station 3.5 (turn 2, 150°)."
    )


def test_what_would_mend_it() -> None:
    side = finding(check="outer_side", gap_mm=-3.0, allowance_mm=7.0, code=DOES_NOT_FIT)
    assert mend(side).startswith("To mend: 10.0 mm (7/16 in) off its side")
    radius = finding(check="radius", gap_mm=-30.0, allowance_mm=0.0, code=DOES_NOT_FIT)
    assert mend(radius) == "Nothing mends it here: the radius is 30.0 mm (1 3/16 in) too small."
    assert mend(finding(gap_mm=15.3166)) == ""  # nothing is missing
    assert mend(finding(gap_mm=None, allowance_mm=None)) == ""


def test_what_nobody_measured() -> None:
    nothing = dict.fromkeys(("required_mm", "available_mm", "gap_mm", "allowance_mm"))
    silent = finding(
        check="inner_side", code=NOT_MEASURED, reason="the helix does not say", **nothing
    )
    assert sentence(silent) == "Inner side: not measured; the helix does not say."
    half = finding(code=NOT_MEASURED, reason="this release does not work out the lead")
    assert sentence(half).endswith("Not measured: this release does not work out the lead.")


def running(check: str, code: int = DOES_NOT_FIT, **changes: Any) -> Finding:
    """A running check: two figures, no allowance, no place."""
    return finding(
        check=check,
        code=code,
        **({"location": None, "allowance_mm": 0.0, "gap_mm": None} | changes),
    )


def test_running_checks_as_a_person_would_say_them() -> None:
    rigid = running("rigid_wheelbase", required_mm=3.88, available_mm=1.0, gap_mm=-2.88)
    assert sentence(rigid) == (
        "Rigid wheelbase: a middle axle must shift 3.9 mm (3/16 in) on this curve, and can by "
        "1.0 mm (under 1/16 in): it binds by 2.9 mm (1/8 in)."
    )
    assert mend(rigid).startswith("To mend: 2.9 mm (1/8 in) more side play; or blind wheels")
    swing = running(
        "truck_swing", required_mm=5.5, available_mm=4.8, gap_mm=-0.7,
        more={"swing_deg": 9.11, "limit_deg": 8.0},
    )  # fmt: skip
    assert sentence(swing) == (
        "Truck swing: its trucks turn 9.2° under the body, and can by 8.0°: 1.2° short."
    )
    assert mend(swing) == "To mend: room for the trucks to turn 1.2° further."
    low = running(
        "underside", MARGINAL, required_mm=3.1, available_mm=4.0, gap_mm=0.9, allowance_mm=1.0,
        location={
            "station": 0.25, "turn": 1, "angle_deg": 7.5, "obstacle": "railhead",
            "everywhere": False,
        },
    )  # fmt: skip
    assert sentence(low) == (
        "Underside: 4.0 mm (1/8 in) over the railhead on level track; 0.9 mm (under 1/16 in) "
        "left, 1.0 mm (1/16 in) wanted. At station 0.25 (turn 1, 7.5°)."
    )
    assert mend(low) == (
        "To mend: 0.1 mm (1/16 in) off its underside, or an easier change of grade."
    )


def test_a_coupling_as_a_person_would_say_it() -> None:
    """Only what does not hold is named, where something does not."""
    place = {
        "station": 0.5, "turn": 1, "angle_deg": 15.0, "obstacle": "rear coupler of 104",
        "everywhere": False,
    }  # fmt: skip
    does = {"sideways_mm": 25.0, "vertical_mm": 2.0, "angle_deg": 21.3}
    bears = {"swing_mm": 18.0, "drop_mm": 5.0, "limit_deg": 20.0}
    figures = {"required_mm": 25.0, "available_mm": 18.0, "gap_mm": -7.0, "location": place}
    fouls = running("coupling", more=does | bears, **figures)
    assert sentence(fouls) == (
        "Coupling: with the rear coupler of 104 it is out of line by 25.0 mm (1 in) sideways, and "
        "18.0 mm (11/16 in) hold: short by 7.0 mm (5/16 in); 21.3° in angle, and 20.0° hold: 1.3° "
        "short. At station 0.5 (turn 1, 15°)."
    )
    assert mend(fouls) == (
        "To mend: couplers that swing 7.0 mm (5/16 in) further, couplers and diaphragms that bear "
        "1.3° more; or another car between the two."
    )
    fine = running("coupling", PASSES, more={"vertical_mm": 2.0, "drop_mm": 5.0}, **figures)
    assert "2.0 mm (1/8 in) up or down, and 5.0 mm (3/16 in) hold: 3.0 mm" in sentence(fine)
    assert mend(fine) == ""
    own = running(
        "coupling", more=does | bears, **figures | {"location": place | {"everywhere": True}},
        car="104",
    )  # fmt: skip
    assert "with another of its kind" in sentence(own)
    assert "bracket" not in sentence(own)


@pytest.mark.parametrize(
    ("origin", "obstacle", "words"),
    [
        ("as measured", "beam", "bracket 17 (turn 2, 150°), headroom as measured."),
        ("as measured", "underside", "bracket 17 (turn 2, 150°), headroom as measured."),
        ("from surveyed railheads", "beam", "150°), headroom from surveyed railheads."),
        ("as designed", "deck", "bracket 17 (turn 2, 150°), headroom as designed."),
        ("as designed", "east portal", "bracket 17 (turn 2, 150°)."),  # the helix file says it
    ],
)
def test_where_a_headroom_comes_from(origin: str, obstacle: str, words: str) -> None:
    place = finding().location
    assert place is not None
    measured = finding(location=place | {"origin": origin, "obstacle": obstacle})
    assert place_words(measured).endswith(words)
    all_along = finding(location=place | {"origin": origin, "everywhere": True})
    assert "headroom" not in place_words(all_along)


@pytest.mark.parametrize(("obstacle", "raised"), [("deck", "the tier above"), ("lamp", "the lamp")])
def test_what_is_raised(obstacle: str, raised: str) -> None:
    place = finding().location
    assert place is not None
    low = finding(location=place | {"obstacle": obstacle})
    assert mend(low) == f"To mend: 7.3 mm (5/16 in) off its top, or {raised} raised by as much."


def test_room_for_a_hand() -> None:
    nothing = {"required_mm": None, "gap_mm": None, "allowance_mm": None, "lowers": False}
    silent = finding(check="recovery", code=NOT_MEASURED, available_mm=35.19, **nothing)
    assert hand_words(silent) == (
        "Room for a hand over the roof: 35.1 mm (1 3/8 in) at bracket 17 (turn 2, 150°), inner "
        "track; the helix file does not say how much a hand needs."
    )
    short = finding(check="recovery", available_mm=35.0, required_mm=60.0, gap_mm=-25.0)
    assert hand_words(short).endswith("inner track; a hand needs 60.0 mm (2 3/8 in).")
    assert hand_words(finding(check="recovery", available_mm=-3.0, gap_mm=-63.0)) == ""


@given(angle=st.floats(0.01, 89.0))
def test_an_angle_is_rounded_to_the_safe_side(angle: float) -> None:
    up, down = (float(show_degrees(angle, up=way).removesuffix("°")) for way in (True, False))
    assert down - 1e-9 <= angle <= up + 1e-9
    assert up - down < 0.11


def test_another_gauge_is_not_reckoned_with() -> None:
    """There is nothing to be shaved off a gauge."""
    other = finding(
        check="gauge", code=DOES_NOT_FIT, location=None,
        required_mm=45.0, available_mm=16.5, gap_mm=-28.5, allowance_mm=0.0,
    )  # fmt: skip
    assert sentence(other) == (
        "Gauge: it is not of this helix's gauge; one is 45.0 mm, the other 16.5 mm."
    )
    assert mend(other) == ""


# --- restrictions ---------------------------------------------------------------------------------

INNER, OUTER = "inner", "outer"


def row(
    inner: int = PASSES,
    outer: int = PASSES,
    facing: dict[str, str] | None = None,
    not_past: dict[str, list[str]] | None = None,
) -> RosterRow:
    return RosterRow(0, {INNER: inner, OUTER: outer}, facing or {}, not_past or {})


@pytest.mark.parametrize(
    ("on_the_board", "words"),
    [
        (row(), []),
        (row(inner=DOES_NOT_FIT), ["outer track only"]),
        (row(outer=MARGINAL), ["inner track only"]),
        (row(DOES_NOT_FIT, NOT_MEASURED), []),  # the verdict says it all
        (row(facing={INNER: "front uphill", OUTER: "front uphill"}), ["front uphill only"]),
        (
            row(inner=DOES_NOT_FIT, facing={OUTER: "front downhill"}),
            ["outer track only", "front downhill only"],
        ),
        (row(facing={INNER: "front uphill"}), ["front uphill only on the inner track"]),
        (
            row(facing={INNER: "front uphill", OUTER: "front downhill"}),
            ["front uphill only on the inner track", "front downhill only on the outer track"],
        ),
        (row(inner=MARGINAL, not_past={OUTER: ["31"]}), ["outer track only", "not past 31"]),
        (row(not_past={OUTER: ["31", "9"]}), ["on the outer track not past 31 and 9"]),
        (
            row(outer=MARGINAL, not_past={INNER: list("abcdefghij")}),
            ["inner track only", "not past a, b, c, d, e, f, g and 3 more (see meets)"],
        ),
    ],
)
def test_what_a_car_may_not_do(on_the_board: RosterRow, words: list[str]) -> None:
    assert restrictions(on_the_board, full_size=False) == words
    assert restrictions(on_the_board, full_size=True) == [*words, FULL_SIZE]


def test_three_tracks() -> None:
    some = RosterRow(0, {"a": PASSES, "b": PASSES, "c": MARGINAL}, {"b": "front uphill"}, {})
    assert restrictions(some, full_size=False) == [
        "a and b track only",
        "front uphill only on the b track",
    ]


def test_names_in_restrictions_are_harmless() -> None:
    hostile = RosterRow(0, {"in\x1b[2J": PASSES, "out": MARGINAL}, {}, {"in\x1b[2J": ["\u202e31"]})
    assert all(plain(words) == words for words in restrictions(hostile, full_size=False))


def test_a_drawing_is_marked() -> None:
    assert full_size_mark(False) == ""
    assert FULL_SIZE in full_size_mark(True)
    assert full_size_note([]) == ""
    assert full_size_note(["X 20", "X 24"]) == f"X 20 and X 24: {FULL_SIZE}."
