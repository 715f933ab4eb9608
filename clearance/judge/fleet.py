"""Records become arrays here, once: the cars to judge, as the geometry wants them.

Lengths along a car are measured from the middle of its wheelbase (along an articulated one, from
midway between the supports of the frame at hand), forward positive; a block's sides are the car's
own left and right. How a car is turned round, and how a clockwise helix is
mirrored, is settled here too, so that the geometry only ever sees a car that goes uphill, front
first, counterclockwise.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from catalog.columns import CarTable
from clearance.geometry.boxes import frame_weights
from clearance.judge.allowance import play_lever
from clearance.judge.gear import FramePlan, Gear, framed_plans, gears

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
    """Blocks and whose they are: ``car`` rises, shape (m,); car i's begin at ``start``[i], (n,).

    ``frame`` is the number of the frame that carries each, in its car's gear, shape (m,).
    """

    car: NDArray[np.intp]
    start: NDArray[np.intp]
    blocks: Blocks
    frame: NDArray[np.intp]

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
        return Shape(
            np.repeat(self.car, 3), 3 * self.start, Blocks(*thrice), np.repeat(self.frame, 3)
        )

    def between(self, bottom_mm: float, top_mm: float | None) -> tuple["Shape", Mask]:
        """The same blocks as far as they lie between two heights, and which have any part there."""
        bottom = np.maximum(self.blocks.bottom_mm, bottom_mm)
        top = self.blocks.top_mm if top_mm is None else np.minimum(self.blocks.top_mm, top_mm)
        clipped = self.blocks._replace(bottom_mm=bottom, top_mm=np.maximum(bottom, top))
        return self._replace(blocks=clipped), bottom <= top


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
        frame, middle = self._frames(
            block_car, [*self.table.block_frame, *[""] * len(plain)], order
        )
        # From the front end of the body, backwards, to the frame's middle, forwards.
        blocks = Blocks(
            x_rear_mm=middle - both("to_mm", self.figure("length_mm")[plain]),
            x_front_mm=middle - both("from_mm", np.zeros(len(plain))),
            left_mm=both("left_mm", half_width),
            right_mm=both("right_mm", half_width),
            # Nobody measured what hangs lowest: the block then reaches down to the railhead.
            bottom_mm=both("bottom_mm", np.where(np.isnan(underside), 0.0, underside)),
            top_mm=both("top_mm", self.figure("height_mm")[plain]),
        )
        return Shape(block_car, np.searchsorted(block_car, np.arange(len(self))), blocks, frame)

    def _frames(
        self, block_car: NDArray[np.intp], names: list[str], order: NDArray[np.intp]
    ) -> tuple[NDArray[np.intp], Floats]:
        """The frame of each block, and how far behind the front end that frame's middle is."""
        wheelbase = self.figure("wheelbase_mm")
        body = np.where(self.figure("truck_wheelbase_mm") > 0, 2, 0)
        frame = body[block_car]
        middle = (self.table.overhangs_mm[0] + wheelbase / 2)[block_car]
        if self.plans:
            for block in np.flatnonzero(np.isin(block_car, list(self.plans))):
                plan = self.plans[int(block_car[block])]
                frame[block] = plan.names.index(names[order[block]] or plan.top)
                middle[block] = -plan.middle_mm(frame[block])
        return frame, middle

    @cached_property
    def plans(self) -> dict[int, FramePlan]:
        """The frames of each articulated car, by its number."""
        return framed_plans(self.table) if len(self.table.frame_car) else {}

    @cached_property
    def gears(self) -> list[Gear]:
        """All cars, by how their frames rest."""
        return gears(self.table, self.plans)

    def lever(self, shape: Shape, x_mm: Floats) -> Floats:
        """How far a place of each block moves sideways for each millimetre that an axle does.

        As `clearance.judge.allowance.play_lever`; over several frames the same, frame by frame.
        ``x_mm`` has shape (..., m).
        """
        lever = play_lever(x_mm, self.figure("wheelbase_mm")[shape.car])
        for gear in self.gears if self.plans else ():
            if int(gear.cars[0]) not in self.plans:
                continue
            weights = frame_weights(gear.rig)
            mine = np.flatnonzero(np.isin(shape.car, gear.cars))
            which = np.searchsorted(gear.cars, shape.car[mine])
            for frame in np.unique(shape.frame[mine]):
                own = shape.frame[mine] == frame
                some, vehicle = mine[own], which[own]
                mid, slope = (figures[:, vehicle] for figures in weights[frame])
                lever[..., some] = np.abs(mid + x_mm[..., None, some] * slope).sum(axis=-2)
        return np.asarray(lever)

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
        # Frames are seldom the same fore and aft, and it costs little to look.
        differs[list(self.plans)] = True
        return differs

    def runs_on(self, gauge_mm: float) -> Mask:
        """Which cars have the gauge of a helix, or say nothing of theirs, shape (n,)."""
        other: Mask = np.abs(self.figure("gauge_mm") - gauge_mm) > GAUGE_SLACK_MM
        return ~other

    def select(self, chosen: ArrayLike) -> "Fleet":
        """The fleet of the cars at ``chosen`` (numbers, or a mask), in that order."""
        return Fleet(self.table.take(chosen))
