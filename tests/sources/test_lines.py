"""Lines kept thick enough to print."""

from __future__ import annotations

from pathlib import Path

import pytest
from support import svg

from vecrepeat.core.errors import InputError
from vecrepeat.sources.source import open_source

STROKE = 'fill="none" stroke="#c02020" stroke-width="1"'


def recipe(folder: Path, body: str, said: str) -> Path:
    (folder / "art.svg").write_text(svg(body))
    file = folder / "lines.toml"
    file.write_text(f'art = ["art.svg"]\n\n[[motif]]\nname = "bar"\n{said}\n')
    return file


@pytest.mark.parametrize(
    ("shape", "said", "area"),
    [
        # A line 20 mm long and 1 mm thick, on pages of 100 mm.
        ("", 'least-line = "3mm"', 20 * 3),
        ("", 'least-line = "0.5mm"', 20 * 1),
        # Its width is that without thicker lines: four times as large, 80 × 4 mm.
        ("", 'width = "80mm"\nleast-line = "3mm"', 80 * 4),
        ("", 'width = "80mm"\nleast-line = "6mm"', 80 * 6),
        # Stretched down by a half it is 0.5 mm thick, and is drawn in that frame.
        ('transform="scale(1 .5)"', 'least-line = "3mm"', 20 * 3),
    ],
)
def test_strokes_are_as_thick_as_a_recipe_says(
    tmp_path: Path, shape: str, said: str, area: float
) -> None:
    body = f'<g id="bar" {shape}><path d="M40 50H60" {STROKE}/></g>'
    (bar,) = open_source(recipe(tmp_path, body, said)).pool.motifs.values()
    assert sum(part.area for part in bar.parts) == pytest.approx(area)


def test_what_is_measured_in_pixels_is_refused(tmp_path: Path) -> None:
    body = (
        '<filter id="f"><feGaussianBlur stdDeviation="1"/></filter>'
        f'<g id="bar" filter="url(#f)"><path d="M40 50H60" {STROKE}/></g>'
    )
    with pytest.raises(InputError, match="it has a filter"):
        open_source(recipe(tmp_path, body, 'least-line = "3mm"'))
    assert open_source(recipe(tmp_path, body, 'least-line = "0.5mm"')).pool.motifs
