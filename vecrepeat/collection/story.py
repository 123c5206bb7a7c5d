"""The story page: a collection's prints used together, in true proportion.

Plain line drawings of our own, flat to the eye, as those of :mod:`vecrepeat.proof.scenes`.
"""

from __future__ import annotations

from collections.abc import Sequence

from vecrepeat.collection.line import Line
from vecrepeat.proof.cloth import Cloth
from vecrepeat.proof.drawing import INK, SOFT, SheetBox, n, rect, text
from vecrepeat.proof.papers import PAPERS
from vecrepeat.proof.scenes import (
    FLOOR,
    PAPER_WHITE,
    WOOD,
    Cover,
    UseScene,
    path,
    rectangle,
    scene_svg,
)
from vecrepeat.proof.sheet import document
from vecrepeat.recipe.collection import ROLES
from vecrepeat.recipe.model import AS_DRAWN

MARGIN, GAP = 14.0, 8.0
DPI = 200
"""Pixels per inch of paper of the cloths on the page."""

_SHADE = 'fill="#000000" fill-opacity="{}"'
_MOST_FOLDED = 12
_FOLD = (440.0, 46.0)
"""Width and height of a folded piece in mm: half a metre of cloth, folded to a hand's breadth."""


class Cast:
    """Which print plays what: numbers of prints by role, others standing in for a role that lacks.

    Args:
        roles: of the prints, in their order.
    """

    def __init__(self, roles: Sequence[str]) -> None:
        self._all = list(range(len(roles)))
        self._by_role = {role: [k for k, own in enumerate(roles) if own == role] for role in ROLES}

    def hero(self, number: int = 0) -> int:
        """Return a hero's number."""
        return self._of("hero", number)

    def second(self, number: int) -> int:
        """Return a secondary's number."""
        return self._of("secondary", number)

    def blend(self, number: int) -> int:
        """Return a blender's number."""
        return self._of("blender", number)

    def _of(self, role: str, number: int) -> int:
        group = self._by_role[role] or self._all
        return group[number % len(group)]


def story_svg(shown: Line, way: str, paper: str = "a3") -> str:
    """Return the story page in one of the collection's ways as an SVG document in mm."""
    width, height = PAPERS[paper]
    cast = Cast([one.role for one in shown.prints])
    cloths = [Cloth(repeat, DPI) for repeat in shown.repeats(way)]
    inner = SheetBox(MARGIN, MARGIN + 16, width - 2 * MARGIN, height - 2 * MARGIN - 16)
    left = inner.width * 0.62
    right = SheetBox(inner.x + left + GAP, inner.y, inner.width - left - GAP, inner.height)
    wall = room(cast)
    upper = min(right.width * wall.height / wall.width + 9, inner.height * 0.6)
    folded = list(range(len(cloths)))[:_MOST_FOLDED]
    scenes = (
        (bed(cast), inner._replace(width=left)),
        (wall, right._replace(height=upper)),
        (
            pile(folded),
            right._replace(y=inner.y + upper + GAP, height=inner.height - upper - GAP),
        ),
    )
    name = shown.collection.name
    body = [
        rect(SheetBox(0, 0, width, height), fill="#ffffff"),
        text(MARGIN, MARGIN + 8, f"{name}, used together", 10.0, weight="bold"),
        text(width - MARGIN, MARGIN + 4.4, "" if way == AS_DRAWN else way, 4.6, anchor="end"),
        text(width - MARGIN, MARGIN + 9, "in true proportion", 2.9, fill=SOFT, anchor="end"),
        *(
            scene_svg(scene, cloths, box, f"story-{number}")
            for number, (scene, box) in enumerate(scenes)
        ),
    ]
    return document(width, height, "", "".join(body))


