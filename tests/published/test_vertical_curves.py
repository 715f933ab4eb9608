"""Vertical curves: what a crest or a dip takes from the room under a car.

The sources print grades and vertical radii; what these take from a car is worked by hand, exactly:

    crest of radius Rv, midway between pivots B apart      Rv - sqrt(Rv^2 - (B/2)^2)
    bare change of grade by an angle g                     (B/2) tan(g/2), the pivots equally far
    dip of radius Rv, nose L/2 from the middle, U up       hypot(Rm - U, L/2) - (Rv - U)

with Rm = sqrt(Rv^2 - (B/2)^2). The last is the end throw; it is worst where the nose stands over
the bottom of the dip. On the models the line is all but straight (radius 100 m), and the vertical
curve a profile with a point every few millimetres: between them it is straight, which is worth
0.001 mm. Full size is 1:22.5 where nothing else is said, the car 100 mm over the rail on the
level.
"""

import math

import numpy as np
import pytest

from catalog.car import Car
from catalog.helix import Deck, Helix, Posts, ProfilePoint, Track
from clearance.judge.check import check
from tests.published.record import BY_HAND, SEEN, Source, Work

SOURCE = Source(
    "Vertical curves",
    (
        Work(
            "a. US Navy, Engineering Aid training manual, page of figure 11-16: G = g2 - g1, mid "
            "offset e = L G / 8 (L in stations of 100 ft, G in percent, e in feet)",
            SEEN,
            (
                "http://engineeringtraining.tpub.com/14070/css/"
                "Figure-11-16-Algebraic-Differences-Of-Grades-250.htm",
            ),
        ),
        Work(
            "b. US Army, TI 850-02 (1 March 2000), terminal tracks: change of grade at a summit at "
            "most 0.4 percent per 100 ft, up to 2.0 on spurs; in a sag 0.2 and 1.2",
            SEEN,
            (
                "https://armytransportation.tpub.com/TI-850-02/"
                "Clearances-And-Usable-Track-Length-117.htm",
            ),
        ),
        Work(
            "c. Bane NOR, technical rules for vertical curves: sidings at least 1500 m or 900 m on "
            "a crest, 500 m in a sag (TRV:02465)",
            SEEN,
            ("https://trv.banenor.no/wiki/TABELL:Krav_til_vertikalkurver_for_eksisterende_baner",),
        ),
        Work(
            "d. Eisenbahn-Bau- und Betriebsordnung fuer Anschlussbahnen (EBOA), Bavaria, para. "
            "6(5): vertical radius at least 300 m",
            SEEN,
            ("https://gesetze.legal/bayern/eboa/6",),
        ),
        Work(
            "e. A worked example: up 0.70 percent meets down 0.65 percent at a summit, a change "
            "of 1.35 percent",
            SEEN,
            (
                "https://curioustab.com/"
                "if-07-upgrade-meets-065-downgrade-summit-permissible-rate-48287",
            ),
        ),
    ),
)

M = 1000.0
FOOT = 304.8
STATION_FT = 100.0
SCALE = 22.5
UNDERSIDE_MM = 100.0
NEAR_MM = 0.005  # the profile's chords, and stations kept to a millionth


@pytest.mark.parametrize(
    ("stations", "percent", "offset_ft"),
    [(4.0, 5.0, 2.5), (2.0, 1.0, 0.25), (6.0, 0.8, 0.6)],
)
def test_mid_offset_of_a_vertical_curve(
    matches, centre_throw_mm, stations, percent, offset_ft
) -> None:
    # A curve L long that turns by G has the radius L / G; its middle is e from the chord. The rule
    # is the parabola's: low by (L / 4R)^2 = (G / 4)^2 of itself, and the same again for its length.
    assert stations * percent / 8 == pytest.approx(offset_ft, abs=1e-12)
    length_ft = stations * STATION_FT
    radius_ft = length_ft / (percent / 100)
    ours_ft = centre_throw_mm(radius_ft * FOOT, length_ft * FOOT) / FOOT
    share = 2 * (percent / 400) ** 2
    cell = f"L {stations:g}, G {percent:g} %"
    matches("mid offset e", ours_ft, offset_ft, unit="ft", share=share, where="a", cell=cell)


# --- on a line with a profile ---------------------------------------------------------------------

RADIUS_MM = 100 * M
BRACKETS = 720
STATION_MM = 2 * math.pi * RADIUS_MM / BRACKETS


@pytest.fixture(scope="module")
def lost_mm(fleet_of):
    """What a profile takes from the underside of a car, by check. [mm]

    The profile is a function of the distance along the line, from -reach to reach.
    """

    def asked(railhead_mm, reach_mm, step_mm, pivots_mm, length_mm):
        steps = math.ceil(reach_mm / step_mm)
        places_mm = step_mm * np.arange(-steps, steps + 1)
        # At 0 and half a station on the helix would have railheads of its own.
        stations = np.unique(np.round([*(places_mm / STATION_MM), 0.5], 6)).tolist()
        points = tuple(
            ProfilePoint(station=station, railhead_mm=railhead_mm(station * STATION_MM))
            for station in stations
        )
        helix = Helix(
            name="nearly straight",
            gauge_mm=45.0,
            turns=0.5 / BRACKETS,
            rise_per_turn_mm=0.001,
            brackets_per_turn=BRACKETS,
            tracks=(Track(name="only", radius_mm=RADIUS_MM),),
            deck=Deck(depth_mm=0.0),
            posts=Posts(inside_mm="none", outside_mm="none"),
            profile=points,
        )
        car = Car(
            id="low",
            height_mm=2 * UNDERSIDE_MM,
            width_mm=10.0,
            length_mm=length_mm,
            wheelbase_mm=pivots_mm,
            underside_mm=UNDERSIDE_MM,
        )
        found = check(helix, fleet_of(car)).findings(0, "only")
        (underside,) = (finding for finding in found if finding.check == "underside")
        assert underside.available_mm == pytest.approx(UNDERSIDE_MM, abs=1e-6)
        assert underside.gap_mm == pytest.approx(
            underside.available_mm - underside.required_mm, abs=1e-9
        )
        return underside.required_mm

    return asked


