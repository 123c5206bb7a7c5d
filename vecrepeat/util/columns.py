"""Rows of text as aligned columns."""

from __future__ import annotations

from collections.abc import Collection, Sequence

_GAP = "  "


def aligned(rows: Sequence[Sequence[str]], right: Collection[int] = ()) -> list[str]:
    """Return rows as lines whose columns begin below each other.

    Args:
        rows: cells, as many in each row; a heading is a row like any other.
        right: numbers of the columns that are flush right, such as figures.
    """
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return [
        _GAP.join(
            cell.rjust(width) if number in right else cell.ljust(width)
            for number, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]
