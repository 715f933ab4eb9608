"""Widening rules of five railways, and the vehicle behind each. From memory.

Widening in mm, R in m. Each number is confirmed by its own reference vehicle, bogie centres C and
length L, also from memory: a check of consistency, not of authority. The constant is R times the
throw on a very large radius, in m^2, and is compared to its last digit that is not zero.
"""

import math

import pytest

from tests.published.record import BY_HAND, MEMORY, Source, Work

SOURCE = Source(
    "Reference vehicles of five railways",
    (
        Work(
            "Indian Railways, Schedule of Dimensions, broad gauge: 27330 / R inside, 29600 / R "
            "outside",
            MEMORY,
        ),
        Work(
            "China, GB 146.2: 40500 / R and 44000 / R. A web copy was seen, without its formulas",
            MEMORY,
            ("http://m.jianbiaoku.com/webarbs/book/160432/4852099.shtml",),
        ),
        Work("Russia, GOST 9238: 36000 / R and 36000 / R", MEMORY),
        Work("UIC, EN 15273, static, R >= 150 m: 50 / R (m) inside", MEMORY),
        Work("Sweden: 41000 / R and 31000 / R", MEMORY),
    ),
)

M = 1000.0
FAR_M = 20_000.0

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
WORKED = [
    (14.785, 21.340, 27.325, 29.600),
    (18.0, 26.0, 40.500, 44.000),
    (17.0, 24.0, 36.125, 35.875),
    (18.1, 24.0, 40.951, 31.049),
]


@pytest.mark.parametrize(("railway", "c", "length", "inside", "outside", "rounding"), RULES)
def test_constant(
    matches, centre_throw_mm, end_throw_mm, railway, c, length, inside, outside, rounding
) -> None:
    ours = FAR_M * centre_throw_mm(FAR_M * M, c * M) / M
    matches("inside, R times throw", ours, inside, rounding, "m^2", cell=railway)
    if length is not None:
        ours = FAR_M * end_throw_mm(FAR_M * M, c * M, length * M) / M
        matches("outside, R times throw", ours, outside, rounding, "m^2", cell=railway)


@pytest.mark.parametrize(("c", "length", "inside", "outside"), WORKED)
def test_constant_by_hand(
    matches, centre_throw_mm, end_throw_mm, c, length, inside, outside
) -> None:
    ours_in = FAR_M * centre_throw_mm(FAR_M * M, c * M) / M
    ours_out = FAR_M * end_throw_mm(FAR_M * M, c * M, length * M) / M
    known = {"where": BY_HAND, "cell": f"C {c:g} m, L {length:g} m"}
    matches("C^2 / 8", ours_in, inside, 0.0006, "m^2", **known)
    matches("(L^2 - C^2) / 8", ours_out, outside, 0.0006, "m^2", **known)


@pytest.mark.parametrize(("c", "length", "inside", "outside"), WORKED)
@pytest.mark.parametrize("radius_m", [150.0, 300.0, 600.0])
def test_one_over_r(
    matches, centre_throw_mm, end_throw_mm, c, length, inside, outside, radius_m
) -> None:
    # On a real curve the exact throws leave 1/R by (C/4R)^2 and about (L^2 + C^2)/16R^2, no more.
    ours_in = centre_throw_mm(radius_m * M, c * M) * radius_m / M
    ours_out = end_throw_mm(radius_m * M, c * M, length * M) * radius_m / M
    known = {"unit": "m^2", "where": BY_HAND, "cell": f"C {c:g} m, R {radius_m:g} m"}
    inside_share = 1.1 * (c / (4 * radius_m)) ** 2 + 3e-5
    matches("C^2 / 8 on a real curve", ours_in, inside, share=inside_share, **known)
    outside_share = (math.hypot(length, c) / (4 * radius_m)) ** 2 + 3e-5
    matches("(L^2 - C^2) / 8 on a real curve", ours_out, outside, share=outside_share, **known)
    assert ours_in > c * c / 8
