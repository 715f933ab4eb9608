"""Stopping distance of a train under steady braking.

Exercises on v^2 / 2a:

- 90 km/h at 0.5 m/s^2 stops in 625 m
- 54 km/h brought to rest in 30 s: 0.5 m/s^2, 225 m
- 0.40 m/s^2 for 25 s: from 10 m/s, 125 m
- 40 m/s at 2 m/s^2: 400 m
"""

import pytest
from numpy.testing import assert_allclose

from clearance.geometry.stopping import stopping_distance_mm
from tests.published.record import SEEN, Source, Work

SOURCE = Source(
    "Stopping distance, textbook answers",
    (
        Work(
            "Textbook exercises on v^2 / 2a with their answers; which books they were in was not "
            "written down",
            SEEN,
        ),
    ),
)

M = 1000.0
KMH = 1000.0 * M / 3600


@pytest.mark.parametrize(
    ("told", "speed_mm_s", "deceleration_mm_s2", "metres"),
    [
        ("90 km/h at 0.5 m/s^2", 90 * KMH, 0.5 * M, 625.0),
        ("54 km/h in 30 s", 54 * KMH, 54 * KMH / 30, 225.0),
        ("25 s at 0.40 m/s^2", 0.40 * M * 25, 0.40 * M, 125.0),
        ("40 m/s at 2 m/s^2", 40 * M, 2 * M, 400.0),
    ],
)
def test_printed_answers(matches, told, speed_mm_s, deceleration_mm_s2, metres) -> None:
    # The answers come out even: nothing is rounded.
    ours_m = stopping_distance_mm(speed_mm_s, deceleration_mm_s2) / M
    matches("stopping distance", ours_m, metres, unit="m", share=1e-12, cell=told)


def test_rest_in_30_s_is_half_a_metre_a_second_squared(matches) -> None:
    assert_allclose(54 * KMH / 30, 0.5 * M, rtol=1e-12)
    ours_m = stopping_distance_mm(54 * KMH, 0.5 * M) / M
    matches("stopping distance", ours_m, 225.0, unit="m", share=1e-12, cell="54 km/h at 0.5 m/s^2")
