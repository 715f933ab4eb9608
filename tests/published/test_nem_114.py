"""NEM 114: the greatest cant, and how far it leans a car.

Cant is at most G/15, and a table recommends the greatest for each track gauge. What it does to a
car is not printed: at height h above the railhead a car leans inwards by h u / G, worked by hand.
"""

import pytest

from catalog.car import Car
from catalog.helix import Posts
from clearance.judge.check import check
from tests.published.record import BY_HAND, SEEN, Source, Work

SOURCE = Source(
    "NEM 114 (2007), cant",
    (
        Work(
            'MOROP, NEM 114 "Ueberhoehung im Gleisbogen", recommendation, edition 2007 (replaces '
            "1983)",
            SEEN,
            ("http://chemnitz-modellbahn.de/PDF/Modellbahn/Norm/files/basic-html/page61.html",),
        ),
    ),
)

MM = 1.0

# Printed: track gauge G, recommended greatest cant u. [mm]
TABLE = [
    (6.5, 0.4),
    (9.0, 0.6),
    (12.0, 0.8),
    (16.5, 1.0),
    (22.5, 1.5),
    (32.0, 2.0),
    (45.0, 3.0),
    (64.0, 4.0),
]


@pytest.fixture(scope="module")
def lean_mm(level_helix, fleet_of):
    """How much room at the inner side cant takes from a mast of some height, by `check`. [mm]"""

    def asked(gauge_mm, cant_mm, height_mm):
        mast = Car(
            id="mast", height_mm=height_mm, width_mm=0.001, length_mm=0.001, wheelbase_mm=0.001
        )
        gaps = []
        for cant in (0.0, cant_mm):
            helix = level_helix(gauge_mm, (5000.0,), Posts(inside_mm=100.0), cant_mm=cant)
            found = check(helix, fleet_of(mast)).findings(0, helix.tracks[0].name)
            gaps += [finding.gap_mm for finding in found if finding.check == "inner_side"]
        level, canted = gaps
        return level - canted

    return asked


def test_3_mm_on_45_moves_a_roof_150_mm_up_by_10(matches, lean_mm) -> None:
    ours = lean_mm(45.0, 3.0, 150.0)
    matches("3 mm on 45 mm, roof 150 mm up", ours, 10.0, 1e-5 * MM, where=BY_HAND)


@pytest.mark.parametrize(("gauge_mm", "cant_mm"), TABLE)
def test_lean_of_the_recommended_cant(matches, lean_mm, gauge_mm, cant_mm) -> None:
    height_mm = 4.0 * gauge_mm
    ours = lean_mm(gauge_mm, cant_mm, height_mm)
    by_hand_mm = height_mm * cant_mm / gauge_mm
    cell = f"G {gauge_mm:g}, u {cant_mm:g}"
    matches("lean 4 G up, table's cant", ours, by_hand_mm, 1e-5 * MM, where=BY_HAND, cell=cell)
    # Every recommended cant is G/15, rounded down to a handy figure.
    assert 0.9 * height_mm / 15 < ours
    matches.at_most("lean 4 G up, of G/15", ours, height_mm / 15, cell=cell)
