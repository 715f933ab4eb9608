"""Korea: the structure gauge on curves, 50,000 / R.

On curves the gauge, 4.2 m wide on the straight, is widened on each side by W = 50,000 / R (mm, R
in m). The vehicle is not printed; C^2 / 8 = 50.0 is that of pivots 20 m apart. The rule is a
parabola, and so a little less than what that vehicle takes.
"""

import pytest

from catalog.car import Car
from catalog.helix import Posts
from clearance.judge.check import check
from tests.published.record import BY_HAND, SEEN, Source, Work

SOURCE = Source(
    "Korea, structure gauge on curves",
    (
        Work(
            "Korea, national railway construction rule, article 13(3), as set in an engineer's "
            "examination of 2009 that asks for its derivation",
            SEEN,
            ("https://www.peprep.net/questions/94137",),
        ),
        Work(
            "The same rule in a bank's glossary",
            SEEN,
            (
                "https://svc.wooribank.com/svc/Dream?withyou=CMCOM0074&char1=%EA%B0%80&"
                "char2=%EA%B8%B0%ED%9E%88&seq=1110&keywd=1&keyword=",
            ),
        ),
    ),
)

MM = 1.0
M = 1000.0


@pytest.mark.parametrize(
    ("radius_m", "exact_mm"), [(250.0, 200.08), (100.0, 501.3)], ids=["R 250", "R 100"]
)
def test_widening(matches, centre_throw_mm, radius_m, exact_mm) -> None:
    printed_mm = 50_000 / radius_m  # 200.00 and 500.0
    ours = centre_throw_mm(radius_m * M, 20 * M)
    # The rule is a parabola, low by (C / 4R)^2 = 0.04 and 0.25 %; 1e-5 for the terms beyond.
    share = (20 / (4 * radius_m)) ** 2 + 2e-5
    cell = f"R {radius_m:g} m"
    matches("widening W", ours, printed_mm, share=share, where="art. 13(3)", cell=cell)
    matches("exact widening", ours, exact_mm, 0.05 * MM, where=BY_HAND, cell=cell)


def test_a_vehicle_that_fills_the_gauge_lacks_what_the_parabola_lacks(
    matches, level_helix, fleet_of
) -> None:
    # R 100 m, full size: half of 4.2 m and W = 500 mm; the vehicle takes 501.3 mm.
    helix = level_helix(1435.0, (100 * M,), Posts(inside_mm=2.1 * M + 500.0))
    car = Car(id="coach", height_mm=5150.0, width_mm=4200.0, length_mm=20 * M, wheelbase_mm=20 * M)
    found = check(helix, fleet_of(car)).findings(0, helix.tracks[0].name)
    (gap_mm,) = (finding.gap_mm for finding in found if finding.check == "inner_side")
    matches("left beside it on R 100 m", gap_mm, 500.0 - 501.3, 0.05 * MM, where=BY_HAND)
