"""The annotated picture: the repeated plane with numbered marks, and a legend to read them by."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image
from shapely.geometry.base import BaseGeometry

from vecrepeat.check.findings import Finding
from vecrepeat.util.imagefiles import data_url, png_of
from vecrepeat.util.xmltext import escaped

PLANE = 1100.0
"""The longer side of the plane in the picture's units."""

LEGEND = 520.0
MARGIN = 28.0
_LINE = 19.0
SPECK, RING = 14.0, 12.0
"""Parts of a mark smaller than this are ringed, by rings of this radius."""

MOST = 60
"""The most findings that are marked; the rest are counted."""

# Okabe and Ito, "Color universal design", 2008: told apart in all common kinds of colour vision.
# Each question also has a dash pattern, and each mark its number: colour alone says nothing.
STYLE = {
    "joins": ("#D55E00", ""),
    "collisions": ("#CC79A7", "2 4"),
    "voids": ("#0072B2", "10 5"),
    "alleys": ("#009E73", "14 4 3 4"),
    "balance": ("#E69F00", "6 3"),
    "print": ("#56B4E9", "3 3"),
    "glare": ("#000000", "1 3"),
}


class PlanePicture(NamedTuple):
    """What the marks are laid on.

    Attributes:
        rgb: a picture of the plane, shape (height, width, 3).
        width: of the plane shown, mm.
        height: of the plane shown, mm.
        tile: width and height of one tile, mm.
        steps: where whole tiles lie in the plane shown: their corners in mm.
    """

    rgb: NDArray[np.uint8]
    width: float
    height: float
    tile: tuple[float, float]
    steps: tuple[tuple[float, float], ...]


def picture_svg(ground: PlanePicture, findings: Sequence[Finding], title: str) -> str:
    """Return the annotated picture as SVG.

    The plane is shown half again as large as the tile, so that marks at the bounds are seen
    whole; each fault is marked once, where it lies in the first tile.
    """
    scale = PLANE / max(ground.width, ground.height)
    wide, high = ground.width * scale, ground.height * scale
    shown = list(findings[:MOST])
    rows, columns, legend_height = _draw_legend(shown, len(findings), title, max(high, 700.0))
    height = max(high, legend_height) + 2 * MARGIN
    width = wide + columns * (LEGEND + MARGIN) + 2 * MARGIN
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'width="{width:.0f}" height="{height:.0f}" viewBox="0 0 {width:.1f} {height:.1f}" '
        'font-family="DejaVu Sans, Verdana, sans-serif" font-size="14">',
        f"<title>{escaped(title)}</title>",
        f'<rect width="{width:.1f}" height="{height:.1f}" fill="#ffffff"/>',
        f'<clipPath id="plane"><rect width="{wide:.1f}" height="{high:.1f}"/></clipPath>',
        f'<g transform="translate({MARGIN} {MARGIN})"><g clip-path="url(#plane)">',
        f'<image width="{wide:.1f}" height="{high:.1f}" preserveAspectRatio="none" '
        f'opacity="0.75" xlink:href="{data_url(png_of(Image.fromarray(ground.rgb)))}"/>',
    ]
    for x, y in ground.steps:
        tile = (
            f'<rect x="{x * scale:.1f}" y="{y * scale:.1f}" width="{ground.tile[0] * scale:.1f}" '
            f'height="{ground.tile[1] * scale:.1f}" fill="none" stroke='
        )
        parts.append(f'{tile}"#ffffff" stroke-width="2.5" opacity="0.7"/>')
        parts.append(f'{tile}"#333333" stroke-width="0.8" stroke-dasharray="7 5" opacity="0.9"/>')
    taken: list[tuple[float, float]] = []
    numbers = []
    for number, finding in enumerate(shown, 1):
        if finding.mark is None or finding.mark.is_empty:
            continue
        mark = shapely.affinity.scale(finding.mark, scale, scale, origin=(0, 0))
        parts.append(_draw_mark(mark, *STYLE[finding.question]))
        numbers.append(_draw_number(number, mark, (wide, high), STYLE[finding.question][0], taken))
    parts += [*numbers, "</g></g>"]
    parts.append(f'<g transform="translate({wide + 2 * MARGIN:.1f} {MARGIN})">')
    parts += [*rows, "</g></svg>"]
    return "\n".join(parts)


def _path(mark: BaseGeometry) -> str:
    pieces = []
    for part in shapely.get_parts(mark):
        rings = [part.exterior, *part.interiors] if part.geom_type == "Polygon" else [part]
        for ring in rings:
            coords = shapely.get_coordinates(shapely.simplify(ring, 0.2))
            points = " ".join(f"{x:.1f} {y:.1f}" for x, y in coords)
            pieces.append(f"M{points}{'Z' if part.geom_type == 'Polygon' else ''}")
    return "".join(pieces)


