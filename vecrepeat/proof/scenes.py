"""Scenes in true proportion: the cloth sewn and hung, the paper on a wall.

Plain line drawings of our own, flat to the eye, at a stated scale. What counts is that a motif
beside a door handle or on a cushion is as large as it will be.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple, Protocol

from vecrepeat.proof.cloth import Cloth
from vecrepeat.proof.drawing import INK, SOFT, SheetBox, n, text

PAPER_WHITE = "#fbfaf7"
FLOOR = "#e9e4da"
WOOD = "#cdb89a"


class UseScene(NamedTuple):
    """One scene.

    Attributes:
        name: what it shows.
        size: what is shown in cm, in words.
        width: of the scene in mm of the real thing.
        height: likewise.
        draw: returns its SVG from the upper left corner, in mm of the real thing; it is given
            a function that covers a shape with cloth.
    """

    name: str
    size: str
    width: float
    height: float
    draw: Callable[[Cover], str]


class Cover(Protocol):
    """Covers a path with cloth."""

    def __call__(self, d: str, where: SheetBox, which: int = 0) -> str:
        """Return it covered: path data, the box it lies in, in mm, and the cloth's number."""
        ...


def path(d: str, *, fill: str = "none", width: float = 4.0, stroke: str = INK) -> str:
    return (
        f'<path d="{d}" fill="{fill}" stroke="{stroke}" stroke-width="{n(width)}" '
        'stroke-linejoin="round" stroke-linecap="round"/>'
    )


def rectangle(x: float, y: float, width: float, height: float) -> str:
    return f"M{n(x)} {n(y)}h{n(width)}v{n(height)}h{n(-width)}Z"


def cushion(cover: Cover) -> str:
    """A cushion, 45 × 45 cm, corner to corner."""
    shape = "M40 40Q265 66 490 40Q464 265 490 490Q265 464 40 490Q66 265 40 40Z"
    shadow = "M30 505Q265 488 500 505Q265 530 30 505Z"
    piping = "M46 46Q265 71 484 46Q459 265 484 484Q265 459 46 484Q71 265 46 46Z"
    return (
        f'<path d="{shadow}" fill="{FLOOR}"/>'
        + cover(shape, SheetBox(40, 40, 450, 450))
        + path(shape, width=3.0)
        + path(piping, width=1.2)
    )


def bolt(cover: Cover) -> str:
    """A bolt of cloth, 140 cm wide, with a length rolled off."""
    hanging = "M60 150H1460V640Q1110 662 760 640T60 640Z"
    roll = rectangle(60, 60, 1400, 110)
    end = "M1460 60Q1500 60 1500 115T1460 170Z"
    core = "M1470 96Q1484 96 1484 115T1470 134Z"
    return (
        cover(hanging, SheetBox(60, 150, 1400, 512))
        + path(hanging, width=5.0)
        + cover(roll, SheetBox(60, 60, 1400, 110))
        + f'<path d="{roll}" fill="#000000" fill-opacity="0.14"/>'
        + path(roll, width=5.0)
        + path(end, fill=PAPER_WHITE, width=5.0)
        + path(core, fill=WOOD, width=3.0)
        + path("M20 115H60", width=14.0, stroke=WOOD)
        + path("M1500 115H1530", width=14.0, stroke=WOOD)
    )


def curtain(cover: Cover) -> str:
    """A pair of curtains at a window, each 76 cm wide and 226 cm long."""
    window = rectangle(760, 330, 1080, 1250)
    panes = "M1300 330V1580M760 955H1840"
    parts = [
        path("M0 2440H2600", width=6.0),
        path(window, fill="#dfe9ee", width=10.0),
        path(panes, width=8.0),
        path("M120 150H2480", width=26.0, stroke=WOOD),
        path("M120 150H2480", width=3.0),
        f'<circle cx="110" cy="150" r="30" fill="{WOOD}" stroke="{INK}" stroke-width="6"/>',
        f'<circle cx="2490" cy="150" r="30" fill="{WOOD}" stroke="{INK}" stroke-width="6"/>',
    ]
    for left in (180.0, 1660.0):
        # Straight to the eye, so that the repeat can be judged; folds are only hinted at.
        shape = (
            f"M{n(left)} 160H{n(left + 760)}L{n(left + 740)} 2420Q{n(left + 555)} 2446 "
            f"{n(left + 380)} 2424T{n(left + 20)} 2424Z"
        )
        parts.append(cover(shape, SheetBox(left, 160, 760, 2290)))
        for fold in range(1, 8):
            x = left + fold * 95
            parts.append(
                f'<path d="M{n(x)} 165L{n(x + (4 - fold) * 3)} 2420" stroke="#000000" '
                f'stroke-opacity="0.22" stroke-width="{10 if fold % 2 else 5}" fill="none"/>'
            )
        parts.append(path(shape, width=6.0))
    return "".join(parts)


