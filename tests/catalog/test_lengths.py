"""Lengths: what is written reads back, what is shown errs to the safe side, doubt is refused.

The inch is 25.4 mm exactly (international yard and pound agreement, 1959; from memory). Expected
values in this file are worked by hand or by exact fractions, never by the module under test.
"""

import math
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from catalog.errors import LengthError
from catalog.lengths import (
    LONGEST_MM,
    LONGEST_TEXT,
    Rounding,
    Unit,
    parse_length,
    show_inches,
    show_length,
    show_mm,
    show_within,
    write_length,
)

FINEST_MM = 1e-6  # lengths are kept to this
UNITS = st.sampled_from([None, "mm", "in"])
LENGTHS_MM = st.floats(-99_000.0, 99_000.0)
KEPT_MM = st.integers(-99_000_000_000, 99_000_000_000).map(lambda nanometres: nanometres / 1e6)

# A loaded machine may stall for longer than hypothesis allows a case.
unhurried = settings(deadline=None)


# What is taken


@pytest.mark.parametrize(
    ("text", "expected_mm"),
    [
        # every form that the documentation of lengths lists
        ("216 mm", 216.0),
        ("21.6 cm", 216.0),
        ("0.216 m", 216.0),
        ("8.5 in", 215.9),
        ("8 1/2 in", 215.9),
        ('8-1/2"', 215.9),
        ('8.5"', 215.9),
        ("1' 3 1/2\"", 393.7),  # 15.5 in
        ("1 ft 3.5 in", 393.7),
        ("15' 6\"", 4724.4),  # 186 in
        # what people type as well
        ("216mm", 216.0),
        ("216 MM", 216.0),
        ("  216   mm ", 216.0),
        ("+216 mm", 216.0),
        ("2.16e2 mm", 216.0),
        (".5 mm", 0.5),
        ("5. mm", 5.0),
        ("216 millimetres", 216.0),
        ("21.6 centimeters", 216.0),
        ("2 m", 2000.0),
        ("2 Metres", 2000.0),
        ("8.5 inches", 215.9),
        ("8.5 INCH", 215.9),
        ("8.5 in.", 215.9),
        ("8 1/2in", 215.9),
        ("8 - 1/2 in", 215.9),
        ("8 1 / 2 in", 215.9),
        ("8.5''", 215.9),
        ("1/2 in", 12.7),
        ("5/3 in", 42.333333),  # 127/3
        ("1 1/2 mm", 1.5),
        ("15'", 4572.0),
        ("1/2 ft", 152.4),
        ("1'3\"", 381.0),
        ("1'-3 1/2\"", 393.7),
        ("1' - 3-1/2\"", 393.7),
        ("1 foot 3 inches", 381.0),
        ("6 feet", 1828.8),
        ("1 ft. 0 in.", 304.8),
        ("0' 3/4\"", 19.05),
        # what phones, word processors and spreadsheets make of it
        ("8\u00bd in", 215.9),
        ("8 \u00bd\u2033", 215.9),
        ("8-\u00bd in", 215.9),
        ("\u00be in", 19.05),
        ("\u215b in", 3.175),
        ("8 1\u20442 in", 215.9),
        ("8\u20111/2 in", 215.9),
        ("1\u2032 3 1/2\u2033", 393.7),
        ("1\u2019 3 1/2\u201d", 393.7),
        ("8.5\u201c", 215.9),
        ("216\u00a0mm", 216.0),
        ("216\u202fmm", 216.0),
        ("8\u20091/2\u2009in", 215.9),
        # below zero
        ("-3 mm", -3.0),
        ("- 3 mm", -3.0),
        ("\u22123 mm", -3.0),
        ("-8 1/2 in", -215.9),
        ("-1' 3\"", -381.0),
        ("-3/16 in", -4.7625),
        # the edge
        ("100000 m", LONGEST_MM),
        ("0 mm", 0.0),
        ("0/16 in", 0.0),
    ],
)
@pytest.mark.parametrize("unit", [None, "mm", "in"])
def test_a_text_with_its_own_unit(text: str, expected_mm: float, unit: Unit | None) -> None:
    assert parse_length(text, unit) == expected_mm


