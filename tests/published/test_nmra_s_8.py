"""NMRA S-8: how far apart tracks lie on curves.

Class Ia is for the largest steam engines and full-length passenger cars. No vehicle is printed, so
the check is one-sided: two 85 ft cars on 59 1/2 ft truck centres, 10 ft wide (common figures of a
full-length passenger car, from memory), must pass, and with no less between them than on the
straight. What classes I and Ia add on a curve in O scale is checked for its law, 1/R, as well:
nothing is taken from the columns but their ends, and each step is a multiple of 1/16 in.
"""

import numpy as np
import pytest

from catalog.car import Car
from clearance.judge.meets import meetings
from tests.published.record import BY_HAND, SEEN, Source, Work

SOURCE = Source(
    "NMRA S-8, track centres on curves",
    (
        Work(
            'National Model Railroad Association, Standard S-8 "Track Centers", an older edition. '
            "Fractions and columns are scattered in this copy, and the rows were put together "
            "again from it",
            SEEN,
            ("https://studylib.net/doc/18303820/s-8-track-centers",),
        ),
        Work(
            "An independent reader of S-8, who agrees on three of them: O scale class II at "
            "41 1/2 in 3 13/16, On3 on the straight 2 3/4, at 41 1/2 in 3 3/8",
            SEEN,
            ("https://maineon2faq.wordpress.com/category/contributors/hilary-smith/",),
        ),
    ),
    misprints=(
        "O scale, 10 degrees: 144 in is one high, 143.4; or it was taken from the rounded 574 ft.",
    ),
)

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
    matches, chord_radius, curve_degrees, radius_ft, radius_in
) -> None:
    ours_ft = chord_radius(curve_degrees, 100 * FOOT) / FOOT
    cell = f"{curve_degrees} deg"
    matches("prototype radius", ours_ft, radius_ft, 0.5, "ft", cell=cell)
    # In O scale, whole and half inches; 144 is one high.
    matches("O scale radius", ours_ft * 12 / 48, radius_in, 0.6, "in", cell=cell)


@pytest.mark.parametrize(("scale", "radius_in", "centres_in", "straight_in"), CLASS_IA)
def test_two_85_ft_cars_pass(
    matches, level_helix, fleet_of, scale, radius_in, centres_in, straight_in
) -> None:
    radius_mm = radius_in * INCH
    helix = level_helix(GAUGE_MM[scale], (radius_mm, radius_mm + centres_in * INCH))
    car = passenger_car(scale)
    (meeting,) = meetings(helix, fleet_of(car))
    gap_mm = meeting.figures(np.array([0]), np.array([0])).gap_mm[0, 0]
    assert gap_mm > 0
    # The increment over the straight is more than these two cars take.
    straight_gap_in = straight_in - car.width_mm / INCH
    assert gap_mm >= straight_in * INCH - car.width_mm
    cell = f"1:{scale:g}, R {radius_in} in"
    what = "two 85 ft cars on class Ia spacing, gap on the straight"
    matches.at_least(what, gap_mm / INCH, straight_gap_in, unit="in", cell=cell)


@pytest.mark.parametrize(
    ("radius_in", "by_hand_in"),
    [(287, 0.196), (144, 0.389), (96, 0.580), (72, 0.771), (58, 0.953)],
)
def test_what_two_85_ft_cars_take_on_a_curve(
    matches, centre_throw_mm, end_throw_mm, radius_in, by_hand_in
) -> None:
    # Centre throw and end throw, O scale, worked by hand; three decimals.
    car = passenger_car(48.0)
    radius_mm = radius_in * INCH
    ours_mm = centre_throw_mm(radius_mm, car.wheelbase_mm) + end_throw_mm(
        radius_mm, car.wheelbase_mm, car.length_mm, car.width_mm
    )
    cell = f"R {radius_in} in"
    what = "what two 85 ft cars take"
    matches(what, ours_mm / INCH, by_hand_in, 0.0005, "in", where=BY_HAND, cell=cell)


# O scale: what a class adds to its spacing on the straight, at the degrees above. [in]
ADDED = {
    "Ia": (1 / 4, 9 / 16, 13 / 16, 1 + 1 / 16, 1 + 5 / 16),
    "I": (1 / 8, 1 / 4, 3 / 8, 1 / 2, 5 / 8, 3 / 4, 15 / 16),
}


@pytest.mark.parametrize("name", ADDED)
def test_what_a_class_adds_follows_one_over_r(matches, centre_throw_mm, name) -> None:
    # On each radius the share of the last that a throw takes. Half of 1/16 in twice, its own
    # rounding and that of the end.
    added = ADDED[name]
    rows = DEGREES[: len(added)]
    throws = [centre_throw_mm(radius_ft * FOOT, 59.5 * FOOT) for _, radius_ft, _ in rows]
    for row, throw, printed_in in zip(rows[:-1], throws[:-1], added[:-1], strict=True):
        ours_in = added[-1] * throw / throws[-1]
        what = f"class {name} over the straight"
        matches(what, ours_in, printed_in, 1 / 16, "in", cell=f"{row[0]} deg")
