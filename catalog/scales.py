"""Which scales are there, and which of them run on a given gauge? Each with its published source.

A scale is a float, the 22.5 of 1:22.5. Gauges are millimetres between the rails.

Sources
-------
- MOROP, NEM 010, binding, edition 2011 (replaces 2004): sizes, scales and gauges.
- MOROP, NEM 104, recommendation, edition 1980: which gauge the narrow-gauge sizes run on. The
  Czech copy prints "IIIm" at 45 mm and "IIIe" at 32 mm; they are IIm and IIe, for NEM 010 gives
  these gauges to size II, and only at 1:22.5 do the widths printed there fit their neighbours.
- A hobby club's page, http://gvgrc.ca/aboutgscale.html: what else runs on 45 mm.
"""

import re
from dataclasses import dataclass

from catalog.errors import DataError

__all__ = ["SCALES", "PublishedScale", "parse_scale", "scales_for_gauge", "show_scale"]

LARGEST_SCALE, SMALLEST_SCALE = 1.0, 1000.0
LONGEST_SHOWN = 40  # characters of a refused text

# An inch name differs from its gauge by up to 0.55 mm (1 3/4 in is 44.45 mm, its track is 45 mm),
# and the nearest two gauges are 2.5 mm apart: 1 mm finds the one and never takes the other.
GAUGE_TOLERANCE_MM = 1.0

_SCALE = re.compile(r"(?:1\s*[:/]\s*)?(\d+(?:\.\d+)?)", re.ASCII)


@dataclass(frozen=True, slots=True)
class PublishedScale:
    """A scale on a gauge, as published.

    ``name`` is the size's name, blank where the source gives none. ``scale`` is 22.5 for 1:22.5.
    ``gauge_mm`` is the model's; ``prototype_mm`` the least and the greatest full-size gauge that
    it stands for. ``source`` says who published it.
    """

    name: str
    scale: float
    gauge_mm: float
    prototype_mm: tuple[float, float]
    source: str


_STANDARD_MM = (1250.0, 1700.0)
_METRE_MM = (850.0, 1250.0)
_NARROW_MM = (650.0, 850.0)
_INDUSTRIAL_MM = (400.0, 650.0)

_NEM_010 = "MOROP NEM 010 (2011)"
_NEM_104 = "MOROP NEM 104 (1980), scale from NEM 010 (2011)"
_CLUB = "hobby club page, http://gvgrc.ca/aboutgscale.html"

_SIZES = {
    "Z": (220.0, 6.5),
    "N": (160.0, 9.0),
    "TT": (120.0, 12.0),
    "H0": (87.0, 16.5),
    "S": (64.0, 22.5),  # a wiki copy of NEM 010 prints 1:60; 22.5 mm at 1:60 would be 1350 mm
    "0": (45.0, 32.0),
    "I": (32.0, 45.0),
    "II": (22.5, 64.0),
    "III": (16.0, 89.0),
    "V": (11.0, 127.0),
    "VII": (8.0, 184.0),
    "X": (5.5, 260.0),
}
_METRE_SIZES = {"N": 6.5, "TT": 9.0, "H0": 12.0, "S": 16.5, "0": 22.5, "I": 32.0}
_NARROW_SIZES = {"TT": 6.5, "H0": 9.0, "S": 12.0, "0": 16.5, "I": 22.5, "II": 32.0}

SCALES = (
    *(
        PublishedScale(n, scale, gauge, _STANDARD_MM, _NEM_010)
        for n, (scale, gauge) in _SIZES.items()
    ),
    PublishedScale("", 20.0, 72.0, _STANDARD_MM, _NEM_010),
    PublishedScale("", 10.0, 144.0, _STANDARD_MM, _NEM_010),
    PublishedScale("IIm", 22.5, 45.0, _METRE_MM, _NEM_010),
    PublishedScale("IIIe", 16.0, 45.0, _NARROW_MM, _NEM_010),
    PublishedScale("Vi", 11.0, 45.0, _INDUSTRIAL_MM, _NEM_010),
    *(
        PublishedScale(f"{n}m", _SIZES[n][0], gauge, _METRE_MM, _NEM_104)
        for n, gauge in _METRE_SIZES.items()
    ),
    *(
        PublishedScale(f"{n}e", _SIZES[n][0], gauge, _NARROW_MM, _NEM_104)
        for n, gauge in _NARROW_SIZES.items()
    ),
    PublishedScale("", 20.3, 45.0, (914.4, 914.4), _CLUB),
    PublishedScale("", 29.0, 45.0, (1435.0, 1435.0), _CLUB),  # the car is 10 % wide for its track
)
"""Every scale on every gauge that the sources above name."""


def parse_scale(text: str) -> float:
    """Say which scale a text means: 22.5 for ``1:22.5``, ``1/22.5`` and ``22.5``.

    Raises
    ------
    DataError
        The text is not a scale between 1:1 and 1:1000: one sentence with the text.

    Examples
    --------
    >>> parse_scale("1:22.5")
    22.5
    """
    written = _SCALE.fullmatch(text.strip())
    scale = float(written[1]) if written else 0.0
    if not LARGEST_SCALE <= scale <= SMALLEST_SCALE:
        shown = text if len(text) <= LONGEST_SHOWN else text[:LONGEST_SHOWN] + "..."
        raise DataError(f"{shown!r} is not a scale; write it like 1:22.5, between 1:1 and 1:1000")
    return scale


def show_scale(scale: float) -> str:
    """Write a scale, for people and for files, as `parse_scale` reads it back: ``1:22.5``."""
    return f"1:{float(scale)!r}".removesuffix(".0")


def scales_for_gauge(gauge_mm: float) -> tuple[PublishedScale, ...]:
    """Say which published scales run on a gauge, the largest models first.

    Parameters
    ----------
    gauge_mm
        The track's gauge, right to 1 mm, so that 1 3/4 in finds what runs on 45 mm. [mm]

    Returns
    -------
    tuple of PublishedScale
        Empty where nothing published runs on it.

    Examples
    --------
    >>> [show_scale(row.scale) for row in scales_for_gauge(45.0)]
    ['1:11', '1:16', '1:20.3', '1:22.5', '1:29', '1:32']
    """
    near = (row for row in SCALES if abs(row.gauge_mm - gauge_mm) <= GAUGE_TOLERANCE_MM)
    return tuple(sorted(near, key=lambda row: row.scale))