def bed(cast: Cast) -> UseScene:
    """A made bed from above, 160 × 200 cm."""

    def draw(cover: Cover) -> str:
        mattress = SheetBox(560, 210, 1600, 2060)
        parts = [
            f'<path d="{rectangle(0, 0, 2720, 2720)}" fill="{FLOOR}"/>',
            *(path(f"M0 {y}H2720", width=1.5, stroke="#d3ccbf") for y in range(160, 2720, 160)),
            f'<path d="M352 2392Q1360 2426 2368 2392V2436Q1360 2470 352 2436Z" '
            f"{_SHADE.format(0.10)}/>",
            path(rectangle(510, 130, 1700, 80), fill=WOOD, width=5.0),
        ]
        for x in (60.0, 2250.0):
            parts.append(path(rectangle(x, 170, 410, 400), fill=WOOD, width=5.0))
            lamp = f'<circle cx="{n(x + 205)}" cy="360" r="{{}}" fill="{{}}" stroke="{INK}" '
            parts.append(lamp.format(120, PAPER_WHITE) + 'stroke-width="4"/>')
            parts.append(lamp.format(40, "#f4efe5") + 'stroke-width="3"/>')
        sheet = rectangle(*mattress)
        parts += [cover(sheet, mattress, cast.blend(0)), path(sheet, width=4.0)]
        for x in (610.0, 1390.0):
            parts.append(_cushion(cover, SheetBox(x, 260, 720, 480), cast.second(0)))
        parts.append(_cushion(cover, SheetBox(760, 520, 430, 430), cast.blend(1)))
        parts.append(_cushion(cover, SheetBox(1530, 520, 430, 430), cast.blend(1)))
        parts.append(_cushion(cover, SheetBox(1080, 600, 560, 330), cast.hero(1)))
        duvet = "M380 1010Q1360 985 2340 1010L2362 2390Q1360 2424 358 2390Z"
        parts += [
            cover(duvet, SheetBox(350, 980, 2020, 1440), cast.hero()),
            path(duvet, width=5.0),
        ]
        turned = "M376 960Q1360 938 2344 960L2350 1240Q1360 1262 370 1240Z"
        parts += [
            f'<path d="M370 1242Q1360 1264 2350 1242V1290Q1360 1316 370 1290Z" '
            f"{_SHADE.format(0.13)}/>",
            cover(turned, SheetBox(366, 935, 1990, 330), cast.second(1)),
            path(turned, width=5.0),
        ]
        throw = "M330 1800Q1360 1776 2390 1800L2396 2190Q1360 2214 324 2190Z"
        parts += [
            f'<path d="M362 2192Q1360 2216 2358 2192V2230Q1360 2258 362 2230Z" '
            f"{_SHADE.format(0.13)}/>",
            cover(throw, SheetBox(320, 1775, 2080, 440), cast.blend(2)),
            path(throw, width=5.0),
        ]
        # Where it falls over the sides of the bed.
        parts.append(
            '<path d="M560 1300V2392M2160 1300V2392" stroke="#000000" stroke-opacity="0.1" '
            'stroke-width="18" fill="none"/>'
        )
        return "".join(parts)

    return UseScene("a bed from above", "mattress 160 × 200 cm, cushions 43 cm", 2720, 2720, draw)


def room(cast: Cast) -> UseScene:
    """A papered wall with a sofa of 2.1 m, its cushions, and a curtain."""

    def draw(cover: Cover) -> str:
        wall = rectangle(0, 0, 3400, 2400)
        parts = [
            cover(wall, SheetBox(0, 0, 3400, 2400), cast.hero()),
            f'<path d="{rectangle(0, 2310, 3400, 90)}" fill="{PAPER_WHITE}" stroke="{INK}" '
            'stroke-width="5"/>',
            f'<path d="{rectangle(0, 2400, 3400, 470)}" fill="{FLOOR}"/>',
            path("M0 2400H3400", width=8.0),
            path("M60 90H1180", width=24.0, stroke=WOOD),
        ]
        curtain = "M110 104H1060L1084 2436Q840 2462 600 2438T96 2438Z"
        parts += [cover(curtain, SheetBox(90, 100, 1000, 2380), cast.second(0))]
        parts += [
            f'<path d="M{n(110 + fold * 105)} 110L{n(104 + fold * 107)} 2436" stroke="#000000" '
            f'stroke-opacity="0.2" stroke-width="{11 if fold % 2 else 5}" fill="none"/>'
            for fold in range(1, 9)
        ]
        parts.append(path(curtain, width=6.0))
        left, floor = 1200.0, 2690.0
        parts.append(
            f'<ellipse cx="{n(left + 1050)}" cy="{n(floor)}" rx="1120" ry="50" '
            f"{_SHADE.format(0.12)}/>"
        )
        for x in (left + 90, left + 1950):
            parts.append(path(f"M{n(x)} {n(floor - 120)}v120", width=46.0))
            parts.append(path(f"M{n(x)} {n(floor - 120)}v116", width=36.0, stroke=WOOD))
        back = SheetBox(left + 120, floor - 880, 1860, 520)
        parts += _soft(cover, back, 90, cast.second(1))
        for k in range(2):
            seat = SheetBox(left + 180 + k * 870, floor - 480, 870, 190)
            parts += _soft(cover, seat, 50, cast.second(1))
        base = SheetBox(left + 150, floor - 300, 1800, 190)
        parts += _soft(cover, base, 20, cast.second(1))
        for x in (left, left + 1880):
            parts += _soft(cover, SheetBox(x, floor - 660, 220, 550), 90, cast.second(1))
        parts.append(_cushion(cover, SheetBox(left + 260, floor - 880, 430, 430), cast.blend(0)))
        parts.append(_cushion(cover, SheetBox(left + 600, floor - 840, 400, 400), cast.hero(1)))
        parts.append(_cushion(cover, SheetBox(left + 1400, floor - 870, 430, 430), cast.blend(1)))
        parts.append(_cushion(cover, SheetBox(left + 1130, floor - 780, 520, 330), cast.blend(2)))
        return "".join(parts)

    size = "wall 3.4 × 2.4 m, sofa 2.1 m wide, cushions 43 cm"
    return UseScene("a room", size, 3400, 2870, draw)


