"""Widening rules of five railways, and the vehicle behind each. From memory.

Sources, all from memory, not seen in print (for China GB 146.2 a web copy was seen without its
formulas, http://m.jianbiaoku.com/webarbs/book/160432/4852099.shtml):

- Indian Railways, Schedule of Dimensions, broad gauge: 27330 / R inside, 29600 / R outside
- China, GB 146.2: 40500 / R and 44000 / R
- Russia, GOST 9238: 36000 / R and 36000 / R
- UIC, EN 15273, static, R >= 150 m: 50 / R (m) inside
- Sweden: 41000 / R and 31000 / R

(mm, R in m.) Each number is confirmed by its own reference vehicle, bogie centres C and length L,
also from memory: a check of consistency, not of authority. The constant is R times the throw on a
very large radius, in m^2, and is compared to its last digit that is not zero.
"""

import math

import pytest
from numpy.testing import assert_allclose

M = 1000.0
FAR_M = 100_000.0

# Railway, C, L [m], inside, outside [m^2], what the rounding may be: half of the last digit; 27330
# is the Indian vehicle's 27324.5 rounded up to a full ten.
RULES = [
    ("Indian broad gauge", 14.785, 21.340, 27.33, 29.60, 0.01),
    ("China GB 146.2", 18.0, 26.0, 40.5, 44.0, 0.05),
    ("Russia GOST 9238", 17.0, 24.0, 36.0, 36.0, 0.5),
    ("UIC", 20.0, None, 50.0, None, 0.5),
    ("Sweden", 18.1, 24.0, 41.0, 31.0, 0.5),
]
# The same vehicles' constants to three decimals, worked by hand: C^2 / 8 and (L^2 - C^2) / 8.
BY_HAND = [
    (14.785, 21.340, 27.325, 29.600),
    (18.0, 26.0, 40.500, 44.000),
    (17.0, 24.0, 36.125, 35.875),
    (18.1, 24.0, 40.951, 31.049),
]


@pytest.mark.parametrize(("railway", "c", "length", "inside", "outside", "rounding"), RULES)
def test_constant(
    centre_throw_mm, end_throw_mm, railway, c, length, inside, outside, rounding
) -> None:
    ours = FAR_M * centre_throw_mm(FAR_M * M, c * M) / M
    assert_allclose(ours, inside, rtol=0, atol=rounding, err_msg=railway)
    if length is not None:
        ours = FAR_M * end_throw_mm(FAR_M * M, c * M, length * M) / M
        assert_allclose(ours, outside, rtol=0, atol=rounding, err_msg=railway)


@pytest.mark.parametrize(("c", "length", "inside", "outside"), BY_HAND)
def test_constant_by_hand(centre_throw_mm, end_throw_mm, c, length, inside, outside) -> None:
    ours_in = FAR_M * centre_throw_mm(FAR_M * M, c * M) / M
    ours_out = FAR_M * end_throw_mm(FAR_M * M, c * M, length * M) / M
    assert_allclose(ours_in, inside, rtol=0, atol=0.0006)
    assert_allclose(ours_out, outside, rtol=0, atol=0.0006)


@pytest.mark.parametrize(("c", "length", "inside", "outside"), BY_HAND)
@pytest.mark.parametrize("radius_m", [150.0, 300.0, 600.0])
def test_one_over_r(centre_throw_mm, end_throw_mm, c, length, inside, outside, radius_m) -> None:
    # On a real curve the exact throws leave 1/R by (C/4R)^2 and about (L^2 + C^2)/16R^2, no more.
    ours_in = centre_throw_mm(radius_m * M, c * M) * radius_m / M
    ours_out = end_throw_mm(radius_m * M, c * M, length * M) * radius_m / M
    assert_allclose(ours_in, inside, rtol=1.1 * (c / (4 * radius_m)) ** 2 + 3e-5)
    assert_allclose(ours_out, outside, rtol=(math.hypot(length, c) / (4 * radius_m)) ** 2 + 3e-5)
    assert ours_in > c * c / 8
