"""Where the tell-tales hang, how high, and which cars they stop.

A tell-tale is a row of soft cords before the first obstacle. Its height is the least top limit of
the fleet, rounded down: then every car that does not pass overhead meets the cords, and few others.
"""

from dataclasses import dataclass
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.car import Car
from catalog.columns import CarTable
from catalog.errors import UsageError
from catalog.helix import Helix, Track
from catalog.survey import Survey
from clearance.geometry.line import Screw
from clearance.geometry.stopping import (
    GRAVITY_MM_S2,
    BridgeWarning,
    scaled_bridge_warning,
    stopping_distance_mm,
)
from clearance.judge.check import check
from clearance.judge.findings import CheckColumn
from clearance.judge.fleet import Fleet
from clearance.judge.places import Place
from clearance.judge.structure import Structure, Underside, screw_of
from clearance.judge.sweep import passages
from clearance.judge.verdict import PASSES, judge_gaps

__all__ = ["REFERENCE", "SMALL_FLEET", "Driving", "Telltale", "telltales"]

Floats = NDArray[np.float64]

SMALL_FLEET = 5
"""With fewer cars than this a reference car is reckoned with as well."""

REFERENCE = "reference car"
"""What the reference car is called."""

# An 85 ft passenger car on 59 1/2 ft truck centres: the long car of the NMRA S-8 class Ia.
_REFERENCE_LENGTH_MM, _REFERENCE_CENTRES_MM = 85 * 304.8, 59.5 * 304.8
_REFERENCE_TRUCK_MM, _REFERENCE_WIDTH_MM = 8.5 * 304.8, 10 * 304.8
_STANDARD_GAUGE_MM = 1435.0


class Driving(NamedTuple):
    """How trains come up to a tell-tale. Common practice, no source.

    A brisk walk behind the train, a driver who looks up, and what wheels hold without slipping,
    about a fifth of gravity: enough on any grade that a helix may have.
    """

    speed_mm_s: float = 350.0
    deceleration_mm_s2: float = 2000.0
    reaction_s: float = 1.5


@dataclass(frozen=True)
class Telltale:
    """One tell-tale: where it hangs and what it does. [mm]

    Attributes
    ----------
    set_at_mm
        Lower end of the cords over the railhead.
    before_mm
        Along the track from the cords to the first obstacle beyond them.
    station
        Where the cords hang, as a station.
    width_mm
        Over all cords, half of it on each side of the track's centreline.
    lowest, headroom_mm
        The lowest place beyond it, and its headroom.
    stopping_mm, practice
        What ``before_mm`` is made of: the train's own stopping distance, and full-size practice.
    stops, lets_through, false_alarms, missed, not_measured
        Cars by id. Stopped are those taller than the cords hang; a false alarm is a stopped car
        that would have passed; missed would be one that does not pass and is not stopped. What was
        not measured overhead is never let through.
    governing
        The car whose top limit sets the height; `REFERENCE`: the reference car of a small fleet;
        "": none can stand there.
    reason
        What of the helix was not worked out; "": nothing.
    """

    track: str
    at: Literal["foot", "head"]
    set_at_mm: float
    before_mm: float
    station: float
    width_mm: float
    lowest: Place
    headroom_mm: float
    stopping_mm: float
    practice: BridgeWarning
    stops: list[str]
    lets_through: list[str]
    false_alarms: list[str]
    missed: list[str]
    not_measured: list[str]
    governing: str
    reason: str


def telltales(
    helix: Helix, fleet: Fleet, driving: Driving = Driving(), survey: Survey | None = None
) -> list[Telltale]:
    """Place a tell-tale at both ends of each track.

    Parameters
    ----------
    helix
        As designed.
    fleet
        Cars of the helix's gauge.
    driving
        Speed, braking and reaction of a train that comes up to it.
    survey
        How it stands; None: as designed.

    Returns
    -------
    list of Telltale
        Two for each track that anything hangs over.

    Raises
    ------
    UsageError
        The braking asked for does not hold a train on the grade.
    """
    structure = Structure(helix, survey)
    columns = _overhead_columns(structure, fleet)
    reference: dict[str, CheckColumn] = {}
    if len(fleet) < SMALL_FLEET:
        car = _reference_fleet(helix)
        reference = _overhead_columns(structure, car)
    practice = scaled_bridge_warning(_scale(helix, fleet))
    found = []
    for track in helix.tracks:
        hanging = structure.hanging(track)
        if not hanging:
            continue
        column = columns.get(track.name)
        limits = [_least_limit(column, fleet)] if column else []
        if track.name in reference:
            limits.append(_least_limit(reference[track.name], car))
        # Where no car can stand on this track, what hangs lowest is all there is to go by.
        lowest_mm = min(underside.headroom_mm for underside in hanging)
        limit, governing = min(limits, default=(np.inf, ""))
        set_at = float(np.floor(min(limit, lowest_mm)))
        shared = {
            "track": track.name,
            "set_at_mm": set_at,
            "width_mm": _width_mm(structure, track, fleet, set_at),
            "practice": practice,
            "governing": governing,
            "reason": column.reason if column else "",
            **_lists(fleet, column, set_at),
        }
        screw = screw_of(helix, track)
        ends: tuple[Literal["foot", "head"], ...] = ("foot", "head")
        found += [_hang(helix, screw, hanging, at, driving, shared) for at in ends]
    return found


def _overhead_columns(structure: Structure, fleet: Fleet) -> dict[str, CheckColumn]:
    """The overhead findings of a fleet by track."""
    result = check(structure.helix, fleet, structure.survey)
    return {column.track: column for column in result.columns if column.check == "overhead"}


