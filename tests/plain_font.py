"""Fonts made to test with."""

from __future__ import annotations

from typing import Any


def plain_font(family: str, letters: dict[str, tuple[int, int]]) -> Any:
    """A font of letters that are boxes so wide and high; the glyph d is no letter."""
    from fontTools.fontBuilder import (  # type: ignore[import-untyped,unused-ignore]
        FontBuilder,
    )
    from fontTools.pens.ttGlyphPen import (  # type: ignore[import-untyped,unused-ignore]
        TTGlyphPen,
    )

    def box(width: int, height: int) -> Any:
        pen = TTGlyphPen(None)
        pen.moveTo((0, 0))
        for point in ((0, height), (width, height), (width, 0)):
            pen.lineTo(point)
        pen.closePath()
        return pen.glyph()

    names = {letter: letter if letter.isascii() else f"u{ord(letter):04X}" for letter in letters}
    boxes = {".notdef": (500, 700), "d": (900, 200)}
    boxes |= {names[letter]: size for letter, size in letters.items()}
    builder = FontBuilder(1000, isTTF=True)
    builder.setupGlyphOrder(list(boxes))
    builder.setupCharacterMap({ord(letter): name for letter, name in names.items()})
    builder.setupGlyf({name: box(*size) for name, size in boxes.items()})
    builder.setupHorizontalMetrics({name: (size[0] + 100, 0) for name, size in boxes.items()})
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": family, "styleName": "Regular", "psName": family})
    builder.setupOS2(sTypoAscender=800, sTypoDescender=-200)
    builder.setupPost()
    return builder
