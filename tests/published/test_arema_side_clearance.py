"""AREMA: an inch and a half more at the side for each degree of curve. From memory.

A check of consistency, not of authority. The vehicles are common figures of an 85 ft passenger car
on 59 1/2 ft truck centres, from memory too; what they take was worked by hand.
"""

import pytest

from tests.published.record import BY_HAND, MEMORY, Source, Work

SOURCE = Source(
    "AREMA side clearance on curves",
    (
        Work(
            "American Railway Engineering and Maintenance-of-Way Association, Manual for Railway "
            'Engineering, chapter 28, "1 1/2 in per degree of curve"',
            MEMORY,
        ),
    ),
)

INCH = 25.4
FOOT = 304.8
PER_DEGREE_IN = 1.5


@pytest.mark.parametrize("curve_degrees", [1.0, 5.0, 12.0])
def test_an_85_ft_car_takes_less(
    matches, chord_radius, centre_throw_mm, end_throw_mm, curve_degrees
) -> None:
    radius_mm = chord_radius(curve_degrees, 100 * FOOT)
    inside_in = centre_throw_mm(radius_mm, 59.5 * FOOT) / INCH / curve_degrees
    outside_in = end_throw_mm(radius_mm, 59.5 * FOOT, 85 * FOOT) / INCH / curve_degrees
    cell = f"{curve_degrees:g} deg"
    matches("inside, a degree", inside_in, 0.927, 0.001, "in", where=BY_HAND, cell=cell)
    matches("outside, a degree", outside_in, 0.96, 0.005, "in", where=BY_HAND, cell=cell)
    more_in = max(inside_in, outside_in)
    matches.less_than("the car, a degree", more_in, PER_DEGREE_IN, unit="in", cell=cell)


def test_truck_centres_that_the_rule_covers(matches, chord_radius, centre_throw_mm) -> None:
    radius_mm = chord_radius(1.0, 100 * FOOT)
    longest_in = centre_throw_mm(radius_mm, 75.6 * FOOT) / INCH
    matches("75.6 ft truck centres, a degree", longest_in, PER_DEGREE_IN, 0.005, "in")
    beyond_in = centre_throw_mm(radius_mm, 80.0 * FOOT) / INCH
    matches("80 ft truck centres, a degree", beyond_in, 1.68, 0.005, "in", where=BY_HAND)