def pile(numbers: Sequence[int]) -> UseScene:
    """Folded cloths on one another, one of each print."""
    wide, high = _FOLD
    lean = (0.0, 9.0, -6.0, 13.0, 3.0, -9.0, 7.0)

    def draw(cover: Cover) -> str:
        foot = high * len(numbers) + 30
        parts = [
            f'<ellipse cx="{n(wide / 2 + 60)}" cy="{n(foot + 4)}" rx="{n(wide * 0.56)}" ry="13" '
            f"{_SHADE.format(0.14)}/>"
        ]
        # The last lies lowest.
        for place, number in enumerate(reversed(numbers)):
            x, y = 60 + lean[place % len(lean)], foot - high * (place + 1)
            radius = high / 2
            d = (
                f"M{n(x + 8)} {n(y)}H{n(x + wide - radius)}a{n(radius)} {n(radius)} 0 0 1 0 "
                f"{n(high)}H{n(x + 8)}q-9 {n(-high / 4)} 0 {n(-high / 2)}q-9 {n(-high / 4)} 0 "
                f"{n(-high / 2)}Z"
            )
            middle = f"M{n(x + 8)} {n(y + high / 2)}H{n(x + wide - high * 0.55)}"
            parts += [
                cover(d, SheetBox(x - 4, y, wide + 8, high), number),
                f'<path d="M{n(x + 8)} {n(y + high * 0.8)}H{n(x + wide - radius)}a{n(radius)} '
                f"{n(radius)} 0 0 0 {n(radius * 0.8)} {n(-radius * 0.6)}v{n(radius * 0.4)}"
                f'q-4 {n(radius * 0.6)} {n(-radius * 0.8)} {n(radius * 0.6)}H{n(x + 8)}Z" '
                f"{_SHADE.format(0.10)}/>",
                f'<path d="{middle}" stroke="#000000" stroke-opacity="0.45" stroke-width="1.3" '
                'fill="none"/>',
                path(d, width=1.4),
            ]
        return "".join(parts)

    tall = high * len(numbers) + 60
    return UseScene("a pile of folded cloths", "each folded to 44 × 4.6 cm", wide + 120, tall, draw)


def _soft(cover: Cover, box: SheetBox, radius: float, number: int) -> list[str]:
    """Return a part of a sofa: a rectangle with round corners, and its shade."""
    d = (
        f"M{n(box.x + radius)} {n(box.y)}h{n(box.width - 2 * radius)}q{n(radius)} 0 {n(radius)} "
        f"{n(radius)}v{n(box.height - 2 * radius)}q0 {n(radius)} {n(-radius)} {n(radius)}"
        f"h{n(2 * radius - box.width)}q{n(-radius)} 0 {n(-radius)} {n(-radius)}"
        f"v{n(2 * radius - box.height)}q0 {n(-radius)} {n(radius)} {n(-radius)}Z"
    )
    shade = rectangle(box.x, box.bottom - box.height * 0.16, box.width, box.height * 0.1)
    return [
        cover(d, box, number),
        f'<path d="{shade}" {_SHADE.format(0.06)}/>',
        path(d, width=5.0),
    ]


def _cushion(cover: Cover, box: SheetBox, number: int) -> str:
    """Return a cushion whose sides bulge inwards between its corners, on its shadow."""
    w, h = box.width, box.height
    dent = min(w, h) * 0.045
    d = (
        f"M{n(box.x)} {n(box.y)}q{n(w / 2)} {n(2 * dent)} {n(w)} 0q{n(-2 * dent)} {n(h / 2)} 0 "
        f"{n(h)}q{n(-w / 2)} {n(-2 * dent)} {n(-w)} 0q{n(2 * dent)} {n(-h / 2)} 0 {n(-h)}Z"
    )
    shadow = f'<path d="{d}" transform="translate(10 22)" {_SHADE.format(0.16)}/>'
    return shadow + cover(d, box, number) + path(d, width=4.0)
