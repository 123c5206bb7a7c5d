"""The spec sheet: everything on it has its place, however much there is."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

import pytest
from support import svg, vecrepeat

from vecrepeat.proof.spec import FOOT


def words_of(sheet: Path) -> list[tuple[float, str]]:
    """The lines of a sheet: where their baselines are, in mm from the top, and what they say."""
    text = sheet.read_text(encoding="utf-8")
    return [(float(y), words) for y, words in re.findall(r'<text [^>]*y="(\S+)"[^>]*>(.*?)<', text)]


@pytest.mark.parametrize("count", [3, 26, 60])
def test_colours_check_and_cautions_do_not_run_into_each_other(tmp_path: Path, count: int) -> None:
    squares = "".join(
        f'<rect id="s{k}" x="{k % 8 * 12 + 1}" y="{k // 8 * 12 + 1}" width="10" height="10" '
        f'fill="#{k * 4:02x}{k * 37 % 256:02x}{k * 91 % 256:02x}"/>'
        for k in range(count)
    )
    (tmp_path / "art.svg").write_text(svg(squares), encoding="utf-8")
    run = vecrepeat("spec", tmp_path / "art.svg", "-o", tmp_path / "s.svg")
    assert run.code == 0, run.err
    lines = words_of(tmp_path / "s.svg")
    colours = [y for y, words in lines if re.fullmatch("#[0-9a-f]{6}", words)]
    more = [(y, int(words.split()[1])) for y, words in lines if words.startswith("and ")]
    (check,) = (y for y, words in lines if words == "check")
    cautions = [y for y, words in lines if words.startswith(("Screens", "Fire"))]
    assert len(colours) + sum(n for _, n in more) == count
    assert len(more) == (count == 60)
    # Words of 2.9 mm, each line below the last.
    rows = [*colours, *(y for y, _ in more), check]
    assert all(b - a > 3.5 for a, b in pairwise(rows))
    assert check < FOOT - 1
    assert min(cautions) > FOOT + 3
