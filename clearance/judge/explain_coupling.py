"""A coupling worked through: how far two coupler faces come out of line, against what they bear.

G2, G3 and G8, docs/theory.md. Of sideways, up and down, and in angle that one which leaves the
least. On a regular helix a closed form; else the position in which it is greatest.
"""

import math
from typing import NamedTuple

from clearance.geometry.coupled import Offsets, coupled_pose
from clearance.judge.couplers import Coupling, couple, coupled_ends
from clearance.judge.explain_case import Case, Coupled
from clearance.judge.explain_plan import axles_in_plan, direction, supports_in_plan, view
from clearance.judge.explain_sheet import Sheet, number
from clearance.judge.explain_stance import half_angle, stance, track_figures
from clearance.judge.explain_stand import Standing, elevations
from clearance.judge.partners import FRONT

__all__ = ["coupling"]


class _Way(NamedTuple):
    """One of the three ways to be out of line: what findings call its figures, and how it is said.

    ``symbol`` is what it goes by on the sheet.
    """

    symbol: str
    bears: str
    words: str

    def foremost_rad(self, offsets: Offsets) -> float:
        """Where the foremost axle of the lower car stands when it is greatest."""
        return float(getattr(offsets, f"{self.symbol}_rad"))


_WAYS = (
    _Way("sideways", "swing_mm", "both couplers together swing"),
    _Way("vertical", "drop_mm", "the couplers hold up and down, the less of both"),
    _Way("turned", "limit_deg", "the couplers and diaphragms bear in angle, the less of both"),
)


def coupling(sheet: Sheet, case: Case) -> bool:
    """Work through what a coupling leaves where it leaves the least (G8).

    Returns
    -------
    bool
        Whether two cars are known.
    """
    pair = case.coupled
    if pair is None:
        return False
    found, pair = _greatest(case, pair)
    if found.offsets is None or not found.stands:
        return False
    way = _WAYS[found.governs]
    if case.is_closed:
        _closed(sheet, case, pair, way)
    else:
        _followed(sheet, case, pair, found.offsets, way)
    bears = case.finding.more[way.bears]
    if way.symbol == "turned":
        sheet.figure("limit", f"what {way.words}", bears, "deg")
        what = "half the width of the narrower car: to the corner of its end"
        sheet.figure("half", what, found.at_mm)
        sheet.work("room", "that corner can go aside by", "half * sin(limit)", equation="G8")
        sheet.work("aside", "that corner goes aside by", "half * sin(turned)", equation="G8")
        sheet.work("gap", "gap: what is left", "room - aside", equation="G8")
        return True
    sheet.figure("room", f"what {way.words}", bears)
    sheet.work("gap", "gap: what is left", f"room - {way.symbol}", equation="G8")
    return True


def _greatest(case: Case, pair: Coupled) -> tuple[Coupling, Coupled]:
    """The coupling, and which of the two is the one downhill where it is worst."""
    turned = pair._replace(lower=pair.upper, upper=pair.lower)
    either = [pair, turned] if pair.either_way and not case.structure.is_regular else [pair]
    found = [couple(case.structure, case.track, one.fleet, one.lower, one.upper) for one in either]
    worst = min(range(len(either)), key=lambda one: found[one].gap_mm)
    return found[worst], either[worst]


def _called(pair: Coupled) -> tuple[str, str]:
    """The lower and the upper car."""
    lower, upper = (pair.fleet.ids[car] for car, _ in (pair.lower, pair.upper))
    return f"{lower} (lower)", f"{upper} (upper)"


# --- on a regular helix ---------------------------------------------------------------------------


def _closed(sheet: Sheet, case: Case, pair: Coupled, way: _Way) -> None:
    track_figures(sheet, case)
    radii = []
    for mark, (car, end), whose in zip("12", (pair.lower, pair.upper), _called(pair), strict=True):
        own = case.alone(pair.fleet, car)
        radii.append(stance(sheet, own, mark=mark, whose=whose, lean=False))
        _nose(sheet, own, end, mark, whose)
    one, other = radii
    sheet.work("bar", "from support to support, over both couplers", "j1 + j2", equation="G8")
    level, mean = "bar", one
    if abs(sheet[one] - sheet[other]) > _SAME_MM:
        level, mean = "flat", "mean"
        what = "the same as if both supports were as far out"
        sheet.work(level, what, f"sqrt(bar^2 - ({one} - {other})^2)", equation="G8")
        sheet.work(mean, "how far out that is", f"sqrt({one} * {other})", equation="G8")
    half_angle(sheet, "g", "half the angle between these two supports", level, mean)
    what = "angle between the two bodies, from middle to middle"
    sheet.work("turned", what, "b1 + 2 * g + b2", "deg", "G8")
    if way.symbol == "sideways":
        for mark, whose in zip("12", _called(pair), strict=True):
            sheet.work(
                f"out{mark}",
                f"face of {whose}: how far out from the axis, seen along the mean of both bodies",
                f"Rm{mark} * cos(turned / 2) + f{mark} * cos(psi{mark}) * sin(turned / 2)",
                equation="G8",
            )
        _apart(sheet, "sideways", "how far sideways the faces are apart", "out1", "out2")
    elif way.symbol == "vertical":
        what = "railhead at the middle of the upper car, over that at the middle of the lower one"
        sheet.work("climb", what, "p * turned * pi / 180", equation="G1")
        sheet.work("up1", "face of the lower one, over the same", "f1 * sin(psi1)", equation="G3")
        what = "face of the upper one, over the same"
        sheet.work("up2", what, "climb - f2 * sin(psi2)", equation="G3")
        _apart(sheet, "vertical", "how far up and down the faces are apart", "up1", "up2")


