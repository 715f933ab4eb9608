"""What timber can be had, as it is typed: "12, 18, 25 mm", and "38x24, 38x38 mm".

A unit holds for what stands before it without one. What is sold under one figure and measures
another is written with both: ``18=17.5 mm`` is sold as 18 and measures 17.5.
"""

import re
from typing import TYPE_CHECKING

from catalog.errors import UsageError
from clearance.cli.options import Units
from clearance.cli.sources import read_length

if TYPE_CHECKING:
    from clearance.judge.stack import Beam, Board

__all__ = ["read_beams", "read_boards"]

_UNIT = re.compile(r"\s*(?:[a-z]+\.?|[\"'\u2033\u2032\u201d]+)\s*$", re.IGNORECASE)
_DOUBTFUL_COMMA = re.compile(r"\d,\d")
_BY = re.compile(r"\s*[x\u00d7]\s*", re.IGNORECASE)  # the letter, or the sign


def read_boards(option: str, text: str | None, units: Units | None) -> "tuple[Board, ...]":
    """Thicknesses of deck; none typed: none.

    Raises
    ------
    UsageError
        Something is no thickness.
    """
    from clearance.judge.stack import Board

    found = []
    for sold, measured in _pairs(option, text):
        thickness = _size(option, sold, units)
        found.append(Board(thickness, None if measured is None else _size(option, measured, units)))
    return tuple(found)


def read_beams(option: str, text: str | None, units: Units | None) -> "tuple[Beam, ...]":
    """Sections of beam, width along the track by depth; none typed: none.

    Raises
    ------
    UsageError
        Something is no section.
    """
    from clearance.judge.stack import Beam, Board

    found = []
    for sold, measured in _pairs(option, text):
        width, depth = _section(option, sold, units)
        if measured is None:
            found.append(Beam(Board(width), Board(depth)))
        else:
            its_width, its_depth = _section(option, measured, units)
            found.append(Beam(Board(width, its_width), Board(depth, its_depth)))
    return tuple(found)


def _pairs(option: str, text: str | None) -> list[tuple[str, str | None]]:
    """Each item as sold and as measured (None: nobody did), with its unit."""
    if text is None:
        return []
    if _DOUBTFUL_COMMA.search(text):
        raise UsageError(
            f"{option}: {text!r} has a comma right between figures: decimal to some; write a point "
            f"for that, and a blank after a comma that parts two sizes, like 12, 18 mm"
        )
    if not text.strip():
        raise UsageError(f'{option}: is blank; write sizes like "12, 18 mm"')
    items: list[tuple[str, str | None]] = []
    unit = ""
    for item in reversed(text.split(",")):
        if not item.strip():
            raise UsageError(f'{option}: {text!r} lists nothing between two commas; "12, 18 mm"')
        sold, *measured = reversed([part.strip() for part in item.split("=")])
        if len(measured) > 1:
            raise UsageError(f"{option}: {item.strip()!r} has more than one =; write 18=17.5 mm")
        parts = []
        for part in (sold, *measured):  # from the right: a unit holds for what is before it
            its = _UNIT.search(part)
            unit = its[0] if its else unit
            parts.append(part if its else part + unit)
        items.append((parts[-1], parts[0] if measured else None))
    return items[::-1]


def _section(option: str, text: str, units: Units | None) -> tuple[float, float]:
    parts = _BY.split(text)
    if len(parts) != 2:
        raise UsageError(
            f"{option}: {text!r} is no section; write width along the track by depth, like 38x24 mm"
        )
    unit = _UNIT.search(parts[1])
    width = parts[0] if _UNIT.search(parts[0]) or not unit else parts[0] + unit[0]
    return _size(option, width, units), _size(option, parts[1], units)


def _size(option: str, text: str, units: Units | None) -> float:
    length = read_length(option, text, units)
    if not 0 < length <= 1000:
        raise UsageError(f"{option}: {text!r} is no thickness; it must be more than 0, at most 1 m")
    return length
