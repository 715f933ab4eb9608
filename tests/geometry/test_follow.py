"""The greatest of some values along a line: between the places that were looked at first, too.

G8, docs/theory.md.
"""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from catalog.columns import CarTable
from clearance.geometry.follow import greatest, stops_rad
from clearance.geometry.line import Line
from clearance.geometry.rig import wagon
from clearance.judge.couplers import couple
from clearance.judge.fleet import Fleet
from clearance.judge.partners import FRONT, REAR
from clearance.judge.structure import Structure
from tests.geometry.brute_force import BruteCoupled, coupling
from tests.geometry.random_railway import random_railway
from tests.geometry.test_built_against_drive import as_car, as_helix, as_survey

STOPS = np.linspace(0.0, 4.0, 41)
CLOSE_RAD = 0.1 / 4**3  # each time the two steps about the greatest are cut into eight


@pytest.mark.parametrize("top", [0.0, 0.537, 1.9, 2.063, 3.9871, 4.0])
def test_a_ridge_and_a_crest_are_found_where_they_are(top: float) -> None:
    """A ridge climbs by 1 for each radian on both sides, a crest bends; each one has its own."""

    def values(place: np.ndarray) -> np.ndarray:
        return np.array([5 - np.abs(place - top), 7 - (place - (4 - top)) ** 2])

    found = greatest(values, STOPS)
    assert_allclose(found.place_rad, [top, 4 - top], atol=CLOSE_RAD)
    assert_allclose(found.values, [5, 7], atol=CLOSE_RAD)
    assert_allclose(found.values[1], 7, atol=CLOSE_RAD**2)
    assert (found.values <= [5, 7]).all()


def test_each_axle_is_put_on_each_knot_where_it_really_stands_there() -> None:
    """A wagon on a straight, on the curve, and on both."""
    radius, base = 1000.0, np.array([400.0])
    knots = np.array([-0.2, 0.0, 0.1, 1.0])
    line = Line(radius, knots, 0 * knots, -1.0, 1.0, (0.0, math.inf))
    beside = 2 * math.asin(0.2)
    found, at_event = stops_rad(line, wagon(base), 0, np.array([[0.0], [beside]]), -0.9, 0.9)
    # The hind axle is d out on the straight, the fore one t round the curve:
    # (sin t + d)^2 + (1 - cos t)^2 = 0.4^2.
    behind = math.sqrt(0.4**2 - (1 - math.cos(0.1)) ** 2) - math.sin(0.1)
    by_hand = [-0.9, -0.6, -0.4, -behind, -0.2, 0.0, 0.1, 1 - beside, 0.9]
    assert_allclose(found[at_event], by_hand, atol=1e-6)
    assert (np.diff(found) > 0).all()
    assert len(found) == 8 * (len(by_hand) - 1) + 1


# Up and down, cars on a lead are furthest apart just as an axle comes to a bend.
@pytest.mark.parametrize("seed", [5021, 5064, 5102, 5107])
def test_couplings_near_a_straight_lead_against_the_slow_drive(seed: int) -> None:
    case = random_railway(np.random.default_rng(seed), straight_leads=True)
    beyond = case.projections_mm
    cars = [as_car(one, str(k), beyond[k]) for k, one in enumerate(case.cars)]
    structure = Structure(as_helix(case), as_survey(case))
    track, fleet = structure.helix.tracks[0], Fleet(CarTable.from_cars(cars))
    found = couple(structure, track, fleet, (0, FRONT), (1, REAR)).offsets
    assert found is not None
    pair = (BruteCoupled(one, "front uphill", k) for one, k in zip(case.cars, beyond, strict=True))
    drive = coupling(case.lines[0], case.tracks[0], *pair)
    assert_allclose(found[:2], drive[:2], atol=5e-4)
    assert_allclose(found.angle_rad, drive.angle_rad, atol=1e-5)
