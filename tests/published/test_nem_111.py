"""NEM 111: the least radii of curves.

A vehicle with a rigid wheelbase may meet the rail at an angle of at most 12 degrees: the angle
between its own middle line and the track where its axle stands. The table of radii for H0 goes by
the groups of coaches of NEM 103; it consists of 22 to 45 times the gauge of H0, and of 15 to 30
times that of the narrow gauges, rounded down to whole millimetres.
"""

import pytest

from catalog.scales import scales_for_gauge
from tests.published.record import BY_HAND, SECOND_HAND, SEEN, Source, Work

SOURCE = Source(
    "NEM 111 (2016), least radii",
    (
        Work(
            'a. MOROP, NEM 111 "Kleinste Bogenradien", edition 2016 (replaces 2015), the opening '
            "only",
            SEEN,
            (
                "https://de.scribd.com/document/475423864/nem111-d",
                "http://doczz.fr/doc/4859745/nem-111-rayons-de-courbure-minimaux",
            ),
        ),
        Work(
            "b. Its table for H0, as quoted in a German list of frequent questions of 2012",
            SECOND_HAND,
            ("https://www.yumpu.com/de/document/view/3487945/haufig-gestellte-fragen-zum-thema/6",),
        ),
    ),
)

MM = 1.0
PLACES = ("least", "station siding", "branch main", "main line")
# Size, gauge [mm]: what of the table runs on it, multiples of the gauge, radii as printed [mm].
TABLE = [
    ("H0", 16.5, "A", (22, 25, 30, 35), (363, 412, 495, 577)),
    ("H0", 16.5, "B", (25, 30, 35, 40), (412, 495, 577, 660)),
    ("H0", 16.5, "C", (30, 35, 40, 45), (495, 577, 660, 742)),
    ("H0e", 9.0, "narrow", (15, 20, 25, 30), (135, 180, 225, 270)),
    ("H0m", 12.0, "narrow", (15, 20, 25, 30), (180, 240, 300, 360)),
]


@pytest.mark.parametrize(("size", "gauge_mm", "group", "multiples", "radii_mm"), TABLE)
def test_radii_are_multiples_of_the_gauge(
    matches, size, gauge_mm, group, multiples, radii_mm
) -> None:
    (row,) = (row for row in scales_for_gauge(gauge_mm) if row.name == size)
    for place, multiple, radius_mm in zip(PLACES, multiples, radii_mm, strict=True):
        ours = multiple * row.gauge_mm
        cell = f"{size} {group}, {place}"
        matches("multiple of the gauge", ours, radius_mm, 0.5 * MM, where="b", cell=cell)
        assert int(ours) == radius_mm


@pytest.mark.parametrize(
    ("size", "radius_mm", "axles_m", "told"),
    [
        ("H0", 363.0, 6.75, "6.75 m, the longest of NEM 102 (1958)"),
        ("H0e", 135.0, 4.5, "4.5 m, the longest of the Bavarian EBOA, Anlage 8"),
    ],
)
def test_two_axled_vehicles_meet_the_rail_at_12_degrees_at_most(
    matches, degree, size, radius_mm, axles_m, told
) -> None:
    # Both at 1:87. The axles span an angle; the body lies half of it off the track at each.
    ours = degree(1000 * axles_m / 87, radius_mm) / 2
    cell = f"{size}, R {radius_mm:g}, axles {told}"
    matches.at_most("angle of attack", ours, 12.0, unit="degrees", where="a", cell=cell)


def test_longest_rigid_wheelbase_on_the_least_radius(matches, degree) -> None:
    # 2 R sin(12 deg): 150.94 mm on R 363.
    ours = degree(150.94, 363.0) / 2
    matches("angle of attack, 150.94 mm on R 363", ours, 12.0, 0.0005, "degrees", where=BY_HAND)
