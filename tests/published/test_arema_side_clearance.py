"""AREMA: an inch and a half more at the side for each degree of curve. From memory.

Source: American Railway Engineering and Maintenance-of-Way Association, Manual for Railway
Engineering, chapter 28, "1 1/2 in per degree of curve". From memory, not seen in print: a check of
consistency, not of authority. The vehicles are common figures of an 85 ft passenger car, from
memory; the inches per degree were worked by hand.
"""

import pytest
from numpy.testing import assert_allclose

INCH = 25.4
FOOT = 304.8
PER_DEGREE_IN = 1.5


@pytest.mark.parametrize("curve_degrees", [1.0, 5.0, 12.0])
def test_an_85_ft_car_takes_less(
    chord_radius, centre_throw_mm, end_throw_mm, curve_degrees
) -> None:
    radius_mm = chord_radius(curve_degrees, 100 * FOOT)
    inside_in = centre_throw_mm(radius_mm, 59.5 * FOOT) / INCH / curve_degrees
    outside_in = end_throw_mm(radius_mm, 59.5 * FOOT, 85 * FOOT) / INCH / curve_degrees
    assert_allclose(inside_in, 0.927, rtol=0, atol=0.001)
    assert_allclose(outside_in, 0.96, rtol=0, atol=0.005)
    assert max(inside_in, outside_in) < PER_DEGREE_IN


def test_truck_centres_that_the_rule_covers(chord_radius, centre_throw_mm) -> None:
    radius_mm = chord_radius(1.0, 100 * FOOT)
    assert_allclose(centre_throw_mm(radius_mm, 75.6 * FOOT) / INCH, PER_DEGREE_IN, atol=0.005)
    assert_allclose(centre_throw_mm(radius_mm, 80.0 * FOOT) / INCH, 1.68, rtol=0, atol=0.005)
