"""EBO: widening of the structure gauge and of the track spacing on curves below 250 m.

No reference vehicle is printed. The inside column follows a vehicle with pivots 20 m apart, the
outside column 63 / R (metres), a constant found from the column itself: a nose 15.03 m from the
middle of those pivots, for (30.07^2 - 20^2) / 8 = 63. Values are printed in steps of 5 mm, mostly
rounded up: 2.5 mm, and 0.3 mm more for the working. The rows at 120 and 100 m are for other stock.
The column for the space of the pantograph is checked for its law, 1/R: nothing is taken from it but
its end.
"""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from catalog.car import Car
from clearance.geometry.meets import MeetingSide, meeting_gaps_mm
from clearance.judge.meets import meetings
from tests.published.record import SEEN, Source, Work

SOURCE = Source(
    "EBO, German main lines",
    (
        Work(
            "Eisenbahn-Bau- und Betriebsordnung (EBO), Germany, Anlage 2 to para. 9, older text: "
            "widening of the half width inside and outside, and of the space of the pantograph",
            SEEN,
            (
                "https://justiz-nrw.wolterskluwer-online.de/browse/document/"
                "bdb37c29-16ac-321d-aea4-31021d1f50a1",
            ),
        ),
        Work(
            "The same two columns in the Eisenbahn-Bau- und Betriebsordnung fuer Schmalspurbahnen "
            "(ESBO), Anlage 2 no. 2, BGBl. I 1972 p. 282, in the public git copy "
            "bundestag/gesetze, file e/esbo/index.md",
            SEEN,
        ),
        Work(
            "EBO, Anlage 4: no. 2.1 least track spacing, 2.2 cant, 3 widening of the spacing",
            SEEN,
            ("https://www.gesetze-im-internet.de/ebo/anlage_4.html",),
        ),
    ),
    misprints=(
        "Anlage 4 prints 120 mm at R 200. Inside and outside add up to 115 there, as they add up "
        "to what it prints on all the other radii, and 115 is what the Bavarian EBOA, Anlage 8, "
        "prints.",
    ),
)

MM = 1.0
M = 1000.0
PIVOTS_MM = 20 * M
LENGTH_MM = math.sqrt(20**2 + 8 * 63.0) * M
STEP_MM = 0.5 * 5 * MM + 0.3 * MM

# Anlage 2: radius [m], inside, outside [mm].
ANLAGE_2 = [
    (250, 0, 0),
    (225, 25, 30),
    (200, 50, 65),
    (190, 65, 80),
    (180, 80, 100),
    (150, 135, 170),
    (120, 335, 365),
    (100, 530, 570),
]
# Anlage 2: radius [m], space of the pantograph [mm].
PANTOGRAPH = {225: 10, 200: 20, 190: 25, 180: 30, 150: 50, 120: 80, 100: 110}
# Anlage 4 no. 3: radius [m], widening of the track spacing [mm].
ANLAGE_4 = {250: 0, 225: 55, 200: 120, 180: 180, 170: 215, 150: 305, 120: 700, 100: 1100}


@pytest.mark.parametrize(("radius_m", "inside_mm", "_outside_mm"), ANLAGE_2[:6])
def test_inside(matches, centre_throw_mm, radius_m, inside_mm, _outside_mm) -> None:
    # ct(R) - ct(250), pivots 20 m apart: 22.3, 50.1, 63.3, 77.9, 133.6.
    ours = centre_throw_mm(radius_m * M, PIVOTS_MM) - centre_throw_mm(250 * M, PIVOTS_MM)
    known = {"where": "Anlage 2", "cell": f"R {radius_m} m"}
    matches("widening inside", ours, inside_mm, STEP_MM, **known)


@pytest.mark.parametrize(("radius_m", "_inside_mm", "outside_mm"), ANLAGE_2[:6])
def test_outside(matches, end_throw_mm, radius_m, _inside_mm, outside_mm) -> None:
    # 63000 (1/R - 1/250): 28.0, 63.0, 79.6, 98.0, 168.0.
    at = [end_throw_mm(radius * M, PIVOTS_MM, LENGTH_MM) for radius in (radius_m, 250)]
    known = {"where": "Anlage 2", "cell": f"R {radius_m} m"}
    matches("widening outside", at[0] - at[1], outside_mm, STEP_MM, **known)


@pytest.mark.parametrize("radius_m", [radius for radius in PANTOGRAPH if radius != 100])
def test_pantograph_space_follows_one_over_r(matches, centre_throw_mm, radius_m) -> None:
    # From 250 to 100 m it grows by 110 mm, and at each radius by the share that a throw does.
    at_250, here, at_100 = (
        centre_throw_mm(radius * M, PIVOTS_MM) for radius in (250, radius_m, 100)
    )
    ours = PANTOGRAPH[100] * (here - at_250) / (at_100 - at_250)
    known = {"where": "Anlage 2", "cell": f"R {radius_m} m"}
    matches("space of the pantograph", ours, PANTOGRAPH[radius_m], STEP_MM, **known)


