"""Degree of curve by the arc, and the 62-foot string.

Arc definition: 1 degree is 5,729.578 ft, for an arc of 100 ft spans it. The mid-ordinate of a 62 ft
line, in inches, is the degree of curve, "approximately".
"""

import math

import pytest

from clearance.geometry.line import Screw
from tests.published.record import BY_HAND, MEMORY, SEEN, Source, Work

SOURCE = Source(
    "US Army, degree of curve",
    (
        Work(
            "a. US Army, FM 5-430-00-1, Appendix F",
            SEEN,
            ("https://www.globalsecurity.org/military/library/policy/army/fm/5-430-00-1/APPF.htm",),
        ),
        Work(
            "b. US Army, TM 5-628, page of figure 12-4",
            SEEN,
            (
                "http://armytransportation.tpub.com/TM-5-628/"
                "Figure-12-4-Determination-Of-Warp-37.htm",
            ),
        ),
    ),
)

INCH = 25.4
FOOT = 304.8


def test_arc_definition(matches) -> None:
    # Three decimals: 0.0005 ft of 5729.578, as much of the arc of 100 ft.
    along_mm = Screw(5729.578 * FOOT, 0.0).length_per_radian_mm * math.radians(1)
    known = {"share": 0.0005 / 5729.578, "where": "a", "cell": "R 5,729.578 ft"}
    matches("length of 1 degree", along_mm / FOOT, 100.0, unit="ft", **known)


def test_chord_definition_from_memory(matches, chord_radius) -> None:
    ours_ft = chord_radius(1.0, 100 * FOOT) / FOOT
    matches("1 degree on a chord of 100 ft", ours_ft, 5729.65, 0.005, "ft", where=MEMORY)


@pytest.mark.parametrize(
    ("curve_degrees", "by_hand_in"),
    [(1, 1.006), (2, 2.013), (4, 4.025), (8, 8.048), (12, 12.067)],
)
def test_62_foot_string(matches, chord_radius, centre_throw_mm, curve_degrees, by_hand_in) -> None:
    radius_mm = chord_radius(curve_degrees, 100 * FOOT)
    ours_in = centre_throw_mm(radius_mm, 62 * FOOT) / INCH
    # "Approximately": it is 0.6 % high throughout.
    cell = f"{curve_degrees} deg"
    known = {"unit": "in", "share": 0.007, "where": "b", "cell": cell}
    matches("mid-ordinate of 62 ft", ours_in, curve_degrees, **known)
    matches("exact mid-ordinate", ours_in, by_hand_in, 0.0005, "in", where=BY_HAND, cell=cell)
