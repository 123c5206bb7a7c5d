"""Lengths, sizes and their way to pixels, all exact."""

from __future__ import annotations

import math
from fractions import Fraction as F  # noqa: N817

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vecrepeat.core.errors import InputError
from vecrepeat.core.units import (
    MM_PER_INCH,
    MM_PER_UNIT,
    Size,
    format_mm,
    parse_length,
    parse_size,
    round_half_up,
    to_pixels,
)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        # CSS Values and Units 4 §6.2, Absolute lengths.
        ("1in", "2.54cm"),
        ("1cm", "10mm"),
        ("1in", "25.4mm"),
        ("1in", "96px"),
        ("1in", "72pt"),
        ("1in", "6pc"),
        ("1pc", "12pt"),
        ("3px", "2.25pt"),
        # SI.
        ("1m", "1000mm"),
        # The international yard: common practice, no source.
        ("1yd", "0.9144m"),
        ("1yd", "36in"),
        ("1ft", "12in"),
        ("1yd", "3ft"),
    ],
)
def test_units_stand_in_their_exact_ratios(one: str, other: str) -> None:
    assert parse_length(one) == parse_length(other)


LENGTHS = [
    # (what it shows, text, mm)
    ("a whole number", "12in", F(3048, 10)),
    ("a decimal is exact", "0.1mm", F(1, 10)),
    ("a decimal without its zero", ".5cm", F(5)),
    ("a decimal point at the end", "5.mm", F(5)),
    (
        "a thirtieth of a float's precision",
        "0.1000000000000000000001mm",
        F("0.1000000000000000000001"),
    ),
    ("an exponent", "1e3mm", F(1000)),
    ("a negative exponent", "25e-1cm", F(25)),
    ("a capital exponent", "1E2mm", F(100)),
    ("a plus sign", "+3mm", F(3)),
    ("a vulgar fraction", "1/2yd", F(9144, 20)),
    ("a vulgar fraction with spaces", "3 / 8 in", F(3, 8) * F(254, 10)),
    ("a fraction that is no decimal", "1/3in", F(254, 30)),
    ("a whole number and a fraction", "12 1/2 in", F(25, 2) * F(254, 10)),
    ("a whole number and a fraction, no space before the unit", "25 1/4in", F(101, 4) * F(254, 10)),
    ("a space before the unit", "53 cm", F(530)),
    ("spaces around", "  64cm\t", F(640)),
    ("capital letters", "10IN", F(254)),
    ("metres", "10.05m", F(10050)),
]


@pytest.mark.parametrize(("text", "mm"), [r[1:] for r in LENGTHS], ids=[r[0] for r in LENGTHS])
def test_lengths_are_exact(text: str, mm: F) -> None:
    assert parse_length(text) == mm


SIZES = [
    # (what it shows, text, width in mm, height in mm)
    ("one unit serves both", "10x10in", F(254), F(254)),
    ("two units", "64cmx64cm", F(640), F(640)),
    ("mixed units and spaces", "54in x 1yd", F(54 * 254, 10), F(9144, 10)),
    ("px before the x", "100pxx200px", F(100) * F(254, 960), F(200) * F(254, 960)),
    ("px once, after both", "100x200px", F(100) * F(254, 960), F(200) * F(254, 960)),
    ("a wallpaper roll", "53cmx10.05m", F(530), F(10050)),
    ("mm before the x", "1371.6mmx914.4mm", F(13716, 10), F(9144, 10)),
    ("the unit on the width only", "10inx20", F(254), F(508)),
    ("the multiplication sign", "10 × 20 cm", F(100), F(200)),
    ("a capital X", "10X20cm", F(100), F(200)),
    ("a runner in feet", "27inx27ft", F(27 * 254, 10), F(27 * 12 * 254, 10)),
    ("fractions", "1/2yd x 12 1/2in", F(9144, 20), F(25, 2) * F(254, 10)),
    ("exponents", "1e2x2e2mm", F(100), F(200)),
]


@pytest.mark.parametrize(
    ("text", "width", "height"), [r[1:] for r in SIZES], ids=[r[0] for r in SIZES]
)
def test_sizes_are_exact(text: str, width: F, height: F) -> None:
    assert parse_size(text) == Size(width, height)


BAD_LENGTHS = [
    # (what is wrong, text, a part of what the user is told)
    ("nothing", "", "is not a length"),
    ("spaces", "   ", "is not a length"),
    ("a word", "wide", "is not a length"),
    ("a unit alone", "mm", "is not a length"),
    ("two decimal points", "1.2.3in", "is not a length"),
    ("two numbers", "1in 2in", "is not a length"),
    ("a comma", "1,5in", "is not a length"),
    ("a zero", "0mm", "is zero"),
    ("a zero with decimals", "0.000in", "is zero"),
    ("a zero fraction", "0/4in", "is zero"),
    ("a negative", "-3in", "is negative"),
    ("a negative fraction", "-1/2in", "is negative"),
    ("a negative whole number and fraction", "-1 1/2in", "is negative"),
    ("not a number", "nan mm", "is not a length"),
    ("nan without a unit", "nan", "is not a length"),
    ("infinity", "inf", "is not a length"),
    ("infinity with a unit", "infmm", "is not a length"),
    ("no unit", "12", "has no unit"),
    ("an unknown unit", "12furlong", "unknown unit"),
    ("a percentage", "50%", "unknown unit"),
    ("an inch mark", '12"', "unknown unit"),
    ("a relative unit", "2em", "unknown unit"),
    ("a division by zero", "1/0in", "divides by zero"),
    ("an absurdly long text", "1" * 5000 + "in", "is not a length"),
    ("an exponent beyond three digits", "1e9999in", "is not a length"),
]


