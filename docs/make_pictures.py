"""Make the pictures of the documentation from the demo drawings.

Usage: python docs/make_pictures.py [FOLDER]

Needs only vecrepeat and Pillow (10.1 or later), which the `test` extra brings.
"""

from __future__ import annotations

import sys
import tempfile
from fractions import Fraction
from pathlib import Path

from PIL import Image, ImageChops, ImageDraw, ImageFont

import vecrepeat
from vecrepeat.core.geometry import Affine, Rect
from vecrepeat.core.units import Size
from vecrepeat.repeat.model import Placement, Repeat
from vecrepeat.repeat.wrap import placed

DOCS = Path(__file__).parent
DEMO = DOCS.parent / "demo-svg"
LIMIT = 350_000
"""The most bytes a picture may have."""

PAPER = "#fbfaf6"
INK = "#2b2f3a"
SOFT = "#8b8f9a"
MARK = "#d2553c"

SPRIG = """<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm" viewBox="0 0 60 60">
<rect width="60" height="60" fill="#f4efe4"/>
<g id="sprig">
<path d="M22 50C29 41 33 31 33 12" fill="none" stroke="#4f6f5c" stroke-width="1.6"
 stroke-linecap="round"/>
<path d="M29 38C19 39 12 34 9 26C19 25 26 29 29 38Z" fill="#7f9f88"/>
<path d="M32 29C39 30 47 26 50 17C41 16 34 21 32 29Z" fill="#5f8570"/>
<circle cx="33" cy="10" r="5" fill="#d9803f"/><circle cx="33" cy="10" r="1.8" fill="#f4efe4"/>
</g>
<g id="bud"><path d="M50 64C48 58 49 53 52 48" fill="none" stroke="#4f6f5c" stroke-width="1.2"
 stroke-linecap="round"/><circle cx="53" cy="46" r="3.4" fill="#b5563b"/></g>
</svg>"""
"""One small drawing for the diagrams of the layouts; its bud runs over the bottom."""


# ------------------------------------------------------------------------- drawing with the tool


def pixels(repeat: Repeat, width: int, height: int, tile: int, clear: bool = False) -> Image.Image:
    """Return a sheet of ``width`` × ``height`` px on which one tile is ``tile`` px wide."""
    dpi = 100
    mm = Fraction(254, 10) / dpi
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "sheet.png"
        vecrepeat.export(
            repeat,
            file,
            dpi=dpi,
            width=tile * mm,
            sheet=Size(width * mm, height * mm),
            transparent=clear,
        )
        with Image.open(file) as image:
            image.load()
    return image


def loose(repeat: Repeat, margin: float, only: list[Placement] | None = None) -> Repeat:
    """Return placements once, unwrapped, on a page with ``margin`` mm of room on every side."""
    room = Affine.translation(margin, margin)
    placements = repeat.placements if only is None else only
    return Repeat(
        name=repeat.name,
        width=repeat.width + 2 * Fraction(margin),
        height=repeat.height + 2 * Fraction(margin),
        placements=tuple(Placement(p.motif, room @ p.transform) for p in placements),
        resources=repeat.resources,
    )


def wraps(repeat: Repeat) -> list[Placement]:
    """Return the copies of the tile that exist because a motif crosses its bounds."""
    tile = Rect(0.0, 0.0, float(repeat.width), float(repeat.height))
    found = []
    for copy in vecrepeat.copies(repeat, tile):
        if copy.is_wrap:
            found.append(placed(repeat, copy))
    return found


# ------------------------------------------------------------------------------ pillow's part