def _draw_mark(mark: BaseGeometry, colour: str, dashes: str) -> str:
    """Return a mark: a coloured line on a white one, so that it shows on any ground."""
    mark = _ring_specks(mark)
    d = _path(mark)
    fill = colour if mark.area > 0 else "none"
    dash = f' stroke-dasharray="{dashes}"' if dashes else ""
    return (
        f'<path d="{d}" fill="none" stroke="#ffffff" stroke-width="6" stroke-linejoin="round"/>'
        f'<path d="{d}" fill="{fill}" fill-opacity="0.22" stroke="{colour}" stroke-width="3" '
        f'stroke-linejoin="round"{dash}/>'
    )


def _ring_specks(mark: BaseGeometry) -> BaseGeometry:
    """Return a mark whose specks are ringed, or nobody finds them; rings that meet are one."""
    parts = shapely.get_parts(mark)
    box = shapely.bounds(parts)
    small = (box[:, 2:] - box[:, :2]).max(axis=1) < SPECK
    if not small.any():
        return mark
    middles = shapely.points((box[small, :2] + box[small, 2:]) / 2)
    rings = shapely.union_all(shapely.buffer(middles, RING))
    return shapely.geometrycollections([*parts[~small], *shapely.get_parts(rings)])


def _draw_number(
    number: int,
    mark: BaseGeometry,
    size: tuple[float, float],
    colour: str,
    taken: list[tuple[float, float]],
) -> str:
    """Return a mark's number on a disc by its first part, clear of the numbers before."""
    x0, y0, x1, y1 = shapely.get_geometry(mark, 0).bounds
    x = min(max((x0 + x1) / 2, 15.0), size[0] - 15)
    y = min(max((y0 + y1) / 2, 15.0), size[1] - 15)
    if max(x1 - x0, y1 - y0) < 40:
        # Beside what is small, so as not to hide it.
        x, y = min(x + 22, size[0] - 15), max(y - 22, 15.0)
    for _ in range(60):
        if all((x - a) ** 2 + (y - b) ** 2 > 27**2 for a, b in taken):
            break
        y += 9
        if y > size[1] - 15:
            x, y = x + 29, 15.0
    taken.append((x, y))
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="13" fill="#ffffff" stroke="{colour}" '
        f'stroke-width="3"/><text x="{x:.1f}" y="{y + 5:.1f}" text-anchor="middle" '
        f'font-weight="bold" fill="#111111">{number}</text>'
    )


def _draw_legend(
    findings: Sequence[Finding], count: int, title: str, height: float
) -> tuple[list[str], int, float]:
    """Return the legend's elements, in how many columns they stand, and how high those are."""
    rows: list[str] = []
    y = deepest = 16.0
    columns = 1

    def text(line: str, x: float = 0, weight: str = "normal", colour: str = "#111111") -> None:
        nonlocal y
        rows.append(
            f'<text x="{x}" y="{y:.1f}" font-weight="{weight}" fill="{colour}">'
            f"{escaped(line)}</text>"
        )
        y += _LINE

    for line in textwrap.wrap(title, 58):
        text(line, 0, "bold")
    y += 8
    question = ""
    for number, finding in enumerate(findings, 1):
        if y > height - 4 * _LINE:
            rows += ["</g>", f'<g transform="translate({columns * (LEGEND + MARGIN):.1f} 0)">']
            columns, y, question = columns + 1, 16.0, ""
        if finding.question != question:
            question = finding.question
            colour, dashes = STYLE[question]
            y += 8
            dash = f' stroke-dasharray="{dashes}"' if dashes else ""
            rows.append(
                f'<line x1="0" y1="{y - 5:.1f}" x2="44" y2="{y - 5:.1f}" stroke="{colour}" '
                f'stroke-width="4"{dash}/>'
            )
            text(question, 54, "bold")
        rows.append(
            f'<circle cx="13" cy="{y - 5:.1f}" r="12" fill="#ffffff" '
            f'stroke="{STYLE[question][0]}" stroke-width="2.5"/><text x="13" y="{y:.1f}" '
            f'text-anchor="middle" font-size="12" font-weight="bold">{number}</text>'
        )
        everywhere = "" if finding.mark is not None else " (everywhere)"
        sentence = f"{finding.what[:1].upper()}{finding.what[1:]}{everywhere}"
        for line in textwrap.wrap(sentence, 54):
            text(line, 34)
        for line in textwrap.wrap(f"{finding.measure()}: {finding.advice}", 54):
            text(line, 34, "normal", "#444444")
        y += 5
        deepest = max(deepest, y)
    if count > len(findings):
        text(f"and {count - len(findings)} more")
    if not count:
        text("Nothing found.")
    return ["<g>", *rows, "</g>"], columns, max(deepest, y)
