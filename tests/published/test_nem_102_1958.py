"""NEM 102 of 1958: side-throw factors of two standard vehicles, one with its truck wheelbase.

Source: MOROP, NEM 102, edition 1958, Czech text, part B "profile on the curve". Seen:
http://www.parostroj.net/modely/nem/nem_102.htm. (The curve factor itself is in a picture that was
not legible; the throw is factor / R, in metres.)

Printed, with q the spacing of leading wheelsets or pivots, p the truck wheelbase and n the distance
of the section from the pivot:

- outer widening: q 6.75 m, p 0, n 6.20 m (overhang of the nose): A = 40.15
- inner widening: q 18.0 m, p 3.0 m, n 9.0 m (mid-car): J = 41.63

These are the parabola's n (q + n) / 2 - p^2 / 8 = 40.145 and n (q - n) / 2 + p^2 / 8 = 41.625. The
exact throw comes to them on a very large radius: R times the throw, on 100 km. Both end in a 5 that
is rounded up, so half of the last digit is used up whole; what is beyond it is our radius.

This is the one source that shows the term of the truck wheelbase: without it J would be 40.50.
"""

from numpy.testing import assert_allclose

M = 1000.0
LAST_DIGIT = 0.01
RADIUS_MM = 100_000 * M


def factor_m2(throw_mm: float) -> float:
    """R times the throw. [m^2]"""
    return RADIUS_MM * throw_mm / M**2


def test_outer_widening(end_throw_mm) -> None:
    q, n = 6.75, 6.20
    ours = factor_m2(end_throw_mm(RADIUS_MM, q * M, (q + 2 * n) * M))
    assert_allclose(ours, 40.15, rtol=0, atol=0.5 * LAST_DIGIT + 1e-5)
    assert_allclose(ours, n * (q + n) / 2, rtol=0, atol=1e-5)


def test_inner_widening_with_the_truck_wheelbase(centre_throw_mm) -> None:
    q, p, n = 18.0, 3.0, 9.0
    ours = factor_m2(centre_throw_mm(RADIUS_MM, q * M, p * M))
    assert_allclose(ours, 41.63, rtol=0, atol=0.5 * LAST_DIGIT + 1e-5)
    assert_allclose(ours, n * (q - n) / 2 + p**2 / 8, rtol=0, atol=1e-5)


def test_without_trucks_the_inner_widening_would_be_another(centre_throw_mm) -> None:
    ours = factor_m2(centre_throw_mm(RADIUS_MM, 18.0 * M))
    assert_allclose(ours, 40.50, rtol=0, atol=1e-5)


def test_a_width_takes_a_little_off_the_outer_factor(end_throw_mm) -> None:
    # Not printed, worked by hand: on R 1000 m a 3.15 m wide body has 40.072, for A neglects that
    # the outer corner moves along its own half width as well, about 1 / (1 + w / 2R).
    ours = end_throw_mm(1000 * M, 6.75 * M, 19.15 * M, 3.15 * M)
    assert_allclose(ours, 40.072, rtol=0, atol=0.0005)