def font(size: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """Return the face that comes with Pillow."""
    return ImageFont.load_default(size)


def label(image: Image.Image, at: tuple[int, int], text: str, size: int = 20) -> None:
    """Write a line of text whose middle top is at ``at``."""
    ImageDraw.Draw(image).text(at, text, fill=INK, font=font(size), anchor="ma")


def dashed(image: Image.Image, box: tuple[int, int, int, int], colour: str, width: int = 2) -> None:
    """Draw a dashed rectangle."""
    draw = ImageDraw.Draw(image)
    x0, y0, x1, y1 = box
    for x in range(x0, x1, 14):
        for y in (y0, y1):
            draw.line((x, y, min(x + 8, x1), y), fill=colour, width=width)
    for y in range(y0, y1, 14):
        for x in (x0, x1):
            draw.line((x, y, x, min(y + 8, y1)), fill=colour, width=width)


def save(image: Image.Image, file: Path) -> None:
    """Write a picture in the largest palette that stays below the limit."""
    rgb = image.convert("RGB")
    for colours in (256, 192, 128, 96, 64):
        reduced = rgb.quantize(
            colours, Image.Quantize.MEDIANCUT, kmeans=2, dither=Image.Dither.NONE
        )
        reduced.save(file, optimize=True)
        if file.stat().st_size <= LIMIT:
            break
    size = file.stat().st_size
    print(f"{file}: {rgb.width} × {rgb.height} px, {colours} colours, {size / 1000:.0f} kB")
    if size > LIMIT:
        raise SystemExit(f"{file} is larger than {LIMIT / 1000:.0f} kB: make it smaller")


# ------------------------------------------------------------------------------ the pictures


def once(
    repeat: Repeat, tile: int, margin: int, only: list[Placement] | None = None
) -> Image.Image:
    """Return placements drawn once, unwrapped, with ``margin`` px shown around the tile.

    They are drawn on a page three tiles wide, so that nothing comes in again from its far side.
    """
    page = loose(repeat, float(repeat.width), only)
    drawn = pixels(page, 3 * tile, 3 * tile, 3 * tile, clear=True)
    near, far = tile - margin, 2 * tile + margin
    return drawn.crop((near, near, far, far))


def page_as_drawn(repeat: Repeat, tile: int, margin: int) -> Image.Image:
    """Return the page with its motifs running over the bounds, faint where they leave it."""
    side = tile + 2 * margin
    drawn = once(repeat, tile, margin)
    ground = Image.new("RGB", (side, side), repeat.ground.colour if repeat.ground else PAPER)
    ground.paste(drawn, (0, 0), drawn)
    image = Image.blend(Image.new("RGB", (side, side), PAPER), ground, 0.45)
    inside = (margin, margin, margin + tile, margin + tile)
    image.paste(ground.crop(inside), inside)
    dashed(image, (margin, margin, margin + tile - 1, margin + tile - 1), "#ffffff")
    return image


def page_and_tile(repeat: Repeat) -> Image.Image:
    """Return the drawn page beside the tile made of it."""
    tile, margin, top = 500, 96, 40
    side = tile + 2 * margin
    image = Image.new("RGB", (side + 40 + tile + 20, side + top + 8), PAPER)
    image.paste(page_as_drawn(repeat, tile, margin), (0, top))
    image.paste(pixels(repeat, tile, tile, tile), (side + 40, top + margin))
    label(image, (side // 2, 8), "the page as drawn, motifs over its edges")
    label(image, (side + 40 + tile // 2, 8), "the finished tile")
    return image


def wrap_copies(repeat: Repeat) -> Image.Image:
    """Return the tile with its wrap copies in colour and all the rest faint."""
    tile, margin = 500, 100
    side = tile + 2 * margin
    image = Image.new("RGB", (side, side), PAPER)
    crossing = {p.motif for p in wraps(repeat)}
    groups = (
        ([p for p in repeat.placements if p.motif not in crossing], "#dcd9d0"),
        ([p for p in repeat.placements if p.motif in crossing], "#58719a"),
        (wraps(repeat), MARK),
    )
    for placements, colour in groups:
        layer = once(repeat, tile, margin, placements)
        # Keep the drawing's lights and darks, in one colour.
        tint = Image.new("RGB", layer.size, colour)
        light = layer.convert("L").point(lambda v: 150 + v * 105 // 255).convert("RGB")
        image.paste(ImageChops.multiply(tint, light), (0, 0), layer.getchannel("A"))
    dashed(image, (margin, margin, margin + tile, margin + tile), INK)
    return image


def layouts(sprig: vecrepeat.Art) -> Image.Image:
    """Return four layouts side by side, one tile and the straight block marked on each."""
    tile, across, down, gap, top, left = 92, 3, 3, 34, 44, 14
    names = ("block", "half-drop", "drop:1/3", "brick")
    width, height = tile * across, tile * down
    image = Image.new("RGB", (left * 2 + 4 * width + 3 * gap, top + height + 46), PAPER)
    for number, name in enumerate(names):
        repeat = sprig.repeat(name)
        x, y = left + number * (width + gap), top
        picture = pixels(repeat, width, height, tile)
        draw = ImageDraw.Draw(picture)
        step = repeat.lattice
        for i in range(-4, 5):
            for j in range(-4, 5):
                at = step.at(i, j)
                px, py = (round(v * tile / repeat.width) for v in (at.x, at.y))
                draw.rectangle((px, py, px + tile, py + tile), outline="#c9bfa9")
        columns, rows = repeat.layout.straight_block
        draw.rectangle((1, 1, columns * tile - 1, rows * tile - 1), outline=MARK, width=3)
        image.paste(picture, (x, y))
        label(image, (x + width // 2, 10), name)
        words = "1 tile" if columns * rows == 1 else f"{columns} by {rows} tiles"
        label(image, (x + width // 2, y + height + 12), f"straight block: {words}", 15)
    return image


def square(repeat: Repeat, side: int, tiles: Fraction) -> Image.Image:
    """Return a square of cloth, ``tiles`` tiles wide."""
    return pixels(repeat, side, side, round(side / tiles))


def turned(sprig: vecrepeat.Art) -> Image.Image:
    """Return a page laid as it is, turned over, and by half a turn, its tiles' bounds drawn."""
    side, gap, top = 300, 22, 40
    names = ("block", "turnover-across", "half-drop+turnover-across", "half-turn-both")
    image = Image.new("RGB", (4 * side + 5 * gap, top + side + gap), PAPER)
    page = side // 4
    for number, name in enumerate(names):
        repeat = sprig.repeat(name)
        picture = square(repeat, side, Fraction(4) * sprig.width / repeat.width)
        draw = ImageDraw.Draw(picture)
        for column in range(4):
            drop = page // 2 * (column % 2) if name.startswith("half-drop") else 0
            for row in range(-1, 5):
                x, y = column * page, row * page + drop
                draw.rectangle((x, y, x + page, y + page), outline="#c9bfa9")
        x = gap + number * (side + gap)
        image.paste(picture, (x, top))
        label(image, (x + side // 2, 10), name, 18)
    return image


def kaleidoscopes(garden: vecrepeat.Art) -> Image.Image:
    """Return the garden cut to the regions of two plane groups."""
    side, gap = 480, 16
    image = Image.new("RGB", (2 * side + gap, side), PAPER)
    for number, (name, tiles) in enumerate((("p4mm", Fraction(2)), ("p6mm", Fraction(8, 5)))):
        repeat = garden.repeat(name, cut=True)
        image.paste(square(repeat, side, tiles), (number * (side + gap), 0))
    return image


def arrangements(garden: vecrepeat.Art) -> Image.Image:
    """Return four designs side by side: a toss, and the demo drawings made for other layouts."""
    from vecrepeat.arrange import RankSettings, TossSettings, toss
    from vecrepeat.sources.first import ranks

    side, gap = 400, 12
    tossed = toss(
        garden.repeat("half-drop"),
        list(zip(garden.motifs, ranks(garden.motifs), strict=True)),
        TossSettings(
            clearance=2.0,
            seed=3,
            hero=RankSettings(count=8),
            secondary=RankSettings(count=14),
            filler=RankSettings(count=20, scale=(0.7, 1.0)),
        ),
    ).on(garden.repeat("half-drop"))
    cloths = [(tossed, Fraction(3, 2))]
    for name, layout, tiles in (
        ("pomegranate", "cm", Fraction(2)),
        ("ogee", "c2mm", Fraction(5, 2)),
        ("ticking-garden", "block", Fraction(3)),
    ):
        cloths.append((vecrepeat.read_art(DEMO / f"{name}.svg").repeat(layout), tiles))
    image = Image.new("RGB", (2 * side + gap, 2 * side + gap), PAPER)
    for number, (repeat, tiles) in enumerate(cloths):
        place = (number % 2 * (side + gap), number // 2 * (side + gap))
        image.paste(square(repeat, side, tiles), place)
    return image


def scales(repeat: Repeat) -> Image.Image:
    """Return the same piece of cloth, a foot square, at three sizes of the repeat."""
    side, gap, top = 340, 24, 40
    image = Image.new("RGB", (3 * side + 4 * gap, top + side + gap), PAPER)
    for number, inches in enumerate((6, 12, 24)):
        x = gap + number * (side + gap)
        image.paste(pixels(repeat, side, side, side * inches // 12), (x, top))
        label(image, (x + side // 2, 8), f"--repeat-width {inches}in")
    return image


def three_drops(repeat: Repeat) -> Image.Image:
    """Return a wall of three drops, the joins marked above and below."""
    tile, height, top, side = 212, 780, 40, 40
    image = Image.new("RGB", (3 * tile + 2 * side, height + 2 * top), "#ded9cf")
    image.paste(pixels(repeat, 3 * tile, height, tile), (side, top))
    draw = ImageDraw.Draw(image)
    for column in range(4):
        x = side + column * tile
        draw.line((x, top - 14, x, top - 5), fill=INK, width=2)
        draw.line((x, top + height + 5, x, top + height + 14), fill=INK, width=2)
    for column, word in enumerate(("first drop", "second drop", "third drop")):
        label(image, (side + tile // 2 + column * tile, 12), word, 16)
    return image


# ------------------------------------------------------------------------------ the diagrams


def svg(width: int, height: int, body: str) -> str:
    """Return a diagram on paper."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="0 0 {width} {height}" font-family="sans-serif" font-size="15" fill="{INK}">\n'
        "<defs>\n"
        '<marker id="tip" viewBox="0 0 10 10" refX="9" refY="5" markerWidth="8" markerHeight="8" '
        f'orient="auto"><path d="M0 0L10 5L0 10Z" fill="{MARK}"/></marker>\n'
        "</defs>\n"
        f'<rect width="{width}" height="{height}" fill="{PAPER}"/>\n{body}</svg>\n'
    )


def lattice_diagram() -> str:
    """Return a half-drop's tiles, its two vectors and its straight block."""
    w, h, x0, y0 = 110, 120, 60, 50
    rows = []
    for i in range(4):
        for j in range(-1, 3):
            x, y = x0 + i * w, y0 + j * h + i * h / 2 - (i // 2) * h
            top, bottom = max(y, 20), min(y + h, 330)
            if bottom - top > 8:
                rows.append(
                    f'<rect x="{x}" y="{top:g}" width="{w}" height="{bottom - top:g}" '
                    'fill="#f1ece0" stroke="#c9bfa9"/>'
                )
    block = (
        f'<rect x="{x0}" y="{y0}" width="{2 * w}" height="{h}" fill="{MARK}" '
        f'fill-opacity="0.10" stroke="{MARK}" stroke-width="2" stroke-dasharray="7 5"/>'
    )
    arrows = (
        f'<g stroke="{MARK}" stroke-width="2.5" fill="none">'
        f'<path d="M{x0} {y0}L{x0 + w} {y0 + h / 2}" marker-end="url(#tip)"/>'
        f'<path d="M{x0} {y0}L{x0} {y0 + h}" marker-end="url(#tip)"/></g>'
        f'<circle cx="{x0}" cy="{y0}" r="4" fill="{MARK}"/>'
    )
    words = (
        f'<text x="{x0 + 44}" y="{y0 + 52}" font-style="italic">a</text>'
        f'<text x="{x0 - 18}" y="{y0 + 70}" font-style="italic">b</text>'
        '<text x="530" y="80"><tspan font-style="italic">a</tspan> = (W, ½H): the next column'
        "</text>"
        '<text x="530" y="108"><tspan font-style="italic">b</tspan> = (0, H): the next row</text>'
        f'<text x="530" y="150" fill="{MARK}">dashed: the straight block, 2W × H</text>'
    )
    return svg(820, 350, "\n".join([*rows, block, arrows, words]) + "\n")


def bytes_diagram() -> str:
    """Return how a sheet's PNG is made of one band's bytes."""
    x0, y0, w, h = 40, 50, 100, 62
    parts = [
        f'<text x="{x0}" y="30">the sheet: four blocks across, three bands and part of one</text>'
    ]
    for row in range(4):
        high = h if row < 3 else 26
        for column in range(4):
            first = row == 0 and column == 0
            colour = "#e3a08f" if first else "#f1dcd4" if row == 0 else "#f1ece0"
            parts.append(
                f'<rect x="{x0 + column * w}" y="{y0 + row * h}" width="{w}" height="{high}" '
                f'fill="{colour}" stroke="#b9ae97"/>'
            )
    parts.append(
        f'<text x="{x0 + w / 2}" y="{y0 + 36}" font-size="14" text-anchor="middle">'
        "drawn once</text>"
        f'<text x="{x0 + 2.5 * w}" y="{y0 + 36}" font-size="14" text-anchor="middle">'
        "“as one block before”</text>"
    )
    notes = (
        ("first row as it is, each other row", "as the change from the row above"),
        ("the same bytes again",),
        ("the same bytes again",),
        ("the first part of them",),
    )
    for row, lines in enumerate(notes):
        for line, text in enumerate(lines):
            parts.append(
                f'<text x="{x0 + 4 * w + 20}" y="{y0 + row * h + 24 + 20 * line}" font-size="14">'
                f"{text}</text>"
            )
    y = 326
    parts.append(f'<text x="{x0}" y="{y - 14}">the file: the band’s bytes, again and again</text>')
    x = x0
    for text, wide, colour in (
        ("head", 60, "#dfe6ee"),
        ("band", 150, "#e3a08f"),
        ("band", 150, "#e3a08f"),
        ("band", 150, "#e3a08f"),
        ("its start", 80, "#e3a08f"),
        ("checksum", 90, "#dfe6ee"),
    ):
        parts.append(
            f'<rect x="{x}" y="{y}" width="{wide}" height="38" fill="{colour}" stroke="#b9ae97"/>'
            f'<text x="{x + wide / 2}" y="{y + 25}" text-anchor="middle">{text}</text>'
        )
        x += wide
    return svg(760, 390, "\n".join(parts) + "\n")


def main() -> None:
    """Write every picture to FOLDER, ``docs/pictures`` by default."""
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else DOCS / "pictures"
    out.mkdir(parents=True, exist_ok=True)
    garden = vecrepeat.read_art(DEMO / "night-garden.svg")
    brook = vecrepeat.read_art(DEMO / "brook.svg")
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "sprig.svg"
        file.write_text(SPRIG, encoding="utf-8")
        sprig = vecrepeat.read_art(file)
    save(page_and_tile(garden.repeat("block")), out / "page-and-tile.png")
    save(wrap_copies(garden.repeat("block")), out / "wrap-copies.png")
    save(pixels(garden.repeat("half-drop"), 720, 720, 360), out / "night-garden-half-drop.png")
    save(three_drops(brook.repeat("half-drop")), out / "brook-three-drops.png")
    save(scales(garden.repeat("block")), out / "scales.png")
    save(layouts(sprig), out / "layouts.png")
    save(turned(sprig), out / "layouts-turned.png")
    save(kaleidoscopes(garden), out / "kaleidoscopes.png")
    save(arrangements(garden), out / "arrangements.png")
    for name, text in (("lattice", lattice_diagram()), ("png-bytes", bytes_diagram())):
        (out / f"{name}.svg").write_text(text, encoding="utf-8")
        print(out / f"{name}.svg")


if __name__ == "__main__":
    main()
