"""Columns of text."""

from __future__ import annotations

from vecrepeat.util.columns import aligned


def test_columns_begin_below_each_other_and_figures_end_so() -> None:
    rows = [("name", "size"), ("a long name", "7"), ("b", "1234567")]
    assert aligned(rows, right=(1,)) == [
        "name            size",
        "a long name        7",
        "b            1234567",
    ]


def test_no_line_ends_in_spaces() -> None:
    assert aligned([("a", "long"), ("b", "")]) == ["a  long", "b"]


def test_no_rows_are_no_lines() -> None:
    assert aligned([]) == []
