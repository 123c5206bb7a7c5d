"""Tosses held to their clearance in full: ``python tests/benchmarks/toss_check.py [--seeds N]``.

With ``--folders FOLDER…`` only this is printed: how the kinds of each folder's motifs are spread
over three layouts, so many seeds each, against the same places dealt out at random; tossed, and
in sets, stripes of a rank each and of all motifs, trails and ditsies.

First, unless ``--figures 0`` is given: seconds for 200 and 1,000 motifs, evenness and coverage
beside a dart thrower's, and the largest empty circles that filling leaves. Then every motif set
is tossed on every layout under so many seeds, by count or packed full, in all directions, flipped
or not, evened out or not, at clearances from 0 to 4 mm. All copies of each toss (5 × 5) are
measured by brute force, and whatever is nearer than the clearance is printed. Fails where a
clearance is broken.
"""

from __future__ import annotations

import argparse
import itertools
import math
import sys
import tempfile
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "arrange")]

from kinds import kinds, side_by_side  # noqa: E402
from strewing import (  # noqa: E402
    LAYOUTS,
    Darts,
    as_tile,
    darts_coverage,
    darts_like,
    discs,
    distances,
    emoji,
    garden,
    least_gap,
    leaves,
    odd,
    spread,
)

from vecrepeat.arrange import (  # noqa: E402
    Arrangement,
    DitsySettings,
    FillSettings,
    RankSettings,
    SetSettings,
    StripeSettings,
    TossSettings,
    TrailSettings,
    fill,
    lay_ditsy,
    lay_set,
    lay_stripes,
    lay_trail,
    toss,
)
from vecrepeat.repeat.model import Motif, Repeat  # noqa: E402
from vecrepeat.sources.source import read_pool  # noqa: E402

Ranked = list[tuple[Motif, str]]


