"""Lines far rougher than anybody's: what screening leaves out holds no least gap on them either.

G4, docs/theory.md. Every bracket is off by up to a few percent of the distance to the next one, so
that what the linear model leaves out (an axle that comes to its knot elsewhere, a corner that
passes a side later) tells. Screened gaps are held against every piece worked out; that those are
right is for the slow drive to say (`test_built_against_drive.py`).
"""

import math
from typing import NamedTuple

import numpy as np
import pytest
from numpy.testing import assert_allclose

from clearance.geometry import beams
from clearance.geometry.beams import beam_gaps_mm
from clearance.geometry.boxes import Boxes, footing
from clearance.geometry.line import Line
from clearance.geometry.rig import Rig, coach, wagon
from clearance.geometry.undersides import Undersides

CARS, TURNS = 24, 3
FOUND_MM = 5e-3  # two searches for the same least gap, each content with a fifth of it
SHARE = 1e-5  # of the radius: 0.012 mm on a track of 1.2 m radius


class Case(NamedTuple):
    line: Line
    undersides: Undersides
    rig: Rig
    frame: int
    boxes: Boxes


def rough(seed: int, odd: tuple[float, ...] = (), long: float = 1.0) -> Case:
    """A line whose grades jump by some percent from bracket to bracket, and cars on it.

    ``odd``: stations between brackets whose railhead is known as well. ``long``: 1 for cars that
    span up to three brackets, less for smaller ones.
    """
    draw = np.random.default_rng(seed)
    radius = 10 ** draw.uniform(math.log10(150), 4)
    brackets = int(draw.integers(6, 17))
    step = 2 * math.pi / brackets
    stations = np.arange(brackets * TURNS + 1)
    rise = radius * step * draw.uniform(0, 0.06)
    off = draw.choice([0.005, 0.01, 0.02]) * radius * step
    heights = rise * stations + draw.normal(0, off, len(stations))
    roll = float(draw.choice([0.0, 0.0, 0.04, -0.03]))
    known = np.append(stations, odd)
    lifted = np.append(heights, np.interp(odd, stations, heights) + off)
    order = np.argsort(known)
    line = Line(radius, known[order] * step, lifted[order], 0.0, stations[-1] * step, roll_rad=roll)
    under = stations[:-brackets]
    zero = np.zeros(len(under))
    width = zero + float(draw.choice([0.001, 0.02, 0.08])) * radius
    undersides = Undersides(under * step, under * step, zero, heights[brackets:], width)

    supports = draw.uniform(0.1, 0.8, CARS) * radius * long
    on_trucks = draw.random() < 0.6
    truck = draw.uniform(0.03, 0.1, CARS) * radius * long
    rig, frame = (coach(supports, truck), 2) if on_trucks else (wagon(supports), 0)
    length = supports + draw.uniform(0.02, 0.3, CARS) * radius * long
    middle, width_mm = (
        draw.normal(0, 0.02, CARS) * radius * long,
        draw.uniform(0.03, 0.08, CARS) * radius * long,
    )
    height = draw.uniform(0.1, 0.3, CARS) * radius * long
    half = width_mm / 2
    boxes = Boxes(
        np.arange(CARS), middle - length / 2, middle + length / 2, half, half, 0 * height, height
    )
    return Case(line, undersides, rig, frame, boxes)


def gaps_of(case: Case, *, every: bool) -> np.ndarray:
    foot = footing(case.line, case.rig, [(case.frame, case.boxes)])
    nothing = np.full(CARS, np.inf)
    return beam_gaps_mm(
        case.line, case.rig, foot, case.frame, case.boxes, case.undersides, nothing, every=every
    )


def lose_nothing(case: Case, monkeypatch: pytest.MonkeyPatch) -> None:
    least, each = gaps_of(case, every=False).min(axis=1), gaps_of(case, every=True)
    monkeypatch.setattr(beams, "grids", lambda *_: [])
    whole = gaps_of(case, every=True)
    tolerance = max(FOUND_MM, SHARE * case.line.radius_mm)
    assert_allclose(each, whole, atol=tolerance)
    assert_allclose(least, whole.min(axis=1), atol=tolerance)


@pytest.mark.parametrize("seed", range(12))
def test_no_position_is_lost(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    lose_nothing(rough(seed), monkeypatch)


@pytest.mark.parametrize("seed", range(4))
def test_nor_where_a_railhead_is_known_between_brackets(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Halves and thirds make the grid finer; other places stand beside it, and only near them is
    every piece worked out."""
    lose_nothing(rough(seed, odd=(4.5, 4 + 1 / 3, 7.29)), monkeypatch)


@pytest.mark.parametrize("seed", [0, 8, 10])
def test_nor_of_cars_much_smaller_than_from_bracket_to_bracket(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is known beside the grid is out of their reach, and yet between the same two brackets:
    the line is straight up to there, and not up to the next bracket.
    """
    lose_nothing(rough(seed, odd=(2.3, 3.71, 5.6, 7.29), long=0.1), monkeypatch)


def test_they_are_rough() -> None:
    """Grades differ from one bracket to the next by more than they are steep."""
    lines = [rough(seed).line for seed in range(12)]
    grades = [line.slope_mm / line.radius_mm for line in lines]
    assert max(np.abs(np.diff(grade)).max() for grade in grades) > 0.05
    assert min(np.abs(np.diff(grade)).max() for grade in grades) > 0.01
