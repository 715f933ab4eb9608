"""How a car stands on a regular helix, worked through: where its middle is, its slope and its lean.

G1 to G3, docs/theory.md. Every place is like every other.
"""

from clearance.judge.explain_case import Case
from clearance.judge.explain_parts import cant
from clearance.judge.explain_sheet import Sheet

__all__ = ["half_angle", "stance", "track_figures"]

_SETTLED_DEG = 2e-4  # the next round changes less than a hundredth of that
_MOST_ROUNDS = 12


def track_figures(sheet: Sheet, case: Case) -> None:
    """Write down radius R and rise of the track, and its climb p for each radian (G1)."""
    sheet.figure("R", "radius of the centreline", case.track.radius_mm)
    sheet.figure("rise", "rise in one turn", case.structure.helix.rise_per_turn_mm)
    sheet.work("p", "climb for each radian", "rise / (2 * pi)", "mm/rad", "G1")


def stance(sheet: Sheet, case: Case, *, mark: str = "", whose: str = "", lean: bool = True) -> str:
    """Work out how a car stands: mid-wheelbase radius Rm, pitch psi and lean rho (G1 to G3).

    Parameters
    ----------
    sheet, case
        The sheet, with the figures of the track, and the car.
    mark, whose
        What its symbols end in, and what is said of them, where there is another car beside it.
    lean
        Whether to work out rho.

    Returns
    -------
    str
        The symbol of the radius on which the supports of the body run.
    """
    pivots, of = "R", f" of {whose}" if whose else ""
    truck = case.figure_mm("truck_wheelbase_mm")
    if truck > 0:
        sheet.figure(f"A{mark}", f"truck wheelbase{of}", truck)
        half_angle(sheet, f"a{mark}", f"half the angle that a truck{of} spans", f"A{mark}", "R")
        pivots = f"Rp{mark}"
        what = f"radius on which the truck pivots{of} run"
        sheet.work(pivots, what, f"R * cos(a{mark})", equation="G2")
    sheet.figure(f"B{mark}", f"wheelbase{of}", case.figure_mm("wheelbase_mm"))
    half_angle(
        sheet, f"b{mark}", f"half the angle that the wheelbase{of} spans", f"B{mark}", pivots
    )
    sheet.work(
        f"Rm{mark}",
        f"radius at the middle of the wheelbase{of}",
        f"{pivots} * cos(b{mark})",
        equation="G2",
    )
    sheet.work(
        f"psi{mark}",
        f"slope of the base line{of or ' of the car'}",
        f"asin(2 * p * b{mark} * pi / 180 / B{mark})",
        "deg",
        "G2",
    )
    if lean and case.track.cant_mm:
        cant(sheet, case)
    return pivots


def half_angle(sheet: Sheet, symbol: str, what: str, chord: str, radius: str) -> None:
    """Work out half the angle between two points of the line so far apart: on the level, then
    climbing, until it settles (G2)."""
    sheet.work(symbol, f"{what}, as on the level", f"asin({chord} / (2 * {radius}))", "deg", "G2")
    climbing = f"asin(sqrt({chord}^2 - (2 * p * {symbol} * pi / 180)^2) / (2 * {radius}))"
    again = "with the climb in it"
    for _ in range(_MOST_ROUNDS):
        before = sheet[symbol]
        sheet.work(symbol, f"{what}, {again}", climbing, "deg", "G2")
        if abs(sheet[symbol] - before) < _SETTLED_DEG:
            break
        again = "once more with this one"
