"""How motifs look: the one colour that an eye gives to a motif of a known one."""

from __future__ import annotations

import base64
import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from support import write_svg

from vecrepeat.art.read import read_art
from vecrepeat.core.difference import lab_of
from vecrepeat.sources.looks import main_colour

RED, BLUE = (0xC0, 0x10, 0x20), (0x20, 0x50, 0xB0)


def picture() -> str:
    """Return a picture that is blue where it is opaque, and else a red that is not seen."""
    pixels = Image.new("RGBA", (8, 8), (*RED, 0))
    pixels.paste((*BLUE, 255), (0, 0, 8, 3))
    file = io.BytesIO()
    pixels.save(file, "PNG")
    return f"data:image/png;base64,{base64.b64encode(file.getvalue()).decode()}"


@pytest.mark.parametrize(
    ("drawn", "colour"),
    [
        (
            '<circle cx="10" cy="10" r="9" fill="#c01020" stroke="black" stroke-width="3"/>'
            '<circle cx="10" cy="10" r="2" fill="black"/>',
            RED,
        ),
        (
            '<radialGradient id="g"><stop offset="0.3" stop-color="#c01020"/>'
            '<stop offset="0.4" stop-color="#2050b0"/></radialGradient>'
            '<circle cx="10" cy="10" r="9" fill="url(#g)"/>',
            BLUE,
        ),
        (f'<image width="20" height="20" href="{picture()}"/>', BLUE),
        (
            '<mask id="m"><rect width="20" height="5" fill="white"/></mask>'
            '<rect width="20" height="12" fill="#2050b0"/>'
            '<rect width="20" height="20" fill="#c01020" mask="url(#m)"/>',
            BLUE,
        ),
        (
            '<filter id="f" x="0" y="0" width="1" height="1"><feFlood flood-color="#2050b0"/>'
            '<feComposite in2="SourceAlpha" operator="in"/></filter>'
            '<circle cx="10" cy="10" r="9" fill="#c01020" filter="url(#f)"/>',
            BLUE,
        ),
        ('<circle cx="10" cy="10" r="9" fill="#c01020" opacity="0.3"/>', RED),
    ],
    ids=["line-work", "gradient", "picture", "mask", "filter", "veil"],
)
def test_a_main_colour_is_what_most_of_a_motif_is_seen_in(
    tmp_path: Path, drawn: str, colour: tuple[int, int, int]
) -> None:
    path = write_svg(tmp_path, f'<g id="one">{drawn}</g>', width="20mm", height="20mm")
    found = main_colour(read_art(path).motifs[0])
    assert found is not None
    assert np.linalg.norm(np.array(found) - lab_of(colour)) < 5
