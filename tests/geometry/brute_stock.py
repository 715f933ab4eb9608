"""What rolls: blocks on frames on supports, as the slow drive takes them (G2, G3).

Part of `tests.geometry.brute_force`, which says what it is for.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import Literal

import numpy as np

from tests.geometry.brute_line import Array

__all__ = [
    "FACINGS",
    "TRACK",
    "BruteBlock",
    "BruteCar",
    "BruteFrame",
    "BruteVehicle",
    "Facing",
]

Facing = Literal["front uphill", "front downhill"]
FACINGS: tuple[Facing, Facing] = ("front uphill", "front downhill")
TRACK = "track"


@dataclass(frozen=True)
class BruteBlock:
    """A box of a frame. x runs forward from mid-wheelbase for a `BruteCar`, from the front end of
    the vehicle (so most of it is negative) for a `BruteVehicle`; half widths from the centre line.
    """

    x_rear_mm: float
    x_front_mm: float
    left_mm: float
    right_mm: float
    bottom_mm: float
    top_mm: float
    frame: str = "body"

    @classmethod
    def from_front(
        cls,
        from_mm: float,
        to_mm: float,
        left_mm: float,
        right_mm: float,
        bottom_mm: float,
        top_mm: float,
        frame: str,
    ) -> "BruteBlock":
        """As a club writes it down: from the vehicle's front end backwards."""
        return cls(-to_mm, -from_mm, left_mm, right_mm, bottom_mm, top_mm, frame)

    @cached_property
    def corners(self) -> Array:
        """(8, 3): x forward, y to the left, height. [mm]"""
        return np.array(
            list(
                product(
                    (self.x_rear_mm, self.x_front_mm),
                    (-self.right_mm, self.left_mm),
                    (self.bottom_mm, self.top_mm),
                )
            )
        )


@dataclass(frozen=True)
class BruteFrame:
    """A rigid frame on two supports, at distances from the vehicle's front end backwards; each on
    the track (an axle) or on the base line of another frame (G2)."""

    name: str
    rear_mm: float
    rear_on: str
    front_mm: float
    front_on: str


@dataclass(frozen=True)
class BruteVehicle:
    """Frames on supports, with their blocks."""

    frames: tuple[BruteFrame, ...]
    blocks: tuple[BruteBlock, ...]

    @cached_property
    def corners(self) -> Array:
        """(blocks, 8, 3), in the axes of each one's own frame. [mm]"""
        return np.stack([block.corners for block in self.blocks])


@dataclass(frozen=True)
class BruteCar:
    """A body on two trucks, or on its own axles where `truck_wheelbase_mm` is 0 (G2)."""

    wheelbase_mm: float
    truck_wheelbase_mm: float
    blocks: tuple[BruteBlock, ...]

    @cached_property
    def corners(self) -> Array:
        """(blocks, 8, 3), in the body's own axes. [mm]"""
        return np.stack([block.corners for block in self.blocks])

    @cached_property
    def frames(self) -> tuple[BruteFrame, ...]:
        """The same as frames, at distances from mid-wheelbase backwards."""
        B, T = self.wheelbase_mm / 2, self.truck_wheelbase_mm / 2
        if T == 0:
            return (BruteFrame("body", B, TRACK, -B, TRACK),)
        return (
            BruteFrame("rear truck", B + T, TRACK, B - T, TRACK),
            BruteFrame("front truck", -B + T, TRACK, -B - T, TRACK),
            BruteFrame("body", B, "rear truck", -B, "front truck"),
        )
