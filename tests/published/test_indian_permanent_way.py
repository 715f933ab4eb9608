"""Degree of curve on a metric chord.

Source: Indian Railways Permanent Way Manual, chapter 4, para. 401. Seen:
https://www.scribd.com/document/474001814/ch-04a-pdf. The degree is the angle on a chord of 30.5 m;
2 degrees are printed as 875 m. (1 degree as 1750 m: from memory.)
"""

import pytest
from numpy.testing import assert_allclose

M = 1000.0


@pytest.mark.parametrize(("curve_degrees", "radius_m"), [(2.0, 875.0), (1.0, 1750.0)])
def test_radius_on_a_30_5_m_chord(chord_radius, curve_degrees, radius_m) -> None:
    # Unrounded 873.8 and 1747.6 m: rounded to 5 m.
    ours_m = chord_radius(curve_degrees, 30.5 * M) / M
    assert_allclose(ours_m, radius_m, rtol=0, atol=0.5 * 5)
