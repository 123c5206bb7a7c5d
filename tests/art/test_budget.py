"""Drawings that multiply are refused before the work is done, and real ones are not."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import pytest
import shapely
from support import write_svg

from vecrepeat.art import motifs, structure, stylesheet
from vecrepeat.art.read import read_art
from vecrepeat.core.errors import InputError
from vecrepeat.scene import segments

INK = '<path d="M10 10h50v40z"/>'
PICTURE = "data:image/png;base64," + "A" * 4_000_000


def chain(element: str, link: str, links: int, each: int) -> str:
    """Definitions each of which uses the next some times, and a shape that uses the first."""
    body = "".join(
        f'<{element} id="n{k}">{link.format(k + 1) * each}</{element}>' for k in range(links)
    )
    return f"<defs>{body}<{element} id='n{links}'>{INK}</{element}></defs>{INK}{link.format(0)}"


EFFECTS = [
    ("mask", '<path d="M0 0h90v90z" mask="url(#n{})"/>'),
    ("clipPath", '<path d="M0 0h90v90z" clip-path="url(#n{})"/>'),
    ("marker", '<path d="M0 0h90v90z" marker-mid="url(#n{})"/>'),
    ("marker", '<g marker-end="url(#n{})"><path d="M0 0h90v90z"/></g>'),
]

COPIES = (
    f'<defs><image id="p" width="9" height="9" href="{PICTURE}"/></defs>' + '<use href="#p"/>' * 20
)

REFUSED = [
    # (what it does, the drawing, what the error says)
    *[(f"{e} twice at each link: {x[:9]}", chain(e, x, 30, 2), "come to more") for e, x in EFFECTS],
    ("masks in a long chain", chain("mask", EFFECTS[0][1], 60, 1), "nest more than 40 deep"),
    (
        "a marker on very many vertices",
        f'<marker id="n0">{INK * 300}</marker><path d="M0 0{"l1 1" * 2000}" '
        'marker-mid="url(#n0)"/>',
        "come to more",
    ),
    (
        "masks that all use all others",
        "".join(
            f'<mask id="n{k}">'
            + "".join(f'<path d="M0 0h9v9z" mask="url(#n{j})"/>' for j in range(25))
            + "</mask>"
            for k in range(25)
        )
        + '<path d="M0 0h90v90z" mask="url(#n0)"/>',
        "come to more",
    ),
    ("use twice at each link", chain("g", '<use href="#n{}"/>', 30, 2), "elements expand"),
    ("a large picture used often", COPIES, "expand to more than 64 MiB"),
    (
        "a metre of dashes of a micrometre",
        '<path d="M0 0H1000" stroke="red" stroke-dasharray="1e-3"/>',
        "dashes",
    ),
    (
        "dashes that the group sets",
        '<g stroke="red" stroke-dasharray=".001 .002">' + '<path d="M0 0H90"/>' * 20 + "</g>",
        "dashes",
    ),
]


@pytest.mark.parametrize(("body", "says"), [pytest.param(*r[1:], id=r[0]) for r in REFUSED])
def test_is_refused_at_once(tmp_path: Path, body: str, says: str) -> None:
    file = write_svg(tmp_path, body)
    start = time.process_time()
    with pytest.raises(InputError, match=says) as caught:
        read_art(file)
    assert time.process_time() - start < 3
    assert caught.value.file == str(file)


READ = [
    # (what it does, the drawing, what it covers in mm²). INK is a triangle of 50 mm by 40.
    # Masks of black ink hide all; what is clipped lies within the ink; the markers' own box is
    # 3 mm a side, half of which their triangle fills, on two vertices of one of 90 mm by 90.
    ("mask in a short chain", chain(*EFFECTS[0], 3, 1), 1000),
    ("clipPath in a short chain", chain(*EFFECTS[1], 3, 1), 1000),
    ("marker in a short chain", chain(*EFFECTS[2], 3, 1), 90 * 90 / 2 + 2 * 4.5),
    (
        "one clip on many shapes",
        f'<clipPath id="n0">{INK}</clipPath>' + EFFECTS[1][1].format(0) * 500,
        1000,
    ),
    ("fine dashes", '<path d="M0 0H90" stroke="red" stroke-dasharray=".1"/>', 90 * 0.5 / 2),
    (
        "a use in a circle",
        f'<g id="a">{INK}<use href="#b"/></g><g id="b"><use href="#a"/></g>',
        1000,
    ),
]


@pytest.mark.parametrize(("body", "area"), [pytest.param(*r[1:], id=r[0]) for r in READ])
def test_is_read_and_covers_what_it_paints(tmp_path: Path, body: str, area: float) -> None:
    outline = shapely.union_all([m.outline for m in read_art(write_svg(tmp_path, body)).motifs])
    # Measured outlines, as of masks and markers, hold all of a pixel that is touched.
    seen = shapely.intersection(outline, shapely.box(0, 0, 100, 100)).area
    assert area * 0.999 <= seen <= area * 1.02


BOUNDS: list[tuple[str, Callable[[pytest.MonkeyPatch], None], str, str]] = [
    # (what is bounded, the bound set low, a drawing past it, what the error says)
    ("motifs", lambda m: m.setattr(motifs, "PLACEMENTS", 5), INK * 6, "more than 5 motifs"),
    ("points", lambda m: m.setattr(segments, "POINTS", 9), INK * 9, "more than 9 points"),
    ("copies", lambda m: m.setattr(structure, "MAX_CHARACTERS", 1 << 20), COPIES, "1 MiB"),
    (
        "steps of selectors",
        lambda m: m.setattr(stylesheet, "MAX_STEPS", 100),
        f"<style>text g g g path{{fill:red}}</style>{'<g>' * 9}{INK * 9}{'</g>' * 9}",
        "too long to match",
    ),
    (
        "selectors",
        lambda m: m.setattr(stylesheet, "MAX_SELECTORS", 5),
        f"<style>a,b,c,d,e,f{{fill:red}}</style>{INK}",
        "more than 5 selectors",
    ),
]


@pytest.mark.parametrize(("lower", "body", "says"), [pytest.param(*r[1:], id=r[0]) for r in BOUNDS])
def test_bounds(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    lower: Callable[[pytest.MonkeyPatch], None],
    body: str,
    says: str,
) -> None:
    lower(monkeypatch)
    with pytest.raises(InputError, match=says):
        read_art(write_svg(tmp_path, body))
