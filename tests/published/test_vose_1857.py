"""Degree of curve and radius, from a handbook of 1857.

A chord of 100 ft spans D degrees: R = 50 / sin(D/2), in feet. The very flat curves are printed as
multiples of 5730 ft: 0.03 %, 1.7 ft at the most.
"""

import pytest
from numpy.testing import assert_allclose

from tests.published.record import SEEN, Source, Work

SOURCE = Source(
    "Vose (1857), degree of curve",
    (
        Work(
            "G. L. Vose, Handbook of Railroad Construction (1857), table of radii",
            SEEN,
            (
                "https://bitlit.ru/page/en/george-l-vose/handbook-of-railroad-construction-for-"
                "the-use-of-american-engineers-containing-the-necessary-rules-tables-and-formulae-"
                "for-the-location-construction-e/46",
            ),
        ),
    ),
    misprints=(
        "6 1/2 degrees is printed as 822.0 ft and must be 882.0. The formula gives 881.95; and R "
        "times D hardly changes from row to row of the table, but for this one.",
    ),
)

FOOT = 304.8
CHORD_MM = 100 * FOOT

# Degrees, radius as printed. [ft]
TABLE = {
    0.25: 22920.0,
    0.5: 11460.0,
    0.75: 7640.0,
    1.0: 5730.0,
    1.25: 4585.0,
    1.5: 3820.0,
    1.75: 3274.0,
    2.0: 2865.0,
    2.5: 2292.0,
    3.0: 1910.0,
    3.5: 1637.0,
    4.0: 1433.0,
    4.5: 1274.0,
    5.0: 1146.0,
    5.5: 1042.0,
    6.0: 955.4,
    6.5: 822.0,
    7.0: 819.0,
    7.5: 764.5,
    8.0: 716.8,
    10.0: 573.7,
}
MISPRINT = 6.5


@pytest.mark.parametrize("curve_degrees", [d for d in TABLE if 2 <= d < 6])
def test_whole_feet(matches, chord_radius, curve_degrees) -> None:
    ours_ft = chord_radius(curve_degrees, CHORD_MM) / FOOT
    cell = f"{curve_degrees:g} deg"
    matches("radius, whole feet", ours_ft, TABLE[curve_degrees], 0.5, "ft", cell=cell)


@pytest.mark.parametrize("curve_degrees", [d for d in TABLE if d >= 6 and d != MISPRINT])
def test_tenths_of_feet(matches, chord_radius, curve_degrees) -> None:
    ours_ft = chord_radius(curve_degrees, CHORD_MM) / FOOT
    cell = f"{curve_degrees:g} deg"
    matches("radius, tenths of feet", ours_ft, TABLE[curve_degrees], 0.05, "ft", cell=cell)


@pytest.mark.parametrize("curve_degrees", [d for d in TABLE if d < 2])
def test_flat_curves(matches, chord_radius, curve_degrees) -> None:
    ours_ft = chord_radius(curve_degrees, CHORD_MM) / FOOT
    known = {"share": 3e-4, "cell": f"{curve_degrees:g} deg"}
    matches("radius, flat curves", ours_ft, TABLE[curve_degrees], unit="ft", **known)


def test_misprint_822_is_882(matches, chord_radius) -> None:
    # First reason, the formula: 881.95 ft.
    ours_ft = chord_radius(MISPRINT, CHORD_MM) / FOOT
    known = {"where": "corrected, printed 822.0", "cell": "6.5 deg"}
    matches("radius, the misprint", ours_ft, 882.0, 0.06, "ft", **known)
    assert abs(ours_ft - TABLE[MISPRINT]) > 59
    # Second, the table itself: R times D hardly changes from row to row, but for this one.
    before, after = 6 * TABLE[6.0], 7 * TABLE[7.0]
    assert_allclose(MISPRINT * 882.0, (before + after) / 2, rtol=5e-4)
    assert abs(MISPRINT * TABLE[MISPRINT] / before - 1) > 0.06
