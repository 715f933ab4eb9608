"""Where a vehicle stands on a line: its axles, and the frames on them, one after the other.

G1 to G3, docs/theory.md. A support that rests on another frame lies on that one's base line, by its
share of its length: so does all else of a base line, in elevation and in plan. Symbols of axles end
in their number, counted uphill, those of other supports in _r or _f and the frame's number.
"""

from typing import NamedTuple

import numpy as np

from catalog.helix import Track
from clearance.geometry.rig import Pose, Rig
from clearance.judge.explain_sheet import Sheet, number
from clearance.judge.structure import Structure

__all__ = [
    "Standing",
    "elevation",
    "elevations",
    "railhead",
    "slope",
    "supports",
    "write_axle",
    "write_place",
]

_SAME_MM = 1e-9
_SIGNS = (-1, 1)  # which way a lead goes on, at the foot and at the head


class Standing(NamedTuple):
    """A vehicle in one position.

    Attributes
    ----------
    structure, track
        Where.
    rig, pose
        The vehicle as it goes uphill, and its position, alone in their arrays.
    names
        What its frames are called.
    frames
        Those that are worked out; what carries them is as well.
    """

    structure: Structure
    track: Track
    rig: Rig
    pose: Pose
    names: tuple[str, ...]
    frames: tuple[int, ...]

    @property
    def axles(self) -> list[int]:
        """The axles that bear the frames, as they stand uphill."""
        bearing = [self.rig.chassis.beneath(-1 - frame) for frame in self.frames]
        return sorted(frozenset().union(*bearing), key=self.place_rad)

    def place_rad(self, axle: int) -> float:
        """Where an axle stands."""
        return float(self.pose.axle_rad[axle, 0])

    def beneath(self) -> list[int]:
        """The frames, and those that carry them, these first."""
        return sorted(set(self.frames).union(*map(self._carriers, self.frames)))

    def _carriers(self, frame: int) -> set[int]:
        on = {-1 - on for on in self.rig.chassis.rests[frame] if on < 0}
        return on.union(*(self._carriers(one) for one in on))

    def called(self, frame: int) -> tuple[str, str]:
        """What the lower and the upper support of a frame are called in symbols."""
        axles = self.axles
        rear, front = self.rig.chassis.rests[frame]
        return (
            f"{axles.index(rear) + 1}" if rear >= 0 else f"_r{frame}",
            f"{axles.index(front) + 1}" if front >= 0 else f"_f{frame}",
        )

    def length_mm(self, frame: int) -> float:
        """Between a frame's supports."""
        return float(self.rig.front_mm[frame, 0] - self.rig.rear_mm[frame, 0])

    def share(self, symbol: str, frame: int, at_mm: float) -> tuple[str, str, dict[str, float]]:
        """A figure of a base line where the rig has ``at_mm``: its formula, where that is, and the
        figures of the formula."""
        rear, front = (f"{symbol}{one}" for one in self.called(frame))
        along, length = at_mm - float(self.rig.rear_mm[frame, 0]), self.length_mm(frame)
        if abs(along - length / 2) < _SAME_MM:
            return f"({rear} + {front}) / 2", f"midway on {self.names[frame]}", {}
        return (
            f"{rear} + ({front} - {rear}) * along / length",
            f"{number(along)} mm along the {number(length)} mm of {self.names[frame]}",
            {"along": along, "length": length},
        )


def write_axle(sheet: Sheet, stand: Standing, count: int) -> int | None:
    """Write down where an axle stands, s; 0 or 1 if that is on the lead at the foot or the head."""
    axles = stand.axles
    name = f"axle {count} of {len(axles)}, counted uphill"
    return write_place(sheet, stand, f"s{count}", name, stand.place_rad(axles[count - 1]))


def write_place(
    sheet: Sheet, stand: Standing, symbol: str, name: str, place_rad: float
) -> int | None:
    """Write down a place: a station, or a distance along a straight lead; on which lead that is."""
    line = stand.structure.line(stand.track)
    for lead, (bend, end) in enumerate(zip(line.curve_rad, ("foot", "head"), strict=True)):
        away = _SIGNS[lead] * (place_rad - bend) * line.radius_mm
        if away > 0:
            sheet.figure(symbol, f"{name}: how far along the straight lead at the {end}", away)
            return lead
    sheet.figure(symbol, f"{name}: its station", place_rad / stand.structure.step_rad, "station")
    return None


def railhead(
    sheet: Sheet, stand: Standing, symbol: str, what: str, place: str, lead: int | None
) -> None:
    """Work out the railhead at a place written down before: straight between two known ones."""
    line = stand.structure.line(stand.track)
    if lead is None:
        known = line.knots_rad / stand.structure.step_rad
        at_rad = sheet[place] * stand.structure.step_rad
    else:
        sign, bend = _SIGNS[lead], line.curve_rad[lead]
        known = sign * (line.knots_rad - bend) * line.radius_mm
        at_rad = bend + sign * sheet[place] / line.radius_mm
    piece = int(line.piece(np.array([at_rad]))[0])
    named, told = {}, []
    for end, knot in enumerate(sorted((piece, piece + 1), key=lambda knot: float(known[knot]))):
        named[f"k{end}"], named[f"e{end}"] = float(known[knot]), float(line.railhead_mm[knot])
        where = number(named[f"k{end}"])
        where = f"station {where}" if lead is None else f"{where} mm along"
        told.append(f"{number(named[f'e{end}'])} mm at {where}")
    formula = f"e0 + (e1 - e0) * ({place} - k0) / (k1 - k0)"
    sheet.work(symbol, f"{what}: {' and '.join(told)}", formula, "mm", "G1", named)


def elevations(sheet: Sheet, stand: Standing) -> None:
    """Work out the elevation z of every axle and every support."""
    for count in range(1, len(stand.axles) + 1):
        lead = write_axle(sheet, stand, count)
        railhead(sheet, stand, f"z{count}", f"railhead under axle {count}", f"s{count}", lead)
    for frame in stand.beneath():
        supports(sheet, stand, frame, "z", "elevation")


def supports(sheet: Sheet, stand: Standing, frame: int, symbol: str, what: str) -> None:
    """Work out a figure of the supports of a frame that rest on others."""
    ends = stand.rig.rear_mm[frame, 0], stand.rig.front_mm[frame, 0]
    rests = stand.rig.chassis.rests[frame]
    for on, called, at_mm, end in zip(
        rests, stand.called(frame), ends, ("lower", "upper"), strict=True
    ):
        if on >= 0:
            continue
        formula, where, named = stand.share(symbol, -1 - on, float(at_mm))
        text = f"{what} of the {end} support of {stand.names[frame]}, {where}"
        sheet.work(f"{symbol}{called}", text, formula, equation="G2", named=named)


def slope(sheet: Sheet, stand: Standing, frame: int) -> None:
    """Work out the slope psi of a frame, from its supports B apart."""
    rear, front = stand.called(frame)
    name = stand.names[frame]
    sheet.figure("B", f"supports of {name} apart", stand.length_mm(frame))
    sheet.work(
        "psi", f"slope of the base line of {name}", f"asin((z{front} - z{rear}) / B)", "deg", "G2"
    )


def elevation(sheet: Sheet, stand: Standing, frame: int, up: str) -> None:
    """Work out the elevation Z of a point x ahead of a frame's middle, and ``up`` over it."""
    rear, front = stand.called(frame)
    formula = f"(z{rear} + z{front}) / 2 + x * sin(psi) + {up} * cos(psi)"
    sheet.work("Z", "elevation of the point", formula, equation="G3")
