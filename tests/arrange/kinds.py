"""How a toss's kinds are spread, by brute force over the copies of each placement.

Nothing here but the motifs' main colours comes from vecrepeat.arrange. What is measured is held
against the same places with the motifs dealt out anew at random.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from strewing import outlines, steps

from vecrepeat.core.difference import lab_of
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.sources.looks import ALIKE, main_colour

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SHUFFLES = 200


class Kinds(NamedTuple):
    """What a toss comes to.

    Attributes:
        mean: the mean distance of placements to the nearest of the same motif, against shuffled.
        low: the 5th percentile of that distance, likewise.
        alike: how many pairs of neighbours are one motif, against shuffled.
        same_colour: how many pairs of neighbours share a main colour, against shuffled.
        clustered: the share of main colours whose L at one and a half mean spacings lies above
            the middle of its shuffled envelope.
        below: the share of main colours whose L there lies below the envelope.
        windows: the least and the greatest weight in a window half a tile wide and high, against
            the mean.
        halves: likewise in a square window of half a tile's area.
        heaviest: what the heaviest placement weighs, against the mean weight of such a window as
            the first: where it is more than 1, no places bring all windows near their mean.
    """

    mean: float
    low: float
    alike: float
    same_colour: float
    clustered: float
    below: float
    windows: tuple[float, float]
    halves: tuple[float, float]
    heaviest: float


def kinds(repeat: Repeat) -> Kinds:
    """Measure how the kinds of a toss are spread."""
    far = apart(repeat)
    spacing = math.sqrt(float(repeat.width * repeat.height) / len(far))
    label, colour = labels(repeat)
    orders = shuffles(len(label))
    own = nearest_same(far, label)
    by_chance = [nearest_same(far, label[order]) for order in orders]
    close = far <= 1.5 * spacing
    np.fill_diagonal(close, False)

    above = below = 0
    classes = [c for c in np.unique(colour).tolist() if 2 <= (colour == c).sum() < len(colour)]
    for one in classes:
        is_one = (colour == one).astype(np.int64)
        # Besag's L grows with the count of pairs: their orders are the same.
        chance = sorted(float((close & np.outer(m, m)).sum()) for m in (is_one[o] for o in orders))
        here = float((close & np.outer(is_one, is_one)).sum())
        above += here > chance[len(chance) // 2]
        below += here <= chance[len(chance) // 20]
    return Kinds(
        float(own.mean()) / float(np.mean([one.mean() for one in by_chance])),
        float(np.percentile(own, 5)) / float(np.mean([np.percentile(one, 5) for one in by_chance])),
        pairs_against(close, label, orders),
        pairs_against(close, colour, orders),
        above / max(1, len(classes)),
        below / max(1, len(classes)),
        *window_weights(repeat),
    )


def side_by_side(repeat: Repeat) -> tuple[float, float]:
    """How many pairs are of one motif, and of one main colour, against shuffled.

    Of pairs no further than one and a half times what the nearest to one of them is: in rows of
    many sizes those are the ones in a row, where a mean spacing would take in half the row.
    """
    far = apart(repeat)
    close = far <= 1.5 * far.min(axis=1)[:, None]
    close |= close.T
    label, colour = labels(repeat)
    orders = shuffles(len(label))
    return pairs_against(close, label, orders), pairs_against(close, colour, orders)


def labels(repeat: Repeat) -> tuple[Ints, Ints]:
    """A number for each placement's motif, and for its main colour."""
    motifs = [p.motif for p in repeat.placements]
    names = [motif.name for motif in motifs]
    return np.array([names.index(name) for name in names]), colour_classes(motifs)


def shuffles(count: int) -> list[Ints]:
    """The orders in which so many placements are dealt out at random."""
    dice = random.Random(1)
    return [np.array(dice.sample(range(count), count)) for _ in range(SHUFFLES)]


def pairs_against(close: NDArray[np.bool_], of: Ints, orders: Sequence[Ints]) -> float:
    """How many of the pairs that are close have the same number, against shuffled."""

    def pairs(of: Ints) -> float:
        return float((close & (of[:, None] == of[None])).sum())

    return pairs(of) / max(1e-9, float(np.mean([pairs(of[order]) for order in orders])))


