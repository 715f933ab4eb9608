"""Which cars of a table keep every rule of `Car`? Answered for a fleet at once, with arrays.

The rules are those of catalog/car.py, in the same order. A car passed here is one that `Car` takes;
a car flagged here is handed to `Car`, which decides and says why. A test holds the two together.
"""

from collections.abc import Callable
from typing import get_args

import numpy as np
from numpy.typing import NDArray

from catalog.car import (
    AGREEMENT_MM,
    LARGEST_GAUGE_MM,
    MOST_AXLES,
    WEIGHT,
    WIDEST_SWING_DEG,
    Dimensions,
)
from catalog.columns import CarTable, day_of
from catalog.record import LONGEST_MM, is_writable
from catalog.rounding import Floats

__all__ = ["sound"]

Bools = NDArray[np.bool_]

REQUIRED_SIZES = ("height_mm", "width_mm", "length_mm", "wheelbase_mm")
OPTIONAL_SIZES = ("gauge_mm", "length_over_couplers_mm", "minimum_radius_mm", "coupler_drop_mm")
ANGLES = ("truck_swing_deg", "coupler_angle_deg")
_DIMENSIONS = frozenset(get_args(Dimensions))

OPTIONAL_NOT_NEGATIVE = (
    "truck_wheelbase_mm",
    "front_overhang_mm",
    "rear_overhang_mm",
    "underside_mm",
    "side_play_mm",
    "coupler_swing_mm",
    "tolerance_mm",
)


def sound(table: CarTable) -> Bools:
    """Say which cars are possible.

    Parameters
    ----------
    table
        n cars, with whatever figures they came with.

    Returns
    -------
    NDArray
        (n,) of booleans. True: `Car` accepts it. False: ask `Car`; so it is for cars with frames.
    """
    with np.errstate(invalid="ignore", over="ignore"):
        good = _texts(table) & _figures(table) & _blocks(table)
    good[table.frame_car] = False
    return good


def _texts(table: CarTable) -> Bools:
    good = np.array(table.text["id"], dtype=bool)  # "" is false
    for cells in table.text.values():
        good &= _clean(cells)
    good &= _each(table.text["dimensions"], _DIMENSIONS.__contains__)
    good &= _each(table.text["weight"], lambda text: not text or bool(WEIGHT.fullmatch(text)))
    good &= _each(table.text["measured_on"], lambda text: not isinstance(day_of(text), str))
    return good


def _clean(cells: list[str]) -> Bools:
    """Whether each text is as `Text` would leave it."""
    if list(map(str.strip, cells)) == cells and is_writable("".join(cells)):
        return np.ones(len(cells), dtype=bool)
    return np.array([text == text.strip() and is_writable(text) for text in cells], dtype=bool)


def _each(cells: list[str], rule: Callable[[str], bool]) -> Bools:
    """Ask a rule of each text; columns repeat themselves, so each different text is asked once."""
    verdicts = {text: rule(text) for text in set(cells)}
    if all(verdicts.values()):
        return np.ones(len(cells), dtype=bool)
    return np.array([verdicts[text] for text in cells], dtype=bool)


def _size(values: Floats) -> Bools:
    return (values > 0) & (values <= LONGEST_MM)


def _not_negative(values: Floats) -> Bools:
    return (values >= 0) & (values <= LONGEST_MM)


def _figures(table: CarTable) -> Bools:
    figures = table.figures
    good = np.ones(len(table), dtype=bool)
    for name in REQUIRED_SIZES:
        good &= _size(figures[name])
    for name in OPTIONAL_SIZES:
        good &= np.isnan(figures[name]) | _size(figures[name])
    for name in OPTIONAL_NOT_NEGATIVE:
        good &= np.isnan(figures[name]) | _not_negative(figures[name])
    for name in ANGLES:
        angle = figures[name]
        good &= np.isnan(angle) | ((angle > 0) & (angle <= WIDEST_SWING_DEG))
    scale, gauge, axles = (figures[name] for name in ("scale", "gauge_mm", "axles"))
    good &= np.where(np.isnan(scale), ~table.full_size, (scale >= 1) & (scale <= 1000))
    good &= np.isnan(gauge) | (gauge <= LARGEST_GAUGE_MM)
    least = np.where(np.nan_to_num(figures["truck_wheelbase_mm"]) > 0, 4, 2)
    good &= np.isnan(axles) | ((axles >= least) & (axles <= MOST_AXLES) & (axles % 1 == 0))

    height, length, wheelbase = (
        figures[name] for name in ("height_mm", "length_mm", "wheelbase_mm")
    )
    truck = np.nan_to_num(figures["truck_wheelbase_mm"])
    good &= (wheelbase <= length) & (truck < wheelbase)
    good &= _overhangs_fill_the_body(table)
    # Comparisons with nan are false: a blank figure breaks none of these.
    good &= ~(figures["length_over_couplers_mm"] < length)
    good &= ~(figures["underside_mm"] >= height)
    good &= table.stated_tolerance_mm < height
    # numpy's and math's hypot may differ in the last digit, hence the hair on the safe side.
    least_radius = np.hypot(wheelbase, truck) / 2 * (1 + 1e-12)
    good &= ~(figures["minimum_radius_mm"] <= least_radius)
    return good


def _overhangs_fill_the_body(table: CarTable) -> Bools:
    front, rear = table.overhangs_mm
    given_rear = table.figures["rear_overhang_mm"]
    near = np.maximum(AGREEMENT_MM, table.stated_tolerance_mm)
    agrees: Bools = ~(np.abs(rear - given_rear) > near)
    return (np.minimum(front, rear) >= -1e-6) & agrees


def _blocks(table: CarTable) -> Bools:
    """Each block is a box, and a car's blocks together are as big as its figures say."""
    good = np.ones(len(table), dtype=bool)
    if not len(table.block_car):
        return good
    first, last, left, right, bottom, top = (
        table.block_figures[name]
        for name in ("from_mm", "to_mm", "left_mm", "right_mm", "bottom_mm", "top_mm")
    )
    bottom = np.nan_to_num(bottom)
    boxes = _not_negative(first) & _size(last) & _not_negative(bottom) & _size(top)
    boxes &= (np.abs(left) <= LONGEST_MM) & (np.abs(right) <= LONGEST_MM)
    boxes &= (last > first) & (left + right > 0) & (top > bottom)
    boxes &= _clean(table.block_name)
    boxes &= _each(table.block_frame, lambda name: not name)  # whose frame is for the record to say

    owners, starts = np.unique(table.block_car, return_index=True)
    height, width, length = (
        table.figures[name][owners] for name in ("height_mm", "width_mm", "length_mm")
    )
    near = np.maximum(AGREEMENT_MM, table.stated_tolerance_mm[owners])
    furthest_left = np.maximum.reduceat(left, starts)
    furthest_right = np.maximum.reduceat(right, starts)
    either = np.minimum(
        np.abs(furthest_left + furthest_right - width),
        np.abs(2 * np.maximum(furthest_left, furthest_right) - width),
    )
    good[owners] = (
        np.logical_and.reduceat(boxes, starts)
        & (np.abs(np.maximum.reduceat(top, starts) - height) <= near)
        & (either <= near)
        & (np.minimum.reduceat(first, starts) <= near)
        & (np.abs(np.maximum.reduceat(last, starts) - length) <= near)
    )
    return good
