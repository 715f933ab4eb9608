"""A helix from and to helix.toml.

Which keys there are follows from the records of catalog/helix.py: a field ``depth_mm`` is the key
``depth``, written with a unit, or ``depth_mm`` or ``depth_in`` as a bare number.
"""

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomli_w
from pydantic import ValidationError

from catalog.errors import DataError, LengthError
from catalog.helix import (
    Adjusters,
    Allowance,
    Deck,
    Helix,
    Lead,
    Obstacle,
    Posts,
    ProfilePoint,
    Recovery,
    Stringers,
    Track,
)
from catalog.lengths import Unit, parse_length, write_length
from catalog.record import Record, complaint_of
from catalog.textfile import read_text
from catalog.words import did_you_mean, quoted

__all__ = ["read_helix_toml", "track_names", "write_helix_toml"]

_TABLES: dict[str, type[Record]] = {
    "deck": Deck,
    "posts": Posts,
    "allowance": Allowance,
    "adjusters": Adjusters,
    "recovery": Recovery,
    "stringers": Stringers,
}
_LISTS: dict[str, type[Record]] = {
    "tracks": Track,
    "profile": ProfilePoint,
    "obstacles": Obstacle,
    "leads": Lead,
}
_USUAL_NAMES = {1: ["single"], 2: ["inner", "outer"], 3: ["inner", "middle", "outer"]}
_NOTHING = "none"  # of a side: nothing stands there

_TOML_PLACE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")


def read_helix_toml(path: Path, units: Unit | None = None) -> Helix:
    """Read a helix as a person wrote it.

    Parameters
    ----------
    path
        The file, UTF-8.
    units
        What a bare number counts where the key does not say it, as ``radius_mm`` does.

    Raises
    ------
    DataError
        One line with file, table, key, value, and what would be right.
    """
    text = read_text(path)
    try:
        document = tomllib.loads(text)
    except RecursionError:
        raise DataError(f"{path}: is nested too deeply for a helix") from None
    except tomllib.TOMLDecodeError as error:
        raise DataError(f"{path}, {_toml_complaint(error, text)}") from None
    except ValueError:  # Python refuses to read them
        raise DataError(f"{path}: holds a number of thousands of figures") from None
    reader = _TomlReader(str(path), units)
    fields = reader.record(document, Helix, "")
    _name_tracks(fields.get("tracks", []))
    try:
        return Helix(**fields)
    except ValidationError as error:
        place, words = complaint_of(error)
        raise DataError(f"{path}{_place(place)}: {words}{_value(fields, place)}") from None


class _TomlReader:
    """Turns tables into what the records are made from; complaints begin with file and table."""

    def __init__(self, file: str, units: Unit | None) -> None:
        self._file = file
        self._units = units

    def record(self, table: Any, kind: type[Record], where: str) -> dict[str, Any]:
        """The fields of one record.

        Parameters
        ----------
        table
            What stands in the file.
        kind
            The record.
        where
            The table's name as it is written, "" for the top of the file.
        """
        if not isinstance(table, dict):
            raise DataError(f"{self._file}: {where.strip('[]')} must be a table, {where}")
        known = _keys(kind)
        fields: dict[str, Any] = {}
        written: dict[str, str] = {}
        for key, value in table.items():
            place = f"{self._file}, {where}, {key}" if where else f"{self._file}, {key}"
            if key not in known:
                raise DataError(f"{place}: unknown key; {did_you_mean(key, known, _plain(known))}")
            field, unit = known[key]
            if field in written:
                raise DataError(f"{place}: stands beside {written[field]}; write one of them")
            written[field] = key
            if where == "" and key in _TABLES:
                fields[field] = self.record(value, _TABLES[key], f"[{key}]")
            elif where == "" and key in _LISTS:
                fields[field] = self._records(value, key)
            elif field.endswith("_mm"):
                fields[field] = self._length(value, kind, key, unit or self._units, place)
            else:
                fields[field] = value
        return fields

    def _records(self, tables: Any, key: str) -> list[dict[str, Any]]:
        if not isinstance(tables, list):
            raise DataError(f"{self._file}: {key} must be tables, each begun with [[{key}]]")
        return [
            self.record(table, _LISTS[key], f"[[{key}]] {number}")
            for number, table in enumerate(tables, start=1)
        ]

    def _length(
        self, value: Any, kind: type[Record], key: str, unit: Unit | None, place: str
    ) -> float | str:
        if kind is Posts and value == _NOTHING:
            return _NOTHING
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise DataError(f'{place}: must be a length like "216 mm" or "8 1/2 in"')
        if value == 0 and not isinstance(value, str):
            return 0.0  # the same in every unit
        if unit is None and not isinstance(value, str):
            raise DataError(
                f'{place}: {value} has no unit; write "{value} mm", or {key}_mm = {value}'
            )
        try:
            length = parse_length(value if isinstance(value, str) else repr(value), unit)
        except LengthError as error:
            raise DataError(f"{place}: {error}") from None
        return round(length / 2, 6) if key.startswith("diameter") else length


