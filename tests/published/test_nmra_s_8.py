"""NMRA S-8: how far apart tracks lie on curves.

Source: National Model Railroad Association, Standard S-8 "Track Centers" (an older edition). Seen:
https://studylib.net/doc/18303820/s-8-track-centers; fractions and columns are scattered in that
copy, and the rows below were put together again from it. An independent reader of S-8 agrees on
three of them: https://maineon2faq.wordpress.com/category/contributors/hilary-smith/ (seen): O scale
class II at 41 1/2 in 3 13/16, On3 on the straight 2 3/4, at 41 1/2 in 3 3/8.

Class Ia is for the largest steam engines and full-length passenger cars. No vehicle is printed, so
the check is one-sided: two 85 ft cars on 59 1/2 ft truck centres, 10 ft wide (common figures of a
full-length passenger car, from memory), must pass, and with no less between them than on the
straight.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from catalog.car import Car
from clearance.judge.meets import meetings

INCH = 25.4
FOOT = 304.8

# Prototype: degree of curve, radius [ft]; O scale radius [in].
DEGREES = [
    (5, 1146, 287),
    (10, 574, 144),
    (15, 383, 96),
    (20, 288, 72),
    (25, 231, 58),
    (30, 193, 48),
    (35, 166, 41.5),
    (40, 146, 36.5),
    (45, 131, 33),
]
# Scale, radius, class Ia track centres on it and on the straight. [in]
CLASS_IA = [
    (48.0, 287, 3 + 1 / 2, 3 + 1 / 4),
    (48.0, 144, 3 + 13 / 16, 3 + 1 / 4),
    (48.0, 96, 4 + 1 / 16, 3 + 1 / 4),
    (48.0, 72, 4 + 5 / 16, 3 + 1 / 4),
    (48.0, 58, 4 + 9 / 16, 3 + 1 / 4),
    (64.0, 215, 2 + 11 / 16, 2 + 7 / 16),
    (64.0, 108, 2 + 7 / 8, 2 + 7 / 16),
    (64.0, 72, 3 + 1 / 16, 2 + 7 / 16),
    (64.0, 54, 3 + 1 / 4, 2 + 7 / 16),
    (64.0, 43, 3 + 3 / 8, 2 + 7 / 16),
]
GAUGE_MM = {48.0: 1.25 * INCH, 64.0: 22.42}


def passenger_car(scale: float) -> Car:
    """85 ft long, 59 1/2 ft between truck centres, 10 ft wide."""
    return Car(
        id="85 ft",
        scale=scale,
        height_mm=14 * FOOT / scale,
        width_mm=10 * FOOT / scale,
        length_mm=85 * FOOT / scale,
        wheelbase_mm=59.5 * FOOT / scale,
    )


@pytest.mark.parametrize(("curve_degrees", "radius_ft", "radius_in"), DEGREES)
def test_radii_are_those_of_the_100_ft_chord(
    chord_radius, curve_degrees, radius_ft, radius_in
) -> None:
    ours_ft = chord_radius(curve_degrees, 100 * FOOT) / FOOT
    assert_allclose(ours_ft, radius_ft, rtol=0, atol=0.5)
    # In O scale, whole and half inches; 144 is one high (143.4), taken from the rounded 574 ft.
    assert_allclose(ours_ft * 12 / 48, radius_in, rtol=0, atol=0.6)


@pytest.mark.parametrize(("scale", "radius_in", "centres_in", "straight_in"), CLASS_IA)
def test_two_85_ft_cars_pass(
    level_helix, fleet_of, scale, radius_in, centres_in, straight_in
) -> None:
    radius_mm = radius_in * INCH
    helix = level_helix(GAUGE_MM[scale], (radius_mm, radius_mm + centres_in * INCH))
    car = passenger_car(scale)
    (meeting,) = meetings(helix, fleet_of(car))
    gap_mm = meeting.figures(np.array([0]), np.array([0])).gap_mm[0, 0]
    assert gap_mm > 0
    # The increment over the straight is more than these two cars take.
    assert gap_mm >= straight_in * INCH - car.width_mm


@pytest.mark.parametrize(
    ("radius_in", "by_hand_in"),
    [(287, 0.196), (144, 0.389), (96, 0.580), (72, 0.771), (58, 0.953)],
)
def test_what_two_85_ft_cars_take_on_a_curve(
    centre_throw_mm, end_throw_mm, radius_in, by_hand_in
) -> None:
    # Centre throw and end throw, O scale, worked by hand; three decimals.
    car = passenger_car(48.0)
    radius_mm = radius_in * INCH
    ours_mm = centre_throw_mm(radius_mm, car.wheelbase_mm) + end_throw_mm(
        radius_mm, car.wheelbase_mm, car.length_mm, car.width_mm
    )
    assert_allclose(ours_mm / INCH, by_hand_in, rtol=0, atol=0.0005)
