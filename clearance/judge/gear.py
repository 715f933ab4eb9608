"""What the cars of a fleet run on: cars whose frames rest alike are one gear, for the geometry.

G2, docs/theory.md.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.columns import CarTable
from catalog.frames import TRACK, Frame, body_frame, bottom_up, crosswise
from clearance.geometry.rig import Chassis, Rig, coach, wagon

__all__ = ["FramePlan", "Gear", "framed_plans", "gears"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


class Gear(NamedTuple):
    """Cars of one kind of running gear.

    Attributes
    ----------
    cars
        Their numbers in the fleet, rising, shape (c,).
    rig
        Their running gear, front first; lengths count forward.
    body
        The frame that carries what is not said to lie on another.
    """

    cars: Indices
    rig: Rig
    body: int


class FramePlan(NamedTuple):
    """One framed car: its chassis, where its supports are, and what its frames are called. [mm]

    Lengths count forward from the front end, so they are negative. ``remarks`` say what is doubtful
    about how its frames rest.
    """

    chassis: Chassis
    axle_mm: list[float]
    rear_mm: list[float]
    front_mm: list[float]
    names: list[str]
    top: str
    remarks: tuple[str, ...] = ()

    def middle_mm(self, frame: int) -> float:
        """Midway between a frame's supports."""
        return (self.rear_mm[frame] + self.front_mm[frame]) / 2

    def length_mm(self, frame: int) -> float:
        """Between a frame's supports."""
        return self.front_mm[frame] - self.rear_mm[frame]

    @property
    def rigid(self) -> list[int]:
        """The frames of two axles: what is between them is rigid."""
        return [frame for frame, rests in enumerate(self.chassis.rests) if min(rests) >= 0]

    @property
    def trucks(self) -> list[int]:
        """The frames that turn under another."""
        on = [rests for rests in self.chassis.rests if rests[0] != rests[1]]
        return sorted({-1 - one for rests in on for one in rests if one < 0})


def framed_plans(table: CarTable) -> dict[int, FramePlan]:
    """The plan of each car that is described by frames, by its number."""
    frames: dict[int, list[Frame]] = defaultdict(list)
    rows = zip(
        table.frame_car.tolist(),
        table.frame_name,
        table.frame_figures["rear_support_mm"].tolist(),
        table.frame_rear_on,
        table.frame_figures["front_support_mm"].tolist(),
        table.frame_front_on,
        strict=True,
    )
    for car, name, rear_mm, rear_on, front_mm, front_on in rows:
        frames[car].append(
            Frame(
                name=name,
                rear_support_mm=rear_mm,
                rear_on=rear_on,
                front_support_mm=front_mm,
                front_on=front_on,
            )
        )
    return {car: _plan(own) for car, own in frames.items()}


def _plan(frames: Sequence[Frame]) -> FramePlan:
    ordered = bottom_up(frames)
    number = {frame.name: index for index, frame in enumerate(ordered)}
    axles: list[float] = []

    def rests(on: str, from_front_mm: float) -> int:
        if on != TRACK:
            return -1 - number[on]
        axles.append(-from_front_mm)
        return len(axles) - 1

    rest = tuple(
        (rests(frame.rear_on, frame.rear_support_mm), rests(frame.front_on, frame.front_support_mm))
        for frame in ordered
    )
    chassis = Chassis(len(axles), rest)
    return FramePlan(
        chassis._replace(links=_links(chassis, axles)),
        axles,
        [-frame.rear_support_mm for frame in ordered],
        [-frame.front_support_mm for frame in ordered],
        [frame.name for frame in ordered],
        body_frame(frames),
        tuple(crosswise(frames)),
    )


def _links(chassis: Chassis, axle_mm: Sequence[float]) -> tuple[tuple[int, int], ...]:
    """Axles that keep their distance because nothing carried in common keeps it."""
    groups = [frozenset([axle]) for axle in range(chassis.axles)]
    for rear_on, front_on in chassis.rests:
        beneath = chassis.beneath(rear_on) | chassis.beneath(front_on)
        joined = frozenset().union(beneath, *(group for group in groups if group & beneath))
        groups = [group for group in groups if not group & beneath] + [joined]
    groups.sort(key=lambda group: sum(axle_mm[axle] for axle in group) / len(group))
    return tuple(
        min(
            ((a, b) for a in behind for b in ahead),
            key=lambda pair: axle_mm[pair[1]] - axle_mm[pair[0]],
        )
        for behind, ahead in pairwise(groups)
    )


def gears(table: CarTable, plans: dict[int, FramePlan]) -> list[Gear]:
    """All cars of a table, by how their frames rest."""
    wheelbase, truck = table.figures["wheelbase_mm"], table.figures["truck_wheelbase_mm"]
    plain = np.ones(len(table), bool)
    plain[list(plans)] = False
    found = []
    on_axles, on_trucks = np.flatnonzero(plain & (truck == 0)), np.flatnonzero(plain & (truck > 0))
    if len(on_axles):
        found.append(Gear(on_axles, wagon(wheelbase[on_axles]), 0))
    if len(on_trucks):
        found.append(Gear(on_trucks, coach(wheelbase[on_trucks], truck[on_trucks]), 2))
    alike: dict[tuple[Chassis, int], list[int]] = defaultdict(list)
    for car, plan in sorted(plans.items()):
        alike[plan.chassis, plan.names.index(plan.top)].append(car)
    for (chassis, top), cars in alike.items():
        rig = Rig(
            chassis,
            _columns(plans[car].axle_mm for car in cars),
            _columns(plans[car].rear_mm for car in cars),
            _columns(plans[car].front_mm for car in cars),
        )
        found.append(Gear(np.array(cars, np.intp), rig, top))
    return found


def _columns(rows: Iterable[Sequence[float]]) -> Floats:
    return np.array(list(rows), float).T
