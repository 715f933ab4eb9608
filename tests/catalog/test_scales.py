"""Scales: what is taken, what is refused, and the published sizes beyond NEM 010's own table.

Sources of the values checked here:

- MOROP, NEM 104 "structure gauge of narrow-gauge railways", recommendation, edition 1980, Czech
  text, https://www.kolejiste.moraviamodel.cz/modelarske-normy-nem/
  nem-104-svetle-prurezy-uzkorozchodnych-zeleznic (seen): sizes, gauges G, widths B.
- Hobby club page http://gvgrc.ca/aboutgscale.html (seen): the scales that share 45 mm.
"""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from catalog.errors import DataError
from catalog.scales import SCALES, PublishedScale, parse_scale, scales_for_gauge, show_scale

unhurried = settings(deadline=None)

METRE, INCH, FOOT = 1000.0, 25.4, 304.8


def on_gauge(name: str, gauge_mm: float) -> PublishedScale:
    """The one row of this name on this gauge."""
    (row,) = (row for row in scales_for_gauge(gauge_mm) if row.name == name)
    return row


@pytest.mark.parametrize(
    ("text", "scale"),
    [
        ("1:22.5", 22.5),
        ("1/22.5", 22.5),
        ("22.5", 22.5),
        (" 1 : 29 ", 29.0),
        ("1:20.32", 20.32),
        ("1:1", 1.0),
        ("1:1000", 1000.0),
    ],
)
def test_a_scale_is_read(text: str, scale: float) -> None:
    assert parse_scale(text) == scale


@pytest.mark.parametrize(
    "text",
    [
        *("", " ", "0", "1:0", "0:1", "1:", ":22.5", "nan", "1:nan", "inf", "2:1", "1e99", "1:1e2"),
        *("-22.5", "1:-22.5", "1:22,5", "0.5", "1:0.9", "1:1000.1", "1:22.5:3", "1.2.3", "H0", "G"),
        *("1:\u0662\u0662", "22_5", "1:22.5 scale", "1:22.5\x1b[2J"),
    ],
)
def test_what_is_no_scale_is_refused_with_a_sentence(text: str) -> None:
    with pytest.raises(
        DataError, match=r"write it like 1:22\.5, between 1:1 and 1:1000"
    ) as refused:
        parse_scale(text)
    assert str(refused.value).isprintable()
    assert text[:6] in str(refused.value)  # whoever reads it must find the cell


def test_a_long_text_is_refused_at_once_and_shown_cut() -> None:
    for text in ("9" * 1_000_000, "1 " * 1_000_000, "1:" * 1_000_000, "1" + " " * 1_000_000 + "x"):
        with pytest.raises(DataError) as refused:
            parse_scale(text)
        assert len(str(refused.value)) < 200


@unhurried
@given(st.text() | st.text("0123456789.:/ e-", max_size=10))
def test_any_text_is_a_scale_or_a_data_error(text: str) -> None:
    try:
        scale = parse_scale(text)
    except DataError:
        return
    assert 1.0 <= scale <= 1000.0
    assert parse_scale(show_scale(scale)) == scale


@unhurried
@given(st.floats(1.0, 1000.0))
def test_a_shown_scale_reads_back_the_same(scale: float) -> None:
    assert parse_scale(show_scale(scale)) == scale


def test_scales_are_shown_as_they_are_said() -> None:
    assert [show_scale(scale) for scale in (22.5, 29.0, 29, 87.1, 1.0, 1000.0)] == [
        "1:22.5",
        "1:29",
        "1:29",
        "1:87.1",
        "1:1",
        "1:1000",
    ]


@pytest.mark.parametrize("gauge_mm", [0.0, -45.0, 40.0, 1435.0, math.nan, math.inf])
def test_a_gauge_that_nobody_published_has_no_scales(gauge_mm: float) -> None:
    assert scales_for_gauge(gauge_mm) == ()


def test_a_gauge_takes_what_is_within_a_millimetre_largest_models_first() -> None:
    on_45 = scales_for_gauge(45.0)
    assert [row.scale for row in on_45] == sorted(row.scale for row in on_45)
    assert scales_for_gauge(44.0) == scales_for_gauge(46.0) == on_45
    assert scales_for_gauge(43.9) == scales_for_gauge(46.1) == ()


