"""Korea: the structure gauge on curves, 50,000 / R.

Source: Korea, national railway construction rule, article 13(3), as set in an engineer's
examination of 2009 that asks for its derivation. Seen: https://www.peprep.net/questions/94137 (and
a bank's glossary, seen). On curves the gauge is widened on each side by W = 50,000 / R (mm, R in
m). The vehicle is not printed; C^2 / 8 = 50.0 is that of pivots 20 m apart.
"""

import pytest
from numpy.testing import assert_allclose

MM = 1.0
M = 1000.0


@pytest.mark.parametrize(
    ("radius_m", "exact_mm"), [(250.0, 200.08), (100.0, 501.3)], ids=["R 250", "R 100"]
)
def test_widening(centre_throw_mm, radius_m, exact_mm) -> None:
    printed_mm = 50_000 / radius_m  # 200.00 and 500.0
    ours = centre_throw_mm(radius_m * M, 20 * M)
    # The rule is a parabola, low by (C / 4R)^2 = 0.04 and 0.25 %; 1e-5 for the terms beyond.
    assert_allclose(ours, printed_mm, rtol=(20 / (4 * radius_m)) ** 2 + 2e-5)
    assert_allclose(ours, exact_mm, rtol=0, atol=0.05 * MM)  # worked by hand