@pytest.mark.parametrize(
    ("text", "unit", "expected_mm"),
    [
        ("216", "mm", 216.0),
        ("8.5", "in", 215.9),
        ("8 1/2", "in", 215.9),
        ("8-1/2", "in", 215.9),
        ("\u00bd", "in", 12.7),
        ("-4.25", "mm", -4.25),
        (" 216 ", "mm", 216.0),
        ("2.16E+02", "mm", 216.0),
        ("0.1234567", "mm", 0.123457),
        ("123456e-6", "mm", 0.123456),
        ("1.5e-9", "mm", 0.0),
        ("100000000", "mm", LONGEST_MM),
        ("99999.9", "mm", 99_999.9),
    ],
)
def test_a_bare_number_takes_the_unit(text: str, unit: Unit, expected_mm: float) -> None:
    assert parse_length(text, unit) == expected_mm


@pytest.mark.parametrize("text", ["-0 mm", "-0", "-0.0", "-1e-9", "-0/16 in", "-0' 0\""])
def test_no_minus_zero_comes_in(text: str) -> None:
    assert math.copysign(1.0, parse_length(text, "mm")) == 1.0


def written_forms(sixty_fourths: int) -> list[str]:
    """The same length in every form, by exact decimals: 1/64 in is 0.396875 mm."""
    whole, over = divmod(sixty_fourths, 64)
    feet, rest = divmod(whole, 12)
    inches = Decimal(sixty_fourths) / 64
    mm = Decimal(sixty_fourths) * Decimal("0.396875")
    part = Fraction(over, 64)
    mixed = f"{whole} {over}/64"
    lowest = f"{whole} {part.numerator}/{part.denominator}"
    return [
        f"{inches:f} in",
        f'{inches:f}"',
        f"{inches:f}inches",
        f"{mixed} in",
        f"{mixed.replace(' ', '-')} in",
        f"{lowest}\u2033",
        f"{sixty_fourths}/64 in",
        f"{feet}' {rest} {over}/64\"",
        f"{feet}'-{rest}-{over}/64\"",
        f"{feet} ft {inches - 12 * feet:f} in",
        f"{inches:f} In.",
        f"{mm:f} mm",
        f"{mm:f}mm",
        f"{mm / 10:f} cm",
        f"{mm / 1000:f} m",
    ]


