"""Which length does a text mean, and how is a length written for people and for files?

Inside the program a length is a float in millimetres. Here it comes in, from whatever a person
types or a file holds, and goes out again. A text that could mean two things is refused.
"""

import re
from functools import lru_cache
from itertools import pairwise
from typing import Literal
from unicodedata import normalize

from catalog.errors import LengthError

__all__ = [
    "LONGEST_MM",
    "MM_PER_INCH",
    "Rounding",
    "Unit",
    "parse_length",
    "show_inches",
    "show_length",
    "show_mm",
    "show_within",
    "write_length",
]

Unit = Literal["mm", "in"]
"""What a bare number counts."""

Rounding = Literal["nearest", "down", "up"]
"""Which way a shown figure may differ: "down" is towards minus infinity, "up" towards plus."""

# A full-size drawing may give a curve of some kilometres. What a model may measure is for the
# records to say.
LONGEST_MM = 100_000_000.0
LONGEST_TEXT = 64  # characters; the longest sensible length needs some thirty
MM_PER_INCH = 25.4  # exact: international inch, 1959
INCHES_PER_FOOT = 12

# Lengths are kept to whole nanometres (1e-6 mm), so printing is done in whole numbers.
NM_PER_MM = 1_000_000
TENTH_OF_MM_NM = 100_000
SIXTEENTH_OF_INCH_NM = 1_587_500

_TO_MM = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": MM_PER_INCH,
    "ft": INCHES_PER_FOOT * MM_PER_INCH,
}

_UNIT_NAMES = {
    "mm": ("mm", "millimetre", "millimetres", "millimeter", "millimeters"),
    "cm": ("cm", "centimetre", "centimetres", "centimeter", "centimeters"),
    "m": ("m", "metre", "metres", "meter", "meters"),
    "in": ("in", "inch", "inches", '"'),
    "ft": ("ft", "foot", "feet", "'"),
}
_UNIT_OF = {name: unit for unit, names in _UNIT_NAMES.items() for name in names}

# What keyboards, phones and word processors make of quotes, dashes, slashes and fractions.
_FEET_SIGNS = "\u2032\u2018\u2019\u201b\u02b9\u02bc\u00b4`"  # prime, single quotes, accents
_INCH_SIGNS = "\u2033\u201c\u201d\u201e\u201f\u02ba"  # double prime, double quotes
_DASHES = "\u2212\u2010\u2011\u2012\u2013\u2014"  # minus, hyphens, figure, en and em dash
_SLASHES = "\u2044\u2215"  # fraction slash, division slash
_FRACTIONS = "½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅐⅛⅜⅝⅞⅑⅒"
_PLAIN = str.maketrans(
    dict.fromkeys(_FEET_SIGNS, "'")
    | dict.fromkeys(_INCH_SIGNS, '"')
    | dict.fromkeys(_DASHES, "-")
    | dict.fromkeys(_SLASHES, "/")
    # Unicode spells a fraction sign out with a fraction slash; blanks keep 8½ from being 81/2.
    | {sign: f" {normalize('NFKC', sign)} ".replace("\u2044", "/") for sign in _FRACTIONS}
)

_FIGURES = "0123456789."

# Atomic groups (?>…): a number is taken whole or not at all, so nothing is tried twice.
_TOKEN = re.compile(
    r"""\ ?(?:
        (?P<fraction> (?:(?P<whole>\d++)(?:\ |\ ?-\ |-))? (?P<over>\d++)\ ?/\ ?(?P<under>\d++)
                      (?![./]) )
      | (?P<number> (?>(?:\d++\.?\d*+|\.\d++)(?:e[+-]?\d++)?) (?!\ ?/) )
      | (?P<unit> [a-z]++\.? | ['"] )
      | (?P<dash> -(?=\ )|(?<!\ )- )
    )""",
    re.VERBOSE | re.ASCII,
)