def _name_tracks(tracks: list[dict[str, Any]]) -> None:
    """Call tracks without a name by their place, as people do."""
    for track, name in zip(tracks, track_names(len(tracks)), strict=True):
        track.setdefault("name", name)


def track_names(count: int) -> list[str]:
    """What people call so many tracks, from the inner to the outer one."""
    return _USUAL_NAMES.get(count, [str(number) for number in range(1, count + 1)])


def _keys(kind: type[Record]) -> dict[str, tuple[str, Unit | None]]:
    """The keys a table may have: for each the record's field, and the unit that the key says."""
    keys: dict[str, tuple[str, Unit | None]] = {}
    for field in kind.model_fields:
        names = [field.removesuffix("_mm")]
        if field == "radius_mm":
            names.append("diameter")
        for name in names:
            keys[name] = (field, None)
            if field.endswith("_mm"):
                keys |= {f"{name}_mm": (field, "mm"), f"{name}_in": (field, "in")}
    return keys


def _plain(known: Mapping[str, tuple[str, Unit | None]]) -> list[str]:
    return [key for key, (_, unit) in known.items() if unit is None]


def _toml_complaint(error: tomllib.TOMLDecodeError, text: str) -> str:
    found = _TOML_PLACE.search(str(error))
    line = found[1] if found and found[1] else len(text.splitlines())
    words = _TOML_PLACE.sub("", str(error))
    return f"line {line}: is not TOML: {words[:1].lower()}{words[1:]}"


def _place(place: tuple[str | int, ...]) -> str:
    """A record's field as it is called in the file: ``, [[tracks]] 2, radius``."""
    parts = list(place)
    if not parts:
        return ""
    table = ""
    if parts[0] in _LISTS and len(parts) > 1:
        table = f", [[{parts[0]}]] {int(parts[1]) + 1}"
        parts = parts[2:]
    elif parts[0] in _TABLES:
        table = f", [{parts[0]}]"
        parts = parts[1:]
    # What follows the field names a choice of its type, which nobody wrote.
    return table + (f", {str(parts[0]).removesuffix('_mm')}" if parts else "")


def _value(fields: dict[str, Any], place: tuple[str | int, ...]) -> str:
    value: Any = fields
    for part in place:
        if isinstance(value, dict):
            value = value.get(str(part))
        elif isinstance(value, list) and isinstance(part, int):
            value = value[part]
    if isinstance(value, str | int | float):
        unit = (
            " mm"
            if isinstance(value, float) and any(str(part).endswith("_mm") for part in place)
            else ""
        )
        return f" (it is {quoted(value)}{unit})"
    return ""


def write_helix_toml(helix: Helix) -> str:
    """Write a helix as TOML text; `read_helix_toml` gives an equal one.

    Parameters
    ----------
    helix
        Its lengths are written to 1e-6 mm; what is None or empty is left out.
    """
    fields = _written(helix)
    parts = [tomli_w.dumps({key: fields[key] for key in fields if key not in _TABLES | _LISTS})]
    for key, value in fields.items():
        if key in _TABLES:
            parts.append(f"[{key}]\n{tomli_w.dumps(value)}")
        elif key in _LISTS:
            parts += [f"[[{key}]]\n{tomli_w.dumps(table)}" for table in value]
    return "\n".join(parts)


def _written(record: Record) -> dict[str, Any]:
    """A record's fields as keys and values of a table."""
    table: dict[str, Any] = {}
    for field in type(record).model_fields:
        value = getattr(record, field)
        if value is None or value in ("", ()):
            continue
        if isinstance(value, Record):
            value = _written(value)
            if not value:
                continue
        elif isinstance(value, tuple):
            value = [_written(item) for item in value]
        elif field.endswith("_mm") and value != _NOTHING:
            value = write_length(value)
        table[field.removesuffix("_mm")] = value
    return table
