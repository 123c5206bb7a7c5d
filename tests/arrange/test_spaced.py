"""Motifs dealt out to places, against all exchanges by brute force."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import shapely
from strewing import as_tile
from support import motif

from vecrepeat.arrange.settings import checked
from vecrepeat.arrange.spaced import Bench, SpacedSettings


def test_no_exchange_of_a_rank_keeps_like_further_apart() -> None:
    ranks = ["hero"] * 3 + ["secondary"] * 4
    ranked = [(motif(f"m{k}", shapely.box(0, 0, 9, 5 + k)), rank) for k, rank in enumerate(ranks)]
    bench = Bench(as_tile(90, "block"), checked(ranked), SpacedSettings())
    dice = np.random.default_rng(5)
    # Twelve places for seven motifs, as near and as pressed as it happens.
    turn = np.arange(12) % 7
    near, pressed = dice.random((12, 12)), dice.random((12, 7)) * 1e7
    near = near + near.T
    cost = dice.random((7, 7)) * 1e7
    cost = cost + cost.T
    bench.likeness.costs = lambda shape: cost  # type: ignore[method-assign]

    def energy(order: list[int]) -> float:
        there = [order[k] for k in turn]
        pairs = sum(
            near[i, j] * cost[a, b] for i, a in enumerate(there) for j, b in enumerate(there)
        )
        return float(pairs + 2 * sum(pressed[i, a] for i, a in enumerate(there)))

    dealt = bench.dealt(range(7), turn, near, pressed)
    found = dealt[:7]
    assert dealt == [found[k] for k in turn]
    assert energy(found) < energy(list(range(7)))
    assert [ranks[k] for k in found] == ranks
    for i, j in combinations(range(7), 2):
        if ranks[i] == ranks[j]:
            other = list(found)
            other[i], other[j] = found[j], found[i]
            assert energy(other) >= energy(found) * (1 - 1e-9)
