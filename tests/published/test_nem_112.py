"""NEM 112: how far apart tracks lie, on the straight.

The vehicles are those of NEM 301, greatest width B1 (tests/data/published/nem_301_1979.csv, as
printed, mm). Two cars 1 mm long on radii beyond 50 m stand for the straight: they swing by less
than a hundred-thousandth of a millimetre.
"""

import numpy as np
import pytest

from catalog.car import Car
from catalog.scales import scales_for_gauge
from clearance.judge.meets import meetings
from tests.published.record import SEEN, Source, Work

SOURCE = Source(
    "NEM 112 (1975), track spacing on the straight",
    (
        Work(
            "MOROP, NEM 112, track spacing, edition 1975, Czech text, down to the head of the "
            "table for curves, which is cut off",
            SEEN,
            (
                "https://www.kolejiste.moraviamodel.cz/modelarske-normy-nem/"
                "nem-112-vzdalenosti-koleji",
            ),
        ),
        Work(
            "A crib for track plans in size N: the same 25 and 28 mm",
            SEEN,
            ("https://www.tobas-moba.de/anlagenplanung/gleisplan-spickzettel-fuer-spur-n/",),
        ),
        Work(
            "MOROP, NEM 301, greatest outline of vehicles, binding standard, edition 1979, Czech "
            "text",
            SEEN,
            ("https://www.kolejiste.moraviamodel.cz/modelarske-normy-nem/nem-301-obrys-vozidel",),
        ),
        Work(
            "EBO, para. 10, Germany: 4.00 m on the open line, 4.50 m in stations",
            SEEN,
        ),
    ),
    misprints=(
        "Size 0 prints 103 in stations. 4.50 m is 100.0 mm at its 1:45, but 103.4 at 1:43.5; 89 "
        "on the open line is 4.00 m at 1:45. One of the two is a slip.",
    ),
)

MM = 1.0
STRAIGHT_MM = 50_000.0

# Printed: size, open line, stations. [mm] Then the air between two trains of the greatest width on
# the open line: printed spacing less printed B1. [mm]
TABLE = [
    ("N", 25, 28, 2),
    ("TT", 34, 38, 4),
    ("H0", 46, 52, 6),
    ("S", 63, 71, 9),
    ("0", 89, 103, 11),
    ("I", 125, 141, 15),
]


@pytest.mark.parametrize(("size", "open_line", "_stations", "air"), TABLE)
def test_two_trains_of_the_greatest_width_pass(
    matches, printed, level_helix, fleet_of, size, open_line, _stations, air
) -> None:
    (vehicle,) = (row for row in printed("nem_301_1979.csv") if row["size"] == size)
    helix = level_helix(float(vehicle["G"]), (STRAIGHT_MM, STRAIGHT_MM + open_line))
    car = Car(
        id=size,
        height_mm=float(vehicle["H4"]),
        width_mm=float(vehicle["B1"]),
        length_mm=1.0,
        wheelbase_mm=1.0,
    )
    (meeting,) = meetings(helix, fleet_of(car))
    first = np.array([0])
    ours = meeting.figures(first, first).gap_mm.item()
    matches("air between two trains", ours, air, 1e-4 * MM, where="open line less B1", cell=size)
    assert meeting.available_mm == open_line


@pytest.mark.parametrize(("size", "open_line", "stations", "_air"), TABLE)
def test_spacing_is_full_size_practice_in_whole_millimetres(
    matches, size, open_line, stations, _air
) -> None:
    # EBO para. 10: 4.00 m on the open line, 4.50 m in stations. Rounded up to whole millimetres,
    # but for N, which prints 28 in stations for 28.125.
    gauges = {"N": 9.0, "TT": 12.0, "H0": 16.5, "S": 22.5, "0": 32.0, "I": 45.0}
    (row,) = (row for row in scales_for_gauge(gauges[size]) if row.name == size)
    matches.at_most("4.00 m on the open line", 4000 / row.scale, open_line, cell=size)
    assert open_line - 4000 / row.scale < 1 * MM
    if size == "0":
        matches("4.50 m in stations, at 1:43.5", 4500 / 43.5, stations, 0.5 * MM, cell=size)
        assert stations - 4500 / row.scale > 2.5 * MM
    else:
        matches("4.50 m in stations", 4500 / row.scale, stations, 1 * MM, cell=size)
        assert -0.125 * MM <= stations - 4500 / row.scale < 1 * MM
