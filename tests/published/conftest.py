"""The engine's own functions, asked in the words of the published sources.

Sources speak of a vehicle on level track of radius R: how far its middle swings in, how far its
ends swing out. Here these questions go to `stand`, `side_reach` and `half_angle_rad`, which judge
the cars of a club as well; nothing is added but the difference of two radii. A vehicle without a
width is a hairline along its middle. Full-size vehicles are put in full-size millimetres.

Where a question can be put to `check` itself, records are made for it. A record refuses a helix
that does not climb, so the "level" ones rise a thousandth of a millimetre in a turn.
"""

import csv
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from catalog.car import Car
from catalog.columns import CarTable
from catalog.helix import Deck, Helix, Obstacle, Posts, Track
from clearance.geometry.line import Screw
from clearance.geometry.sides import side_reach
from clearance.geometry.stand import half_angle_rad, stand
from clearance.judge.fleet import Fleet

_PRINTED = Path(__file__).parents[1] / "data" / "published"

_HARDLY_ANY_MM = 0.001
_NOTHING_SAID = Posts()


def _band_mm(
    radius_mm: float,
    pivots_mm: float,
    length_mm: float,
    width_mm: float = 0.0,
    truck_mm: float = 0.0,
    *,
    height_mm: float = 0.0,
    roll_rad: float = 0.0,
) -> tuple[float, float]:
    stance = stand(Screw(radius_mm, 0.0, roll_rad), [pivots_mm], [truck_mm])
    half = [width_mm / 2]
    reach = side_reach(
        stance, [-length_mm / 2], [length_mm / 2], half, half, [height_mm], [height_mm]
    )
    return float(reach.least_radius_mm[0]), float(reach.greatest_radius_mm[0])


def _centre_throw_mm(radius_mm: float, pivots_mm: float, truck_mm: float = 0.0) -> float:
    return radius_mm - _band_mm(radius_mm, pivots_mm, pivots_mm, 0.0, truck_mm)[0]


def _end_throw_mm(
    radius_mm: float,
    pivots_mm: float,
    length_mm: float,
    width_mm: float = 0.0,
    truck_mm: float = 0.0,
) -> float:
    greatest = _band_mm(radius_mm, pivots_mm, length_mm, width_mm, truck_mm)[1]
    return greatest - (radius_mm + width_mm / 2)


def _degree(chord: float, radius: float) -> float:
    return math.degrees(2 * half_angle_rad([chord], radius)[0])


def _chord_radius(degree: float, chord: float) -> float:
    return brentq(lambda radius: _degree(chord, radius) - degree, chord, 1e3 * chord, xtol=1e-9)


def _printed(name: str) -> list[dict[str, str]]:
    with (_PRINTED / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _level_helix(
    gauge_mm: float,
    radii_mm: tuple[float, ...],
    posts: Posts = _NOTHING_SAID,
    obstacles: tuple[Obstacle, ...] = (),
    cant_mm: float | tuple[float, ...] = 0.0,
) -> Helix:
    cants = np.broadcast_to(cant_mm, len(radii_mm)).tolist()
    tracks = tuple(
        Track(name=f"{radius:g}", radius_mm=radius, cant_mm=cant)
        for radius, cant in zip(radii_mm, cants, strict=True)
    )
    return Helix(
        name="level",
        gauge_mm=gauge_mm,
        turns=0.5,  # no tier above
        rise_per_turn_mm=_HARDLY_ANY_MM,
        brackets_per_turn=12,
        tracks=tracks,
        deck=Deck(depth_mm=0.0),
        posts=posts,
        obstacles=obstacles,
    )


def _fleet(*cars: Car) -> Fleet:
    return Fleet(CarTable.from_cars(cars))


@pytest.fixture(scope="session")
def band_mm() -> Callable[..., tuple[float, float]]:
    """Least and greatest distance from the axis of a symmetrical body on level track. [mm]"""
    return _band_mm


@pytest.fixture(scope="session")
def centre_throw_mm() -> Callable[..., float]:
    """How far mid-car swings in: (radius, pivots apart, truck wheelbase). [mm]"""
    return _centre_throw_mm


@pytest.fixture(scope="session")
def end_throw_mm() -> Callable[..., float]:
    """How far an end's outer corner swings out: (radius, pivots, length, width, truck). [mm]"""
    return _end_throw_mm


@pytest.fixture(scope="session")
def degree() -> Callable[[float, float], float]:
    """The angle that a chord spans on a radius, both in one unit. [degrees]"""
    return _degree


@pytest.fixture(scope="session")
def chord_radius() -> Callable[[float, float], float]:
    """The radius on which a chord spans an angle, by search over `degree`; the chord's unit."""
    return _chord_radius


@pytest.fixture(scope="session")
def printed() -> Callable[[str], list[dict[str, str]]]:
    """A table of tests/data/published, as printed in its source: a row a dict of texts."""
    return _printed


@pytest.fixture(scope="session")
def level_helix() -> Callable[..., Helix]:
    """Half a turn of level track: (gauge, centreline radii, posts, obstacles, cant or cants)."""
    return _level_helix


@pytest.fixture(scope="session")
def fleet_of() -> Callable[..., Fleet]:
    """Cars as `check` takes them."""
    return _fleet
