"""The closed forms of a regular helix worked through for one car: overhead, and at its sides.

G2 to G5, docs/theory.md. Each function writes down one finding's figures, and ends with its gap.
"""

import math
from collections.abc import Iterator
from typing import NamedTuple

from clearance.judge.explain_case import Case
from clearance.judge.explain_parts import designed_headroom, inwards, side_gap, upwards
from clearance.judge.explain_sheet import Sheet
from clearance.judge.explain_stance import stance, track_figures

__all__ = ["overhead", "side"]


class _Point(NamedTuple):
    """A point of the car, and what it asks for: headroom, or a distance from the axis. [mm]"""

    x_mm: float
    y_mm: float
    h_mm: float
    asks_mm: float
    kind: str = ""


def overhead(sheet: Sheet, case: Case) -> None:
    """Work through the gap under a level underside, the same at every place (G4)."""
    underside = case.underside()
    assert underside is not None
    track_figures(sheet, case)
    stance(sheet, case)
    sheet.figure(
        "w", f"width of the {underside.place.obstacle} along the track", underside.width_mm
    )
    worst = max(_over_points(sheet, case), key=lambda point: point.asks_mm)
    _stands_over(sheet, case, worst)
    designed_headroom(sheet, case, underside)
    sheet.work("gap", "gap: headroom less what the car needs", "H - needs", equation="G4")


class _Edge(NamedTuple):
    """A long edge of a block: its inward and its upward part, and its ends."""

    inwards_mm: float
    upwards_mm: float
    rear_mm: float
    front_mm: float


def _lies(sheet: Sheet, y: float, h: float) -> tuple[float, float]:
    rho = math.radians(sheet["rho"]) if "rho" in sheet else 0.0
    return y * math.cos(rho) + h * math.sin(rho), h * math.cos(rho) - y * math.sin(rho)


def _over_points(sheet: Sheet, case: Case) -> Iterator[_Point]:
    """Where each upper long edge may ask for the most: at its front end, and at its crest."""
    shape = case.shape()
    blocks = case.uphill(shape.blocks)
    for block in range(len(shape.car)):
        rear, front, left, right, _, top = (float(figures[block]) for figures in blocks)
        for y in (left, -right):
            edge = _Edge(*_lies(sheet, y, top), rear, front)
            yield _Point(front, y, top, _asks(sheet, edge, front), "front")
            crest = _crest_mm(sheet, edge)
            if crest < front:
                x = max(crest, rear)
                kind = "crest" if x > rear else "rear"
                yield _Point(x, y, top, _asks(sheet, edge, x), kind)


def _asks(sheet: Sheet, edge: _Edge, x: float) -> float:
    """What the point of an edge needs when it just reaches the uphill side of the underside."""
    psi, half = math.radians(sheet["psi"]), sheet["w"] / 2
    out = sheet["Rm"] - edge.inwards_mm
    along = x * math.cos(psi) - edge.upwards_mm * math.sin(psi)
    phi = math.atan2(along, out) - math.asin(half / math.hypot(along, out))
    return x * math.sin(psi) + edge.upwards_mm * math.cos(psi) - sheet["p"] * phi


def _crest_mm(sheet: Sheet, edge: _Edge) -> float:
    """Where an edge asks for more than on both sides; at its rear end where it has no crest."""
    psi, p, half = math.radians(sheet["psi"]), sheet["p"], sheet["w"] / 2
    out = sheet["Rm"] - edge.inwards_mm
    root = (half * math.tan(psi)) ** 2 - 4 * p * (out * math.tan(psi) - p)
    if root <= 0:
        return edge.rear_mm
    sine = -(half * math.tan(psi) + math.sqrt(root)) / (2 * p)
    if sine <= -1:
        return edge.rear_mm
    along = (out * sine + half) / math.sqrt(1 - sine * sine)
    return (along + edge.upwards_mm * math.sin(psi)) / math.cos(psi)


