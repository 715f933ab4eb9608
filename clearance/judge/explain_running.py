"""The running checks worked through, in short.

G8, docs/theory.md. Each function writes down one finding's figures, and ends with its gap; the room
that there is goes by the symbol room.
"""

import math

from clearance.judge.allowance import margins_of
from clearance.judge.explain_case import Case
from clearance.judge.explain_sheet import Sheet

__all__ = [
    "coupling",
    "gauge",
    "radius",
    "recovery",
    "rigid_wheelbase",
    "truck_swing",
    "underside",
]


def radius(sheet: Sheet, case: Case) -> None:
    """The radius of the track against the least that the car states, or can stand on at all."""
    stated = case.figure_mm("minimum_radius_mm")
    wheelbase, truck = case.figure_mm("wheelbase_mm"), case.figure_mm("truck_wheelbase_mm")
    sheet.figure("room", "radius of the centreline", case.track.radius_mm)
    gap = case.finding.gap_mm or 0.0
    if not math.isnan(stated) and abs(case.track.radius_mm - stated - gap) < _SAME_MM:
        sheet.figure("least", "least radius that the car states", stated)
        sheet.work("gap", "gap: the radius less that", "room - least", equation="G8")
    elif not math.isnan(wheelbase) and gap < 0:
        sheet.figure("B", "wheelbase", wheelbase)
        sheet.figure("A", "truck wheelbase; 0: none", truck)
        sheet.work("span", "radius below which it cannot stand", "sqrt(B^2 + A^2) / 2", "mm", "G2")
        sheet.work("gap", "gap: the radius less that", "room - span", equation="G8")
    else:
        _as_found(sheet, case, "gap: as found; the car cannot stand there, or reaches to the axis")


_SAME_MM = 1e-6


def gauge(sheet: Sheet, case: Case) -> None:
    """The car's gauge is not the helix's."""
    own, other = sorted((case.figure_mm("gauge_mm"), case.structure.helix.gauge_mm))
    sheet.figure("room", "the smaller gauge, of the car and of the helix", own)
    sheet.figure("wide", "the greater one", other)
    sheet.work("gap", "gap: how far they are apart, below 0", "room - wide", equation="G8")


def rigid_wheelbase(sheet: Sheet, case: Case) -> None:
    """How far a middle axle must shift, against its play and that in the track."""
    R = sheet.figure("R", "radius of the centreline", case.track.radius_mm)
    shift = case.finding.required_mm or 0.0
    # The finding keeps the shift alone: the wheelbase that asks for it is the one that governs.
    sheet.figure("B", "rigid wheelbase, the longest", 2 * math.sqrt(shift * (2 * R - shift)))
    sheet.work(
        "shift", "how far a middle axle must shift", "R - sqrt(R^2 - (B / 2)^2)", equation="G8"
    )
    sheet.figure("own", "side play of the middle axle", case.figure_mm("side_play_mm"))
    sheet.figure("q", "play of a wheelset in the track", margins_of(case.structure.helix).play_mm)
    sheet.work("room", "how far it can shift", "own + q", equation="G8")
    sheet.work("gap", "gap: what it can less what it must", "room - shift", equation="G8")


def truck_swing(sheet: Sheet, case: Case) -> None:
    """How far a truck turns under what rests on it, at its end axles, against its limit."""
    more = case.finding.more
    limit = sheet.figure("limit", "how far the truck can turn", more["limit_deg"], "deg")
    sheet.figure("swing", "how far it turns at the most, as found", more["swing_deg"], "deg", "G8")
    half = (case.finding.available_mm or 0.0) / math.sin(math.radians(limit))
    sheet.figure("half", "half the truck's wheelbase", half)
    sheet.work("room", "its end axle can go aside by", "half * sin(limit)", equation="G8")
    sheet.work("swung", "its end axle goes aside by", "half * sin(swing)", equation="G8")
    sheet.work("gap", "gap: what it can less what it does", "room - swung", equation="G8")


def underside(sheet: Sheet, case: Case) -> None:
    """How far the body's lowest line stays over the rails."""
    assert case.finding.available_mm is not None
    sheet.figure(
        "room", "underside of the governing block, on level track", case.finding.available_mm
    )
    where = f" (near station {case.place.station:g})" if case.place else ""
    _as_found(sheet, case, f"gap: least height over the rails of all positions, as found{where}")


def coupling(sheet: Sheet, case: Case) -> None:
    """How far two coupler faces come out of line, against what the couplers bear."""
    more = case.finding.more
    rows = [row for row in _OUT_OF_LINE if row[1] in more and row[2] in more]
    # What the finding's own gap is about comes last.
    rows.sort(key=lambda row: _is_the_gap(case, row))
    for row in rows:
        words, does, bears, unit = row
        governs = _is_the_gap(case, row)
        can, left = ("room", "gap") if governs else (f"can_{does}", f"left_{does}")
        sheet.figure(can, f"what the couplers bear {words}", more[bears], unit)
        what = f"how far they are out of line {words}, at the most, as found"
        sheet.figure(does, what, more[does], unit, "G8")
        what = f"gap: left {words}" if governs else f"left {words}"
        sheet.work(left, what, f"{can} - {does}", unit, "G8")
    if "gap" not in sheet:
        _as_found(sheet, case, "gap, as found")


_OUT_OF_LINE = (
    ("turned", "angle_deg", "limit_deg", "deg"),
    ("sideways", "sideways_mm", "swing_mm", "mm"),
    ("up and down", "vertical_mm", "drop_mm", "mm"),
)


def _is_the_gap(case: Case, row: tuple[str, str, str, str]) -> bool:
    _, does, bears, unit = row
    more, gap = case.finding.more, case.finding.gap_mm
    return unit == "mm" and gap is not None and abs(more[bears] - more[does] - gap) < _SAME_MM


def recovery(sheet: Sheet, case: Case) -> None:
    """Whether a hand goes over the roof where there is least room."""
    room, gap = case.finding.available_mm, case.finding.gap_mm
    assert room is not None
    assert gap is not None
    sheet.figure("room", "gap over the roof, as the check overhead found it", room, equation="G4")
    sheet.figure("hand", "how much a hand needs", case.structure.helix.recovery.hand_mm or 0.0)
    sheet.work("gap", "gap: the room less that", "room - hand", equation="G8")


def _as_found(sheet: Sheet, case: Case, what: str) -> None:
    assert case.finding.gap_mm is not None
    sheet.figure("gap", what, case.finding.gap_mm, equation="G8")
