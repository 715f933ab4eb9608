"""Where the tell-tales hang, how high, and which cars they stop.

A tell-tale is a row of soft cords before the first obstacle: an obstacle itself, which every car
must meet that does not pass overhead, and few others. What a car reaches where the cords hang is
worked out with the line as it is there.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.car import Car
from catalog.columns import CarTable
from catalog.helix import End, Helix, Track
from catalog.survey import Survey
from clearance.geometry.stopping import BridgeWarning, scaled_bridge_warning
from clearance.judge.approach import (
    USUAL,
    Approach,
    Driving,
    Span,
    ahead_mm,
    approach,
    approach_from,
    spans,
)
from clearance.judge.check import check
from clearance.judge.cords import CordWidths, Effect, Overhead, Reach, Setting, effect, setting
from clearance.judge.findings import CheckColumn, CheckResult
from clearance.judge.fleet import Fleet
from clearance.judge.heights import is_even, required_heights_mm
from clearance.judge.places import Place
from clearance.judge.structure import Structure
from clearance.judge.telltale import REFERENCE, Hung, Second, Telltale
from clearance.judge.two_step import (
    First,
    Guarded,
    TwoStep,
    half_stations,
    two_step,
    who_matters,
)

__all__ = ["SMALL_FLEET", "Telltales", "find_telltales", "telltales"]

Floats = NDArray[np.float64]

SMALL_FLEET = 5
"""With fewer cars than this a reference car is reckoned with as well."""

# An 85 ft passenger car on 59 1/2 ft truck centres: the long car of the NMRA S-8 class Ia.
_REFERENCE_LENGTH_MM, _REFERENCE_CENTRES_MM = 85 * 304.8, 59.5 * 304.8
_REFERENCE_TRUCK_MM, _REFERENCE_WIDTH_MM = 8.5 * 304.8, 10 * 304.8
_STANDARD_GAUGE_MM = 1435.0
_NOISE_MM = 1e-6
_HAIR_MM = 1.0
_ENDS: tuple[End, End] = ("foot", "head")


class Telltales(NamedTuple):
    """All tell-tales of a helix, and what they rest on.

    Attributes
    ----------
    found
        Two for each track that anything hangs over.
    result
        The check; a small fleet's has the reference car behind its own.
    limit_mm
        The least top limit on each such track, by name, to the millimetre. [mm]
    """

    found: list[Telltale]
    result: CheckResult
    limit_mm: dict[str, float]


def telltales(
    helix: Helix,
    fleet: Fleet,
    driving: Driving = USUAL,
    survey: Survey | None = None,
    *,
    hung_mm: float | None = None,
) -> list[Telltale]:
    """Place a tell-tale at both ends of each track: `find_telltales`, without what it rests on."""
    return find_telltales(helix, fleet, driving, survey, hung_mm=hung_mm).found


def find_telltales(
    helix: Helix,
    fleet: Fleet,
    driving: Driving = USUAL,
    survey: Survey | None = None,
    *,
    hung_mm: float | None = None,
) -> Telltales:
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
    hung_mm
        Cords that end this high, at the place worked out: what do they do? [mm]

    Returns
    -------
    Telltales
        Those, the check, and the top limits.

    Raises
    ------
    UsageError
        The braking asked for does not hold a train on the grade.
    """
    everybody = fleet
    if len(fleet) < SMALL_FLEET:
        everybody = Fleet(CarTable.from_cars([*fleet.table.cars(), _reference_car(helix)]))
    result = check(helix, everybody, survey)
    columns = {column.track: column for column in result.columns if column.check == "overhead"}
    practice = scaled_bridge_warning(_scale(helix, fleet))
    found: list[Telltale] = []
    limits: dict[str, float] = {}
    for track in helix.tracks:
        if result.structure.hanging(track):
            ours = _Track(result.structure, track, everybody, len(fleet), columns.get(track.name))
            limits[track.name] = ours.setting(ours.level_mm).height_mm
            found += ours.both_ends(driving, practice, hung_mm)
    return Telltales(found, result, limits)


