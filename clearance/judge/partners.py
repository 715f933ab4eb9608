"""With whom a car of a fleet is coupled: the ends that come closest to what couplers bear.

G8, docs/theory.md. Not every pair is driven; what each end does by itself on the even curve says
whom to try.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Track
from clearance.geometry.boxes import footing
from clearance.geometry.coupled import turned_out_rad
from clearance.geometry.swing import swing_out_mm
from clearance.judge.fleet import Fleet
from clearance.judge.structure import Structure

__all__ = ["FRONT", "REAR", "Partners", "end_frame", "faces_mm"]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

FRONT, REAR = 0, 1


def faces_mm(fleet: Fleet) -> Floats:
    """Where the faces of the front and the rear couplers are, forward, shape (2, n). [mm]

    From the middle of the wheelbase; of an articulated car from its front end.
    """
    length = fleet.figure("length_mm")
    beyond = (fleet.figure("length_over_couplers_mm") - length) / 2
    front = fleet.table.overhangs_mm[0] + fleet.figure("wheelbase_mm") / 2
    front = np.where(fleet.table.framed, 0.0, front)
    return np.array([front + beyond, front - length - beyond])


def end_frame(fleet: Fleet, car: int, end: int) -> int:
    """The frame that bears the coupler at one end: the one whose block reaches furthest there."""
    first, last = np.searchsorted(fleet.block_car, [car, car + 1]).tolist()
    frame = fleet.shape.frame[first:last]
    if car not in fleet.plans:
        return int(frame[0])
    plan, blocks = fleet.plans[car], fleet.blocks.take(np.arange(first, last))
    middle = np.array([plan.middle_mm(int(number)) for number in frame])
    reach = blocks.x_front_mm + middle if end == FRONT else -blocks.x_rear_mm - middle
    return int(frame[reach.argmax()])


class _Ends(NamedTuple):
    """What each end of each car does by itself on the even curve, front and rear, shape (2, n).

    Attributes
    ----------
    out_mm
        How far the coupler's face stands outside the centreline. [mm]
    beyond_mm
        How far it is beyond the nearest support of what bears it. [mm]
    turned_rad
        How far the body is turned out of the curve at that support, and the share that this end has
        in the angle of the bar between two cars.
    """

    out_mm: Floats
    beyond_mm: Floats
    turned_rad: Floats


def _ends(structure: Structure, track: Track, fleet: Fleet) -> _Ends:
    line, faces = structure.line(track), faces_mm(fleet)
    found = _Ends(*np.full((3, *faces.shape), np.nan))
    for gear in fleet.gears:
        foot = footing(line, gear.rig)
        for end, sign, supports in ((FRONT, 1, gear.rig.front_mm), (REAR, -1, gear.rig.rear_mm)):
            face = faces[end, gear.cars]
            frames = np.array([end_frame(fleet, car, end) for car in gear.cars.tolist()])
            for frame in np.unique(frames).tolist():
                some = np.flatnonzero(frames == frame)
                beyond = sign * (face - supports[frame])
                turned = sign * turned_out_rad(gear.rig, foot, frame, supports[frame])
                figures = (
                    swing_out_mm(line, gear.rig, foot, frame, face),
                    beyond,
                    turned + beyond / line.radius_mm,
                )
                for values, figure in zip(found, figures, strict=True):
                    values[end, gear.cars[some]] = figure[some]
    return found


class Partners:
    """With whom each car is tried: of those who state the same, who comes closest to the limits.

    Each is picked by what its end does by itself on the even curve. Sideways that is how far its
    face stands out, and what it lets; up and down, how far it is beyond the wheels, or how little
    it lets; in angle, how far it is turned, and what it lets.

    Parameters
    ----------
    structure, track, fleet
        Who goes where.
    known
        Which cars may be asked, shape (n,).
    """

    def __init__(self, structure: Structure, track: Track, fleet: Fleet, known: Mask) -> None:
        self._ends = _ends(structure, track, fleet)
        swing, drop, self._limit = (
            np.where(known, fleet.figure(name), np.nan)
            for name in ("coupler_swing_mm", "coupler_drop_mm", "coupler_angle_deg")
        )
        self._states = ~np.isnan([swing, drop, self._limit])
        out, beyond, turned = self._ends
        # Of a partner: its swing, and how far it stands out or in beyond what that lets it.
        self._sides = [(_least(swing + sign * out), -sign) for sign in (-1, 1)]
        # Onto a straight one of the two is out of line by itself, whoever the other is.
        straight = structure.line(track).has_straight
        alone = (swing - np.abs(out), np.broadcast_to(swing, out.shape))
        self._alone = [_least(values) for values in alone if straight]
        self._far = _least(np.where(self._states[1], -beyond, np.nan))
        self._weak = _least(np.where(beyond == beyond.max(axis=0), drop, np.nan))
        self._bent = _least(np.where(self._states[2], -turned, np.nan))
        self._stiff = _least(self._limit - np.degrees(turned))

    def of(self, car: int) -> list[tuple[int, int, int]]:
        """The end at which the car is coupled, with which car, and at which of its ends."""
        found = []
        if self._states[0, car]:
            found.append(self._sideways(car))
            own = int(np.abs(self._ends.out_mm[:, car]).argmax())
            found += [(own, *other.end) for other in self._alone]
        if self._states[1, car]:
            own = int(self._ends.beyond_mm[:, car].argmax())
            found += [(own, *self._far.end), (own, *self._weak.end)]
        if self._states[2, car]:
            found.append((int(self._ends.turned_rad[:, car].argmax()), *self._turned(car)))
        return list(dict.fromkeys(found))

    def _sideways(self, car: int) -> tuple[int, int, int]:
        tried = [
            (other.least + sign * self._ends.out_mm[end, car], end, other.end)
            for other, sign in self._sides
            for end in (FRONT, REAR)
        ]
        _, end, other = min(tried)
        return end, *other

    def _turned(self, car: int) -> tuple[int, int]:
        """The stiff one turns too far for itself; the one that is turned most, for this car."""
        for_this_car = self._limit[car] + np.degrees(self._bent.least)
        return self._stiff.end if self._stiff.least < for_this_car else self._bent.end


class _Least(NamedTuple):
    least: float
    end: tuple[int, int]  # car, and which of its ends


def _least(values: Floats) -> _Least:
    """The least of a figure of the ends of all cars, (2, n); nan: not asked."""
    values = np.where(np.isnan(values), np.inf, values)
    end, car = divmod(int(values.argmin()), values.shape[1])
    return _Least(float(values[end, car]), (car, end))
