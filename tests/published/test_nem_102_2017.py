"""NEM 102: the structure gauge on straight track, and what NEM 301 lets run through it.

Of the gauge BL1 is the greatest width and HL4 the height of its top over the railhead
(tests/data/published/nem_102_2017.csv, as printed, mm), of the vehicle B1 the greatest width and H4
the greatest height (tests/data/published/nem_301_1979.csv, as printed, mm). A car 1 mm long on a
radius of 100 m stands for one on the straight: it swings by a hundred-thousandth of a millimetre.
"""

import pytest

from catalog.car import Car
from catalog.helix import Obstacle, Posts
from clearance.judge.check import check
from tests.published.record import SEEN, Source, Work

SOURCE = Source(
    "NEM 102 (2017), gauge on straight track",
    (
        Work(
            'MOROP, NEM 102 "Umgrenzung des lichten Raumes bei gerader Gleisfuehrung", binding '
            "standard, edition 2017 (replaces 2016), 1 page. Standard and broad gauge prototypes",
            SEEN,
            ("https://de.scribd.com/document/475422651/nem102-d",),
        ),
        Work(
            "MOROP, NEM 301, greatest outline of vehicles, binding standard, edition 1979, Czech "
            "text",
            SEEN,
            ("https://www.kolejiste.moraviamodel.cz/modelarske-normy-nem/nem-301-obrys-vozidel",),
        ),
    ),
)

STRAIGHT_MM = 100_000.0

# Air beside and above a vehicle of the greatest outline, printed width less printed width, halved,
# and printed height less printed height. [mm]
AIR = {
    "Z": (1.5, 1.0),
    "N": (2.0, 1.0),
    "TT": (3.0, 1.0),
    "H0": (4.0, 2.0),
    "S": (6.0, 3.0),
    "0": (8.0, 3.0),
    "I": (10.0, 4.0),
}


@pytest.fixture(scope="module")
def gaps_mm(printed, level_helix, fleet_of):
    """Gaps that `check` finds for a car of some width and height in a size's gauge. [mm]"""

    def judged(size, width_mm, height_mm):
        (gauge,) = (row for row in printed("nem_102_2017.csv") if row["size"] == size)
        half_mm = float(gauge["BL1"]) / 2
        portal = Obstacle(name="portal", station=3, headroom_mm=float(gauge["HL4"]), width_mm=0.0)
        helix = level_helix(
            float(gauge["G"]),
            (STRAIGHT_MM,),
            Posts(inside_mm=half_mm, outside_mm=half_mm),
            (portal,),
        )
        car = Car(id=size, height_mm=height_mm, width_mm=width_mm, length_mm=1.0, wheelbase_mm=1.0)
        found = check(helix, fleet_of(car)).findings(0, helix.tracks[0].name)
        return {finding.check: finding.gap_mm for finding in found}

    return judged


@pytest.mark.parametrize("size", AIR)
def test_greatest_vehicle_has_the_printed_air(matches, gaps_mm, printed, size) -> None:
    (vehicle,) = (row for row in printed("nem_301_1979.csv") if row["size"] == size)
    gaps = gaps_mm(size, float(vehicle["B1"]), float(vehicle["H4"]))
    side, top = AIR[size]
    matches("air inside", gaps["inner_side"], side, 1e-4, where="BL1 less B1", cell=size)
    matches("air outside", gaps["outer_side"], side, 1e-4, where="BL1 less B1", cell=size)
    matches("air above", gaps["overhead"], top, 1e-4, where="HL4 less H4", cell=size)


@pytest.mark.parametrize("size", [*AIR, "II"])
def test_a_body_that_fills_the_gauge_has_none(matches, gaps_mm, printed, size) -> None:
    (gauge,) = (row for row in printed("nem_102_2017.csv") if row["size"] == size)
    gaps = gaps_mm(size, float(gauge["BL1"]), float(gauge["HL4"]))
    for place in ("inner_side", "outer_side", "overhead"):
        cell = f"{size}, {place.replace('_', ' ')}"
        matches("air of a body that fills the gauge", gaps[place], 0.0, 1e-4, cell=cell)
