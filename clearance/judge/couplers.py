"""Do coupled cars stay coupled: how far their coupler faces come out of line, against their play.

G8, docs/theory.md.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Track
from clearance.geometry.coupled import Coupler, Offsets, coupler_offsets
from clearance.judge.allowance import Budget
from clearance.judge.findings import CheckColumn
from clearance.judge.fleet import Fleet
from clearance.judge.partners import FRONT, REAR, Partners, end_frame, faces_mm
from clearance.judge.places import Place
from clearance.judge.structure import Structure
from clearance.judge.verdict import DOES_NOT_FIT, NOT_MEASURED, PASSES

__all__ = ["Coupling", "couple", "couple_either_way", "coupling_column"]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

_SIDEWAYS, _UP_AND_DOWN, _TURNED = range(3)
_REASON = "nobody stated the length over its couplers and how far they give"


class Coupling(NamedTuple):
    """Two coupled cars on a track: how far they are out of line, and what their couplers bear.

    Attributes
    ----------
    offsets
        The greatest offsets over every position; None: a length over couplers is missing.
    swing_mm, drop_mm, angle_deg
        What the two bear sideways (both together), up and down, and in angle (the less of both);
        nan: not stated.
    """

    offsets: Offsets | None
    swing_mm: float
    drop_mm: float
    angle_deg: float

    @property
    def gaps_mm(self) -> tuple[float, float]:
        """What is left sideways, and up and down. [mm]"""
        if self.offsets is None:
            return float("nan"), float("nan")
        return self.swing_mm - self.offsets.sideways_mm, self.drop_mm - self.offsets.vertical_mm

    @property
    def governs(self) -> int:
        """Which leaves the least: sideways (0) or up and down (1); the angle (2), if no other does.

        What was not stated never governs.
        """
        known = [way for way in (_SIDEWAYS, _UP_AND_DOWN) if not np.isnan(self.gaps_mm[way])]
        unknown = _SIDEWAYS if np.isnan(self.angle_deg) else _TURNED
        return min(known, key=lambda way: self.gaps_mm[way], default=unknown)

    @property
    def stands(self) -> bool:
        """Whether the two can stand on the line coupled at all."""
        return self.offsets is None or not np.isnan(self.offsets.sideways_mm)

    @property
    def code(self) -> int:
        """The verdict: the worst of the three; where one that was not stated could be worse, not
        measured."""
        if not self.stands:
            return DOES_NOT_FIT
        if self.offsets is None:
            return NOT_MEASURED
        angle = self.angle_deg - float(np.degrees(self.offsets.angle_rad))
        gaps = [*self.gaps_mm, angle]
        if min(gap for gap in (*gaps, np.inf) if not np.isnan(gap)) <= 0:
            return DOES_NOT_FIT
        return NOT_MEASURED if np.isnan(gaps).any() else PASSES


def couple(
    structure: Structure, track: Track, fleet: Fleet, lower: tuple[int, int], upper: tuple[int, int]
) -> Coupling:
    """Two coupled cars on a track.

    Parameters
    ----------
    structure, track, fleet
        Who goes where.
    lower, upper
        The car further downhill and the one before it: each its number, and the end at which it is
        coupled, 0 for its front, 1 for its rear.
    """

    def both(name: str) -> tuple[float, float]:
        figures = fleet.figure(name)
        return float(figures[lower[0]]), float(figures[upper[0]])

    offsets = None
    if not np.isnan(both("length_over_couplers_mm")).any():
        # The lower car's coupled end is uphill, the upper one's downhill.
        low = _coupler(fleet, lower[0], lower[1], turned=lower[1] == REAR)
        up = _coupler(fleet, upper[0], upper[1], turned=upper[1] == FRONT)
        line = structure.line(track)
        offsets = coupler_offsets(line, low, up, regular=structure.is_regular)
    return Coupling(
        offsets,
        sum(both("coupler_swing_mm")),
        min(both("coupler_drop_mm"), key=lambda drop: (not np.isnan(drop), drop)),
        min(both("coupler_angle_deg"), key=lambda angle: (not np.isnan(angle), angle)),
    )


def couple_either_way(
    structure: Structure, track: Track, fleet: Fleet, one: tuple[int, int], other: tuple[int, int]
) -> Coupling:
    """Two coupled cars on a track, whichever of the two is the one downhill.

    Parameters and result as for `couple`; of each offset the greater.
    """
    found = couple(structure, track, fleet, one, other)
    # A regular helix, turned upside down, is itself.
    if structure.is_regular or found.offsets is None:
        return found
    turned = couple(structure, track, fleet, other, one).offsets
    assert turned is not None
    return found._replace(offsets=found.offsets.or_worse(turned))


def _coupler(fleet: Fleet, car: int, end: int, *, turned: bool) -> Coupler:
    gear = next(gear for gear in fleet.gears if car in gear.cars)
    rig = gear.rig.take(np.flatnonzero(gear.cars == car))
    face = faces_mm(fleet)[end, car]
    frame = end_frame(fleet, car, end)
    figures = (fleet.figure(name)[car] for name in ("length_mm", "length_over_couplers_mm"))
    reach = sum(figures) / 2
    return (
        Coupler(rig.turned(), frame, -face, reach) if turned else Coupler(rig, frame, face, reach)
    )


def coupling_column(structure: Structure, track: Track, fleet: Fleet, runs: Mask) -> CheckColumn:
    """Each car coupled with those of the fleet that put its couplers furthest out of line.

    Its own like counts too: two of a kind may be coupled.
    """
    count = len(fleet)
    gap, available = np.full((2, count), np.nan)
    cap = np.full(count, PASSES, np.int8)
    more = {
        name: np.full(count, np.nan)
        for name in ("sideways_mm", "vertical_mm", "angle_deg", "swing_mm", "drop_mm", "limit_deg")
    }
    which = np.full(count, -1, np.intp)
    places: dict[Place, int] = {}
    stated = ("coupler_swing_mm", "coupler_drop_mm", "coupler_angle_deg")
    anything = ~np.all([np.isnan(fleet.figure(name)) for name in stated], axis=0)
    known = runs & anything & ~np.isnan(fleet.figure("length_over_couplers_mm"))
    partners = Partners(structure, track, fleet, known) if known.any() else None
    for car in np.flatnonzero(known).tolist():
        assert partners is not None
        tried = []
        for end, other, other_end in partners.of(car):
            found = couple_either_way(structure, track, fleet, (car, end), (other, other_end))
            left, room = _least_left_mm(found, float(fleet.figure("width_mm")[car]) / 2)
            tried.append((-found.code, left, other, other_end, room, found))
        _, gap[car], other, other_end, available[car], found = min(tried, key=lambda one: one[:4])
        assert found.offsets is not None
        cap[car] = found.code
        figures = (
            found.offsets.sideways_mm,
            found.offsets.vertical_mm,
            np.degrees(found.offsets.angle_rad),
            found.swing_mm,
            found.drop_mm,
            found.angle_deg,
        )
        for values, figure in zip(more.values(), figures, strict=True):
            values[car] = figure
        place = _place(structure, found, fleet.ids[other], other_end)
        which[car] = places.setdefault(place, len(places))
    return CheckColumn(
        "coupling",
        track.name,
        runs,
        np.broadcast_to(gap, (2, count)),
        np.broadcast_to(available, (2, count)),
        Budget(0.0, {}),
        np.broadcast_to(which, (2, count)),
        tuple(places),
        lowers=False,
        # A matter of two cars: alone, each of them still goes up.
        apart=True,
        cap=np.broadcast_to(cap, (2, count)),
        reason=_REASON,
        more={name: np.broadcast_to(values, (2, count)) for name, values in more.items()},
    )


def _least_left_mm(found: Coupling, half_width_mm: float) -> tuple[float, float]:
    """What is left where a coupling has the least, and what there is of it. [mm]

    Where only the angle is known, both are measured where it hurts, at the corner of the car's end.
    """
    if found.governs != _TURNED or found.offsets is None:
        return found.gaps_mm[found.governs], (found.swing_mm, found.drop_mm)[found.governs]
    room = half_width_mm * np.sin(np.radians(found.angle_deg))
    return room - half_width_mm * np.sin(found.offsets.angle_rad), room


def _place(structure: Structure, found: Coupling, other: str, end: int) -> Place:
    name = f"{'front' if end == FRONT else 'rear'} coupler of {other}"
    if structure.is_regular or found.offsets is None or not found.stands:
        return Place(0, name, structure.helix.last_station)
    at = (found.offsets.sideways_rad, found.offsets.vertical_rad, found.offsets.turned_rad)
    return Place(round(at[found.governs] / structure.step_rad, 2), name)
