"""Parts that the workings of a regular helix and of one as built have in common.

G1, G3 to G5, docs/theory.md.
"""

from clearance.judge.explain_case import Case
from clearance.judge.explain_sheet import Sheet
from clearance.judge.structure import Underside

__all__ = ["cant", "designed_headroom", "inwards", "side_gap", "upwards"]


def inwards(sheet: Sheet) -> str:
    """The formula of how far y and h take a point towards the axis: with cant, it leans (G3)."""
    return "(y * cos(rho) + h * sin(rho))" if "rho" in sheet else "y"


def upwards(sheet: Sheet) -> str:
    """The formula of how far y and h take it up, square to the base line (G3)."""
    return "(h * cos(rho) - y * sin(rho))" if "rho" in sheet else "h"


def cant(sheet: Sheet, case: Case) -> None:
    """Work out how far cant leans the track towards the axis, rho (G1)."""
    sheet.figure("c", "cant", case.track.cant_mm)
    sheet.figure("e", "gauge", case.structure.helix.gauge_mm)
    sheet.work("rho", "lean of the track towards the axis", "asin(c / e)", "deg", "G1")


def designed_headroom(sheet: Sheet, case: Case, underside: Underside) -> None:
    """Write down the headroom H of a regular helix, and where it comes from (G4)."""
    helix, name = case.structure.helix, underside.place.obstacle
    if case.described_overhead(underside):
        sheet.figure(
            "H", f"headroom under the {name}, as the helix file says", underside.headroom_mm
        )
        return
    if "rise" not in sheet:
        sheet.figure("rise", "rise in one turn", helix.rise_per_turn_mm)
    sheet.figure("depth", "deck: railhead to its underside", helix.deck.depth_mm)
    sheet.figure("beam", "beam: below the deck", helix.deck.beam_depth_mm)
    sheet.work("H", f"headroom under the {name}, as designed", "rise - depth - beam", equation="G4")


def side_gap(sheet: Sheet, case: Case, radius: str, *, inward: bool) -> None:
    """Work out the gap to what stands beside, from how far a point is from the axis (G5)."""
    name = case.place.obstacle if case.place else "post"
    assert case.finding.available_mm is not None
    sheet.figure("side", f"from the centreline to the {name}", case.finding.available_mm)
    sheet.work(
        "gap",
        f"gap: between the car and the {name}",
        f"{radius} - (R - side)" if inward else f"R + side - {radius}",
        equation="G5",
    )
