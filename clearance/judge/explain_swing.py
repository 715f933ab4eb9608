"""The swing of a truck worked through: how far it turns under what rests on it, against its limit.

G2 and G8, docs/theory.md. On a regular helix a closed form; else the position in which it is
greatest, seen from above.
"""

import numpy as np

from clearance.geometry.rig import Pose, Rig, settle
from clearance.geometry.swing import truck_swing
from clearance.judge.explain_case import Case
from clearance.judge.explain_plan import axles_in_plan, direction, supports_in_plan, view
from clearance.judge.explain_sheet import Sheet
from clearance.judge.explain_stance import stance, track_figures

__all__ = ["swing"]


def swing(sheet: Sheet, case: Case) -> bool:
    """Work through how far a truck turns, and what that leaves at its end axles (G8).

    Returns
    -------
    bool
        Whether the car can stand there, and so turns at all.
    """
    if case.is_closed:
        track_figures(sheet, case)
        stance(sheet, case, lean=False)
        what = "how far a truck turns under the body, a chord of the line: by half its angle"
        sheet.work("swing", what, "b", "deg", "G8")
    elif not _followed(sheet, case):
        return False
    else:
        _lever(sheet, case)
    sheet.work("half", "from the middle of the truck to its end axle", "A / 2", equation="G8")
    limit = case.finding.more["limit_deg"]
    sheet.figure("limit", "how far a truck can turn, as stated", limit, "deg")
    sheet.work("room", "its end axle can go aside by", "half * sin(limit)", equation="G8")
    sheet.work("swung", "its end axle goes aside by", "half * sin(swing)", equation="G8")
    sheet.work("gap", "gap: what it can less what it does", "room - swung", equation="G8")
    return True


def _lever(sheet: Sheet, case: Case) -> None:
    """Write down the length A of the truck."""
    if not case.fleet.plans:
        sheet.figure("A", "truck wheelbase", case.figure_mm("truck_wheelbase_mm"))
        return
    plan = case.fleet.plans[0]
    longest = max(plan.trucks, key=plan.length_mm)
    what = f"supports apart of {case.frame_name(longest)}, the longest that turns under another"
    sheet.figure("A", what, plan.length_mm(longest))


def _followed(sheet: Sheet, case: Case) -> bool:
    """Work out the greatest swing from the places of the axles."""
    most, found = -np.inf, None
    for drive in case.drives(case.fleet.shape):
        angle, place = truck_swing(
            drive.line, drive.rig, drive.foot, regular=case.structure.is_regular
        )
        if angle[0] > most:
            most, found = angle[0], (drive, place)
    if found is None:
        return False
    drive, place = found
    pose = settle(drive.line, drive.rig, np.zeros(1, np.intp), 0, place, drive.foot.ahead_rad)
    frame, truck = _widest(drive.rig, pose)
    stand = case.standing(drive.rig, pose, frame)
    sheet.figure("R", "radius of the centreline", case.track.radius_mm)
    axles_in_plan(sheet, stand, view(stand))
    supports_in_plan(sheet, stand)
    direction(sheet, stand, truck, "below")
    direction(sheet, stand, frame, "above")
    greater, less = sorted(("below", "above"), key=lambda symbol: -sheet[symbol])
    what = f"how far {stand.names[truck]} turns under {stand.names[frame]}, at the most"
    sheet.work("swing", what, f"{greater} - {less}", "deg", "G8")
    return True


def _widest(rig: Rig, pose: Pose) -> tuple[int, int]:
    """The frame, and the one beneath it, that are turned furthest against each other."""
    ways = np.arctan2(pose.forward[:, 1, 0], pose.forward[:, 0, 0])
    pairs = [
        (frame, -1 - on)
        for frame, rests in enumerate(rig.chassis.rests)
        for on in rests
        if on < 0 and rests[0] != rests[1]
    ]
    return max(pairs, key=lambda pair: abs(np.sin(ways[pair[0]] - ways[pair[1]])))
