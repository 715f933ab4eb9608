"""NEM 301 with NEM 102 and NEM 103: does the greatest vehicle go through the widened gauge?

Three standards of one body: a vehicle no wider than NEM 301 lets it be (B1), in the gauge of
NEM 102 (BL1), widened on both sides by NEM 103 (E). Each printed number is a whole millimetre. The
tables are in tests/data/published, as printed.
"""

import pytest

from catalog.car import Car
from catalog.helix import Posts
from catalog.scales import scales_for_gauge
from clearance.judge.check import check
from tests.published.record import BY_HAND, SEEN, Source, Work

SOURCE = Source(
    "NEM 301 with NEM 102 and NEM 103",
    (
        Work(
            "MOROP, NEM 301, greatest outline of vehicles, binding standard, edition 1979, Czech "
            "text",
            SEEN,
            ("https://www.kolejiste.moraviamodel.cz/modelarske-normy-nem/nem-301-obrys-vozidel",),
        ),
        Work(
            'MOROP, NEM 102 "Umgrenzung des lichten Raumes bei gerader Gleisfuehrung", binding '
            "standard, edition 2017",
            SEEN,
            ("https://de.scribd.com/document/475422651/nem102-d",),
        ),
        Work(
            'MOROP, NEM 103 "Umgrenzung des lichten Raumes bei Gleisfuehrung im Bogen", binding '
            "standard, edition 2016, pages 1 and 2",
            SEEN,
            (
                "http://chemnitz-modellbahn.de/PDF/Modellbahn/Norm/files/basic-html/page40.html",
                "http://chemnitz-modellbahn.de/PDF/Modellbahn/Norm/files/basic-html/page41.html",
            ),
        ),
    ),
)

MM = 1.0

# NEM 103 page 1: group, body length, pivot spacing. [m]
COACHES = {"A": (20.0, 14.0), "B": (24.2, 17.2), "C": (27.2, 19.5)}
COLUMNS = [f"{size} {group}" for size in ("Z", "N", "TT", "H0", "S", "0") for group in "ABC"]
COLUMNS += ["I A"]


@pytest.fixture(scope="module")
def rows(printed):
    """The row of a size in one of the tables."""

    def row(table, size):
        (found,) = (row for row in printed(table) if row["size"] == size)
        return found

    return row


@pytest.fixture(scope="module")
def coach(rows):
    """The widest coach of a group, and the scale at which NEM 103 works it."""

    def made(size, group):
        vehicle = rows("nem_301_1979.csv", size)
        (known,) = (row for row in scales_for_gauge(float(vehicle["G"])) if row.name == size)
        scale = 43.5 if size == "0" else known.scale  # see test_nem_103.py
        length_m, pivots_m = COACHES[group]
        return Car(
            id=f"{size} {group}",
            height_mm=float(vehicle["H4"]),
            width_mm=float(vehicle["B1"]),
            length_mm=1000 * length_m / scale,
            wheelbase_mm=1000 * pivots_m / scale,
        )

    return made


@pytest.fixture(scope="module")
def side_gaps_mm(rows, level_helix, fleet_of):
    """Side gaps of a coach between posts that stand at the widened gauge. [mm]"""

    def judged(size, radius_mm, widening_mm, car):
        gauge = rows("nem_102_2017.csv", size)
        post_mm = float(gauge["BL1"]) / 2 + widening_mm
        posts = Posts(inside_mm=post_mm, outside_mm=post_mm)
        helix = level_helix(float(gauge["G"]), (radius_mm,), posts)
        found = check(helix, fleet_of(car)).findings(0, helix.tracks[0].name)
        return {f.check: f.gap_mm for f in found if f.check.endswith("side")}

    return judged


def test_gauge_i_on_radius_1200(matches, coach, side_gaps_mm) -> None:
    # NEM 103 prints E = 16. Half of 110 and the throw of 437.5 make 55 + 20.1 = 75.1 mm; the gauge
    # leaves 130/2 + 16 = 81 mm: 5.9 mm of air on the inside. One decimal: 0.05.
    car = coach("I", "A")
    assert (car.width_mm, car.wheelbase_mm) == (110.0, 437.5)
    gaps = side_gaps_mm("I", 1200.0, 16.0, car)
    ours = gaps["inner_side"]
    matches("I A on R 1200, air inside", ours, 5.9, 0.05 * MM, where=BY_HAND)
    assert gaps["outer_side"] > 0


@pytest.mark.parametrize("name", COLUMNS)
def test_widest_coach_clears_wherever_a_widening_is_printed(
    matches, printed, coach, side_gaps_mm, name
) -> None:
    size, group = name.split()
    car = coach(size, group)
    for row in printed("nem_103_2016.csv"):
        if row[name] not in ("", "0"):
            gaps = side_gaps_mm(size, float(row["radius_mm"]), float(row[name]), car)
            cell = f"{name}, R {row['radius_mm']}"
            matches.more_than("air inside of the widest coach", gaps["inner_side"], 0.0, cell=cell)
            matches.more_than("air outside of the widest coach", gaps["outer_side"], 0.0, cell=cell)
            # NEM 103 page 1: the largest movement is on the inside. Group A's ends swing out as
            # far as its middle swings in, but for 0.05 mm.
            assert gaps["inner_side"] < gaps["outer_side"] + 0.1 * MM
