"""What all records share: frozen pydantic models whose errors are sentences for people."""

import math
import re
from typing import Annotated, Any, NoReturn

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, ValidationError

from catalog.errors import DataError
from catalog.words import quoted

__all__ = [
    "LONGEST_MM",
    "DistanceMm",
    "NotNegativeMm",
    "Number",
    "PartError",
    "RealNumber",
    "Record",
    "SizeMm",
    "Station",
    "Text",
    "complaint_of",
    "is_writable",
    "refuse",
]

FURTHEST_STATION = 100_000.0  # a hundred turns of 720 brackets are fewer
LONGEST_MM = 100_000.0  # a lead across a garden; nothing on a model railway is longer

_HALF_CHARACTER = re.compile("[\ud800-\udfff]")  # what is left of bytes that are not UTF-8

# What pydantic says about a value of the wrong kind, in the words of a club member.
_PLAIN_WORDS = {
    "missing": "is missing",
    "extra_forbidden": "is not a known field",
    "float_type": "must be a number",
    "float_parsing": "must be a number",
    "int_type": "must be a whole number",
    "int_parsing": "must be a whole number",
    "int_from_float": "must be a whole number",
    "string_type": "must be text",
    "too_short": "must not be empty",
    "date_from_datetime_parsing": "must be a date like 2026-05-31",
    "date_parsing": "must be a date like 2026-05-31",
    "date_type": "must be a date like 2026-05-31",
}


class Record(BaseModel):
    """A frozen record. Lengths are floats in millimetres and end in ``_mm``."""

    # Validators are built when a record is first made: a command that meets no car builds none.
    model_config = ConfigDict(
        frozen=True, extra="forbid", strict=True, allow_inf_nan=True, defer_build=True
    )


def _finite(value: float) -> float:
    if not math.isfinite(value):
        raise ValueError("must be a real number")
    if abs(value) > LONGEST_MM:
        raise ValueError(f"is absurd: {value:g} mm; at most {LONGEST_MM:g} mm (100 m) is taken")
    return value


def _size(value: float) -> float:
    if _finite(value) <= 0:
        raise ValueError("must be more than 0")
    return value


def _not_negative(value: float) -> float:
    if _finite(value) < 0:
        raise ValueError("must not be negative")
    return value


def _real(value: float) -> float:
    if not math.isfinite(value):
        raise ValueError("must be a real number")
    return value


def _station(value: float) -> float:
    if abs(_real(value)) > FURTHEST_STATION:
        raise ValueError(f"is absurd: no helix has {FURTHEST_STATION:g} brackets")
    return value


def _number(value: Any) -> Any:
    """Whole numbers count as numbers, true and false do not."""
    if isinstance(value, int) and not isinstance(value, bool):
        try:
            return float(value)
        except OverflowError:
            return math.inf if value > 0 else -math.inf
    return value


Number = Annotated[float, BeforeValidator(_number)]
"""Any number, whole ones included."""
RealNumber = Annotated[Number, AfterValidator(_real)]
"""Any number but nan and the infinite ones."""
Station = Annotated[Number, AfterValidator(_station)]
"""The number of a bracket, decimals for a place between two, on a lead beyond the last."""
DistanceMm = Annotated[Number, AfterValidator(_finite)]
"""Any real distance, either sign. [mm]"""
SizeMm = Annotated[Number, AfterValidator(_size)]
"""A distance more than 0. [mm]"""
NotNegativeMm = Annotated[Number, AfterValidator(_not_negative)]
"""A distance of 0 or more. [mm]"""


def is_writable(value: str) -> bool:
    """Whether a text can be stored and exported: no NUL, no half of a character."""
    return "\0" not in value and (value.isascii() or not _HALF_CHARACTER.search(value))


def _clean_text(value: str) -> str:
    if not is_writable(value):
        raise ValueError("holds a character that no file can hold; type it again")
    return value.strip()


Text = Annotated[str, AfterValidator(_clean_text)]
"""Free text, without blanks at its ends."""


class PartError(ValueError):
    """What a record as a whole says about one of its parts, which the words name.

    ``place`` leads to the part for those who know where in a file it stands: ``("frames", 2)``.
    """

    def __init__(self, words: str, *place: str | int) -> None:
        super().__init__(words)
        self.place = place


def complaint_of(error: ValidationError) -> tuple[tuple[str | int, ...], str]:
    """Give the first complaint of a `ValidationError`: the place of the field, and the words.

    The place is empty where several fields together are impossible, and no part is to blame.
    """
    first = error.errors()[0]
    if first["type"] == "value_error":
        reason = first["ctx"]["error"]
        return (*first["loc"], *getattr(reason, "place", ())), str(reason)
    if first["type"] == "literal_error":
        return first["loc"], f"must be {first['ctx']['expected']}"
    return first["loc"], _PLAIN_WORDS.get(first["type"], first["msg"])


def refuse(error: ValidationError, what: str) -> NoReturn:
    """Raise the first complaint of a `ValidationError` as one sentence about ``what``.

    Raises
    ------
    DataError
        Always: ``what: field: complaint``, with the value where one value is at fault.
    """
    first = error.errors()[0]
    _, complaint = complaint_of(error)
    field = ".".join(str(part) for part in first["loc"])
    if not field:
        raise DataError(f"{what}: {complaint}") from None
    value = first.get("input")
    shown = f" (it is {quoted(value)})" if isinstance(value, int | float | str) else ""
    raise DataError(f"{what}: {field} {complaint}{shown}") from None
