"""Where the tell-tales hang, how high, and which cars they stop.

A tell-tale is a row of soft cords before the first obstacle. Its height is the least top limit of
the fleet, rounded down: then every car that does not pass overhead meets the cords, and few others.
"""

from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.car import Car
from catalog.columns import CarTable
from catalog.errors import UsageError
from catalog.helix import Helix, Track
from clearance.geometry.stopping import (
    BridgeWarning,
    scaled_bridge_warning,
    stopping_distance_mm,
)
from clearance.judge.check import check, passages, screw_of, undersides
from clearance.judge.findings import CheckColumn, Place
from clearance.judge.fleet import Fleet
from clearance.judge.verdict import PASSES, judge_gaps

__all__ = ["SMALL_FLEET", "Driving", "Telltale", "telltales"]

Floats = NDArray[np.float64]

SMALL_FLEET = 5
"""With fewer cars than this a reference car is reckoned with as well."""

# An 85 ft passenger car on 59 1/2 ft truck centres: the long car of the NMRA S-8 class Ia.
_REFERENCE_LENGTH_MM, _REFERENCE_CENTRES_MM = 85 * 304.8, 59.5 * 304.8
_REFERENCE_TRUCK_MM, _REFERENCE_WIDTH_MM = 8.5 * 304.8, 10 * 304.8
STANDARD_GAUGE_MM = 1435.0


class Driving(NamedTuple):
    """How trains come up to a tell-tale. Common practice, no source.

    A brisk walk behind the train, a driver who looks up, brakes that do not lock.
    """

    speed_mm_s: float = 350.0
    deceleration_mm_s2: float = 1000.0
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
        that would have passed; missed would be one that does not pass and is not stopped.
    governing
        The car whose top limit sets the height; "": the reference car of a small fleet.
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


def telltales(helix: Helix, fleet: Fleet, driving: Driving = Driving()) -> list[Telltale]:
    """Place a tell-tale at both ends of each track.

    Parameters
    ----------
    helix
        A regular helix.
    fleet
        Cars of the helix's gauge.
    driving
        Speed, braking and reaction of a train that comes up to it.

    Returns
    -------
    list of Telltale
        None where nothing hangs over a track.

    Raises
    ------
    UsageError
        The braking asked for does not hold a train on the grade.
    """
    reference = _reference_fleet(helix) if len(fleet) < SMALL_FLEET else None
    found = []
    for track in helix.tracks:
        if undersides(helix, track):
            found += _on_track(helix, track, fleet, reference, driving)
    return found


def _on_track(
    helix: Helix, track: Track, fleet: Fleet, reference: Fleet | None, driving: Driving
) -> list[Telltale]:
    height = fleet.figure("height_mm")
    column = _overhead_column(helix, track, fleet)
    limits = _top_limits_mm(column, height) if column else np.zeros(0)
    set_at, governing = np.inf, ""
    if len(limits) and not np.isnan(limits).all():
        set_at, governing = np.nanmin(limits), fleet.ids[int(np.nanargmin(limits))]
    if reference is not None:
        other = _overhead_column(helix, track, reference)
        limit = np.nanmin(_top_limits_mm(other, reference.figure("height_mm"))) if other else np.inf
        if limit < set_at:
            set_at, governing = limit, ""
    hanging = undersides(helix, track)
    lowest = min(hanging, key=lambda underside: (underside.headroom_mm, underside.place.station))
    if not np.isfinite(set_at):  # no car can stand on this track
        set_at = lowest.headroom_mm
    set_at = float(np.floor(set_at))

    stopped = height > set_at
    measured = column.applies if column else np.zeros(len(fleet), bool)
    passes = np.zeros(len(fleet), bool)
    if column:
        codes = judge_gaps(column.gap_mm, column.budget.total_mm).max(axis=0)
        passes = codes == PASSES

    def named(mask: NDArray[np.bool_]) -> list[str]:
        return [fleet.ids[car] for car in np.flatnonzero(mask)]

    width = _width_mm(helix, track, fleet, set_at)
    practice = scaled_bridge_warning(_scale(helix, fleet))
    screw = screw_of(helix, track)
    station_mm = screw.length_per_radian_mm * 2 * np.pi / helix.brackets_per_turn
    foremost = min(u.place.station - u.width_mm / 2 / station_mm for u in hanging)
    hindmost = max(u.place.stations[-1] + u.width_mm / 2 / station_mm for u in hanging)
    made = []
    for at in ("foot", "head"):
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
                f"train on the {100 * screw.grade:.1f} % of track {track.name!r} downhill; "
                f"give more than {9.80665 * screw.grade:.2f} m/s2"
            )
        before = float(np.ceil(max(stopping, practice.before_mm)))
        away = before / station_mm
        made.append(
            Telltale(
                track=track.name,
                at="foot" if uphill else "head",
                set_at_mm=set_at,
                before_mm=before,
                station=float(foremost - away if uphill else hindmost + away),
                width_mm=width,
                lowest=lowest.place,
                headroom_mm=lowest.headroom_mm,
                stopping_mm=stopping,
                practice=practice,
                stops=named(stopped),
                lets_through=named(~stopped),
                false_alarms=named(stopped & measured & passes),
                missed=named(~stopped & measured & ~passes),
                not_measured=named(~measured),
                governing=governing,
                reason=column.reason if column else "",
            )
        )
    return made


def _overhead_column(helix: Helix, track: Track, fleet: Fleet) -> CheckColumn | None:
    for column in check(helix, fleet).on_track(track.name):
        if column.check == "overhead":
            return column
    return None


def _top_limits_mm(column: CheckColumn, height_mm: Floats) -> Floats:
    """The height each car could have and still just pass overhead, the worse way round. [mm]"""
    spare = (column.gap_mm - column.budget.total_mm).min(axis=0)
    limits = height_mm + spare
    # A car that is short by next to nothing is short: rounding must not lift its limit to its top.
    limits = np.where(spare < 0, np.minimum(limits, np.nextafter(height_mm, 0)), limits)
    return np.where(column.applies, limits, np.nan)


def _reference_fleet(helix: Helix) -> Fleet:
    """A long passenger car of the helix's gauge, or what of it can stand on every track."""
    scale = STANDARD_GAUGE_MM / helix.gauge_mm
    # A car whose truck centres are a third of the diameter is longer than anybody runs there.
    centres = min(_REFERENCE_CENTRES_MM / scale, 2 * helix.tracks[0].radius_mm / 3)
    size = centres / _REFERENCE_CENTRES_MM
    car = Car(
        id="reference",
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
    return float(stated.min()) if len(stated) else STANDARD_GAUGE_MM / helix.gauge_mm


def _width_mm(helix: Helix, track: Track, fleet: Fleet, set_at_mm: float) -> float:
    """Cords wide enough to meet every block that is tall enough, wherever it swings. [mm]"""
    widest = 0.0
    if len(fleet):
        tall = fleet.blocks.top_mm > set_at_mm
        if not tall.any():
            tall[:] = True
        for passage in passages(helix, track, fleet):
            inward = track.radius_mm - passage.reach.least_radius_mm[tall]
            outward = passage.reach.greatest_radius_mm[tall] - track.radius_mm
            widest = max(widest, *(np.nanmax(side, initial=0.0) for side in (inward, outward)))
    if not widest:
        widest = _REFERENCE_WIDTH_MM * helix.gauge_mm / STANDARD_GAUGE_MM / 2
    return float(2 * np.ceil(widest))