def parse_length(text: str, unit: Unit | None = None) -> float:
    """Say which length a text means.

    Parameters
    ----------
    text
        As a person writes it: ``216 mm``, ``21.6 cm``, ``8 1/2 in``, ``8-1/2"``, ``1' 3 1/2"``.
        A unit in the text wins over ``unit``. A minus in front is taken.
    unit
        What a bare number counts, "mm" or "in"; None: a bare number is refused.

    Returns
    -------
    float
        The length, to 1e-6 mm. [mm]

    Raises
    ------
    LengthError
        The text is not one clear length, or over 100 km: one sentence with the text and what
        would be right. A bare fraction is refused where ``unit`` is "mm": who measures in
        fractions means inches, and 8 1/2 mm in their place would pass anywhere.

    Examples
    --------
    >>> parse_length("8 1/2 in")
    215.9
    >>> parse_length("216", "mm")
    216.0
    """
    # Plain figures this long seldom repeat, and at most six decimals leave nothing to round:
    # cheaper read afresh than looked for in the cache.
    if unit == "mm" and 5 < len(text) < 8 and not text.strip(_FIGURES):
        try:
            millimetres = float(text)
        except ValueError:
            pass  # two points: refused below
        else:
            if millimetres <= LONGEST_MM:
                return millimetres
    return _read(text, unit)


# People measure to 1 mm or 1/16 in, so a column repeats itself and most of a file is found here.
# Full, the cache takes some 10 MB.
@lru_cache(maxsize=1 << 15)
def _read(text: str, unit: Unit | None) -> float:
    if len(text) > LONGEST_TEXT:
        raise _refusal(text, "is too long for a length; write it like 216 mm or 8 1/2 in")
    # The short way, for what files mostly hold: figures and a point, one blank, mm or in.
    number, counted_in = (text[:-3], text[-2:]) if text[-3:] in (" mm", " in") else (text, unit)
    if counted_in is not None and not number.strip(_FIGURES):
        try:
            millimetres = float(number) * _TO_MM[counted_in]
        except ValueError:
            pass  # no figure, or two points: the long way has a sentence for it
        else:
            if millimetres <= LONGEST_MM:
                return round(millimetres, 6)
    return _read_any(text, unit)


def _read_any(text: str, unit: Unit | None) -> float:
    """Every form of a length, the long way."""
    plain = " ".join(text.translate(_PLAIN).lower().replace("''", '"').split())
    if not plain:
        raise LengthError("no length is given; write it like 216 mm or 8 1/2 in")
    negative = plain[0] == "-"
    number, counted_in = _add_up(text, _parts(text, plain[1:] if plain[0] in "+-" else plain))
    if counted_in not in _TO_MM:
        if unit is None:
            raise _refusal(text, "has no unit; write mm or in after it")
        if counted_in == "fraction" and unit == "mm":
            raise _refusal(
                text,
                "is a fraction where millimetres are expected; "
                "write in after it if it is inches, or a decimal if it is not",
            )
        counted_in = unit
    millimetres = number * _TO_MM[counted_in]
    if not millimetres <= LONGEST_MM:
        raise _refusal(text, "is over 100 km, which no railway's drawing needs; is the unit right?")
    return round(-millimetres if negative else millimetres, 6) + 0.0  # + 0.0: no minus zero


_NUMBERS = ("whole", "decimal", "fraction")

_Part = tuple[str, float]
"""(one of `_NUMBERS`, its value), or (a unit, 0), or ("-", 0)."""


def _parts(text: str, plain: str) -> list[_Part]:
    """Split into numbers and units, in the order in which they stand."""
    parts: list[_Part] = []
    at = 0
    while at < len(plain):
        token = _TOKEN.match(plain, at)
        if token is None:
            raise _refusal_of_sign(text, plain[at:].strip())
        at = token.end()
        if token["fraction"]:
            parts.append(("fraction", _fraction(text, token)))
        elif token["number"]:
            kind = "whole" if token["number"].isdigit() else "decimal"
            parts.append((kind, float(token["number"])))
        elif token["unit"]:
            name = token["unit"].removesuffix(".")
            if name not in _UNIT_OF:
                raise _refusal_of_word(text, name)
            parts.append((_UNIT_OF[name], 0.0))
        else:
            parts.append(("-", 0.0))
    return parts


def _fraction(text: str, token: re.Match[str]) -> float:
    whole, over, under = int(token["whole"] or 0), int(token["over"]), int(token["under"])
    if under == 0:
        raise _refusal(text, "divides by zero; write a fraction like 1/2")
    if token["whole"] and over >= under:
        raise _refusal(
            text, f"has {over}/{under} after a whole number; write less than 1 there, like 8 1/2 in"
        )
    return whole + over / under