@pytest.mark.parametrize(
    ("told", "up", "down", "pivots_mm", "where"),
    [
        ("1.35 %, 400 mm", 0.0070, 0.0065, 400.0, "e, by hand"),
        ("4 degrees, 400 mm", math.tan(math.radians(2)), math.tan(math.radians(2)), 400.0, BY_HAND),
        ("10 %, 150 mm", 0.05, 0.05, 150.0, BY_HAND),
        ("3 %, 700 mm", 0.015, 0.015, 700.0, BY_HAND),
    ],
)
def test_bare_change_of_grade_on_a_crest(
    matches, lost_mm, told, up, down, pivots_mm, where
) -> None:
    # Straight up to the summit, straight down beyond. Where the grades are unequal the base line
    # leans by half their difference, which is worth a ten-thousandth of a millimetre.
    angle = math.atan(up) + math.atan(down)

    def railhead(place_mm):
        return 50.0 + (up * place_mm if place_mm < 0 else -down * place_mm)

    # The summit is a point of the profile.
    ours = lost_mm(railhead, 2 * pivots_mm, pivots_mm / 4, pivots_mm, pivots_mm)
    by_hand_mm = pivots_mm / 2 * math.tan(angle / 2)
    known = {"where": where, "cell": f"{told} between pivots"}
    matches("lost over a bare change of grade", ours, by_hand_mm, NEAR_MM, **known)


@pytest.mark.parametrize(
    ("told", "radius_m", "pivots_m", "where"),
    [
        ("1500 m", 1500.0, 20.0, "c, by hand"),
        ("900 m", 900.0, 20.0, "c, by hand"),
        ("300 m", 300.0, 20.0, "d, by hand"),
        ("5000 ft, 2.0 % per 100 ft", 5000 * FOOT / M, (46 + 3 / 12) * FOOT / M, "b, by hand"),
        ("10 m of a model's own", 10.0 * SCALE, 0.6 * SCALE, BY_HAND),
    ],
)
def test_crest(matches, lost_mm, told, radius_m, pivots_m, where) -> None:
    radius_mm, pivots_mm = radius_m * M / SCALE, pivots_m * M / SCALE

    def railhead(place_mm):
        return 50.0 + math.sqrt(radius_mm**2 - place_mm**2) - radius_mm

    ours = lost_mm(railhead, 0.75 * pivots_mm, 8.0, pivots_mm, 1.2 * pivots_mm)
    by_hand_mm = radius_mm - math.sqrt(radius_mm**2 - (pivots_mm / 2) ** 2)
    cell = f"Rv {told}, pivots {pivots_mm:.1f} mm"
    matches("lost over a crest", ours, by_hand_mm, NEAR_MM, where=where, cell=cell)


@pytest.mark.parametrize(
    ("told", "radius_m", "pivots_m", "length_m", "where"),
    [
        ("500 m", 500.0, 19.0, 26.4, "c, by hand"),
        ("300 m", 300.0, 19.0, 26.4, "d, by hand"),
        ("10 m of a model's own", 10.0 * SCALE, 0.4 * SCALE, 0.8 * SCALE, BY_HAND),
    ],
)
def test_nose_in_a_dip(matches, lost_mm, told, radius_m, pivots_m, length_m, where) -> None:
    radius_mm, pivots_mm, length_mm = (
        figure * M / SCALE for figure in (radius_m, pivots_m, length_m)
    )

    def railhead(place_mm):
        return 50.0 + radius_mm - math.sqrt(radius_mm**2 - place_mm**2)

    ours = lost_mm(railhead, 0.55 * (length_mm + pivots_mm), 8.0, pivots_mm, length_mm)
    middle_mm = math.sqrt(radius_mm**2 - (pivots_mm / 2) ** 2)
    nose_mm = math.hypot(middle_mm - UNDERSIDE_MM, length_mm / 2)
    by_hand_mm = nose_mm - (radius_mm - UNDERSIDE_MM)
    cell = f"Rv {told}, pivots {pivots_mm:.1f}, length {length_mm:.1f} mm"
    matches("lost at the nose in a dip", ours, by_hand_mm, NEAR_MM, where=where, cell=cell)


def test_car_as_long_as_a_vertical_curve(matches, lost_mm) -> None:
    # 4 stations, 5 percent, at 1:400: over the parabola itself a car with its pivots at both ends
    # of the curve loses the printed mid offset, e = L G / 8 = 2.5 ft.
    length_mm = 400 * FOOT / 400
    curve_mm = length_mm / 0.05

    def railhead(place_mm):
        inside = min(abs(place_mm), length_mm / 2)
        return 50.0 - inside**2 / (2 * curve_mm) - 0.025 * (abs(place_mm) - inside)

    ours = lost_mm(railhead, length_mm, length_mm / 200, length_mm, length_mm)
    # The pivots are a car's length apart in space, not in plan; the same at both ends.
    matches("mid offset under a car", ours * 400 / FOOT, 2.5, 0.005, "ft", where="a")
