"""One position worked through: where a car stands on a line as built, and what room it leaves.

G1 to G5, docs/theory.md. The position is found by `clearance.judge.explain_search`; from the places
of the axles on, everything is worked out again.
"""

import math
from typing import NamedTuple

import numpy as np

from clearance.geometry.undersides import Undersides
from clearance.judge.allowance import margins_of
from clearance.judge.drive import Drive, drives
from clearance.judge.explain_case import Case
from clearance.judge.explain_parts import cant, designed_headroom, inwards, side_gap, upwards
from clearance.judge.explain_search import Spot, under_deck, under_strip, widest
from clearance.judge.explain_sheet import Sheet, number
from clearance.judge.fleet import Shape
from clearance.judge.structure import Underside
from clearance.judge.sweep import passages

__all__ = ["overhead_built", "side_built"]

_LEVEL_RAD = 1e-9


def overhead_built(sheet: Sheet, case: Case) -> bool:
    """Work through the gap under what hangs over one position (G4).

    Returns
    -------
    bool
        Whether the position was found; if not, nothing was written.
    """
    drive = _drive(case, case.fleet.shape)
    underside = case.underside()
    deck = case.structure.deck(case.track)
    if underside is not None:
        endless = case.structure.is_regular
        spot = under_strip(drive, _strip(drive, underside), endless=endless)
    elif deck is not None and case.place is not None:
        spot = under_deck(drive, deck, case.place.station * case.structure.step_rad)
    else:
        spot = None
    if spot is None:
        return False
    rear, front = _stand(sheet, case, spot)
    case.point(sheet, spot.frame, spot.x_mm, spot.y_mm, spot.h_mm)
    up = upwards(sheet)
    sheet.work(
        "Z",
        "elevation of the point",
        f"(z{rear} + z{front}) / 2 + x * sin(psi) + {up} * cos(psi)",
        equation="G3",
    )
    if underside is not None:
        _underside(sheet, case, underside)
    else:
        _deck(sheet, case, spot)
    sheet.work("gap", "gap: the underside's elevation less the point's", "E - Z", equation="G4")
    return True


def side_built(sheet: Sheet, case: Case, *, inward: bool) -> bool:
    """Work through the gap on one side in the position in which it is least (G5).

    Returns
    -------
    bool
        As for `overhead_built`.
    """
    structure, track = case.structure, case.track
    obstacle = case.described_beside()
    shape = case.shape(with_ends=margins_of(structure.helix).play_mm > 0)
    drive = _drive(case, shape)
    reach = passages(structure, track, case.fleet, (), shape, obstacle)[case.turned].reach
    radii = reach.least_radius_mm if inward else reach.greatest_radius_mm
    available, gap = case.finding.available_mm, case.finding.gap_mm
    assert available is not None
    assert gap is not None
    # Of all blocks the one that the finding is about: with play, not always the closest one.
    wanted = track.radius_mm + (gap - available if inward else available - gap)
    miss = np.abs(radii - wanted)
    if np.isnan(miss).all():
        return False
    block = int(np.nanargmin(miss))
    frame, box = next(
        (frame, boxes.take(np.flatnonzero(numbers == block)))
        for frame, numbers, boxes in drive.loads
        if block in numbers
    )
    endless = structure.is_regular
    strip = structure.strip(obstacle, track) if obstacle and not endless else None
    spot = widest(drive, frame, box, strip, inward=inward, endless=endless)
    if spot is None:
        return False
    sheet.figure("R", "radius of the centreline", track.radius_mm)
    rear, front = _stand(sheet, case, spot)
    radius = _in_plan(sheet, case, spot, (rear, front), inward=inward)
    side_gap(sheet, case, radius, inward=inward)
    return True


def _drive(case: Case, shape: Shape) -> Drive:
    """The car as it goes uphill in the finding."""
    both = list(drives(case.structure, case.track, case.fleet, shape))
    return next((drive for drive in both if drive.way == case.turned), both[0])