def wall(cover: Cover) -> str:
    """A papered wall, 4 × 2.5 m, with a door of 80 × 200 cm and a chair."""
    paper = rectangle(0, 80, 4000, 2340)
    door = rectangle(2750, 500, 800, 2000)
    frame = rectangle(2690, 440, 920, 2060)
    parts = [
        f'<path d="{rectangle(0, 0, 4000, 2500)}" fill="{PAPER_WHITE}"/>',
        cover(paper, SheetBox(0, 80, 4000, 2340)),
        f'<path d="{rectangle(0, 2420, 4000, 80)}" fill="{PAPER_WHITE}" stroke="{INK}" '
        'stroke-width="5"/>',
        path("M0 80H4000", width=6.0),
        f'<path d="{rectangle(-60, 2500, 4120, 260)}" fill="{FLOOR}"/>',
        path("M-60 2500H4060", width=8.0),
        path(frame, fill=PAPER_WHITE, width=7.0),
        path(door, fill="#f4efe5", width=7.0),
        path(rectangle(2840, 620, 620, 760), width=5.0),
        path(rectangle(2840, 1500, 620, 880), width=5.0),
        path("M2800 1470h70", width=16.0, stroke=WOOD),
        f'<circle cx="2800" cy="1470" r="20" fill="{WOOD}" stroke="{INK}" stroke-width="5"/>',
    ]
    return "".join(parts) + f'<g transform="translate(760 1680)">{_chair()}</g>'


def _chair() -> str:
    """A wooden chair seen from the front, 44 cm wide, seat at 46 cm, back at 88 cm."""
    legs = "M20 420L0 880M420 420L440 880"
    back = "M40 400L60 0M400 400L380 0"
    slats = "M56 60Q220 90 384 60M52 150Q220 180 388 150M47 250Q220 280 393 250"
    seat = "M-6 400H446L430 450H10Z"
    parts = []
    for width, stroke in ((44.0, INK), (34.0, WOOD)):
        parts.append(path(f"{back}{legs}", width=width, stroke=stroke))
        parts.append(path(slats, width=width - 8, stroke=stroke))
    parts.append(path(seat, fill=WOOD, width=6.0))
    return "".join(parts)


SCENES = (
    UseScene("a wall", "wall 4 × 2.5 m, door 80 × 200 cm, chair 44 cm wide", 4000, 2760, wall),
    UseScene("curtains", "each 76 cm wide as it hangs, 226 cm long", 2600, 2460, curtain),
    UseScene("a bolt", "140 cm wide", 1540, 670, bolt),
    UseScene("a cushion", "45 × 45 cm", 530, 540, cushion),
)


def scene_svg(scene: UseScene, cloths: Sequence[Cloth], box: SheetBox, key: str) -> str:
    """Return a scene drawn to fit a box of the sheet, with its name, size and scale below.

    Args:
        scene: what is drawn.
        cloths: what it is drawn in, by number; most scenes are in one.
        box: where.
        key: begins ids that nothing else in the document has.
    """
    room = 9.0
    scale = min(box.width / scene.width, (box.height - room) / scene.height)
    left = box.x + (box.width - scene.width * scale) / 2
    top = box.y + box.height - room - scene.height * scale
    clips: list[str] = []

    def cover(d: str, where: SheetBox, which: int = 0) -> str:
        clip = f"{key}-{len(clips)}"
        clips.append(clip)
        # The picture is made at the sheet's size; inside the scene's scale it is undone.
        small = SheetBox(0, 0, where.width * scale, where.height * scale)
        picture = cloths[which].picture(small, scale)
        return (
            f'<clipPath id="{clip}"><path d="{d}"/></clipPath><g clip-path="url(#{clip})">'
            f'<g transform="translate({n(where.x)} {n(where.y)}) scale({1 / scale:.9g})">'
            f"{picture}</g></g>"
        )

    drawn = scene.draw(cover)
    middle = box.x + box.width / 2
    return (
        f'<g transform="translate({n(left)} {n(top)}) scale({scale:.9g})">{drawn}</g>'
        f"{text(middle, box.bottom - 4.2, scene.name, 3.2, anchor='middle')}"
        + text(
            middle,
            box.bottom - 0.4,
            f"{scene.size}; shown 1 to {1 / scale:.0f}",
            2.6,
            fill=SOFT,
            anchor="middle",
        )
    )
