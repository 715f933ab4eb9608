"""NEM 102 of 1958: side-throw factors of two standard vehicles, one with its truck wheelbase.

The throw is a factor / R, in metres. Printed, with q the spacing of leading wheelsets or pivots, p
the truck wheelbase and n the distance of the section from the pivot:

- outer widening: q 6.75 m, p 0, n 6.20 m (overhang of the nose): A = 40.15
- inner widening: q 18.0 m, p 3.0 m, n 9.0 m (mid-car): J = 41.63

These are the parabola's n (q + n) / 2 - p^2 / 8 = 40.145 and n (q - n) / 2 + p^2 / 8 = 41.625. The
exact throw comes to them on a very large radius: R times the throw, on 100 km. Both end in a 5 that
is rounded up, so half of the last digit is used up whole; what is beyond it is our radius.

This is the one source that shows the term of the truck wheelbase: without it J would be 40.50.

Part A, the gauge on straight track, is a table; its letters differ from those of 2017. b2 is the
greatest of its widths, h4 the greatest height without a wire. A car 1 mm long on a radius of 100 m
stands for one on the straight: a vehicle as wide and as high as NEM 301 lets it be has the air that
the printed figures leave.
"""

import pytest

from catalog.car import Car
from catalog.helix import Obstacle, Posts
from clearance.judge.check import check
from tests.published.record import BY_HAND, SEEN, Source, Work

SOURCE = Source(
    "NEM 102 (1958), side-throw factors",
    (
        Work(
            'MOROP, NEM 102, edition 1958, Czech text, part B "profile on the curve" (the curve '
            "factor itself is in a picture that was not legible) and the table of the gauge",
            SEEN,
            ("http://www.parostroj.net/modely/nem/nem_102.htm",),
        ),
        Work(
            "MOROP, NEM 301, binding standard, edition 1979, Czech text: B1 and H4, the greatest "
            "width and height of vehicles",
            SEEN,
            ("https://www.kolejiste.moraviamodel.cz/modelarske-normy-nem/nem-301-obrys-vozidel",),
        ),
    ),
)

M = 1000.0
LAST_DIGIT = 0.01
RADIUS_MM = 100_000 * M


def factor_m2(throw_mm: float) -> float:
    """R times the throw. [m^2]"""
    return RADIUS_MM * throw_mm / M**2


def test_outer_widening(matches, end_throw_mm) -> None:
    q, n = 6.75, 6.20
    ours = factor_m2(end_throw_mm(RADIUS_MM, q * M, (q + 2 * n) * M))
    matches("factor A, outer", ours, 40.15, 0.5 * LAST_DIGIT + 1e-5, "m^2", where="part B")
    matches("n (q + n) / 2, outer", ours, n * (q + n) / 2, 1e-5, "m^2", where=BY_HAND)


def test_inner_widening_with_the_truck_wheelbase(matches, centre_throw_mm) -> None:
    q, p, n = 18.0, 3.0, 9.0
    ours = factor_m2(centre_throw_mm(RADIUS_MM, q * M, p * M))
    matches("factor J, inner", ours, 41.63, 0.5 * LAST_DIGIT + 1e-5, "m^2", where="part B")
    by_hand_m2 = n * (q - n) / 2 + p**2 / 8
    matches("n (q - n) / 2 + p^2 / 8, inner", ours, by_hand_m2, 1e-5, "m^2", where=BY_HAND)


def test_without_trucks_the_inner_widening_would_be_another(matches, centre_throw_mm) -> None:
    ours = factor_m2(centre_throw_mm(RADIUS_MM, 18.0 * M))
    matches("inner, without trucks", ours, 40.50, 1e-5, "m^2", where=BY_HAND)


def test_a_width_takes_a_little_off_the_outer_factor(matches, end_throw_mm) -> None:
    # Not printed, worked by hand: on R 1000 m a 3.15 m wide body has 40.072, for A neglects that
    # the outer corner moves along its own half width as well, about 1 / (1 + w / 2R).
    ours = end_throw_mm(1000 * M, 6.75 * M, 19.15 * M, 3.15 * M)
    matches("outer, 3.15 m wide on R 1000 m", ours, 40.072, 0.0005, "m^2", where=BY_HAND)


@pytest.mark.parametrize("size", ["TT", "H0", "S", "0", "I"])
def test_greatest_vehicle_of_1979_in_the_gauge_of_1958(
    matches, printed, level_helix, fleet_of, size
) -> None:
    (gauge,) = (row for row in printed("nem_102_1958.csv") if row["size"] == size)
    (vehicle,) = (row for row in printed("nem_301_1979.csv") if row["size"] == size)
    half_mm, top_mm = float(gauge["b2"]) / 2, float(gauge["h4"])
    width_mm, height_mm = float(vehicle["B1"]), float(vehicle["H4"])
    portal = Obstacle(name="portal", station=3, headroom_mm=top_mm, width_mm=0.0)
    posts = Posts(inside_mm=half_mm, outside_mm=half_mm)
    helix = level_helix(float(gauge["G"]), (100 * M,), posts, (portal,))
    car = Car(id=size, height_mm=height_mm, width_mm=width_mm, length_mm=1.0, wheelbase_mm=1.0)
    found = check(helix, fleet_of(car)).findings(0, helix.tracks[0].name)
    gaps = {finding.check: finding.gap_mm for finding in found}
    known = {"where": "b2 less B1, h4 less H4", "cell": size}
    matches("air inside", gaps["inner_side"], half_mm - width_mm / 2, 1e-4, **known)
    matches("air outside", gaps["outer_side"], half_mm - width_mm / 2, 1e-4, **known)
    matches("air above", gaps["overhead"], top_mm - height_mm, 1e-4, **known)
