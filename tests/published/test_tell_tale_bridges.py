"""Tell-tales before low bridges, full size and at model size.

Printed: ropes 3 in (7.6 cm) apart over a width of 8 ft (2.4 m), lower ends 6 in (15 cm) below the
obstruction, at least 100 ft (30 m) before it. The figures at model size, the number of ropes and
the seconds of warning are not printed but worked by hand.
"""

import pytest

from clearance.geometry.stopping import scaled_bridge_warning, stopping_distance_mm
from tests.published.record import BY_HAND, SEEN, Source, Work

SOURCE = Source(
    "Tell-tales before bridges",
    (
        Work(
            'Wikipedia, "Tell-tale (bridges)"',
            SEEN,
            ("https://en.wikipedia.org/wiki/Tell-tale_(bridges)",),
        ),
    ),
)

MM = 1.0
CM, M = 10.0, 1000.0
INCH, FOOT = 25.4, 304.8
MPH_MM_S = 5280 * FOOT / 3600


def test_full_size(matches) -> None:
    warning = scaled_bridge_warning(1.0)
    apart, width = "ropes apart", "width of all ropes"
    drop, before = "ends below the obstruction", "before the obstruction"
    matches(apart, warning.cords_apart_mm / INCH, 3, unit="in", share=1e-12)
    matches(width, warning.width_mm / FOOT, 8, unit="ft", share=1e-12)
    matches(drop, warning.drop_mm / INCH, 6, unit="in", share=1e-12)
    matches(before, warning.before_mm / FOOT, 100, unit="ft", share=1e-12)
    # The metric figures beside them, each to half of its last digit (30 m: to half a metre).
    matches(apart, warning.cords_apart_mm / CM, 7.6, 0.05, "cm")
    matches(width, warning.width_mm / M, 2.4, 0.05, "m")
    matches(drop, warning.drop_mm / CM, 15, 0.5, "cm")
    matches(before, warning.before_mm / M, 30, 0.5, "m")
    # 8 ft at 3 in: 32 gaps, so 33 ropes.
    gaps = warning.width_mm / warning.cords_apart_mm
    matches("gaps between ropes", gaps, 32, unit="", share=1e-12, where=BY_HAND)


@pytest.mark.parametrize(
    ("scale", "apart_mm", "width_mm", "drop_mm", "before_mm"),
    [(22.5, 3.4, 108, 6.8, 1355), (32.0, 2.4, 76, 4.8, 953)],
)
def test_model_size(matches, scale, apart_mm, width_mm, drop_mm, before_mm) -> None:
    # Whole millimetres and tenths: half of each.
    warning = scaled_bridge_warning(scale)
    known = {"where": BY_HAND, "cell": f"1:{scale:g}"}
    matches("model cords apart", warning.cords_apart_mm, apart_mm, 0.05 * MM, **known)
    matches("model ends below", warning.drop_mm, drop_mm, 0.05 * MM, **known)
    matches("model width", warning.width_mm, width_mm, 0.5 * MM, **known)
    matches("model before", warning.before_mm, before_mm, 0.5 * MM, **known)


@pytest.mark.parametrize(("mph", "seconds"), [(15, 4.5), (20, 3.4), (30, 2.3)])
def test_seconds_of_warning(matches, mph, seconds) -> None:
    # A man who sees the ropes 100 ft before the bridge, in a train that does not brake in that
    # time: v t, with brakes that take it all at once. Tenths of a second.
    stop_at_once = 1e15
    per_second_mm = float(stopping_distance_mm(mph * MPH_MM_S, stop_at_once, reaction_s=1.0))
    before_mm = scaled_bridge_warning(1.0).before_mm
    ours_s = before_mm / per_second_mm
    matches("seconds of warning", ours_s, seconds, 0.05, "s", where=BY_HAND, cell=f"{mph} mph")
