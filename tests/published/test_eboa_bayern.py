"""Bavarian EBOA: widening of the track spacing in sidings, by what is allowed to run there.

The columns are for wagons up to a pivot spacing of 20 m, of 6 m, and two-axled ones up to 4.5 m.
The overhang is not printed. What is exact is one-sided: the spacing can never grow by less than the
inside throw does. And the two shorter columns follow K (1/R - 1/250) from 225 down to 35 m, K 21.4
and 13.4 m^2, constants found from the columns themselves: wagons whose nose is 6.54 and 5.18 m from
the middle, for then ct + et is K / R. Printed in steps of 5 and 10 mm.
"""

import math

import pytest

from tests.published.record import SEEN, Source, Work

SOURCE = Source(
    "EBOA, Bavarian sidings",
    (
        Work(
            "Eisenbahn-Bau- und Betriebsordnung fuer Anschlussbahnen (EBOA), Bavaria, Anlage 8 to "
            "para. 8(3), version in force 2013-04-30",
            SEEN,
            ("https://www.gesetze-bayern.de/Content/Document/BayEBOA-ANL_8?view=Print",),
        ),
    ),
)

MM = 1.0
M = 1000.0
# Radius [m], widening for pivots up to 20 m, 6 m, 4.5 m [mm].
TABLE = [
    (225, 50, 15, 10),
    (200, 115, 25, 15),
    (190, 140, 30, 20),
    (180, 180, 40, 30),
    (150, 300, 60, 40),
    (120, 530, 90, 60),
    (100, 750, 130, 80),
    (90, 900, 150, 100),
    (80, 1090, 180, 110),
    (70, 1340, 220, 140),
    (60, 1660, 270, 170),
    (50, 2120, 340, 210),
    (40, 2810, 440, 280),
    (35, 3320, 520, 330),
]
PIVOTS_M = (20.0, 6.0, 4.5)


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"R {row[0]}")
def test_no_less_than_the_inside_throw(matches, centre_throw_mm, row) -> None:
    radius_m, *widenings_mm = row
    for pivots_m, widening_mm in zip(PIVOTS_M, widenings_mm, strict=True):
        at = [centre_throw_mm(radius * M, pivots_m * M) for radius in (radius_m, 250)]
        what = f"inside throw, pivots {pivots_m:g} m apart, beyond R 250"
        matches.at_most(what, at[0] - at[1], widening_mm, where="Anlage 8", cell=f"R {radius_m} m")


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"R {row[0]}")
@pytest.mark.parametrize(("column", "constant_m2"), [(2, 21.4), (3, 13.4)])
def test_grows_as_both_throws_together(
    matches, centre_throw_mm, end_throw_mm, row, column, constant_m2
) -> None:
    pivots_m = PIVOTS_M[column - 1]
    # ct + et = C^2/8R + (L^2 - C^2)/8R = L^2/8R, and exactly a little more.
    length_m = math.sqrt(8 * constant_m2)

    def both_mm(radius_m):
        return centre_throw_mm(radius_m * M, pivots_m * M) + end_throw_mm(
            radius_m * M, pivots_m * M, length_m * M
        )

    ours = both_mm(row[0]) - both_mm(250)
    # A step of 10 mm, whichever way it was rounded.
    what = f"widening of the spacing, pivots {pivots_m:g} m apart"
    matches(what, ours, row[column], 10 * MM, where="Anlage 8", cell=f"R {row[0]} m")