def settings(seed: int) -> TossSettings:
    """Settings that differ from seed to seed in all that could matter."""
    sizes = [(1.0, 1.0), (0.8, 1.1), (0.5, 1.0)]
    scale = sizes[(seed + 1) % 3]
    # Now and then as many as fit: packed, which goes another way than a count.
    packed = seed % 19 == 7
    return TossSettings(
        clearance=(0.0, 1.0, 2.5, 4.0)[seed % 4],
        hero=RankSettings(count=2 + seed % 3),
        secondary=RankSettings(count=4, scale=sizes[seed % 3]),
        filler=RankSettings(coverage=1.0, scale=scale)
        if packed
        else RankSettings(count=8, scale=scale),
        direction=("free", "one-way", "two-way", "four-way")[seed // 4 % 4],
        sway=(0.0, 15.0)[seed // 2 % 2],
        flip=seed % 2 == 1,
        same_apart=(0.0, 0.0, 0.0, 25.0)[seed // 3 % 4],
        seed=seed,
        even=seed % 5 != 4,
        rounds=50,
    )


def clearances(sets: Mapping[str, tuple[Ranked, int]], seeds: Sequence[int]) -> int:
    """Print and return how many tosses break their clearance."""
    broken = tosses = 0
    for (name, (ranked, side)), layout in itertools.product(sets.items(), LAYOUTS):
        start, bad, placed, closest = time.process_time(), 0, 0, float("inf")
        for seed in seeds:
            asked = settings(seed)
            repeat = as_tile(side, layout)
            tossed = toss(repeat, ranked, asked)
            gap = least_gap(tossed.on(repeat), asked.clearance + 0.01)
            placed += len(tossed.rows)
            closest = min(closest, gap - asked.clearance)
            if gap < asked.clearance or not tossed.rows:
                bad += 1
                print(f"  BROKEN {name} {layout} seed {seed}: {gap} < {asked.clearance}")
        broken, tosses = broken + bad, tosses + len(seeds)
        print(
            f"{name:8} {layout:10} {len(seeds)} seeds, {placed} motifs, {bad} broken, least "
            f"reserve {closest:.6f} mm, {time.process_time() - start:.0f} s of processor",
            flush=True,
        )
    print(f"seeds {seeds[0]} to {seeds[-1]}: {tosses} tosses, {broken} broken", flush=True)
    return broken


def figures(sets: Mapping[str, tuple[Ranked, int]], seeds: Sequence[int]) -> None:
    """Print evenness and coverage beside a dart thrower's, and what filling leaves."""
    for (name, (ranked, side)), layout in itertools.product(sets.items(), LAYOUTS[:2]):
        better_gaps, better_voids, more, left = [], [], [], []
        largest: list[tuple[float, float]] = []
        fillers = [one for one in ranked if one[1] == "filler"]
        for seed in seeds:
            # Where darts just find room, all lie at the clearance: alike for want of a choice.
            repeat = as_tile(round(1.5 * side), layout)
            asked = replace(settings(4), clearance=2.0, seed=seed, direction="free", rounds=80)
            asked = replace(asked, even=True)
            tossed = toss(repeat, ranked, asked)
            thrown = darts_like(tossed.on(repeat), 2.0, seed)
            if thrown is not None:
                ours, theirs = spread(tossed.on(repeat)), spread(thrown)
                largest.append((distances(tossed.on(repeat)).max(), distances(thrown).max()))
                better_gaps.append(1 - ours.nearest / theirs.nearest)
                better_voids.append(1 - ours.voids / theirs.voids)
            filled = fill(tossed.on(repeat), fillers, FillSettings(clearance=2.0, seed=seed))
            left.append(2 * (distances(filled.on(repeat)).max() - filled.room))
            repeat = as_tile(side, layout)
            alike = [(motif, "hero") for motif, _ in ranked]
            full = TossSettings(clearance=2.0, hero=RankSettings(coverage=1.0), seed=seed)
            packed = toss(repeat, alike, full).coverage
            more.append(packed / darts_coverage(Darts(repeat, 2.0, seed), alike) - 1)
        if not better_gaps:
            print(f"{name:8} {layout:10} darts found no room for as many")
            continue
        print(
            f"{name:8} {layout:10} spread of nearest gaps {min(better_gaps):.0%} to "
            f"{max(better_gaps):.0%} better, of voids between motifs {min(better_voids):.0%} to "
            f"{max(better_voids):.0%} better; largest void "
            f"{means(largest)} mm; coverage {min(more):+.0%} to {max(more):+.0%}, "
            f"{np.mean(more):+.0%} on the mean; "
            f"fill leaves {max(left):+.2f} mm beyond the smallest filler's room",
            flush=True,
        )


def means(pairs: Sequence[tuple[float, float]]) -> str:
    """Means and standard deviations of ours and theirs, as text."""
    ours, theirs = (np.array(column) for column in zip(*pairs, strict=True))
    return (
        f"{ours.mean():.1f} ± {ours.std():.1f}, of darts {theirs.mean():.1f} ± {theirs.std():.1f}"
    )


def speed(ranked: Ranked) -> None:
    """Print seconds for 200 and 1,000 motifs."""
    for count, side in ((200, 700), (1000, 1550)):
        asked = TossSettings(
            hero=RankSettings(count=count // 10),
            secondary=RankSettings(count=3 * count // 10),
            filler=RankSettings(count=count - 4 * count // 10),
            flip=True,
        )
        wall, own = time.perf_counter(), time.process_time()
        tossed = toss(as_tile(side, "half-drop"), ranked, asked)
        print(
            f"{len(tossed.rows)} of {count} motifs: {time.perf_counter() - wall:.1f} s, "
            f"{time.process_time() - own:.1f} s of processor; {tossed.line()}",
            flush=True,
        )


def ladder(folder: Path, tile: float) -> Ranked:
    """Return a folder's motifs, a quarter of them heroes a third of the tile wide, and so on down.

    The sizes are this check's own, so that what is measured is how motifs are spread.
    """
    files = sorted(folder.iterdir())
    # One drawing is a page of motifs.
    pool = read_pool(files) if len(files) == 1 else read_pool([], [folder])
    motifs = sorted(pool.motifs.values(), key=lambda m: -len(m.colours) * m.outline.area**0.25)
    found: Ranked = []
    for k, motif in enumerate(motifs):
        step = 0 if k < len(motifs) / 4 else 1 if k < 0.6 * len(motifs) else 2
        size = tile / 3 / 2**step * (1 - 0.03 * (k % 4))
        by = size / max(motif.box.width, motif.box.height)
        found.append((motif.scaled(by), ("hero", "secondary", "filler")[step]))
    return found


def spreads(folders: Sequence[Path], seeds: Sequence[int], tile: int = 254) -> None:
    """Print how the kinds of folders of motifs are spread."""
    for folder in folders:
        ranked = ladder(folder, tile)
        rows = []
        for layout, seed in itertools.product(("block", "half-drop", "brick"), seeds):
            asked = TossSettings(
                hero=RankSettings(coverage=0.135),
                secondary=RankSettings(coverage=0.1, scale=(0.9, 1.1)),
                filler=RankSettings(coverage=0.065, scale=(0.85, 1.1)),
                seed=seed,
            )
            repeat, start = as_tile(tile, layout), time.process_time()
            tossed = toss(repeat, ranked, asked)
            seconds = time.process_time() - start
            found = kinds(tossed.on(repeat))
            windows = (*found.windows, *found.halves, found.heaviest)
            rows.append((*found[:6], *windows, tossed.coverage, len(tossed.rows), seconds))
        mean, least = np.mean(rows, axis=0), np.min(rows, axis=0)
        print(
            f"{folder.name:10} {mean[12]:.0f} motifs, {mean[11]:.0%} painted: "
            f"{told(mean, least)}; L of main colours above the middle of its envelope "
            f"{mean[4]:.0%}, below it {mean[5]:.0%}; windows {mean[6]:.2f} to {mean[7]:.2f}, of "
            f"half the area {mean[8]:.2f} to {mean[9]:.2f}, the heaviest motif "
            f"{mean[10]:.2f} windows; {mean[13]:.1f} s of processor, least {least[13]:.1f}",
            flush=True,
        )
        for name, lay in ORDERED.items():
            laid_so, seconds, count = list[tuple[float, ...]](), 0.0, 0
            for layout, seed in itertools.product(("block", "half-drop", "brick"), seeds):
                repeat, start = as_tile(tile, layout), time.process_time()
                laid = lay(repeat, ranked, seed)
                seconds += time.process_time() - start
                there = laid.on(repeat)
                assert least_gap(there, 3.0) >= 1.5
                count += len(laid.rows)
                laid_so.append((*kinds(there)[:4], *side_by_side(there)))
            mean, least = np.mean(laid_so, axis=0), np.min(laid_so, axis=0)
            print(
                f"  {name:6} {count / len(laid_so):.0f} motifs: {told(mean, least)}; side by side "
                f"{mean[4]:.2f} and {mean[5]:.2f}; {seconds / len(laid_so):.1f} s of processor",
                flush=True,
            )


def told(mean: Sequence[float], least: Sequence[float]) -> str:
    """How kinds are spread, as text."""
    return (
        f"same motif {mean[0]:.2f} × shuffled (least {least[0]:.2f}), 5th percentile "
        f"{mean[1]:.2f} (least {least[1]:.2f}); neighbours of one motif {mean[2]:.2f}, of one "
        f"colour {mean[3]:.2f} × shuffled"
    )


def trailed(repeat: Repeat, ranked: Ranked, seed: int) -> Arrangement:
    """Motifs along three waves that close over the tile."""
    side = float(repeat.width)
    along = np.linspace(0, side, 200)
    waves = [
        np.stack([along, side * (k + 0.5) / 3 + 8 * np.sin(2 * math.pi * along / side)], axis=1)
        for k in range(3)
    ]
    # On a half-drop what runs across ends half a tile off, what runs down does not.
    paths = [wave[:, ::-1] for wave in waves] if repeat.layout.kind == "drop" else waves
    asked = TrailSettings(clearance=1.5, scale=0.25, side="on", follow=False, seed=seed)
    return lay_trail(repeat, ranked, paths, asked)


ORDERED: dict[str, Callable[[Repeat, Ranked, int], Arrangement]] = {
    "set": lambda repeat, ranked, seed: lay_set(
        repeat, ranked, SetSettings(clearance=1.5, columns=6, rows=6, seed=seed)
    ),
    "stripe": lambda repeat, ranked, seed: lay_stripes(
        repeat, ranked, StripeSettings(clearance=1.5, scale=0.35, seed=seed)
    ),
    "rows": lambda repeat, ranked, seed: lay_stripes(
        repeat,
        [
            (motif.scaled(30 / max(motif.box.width, motif.box.height)), "hero")
            for motif, _ in ranked
        ],
        StripeSettings(clearance=1.5, direction="two-way", seed=seed),
    ),
    "trail": trailed,
    "ditsy": lambda repeat, ranked, seed: lay_ditsy(
        repeat, ranked, DitsySettings(clearance=1.5, seed=seed)
    ),
}
"""Each as a designer might ask for it, with motifs enough on a tile that many come again."""


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=200)
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--figures", type=int, default=5, help="seeds for the other figures")
    parser.add_argument("--sets", nargs="*", help="some of the motif sets only")
    parser.add_argument("--folders", nargs="*", type=Path, help="of loose motifs, or one page")
    asked = parser.parse_args()
    if asked.folders:
        spreads(asked.folders, range(asked.first, asked.first + asked.seeds))
        return 0
    with tempfile.TemporaryDirectory() as folder:
        sets: dict[str, tuple[Ranked, int]] = {
            "garden": (garden(), 190),
            "emoji": (emoji(Path(folder)), 62),
            "discs": (discs(), 64),
            "leaves": (leaves(), 76),
            "odd": (odd(), 78),
        }
    chosen = {name: sets[name] for name in asked.sets or sets}
    if asked.figures:
        speed(sets["garden"][0])
        figures(chosen, range(asked.figures))
    broken = 0
    last = asked.first + asked.seeds
    for first in range(asked.first, last, 20):
        broken += clearances(chosen, range(first, min(last, first + 20)))
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