def _least_limit(column: CheckColumn, fleet: Fleet) -> tuple[float, str]:
    """The least top limit of a fleet, and whose it is; inf: none of its cars can stand there."""
    limits = _top_limits_mm(column, fleet.figure("height_mm"))
    if np.isnan(limits).all():
        return np.inf, ""
    car = int(np.nanargmin(limits))
    return float(limits[car]), fleet.ids[car]


def _lists(fleet: Fleet, column: CheckColumn | None, set_at_mm: float) -> dict[str, list[str]]:
    """Which cars the cords stop, and rightly; which they let through, and rightly."""
    stopped = fleet.figure("height_mm") > set_at_mm
    measured, passes = np.zeros((2, len(fleet)), bool)
    if column:
        # A part that was not worked out leaves every car's verdict open, whatever the rest says.
        measured = column.applies & (column.cap == PASSES)
        passes = judge_gaps(column.gap_mm, column.budget.total_mm).max(axis=0) == PASSES
    chosen = {
        "stops": stopped,
        "lets_through": ~stopped & measured,
        "false_alarms": stopped & measured & passes,
        "missed": ~stopped & measured & ~passes,
        "not_measured": ~measured,
    }
    return {name: [fleet.ids[car] for car in np.flatnonzero(mask)] for name, mask in chosen.items()}


def _hang(
    helix: Helix,
    screw: Screw,
    hanging: list[Underside],
    at: Literal["foot", "head"],
    driving: Driving,
    shared: dict[str, Any],
) -> Telltale:
    """Find the place at one end, before the first edge that a train comes to.

    However high it hangs: what the cords have not stopped yet may be of any height.
    """
    uphill = at == "foot"
    stopping = float(
        stopping_distance_mm(
            driving.speed_mm_s,
            driving.deceleration_mm_s2,
            screw.grade if uphill else -screw.grade,
            driving.reaction_s,
        )
    )
    if not np.isfinite(stopping):
        raise UsageError(
            f"a deceleration of {driving.deceleration_mm_s2 / 1000:g} m/s2 does not hold a "
            f"train on the {100 * screw.grade:.1f} % of track {shared['track']!r} downhill; "
            f"give more than {GRAVITY_MM_S2 / 1000 * screw.grade:.2f} m/s2"
        )
    before = float(np.ceil(max(stopping, shared["practice"].before_mm)))
    station_mm = screw.length_per_radian_mm * 2 * np.pi / helix.brackets_per_turn
    ends = [
        (place.station if uphill else place.stations[-1], width_mm / 2 / station_mm)
        for place, _, width_mm, *_ in hanging
    ]
    lowest_mm = min(underside.headroom_mm for underside in hanging)
    lowest = [place for place, headroom_mm, *_ in hanging if headroom_mm == lowest_mm]
    if uphill:
        station = min(middle - half for middle, half in ends) - before / station_mm
        first = min(lowest, key=lambda place: place.station)
    else:
        station = max(middle + half for middle, half in ends) + before / station_mm
        first = max(lowest, key=lambda place: place.stations[-1])
        first = first._replace(station=first.stations[-1], last_station=None)
    return Telltale(
        at=at,
        before_mm=before,
        station=float(station),
        lowest=first,
        headroom_mm=lowest_mm,
        stopping_mm=stopping,
        **shared,
    )


def _top_limits_mm(column: CheckColumn, height_mm: Floats) -> Floats:
    """The height each car could have and still just pass overhead, the worse way round. [mm]"""
    spare = (column.gap_mm - column.budget.total_mm).min(axis=0)
    limits = height_mm + spare
    # A car that is short by next to nothing is short: rounding must not lift its limit to its top.
    limits = np.where(spare < 0, np.minimum(limits, np.nextafter(height_mm, 0)), limits)
    return np.where(column.applies, limits, np.nan)


def _reference_fleet(helix: Helix) -> Fleet:
    """A long passenger car of the helix's gauge, or what of it can stand on every track."""
    scale = _STANDARD_GAUGE_MM / helix.gauge_mm
    # A car whose truck centres are a third of the diameter is longer than anybody runs there.
    centres = min(_REFERENCE_CENTRES_MM / scale, 2 * helix.tracks[0].radius_mm / 3)
    size = centres / _REFERENCE_CENTRES_MM
    car = Car(
        id=REFERENCE,
        height_mm=_REFERENCE_WIDTH_MM * size,
        width_mm=_REFERENCE_WIDTH_MM * size,
        length_mm=_REFERENCE_LENGTH_MM * size,
        wheelbase_mm=centres,
        truck_wheelbase_mm=_REFERENCE_TRUCK_MM * size,
    )
    return Fleet(CarTable.from_cars([car]))


def _scale(helix: Helix, fleet: Fleet) -> float:
    """The largest models' scale: theirs is the longest way; unstated: the gauge's own."""
    stated = fleet.figure("scale")
    stated = stated[~np.isnan(stated)]
    return float(stated.min()) if len(stated) else _STANDARD_GAUGE_MM / helix.gauge_mm


def _width_mm(structure: Structure, track: Track, fleet: Fleet, set_at_mm: float) -> float:
    """Cords wide enough to meet every block that is tall enough, wherever it swings. [mm]"""
    widest = 0.0
    if len(fleet):
        tall = fleet.blocks.top_mm > set_at_mm
        if not tall.any():
            tall[:] = True
        for passage in passages(structure, track, fleet):
            inward = track.radius_mm - passage.reach.least_radius_mm[tall]
            outward = passage.reach.greatest_radius_mm[tall] - track.radius_mm
            widest = max(widest, *(np.nanmax(side, initial=0.0) for side in (inward, outward)))
    if not widest:
        widest = _REFERENCE_WIDTH_MM * structure.helix.gauge_mm / _STANDARD_GAUGE_MM / 2
    return float(2 * np.ceil(widest))
