"""Degree of curve and radius, as an American railway gives them for industrial tracks.

Source: a US railway company's "Industrial Track Design", sections 4.01 and 4.02. Seen:
https://studylib.net/doc/18825269/industrial-track-design (the company's name is not in the part
seen). Chord definition R = 50 / sin(D/2), in feet: a chord of 100 ft spans D degrees.
"""

import pytest
from numpy.testing import assert_allclose

FOOT = 304.8


@pytest.mark.parametrize(("curve_degrees", "radius_ft"), [(12.0, 478.34), (10.0, 573.69)])
def test_printed_radii(degree, chord_radius, curve_degrees, radius_ft) -> None:
    # Two decimals: 0.005 ft. Unrounded 478.339 and 573.686.
    ours_ft = chord_radius(curve_degrees, 100 * FOOT) / FOOT
    assert_allclose(ours_ft, radius_ft, rtol=0, atol=0.005)
    # The other way: on the printed radius the chord spans those degrees, to the same rounding.
    spanned = degree(100 * FOOT, radius_ft * FOOT)
    assert_allclose(spanned, curve_degrees, rtol=0.005 / radius_ft)
