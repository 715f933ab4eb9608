"""Degree of curve on a metric chord: the angle on 30.5 m."""

import pytest

from tests.published.record import MEMORY, SEEN, Source, Work

SOURCE = Source(
    "Indian Railways, degree of curve",
    (
        Work(
            "Indian Railways Permanent Way Manual, chapter 4, para. 401",
            SEEN,
            ("https://www.scribd.com/document/474001814/ch-04a-pdf",),
        ),
    ),
)

M = 1000.0


@pytest.mark.parametrize(
    ("curve_degrees", "radius_m", "where"),
    [(2.0, 875.0, "para. 401"), (1.0, 1750.0, MEMORY)],
)
def test_radius_on_a_30_5_m_chord(matches, chord_radius, curve_degrees, radius_m, where) -> None:
    # Unrounded 873.8 and 1747.6 m: rounded to 5 m.
    ours_m = chord_radius(curve_degrees, 30.5 * M) / M
    cell = f"{curve_degrees:g} on 30.5 m"
    matches("degrees", ours_m, radius_m, 0.5 * 5, "m", where=where, cell=cell)
