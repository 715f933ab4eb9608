"""Tell-tales before low bridges, full size and at model size.

Source: Wikipedia, "Tell-tale (bridges)", https://en.wikipedia.org/wiki/Tell-tale_(bridges). Seen:
ropes 3 in (7.6 cm) apart over a width of 8 ft (2.4 m), lower ends 6 in (15 cm) below the
obstruction, at least 100 ft (30 m) before it. The figures at model size, the number of ropes and
the seconds of warning are not printed but worked by hand.
"""

import pytest
from numpy.testing import assert_allclose

from clearance.geometry.stopping import scaled_bridge_warning, stopping_distance_mm

MM = 1.0
CM, M = 10.0, 1000.0
INCH, FOOT = 25.4, 304.8
MPH_MM_S = 5280 * FOOT / 3600


def test_full_size() -> None:
    warning = scaled_bridge_warning(1.0)
    assert_allclose(warning.cords_apart_mm, 3 * INCH, rtol=1e-12)
    assert_allclose(warning.width_mm, 8 * FOOT, rtol=1e-12)
    assert_allclose(warning.drop_mm, 6 * INCH, rtol=1e-12)
    assert_allclose(warning.before_mm, 100 * FOOT, rtol=1e-12)
    # The metric figures beside them, each to half of its last digit (30 m: to half a metre).
    assert_allclose(warning.cords_apart_mm / CM, 7.6, rtol=0, atol=0.05)
    assert_allclose(warning.width_mm / M, 2.4, rtol=0, atol=0.05)
    assert_allclose(warning.drop_mm / CM, 15, rtol=0, atol=0.5)
    assert_allclose(warning.before_mm / M, 30, rtol=0, atol=0.5)
    # 8 ft at 3 in: 32 gaps, so 33 ropes.
    assert_allclose(warning.width_mm / warning.cords_apart_mm, 32, rtol=1e-12)


@pytest.mark.parametrize(
    ("scale", "apart_mm", "width_mm", "drop_mm", "before_mm"),
    [(22.5, 3.4, 108, 6.8, 1355), (32.0, 2.4, 76, 4.8, 953)],
)
def test_model_size(scale, apart_mm, width_mm, drop_mm, before_mm) -> None:
    # Whole millimetres and tenths: half of each.
    warning = scaled_bridge_warning(scale)
    assert_allclose(warning.cords_apart_mm, apart_mm, rtol=0, atol=0.05 * MM)
    assert_allclose(warning.drop_mm, drop_mm, rtol=0, atol=0.05 * MM)
    assert_allclose(warning.width_mm, width_mm, rtol=0, atol=0.5 * MM)
    assert_allclose(warning.before_mm, before_mm, rtol=0, atol=0.5 * MM)


@pytest.mark.parametrize(("mph", "seconds"), [(15, 4.5), (20, 3.4), (30, 2.3)])
def test_seconds_of_warning(mph, seconds) -> None:
    # A man who sees the ropes 100 ft before the bridge, in a train that does not brake in that
    # time: v t, with brakes that take it all at once. Tenths of a second.
    stop_at_once = 1e15
    per_second_mm = float(stopping_distance_mm(mph * MPH_MM_S, stop_at_once, reaction_s=1.0))
    before_mm = scaled_bridge_warning(1.0).before_mm
    assert_allclose(before_mm / per_second_mm, seconds, rtol=0, atol=0.05)