def _stands_over(sheet: Sheet, case: Case, point: _Point) -> None:
    """Work out what the governing point needs, from where it is."""
    up = upwards(sheet)
    outwards = f"Rm - {inwards(sheet)}"
    if point.kind == "crest":
        sheet.figure("y", "y of the upper edge: inwards from the car's centre line", point.y_mm)
        sheet.figure("h", "h of the upper edge: above the railhead, on level track", point.h_mm)
        sheet.work("U", "U: how far out from the axis it runs", outwards, equation="G3")
        slant = "w / 2 * tan(psi)"
        sheet.work(
            "phi",
            "angle from the underside to mid-wheelbase where the edge needs most",
            f"asin(-({slant} + sqrt(({slant})^2 - 4 * p * (U * tan(psi) - p))) / (2 * p))",
            "deg",
            "G4",
        )
        sheet.work(
            "T", "T: how far uphill the point is", "(U * sin(phi) + w / 2) / cos(phi)", "mm", "G4"
        )
        sheet.work("x", "x of the point", f"(T + {up} * sin(psi)) / cos(psi)", equation="G3")
    else:
        case.point(sheet, _body(case), *point[:3])
        sheet.work("U", "U: how far out from the axis it is", outwards, equation="G3")
        sheet.work("T", "T: how far uphill it is", f"x * cos(psi) - {up} * sin(psi)", equation="G3")
    sheet.work(
        "Z",
        "Z: how high it is over the railhead at mid-wheelbase",
        f"x * sin(psi) + {up} * cos(psi)",
        equation="G3",
    )
    if point.kind != "crest":
        sheet.work(
            "phi",
            "angle from the underside to mid-wheelbase, the point at its uphill side",
            "atan(T / U) - asin(w / 2 / sqrt(T^2 + U^2))",
            "deg",
            "G4",
        )
    sheet.work(
        "needs",
        "headroom that the car needs: Z less what the track climbs in that angle",
        "Z - p * phi * pi / 180",
        equation="G4",
    )


def _body(case: Case) -> int:
    return int(case.fleet.shape.frame[0])


def side(sheet: Sheet, case: Case, *, inward: bool) -> None:
    """Work through the gap on one side, the same at every place (G5)."""
    available, gap = case.finding.available_mm, case.finding.gap_mm
    assert available is not None
    assert gap is not None
    track_figures(sheet, case)
    stance(sheet, case)
    edge = sheet["R"] - available if inward else sheet["R"] + available
    reach = edge + gap if inward else edge - gap
    # Of all points the one that the finding is about: with play, not always the closest one.
    point = min(
        _side_points(sheet, case, inward=inward), key=lambda point: abs(point.asks_mm - reach)
    )
    case.point(sheet, _body(case), *point[:3])
    sheet.work("U", "U: how far out from the axis it is", f"Rm - {inwards(sheet)}", equation="G3")
    sheet.work(
        "T", "T: how far uphill it is", f"x * cos(psi) - {upwards(sheet)} * sin(psi)", equation="G3"
    )
    extreme = "r_min, the nearest" if inward else "r_max, the furthest"
    sheet.work("r", f"{extreme} that it is from the axis", "sqrt(U^2 + T^2)", equation="G5")
    side_gap(sheet, case, "r", inward=inward)


def _side_points(sheet: Sheet, case: Case, *, inward: bool) -> Iterator[_Point]:
    """Points of each block's side that may be the nearest, or the furthest."""
    psi = math.radians(sheet["psi"])
    shape = case.shape()
    blocks = case.uphill(shape.blocks)
    for block in range(len(shape.car)):
        rear, front, left, right, bottom, top = (float(figures[block]) for figures in blocks)
        y = left if inward else -right
        heights = {h: [rear, front] for h in (bottom, top)}
        if inward:
            for h in (bottom, top):
                # Abreast of the axis, T = 0.
                heights[h].append(min(max(_lies(sheet, y, h)[1] * math.tan(psi), rear), front))
            for x in (rear, front):
                heights.setdefault(min(max(_nearest_height(sheet, x, y), bottom), top), []).append(
                    x
                )
        for h, places in heights.items():
            into, up = _lies(sheet, y, h)
            for x in places:
                along = x * math.cos(psi) - up * math.sin(psi)
                yield _Point(x, y, h, math.hypot(sheet["Rm"] - into, along))


def _nearest_height(sheet: Sheet, x: float, y: float) -> float:
    """How high up a leaning end of a block comes closest to the axis."""
    psi = math.radians(sheet["psi"])
    rho = math.radians(sheet["rho"]) if "rho" in sheet else 0.0
    lean = math.cos(rho) * math.sin(psi)
    foot_in, foot_up = _lies(sheet, y, 0.0)
    along = x * math.cos(psi) - foot_up * math.sin(psi)
    leans = math.sin(rho) ** 2 + lean**2
    return ((sheet["Rm"] - foot_in) * math.sin(rho) + along * lean) / leans if leans else 0.0