@unhurried
@given(st.integers(0, 99_000 * 64 // 26))
@example(8 * 64 + 32)
def test_every_written_form_of_a_length_is_the_same_length(sixty_fourths: int) -> None:
    exact = Fraction(sixty_fourths, 64) * Fraction(127, 5)
    forms = written_forms(sixty_fourths)
    assert {form: parse_length(form) for form in forms} == dict.fromkeys(forms, float(exact))
    assert parse_length(forms[0].removesuffix(" in"), "in") == float(exact)
    assert parse_length(f"{float(exact)!r}", "mm") == float(exact)


@unhurried
@given(st.decimals(-99_000, 99_000, places=9), st.sampled_from(["mm", "in"]))
def test_plain_decimals_are_right_to_the_last_kept_digit(number: Decimal, unit: Unit) -> None:
    if unit == "in":
        number /= 30
    exact = Fraction(number) * (1 if unit == "mm" else Fraction(127, 5))
    bare, with_unit = parse_length(f"{number:f}", unit), parse_length(f"{number:f} {unit}")
    assert bare == with_unit
    # Half of the last kept digit, and what a float near 100 km can hold.
    assert_allclose(bare, float(exact), rtol=0, atol=FINEST_MM / 2 + 2e-11)


# What is refused


@pytest.mark.parametrize(
    ("text", "unit", "says"),
    [
        ("", None, "no length is given"),
        ("   ", "mm", "no length is given"),
        ("216", None, "write mm or in"),
        ("8 1/2", None, "write mm or in"),
        ("8 1/2", "mm", "fraction where millimetres are expected"),
        ("\u00bd", "mm", "fraction where millimetres are expected"),
        ("1,5 mm", None, "write 1.5 mm or 15 mm"),
        ("1,200", "mm", "write 1.200 or 1200"),
        ("1,200,000 mm", None, "not a length"),
        ("1/0 in", None, "divides by zero"),
        ("8 1/0 in", None, "divides by zero"),
        ("8 5/3 in", None, "5/3 after a whole number"),
        ("8 2/2 in", None, "2/2 after a whole number"),
        ("8.5 1/2 in", None, "two numbers side by side"),
        ("8\u00bd\u00bd in", None, "two numbers side by side"),
        ("1 000 mm", None, "two numbers side by side"),
        ("1 000", "mm", "two numbers side by side"),
        ("1.2.3", "mm", "two numbers side by side"),
        ("1.2.34", "mm", "two numbers side by side"),
        ("15' 14\"", None, "12 or more inches"),
        ("15' 12\"", None, "12 or more inches"),
        ("1.5' 3\"", None, "whole feet"),
        ("1 1/2' 3\"", None, "whole feet"),
        ("1e0' 3\"", None, "whole feet"),
        ("5' 6", None, "without a unit after the feet"),
        ("8 in 1/2", None, "the unit comes last"),
        ("mm 216", None, "the unit comes last"),
        ('"8.5', None, "the unit comes last"),
        ("1 m 5 cm", None, "more than one unit"),
        ("216 mm 8.5 in", None, "more than one unit"),
        ("3 in 1 ft", None, "more than one unit"),
        ("1' 3 mm", None, "more than one unit"),
        ('1\' 3" 1/2"', None, "more than one unit"),
        ("5-6 in", None, "like a range"),
        ("5\u20136 in", None, "like a range"),
        ("--5 mm", None, "dash inside"),
        ("8 -1/2 in", None, "minus inside"),
        ("1' -3\"", None, "minus inside"),
        ("mm", None, "no number"),
        ("-", "mm", "no number"),
        (".", "mm", "not a length"),
        ("1.5/2 in", None, "not a length"),
        ("2.15/8 in", None, "not a length"),
        ("25/8.5 in", None, "not a length"),
        ("1/2/3 in", None, "not a length"),
        ("1_000", "mm", "not a length"),
        ("1_000 mm", None, "not a length"),
        ("~8 in", None, "not a length"),
        ("nan", "mm", "not a real length"),
        ("-nan mm", None, "not a real length"),
        ("inf", "in", "not a real length"),
        ("Infinity mm", None, "not a real length"),
        ("1e99", "mm", "over 100 km"),
        ("1e99 in", None, "over 100 km"),
        ("1e9999 mm", None, "over 100 km"),
        ("-1e9999", "mm", "over 100 km"),
        ("100000000.1", "mm", "over 100 km"),
        ("-100000.001 m", None, "over 100 km"),
        ("999999999", "mm", "over 100 km"),
        ("4000000", "in", "over 100 km"),
        ("329000 ft", None, "over 100 km"),
        ("5 km", None, "'km', which is no unit"),
        ("tall", "mm", "'tall', which is no unit"),
        ("0x10 mm", None, "no unit known here"),
        ("\u0663 mm", None, "figures other than 0 to 9"),
        ("\u0662\u0661\u0666", "mm", "figures other than 0 to 9"),
        ("\uff12\uff11\uff16", "mm", "figures other than 0 to 9"),
        ("8\u00b2 in", None, "figures other than 0 to 9"),
        ("1" * 65, "mm", "too long"),
        ("0." + "0" * 70 + "1", "mm", "too long"),
    ],
)
def test_doubt_is_refused_with_a_sentence(text: str, unit: Unit | None, says: str) -> None:
    with pytest.raises(LengthError) as refused:
        parse_length(text, unit)
    message = str(refused.value)
    assert says in message
    assert "\n" not in message
    if text.strip():
        assert text[:LONGEST_TEXT] in message  # whoever reads it must find the cell


def test_a_refused_text_cannot_write_to_the_terminal() -> None:
    with pytest.raises(LengthError) as refused:
        parse_length("8 in\x1b[2J\r\n\u202e")
    assert str(refused.value).isprintable()


@pytest.mark.parametrize(
    "repeated",
    ["1", "9.", " ", "1 ", "1/", "1-", "- ", "'", '"', "m", "\u00bd", ",", "1e", "\u0663"],
)
@pytest.mark.parametrize("unit", [None, "mm"])
def test_long_texts_are_refused_at_once(repeated: str, unit: Unit | None) -> None:
    # Doubling steps at every length would take for ever long before a million characters.
    for times in (LONGEST_TEXT // len(repeated), 1_000_000):
        with pytest.raises(LengthError) as refused:
            parse_length(repeated * times, unit)
        assert len(str(refused.value)) < 500


LOOKALIKES = st.text(
    "0123456789.,-+/'\" _eEmMcinftINnaf\u00bd\u2033\u2032\u2212\u00a0", max_size=16
)


@unhurried
@given(st.text() | LOOKALIKES, UNITS)
@example("\ud800", "mm")
@example("\0", "in")
@example("\x1f0,0", None)  # a comma complaint that quotes a control character twice
def test_any_text_is_a_length_or_a_length_error(text: str, unit: Unit | None) -> None:
    refusal = ""
    try:
        mm = parse_length(text, unit)
    except LengthError as error:
        refusal = str(error)
    if refusal:
        assert refusal.isprintable()
        return
    assert abs(mm) <= LONGEST_MM
    assert mm == round(mm, 6)
    if not text.strip().startswith(("-", "+", "\u2212")):
        assert mm >= 0
        assert parse_length("-" + text.strip(), unit) == -mm


# What is written


@unhurried
@given(KEPT_MM)
@example(0.000001)
@example(-0.1)
@example(215.9)
def test_what_is_written_to_a_file_reads_back_the_same(mm: float) -> None:
    assert parse_length(write_length(mm)) == mm


@unhurried
@given(KEPT_MM)
def test_no_shorter_decimal_would_do(mm: float) -> None:
    # Python's repr of a float is by definition the shortest that reads back.
    assert write_length(mm) == f"{Decimal(repr(mm + 0.0)).normalize():f} mm"


@unhurried
@given(LENGTHS_MM)
def test_what_is_finer_than_kept_is_rounded(mm: float) -> None:
    assert_allclose(parse_length(write_length(mm)), mm, rtol=0, atol=FINEST_MM / 2 + 2e-11)


def test_written_plainly() -> None:
    assert [write_length(mm) for mm in (216.0, 215.9, 1e-6, 1e5, 0.0, -0.0, -1e-9, 10)] == [
        "216 mm",
        "215.9 mm",
        "0.000001 mm",
        "100000 mm",
        "0 mm",
        "0 mm",
        "0 mm",
        "10 mm",
    ]


@pytest.mark.parametrize("mm", [math.nan, math.inf, -math.inf, 100_000_000.1, -1e99])
def test_what_could_not_be_read_back_is_not_written(mm: float) -> None:
    with pytest.raises(LengthError, match="is not a length that can be written"):
        write_length(mm)


# What is shown


@pytest.mark.parametrize(
    ("mm", "shown"),
    [
        (215.9, "215.9 mm (8 1/2 in)"),
        (0.0, "0.0 mm (0 in)"),
        (-0.0, "0.0 mm (0 in)"),
        (-0.04, "0.0 mm (0 in)"),
        (25.4, "25.4 mm (1 in)"),
        (12.7, "12.7 mm (1/2 in)"),
        (-4.7625, "-4.8 mm (-3/16 in)"),
        (-215.9, "-215.9 mm (-8 1/2 in)"),
        (203.0, "203.0 mm (8 in)"),
        (4724.4, "4724.4 mm (186 in)"),
        (0.79, "0.8 mm (under 1/16 in)"),
        (-0.79, "-0.8 mm (0 in)"),
        (0.80, "0.8 mm (1/16 in)"),
    ],
)
def test_shown_to_people(mm: float, shown: str) -> None:
    assert show_length(mm) == shown


@pytest.mark.parametrize(
    ("mm", "rounding", "shown"),
    [
        (203.0, "down", "203.0 mm (7 15/16 in)"),  # 8 in would be 203.2 mm: too high
        (203.0, "up", "203.0 mm (8 in)"),
        (214.93, "down", "214.9 mm (8 7/16 in)"),
        (214.93, "up", "215.0 mm (8 1/2 in)"),
        (-0.01, "down", "-0.1 mm (-1/16 in)"),
        (-0.01, "up", "0.0 mm (0 in)"),
        (0.01, "up", "0.1 mm (1/16 in)"),
        # float noise is no reason to lose a step
        (203.2 + 1e-11, "up", "203.2 mm (8 in)"),
        (203.2 - 1e-11, "down", "203.2 mm (8 in)"),
        (203.00000000001, "up", "203.0 mm (8 in)"),
        (0.1 + 0.2, "up", "0.3 mm (1/16 in)"),
        # but the finest length that can be written is
        (203.200001, "up", "203.3 mm (8 1/16 in)"),
        (203.199999, "down", "203.1 mm (7 15/16 in)"),
    ],
)
def test_a_limit_is_rounded_to_the_safe_side(mm: float, rounding: Rounding, shown: str) -> None:
    assert show_length(mm, rounding) == shown


@unhurried
@given(LENGTHS_MM)
def test_shown_inches_read_back_within_a_32nd(mm: float) -> None:
    assert_allclose(parse_length(show_inches(mm)), mm, rtol=0, atol=25.4 / 32 + FINEST_MM)


@unhurried
@given(LENGTHS_MM)
def test_shown_millimetres_read_back_within_half_a_tenth(mm: float) -> None:
    assert_allclose(parse_length(show_mm(mm)), mm, rtol=0, atol=0.05 + FINEST_MM)


@pytest.mark.parametrize(
    ("mm", "of_mm", "shown"),
    [
        (15.4, 15.4, "15.4 mm (9/16 in)"),  # 9.7 sixteenths
        (15.32, 15.36, "15.3 mm (9/16 in)"),
        (15.32, 15.45, "15.4 mm (9/16 in)"),
        (15.32, 16.0, "15.4 mm (5/8 in)"),  # 10.08 sixteenths
        (15.32, 15.31, "15.4 mm (5/8 in)"),  # more than there is: rounded up
        (0.0, 0.5, "0.0 mm (0 in)"),
        (0.4, 0.5, "0.4 mm (under 1/16 in)"),
    ],
)
def test_what_is_enough_is_shown_as_enough(mm: float, of_mm: float, shown: str) -> None:
    assert show_within(mm, of_mm) == shown


@given(st.floats(0, 1000), st.floats(0, 2.0))
def test_what_is_within_another_length_is_shown_so(mm: float, more: float) -> None:
    """In each unit no more than the other one rounded down, and never a whole step too little."""
    of_mm = mm + more
    tenths, sixteenths = parse_both(show_within(mm, of_mm))
    assert tenths <= parse_length(show_mm(of_mm, "down")) + 1e-9
    assert sixteenths <= parse_length(show_inches(of_mm, "down")) + 1e-9
    assert tenths > mm - 0.1 - 1e-6
    assert sixteenths > mm - 25.4 / 16 - 1e-6


def parse_both(shown: str) -> tuple[float, float]:
    """The millimetres and the inches of a length as it is shown. [mm]"""
    millimetres, inches = shown.removesuffix(")").split(" (")
    return parse_length(millimetres), parse_length(inches.replace("under 1/16", "0"))


@unhurried
@given(LENGTHS_MM)
def test_rounding_errs_to_its_own_side_by_less_than_a_step(mm: float) -> None:
    for show, step_mm in ((show_mm, 0.1), (show_inches, 25.4 / 16)):
        down, up = parse_length(show(mm, "down")), parse_length(show(mm, "up"))
        assert mm - step_mm - FINEST_MM < down <= mm + FINEST_MM
        assert mm - FINEST_MM <= up < mm + step_mm + FINEST_MM
        assert parse_length(show(mm)) in (down, up)
        assert parse_length(show(-mm)) == -parse_length(show(mm))


@unhurried
@given(st.integers(-60_000, 60_000))
def test_a_whole_step_is_shown_as_it_is_whichever_way(steps: int) -> None:
    for rounding in ("nearest", "down", "up"):
        assert parse_length(show_mm(steps / 10, rounding)) == steps / 10
        sixteenths_mm = float(Fraction(steps, 16) * Fraction(127, 5))
        assert parse_length(show_inches(sixteenths_mm, rounding)) == sixteenths_mm


@unhurried
@given(LENGTHS_MM)
def test_shown_fractions_are_in_lowest_terms(mm: float) -> None:
    for word in show_inches(mm).split():
        if "/" in word:
            over, under = (int(figure) for figure in word.lstrip("-").split("/"))
            assert under in (2, 4, 8, 16)
            assert 0 < over < under
            assert over % 2 == 1


@pytest.mark.parametrize("show", [show_mm, show_inches, show_length])
@pytest.mark.parametrize("mm", [math.nan, math.inf, -math.inf])
def test_what_is_no_length_is_not_shown(show: Callable[[float], str], mm: float) -> None:
    with pytest.raises(LengthError, match="is not a length that can be shown"):
        show(mm)
