"""Two coupled cars in words: how far they are out of line, what holds, and what would mend it."""

import math
from collections.abc import Mapping

from catalog.lengths import show_length
from clearance.judge.couplers import Coupling
from clearance.show.words import degrees_left, length_left, show_degrees

__all__ = ["coupling_figures", "mend_coupling", "out_of_line"]

# What two coupled cars do and bear: the words, and the names of the two figures.
_WAYS = (
    ("sideways", "sideways_mm", "swing_mm"),
    ("up or down", "vertical_mm", "drop_mm"),
    ("in angle", "angle_deg", "limit_deg"),
)


def coupling_figures(coupling: Coupling) -> dict[str, float]:
    """The figures of a coupling that are known, by the names that findings give them."""
    figures = {
        "swing_mm": coupling.swing_mm,
        "drop_mm": coupling.drop_mm,
        "limit_deg": coupling.angle_deg,
    }
    if coupling.offsets is not None:
        figures |= {
            "sideways_mm": coupling.offsets.sideways_mm,
            "vertical_mm": coupling.offsets.vertical_mm,
            "angle_deg": math.degrees(coupling.offsets.angle_rad),
        }
    return {name: value for name, value in figures.items() if not math.isnan(value)}


def out_of_line(figures: Mapping[str, float]) -> str:
    """What does not hold; where all does, each way that is known: "4.2 mm sideways, and …"."""
    parts = []
    for words, does, bears in _broken(figures) or _known(figures):
        value, limit = figures[does], figures[bears]
        if does == "angle_deg":
            needs, has = show_degrees(value, up=True), show_degrees(limit, up=False)
            left = degrees_left(limit - value)
        else:
            needs, has = show_length(value, "up"), show_length(limit, "down")
            left = length_left(limit - value, "short by")
        parts.append(f"{needs} {words}, and {has} hold: {left}")
    return "; ".join(parts)


def mend_coupling(figures: Mapping[str, float]) -> str:
    """What would make it hold; "": it does."""
    ways = []
    for _, does, bears in _broken(figures):
        lacking = figures[does] - figures[bears]
        if does == "angle_deg":
            ways.append(f"couplers and diaphragms that bear {show_degrees(lacking, up=True)} more")
        elif does == "sideways_mm":
            ways.append(f"couplers that swing {show_length(lacking, 'up')} further")
        else:
            ways.append(f"couplers that hold {show_length(lacking, 'up')} more up and down")
    return f"To mend: {', '.join(ways)}; or another car between the two." if ways else ""


def _known(figures: Mapping[str, float]) -> list[tuple[str, str, str]]:
    return [way for way in _WAYS if way[1] in figures and way[2] in figures]


def _broken(figures: Mapping[str, float]) -> list[tuple[str, str, str]]:
    return [way for way in _known(figures) if figures[way[1]] >= figures[way[2]]]
