"""Which way motifs stand: designs whose direction is known because they are made so."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry
from support import demo, motif, read, repeat_of, vecrepeat, write_svg

from vecrepeat.check.direction import Direction, direction
from vecrepeat.check.plane import Plane
from vecrepeat.repeat.model import Placement, Repeat
from vecrepeat.repeat.pose import Pose
from vecrepeat.sources.blending import blender_text
from vecrepeat.sources.source import open_source

BOOT = shapely.Polygon([(0, 0), (2, 0), (2, 5), (6, 5), (6, 7), (0, 7)])
LEANING = affinity.rotate(BOOT, 40, origin=(3, 3))
TOLERANT = ("one-way", "two-way", "four-way", "tossed", "without direction")
"""From what allows the fewest ways to lay a piece to what allows any (common practice, no source);
to say an earlier one than is true costs some cloth, a later one spoils it."""


def of(*outlines: BaseGeometry, layout: str = "block", side: int = 100) -> Direction:
    """How motifs drawn on one page stand."""
    return direction(Plane(repeat_of(outlines, side, side).with_layout(layout)))


def row(shapes: list[BaseGeometry]) -> list[BaseGeometry]:
    return [affinity.translate(shape, 20 * k, 10) for k, shape in enumerate(shapes)]


@pytest.mark.parametrize(
    ("turns", "kind"),
    [
        ((0,), "one-way"),
        ((0, 0), "one-way"),
        # Two that lean differently tell nothing of what is upside down.
        ((0, 37), "one-way"),
        ((0, 5, 0, 355, 180), "one-way"),
        ((0, 180), "two-way"),
        ((0, 90, 180, 270), "four-way"),
        ((0, 37, 81, 200), "tossed"),
    ],
)
def test_how_one_motif_is_turned(turns: tuple[float, ...], kind: str) -> None:
    drawn = row([affinity.rotate(BOOT, turn, origin=(3, 3)) for turn in turns])
    assert of(*drawn).kind == kind


@pytest.mark.parametrize(
    ("flips", "kind"),
    [
        # Mirrored across, an ornament of two halves still stands one way up.
        (((1, 1), (-1, 1)), "one-way"),
        # Mirrored down as well, it also stands on its head.
        (((1, 1), (-1, 1), (1, -1), (-1, -1)), "two-way"),
    ],
)
def test_mirrored_halves_are_one_ornament(
    flips: tuple[tuple[float, float], ...], kind: str
) -> None:
    assert of(*row([affinity.scale(LEANING, x, y, origin=(3, 3)) for x, y in flips])).kind == kind


@pytest.mark.parametrize(
    ("layout", "kind"),
    [("cm", "one-way"), ("c2mm", "two-way"), ("p2", "two-way"), ("p4", "four-way")],
)
def test_turned_layouts_stand_as_their_group_says(layout: str, kind: str) -> None:
    # cm has no half-turn, p2 and c2mm have, p4 has quarter turns: International Tables, vol. A.
    assert of(affinity.translate(LEANING, 2, 2), layout=layout, side=40).kind == kind


ANGLES = np.linspace(0, 2 * math.pi, 54, endpoint=False)


def flower(petals: int, size: float = 5.0) -> shapely.Polygon:
    """A flower of so many like petals; of none it is a disc."""
    r = size * (1 + 0.3 * np.cos(petals * ANGLES + 0.4)) if petals else np.full(54, size)
    return shapely.Polygon(np.stack([r * np.cos(ANGLES), r * np.sin(ANGLES)], axis=1))


SEAL = flower(0).union(shapely.box(-0.4, -9, 0.4, 0))
LENS = shapely.Point(-3, 0).buffer(5).intersection(shapely.Point(3, 0).buffer(5))


@pytest.mark.parametrize(
    ("shape", "kind"),
    [
        # By symmetry: what a half or a quarter turn carries onto itself allows that turn.
        (flower(0), "without direction"),
        (flower(5), "without direction"),
        (flower(13), "without direction"),
        (flower(4), "four-way"),
        (shapely.box(0, 0, 5, 5), "four-way"),
        (shapely.box(0, 0, 3, 12), "two-way"),
        (LENS, "two-way"),
        # A half-turn stands a triangle on its tip, and brings a stalk to the top.
        (flower(3), "one-way"),
        (SEAL, "one-way"),
        (LENS.union(shapely.box(-0.3, 0, 0.3, 6)), "one-way"),
        # The same from above and below, and yet all look one way along the cloth.
        (affinity.rotate(SEAL, 90), "one-way"),
    ],
)
def test_a_figure_drawn_once_says_what_its_shape_allows(shape: BaseGeometry, kind: str) -> None:
    found = of(affinity.translate(shape, 50, 50))
    assert found.kind == kind
    assert (found.motifs, found.of) == ((0, 1) if kind == "without direction" else (1, 1))


@pytest.mark.parametrize(
    ("inside", "kind"),
    [
        ('<circle cx="50" cy="50" r="6" fill="#fff"/>', "without direction"),
        ('<circle cx="44" cy="44" r="3" fill="#fff"/>', "one-way"),
        ('<rect x="34" y="46" width="32" height="8" fill="#fff"/>', "two-way"),
        ('<path d="M40 46h20v8h-20zM46 40h8v20h-8z" fill="#fff"/>', "four-way"),
        # From light to dark, down the cloth.
        ('<linearGradient id="g" x2="0" y2="1"><stop stop-color="#fff"/><stop offset="1"/>'
         '</linearGradient><circle cx="50" cy="50" r="20" fill="url(#g)"/>', "one-way"),
        # What only a renderer can see may have an up.
        ('<image x="40" y="40" width="20" height="20" href="data:image/png;base64,iVBORw0KGgoAAAAN'
         'SUhEUgAAAAEAAAABCAAAAAA6fptVAAAACklEQVR4nGNgAAAAAgABSK+kcQAAAABJRU5ErkJggg=="/>',
         "one-way"),
    ],
)  # fmt: skip
def test_a_round_motif_stands_as_what_is_drawn_inside(
    tmp_path: Path, inside: str, kind: str
) -> None:
    art = read(tmp_path, f'<g><circle cx="50" cy="50" r="20" fill="#c33"/>{inside}</g>')
    assert direction(Plane(art.repeat("block"))).kind == kind


def test_dots_strewn_by_the_tool_may_lie_any_way(tmp_path: Path) -> None:
    told = {"size": "3mm", "spacing": "9mm", "order": "scattered"}
    (tmp_path / "dots.toml").write_text(blender_text("dots", "dots", told))
    kind = direction(Plane(open_source(tmp_path / "dots.toml").repeat)).kind
    assert kind == "without direction"


def test_what_is_too_small_to_be_seen_says_nothing() -> None:
    tiny = affinity.scale(BOOT, 0.2, 0.2)
    assert of(tiny, affinity.translate(flower(0), 50, 50)).kind == "without direction"


def on_cloth(placements: Sequence[Placement]) -> Repeat:
    """A block repeat of 300 mm."""
    return Repeat("d", Fraction(300), Fraction(300), tuple(placements))


def figure(dice: np.random.Generator) -> shapely.Polygon:
    """A shape like no other, with a head: its lower harmonics are strong."""
    r = np.full(54, 1.0)
    for order in range(1, 6):
        r += dice.uniform(0.1, 0.2) * np.cos(order * ANGLES + dice.uniform(0, 6.28))
    size = dice.uniform(3, 8) / r.max()
    return shapely.Polygon(np.stack([r * np.cos(ANGLES), r * np.sin(ANGLES)], axis=1) * size)


def placed(
    shape: BaseGeometry, turns: list[float], dice: np.random.Generator, how: str
) -> list[Placement]:
    """A motif at some turns: placed from one motif, or as it were pasted on the page."""
    own = motif(f"m{dice.integers(1 << 30)}", shape)
    found: list[Placement] = []
    for turn in turns:
        x, y = dice.uniform(0, 300, 2)
        pose = Pose(x, y, turn, dice.uniform(0.8, 1.2), bool(dice.random() < 0.3))
        placement = Placement(own, pose.affine((0.0, 0.0)))
        if how == "pasted":
            placement = Placement(motif(own.name + str(len(found)), placement.outline))
        found.append(placement)
    return found


def leant(kind: str, count: int, dice: np.random.Generator) -> list[float]:
    """Turns of a direction, each of its own taken in turn, leaning by up to 12° either way."""
    own = {"one-way": [0], "two-way": [0, 180], "four-way": [0, 90, 180, 270]}.get(kind)
    if own is None:
        return list(dice.uniform(0, 360, count))
    return [own[k % len(own)] + dice.uniform(-12, 12) for k in range(count)]


def design(number: int) -> tuple[Repeat, str]:
    """The nth design and how it must be laid."""
    dice = np.random.default_rng(number)
    kind = TOLERANT[number % 5]
    how = ("placed", "pasted")[number // 5 % 2]
    placements = []
    if kind != "without direction":
        for _ in range(dice.integers(2, 4)):
            turns = leant(kind, 6, dice)
            placements += placed(figure(dice), turns, dice, how)
    round_one = flower(int(dice.choice([0, 5, 6, 7, 8, 11])))
    placements += placed(round_one, leant("tossed", 2, dice), dice, how)
    if number % 3 == 0 and kind != "without direction":
        # One figure alone, upright, among whatever else: it decides.
        placements += placed(figure(dice), [0.0], dice, "pasted")
        kind = "one-way"
    return on_cloth(placements), kind


def test_two_hundred_designs_of_known_direction() -> None:
    right = 0
    for number in range(200):
        repeat, kind = design(number)
        found = direction(Plane(repeat)).kind
        # Never a word that lets pieces lie in more ways than the design allows.
        assert TOLERANT.index(found) <= TOLERANT.index(kind), (number, found, kind)
        right += found == kind
    assert right >= 185


def test_one_upright_figure_decides_and_its_share_is_said() -> None:
    dice = np.random.default_rng(4)
    crowd = [affinity.translate(flower(0), 50 * k, 150) for k in range(3)]
    hero = affinity.translate(affinity.scale(BOOT, 4, 4), 100, 100)
    tossed = placed(figure(dice), leant("tossed", 12, dice), dice, "placed")
    drawn = [Placement(motif(f"s{k}", shape)) for k, shape in enumerate((*crowd, hero))]
    repeat = on_cloth([*drawn, *tossed])
    found = direction(Plane(repeat))
    painted = sum(p.outline.area for p in repeat.placements)
    assert (found.kind, found.motifs, found.of) == ("one-way", 1, 3)
    assert found.share == pytest.approx(hero.area / painted, rel=1e-6)
    said = f"1 of 3 motifs, {hero.area / painted:.0%} of what is painted, stand one way only"
    assert said in found.line()


def test_motifs_once_each_all_askew_alike_stand_one_way() -> None:
    dice = np.random.default_rng(5)
    aside = [p for _ in range(6) for p in placed(figure(dice), [90.0], dice, "placed")]
    assert direction(Plane(on_cloth(aside))).kind == "one-way"


@pytest.mark.parametrize(
    ("drawing", "layout", "kind"),
    [
        # As a cutter would lay them, looked at one by one: the kingfisher perches, reeds and sedge
        # grow; the vine's leaves all point up the stripe; the pomegranates hang from one axis.
        ("brook", "half-drop", "one-way"),
        ("ticking-garden", "block", "one-way"),
        ("pomegranate", "cm", "one-way"),
        # Each oval also stands on its head.
        ("ogee", "c2mm", "two-way"),
        # Moths fly all ways, but each is there once, and so are the dandelion and the umbels.
        ("night-garden", "block", "one-way"),
    ],
)
def test_demos(drawing: str, layout: str, kind: str) -> None:
    assert direction(Plane(demo(drawing).repeat(layout))).kind == kind


def test_a_random_toss_may_lie_any_way(tmp_path: Path) -> None:
    write_svg(
        tmp_path,
        '<path id="leaf" d="M10 10c10-4 16 8 14 20-6-6-16-8-14-20z"/>'
        '<path id="boot" d="M40 10h4v10h8v4h-12z"/>',
    )
    file = tmp_path / "d.toml"
    file.write_text(
        'art = "art.svg"\ntile = "120x120mm"\nmotif = ['
        '{name = "leaf", rank = "hero"}, {name = "boot", rank = "hero"}]\n'
        "[toss]\nheroes = 8\nseed = 3\n"
    )
    run = vecrepeat("toss", file)
    assert run.code == 0, run.err
    assert direction(Plane(open_source(file).repeat)).kind == "tossed"