class _Track:
    """One track, its cars, the last of which may be the reference car, and what it must stop."""

    def __init__(
        self,
        structure: Structure,
        track: Track,
        fleet: Fleet,
        count: int,
        column: CheckColumn | None,
    ) -> None:
        self.structure, self.track, self.fleet, self.count = structure, track, fleet, count
        self.column = column
        self.over = Overhead.of(column, len(fleet))
        self.height_mm = fleet.figure("height_mm")
        self.level_mm = np.broadcast_to(self.height_mm, (2, len(fleet)))
        self.hanging = structure.hanging(track)
        self.lowest_mm = min(underside.headroom_mm for underside in self.hanging)
        self.spans = spans(structure, track)

    def setting(self, reach_mm: Floats, *, even: bool = True) -> Setting:
        """The height of cords that guard all that hangs over the track."""
        return setting(self.height_mm, reach_mm, self.over.spare_mm, self.lowest_mm, even=even)

    def reaches(
        self, places_rad: Sequence[float], cars: NDArray[np.intp] | None = None
    ) -> list[Reach]:
        """How high each car reaches at some places; ``cars``: only these.

        Beyond the ends of the line it goes on evenly and without cant, as far as anybody said.
        """
        fleet = self.fleet if cars is None else self.fleet.select(cars)
        level_mm = self.level_mm if cars is None else self.level_mm[:, cars]
        line = self.structure.line(self.track)
        places = np.asarray(places_rad, float)
        described = (places >= line.start_rad) & (places <= line.end_rad)
        height = np.broadcast_to(level_mm, (len(places), *level_mm.shape)).copy()
        if described.any() and len(fleet):
            where = self.structure, self.track, fleet
            height[described] = required_heights_mm(*where, places[described])
        longest = self.fleet.figure("length_mm").max(initial=0.0) / self.track.radius_mm
        found = []
        for place, reach, known in zip(places, height, described, strict=True):
            even = not known or is_even(line, float(place), float(longest))
            raised = reach - level_mm
            # Of a hair no cords can tell; and on straight level track the rest is rounding.
            hair = (raised >= 0) & (raised < _HAIR_MM) if even else np.abs(raised) < _NOISE_MM
            found.append(Reach(np.where(hair, level_mm, reach), even, bool(known)))
        return found

    def both_ends(
        self, driving: Driving, practice: BridgeWarning, hung_mm: float | None
    ) -> list[Telltale]:
        """The tell-tales at the foot and at the head."""
        approaches = [self._before(at, driving, practice) for at in _ENDS]
        reaches = self.reaches([its.place_rad for its in approaches])
        firsts = [
            First(its, reach, self.setting(reach.height_mm, even=reach.even))
            for its, reach in zip(approaches, reaches, strict=True)
        ]
        all_mm = np.array([reach.height_mm for reach in reaches])
        widths = self._widths(all_mm, min(first.setting.height_mm for first in firsts))
        found = []
        steps = self._two_step(firsts, driving, practice)
        for at, first, step in zip(_ENDS, firsts, steps, strict=True):
            its, (reach, _, known), (set_at, car) = first
            hung = None
            if hung_mm is not None:
                hung = Hung(**self._ids(effect(self.over, reach, hung_mm)), hung_mm=hung_mm)
            found.append(
                Telltale(
                    **self._ids(effect(self.over, reach, set_at)),
                    track=self.track.name,
                    at=at,
                    set_at_mm=set_at,
                    before_mm=its.before_mm,
                    first=its.first,
                    station=its.place_rad / self.structure.step_rad,
                    along_lead_mm=self._along_lead_mm(its.place_rad, at),
                    described=known,
                    raised_mm=self._raised_mm(reach),
                    width_mm=widths.at(reach, set_at),
                    lowest=self._lowest(at),
                    headroom_mm=self.lowest_mm,
                    stopping_mm=its.stopping_mm,
                    ahead_mm=its.ahead_mm,
                    practice=practice,
                    governing=self.fleet.ids[car] if car >= 0 else "",
                    reason=self.column.reason if self.column else "",
                    second=self._second(step, first, widths) if step else None,
                    hung=hung,
                )
            )
        return found

    def _ids(self, whose: Effect) -> dict[str, list[str]]:
        """Masks as ids; the reference car is nobody's."""
        ids = self.fleet.ids
        return {
            name: [ids[car] for car in np.flatnonzero(mask[: self.count])]
            for name, mask in whose._asdict().items()
        }

    def _ahead_mm(self, at: End) -> float:
        return max(
            float(ahead_mm(self.fleet, way, at)[self.over.fails[way]].max(initial=0.0))
            for way in (0, 1)
        )

    def _before(self, at: End, driving: Driving, practice: BridgeWarning) -> Approach:
        """Where cords hang before all that hangs over the track."""
        where = self.structure, self.track, self.spans, at
        return approach(*where, driving, practice.before_mm, self._ahead_mm(at))

    def _widths(self, reaches_mm: Floats, least_mm: float) -> CordWidths:
        known = np.where(np.isnan(reaches_mm), -np.inf, reaches_mm).max(axis=(0, 1))
        own = self.fleet.select(np.arange(self.count))
        usual_mm = _REFERENCE_WIDTH_MM * self.structure.helix.gauge_mm / _STANDARD_GAUGE_MM / 2
        return CordWidths(self.structure, self.track, own, known[: self.count], least_mm, usual_mm)

    def _two_step(
        self, firsts: list[First], driving: Driving, practice: BridgeWarning
    ) -> list[TwoStep | None]:
        """A second one for each of the tell-tales, where it spares anybody."""
        if self.column is None:
            return [None] * len(firsts)
        own = np.arange(len(self.fleet)) < self.count
        fine = self.over.measured & ~self.over.fails.any(axis=0) & own
        some = who_matters(self.height_mm, self.over, firsts, fine)
        if not len(some):
            return [None] * len(firsts)
        found = Guarded.of(self.structure, self.track, self.fleet, self.column, some)
        others = np.setdiff1d(np.arange(len(self.fleet)), some)
        ends = [(at, first, found.as_met(at)) for at, first in zip(_ENDS, firsts, strict=True)]
        places = sorted(
            {
                place
                for at, first, guarded in ends
                for place in half_stations(self.structure, first, guarded, at)
            }
        )
        reach_at = dict(zip(places, self.reaches(places, some), strict=True))
        steps = []
        for at, first, guarded in ends:
            ahead = self._ahead_mm(at)

            def cords_at(
                guarded: list[Span], place_rad: float, at: End = at, ahead: float = ahead
            ) -> Approach | None:
                where = self.structure, self.track, guarded, at
                return approach_from(*where, driving, practice.before_mm, place_rad, ahead)

            where = self.structure, self.height_mm, self.over, first
            of_reach = reach_at.__getitem__, lambda place_rad: self.reaches([place_rad], others)[0]
            steps.append(two_step(*where, guarded, some, at, fine, cords_at, *of_reach))
        return steps

    def _second(self, step: TwoStep, first: First, widths: CordWidths) -> Second:
        alone = effect(self.over, first.reach.height_mm, first.setting.height_mm)
        spared = (alone.false_alarms & ~step.whom.false_alarms)[: self.count]
        return Second(
            **self._ids(step.whom),
            first_set_at_mm=step.first_mm,
            set_at_mm=step.second_mm,
            before_mm=step.approach.before_mm,
            station=step.approach.place_rad / self.structure.step_rad,
            width_mm=widths.at(step.reach.height_mm, step.second_mm),
            guards=step.approach.first,
            spares=[self.fleet.ids[car] for car in np.flatnonzero(spared)],
        )

    def _raised_mm(self, reach_mm: Floats) -> tuple[float, float]:
        raised = (reach_mm - self.height_mm)[:, : self.count]
        raised = raised[np.isfinite(raised)]
        return (float(raised.min()), float(raised.max())) if len(raised) else (0.0, 0.0)

    def _along_lead_mm(self, place_rad: float, at: End) -> float | None:
        first, last = (station * self.structure.step_rad for station in self._curve)
        beyond = first - place_rad if at == "foot" else place_rad - last
        on_lead = self.structure.lead(at) is not None and beyond > 0
        return beyond * self.track.radius_mm if on_lead else None

    @property
    def _curve(self) -> tuple[float, float]:
        return self.structure.curve_stations

    def _lowest(self, at: End) -> Place:
        """The lowest place beyond the cords: of several, the first that a train comes to."""
        lowest = [place for place, headroom_mm, *_ in self.hanging if headroom_mm == self.lowest_mm]
        if at == "foot":
            return min(lowest, key=lambda place: place.station)
        first = max(lowest, key=lambda place: place.stations[-1])
        return first._replace(station=first.stations[-1], last_station=None)


def _reference_car(helix: Helix) -> Car:
    """A long passenger car of the helix's gauge, or what of it can stand on every track."""
    scale = _STANDARD_GAUGE_MM / helix.gauge_mm
    # A car whose truck centres are a third of the diameter is longer than anybody runs there.
    centres = min(_REFERENCE_CENTRES_MM / scale, 2 * helix.tracks[0].radius_mm / 3)
    size = centres / _REFERENCE_CENTRES_MM
    return Car(
        id=REFERENCE,
        height_mm=_REFERENCE_WIDTH_MM * size,
        width_mm=_REFERENCE_WIDTH_MM * size,
        length_mm=_REFERENCE_LENGTH_MM * size,
        wheelbase_mm=centres,
        truck_wheelbase_mm=_REFERENCE_TRUCK_MM * size,
    )


def _scale(helix: Helix, fleet: Fleet) -> float:
    """The largest models' scale: theirs is the longest way; unstated: the gauge's own."""
    stated = fleet.figure("scale")
    stated = stated[~np.isnan(stated)]
    return float(stated.min()) if len(stated) else _STANDARD_GAUGE_MM / helix.gauge_mm
