"""The short ones of the running checks worked through.

G8, docs/theory.md. Each function writes down one finding's figures, and ends with its gap; the room
that there is goes by the symbol room.
"""

import math

from clearance.judge.allowance import margins_of
from clearance.judge.explain_case import Case
from clearance.judge.explain_sheet import Sheet

__all__ = ["gauge", "radius", "recovery", "rigid_wheelbase"]

_SAME_MM = 1e-6


def radius(sheet: Sheet, case: Case) -> bool:
    """The radius of the track against the least that the car states, or can stand on at all.

    Returns
    -------
    bool
        Whether that is what was found.
    """
    stated = case.figure_mm("minimum_radius_mm")
    wheelbase, truck = case.figure_mm("wheelbase_mm"), case.figure_mm("truck_wheelbase_mm")
    sheet.figure("room", "radius of the centreline", case.track.radius_mm)
    gap = case.finding.gap_mm or 0.0
    if not math.isnan(stated) and abs(case.track.radius_mm - stated - gap) < _SAME_MM:
        sheet.figure("least", "least radius that the car states", stated)
        sheet.work("gap", "gap: the radius less that", "room - least", equation="G8")
        return True
    if math.isnan(wheelbase) or gap >= 0:
        return False
    sheet.figure("B", "wheelbase", wheelbase)
    sheet.figure("A", "truck wheelbase; 0: none", truck)
    sheet.work("span", "radius below which it cannot stand", "sqrt(B^2 + A^2) / 2", "mm", "G2")
    sheet.work("gap", "gap: the radius less that", "room - span", equation="G8")
    return True


def gauge(sheet: Sheet, case: Case) -> bool:
    """The car's gauge is not the helix's."""
    own, other = sorted((case.figure_mm("gauge_mm"), case.structure.helix.gauge_mm))
    sheet.figure("room", "the smaller gauge, of the car and of the helix", own)
    sheet.figure("wide", "the greater one", other)
    sheet.work("gap", "gap: how far they are apart, below 0", "room - wide", equation="G8")
    return True


def rigid_wheelbase(sheet: Sheet, case: Case) -> bool:
    """How far a middle axle must shift, against its play and that in the track."""
    sheet.figure("R", "radius of the centreline", case.track.radius_mm)
    truck = case.figure_mm("truck_wheelbase_mm")
    if case.fleet.plans:
        plan = case.fleet.plans[0]
        frame = max(plan.rigid, key=plan.length_mm)
        of, behind = case.frame_name(frame), "behind the car's front end"
        sheet.figure("last", f"last axle of {of}, the longest, {behind}", -plan.rear_mm[frame])
        sheet.figure("first", f"its first axle, {behind}", -plan.front_mm[frame])
        sheet.work("B", "rigid wheelbase", "last - first", equation="G8")
    elif truck > 0:
        sheet.figure("B", "rigid wheelbase: that of a truck", truck)
    else:
        what = "rigid wheelbase: from the first axle to the last"
        sheet.figure("B", what, case.figure_mm("wheelbase_mm"))
    sheet.work(
        "shift", "how far a middle axle must shift", "R - sqrt(R^2 - (B / 2)^2)", equation="G8"
    )
    sheet.figure("own", "side play of the middle axle", case.figure_mm("side_play_mm"))
    sheet.figure("q", "play of a wheelset in the track", margins_of(case.structure.helix).play_mm)
    sheet.work("room", "how far it can shift", "own + q", equation="G8")
    sheet.work("gap", "gap: what it can less what it must", "room - shift", equation="G8")
    return True


def recovery(sheet: Sheet, case: Case) -> bool:
    """Whether a hand goes over the roof where there is least room."""
    room = case.finding.available_mm
    assert room is not None
    sheet.figure("room", "gap over the roof, as the check overhead found it", room, equation="G4")
    sheet.figure("hand", "how much a hand needs", case.structure.helix.recovery.hand_mm or 0.0)
    sheet.work("gap", "gap: the room less that", "room - hand", equation="G8")
    return True
