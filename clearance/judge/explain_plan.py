"""A vehicle in one position, seen from above: how far out from the axis, and along, square to that.

G1 to G3, docs/theory.md. Out is counted towards one station, for all alike.
"""

from typing import NamedTuple

from clearance.judge.explain_sheet import Sheet, number
from clearance.judge.explain_stand import Standing, supports, write_axle

__all__ = ["View", "axles_in_plan", "direction", "supports_in_plan", "view"]

_SIGNS = (-1, 1)  # on which side of it a lead goes on, at the foot and at the head


class View(NamedTuple):
    """The station towards which out is counted, and how that is said."""

    station: float
    seen: str


def view(stand: Standing, bend_rad: float | None = None) -> View:
    """From where to look at a position: from the end of the curve, where an axle is beyond it.

    ``bend_rad`` is that end, where something else asks for it.
    """
    step_rad = stand.structure.step_rad
    places = [stand.place_rad(axle) for axle in stand.axles]
    for bend, sign in zip(stand.structure.line(stand.track).curve_rad, _SIGNS, strict=True):
        if bend_rad is None and any(sign * (place - bend) > 0 for place in places):
            bend_rad = bend
    if bend_rad is not None:
        station = bend_rad / step_rad
        return View(station, f"station {number(station)}, the end of the curve")
    station = round(sum(places) / len(places) / step_rad)
    return View(station, f"station {station}")


def axles_in_plan(sheet: Sheet, stand: Standing, seen: View, *, written: bool = False) -> None:
    """Work out u and v of every axle; ``written`` says whether their places are there already."""
    low, high = stand.structure.line(stand.track).curve_rad
    brackets = stand.structure.helix.brackets_per_turn
    for count, axle in enumerate(stand.axles, 1):
        if not written:
            write_axle(sheet, stand, count)
        out, along = f"out: axle {count}", f"along: axle {count}"
        place_rad = stand.place_rad(axle)
        if low <= place_rad <= high:
            sheet.work(
                f"d{count}",
                f"axle {count}: its angle from {seen.seen}, of {brackets} in a turn",
                f"(s{count} - k) * 360 / brackets",
                "deg",
                "G1",
                {"k": seen.station, "brackets": brackets},
            )
            sheet.work(f"u{count}", out, f"R * cos(d{count})", equation="G1")
            sheet.work(f"v{count}", along, f"R * sin(d{count})", equation="G1")
            continue
        sign = "-" if place_rad < low else ""
        sheet.work(f"u{count}", f"{out}, on the lead", "R", equation="G1")
        sheet.work(f"v{count}", f"{along}, on the lead", f"{sign}s{count}", equation="G1")


def supports_in_plan(sheet: Sheet, stand: Standing) -> None:
    """Work out u and v of the supports that rest on frames."""
    for frame in stand.beneath():
        for symbol, what in (("u", "out"), ("v", "along")):
            supports(sheet, stand, frame, symbol, what)


def direction(sheet: Sheet, stand: Standing, frame: int, symbol: str) -> None:
    """Work out how far the base line of a frame is turned inwards from the line along."""
    rear, front = stand.called(frame)
    sheet.work(
        symbol,
        f"how far the base line of {stand.names[frame]} is turned inwards from there",
        f"atan((u{rear} - u{front}) / (v{front} - v{rear}))",
        "deg",
        "G3",
    )
