"""Angles as people write them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalog.angles import parse_angle, write_angle
from catalog.errors import DataError


@pytest.mark.parametrize(
    "text",
    ["12.5", "12.5 deg", "12.5deg.", "12.5°", " 12.5 degrees ", "12.50 Degree", "012.5"],
)
def test_ways_to_write_an_angle(text: str) -> None:
    assert parse_angle(text) == 12.5


@pytest.mark.parametrize("text", [".5", "0.5", "0.5000004"])
def test_less_than_a_degree(text: str) -> None:
    assert parse_angle(text) == 0.5


@pytest.mark.parametrize(
    "text",
    ["", "deg", "12,5", "-12", "+3", "1e3", "nan", "inf", "12 mm", "12 rad", "1 2", "1" * 99],
)
def test_what_is_no_angle(text: str) -> None:
    with pytest.raises(
        DataError, match=r"is not an angle; write it in degrees, like 12\.5"
    ) as told:
        parse_angle(text)
    assert len(str(told.value)) < 150


@given(st.integers(0, 90_000_000).map(lambda n: n / 1e6))
def test_what_is_written_reads_back_the_same(degrees: float) -> None:
    assert parse_angle(write_angle(degrees)) == degrees


@pytest.mark.parametrize(
    ("degrees", "text"), [(12.5, "12.5 deg"), (12.0, "12 deg"), (90, "90 deg")]
)
def test_how_an_angle_is_written(degrees: float, text: str) -> None:
    assert write_angle(degrees) == text