@pytest.mark.parametrize(
    ("text", "told"), [r[1:] for r in BAD_LENGTHS], ids=[r[0] for r in BAD_LENGTHS]
)
def test_a_length_that_is_none_is_refused_in_one_line(text: str, told: str) -> None:
    with pytest.raises(InputError, match=told) as caught:
        parse_length(text, "--repeat-width")
    line = str(caught.value)
    assert line.startswith("--repeat-width")
    assert "\n" not in line
    assert len(line) < 250


@pytest.mark.parametrize("text", ["0cm", "0.0in", "0/4ft"])
def test_a_length_may_be_zero_where_none_at_all_makes_sense(text: str) -> None:
    assert parse_length(text, zero=True) == 0
    with pytest.raises(InputError, match="is negative"):
        parse_length(f"-1{text}", zero=True)


BAD_SIZES = [
    # (what is wrong, text, a part of what the user is told)
    ("nothing", "", "is not width × height"),
    ("one length", "10in", "is not width × height"),
    ("three lengths", "1x2x3in", "is not width × height"),
    ("no unit", "10x10", "has no unit"),
    ("an unknown unit", "10x10furlong", "is not width × height"),
    ("a zero width", "0x10in", "is zero"),
    ("a zero height", "10x0in", "is zero"),
    ("a negative width", "-10x10in", "is negative"),
    ("a negative height", "10x-10in", "is negative"),
    ("nan", "nanxnanmm", "is not width × height"),
    ("infinity", "infxinfmm", "is not width × height"),
    ("a division by zero", "1/0x1in", "divides by zero"),
    ("an absurdly long text", "1" * 5000 + "x1in", "is not width × height"),
]


@pytest.mark.parametrize(
    ("text", "told"), [r[1:] for r in BAD_SIZES], ids=[r[0] for r in BAD_SIZES]
)
def test_a_size_that_is_none_is_refused_in_one_line(text: str, told: str) -> None:
    with pytest.raises(InputError, match=told) as caught:
        parse_size(text, "--sheet")
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 250


def test_a_huge_but_finite_exponent_is_a_number_or_a_clear_refusal() -> None:
    """1e999 overflows a float; an exact number of it must not crash later as one."""
    try:
        length = parse_length("1e999mm")
    except InputError:
        return
    assert length == F(10) ** 999


@pytest.mark.parametrize(
    ("value", "rounded"),
    [
        (F(0), 0),
        (F(1, 2), 1),
        (F(3, 2), 2),
        (F(5, 2), 3),
        # Halves go upwards, also below zero.
        (F(-1, 2), 0),
        (F(-3, 2), -1),
        # A hair under a half, which a float could not tell from it.
        (F(1, 2) - F(1, 10**30), 0),
        (F(1, 2) + F(1, 10**30), 1),
        (F(10**30) + F(1, 2), 10**30 + 1),
        (F(7), 7),
        (F(299999, 100), 3000),
    ],
)
def test_halves_round_upwards(value: F, rounded: int) -> None:
    assert round_half_up(value) == rounded


@given(st.fractions())
def test_rounding_is_the_floor_of_the_value_and_a_half(value: F) -> None:
    assert round_half_up(value) == math.floor(value + F(1, 2))


@pytest.mark.parametrize(
    ("length", "dpi", "pixels"),
    [
        # 10 in at 300 dpi is 3,000 px: common practice, no source.
        ("10in", F(300), F(3000)),
        ("25.4mm", F(300), F(300)),
        # CSS Values and Units 4 §6.2: 1in = 96px.
        ("96px", F(96), F(96)),
        ("64cm", F(300), F(640 * 300 * 10, 254)),
        ("1yd", F(150), F(5400)),
        ("1mm", F(3, 2), F(15, 254)),
    ],
)
def test_a_print_size_in_pixels_is_exact(length: str, dpi: F, pixels: F) -> None:
    assert to_pixels(parse_length(length), dpi) == pixels


@given(
    st.fractions(min_value=F(1, 1000), max_value=10**7, max_denominator=10**9),
    st.sampled_from(sorted(MM_PER_UNIT)),
    st.fractions(min_value=1, max_value=10**5),
)
def test_pixels_are_inches_times_dpi_without_rounding(value: F, unit: str, dpi: F) -> None:
    length = parse_length(f"{value.numerator}/{value.denominator}{unit}")
    assert to_pixels(length, dpi) == value * MM_PER_UNIT[unit] / MM_PER_INCH * dpi


@given(
    st.decimals(min_value="0.001", max_value="100000", places=3),
    st.decimals(min_value="0.001", max_value="100000", places=3),
    st.sampled_from(sorted(MM_PER_UNIT)),
    st.sampled_from(sorted(MM_PER_UNIT)),
    st.sampled_from(["x", " x ", "×", " × "]),
)
def test_a_size_is_its_two_lengths(w: object, h: object, wu: str, hu: str, by: str) -> None:
    size = parse_size(f"{w}{wu}{by}{h}{hu}")
    assert size == Size(parse_length(f"{w}{wu}"), parse_length(f"{h}{hu}"))


@pytest.mark.parametrize(
    ("length", "text"),
    [
        (F(254), "254 mm"),
        (F(13716, 10), "1371.6 mm"),
        (F(1, 3), "0.33 mm"),
        (F(100), "100 mm"),
        (F(1000), "1000 mm"),
    ],
)
def test_lengths_are_shown_without_needless_zeros(length: F, text: str) -> None:
    assert format_mm(length) == text
    assert format_mm(round(length), 0) == f"{round(length)} mm"
