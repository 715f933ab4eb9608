"""Two coupled cars in words: how far they are out of line, what holds, and what would mend it."""

from collections.abc import Mapping

from catalog.lengths import show_length, show_within
from clearance.show.words import degrees_left, length_left, show_degrees

__all__ = ["NOWHERE", "mend_coupling", "out_of_line"]

NOWHERE = "cannot stand on this track at all; is the length over couplers right?"
"""What there is to say of two that, coupled, do not reach round the curve."""

# What two coupled cars do and bear: the words, and the names of the two figures.
_WAYS = (
    ("sideways", "sideways_mm", "swing_mm"),
    ("up or down", "vertical_mm", "drop_mm"),
    ("in angle", "angle_deg", "limit_deg"),
)


def out_of_line(figures: Mapping[str, float]) -> str:
    """What does not hold; where all does, each way that is known: "4.2 mm sideways, and …"."""
    parts = []
    for words, does, bears in _broken(figures) or _known(figures):
        value, limit = figures[does], figures[bears]
        if does == "angle_deg":
            needs, has = show_degrees(value, up=True), show_degrees(limit, up=False)
            left = degrees_left(limit - value)
        else:
            needs, has = show_within(value, limit), show_length(limit, "down")
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
