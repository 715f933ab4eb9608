"""The height of the underside over the rails worked through, where it is least.

G3 and G8, docs/theory.md. Without cant, which tilts body and rails alike. On a regular helix a
closed form; else the position in which it is least.
"""

import math
from typing import NamedTuple

import numpy as np

from clearance.geometry.profile import height_over_rail_mm
from clearance.geometry.ridges import Ridges
from clearance.judge.explain_case import Case
from clearance.judge.explain_search import closest
from clearance.judge.explain_sheet import Sheet
from clearance.judge.explain_stance import stance, track_figures
from clearance.judge.explain_stand import elevation, elevations, railhead, slope, write_place
from clearance.judge.running import low_lines

__all__ = ["underside"]


def underside(sheet: Sheet, case: Case) -> bool:
    """Work through how far the lowest line of a body stays over the rails (G8).

    Returns
    -------
    bool
        Whether the position was found.
    """
    return _closed(sheet, case) if case.is_closed else _followed(sheet, case)


class _Low(NamedTuple):
    """A point of the lowest line of a block; a dip: the line climbs there as the track does."""

    x_mm: float
    h_mm: float
    height_mm: float
    is_dip: bool = False


def _closed(sheet: Sheet, case: Case) -> bool:
    track_figures(sheet, case)
    stance(sheet, case, lean=False)
    shape = low_lines(case.fleet)[0]
    blocks = case.uphill(shape.blocks)
    ends = zip(
        *(figures.tolist() for figures in (blocks.x_rear_mm, blocks.x_front_mm)), strict=True
    )
    lowest = min(
        (
            point
            for (rear, front), h in zip(ends, blocks.bottom_mm.tolist(), strict=True)
            for point in _points(sheet, rear, front, h)
        ),
        key=lambda point: point.height_mm,
    )
    if lowest.is_dip:
        sheet.figure("h", "h of the lowest line: above the railhead, on level track", lowest.h_mm)
        what = "T: how far uphill it climbs as the track does, and so is lowest"
        sheet.work("T", what, "sqrt(p * Rm / tan(psi) - Rm^2)", equation="G8")
        sheet.work("x", "x of that point", "(T + h * sin(psi)) / cos(psi)", equation="G3")
    else:
        case.point(sheet, int(shape.frame[0]), lowest.x_mm, None, lowest.h_mm)
        sheet.work("T", "T: how far uphill it is", "x * cos(psi) - h * sin(psi)", equation="G3")
    sheet.work(
        "Z",
        "Z: how high it is over the railhead at mid-wheelbase",
        "x * sin(psi) + h * cos(psi)",
        equation="G3",
    )
    what = "railhead beneath it, over that at mid-wheelbase"
    sheet.work("E", what, "p * atan(T / Rm) * pi / 180", equation="G1")
    sheet.work("gap", "gap: from the railhead up to the point", "Z - E", equation="G8")
    return True


def _points(sheet: Sheet, rear: float, front: float, h: float) -> list[_Low]:
    """Where the lowest line of a block may be nearest to the rails."""
    psi, radius, climb = math.radians(sheet["psi"]), sheet["Rm"], sheet["p"]

    def low(x: float, *, is_dip: bool = False) -> _Low:
        along = x * math.cos(psi) - h * math.sin(psi)
        up = x * math.sin(psi) + h * math.cos(psi)
        return _Low(x, h, up - climb * math.atan(along / radius), is_dip)

    points = [low(rear), low(front)]
    square = climb * radius / math.tan(psi) - radius**2
    if square > 0:
        x = (math.sqrt(square) + h * math.sin(psi)) / math.cos(psi)
        points += [low(x, is_dip=True)] if rear < x < front else []
    return points


def _followed(sheet: Sheet, case: Case) -> bool:
    drive = case.drive(low_lines(case.fleet)[0])
    found = [
        (
            frame,
            Ridges(
                boxes.vehicle,
                boxes.x_rear_mm,
                boxes.x_front_mm,
                np.zeros_like(boxes.bottom_mm),
                boxes.bottom_mm,
            ),
            height_over_rail_mm(
                drive.line,
                drive.rig,
                drive.foot,
                frame,
                boxes,
                regular=case.structure.is_regular,
            ),
        )
        for frame, _, boxes in drive.loads
    ]
    spot = closest(drive, found)
    if spot is None:
        return False
    stand = case.standing(drive.rig, spot.pose, spot.frame)
    elevations(sheet, stand)
    slope(sheet, stand, spot.frame)
    case.point(sheet, spot.frame, spot.x_mm, None, spot.h_mm)
    elevation(sheet, stand, spot.frame, "h")
    lead = write_place(sheet, stand, "sk", "point", spot.place_rad)
    railhead(sheet, stand, "zk", "railhead beneath the point", "sk", lead)
    sheet.work("gap", "gap: from the railhead up to the point", "Z - zk", equation="G8")
    return True