def test_no_gauge_is_within_reach_of_another() -> None:
    # What lets a millimetre of tolerance be safe.
    for row in SCALES:
        assert {near.gauge_mm for near in scales_for_gauge(row.gauge_mm)} == {row.gauge_mm}


def test_every_row_says_who_published_it_and_none_is_there_twice() -> None:
    assert all(row.source for row in SCALES)
    assert len({(row.scale, row.gauge_mm) for row in SCALES}) == len(SCALES)


# NEM 104 (1980): size, gauge G, width B. [mm] As printed, but for IIm and IIe, see below.
NEM_104 = [
    *(("Nm", 6.5, 22), ("TTm", 9, 28), ("H0m", 12, 38), ("Sm", 16.5, 52), ("0m", 22.5, 74)),
    *(("Im", 32, 104), ("IIm", 45, 146)),
    *(("TTe", 6.5, 26), ("H0e", 9, 36), ("Se", 12, 50), ("0e", 16.5, 70), ("Ie", 22.5, 98)),
    ("IIe", 32, 138),
]


@pytest.mark.parametrize(("name", "gauge_mm"), [(name, gauge) for name, gauge, _ in NEM_104])
def test_nem_104_sizes_run_on_their_gauges(name: str, gauge_mm: float) -> None:
    row = on_gauge(name, gauge_mm)
    least_mm, greatest_mm = row.prototype_mm
    assert (least_mm, greatest_mm) == ((850, 1250) if name.endswith("m") else (650, 850))
    assert least_mm <= gauge_mm * row.scale <= greatest_mm
    assert "NEM 104" in row.source or name == "IIm"  # IIm on 45 mm is in NEM 010 itself


@pytest.mark.parametrize(
    ("suffix", "least_mm", "greatest_mm"), [("m", 3285, 3520), ("e", 3105, 3200)]
)
def test_nem_104_misprint_iiim_and_iiie_are_iim_and_iie(
    suffix: str, least_mm: float, greatest_mm: float
) -> None:
    # The copy prints "IIIm" (45 mm, B 146) and "IIIe" (32 mm, B 138). NEM 010 gives these gauges to
    # size II; and at its 1:22.5 they are, full size, as wide as the rest of their column:
    full_size_mm = {
        name: width_mm * on_gauge(name, gauge_mm).scale
        for name, gauge_mm, width_mm in NEM_104
        if name.endswith(suffix)
    }
    assert_allclose(min(full_size_mm.values()), least_mm, rtol=0, atol=0.5)
    assert_allclose(max(full_size_mm.values()), greatest_mm, rtol=0, atol=0.5)
    # At size III's 1:16 they would be over a quarter narrower than the narrowest of the others.
    (width_mm,) = (width for name, _, width in NEM_104 if name == f"II{suffix}")
    assert width_mm * on_gauge("III", 89).scale < 0.75 * min(full_size_mm.values())


@pytest.mark.parametrize(
    ("text", "prototype_mm", "rtol"),
    [
        # 914.4 / 20.3 = 45.04; 1000 / 22.5 = 44.4; 1435 / 32 = 44.8: right within 1.3 %
        ("1:20.3", 3 * FOOT, 0.013),
        ("1:22.5", METRE, 0.013),
        ("1:32", 56.5 * INCH, 0.013),
        # 1435 / 29 = 49.5: the model is 10 % wide for its track
        ("1:29", 56.5 * INCH, 0.10),
    ],
)
def test_four_scales_share_45_mm(text: str, prototype_mm: float, rtol: float) -> None:
    (row,) = (row for row in scales_for_gauge(45.0) if row.scale == parse_scale(text))
    assert row.prototype_mm[0] - 1 <= prototype_mm <= row.prototype_mm[1] + 1
    assert_allclose(prototype_mm / row.scale, row.gauge_mm, rtol=rtol)


def test_1_29_is_a_tenth_wide_for_45_mm() -> None:
    (row,) = (row for row in scales_for_gauge(45.0) if row.scale == 29.0)
    assert_allclose(row.prototype_mm[0] / row.scale, 49.5, rtol=0, atol=0.05)  # the page's figure
    assert_allclose(row.prototype_mm[0] / row.scale / row.gauge_mm, 1.10, rtol=0, atol=0.005)
