"""Records become arrays here, once: the cars to judge, as the geometry wants them.

Lengths along a car are measured from the middle of its wheelbase, forward positive; a block's
sides are the car's own left and right. How a car is turned round, and how a clockwise helix is
mirrored, is settled here too, so that the geometry only ever sees a car that goes uphill, front
first, counterclockwise.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from catalog.columns import CarTable

__all__ = ["FACINGS", "Blocks", "Fleet", "Shape"]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

_SAME_MM = 1e-6  # lengths are kept to this; the rest is rounding
GAUGE_SLACK_MM = 0.6  # 45 and 44.45 mm (1 3/4 in) are one gauge to those who run on it

FACINGS = ("front uphill", "front downhill")
"""The two ways round, in the order in which findings keep them."""


class Blocks(NamedTuple):
    """The shapes of a fleet, all blocks of all cars in the order of the cars, shape (m,). [mm]"""

    x_rear_mm: Floats
    x_front_mm: Floats
    left_mm: Floats
    right_mm: Floats
    bottom_mm: Floats
    top_mm: Floats

    def turned(self) -> "Blocks":
        """The same cars turned round: rear for front, left for right."""
        return self._replace(
            x_rear_mm=-self.x_front_mm,
            x_front_mm=-self.x_rear_mm,
            left_mm=self.right_mm,
            right_mm=self.left_mm,
        )

    def mirrored(self) -> "Blocks":
        """The same cars in a mirror: left for right. What a clockwise helix asks for."""
        return self._replace(left_mm=self.right_mm, right_mm=self.left_mm)

    def take(self, index: NDArray[np.intp]) -> "Blocks":
        """The blocks at ``index``."""
        return Blocks(*(figures[index] for figures in self))


class Shape(NamedTuple):
    """Blocks and whose they are: ``car`` rises, shape (m,); car i's begin at ``start``[i], (n,)."""

    car: NDArray[np.intp]
    start: NDArray[np.intp]
    blocks: Blocks

    def with_ends(self) -> "Shape":
        """Each block, its rear face and its front face: for what is worse at an end than nearer in.

        Lateral play grows towards the ends of a body, so there the closest place need not be the
        one with the least to spare.
        """
        rear = self.blocks._replace(x_front_mm=self.blocks.x_rear_mm)
        front = self.blocks._replace(x_rear_mm=self.blocks.x_front_mm)
        thrice = (
            np.ravel(np.column_stack(figures))
            for figures in zip(self.blocks, rear, front, strict=True)
        )
        return Shape(np.repeat(self.car, 3), 3 * self.start, Blocks(*thrice))


@dataclass(frozen=True)
class Fleet:
    """n cars as arrays. Figures of shape (n,) in the order of ``table``; nan: not measured."""

    table: CarTable

    def __len__(self) -> int:
        return len(self.table)

    @property
    def ids(self) -> list[str]:
        """What is painted on each car."""
        return self.table.text["id"]

    def figure(self, name: str) -> Floats:
        """One figure of every car, as measured, shape (n,). [mm]"""
        return self.table.figures[name]

    @cached_property
    def full_size(self) -> Mask:
        """Whose figures are a full-size drawing's, not the model's, shape (n,)."""
        return self.table.full_size

    @cached_property
    def tolerance_mm(self) -> Floats:
        """How well each car was measured, shape (n,). [mm]"""
        return self.table.stated_tolerance_mm

    @property
    def block_car(self) -> NDArray[np.intp]:
        """Which car each block belongs to, rising, shape (m,)."""
        return self.shape.car

    @property
    def block_start(self) -> NDArray[np.intp]:
        """Where each car's blocks begin, shape (n,). Every car has one at least."""
        return self.shape.start

    @property
    def blocks(self) -> Blocks:
        """All blocks, shape (m,). A car described by none is one block of its own figures."""
        return self.shape.blocks

    @cached_property
    def shape(self) -> Shape:
        """The shapes of all cars."""
        own = np.asarray(self.table.block_car, np.intp)
        described = np.zeros(len(self), bool)
        described[own] = True
        plain = np.flatnonzero(~described)
        half_width = self.figure("width_mm")[plain] / 2
        underside = self.figure("underside_mm")[plain]
        given = self.table.block_figures
        block_car = np.concatenate([own, plain])
        order = np.argsort(block_car, kind="stable")

        def both(ours: str, theirs: Floats) -> Floats:
            return np.concatenate([given[ours], theirs])[order]

        block_car = block_car[order]
        # From the front end of the body, backwards, to the middle of the wheelbase, forwards.
        middle = self.table.overhangs_mm[0] + self.figure("wheelbase_mm") / 2
        blocks = Blocks(
            x_rear_mm=middle[block_car] - both("to_mm", self.figure("length_mm")[plain]),
            x_front_mm=middle[block_car] - both("from_mm", np.zeros(len(plain))),
            left_mm=both("left_mm", half_width),
            right_mm=both("right_mm", half_width),
            # Nobody measured what hangs lowest: the block then reaches down to the railhead.
            bottom_mm=both("bottom_mm", np.where(np.isnan(underside), 0.0, underside)),
            top_mm=both("top_mm", self.figure("height_mm")[plain]),
        )
        return Shape(block_car, np.searchsorted(block_car, np.arange(len(self))), blocks)

    @cached_property
    def lopsided(self) -> Mask:
        """Which cars must be tried both ways round, shape (n,).

        A car of one block, symmetrical fore and aft and on both sides, is the same turned round.
        """
        first = self.blocks.take(self.block_start)
        single = np.diff(np.append(self.block_start, len(self.block_car))) == 1
        fore_and_aft = np.abs(first.x_front_mm + first.x_rear_mm) < _SAME_MM
        sideways = np.abs(first.left_mm - first.right_mm) < _SAME_MM
        differs: Mask = ~(single & fore_and_aft & sideways)
        return differs

    def runs_on(self, gauge_mm: float) -> Mask:
        """Which cars have the gauge of a helix, or say nothing of theirs, shape (n,)."""
        other: Mask = np.abs(self.figure("gauge_mm") - gauge_mm) > GAUGE_SLACK_MM
        return ~other

    def select(self, chosen: ArrayLike) -> "Fleet":
        """The fleet of the cars at ``chosen`` (numbers, or a mask), in that order."""
        return Fleet(self.table.take(chosen))
