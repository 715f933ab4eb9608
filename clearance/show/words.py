"""Words that several results share: what checks are called, lists of cars, marks, days, angles."""

import math
from datetime import date

from catalog.lengths import show_length
from clearance.judge.fleet import Fleet
from clearance.show.plain import plain

__all__ = [
    "CHECKS",
    "FULL_SIZE",
    "counted",
    "day_words",
    "degrees_left",
    "from_drawings",
    "full_size_mark",
    "full_size_note",
    "length_left",
    "listed",
    "show_degrees",
]

CHECKS = {
    "overhead": "Overhead",
    "inner_side": "Inner side",
    "outer_side": "Outer side",
    "radius": "Least radius",
    "rigid_wheelbase": "Rigid wheelbase",
    "truck_swing": "Truck swing",
    "underside": "Underside",
    "coupling": "Coupling",
    "recovery": "Recovery",
    "gauge": "Gauge",
}
"""What each check is called on paper."""

FULL_SIZE = "from a full-size drawing, not measured on the model"

_NOISE_DEG = 1e-9
_NOISE_MM = 5e-7  # what `show_length` takes for none
_SHOWN_MM = 0.1  # the least that it shows


def counted(number: int, what: str) -> str:
    """How many there are: "1 car", "2 cars"."""
    return f"{number} {what}{'s' * (number != 1)}"


def full_size_mark(is_full_size: bool) -> str:
    """What is put behind a car whose figures are a full-size drawing's."""
    return f" ({FULL_SIZE})" if is_full_size else ""


def from_drawings(fleet: Fleet) -> list[str]:
    """The ids of the cars whose figures are a full-size drawing's."""
    return [name for name, drawn in zip(fleet.ids, fleet.full_size, strict=True) if drawn]


def full_size_note(ids: list[str]) -> str:
    """The same mark under a list of bare ids; "": there is nothing to mark."""
    return f"{listed(ids)}: {FULL_SIZE}." if ids else ""


def listed(ids: list[str], most: int | None = None) -> str:
    """Ids in a row: "27, 31 and 9"; with ``most``, "27, 31 and 12 more"."""
    if most is not None and len(ids) > most:
        return f"{', '.join(map(plain, ids[: most - 1]))} and {len(ids) - most + 1} more"
    if len(ids) < 2:
        return "".join(map(plain, ids))
    return f"{', '.join(map(plain, ids[:-1]))} and {plain(ids[-1])}"


def day_words(day: date) -> str:
    """A day as it is posted: "31 May 2026"."""
    return f"{day.day} {day:%B %Y}"


def show_degrees(angle_deg: float, *, up: bool) -> str:
    """An angle to 0.1 degree, to the safe side: what is needed up, what there is down."""
    tenths = 10 * angle_deg
    steps = math.ceil(tenths - _NOISE_DEG) if up else math.floor(tenths + _NOISE_DEG)
    return f"{steps / 10:.1f}°"


def degrees_left(left_deg: float) -> str:
    """What is left of an angle, or how much it is short."""
    if left_deg > 0:
        return f"{show_degrees(left_deg, up=False)} left"
    return f"{show_degrees(-left_deg, up=True)} short"


def length_left(gap_mm: float, short: str = "fouls by") -> str:
    """What is left of a length, or by how much it is ``short``."""
    if gap_mm >= _SHOWN_MM:
        return f"{show_length(gap_mm, 'down')} left"
    if gap_mm > 0:
        return f"less than {show_length(_SHOWN_MM)} left"
    if gap_mm > -_NOISE_MM:
        return "nothing left"
    return f"{short} {show_length(-gap_mm, 'up')}"