def _strip(drive: Drive, underside: Underside) -> Undersides:
    place = np.array([underside.place_rad])
    elevation = drive.line.height_mm(place) + underside.headroom_mm
    plan, along, width = (
        np.array([figure])
        for figure in (underside.plan_rad, underside.along_mm, underside.width_mm)
    )
    return Undersides(place, plan, along, elevation, width)


# Where the car stands


def _stand(sheet: Sheet, case: Case, spot: Spot) -> tuple[str, str]:
    """Axles, supports, slope and lean of the frame at hand; how its two supports are called."""
    rig, frame = spot.drive.rig, spot.frame
    axles = _axles(spot)
    for count, axle in enumerate(axles, 1):
        name = f"axle {count} of {len(axles)}, counted uphill"
        at = _place(sheet, case, f"s{count}", name, float(spot.pose.axle_rad[axle, 0]))
        _railhead(sheet, case, f"z{count}", f"railhead under axle {count}", at)
    for one in sorted(_beneath(spot, frame)):
        _supports(sheet, case, spot, one, "z", "elevation")
    length = float(rig.front_mm[frame, 0] - rig.rear_mm[frame, 0])
    rear, front = _called(spot, frame)
    name = case.frame_name(frame)
    sheet.figure("B", f"supports of {name} apart", length)
    sheet.work(
        "psi", f"slope of the base line of {name}", f"asin((z{front} - z{rear}) / B)", "deg", "G2"
    )
    lean, full = float(spot.pose.roll_rad[frame, 0]), spot.drive.line.roll_rad
    if full and lean:
        cant(sheet, case)
        if abs(lean - full) > _LEVEL_RAD:
            share = lean / full
            sheet.work(
                "rho",
                f"lean of {name}: {number(share)} of it, for the rest of its wheels is on the "
                f"straight",
                "rho * share",
                "deg",
                "G3",
                {"share": share},
            )
    return rear, front


def _beneath(spot: Spot, frame: int) -> set[int]:
    """The frames that carry a frame, and itself."""
    carriers = {-1 - on for on in spot.drive.rig.chassis.rests[frame] if on < 0}
    return {frame}.union(*(_beneath(spot, carrier) for carrier in carriers))


def _axles(spot: Spot) -> list[int]:
    """The axles that bear the frame at hand, as they stand uphill."""
    bearing = spot.drive.rig.chassis.beneath(-1 - spot.frame)
    return sorted(bearing, key=lambda axle: float(spot.pose.axle_rad[axle, 0]))


def _called(spot: Spot, frame: int) -> tuple[str, str]:
    """What the supports of a frame are called in symbols: an axle's is the axle's own."""
    axles = _axles(spot)
    rear, front = spot.drive.rig.chassis.rests[frame]
    return (
        f"{axles.index(rear) + 1}" if rear >= 0 else f"_r{frame}",
        f"{axles.index(front) + 1}" if front >= 0 else f"_f{frame}",
    )


def _supports(
    sheet: Sheet, case: Case, spot: Spot, frame: int, symbol: str, what: str, equation: str = "G2"
) -> None:
    """Where a frame rests on others: along their base lines, by its share of their length."""
    rig = spot.drive.rig
    ends = (rig.rear_mm[frame, 0], rig.front_mm[frame, 0])
    for on, called, at_mm, end in zip(
        rig.chassis.rests[frame], _called(spot, frame), ends, ("lower", "upper"), strict=True
    ):
        if on >= 0:
            continue
        rear, front = (f"{symbol}{one}" for one in _called(spot, -1 - on))
        along = float(at_mm - rig.rear_mm[-1 - on, 0])
        length = float(rig.front_mm[-1 - on, 0] - rig.rear_mm[-1 - on, 0])
        carrier = case.frame_name(-1 - on)
        where = f"{what} of the {end} support of {case.frame_name(frame)}"
        if abs(along - length / 2) < _LEVEL_RAD:
            formula, where = f"({rear} + {front}) / 2", f"{where}, midway on {carrier}"
        else:
            formula = f"{rear} + ({front} - {rear}) * along / length"
            where += f", {number(along)} mm along the {number(length)} mm of {carrier}"
        named = {"along": along, "length": length}
        sheet.work(f"{symbol}{called}", where, formula, equation=equation, named=named)


