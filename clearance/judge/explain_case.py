"""The case that a working explains: one car, what governs it, and what it says of its own parts.

G3 to G5, docs/theory.md. As in the geometry, the car goes uphill and the helix counterclockwise, so
inwards, towards the axis, is to the left.
"""

from typing import NamedTuple

import numpy as np

from catalog.helix import Obstacle, Track
from clearance.geometry.rig import Pose, Rig
from clearance.judge.couplers import Matches
from clearance.judge.drive import Drive, drives
from clearance.judge.explain_sheet import Sheet, number
from clearance.judge.explain_stand import Standing
from clearance.judge.findings import CheckColumn, CheckResult, Finding
from clearance.judge.fleet import Blocks, Fleet, Shape
from clearance.judge.places import Place
from clearance.judge.structure import Structure, Underside

__all__ = ["Case", "Coupled", "case_of"]

_SAME_MM = 1e-6


class Coupled(NamedTuple):
    """Two coupled cars of a fleet: each its number, and the end at which it is coupled.

    ``either_way``: whether the one named first may as well be the one uphill.
    """

    fleet: Fleet
    lower: tuple[int, int]
    upper: tuple[int, int]
    either_way: bool


class Case(NamedTuple):
    """One finding, and what it was found from.

    Attributes
    ----------
    structure, track
        Where.
    fleet
        The one car.
    finding
        What was found.
    turned
        Whether it goes uphill rear first.
    place, number
        What governs: the place, and its number in the check's column; None and -1: none.
    coupled
        Of a coupling, who is coupled; None: nobody knows.
    """

    structure: Structure
    track: Track
    fleet: Fleet
    finding: Finding
    turned: bool
    place: Place | None
    number: int
    coupled: Coupled | None = None

    @property
    def is_closed(self) -> bool:
        """Whether there is a closed form: a regular helix, and bodies on two axles or trucks."""
        framed = bool(self.fleet.plans)
        if self.coupled:
            both = self.coupled.lower, self.coupled.upper
            framed = any(car in self.coupled.fleet.plans for car, _ in both)
        return self.structure.is_regular and not framed

    def alone(self, fleet: Fleet, car: int) -> "Case":
        """Another car, of which nothing is asked but its figures."""
        return self._replace(fleet=fleet.select([car]), turned=False, coupled=None)

    def figure_mm(self, name: str) -> float:
        """One figure of the car. nan: not measured."""
        return float(self.fleet.figure(name)[0])

    # What governs

    def underside(self) -> Underside | None:
        """What hangs over the car; None: the deck between the beams."""
        hanging = self.structure.hanging(self.track)
        return hanging[self.number] if 0 <= self.number < len(hanging) else None

    def described_overhead(self, underside: Underside) -> Obstacle | None:
        """The obstacle of the helix file that an underside is; None: it is none."""
        return next(
            (
                obstacle
                for obstacle in self.structure.obstacles(self.track)
                if obstacle.headroom_mm == underside.headroom_mm
                and self.structure.place_of(obstacle, self.track) == underside.place
            ),
            None,
        )

    def described_beside(self) -> Obstacle | None:
        """The obstacle of the helix file beside the car; None: it is a row of posts."""
        for obstacle in self.structure.obstacles(self.track):
            distances = obstacle.left_mm, obstacle.right_mm
            at_place = self.structure.place_of(obstacle, self.track) == self.place
            if at_place and self.finding.available_mm in distances:
                return obstacle
        return None

    # The car's own parts

    def shape(self, *, with_ends: bool = False) -> Shape:
        """Its blocks, those that reach as high and as low as what stands beside it."""
        shape = self.fleet.shape.with_ends() if with_ends else self.fleet.shape
        beside = self.described_beside() if self.finding.check.endswith("_side") else None
        if beside is None:
            return shape
        shape, level = shape.between(beside.bottom_mm, beside.top_mm)
        there = np.flatnonzero(level)
        return Shape(shape.car[there], shape.start, shape.blocks.take(there), shape.frame[there])

    def uphill(self, blocks: Blocks) -> Blocks:
        """Blocks as they go uphill, counterclockwise."""
        if self.structure.helix.climbs == "clockwise":
            blocks = blocks.mirrored()
        return blocks.turned() if self.turned else blocks

    def drives(self, shape: Shape) -> list[Drive]:
        """The car and these blocks of it, both ways round; once where that is the same."""
        return list(drives(self.structure, self.track, self.fleet, shape))

    def drive(self, shape: Shape) -> Drive:
        """The same as it goes uphill in the finding."""
        both = self.drives(shape)
        return next((drive for drive in both if drive.way == self.turned), both[0])

    def standing(self, rig: Rig, pose: Pose, frame: int) -> Standing:
        """The car in one position, to work out one of its frames."""
        return Standing(self.structure, self.track, rig, pose, self.frame_names(), (frame,))

    def frame_names(self) -> tuple[str, ...]:
        """What the frames are called."""
        if self.fleet.plans:
            return tuple(map(repr, self.fleet.plans[0].names))
        on_trucks = self.figure_mm("truck_wheelbase_mm") > 0
        return ("rear truck", "front truck", "body") if on_trucks else ("body",)

    def frame_name(self, frame: int) -> str:
        """What a frame is called."""
        return self.frame_names()[frame]

    def point(self, sheet: Sheet, frame: int, x_mm: float, y_mm: float | None, h_mm: float) -> None:
        """Write down a point of the car as x, y and h: from the middle of its frame, uphill.

        No y: how far it is to a side does not matter.
        """
        own_mm = -x_mm if self.turned else x_mm
        middle_mm = self._middle(sheet, frame)
        behind_mm = middle_mm - own_mm
        ends = self._ends_mm(frame, middle_mm)
        known = [end for end in ends if abs(end - behind_mm) < _SAME_MM]
        rear_first = "; it goes up rear first" if self.turned else ""
        if known:
            sheet.figure("D", "end of the block, behind the car's front end", known[0])
            sheet.work(
                "x",
                f"x of the point: ahead of the middle, uphill{rear_first}",
                "D - m" if self.turned else "m - D",
                equation="G3",
            )
        else:
            where = f"{number(behind_mm, 1)} mm behind the car's front end"
            what = f"x of the point, as found: ahead of the middle ({where}{rear_first})"
            sheet.figure("x", what, x_mm)
        if y_mm is not None:
            sheet.figure("y", "y of the point: inwards from the car's centre line", y_mm)
        sheet.figure("h", "h of the point: above the railhead, on level track", h_mm)

    def _middle(self, sheet: Sheet, frame: int) -> float:
        """Midway between a frame's supports, behind the car's front end."""
        if self.fleet.plans:
            what = f"middle of the supports of {self.frame_name(frame)}, behind the car's front end"
            return sheet.figure("m", what, -self.fleet.plans[0].middle_mm(frame))
        front_mm = float(self.fleet.table.overhangs_mm[0][0])
        sheet.figure("F", "front overhang", front_mm)
        if "B" not in sheet:
            sheet.figure("B", "wheelbase", self.figure_mm("wheelbase_mm"))
        return sheet.work("m", "middle of the wheelbase, behind the car's front end", "F + B / 2")

    def _ends_mm(self, frame: int, middle_mm: float) -> list[float]:
        """The ends of the blocks on a frame, behind the car's front end."""
        shape = self.fleet.shape
        mine = shape.blocks.take(np.flatnonzero(shape.frame == frame))
        return [middle_mm - float(x) for x in (*mine.x_front_mm, *mine.x_rear_mm)]


def case_of(result: CheckResult, car: int, finding: Finding) -> Case:
    """The case of a finding of a car, by its number in the result's fleet."""
    column = next(
        column
        for column in result.on_track(finding.track)
        if column.check == finding.check and column.applies[car]
    )
    way = int(column.governing[car])
    place = int(column.place[way, car])
    return Case(
        result.structure,
        next(track for track in result.helix.tracks if track.name == finding.track),
        result.fleet.select([car]),
        finding,
        turned=way == 1,
        place=column.places[place] if place >= 0 else None,
        number=place,
        coupled=_coupled(result, car, column) if column.check == "coupling" else None,
    )


def _coupled(result: CheckResult, car: int, column: CheckColumn) -> Coupled | None:
    """With whom a car of a fleet was coupled."""
    track = next(track for track in result.helix.tracks if track.name == column.track)
    matches = Matches(result.structure, track, result.fleet, column.applies)
    if car not in matches.cars:
        return None
    match = matches.of(car)
    return Coupled(result.fleet, (car, match.end), match.other, either_way=True)