_SAME_MM = 1e-9


def _nose(sheet: Sheet, case: Case, end: int, mark: str, whose: str) -> None:
    """Work out how far a coupler's face is from the support, j, and from mid-wheelbase, f."""
    name = "front" if end == FRONT else "rear"
    over, length = case.figure_mm("length_over_couplers_mm"), case.figure_mm("length_mm")
    sheet.figure(
        f"n{mark}", f"{name} overhang of {whose}", float(case.fleet.table.overhangs_mm[end][0])
    )
    sheet.figure(f"O{mark}", f"length over couplers of {whose}", over)
    sheet.figure(f"L{mark}", f"length of {whose}", length)
    what = "from the support to the coupler's face"
    sheet.work(f"j{mark}", what, f"n{mark} + (O{mark} - L{mark}) / 2", equation="G8")
    what = "from the middle of the wheelbase to it"
    sheet.work(f"f{mark}", what, f"B{mark} / 2 + j{mark}", equation="G8")


def _apart(sheet: Sheet, symbol: str, what: str, one: str, other: str, unit: str = "mm") -> None:
    greater, less = sorted((one, other), key=lambda each: -sheet[each])
    sheet.work(symbol, what, f"{greater} - {less}", unit, "G8")


# --- on a line as built ---------------------------------------------------------------------------


def _followed(sheet: Sheet, case: Case, pair: Coupled, offsets: Offsets, way: _Way) -> None:
    low, up = coupled_ends(pair.fleet, pair.lower, pair.upper)
    line = case.structure.line(case.track)
    rig, pose = coupled_pose(line, low, up, way.foremost_rad(offsets))
    frames = low.frame, len(low.rig.chassis.rests) + up.frame
    names = [
        f"{name} of {whose}"
        for (car, _), whose in zip((pair.lower, pair.upper), _called(pair), strict=True)
        for name in case.alone(pair.fleet, car).frame_names()
    ]
    stand = Standing(case.structure, case.track, rig, pose, (*names, "the bar"), frames)
    if way.symbol == "vertical":
        elevations(sheet, stand)
        for mark in (0, 1):
            _face(sheet, stand, low.face_mm, mark, "z", "elevation")
        _apart(sheet, "vertical", "how far up and down the faces are apart", "z_0", "z_1")
        return
    sheet.figure("R", "radius of the centreline", case.track.radius_mm)
    axles_in_plan(sheet, stand, view(stand))
    supports_in_plan(sheet, stand)
    for mark, frame in enumerate(frames):
        direction(sheet, stand, frame, f"beta{mark}")
    if way.symbol == "turned":
        _apart(sheet, "turned", "angle between the two bodies", "beta0", "beta1", "deg")
        return
    for mark in (0, 1):
        for symbol, what in (("u", "out"), ("v", "along")):
            _face(sheet, stand, low.face_mm, mark, symbol, what)
    sheet.work("mean", "the mean of both bodies", "(beta0 + beta1) / 2", "deg", "G8")
    what = "how far the faces are apart square to it"
    turn = math.radians(sheet["mean"])
    out, along = (sheet[f"{symbol}_1"] - sheet[f"{symbol}_0"] for symbol in ("u", "v"))
    to, from_ = (1, 0) if out * math.cos(turn) + along * math.sin(turn) > 0 else (0, 1)
    formula = f"(u_{to} - u_{from_}) * cos(mean) + (v_{to} - v_{from_}) * sin(mean)"
    sheet.work("sideways", what, formula, equation="G8")


def _face(sheet: Sheet, stand: Standing, face_mm: float, mark: int, symbol: str, what: str) -> None:
    """Work out a figure of a coupler's face: on the base line of its body, beyond a support."""
    frame = stand.frames[mark]
    rear, front = (f"{symbol}{one}" for one in stand.called(frame))
    if mark == 0:
        near, end, beyond = front, "upper", face_mm - float(stand.rig.front_mm[frame, 0])
        formula = f"{near} + ({front} - {rear}) * beyond / B"
    else:
        near, end, beyond = rear, "lower", float(stand.rig.rear_mm[frame, 0]) - face_mm
        formula = f"{near} - ({front} - {rear}) * beyond / B"
    length = stand.length_mm(frame)
    text = (
        f"{what} of the coupler's face on {stand.names[frame]}: {number(beyond)} mm beyond the "
        f"{end} support, its supports {number(length)} mm apart"
    )
    sheet.work(f"{symbol}_{mark}", text, formula, "mm", "G8", {"beyond": beyond, "B": length})
