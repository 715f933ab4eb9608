"""Do coupled cars stay coupled: how far their coupler faces come out of line, against their play.

G8, docs/theory.md.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Track
from clearance.geometry.boxes import footing
from clearance.geometry.coupled import Coupler, Offsets, coupler_offsets
from clearance.geometry.swing import swing_out_mm
from clearance.judge.allowance import Budget
from clearance.judge.findings import CheckColumn
from clearance.judge.fleet import Fleet
from clearance.judge.places import Place
from clearance.judge.structure import Structure
from clearance.judge.verdict import DOES_NOT_FIT, NOT_MEASURED, PASSES, judge_gaps

__all__ = ["FRONT", "REAR", "Coupling", "couple", "coupling_column"]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

FRONT, REAR = 0, 1
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
    def sideways_governs(self) -> bool:
        """Whether sideways there is less left than up and down, or nothing else is known."""
        sideways, vertical = self.gaps_mm
        return not vertical < sideways

    @property
    def code(self) -> int:
        """The verdict: the worst of the three; not measured where none was stated."""
        if self.offsets is None or np.isnan(self.offsets.sideways_mm):
            return NOT_MEASURED
        angle = self.angle_deg - float(np.degrees(self.offsets.angle_rad))
        known = [gap for gap in (*self.gaps_mm, angle) if not np.isnan(gap)]
        if not known:
            return NOT_MEASURED
        return DOES_NOT_FIT if min(known) <= 0 else PASSES


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


def _coupler(fleet: Fleet, car: int, end: int, *, turned: bool) -> Coupler:
    gear = next(gear for gear in fleet.gears if car in gear.cars)
    rig = gear.rig.take(np.flatnonzero(gear.cars == car))
    face = _faces_mm(fleet)[end, car]
    frame = _end_frame(fleet, car, end)
    figures = (fleet.figure(name)[car] for name in ("length_mm", "length_over_couplers_mm"))
    reach = sum(figures) / 2
    return (
        Coupler(rig.turned(), frame, -face, reach) if turned else Coupler(rig, frame, face, reach)
    )


def _faces_mm(fleet: Fleet) -> Floats:
    """Where the faces of the front and the rear couplers are, forward, shape (2, n). [mm]

    From the middle of the wheelbase; of an articulated car from its front end.
    """
    length = fleet.figure("length_mm")
    beyond = (fleet.figure("length_over_couplers_mm") - length) / 2
    front = fleet.table.overhangs_mm[0] + fleet.figure("wheelbase_mm") / 2
    front = np.where(fleet.table.framed, 0.0, front)
    return np.array([front + beyond, front - length - beyond])


def _end_frame(fleet: Fleet, car: int, end: int) -> int:
    """The frame that bears the coupler at one end: the one whose block reaches furthest there."""
    own = np.flatnonzero(fleet.block_car == car)
    if car not in fleet.plans:
        return int(fleet.shape.frame[own[0]])
    plan = fleet.plans[car]
    blocks = fleet.blocks
    reach = {
        int(number): blocks.x_front_mm[number] if end == FRONT else -blocks.x_rear_mm[number]
        for number in own
    }
    sign = 1 if end == FRONT else -1
    return int(
        fleet.shape.frame[
            max(own, key=lambda n: reach[int(n)] + sign * plan.middle_mm(int(fleet.shape.frame[n])))
        ]
    )


def coupling_column(structure: Structure, track: Track, fleet: Fleet, runs: Mask) -> CheckColumn:
    """Each car coupled with that car of the fleet which puts its couplers furthest out of line.

    Its own like counts too: two of a kind may be coupled.
    """
    count = len(fleet)
    gap, available = np.full((2, count), np.nan)
    cap = np.full(count, NOT_MEASURED, np.int8)
    more = {
        name: np.full(count, np.nan)
        for name in ("sideways_mm", "vertical_mm", "angle_deg", "swing_mm", "drop_mm", "limit_deg")
    }
    which = np.full(count, -1, np.intp)
    places: dict[Place, int] = {}
    stated = ("coupler_swing_mm", "coupler_drop_mm", "coupler_angle_deg")
    anything = ~np.all([np.isnan(fleet.figure(name)) for name in stated], axis=0)
    known = runs & anything & ~np.isnan(fleet.figure("length_over_couplers_mm"))
    partners = _Partners(structure, track, fleet, known) if known.any() else None
    for car in np.flatnonzero(known).tolist():
        assert partners is not None
        tried = []
        for end, other, other_end in partners.of(car):
            found = couple(structure, track, fleet, (car, end), (other, other_end))
            least = min((gap for gap in found.gaps_mm if not np.isnan(gap)), default=np.inf)
            tried.append((-found.code, least, other, other_end, found))
        _, _, other, other_end, found = min(tried, key=lambda one: one[:4])
        assert found.offsets is not None
        sideways, vertical = found.gaps_mm
        if found.sideways_governs:
            gap[car], available[car] = sideways, found.swing_mm
        else:
            gap[car], available[car] = vertical, found.drop_mm
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
        cap=np.broadcast_to(
            np.where(judge_gaps(gap, 0.0) == NOT_MEASURED, PASSES, cap), (2, count)
        ),
        reason=_REASON,
        more={name: np.broadcast_to(values, (2, count)) for name, values in more.items()},
    )


class _Partners:
    """With whom each car is tried: who is furthest out of line with it, sideways, up and down.

    Sideways it is a matter of how far couplers stand out on the curve, and of what they let; up and
    down, of how far they are beyond the wheels.
    """

    def __init__(self, structure: Structure, track: Track, fleet: Fleet, known: Mask) -> None:
        self.out = _swing_out_mm(structure, track, fleet)
        swing = np.nan_to_num(fleet.figure("coupler_swing_mm"))
        # Of a partner: its swing, and how far it stands out or in beyond what that lets it.
        self._outer, self._inner = (
            np.where(known, swing + sign * self.out, np.inf) for sign in (-1, 1)
        )
        self._beyond = np.where(known, _beyond_mm(fleet), -np.inf)

    def of(self, car: int) -> list[tuple[int, int, int]]:
        """The end at which the car is coupled, with which car, and at which of its ends."""
        chosen = {}
        for least, sign in ((self._outer, 1), (self._inner, -1)):
            other_end, other = divmod(int(np.argmin(least)), least.shape[1])
            for end in (FRONT, REAR):
                left = least[other_end, other] + sign * self.out[end, car]
                chosen[float(left), end] = (end, other, other_end)
        sideways = chosen[min(chosen)]
        far_end, far = divmod(int(np.argmax(self._beyond)), self._beyond.shape[1])
        own = int(np.argmax(self._beyond[:, car]))
        return list(dict.fromkeys([sideways, (own, far, far_end)]))


def _beyond_mm(fleet: Fleet) -> Floats:
    """How far each coupler face is beyond the nearest support of what bears it, shape (2, n)."""
    faces = _faces_mm(fleet)
    beyond = np.full(faces.shape, -np.inf)
    for gear in fleet.gears:
        for place, car in enumerate(gear.cars.tolist()):
            for end in (FRONT, REAR):
                frame = _end_frame(fleet, car, end)
                front, rear = gear.rig.front_mm[frame, place], gear.rig.rear_mm[frame, place]
                beyond[end, car] = faces[0, car] - front if end == FRONT else rear - faces[1, car]
    return beyond


def _place(structure: Structure, found: Coupling, other: str, end: int) -> Place:
    name = f"{'front' if end == FRONT else 'rear'} coupler of {other}"
    if structure.is_regular or found.offsets is None:
        return Place(0, name, structure.helix.last_station)
    place = found.offsets.sideways_rad if found.sideways_governs else found.offsets.vertical_rad
    return Place(round(place / structure.step_rad, 2), name)


def _swing_out_mm(structure: Structure, track: Track, fleet: Fleet) -> Floats:
    """How far each car's front and rear coupler faces stand out on the curve, shape (2, n). [mm]"""
    line = structure.line(track)
    faces = _faces_mm(fleet)
    out = np.full(faces.shape, np.nan)
    for gear in fleet.gears:
        foot = footing(line, gear.rig)
        for end in (FRONT, REAR):
            frames = np.array([_end_frame(fleet, int(car), end) for car in gear.cars])
            for frame in np.unique(frames):
                some = np.flatnonzero(frames == frame)
                stood = swing_out_mm(line, gear.rig, foot, int(frame), faces[end, gear.cars])
                out[end, gear.cars[some]] = stood[some]
    return out