def _add_up(text: str, parts: list[_Part]) -> tuple[float, str]:
    """The number, and the unit it counts; where the text names none, the kind of number."""
    kinds = [kind for kind, _ in parts]
    match kinds:
        case [number] if number in _NUMBERS:
            return parts[0][1], number
        case [number, unit] if number in _NUMBERS and unit in _TO_MM:
            return parts[0][1], unit
        case ["whole", "ft", *dash, number, "in"] if number in _NUMBERS and dash in ([], ["-"]):
            feet, inches = parts[0][1], parts[-2][1]
            if inches >= INCHES_PER_FOOT:
                raise _refusal(text, "has 12 or more inches after the feet; write them as feet")
            return feet * INCHES_PER_FOOT + inches, "in"
    raise _refusal_of_order(text, kinds)


def _refusal(text: str, complaint: str) -> LengthError:
    shown = text if len(text) <= LONGEST_TEXT else text[:LONGEST_TEXT] + "..."
    quote = '"' if "'" in shown else "'"
    # Not repr(text): its backslashes before quotes would be read as part of the length.
    message = f"{quote}{shown}{quote} {complaint}"
    return LengthError(
        "".join(sign if sign.isprintable() else repr(sign)[1:-1] for sign in message)
    )


def _refusal_of_sign(text: str, rest: str) -> LengthError:
    """For a text where something stands that is neither a number nor a unit."""
    if re.search("[0-9],[0-9]", text) and text.count(",") == 1:
        without = text.replace(",", "")
        # With a point as well, the point is the decimal one or the thousands' one: no telling.
        choice = "it without" if "." in text else f"{text.replace(',', '.')} or {without}"
        return _refusal(text, f"has a comma: decimal to some, thousands to others; write {choice}")
    if any(sign.isdigit() and not sign.isascii() for sign in text):
        return _refusal(text, "has figures other than 0 to 9; write it with those, like 216 mm")
    if rest.startswith("-"):
        return _refusal(text, "has a minus inside; it may only stand in front, like -3 mm")
    return _refusal(text, "is not a length; write it like 216 mm, 8.5 in, 8 1/2 in or 1' 3 1/2\"")


def _refusal_of_word(text: str, word: str) -> LengthError:
    if word in ("nan", "inf", "infinity"):
        return _refusal(text, "is not a real length; write it like 216 mm or 8 1/2 in")
    return _refusal(text, f"has {word!r}, which is no unit known here; write mm, cm, m, in or ft")


def _refusal_of_order(text: str, kinds: list[str]) -> LengthError:
    """For numbers and units that do not add up: the first thing that is wrong with them."""
    units = [kind for kind in kinds if kind in _TO_MM]
    if not any(kind in _NUMBERS for kind in kinds):
        complaint = "has no number; write it like 216 mm or 8 1/2 in"
    elif kinds[0] in _TO_MM:
        complaint = "has a unit before the number; the unit comes last, like 216 mm"
    elif any(one in _NUMBERS and other in _NUMBERS for one, other in pairwise(kinds)):
        complaint = "has two numbers side by side; write one, like 1000 mm, 8.5 in or 8 1/2 in"
    elif units == ["ft", "in"] and kinds[0] != "whole":
        complaint = "has a part of a foot and inches as well; write whole feet, like 1' 3 1/2\""
    elif len(units) > 1:
        complaint = "has more than one unit; write it in one, or in feet and inches, like 1' 3\""
    elif "-" in kinds:
        complaint = "has a dash inside, like a range; write one length, like 216 mm or 8 1/2 in"
    elif units == ["ft"]:
        complaint = "has a number without a unit after the feet; write it like 1' 3\""
    else:
        complaint = "has a number after the unit; the unit comes last, like 8 1/2 in"
    return _refusal(text, complaint)


def show_mm(mm: float, rounding: Rounding = "nearest") -> str:
    """Write a length for people in millimetres, to 0.1 mm: ``215.9 mm``.

    Parameters
    ----------
    mm
        The length. [mm]
    rounding
        "down" for a limit that must not be exceeded, "up" for one that must not be undercut.
        Less than half of 1e-6 mm beside a whole step is taken for float noise.

    Raises
    ------
    LengthError
        The length is nan or infinite.
    """
    return _tenths(_steps(mm, TENTH_OF_MM_NM, rounding))


