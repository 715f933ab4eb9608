"""Do coupled cars stay coupled: how far their coupler faces come out of line, against their play.

G8, docs/theory.md.
"""

import math
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

__all__ = [
    "REASON",
    "Coupling",
    "Match",
    "Matches",
    "couple",
    "couple_either_way",
    "coupled_ends",
    "coupling_column",
    "coupling_place",
]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

_SIDEWAYS, _UP_AND_DOWN, _TURNED = range(3)
_FIGURES = ("sideways_mm", "vertical_mm", "angle_deg", "swing_mm", "drop_mm", "limit_deg", "at_mm")
REASON = "nobody stated the length over its couplers and how far they give"
"""What is missing of a coupling that is not measured."""


class Coupling(NamedTuple):
    """Two coupled cars on a track: how far they are out of line, and what their couplers bear.

    Attributes
    ----------
    offsets
        The greatest offsets over every position; None: a length over couplers is missing.
    swing_mm, drop_mm, angle_deg
        What the two bear sideways (both together), up and down, and in angle (the less of both);
        nan: not stated.
    at_mm
        Where an angle is measured in millimetres: from the middle of the narrower car's end to its
        corner, which is what comes too close.
    """

    offsets: Offsets | None
    swing_mm: float
    drop_mm: float
    angle_deg: float
    at_mm: float

    @property
    def rooms_mm(self) -> tuple[float, float, float]:
        """What the two bear sideways, up and down, and in angle, at the corner; nan: not stated."""
        turned = self.at_mm * math.sin(math.radians(self.angle_deg))
        return self.swing_mm, self.drop_mm, turned

    @property
    def gaps_mm(self) -> tuple[float, float, float]:
        """What is left of that; nan: not known. [mm]"""
        if self.offsets is None:
            return (math.nan,) * 3
        # Beyond a right angle, which no coupler bears, the sine would grow less again.
        turned = self.at_mm * math.sin(min(self.offsets.angle_rad, math.pi / 2))
        does = self.offsets.sideways_mm, self.offsets.vertical_mm, turned
        left = [room - out for room, out in zip(self.rooms_mm, does, strict=True)]
        return left[_SIDEWAYS], left[_UP_AND_DOWN], left[_TURNED]

    @property
    def figures(self) -> dict[str, float]:
        """The figures that are known, by the names that findings give them; ``at_mm`` where the
        angle governs."""
        figures = {
            "swing_mm": self.swing_mm,
            "drop_mm": self.drop_mm,
            "limit_deg": self.angle_deg,
            "at_mm": self.at_mm if self.governs == _TURNED else math.nan,
        }
        if self.offsets is not None:
            figures |= {
                "sideways_mm": self.offsets.sideways_mm,
                "vertical_mm": self.offsets.vertical_mm,
                "angle_deg": math.degrees(self.offsets.angle_rad),
            }
        return {name: value for name, value in figures.items() if not math.isnan(value)}

    @property
    def governs(self) -> int:
        """Which leaves the least: sideways (0), up and down (1), or the angle (2).

        What was not stated never governs.
        """
        known = [way for way, gap in enumerate(self.gaps_mm) if not math.isnan(gap)]
        return min(known, key=lambda way: self.gaps_mm[way], default=_SIDEWAYS)

    @property
    def gap_mm(self) -> float:
        """What is left where it is least; nan: not known. [mm]"""
        return self.gaps_mm[self.governs]

    @property
    def stands(self) -> bool:
        """Whether the two can stand on the line coupled at all."""
        return self.offsets is None or not math.isnan(self.offsets.sideways_mm)

    @property
    def code(self) -> int:
        """The verdict: the worst of the three; where one that was not stated could be worse, not
        measured."""
        if not self.stands:
            return DOES_NOT_FIT
        if self.gap_mm <= 0:
            return DOES_NOT_FIT
        return NOT_MEASURED if np.isnan(self.gaps_mm).any() else PASSES


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
        low, up = coupled_ends(fleet, lower, upper)
        line = structure.line(track)
        offsets = coupler_offsets(line, low, up, regular=structure.is_regular)
    return Coupling(
        offsets,
        sum(both("coupler_swing_mm")),
        min(both("coupler_drop_mm"), key=lambda drop: (not np.isnan(drop), drop)),
        min(both("coupler_angle_deg"), key=lambda angle: (not np.isnan(angle), angle)),
        min(both("width_mm")) / 2,
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


def coupled_ends(
    fleet: Fleet, lower: tuple[int, int], upper: tuple[int, int]
) -> tuple[Coupler, Coupler]:
    """The two cars of `couple` for the geometry: as they go uphill."""
    # The lower car's coupled end is uphill, the upper one's downhill.
    return (
        _coupler(fleet, *lower, turned=lower[1] == REAR),
        _coupler(fleet, *upper, turned=upper[1] == FRONT),
    )


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


class Match(NamedTuple):
    """With whom a car is coupled worst: the end at which it is, the other car and its end."""

    end: int
    other: tuple[int, int]
    coupling: Coupling


class Matches:
    """Each car of a fleet with those that put its couplers furthest out of line.

    Its own like counts too: two of a kind may be coupled.

    Parameters
    ----------
    structure, track, fleet
        Who goes where.
    runs
        Which cars can stand there at all, shape (n,).
    """

    def __init__(self, structure: Structure, track: Track, fleet: Fleet, runs: Mask) -> None:
        self._question = structure, track, fleet
        stated = ("coupler_swing_mm", "coupler_drop_mm", "coupler_angle_deg")
        anything = ~np.all([np.isnan(fleet.figure(name)) for name in stated], axis=0)
        known = runs & anything & ~np.isnan(fleet.figure("length_over_couplers_mm"))
        self.cars = np.flatnonzero(known).tolist()
        """Those of which enough is stated."""
        self._partners = Partners(structure, track, fleet, known) if self.cars else None

    def of(self, car: int) -> Match:
        """The worst match of one of `cars`."""
        assert self._partners is not None
        tried = [
            Match(end, (other, at), couple_either_way(*self._question, (car, end), (other, at)))
            for end, other, at in self._partners.of(car)
        ]
        return min(tried, key=lambda one: (-one.coupling.code, one.coupling.gap_mm, one.other))


def coupling_column(structure: Structure, track: Track, fleet: Fleet, runs: Mask) -> CheckColumn:
    """Each car of a fleet in its worst match; parameters as for `Matches`."""
    count = len(fleet)
    gap, available = np.full((2, count), np.nan)
    cap = np.full(count, PASSES, np.int8)
    more = {name: np.full(count, np.nan) for name in _FIGURES}
    which = np.full(count, -1, np.intp)
    places: dict[Place, int] = {}
    matches = Matches(structure, track, fleet, runs)
    for car in matches.cars:
        match = matches.of(car)
        found = match.coupling
        gap[car], available[car] = found.gap_mm, found.rooms_mm[found.governs]
        cap[car] = found.code
        for name, figure in found.figures.items():
            more[name][car] = figure
        place = coupling_place(structure, fleet, match.other, found)
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
        lowers_unmeasured=False,
        # A matter of two cars: alone, each of them still goes up.
        apart=True,
        cap=np.broadcast_to(cap, (2, count)),
        reason=REASON,
        more={name: np.broadcast_to(values, (2, count)) for name, values in more.items()},
    )


def coupling_place(
    structure: Structure, fleet: Fleet, other: tuple[int, int], found: Coupling
) -> Place:
    """Where a coupling with another car has the least left, and what it is coupled with."""
    name = f"{'front' if other[1] == FRONT else 'rear'} coupler of {fleet.ids[other[0]]}"
    if structure.is_regular or found.offsets is None or not found.stands:
        return Place(0, name, structure.helix.last_station)
    at = (found.offsets.sideways_rad, found.offsets.vertical_rad, found.offsets.turned_rad)
    return Place(round(at[found.governs] / structure.step_rad, 2), name)
