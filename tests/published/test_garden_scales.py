"""What else runs on 45 mm: the scales of garden railways.

A club's page names four scales on one gauge, and the railways that they stand for: 3 ft gauge at
1:20.3, metre gauge at 1:22.5, standard gauge at 1:29 and at 1:32. How well each fits the track is
worked by hand; 1:29 is a tenth too large for it.
"""

import pytest

from catalog.scales import parse_scale, scales_for_gauge
from tests.published.record import BY_HAND, SEEN, Source, Work

SOURCE = Source(
    "Garden scales on 45 mm",
    (
        Work(
            "A hobby club's page on the scales of garden railways",
            SEEN,
            ("http://gvgrc.ca/aboutgscale.html",),
        ),
    ),
)

MM = 1.0


@pytest.mark.parametrize(
    ("scale", "full_size_mm", "by_hand_mm", "half_digit_mm"),
    [
        ("1:20.3", 914.4, 45.04, 0.005),
        ("1:22.5", 1000.0, 44.4, 0.05),
        ("1:29", 1435.0, 49.5, 0.05),
        ("1:32", 1435.0, 44.8, 0.05),
    ],
)
def test_scales_on_45_mm(matches, scale, full_size_mm, by_hand_mm, half_digit_mm) -> None:
    (row,) = (row for row in scales_for_gauge(45.0) if row.scale == parse_scale(scale))
    matches.exactly("gauge that it runs on", row.gauge_mm, 45.0, "mm", cell=scale)
    least, most = row.prototype_mm
    assert least <= full_size_mm <= most
    model_mm = full_size_mm / row.scale
    known = {"where": BY_HAND, "cell": f"{full_size_mm:g} mm at {scale}"}
    matches("model of the full-size gauge", model_mm, by_hand_mm, half_digit_mm, **known)
