"""Does the slow drive's line climb as it should where two of its stations are all but one?

By hand, from the definition (G1, docs/theory.md).
"""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tests.geometry.brute_force import BruteLine, BruteTrack, BruteWay


@pytest.mark.parametrize("last", [26.0, 26.0 - 4e-15, 26.0 + 4e-15, 26.0 - 1e-9])
def test_an_end_that_rounding_puts_beside_the_last_station_bends_nothing(last: float) -> None:
    """1.13043... turns of 23 brackets are 25.999999999999996 stations; the rise goes on evenly."""
    rise = 208.88885481827666
    known = tuple(float(k) for k in range(27))
    line = BruteLine(23, 0.0, last, known, tuple(rise * k / 23 for k in known))
    way = BruteWay(line, BruteTrack(1000.0))
    stations = np.array([-2.0, 0.5, 25.5, 26.0, 26.5, 30.0])
    places = stations * 2 * math.pi / 23
    assert_allclose(way.z(places), rise * stations / 23, rtol=1e-13, atol=1e-11)
    assert_allclose(way.slopes, rise / (2 * math.pi), rtol=1e-12)
    down, up = way.slopes_between(places, places + 0.5)
    assert_allclose(up - down, 0.0, atol=1e-10)