class _At(NamedTuple):
    """A place that is written down: its symbol, and 0 or 1 on the lead at the foot or the head."""

    symbol: str
    lead: int | None


def _place(sheet: Sheet, case: Case, symbol: str, name: str, place_rad: float) -> _At:
    """Write down a place: a station, or a distance along a straight lead."""
    line = case.structure.line(case.track)
    for lead, (bend, end) in enumerate(zip(line.curve_rad, ("foot", "head"), strict=True)):
        away = _SIGNS[lead] * (place_rad - bend) * line.radius_mm
        if away > 0:
            sheet.figure(symbol, f"{name}: how far along the straight lead at the {end}", away)
            return _At(symbol, lead)
    sheet.figure(symbol, f"{name}: its station", place_rad / case.structure.step_rad, "station")
    return _At(symbol, None)


_SIGNS = (-1, 1)  # which way a lead goes on, at the foot and at the head


def _railhead(sheet: Sheet, case: Case, symbol: str, what: str, place: _At) -> None:
    """Work out the railhead at a place written down before: straight between two known ones."""
    line = case.structure.line(case.track)
    if place.lead is None:
        known = line.knots_rad / case.structure.step_rad
        at_rad = sheet[place.symbol] * case.structure.step_rad
    else:
        sign, bend = _SIGNS[place.lead], line.curve_rad[place.lead]
        known = sign * (line.knots_rad - bend) * line.radius_mm
        at_rad = bend + sign * sheet[place.symbol] / line.radius_mm
    piece = int(line.piece(np.array([at_rad]))[0])
    named, told = {}, []
    for end, knot in enumerate(sorted((piece, piece + 1), key=lambda knot: float(known[knot]))):
        named[f"k{end}"], named[f"e{end}"] = float(known[knot]), float(line.railhead_mm[knot])
        where = number(named[f"k{end}"])
        where = f"station {where}" if place.lead is None else f"{where} mm along"
        told.append(f"{number(named[f'e{end}'])} mm at {where}")
    formula = f"e0 + (e1 - e0) * ({place.symbol} - k0) / (k1 - k0)"
    sheet.work(symbol, f"{what}: {' and '.join(told)}", formula, "mm", "G1", named)


# What is over it, and beside it


def _underside(sheet: Sheet, case: Case, underside: Underside) -> None:
    """Elevation E of a level underside, and the headroom H that it leaves."""
    structure, name = case.structure, underside.place.obstacle
    at = _place(sheet, case, "sk", f"middle of the {name}", underside.place_rad)
    _railhead(sheet, case, "zk", f"railhead beneath the {name}", at)
    if structure.is_regular or case.described_overhead(underside):
        designed_headroom(sheet, case, underside)
    elif underside.place.origin == "as measured":
        sheet.figure("H", f"headroom under the {name}, as measured", underside.headroom_mm)
    else:
        _above(sheet, case, underside.place.station)
        beam = structure.helix.deck.beam_depth_mm
        sheet.figure("beam", "beam: below the deck", beam)
        sheet.work("E", f"elevation of the {name}", "za - depth - beam", equation="G4")
        sheet.work("H", f"headroom under the {name}", "E - zk", equation="G4")
        return
    sheet.work("E", f"elevation of the {name}", "zk + H", equation="G4")


def _deck(sheet: Sheet, case: Case, spot: Spot) -> None:
    """Elevation E of the deck over the point, and the headroom H that it leaves there."""
    out, along = spot.plan_mm(float(spot.pose.reference_rad[0]))
    place_rad = float(spot.pose.reference_rad[0]) + math.atan2(along, out)
    at = _place(sheet, case, "sk", "point", place_rad)
    _above(sheet, case, place_rad / case.structure.step_rad)
    sheet.work("E", "elevation of the underside of the deck", "za - depth", equation="G4")
    _railhead(sheet, case, "zk", "railhead beneath the point", at)
    sheet.work("H", "headroom under the deck", "E - zk", equation="G4")


