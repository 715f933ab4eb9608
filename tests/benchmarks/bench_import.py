"""How long do an import and the reading of a fleet take, beside the plain way of doing the same?

The plain ways are the least that a program could do: a `csv` loop that converts the same lengths
with the same converter into `sqlite3.executemany`, with no check, no history and no blank row
refused; and `sqlite3`'s fetchall of the same columns into numpy arrays.

    python -m pytest tests/benchmarks/bench_import.py -m benchmark -n0 -s
"""

import csv
import random
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

import catalog.lengths
from catalog.cars_csv import read_cars
from catalog.columns import FIGURES, TEXTS
from catalog.lengths import parse_length
from catalog.store import Catalog

ROWS = 100_000
BEST_OF = 3

LENGTHS = (
    "height",
    "width",
    "length",
    "wheelbase",
    "truck_wheelbase",
    "front_overhang",
    "rear_overhang",
    "length_over_couplers",
    "underside",
    "minimum_radius",
    "tolerance",
)
TEXT_COLUMNS = (
    "id",
    "name",
    "kind",
    "owner",
    "notes",
    "scale",
    "dimensions",
    "measured_by",
    "measured_on",
)


def _car(number: int, rng: random.Random, step_mm: float) -> list[str | float]:
    """20 columns of a possible car, its lengths measured to whole steps. [mm]"""

    def measured(least_mm: float, most_mm: float) -> float:
        return step_mm * round(rng.uniform(least_mm, most_mm) / step_mm)

    wheelbase, front, rear = measured(150, 600), measured(20, 120), measured(20, 120)
    length = wheelbase + front + rear
    return [
        f"{number}",
        f"Car number {number}",
        rng.choice(("boxcar", "coach", "engine", "tank")),
        rng.choice(("A. K.", "B. L.", "C. M.", "D. N.")),
        "",
        "1:22.5",
        "model",
        "A. K.",
        "2026-05-31",
        measured(120, 240),
        measured(70, 130),
        length,
        wheelbase,
        measured(30, 100),
        front,
        rear,
        length + measured(20, 40),
        measured(3, 12),
        measured(600, 1200),
        measured(1, 3),
    ]


def _write_file(
    path: Path, header: list[str], step_mm: float, write: Callable[[float], str]
) -> None:
    rng = random.Random(4)
    texts = len(TEXT_COLUMNS)
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(header)
        for number in range(ROWS):
            car = _car(number, rng, step_mm)
            writer.writerow([*car[:texts], *map(write, car[texts:])])


def _inches(mm: float) -> str:
    whole, sixteenths = divmod(round(mm / 25.4 * 16), 16)
    return f"{whole} {sixteenths}/16 in" if sixteenths else f"{whole} in"


def _plain_import(source: Path, database: Path, unit: catalog.lengths.Unit | None) -> None:
    texts = len(TEXT_COLUMNS)
    connection = sqlite3.connect(database)
    columns = ", ".join((*TEXT_COLUMNS, *LENGTHS))
    connection.execute(f"CREATE TABLE cars ({columns})")
    with source.open(newline="", encoding="utf-8") as file:
        rows = csv.reader(file)
        next(rows)
        connection.executemany(
            f"INSERT INTO cars VALUES ({', '.join('?' * (texts + len(LENGTHS)))})",
            ((*row[:texts], *(parse_length(cell, unit) for cell in row[texts:])) for row in rows),
        )
    connection.commit()
    connection.close()


def _import(source: Path, database: Path) -> None:
    table = read_cars(source)
    with Catalog.open(database, create=True) as opened:
        opened.import_cars(table, who="benchmark")


def _plain_read(database: Path) -> dict[str, object]:
    connection = sqlite3.connect(database)
    names = (*TEXTS, *FIGURES)
    rows = connection.execute(f"SELECT {', '.join(names)} FROM cars").fetchall()
    connection.close()
    columns = dict(zip(names, zip(*rows, strict=True), strict=True))
    return {
        name: list(column) if name in TEXTS else np.array(column, dtype=np.float64)
        for name, column in columns.items()
    }


def _read(database: Path) -> dict[str, object]:
    with Catalog.open(database, create=False) as opened:
        table = opened.cars()
    return {**table.text, **table.figures}


def _forget_lengths() -> None:
    """Empty the converter's cache, so that each run converts as a fresh program does."""
    for function in vars(catalog.lengths).values():
        if hasattr(function, "cache_clear"):
            function.cache_clear()


def _best(folder: Path, *runs: Callable[[Path], object]) -> list[float]:
    """The shortest of a few runs of each, in turn, each with a new file. [s]"""
    seconds: list[list[float]] = [[] for _ in runs]
    for number in range(BEST_OF):
        for run, taken in zip(runs, seconds, strict=True):
            database = folder / f"{number}-{len(taken)}.sqlite"
            _forget_lengths()
            start = time.perf_counter()
            run(database)
            taken.append(time.perf_counter() - start)
            database.unlink(missing_ok=True)
    return [min(taken) for taken in seconds]


def _row(what: str, plain: float, ours: float, target: float) -> str:
    return f"{what:<44}{plain:9.2f} s{ours:9.2f} s{ours / plain:8.2f}   (target {target:g})"


@pytest.mark.benchmark
def test_import_and_fleet_read(tmp_path: Path) -> None:
    """Print both side by side; what is asserted is only that both did the same work."""
    bare = [*TEXT_COLUMNS, *(f"{name}_mm" for name in LENGTHS)]
    with_unit = [*TEXT_COLUMNS, *LENGTHS]
    files = {
        "import, cells like 215.9": (bare, 0.1, "{:.1f}".format, "mm"),
        "import, cells like 215.9 mm": (with_unit, 0.1, "{:.1f} mm".format, None),
        "import, cells like 8 1/2 in": (with_unit, 25.4 / 16, _inches, None),
    }
    print(f"\n{ROWS} rows of {len(TEXT_COLUMNS) + len(LENGTHS)} columns, best of {BEST_OF}")
    print(f"{'':<44}{'plain':>11}{'ours':>11}{'ratio':>8}")
    for what, (header, step_mm, write, unit) in files.items():
        source = tmp_path / "cars.csv"
        _write_file(source, header, step_mm, write)

        def plain(database: Path, source: Path = source, unit: object = unit) -> None:
            _plain_import(source, database, unit)

        def ours(database: Path, source: Path = source) -> None:
            _import(source, database)

        print(_row(what, *_best(tmp_path, plain, ours), 2.0))

    database = tmp_path / "fleet.sqlite"
    _import(source, database)
    same = _plain_read(database)
    for name, column in _read(database).items():
        np.testing.assert_array_equal(column, same[name])
    reads = _best(tmp_path, lambda _: _plain_read(database), lambda _: _read(database))
    print(_row("the fleet into arrays", *reads, 1.5))
