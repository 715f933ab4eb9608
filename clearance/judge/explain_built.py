"""One position worked through: where a car stands on a line as built, and what room it leaves.

G1 to G5, docs/theory.md. The position is that of `clearance.judge.explain_search`; from the places
of the axles on, everything is worked out again.
"""

import math

import numpy as np

from clearance.judge.allowance import margins_of
from clearance.judge.explain_case import Case
from clearance.judge.explain_parts import cant, designed_headroom, inwards, side_gap, upwards
from clearance.judge.explain_plan import axles_in_plan, direction, supports_in_plan, view
from clearance.judge.explain_search import Spot, under_deck, under_strip, widest
from clearance.judge.explain_sheet import Sheet, number
from clearance.judge.explain_stand import (
    Standing,
    elevation,
    elevations,
    railhead,
    slope,
    write_place,
)
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
    drive = case.drive(case.fleet.shape)
    underside = case.underside()
    if underside is not None:
        strip = case.structure.undersides(case.track).take(np.array([case.number]))
        spot = under_strip(drive, strip, endless=case.structure.is_regular)
    else:
        deck = case.structure.deck(case.track)
        spot = None if deck is None else under_deck(drive, deck)
    if spot is None:
        return False
    stand = case.standing(drive.rig, spot.pose, spot.frame)
    elevations(sheet, stand)
    slope(sheet, stand, spot.frame)
    _lean(sheet, case, spot)
    case.point(sheet, spot.frame, spot.x_mm, spot.y_mm, spot.h_mm)
    elevation(sheet, stand, spot.frame, upwards(sheet))
    if underside is not None:
        _underside(sheet, case, stand, underside)
    else:
        _deck(sheet, case, stand, spot)
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
    drive = case.drive(shape)
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
    radius = _in_plan(sheet, case, case.standing(drive.rig, spot.pose, spot.frame), spot, inward)
    side_gap(sheet, case, radius, inward=inward)
    return True


def _lean(sheet: Sheet, case: Case, spot: Spot) -> None:
    """Work out how far cant leans the frame at hand, rho; where it does (G3)."""
    lean = float(spot.pose.roll_rad[spot.frame, 0])
    full = case.structure.line(case.track).roll_rad
    if not full or not lean:
        return
    cant(sheet, case)
    if abs(lean - full) > _LEVEL_RAD:
        share = lean / full
        sheet.work(
            "rho",
            f"lean of {case.frame_name(spot.frame)}: {number(share)} of it, for the rest of its "
            f"wheels is on the straight",
            "rho * share",
            "deg",
            "G3",
            {"share": share},
        )


# What is over it, and beside it


def _underside(sheet: Sheet, case: Case, stand: Standing, underside: Underside) -> None:
    """Elevation E of a level underside, and the headroom H that it leaves."""
    structure, name = case.structure, underside.place.obstacle
    lead = write_place(sheet, stand, "sk", f"middle of the {name}", underside.place_rad)
    railhead(sheet, stand, "zk", f"railhead beneath the {name}", "sk", lead)
    if structure.is_regular or case.described_overhead(underside):
        designed_headroom(sheet, case, underside)
    elif underside.place.origin == "as measured":
        sheet.figure("H", f"headroom under the {name}, as measured", underside.headroom_mm)
    else:
        _above(sheet, case, stand, underside.place.station, underside.along_mm)
        formula = "za - depth"
        if name == "beam":
            sheet.figure("beam", "beam: below the deck", structure.helix.deck.beam_depth_mm)
            formula = "za - depth - beam"
        sheet.work("E", f"elevation of the {name}", formula, equation="G4")
        sheet.work("H", f"headroom under the {name}", "E - zk", equation="G4")
        return
    sheet.work("E", f"elevation of the {name}", "zk + H", equation="G4")


def _deck(sheet: Sheet, case: Case, stand: Standing, spot: Spot) -> None:
    """Elevation E of the deck over the point, and the headroom H that it leaves there."""
    # The deck is a line by plan angle; along a straight lead a place is something else.
    line = case.structure.line(case.track)
    on_curve = min(max(spot.place_rad, line.curve_rad[0]), line.curve_rad[1])
    place_rad = on_curve + math.tan(spot.place_rad - on_curve)
    lead = write_place(sheet, stand, "sk", "point", place_rad)
    _above(sheet, case, stand, spot.place_rad / case.structure.step_rad)
    sheet.work("E", "elevation of the underside of the deck", "za - depth", equation="G4")
    railhead(sheet, stand, "zk", "railhead beneath the point", "sk", lead)
    sheet.work("H", "headroom under the deck", "E - zk", equation="G4")


def _above(
    sheet: Sheet, case: Case, stand: Standing, station: float, along_mm: float = 0.0
) -> None:
    """The railhead a turn above a station, or so far along the lead at the head; and how deep the
    deck is."""
    helix = case.structure.helix
    if along_mm:
        sheet.figure("sa", "how far along the straight lead at the head that is", along_mm)
        railhead(sheet, stand, "za", "railhead of the lead above", "sa", 1)
    else:
        above = station + helix.brackets_per_turn
        sheet.figure("sa", "station a turn above", above, unit="station")
        railhead(sheet, stand, "za", "railhead a turn above", "sa", None)
    sheet.figure("depth", "deck: railhead to its underside", helix.deck.depth_mm)


def _in_plan(sheet: Sheet, case: Case, stand: Standing, spot: Spot, inward: bool) -> str:
    """Where the point is in plan; the symbol of its distance from the axis."""
    elevations(sheet, stand)
    slope(sheet, stand, spot.frame)
    _lean(sheet, case, spot)
    beyond = _beyond(case, stand, spot)
    axles_in_plan(sheet, stand, view(stand, beyond), written=True)
    supports_in_plan(sheet, stand)
    direction(sheet, stand, spot.frame, "beta")
    case.point(sheet, spot.frame, spot.x_mm, spot.y_mm, spot.h_mm)
    sheet.work(
        "t",
        "how far ahead of the middle of the supports the point is, on the level",
        f"x * cos(psi) - {upwards(sheet)} * sin(psi)",
        equation="G3",
    )
    sheet.work("n", "how far inwards of the base line it is", inwards(sheet), equation="G3")
    rear, front = stand.called(spot.frame)
    sheet.work(
        "u",
        "out: the point",
        f"(u{rear} + u{front}) / 2 - t * sin(beta) - n * cos(beta)",
        "mm",
        "G3",
    )
    if beyond is not None:
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


def _beyond(case: Case, stand: Standing, spot: Spot) -> float | None:
    """The end of the curve beyond which the point is: then the lead is square to that."""
    first_rad = stand.place_rad(stand.axles[0])
    for bend, sign in zip(case.structure.line(case.track).curve_rad, (-1, 1), strict=True):
        if math.isfinite(bend):
            out, along = spot.plan_mm(bend)
            if sign * along > 0 and out > 0 and sign * (first_rad - bend) > -math.pi / 2:
                return bend
    return None
