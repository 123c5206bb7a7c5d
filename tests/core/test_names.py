"""Lists in sentences, and notes that are many."""

from __future__ import annotations

import pytest

from vecrepeat.core.names import fewer
from vecrepeat.core.units import counted

GONE = [f"empty: “path{n}” paints nothing and is left out" for n in range(126)]


def test_few_notes_stay_as_they_are() -> None:
    assert fewer(GONE[:7], 7) == GONE[:7]
    assert fewer([], 7) == []


def test_notes_alike_but_for_names_and_numbers_are_one() -> None:
    assert fewer([*GONE, "the tile is snapped"], 7) == [
        f"{GONE[0]} (and 125 more like it)",
        "the tile is snapped",
    ]
    told = [f"leaf{n}.png: a haze of {n}.5 % at #{n:06x} counts as ink" for n in range(9)]
    assert fewer(told, 7) == [f"{told[0]} (and 8 more like it)"]


@pytest.mark.parametrize("most", [2, 3, 7])
def test_never_more_lines_than_asked_and_none_uncounted(most: int) -> None:
    kinds = [f"“{m}” is odd in way {chr(97 + n)}" for n in range(12) for m in range(n + 1)]
    lines = fewer(kinds, most)
    assert len(lines) == most
    counted = [int(line.split("(and ")[1].split()[0]) for line in lines if "(and " in line]
    more = int(lines[-1].removeprefix("there are ").split()[0])
    assert (most - 1) + sum(counted) + more == len(kinds)


@pytest.mark.parametrize(
    ("number", "noun", "said"),
    [
        (1, "motif", "1 motif"),
        (5000, "copy", "5,000 copies"),
        (0, "motif", "0 motifs"),
        (3, "colourway", "3 colourways"),
    ],
)
def test_counts_say_their_noun_in_the_plural(number: int, noun: str, said: str) -> None:
    assert counted(number, noun) == said
