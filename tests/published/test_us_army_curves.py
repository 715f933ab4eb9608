"""Degree of curve by the arc, and the 62-foot string.

Sources:

- US Army, FM 5-430-00-1, Appendix F. Seen:
  https://www.globalsecurity.org/military/library/policy/army/fm/5-430-00-1/APPF.htm.
  Arc definition: 1 degree is 5,729.578 ft (an arc of 100 ft spans it). By the chord 1 degree is
  5729.65 ft: from memory.
- US Army, TM 5-628, page of figure 12-4. Seen:
  http://armytransportation.tpub.com/TM-5-628/Figure-12-4-Determination-Of-Warp-37.htm.
  The mid-ordinate of a 62 ft line, in inches, is the degree of curve, "approximately".
"""

import math

import pytest
from numpy.testing import assert_allclose

from clearance.geometry.line import Screw

INCH = 25.4
FOOT = 304.8


def test_arc_definition() -> None:
    # Three decimals: 0.0005 ft of 5729.578, as much of the arc of 100 ft.
    along_mm = Screw(5729.578 * FOOT, 0.0).length_per_radian_mm * math.radians(1)
    assert_allclose(along_mm / FOOT, 100.0, rtol=0.0005 / 5729.578)


def test_chord_definition_from_memory(chord_radius) -> None:
    assert_allclose(chord_radius(1.0, 100 * FOOT) / FOOT, 5729.65, rtol=0, atol=0.005)


@pytest.mark.parametrize(
    ("curve_degrees", "by_hand_in"),
    [(1, 1.006), (2, 2.013), (4, 4.025), (8, 8.048), (12, 12.067)],
)
def test_62_foot_string(chord_radius, centre_throw_mm, curve_degrees, by_hand_in) -> None:
    radius_mm = chord_radius(curve_degrees, 100 * FOOT)
    ours_in = centre_throw_mm(radius_mm, 62 * FOOT) / INCH
    # "Approximately": it is 0.6 % high throughout.
    assert_allclose(ours_in, curve_degrees, rtol=0.007)
    assert_allclose(ours_in, by_hand_in, rtol=0, atol=0.0005)