def apart(repeat: Repeat) -> Floats:
    """The distances of all placements' middles, copies counted; of one's own copies left out."""
    at = np.array([[o.envelope.centroid.x, o.envelope.centroid.y] for o in outlines(repeat)])
    found = np.full((len(at), len(at)), np.inf)
    for dx, dy in steps(repeat):
        there = at + np.array([dx, dy])
        found = np.minimum(found, np.hypot(*(at[:, None] - there[None]).transpose(2, 0, 1)))
    np.fill_diagonal(found, np.inf)
    return found


def nearest_same(far: Floats, label: Ints) -> Floats:
    """How far each placement is from the nearest of its label; those alone are left out."""
    same = np.where(label[:, None] == label[None], far, np.inf).min(axis=1)
    nearest: Floats = same[np.isfinite(same)]
    return nearest


def colour_classes(motifs: Sequence[Motif]) -> Ints:
    """Numbers that are the same where main colours are: each joins the first it is like."""
    leads: list[Floats] = []
    found = []
    for one in motifs:
        lab = np.array(main_colour(one) or (50.0, 0.0, 0.0))
        like = [n for n, lead in enumerate(leads) if np.linalg.norm(lab - lead) <= ALIKE]
        found.append(like[0] if like else len(leads))
        if not like:
            leads.append(lab)
    return np.array(found)


def window_weights(
    repeat: Repeat, steps_each_way: int = 12
) -> tuple[tuple[float, float], tuple[float, float], float]:
    """The last three of :class:`Kinds`.

    A motif weighs its painted area times how far its main colour is from the ground.
    """
    width, height = float(repeat.width), float(repeat.height)
    ground = lab_of((255, 255, 255) if repeat.ground is None else repeat.ground.rgb)
    fine = 2 * steps_each_way
    across, down = repeat.layout.straight_block
    block = np.zeros((fine * down, fine * across))
    heaviest = 0.0
    for placement, outline in zip(repeat.placements, outlines(repeat), strict=True):
        lab = np.array(main_colour(placement.motif) or (50.0, 0.0, 0.0))
        contrast = float(np.linalg.norm(lab - ground))
        cell_x, cell_y = width / fine, height / fine
        x0, y0, x1, y1 = outline.bounds
        x, y = np.meshgrid(
            np.arange(math.floor(x0 / cell_x), math.ceil(x1 / cell_x)) + 0.5,
            np.arange(math.floor(y0 / cell_y), math.ceil(y1 / cell_y)) + 0.5,
        )
        # In cells that a motif's middle share is in: fine enough for windows of twelve.
        inside = shapely.contains_xy(outline, x * cell_x, y * cell_y)
        if not inside.any():
            inside = np.zeros_like(inside)
            inside[inside.shape[0] // 2, inside.shape[1] // 2] = True
        heaviest = max(heaviest, contrast * outline.area)
        share = contrast * outline.area / inside.sum()
        for dx, dy in steps(repeat, max(across, down) + 1):
            i = np.floor(y[inside] + dy / cell_y).astype(int)
            j = np.floor(x[inside] + dx / cell_x).astype(int)
            keep = (i >= 0) & (j >= 0) & (i < block.shape[0]) & (j < block.shape[1])
            np.add.at(block, (i[keep], j[keep]), share)
    small = windows(block, steps_each_way)
    half = windows(block, round(fine * math.sqrt(0.5)))
    return small, half, heaviest * across * down * 4 / float(block.sum())


def windows(block: Floats, side: int) -> tuple[float, float]:
    """The least and the greatest sum of a square of cells of a cyclic block, by the mean."""
    padded = np.pad(block, ((0, side), (0, side)), mode="wrap")
    total = np.cumsum(np.cumsum(np.pad(padded, ((1, 0), (1, 0))), axis=0), axis=1)
    sums = total[side:, side:] - total[:-side, side:] - total[side:, :-side] + total[:-side, :-side]
    return float(sums.min() / sums.mean()), float(sums.max() / sums.mean())