def _above(sheet: Sheet, case: Case, station: float) -> None:
    """The railhead a turn above a station, and the depth of the deck."""
    helix = case.structure.helix
    sheet.figure("sa", "station a turn above", station + helix.brackets_per_turn, unit="station")
    _railhead(sheet, case, "za", "railhead a turn above", _At("sa", None))
    sheet.figure("depth", "deck: railhead to its underside", helix.deck.depth_mm)


def _in_plan(
    sheet: Sheet, case: Case, spot: Spot, supports: tuple[str, str], *, inward: bool
) -> str:
    """Where the point is in plan; the symbol of its distance from the axis."""
    structure, line = case.structure, spot.drive.line
    axles = _axles(spot)
    places = [float(spot.pose.axle_rad[axle, 0]) for axle in axles]
    # Seen from where the curve ends: then what is on the lead is square to that.
    reference, is_straight = None, False
    for bend, sign in zip(line.curve_rad, (-1, 1), strict=True):
        if math.isfinite(bend):
            out, along = spot.plan_mm(bend)
            beyond = sign * along > 0 and out > 0 and sign * (places[0] - bend) > -math.pi / 2
            if beyond or any(sign * (place - bend) > 0 for place in places):
                reference, is_straight = bend, beyond
    station = round(places[0] / structure.step_rad)
    seen = f"station {station}"
    from_station = float(station)
    if reference is not None:
        from_station = reference / structure.step_rad
        seen = f"station {number(from_station)}, the end of the curve"
    for count, place in enumerate(places, 1):
        _axle_in_plan(sheet, case, count, place, from_station, seen)
    for frame in sorted(_beneath(spot, spot.frame)):
        for symbol, what in (("u", "out"), ("v", "along")):
            _supports(sheet, case, spot, frame, symbol, what)
    rear, front = supports
    sheet.work(
        "beta",
        "how far the base line is turned inwards from there",
        f"atan((u{rear} - u{front}) / (v{front} - v{rear}))",
        "deg",
        "G3",
    )
    case.point(sheet, spot.frame, spot.x_mm, spot.y_mm, spot.h_mm)
    sheet.work(
        "t",
        "how far ahead of the middle of the supports the point is, on the level",
        f"x * cos(psi) - {upwards(sheet)} * sin(psi)",
        equation="G3",
    )
    sheet.work("n", "how far inwards of the base line it is", inwards(sheet), equation="G3")
    sheet.work(
        "u",
        "out: the point",
        f"(u{rear} + u{front}) / 2 - t * sin(beta) - n * cos(beta)",
        "mm",
        "G3",
    )
    if is_straight:
        return "u"
    sheet.work(
        "v",
        "along: the point",
        f"(v{rear} + v{front}) / 2 + t * cos(beta) - n * sin(beta)",
        equation="G3",
    )
    extreme = "r_min, the nearest" if inward else "r_max, the furthest"
    sheet.work("r", f"{extreme} that it is from the axis", "sqrt(u^2 + v^2)", equation="G5")
    return "r"


def _axle_in_plan(
    sheet: Sheet, case: Case, count: int, place_rad: float, from_station: float, seen: str
) -> None:
    """An axle in plan: out from the axis towards a station, and along, square to that."""
    low, high = case.structure.line(case.track).curve_rad
    brackets = case.structure.helix.brackets_per_turn
    if low <= place_rad <= high:
        sheet.work(
            f"d{count}",
            f"axle {count}: its angle from {seen}, of {brackets} in a turn",
            f"(s{count} - k) * 360 / brackets",
            "deg",
            "G1",
            {"k": from_station, "brackets": brackets},
        )
        sheet.work(f"u{count}", f"out: axle {count}", f"R * cos(d{count})", equation="G1")
        sheet.work(f"v{count}", f"along: axle {count}", f"R * sin(d{count})", equation="G1")
        return
    sign = "-" if place_rad < low else ""
    sheet.work(f"u{count}", f"out: axle {count}, on the lead", "R", equation="G1")
    sheet.work(f"v{count}", f"along: axle {count}, on the lead", f"{sign}s{count}", equation="G1")
