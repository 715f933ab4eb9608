"""Does it run there: the checks of G8 beside headroom and sides, docs/theory.md.

A figure that a car lacks is listed as not measured and lowers nothing; one that it has counts.
"""

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Track
from clearance.geometry.profile import height_over_rail_mm
from clearance.geometry.swing import truck_swing
from clearance.judge.allowance import Budget, margins_of
from clearance.judge.couplers import coupling_column
from clearance.judge.drive import drives, least_of_each
from clearance.judge.findings import CheckColumn, plain_column
from clearance.judge.fleet import Fleet, Shape
from clearance.judge.places import Place, numbered
from clearance.judge.structure import Structure

__all__ = ["low_lines", "running_columns"]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]


def running_columns(
    structure: Structure, track: Track, fleet: Fleet, runs: Mask, over: CheckColumn | None
) -> list[CheckColumn]:
    """The running checks of a fleet on a track.

    Parameters
    ----------
    structure, track, fleet
        Who goes where.
    runs
        Which cars can stand there at all, shape (n,).
    over
        What the check overhead found: recovery asks for the same room.
    """
    columns = [
        _rigid_wheelbase(structure, track, fleet, runs),
        _truck_swing(structure, track, fleet, runs),
        _underside(structure, track, fleet, runs),
        coupling_column(structure, track, fleet, runs),
    ]
    if over:
        columns.append(_recovery(structure, track, over))
    return [column for column in columns if column.applies.any()]


def _rigid_wheelbase(structure: Structure, track: Track, fleet: Fleet, runs: Mask) -> CheckColumn:
    """How far a middle axle must shift on the curve, against what lets it."""
    wheelbase, truck = fleet.figure("wheelbase_mm"), fleet.figure("truck_wheelbase_mm")
    rigid = np.where(truck > 0, truck, wheelbase)
    for car, plan in fleet.plans.items():
        rigid[car] = max(map(plan.length_mm, plan.rigid), default=0.0)
    play = fleet.figure("side_play_mm")
    with np.errstate(invalid="ignore"):
        shift = track.radius_mm - np.sqrt(track.radius_mm**2 - (rigid / 2) ** 2)
    available = play + margins_of(structure.helix).play_mm
    # Of two-axled trucks, or frames, only a stated side play says that there is an axle between;
    # a car that says how many axles it has says it for certain.
    perhaps = ~np.isnan(play) | (truck == 0) & ~fleet.table.framed
    axles = fleet.figure("axles")
    guiding = np.where(truck > 0, 4, 2)
    for car, plan in fleet.plans.items():
        guiding[car] = plan.chassis.axles
    applies = runs & np.where(np.isnan(axles), perhaps, axles > guiding)
    return plain_column(
        "rigid_wheelbase",
        track.name,
        applies,
        available,
        available - shift,
        "nobody stated the side play of its middle axles",
    )


def _truck_swing(structure: Structure, track: Track, fleet: Fleet, runs: Mask) -> CheckColumn:
    """How far a truck turns under the body, at its end axles, against the limit."""
    limit = np.radians(fleet.figure("truck_swing_deg"))
    swing = np.full(len(fleet), np.nan)
    half = fleet.figure("truck_wheelbase_mm") / 2
    for car, plan in fleet.plans.items():
        half[car] = max(map(plan.length_mm, plan.trucks), default=0.0) / 2
    chosen = np.flatnonzero(runs & ~np.isnan(limit) & (half > 0))
    if len(chosen):
        for drive in drives(structure, track, fleet.select(chosen)):
            found = truck_swing(drive.line, drive.rig, drive.foot, regular=structure.is_regular)
            cars = chosen[drive.cars]
            swing[cars] = np.fmax(swing[cars], found.values)
    more = {
        "swing_deg": np.degrees(swing),
        "limit_deg": np.degrees(limit),
        "at_mm": np.where(np.isnan(limit), np.nan, half),
    }
    available, required = half * np.sin(limit), half * np.sin(swing)
    return plain_column(
        "truck_swing",
        track.name,
        runs & (half > 0),
        available,
        available - required,
        "nobody stated how far its trucks turn",
        more=more,
    )


def _underside(structure: Structure, track: Track, fleet: Fleet, runs: Mask) -> CheckColumn:
    """How far the body's lowest line stays over the rails, on crests and in dips."""
    measured = low_lines(fleet)[1]
    gap, available = np.full((2, 2, len(fleet)), np.nan)
    place_rad = np.full(gap.shape, np.nan)
    chosen = np.flatnonzero(runs & measured)
    if len(chosen):
        some = fleet.select(chosen)
        kept = low_lines(some)[0]
        for drive in drives(structure, track, some, kept):
            lowest = np.full(len(drive.cars), np.inf)
            at, level = np.full(len(lowest), np.nan), np.full(len(lowest), np.nan)
            for frame, _, boxes in drive.loads:
                found = height_over_rail_mm(
                    drive.line, drive.rig, drive.foot, frame, boxes, regular=structure.is_regular
                )
                nearest = least_of_each(boxes.vehicle, found.gap_mm)
                nearest = nearest[found.gap_mm[nearest] < lowest[boxes.vehicle[nearest]]]
                vehicle = boxes.vehicle[nearest]
                lowest[vehicle] = found.gap_mm[nearest]
                at[vehicle] = found.place_rad[nearest]
                level[vehicle] = boxes.bottom_mm[nearest]
            for way in {drive.way, 1}:
                cars = chosen[drive.cars]
                gap[way, cars], place_rad[way, cars], available[way, cars] = lowest, at, level
    gap = np.where(np.isfinite(gap), gap, np.nan)
    places: tuple[Place, ...] = ()
    which = np.full(gap.shape, -1, np.intp)
    if not structure.is_regular:
        known = ~np.isnan(place_rad)
        stations = np.round(place_rad[known] / structure.step_rad, 2)
        found_at, which[known] = numbered(stations, "railhead")
        places = tuple(found_at)
    return CheckColumn(
        "underside",
        track.name,
        runs,
        gap,
        available,
        Budget(0.0, {"car": fleet.tolerance_mm}),
        which,
        places,
        lowers_unmeasured=False,
        reason="nobody measured what hangs lowest",
    )


def low_lines(fleet: Fleet) -> tuple[Shape, Mask]:
    """The blocks with the height of their undersides, and for which cars it was measured.

    A block from the railhead up says nothing of its underside: then the car's own figure holds,
    over its whole length.
    """
    shape = fleet.shape
    bottom = shape.blocks.bottom_mm
    all_known = np.minimum.reduceat(bottom, shape.start) > 0 if len(fleet) else np.zeros(0, bool)
    stated = fleet.figure("underside_mm")
    bottom = np.where(all_known[shape.car], bottom, stated[shape.car])
    measured = all_known | (stated > 0)
    return shape._replace(blocks=shape.blocks._replace(bottom_mm=bottom)), measured


def _recovery(structure: Structure, track: Track, over: CheckColumn) -> CheckColumn:
    """Whether a hand goes over the roof where there is least room. A matter apart from fitting."""
    hand = structure.helix.recovery.hand_mm
    room = over.gap_mm
    return CheckColumn(
        "recovery",
        track.name,
        over.applies,
        room - (np.nan if hand is None else hand),
        room,
        Budget(0.0, {}),
        over.place,
        over.places,
        lowers_unmeasured=False,
        apart=True,
        reason="the helix file does not say how thick a hand is: [recovery] hand",
    )
