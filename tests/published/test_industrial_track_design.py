"""Degree of curve and radius, as an American railway gives them for industrial tracks.

Chord definition R = 50 / sin(D/2), in feet: a chord of 100 ft spans D degrees.
"""

import pytest

from tests.published.record import SEEN, Source, Work

SOURCE = Source(
    "Industrial Track Design, a US railway",
    (
        Work(
            'A US railway company\'s "Industrial Track Design", sections 4.01 and 4.02 (the '
            "company's name is not in the part seen)",
            SEEN,
            ("https://studylib.net/doc/18825269/industrial-track-design",),
        ),
    ),
)

FOOT = 304.8


@pytest.mark.parametrize(("curve_degrees", "radius_ft"), [(12.0, 478.34), (10.0, 573.69)])
def test_printed_radii(matches, degree, chord_radius, curve_degrees, radius_ft) -> None:
    # Two decimals: 0.005 ft. Unrounded 478.339 and 573.686.
    ours_ft = chord_radius(curve_degrees, 100 * FOOT) / FOOT
    cell = f"{curve_degrees:g} deg"
    matches("radius", ours_ft, radius_ft, 0.005, "ft", where="sections 4.01, 4.02", cell=cell)
    # The other way: on the printed radius the chord spans those degrees, to the same rounding.
    spanned = degree(100 * FOOT, radius_ft * FOOT)
    known = {"share": 0.005 / radius_ft, "cell": f"{radius_ft} ft"}
    matches("degree of the printed radius", spanned, curve_degrees, unit="degrees", **known)