@pytest.mark.parametrize("radius_m", [225, 200, 180, 150, 120, 100])
def test_misprint_spacing_is_inside_and_outside_together(radius_m) -> None:
    # The rule of meets: one train's middle beside another's end.
    (both,) = (inside + outside for radius, inside, outside in ANLAGE_2 if radius == radius_m)
    if radius_m == 200:
        assert (both, ANLAGE_4[radius_m]) == (115, 120)  # the misprint
    else:
        assert both == ANLAGE_4[radius_m]


@pytest.mark.parametrize("radius_m", [225, 200, 180, 170, 150])
def test_two_trains_that_meet_keep_their_distance(matches, band_mm, radius_m) -> None:
    # Through the meet itself: tracks 3.50 m apart and the printed widening, both trains with the
    # vehicle above. What is left between them is what was left at R 250, but for the steps of 5 mm
    # of two columns. The outer track is wider than R, which is worth 4 mm more at R 150.
    def gap_mm(inner_m):
        spacing_mm = 3500 + ANLAGE_4[inner_m]
        out = band_mm(inner_m * M, PIVOTS_MM, LENGTH_MM)[1]
        back = band_mm(inner_m * M + spacing_mm, PIVOTS_MM, LENGTH_MM)[0]
        low, high = np.array([[0.0]]), np.array([[3500.0]])
        inner = MeetingSide(np.array([[out]]), low, high)
        outer = MeetingSide(np.array([[back]]), low, high)
        return float(meeting_gaps_mm(inner, outer)[0, 0])

    left_mm = gap_mm(radius_m) - gap_mm(250)
    known = {"where": "Anlage 4 no. 3", "cell": f"R {radius_m} m"}
    matches.more_than("between two trains, more than at R 250", left_mm, -5 * MM, **known)
    matches.less_than("between two trains, more than at R 250", left_mm, 10 * MM, **known)


@pytest.mark.parametrize(("outer_cant_mm", "inner_cant_mm"), [(160, 0), (100, 40), (60, 60)])
def test_cant_of_the_outer_track_asks_for_more(
    matches, band_mm, outer_cant_mm, inner_cant_mm
) -> None:
    # Anlage 4 no. 2.2: add (3.53 / 1.50) (u_a - u_i), cant lean at 3.53 m over rails 1.50 m apart.
    def gap_mm(outer_mm, inner_mm):
        at = {"height_mm": 3530.0}
        out = band_mm(300 * M, 1.0, 1.0, roll_rad=math.asin(inner_mm / 1500), **at)[1]
        back = band_mm(304 * M, 1.0, 1.0, roll_rad=math.asin(outer_mm / 1500), **at)[0]
        return back - out

    lost_mm = gap_mm(0, 0) - gap_mm(outer_cant_mm, inner_cant_mm)
    printed_mm = 3.53 / 1.50 * (outer_cant_mm - inner_cant_mm)
    cell = f"outer {outer_cant_mm} mm, inner {inner_cant_mm} mm"
    matches(
        "spacing for cant", lost_mm, printed_mm, 0.001 * MM, where="Anlage 4 no. 2.2", cell=cell
    )


@pytest.mark.parametrize(("outer_cant_mm", "inner_cant_mm"), [(160, 0), (100, 40), (60, 60)])
def test_two_masts_that_meet_on_unequal_cant(
    matches, level_helix, fleet_of, outer_cant_mm, inner_cant_mm
) -> None:
    # The same rule through the meet itself, at 1:10: what is 3.53 m up on both tracks comes as much
    # nearer. The mast is a thousandth of a millimetre high, which takes a tenth of that.
    mast = Car(
        id="mast",
        height_mm=353.0,
        underside_mm=352.999,
        width_mm=0.001,
        length_mm=0.001,
        wheelbase_mm=0.001,
    )

    def gap_mm(inner_mm, outer_mm):
        helix = level_helix(150.0, (30 * M, 30.4 * M), cant_mm=(inner_mm / 10, outer_mm / 10))
        (meeting,) = meetings(helix, fleet_of(mast))
        first = np.array([0])
        return meeting.figures(first, first).gap_mm.item()

    lost_mm = 10 * (gap_mm(0, 0) - gap_mm(inner_cant_mm, outer_cant_mm))
    printed_mm = 3.53 / 1.50 * (outer_cant_mm - inner_cant_mm)
    cell = f"outer {outer_cant_mm} mm, inner {inner_cant_mm} mm"
    matches(
        "room lost in a meet", lost_mm, printed_mm, 0.01 * MM, where="Anlage 4 no. 2.2", cell=cell
    )


@pytest.mark.parametrize(("radius_m", "spacing_m"), [(225, 3.50), (200, 3.62), (180, 3.68)])
def test_least_spacing_at_30_kmh(radius_m, spacing_m) -> None:
    # No. 2.1, last column, m: 3.50 at R 250 and the widening of no. 3; at R 225 none was added.
    widening_mm = 0 if radius_m == 225 else ANLAGE_4[radius_m]
    assert_allclose(3500 + widening_mm, 1000 * spacing_m, rtol=0, atol=1e-6)