def _tenths(tenths: int) -> str:
    sign = "-" if tenths < 0 else ""
    whole, tenth = divmod(abs(tenths), 10)
    return f"{sign}{whole}.{tenth} mm"


def show_inches(mm: float, rounding: Rounding = "nearest") -> str:
    """Write a length for people in inches, to 1/16 in lowest terms: ``8 1/2 in``, ``-3/16 in``.

    Parameters and errors are those of `show_mm`.
    """
    return _sixteenths(_steps(mm, SIXTEENTH_OF_INCH_NM, rounding))


def _sixteenths(sixteenths: int) -> str:
    sign = "-" if sixteenths < 0 else ""
    whole, over = divmod(abs(sixteenths), 16)
    under = 16
    while over and over % 2 == 0:
        over, under = over // 2, under // 2
    if not over:
        return f"{sign}{whole} in"
    return f"{sign}{whole} {over}/{under} in" if whole else f"{sign}{over}/{under} in"


def show_length(mm: float, rounding: Rounding = "nearest") -> str:
    """Write a length for people in both units: ``215.9 mm (8 1/2 in)``.

    Parameters and errors are those of `show_mm`; each unit is rounded by itself. Of something that
    has no sixteenth of an inch the inches are ``under 1/16 in``.
    """
    steps = _steps(mm, TENTH_OF_MM_NM, rounding), _steps(mm, SIXTEENTH_OF_INCH_NM, rounding)
    return _both(*steps, mm)


def _both(tenths: int, sixteenths: int, mm: float) -> str:
    inches = _sixteenths(sixteenths) if sixteenths or _nanometres(mm) <= 0 else "under 1/16 in"
    return f"{_tenths(tenths)} ({inches})"


def show_within(mm: float, of_mm: float) -> str:
    """Write a length that must not be undercut beside another one that it does not exceed.

    Each unit is rounded up, but no further than the other length's is that is rounded down: so what
    is enough looks so in both units.

    Parameters
    ----------
    mm, of_mm
        The two lengths; where the first is more than the second it is simply rounded up. [mm]

    Raises
    ------
    LengthError
        A length is nan or infinite.

    Examples
    --------
    >>> show_length(15.4, "down"), show_length(15.4, "up"), show_within(15.4, 15.4)
    ('15.4 mm (9/16 in)', '15.4 mm (5/8 in)', '15.4 mm (9/16 in)')
    """
    tenths, sixteenths = (
        min(_steps(mm, step, "up"), _steps(of_mm, step, "down"))
        if mm <= of_mm
        else _steps(mm, step, "up")
        for step in (TENTH_OF_MM_NM, SIXTEENTH_OF_INCH_NM)
    )
    return _both(tenths, sixteenths, mm)


def _steps(mm: float, step_nm: int, rounding: Rounding) -> int:
    """How many steps a length counts, in whole numbers, so that no float noise tips it over."""
    nanometres = _nanometres(mm)
    if rounding == "down":
        return nanometres // step_nm
    if rounding == "up":
        return -(-nanometres // step_nm)
    steps = (2 * abs(nanometres) + step_nm) // (2 * step_nm)  # halves away from zero
    return steps if nanometres >= 0 else -steps


def _nanometres(mm: float) -> int:
    try:
        return round(mm * NM_PER_MM)
    except (ValueError, OverflowError):
        raise LengthError(f"{mm} is not a length that can be shown") from None


def write_length(mm: float) -> str:
    """Write a length for a file: the shortest decimal that `parse_length` reads back the same.

    Parameters
    ----------
    mm
        The length, as `parse_length` gives it; anything finer than 1e-6 mm is rounded. [mm]

    Raises
    ------
    LengthError
        The length is nan, infinite or over 100 km, and could not be read back.

    Examples
    --------
    >>> write_length(215.9)
    '215.9 mm'
    """
    if not abs(mm) <= LONGEST_MM:
        raise LengthError(f"{mm} mm is not a length that can be written; 100 km is the most")
    decimal = f"{round(mm, 6) + 0.0:.6f}".rstrip("0").rstrip(".")
    return f"{decimal} mm"
