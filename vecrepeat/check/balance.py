"""Balance: how evenly the paint lies, how motifs stand, and which one gives the repeat away."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from vecrepeat.check.direction import direction
from vecrepeat.check.findings import Answer, Finding
from vecrepeat.check.plane import Plane
from vecrepeat.check.profile import BalanceLimits
from vecrepeat.core.colours import rgb_of
from vecrepeat.core.difference import ciede2000, lab_of
from vecrepeat.core.geometry import Rect
from vecrepeat.repeat.wrap import Floats

_AT_ONCE = 2_000_000
"""Pairs of colours that are compared at once."""

CELLS = 96
"""How many sample cells the tile's longer side is cut into for evenness."""


def check_balance(
    plane: Plane, limits: BalanceLimits, rgb: NDArray[np.uint8] | None = None
) -> Answer:
    """Measure balance, and the shares of colours in the tile's picture where there is one."""
    coverage = float(plane.ink.area) / plane.area
    windows, places = _window_coverage(plane)
    stands = direction(plane)
    shares = {} if rgb is None else colour_shares(plane, rgb)
    spread = _nearest_neighbours(plane)
    findings = [
        *_uneven(plane, windows, places, limits),
        *_outlier(plane, limits),
        *_rare_colour(plane, shares, limits),
    ]
    facts = {
        "coverage": coverage,
        "emptiest_window": float(windows.min()),
        "fullest_window": float(windows.max()),
        "colours": shares,
        "neighbours_mm": {"mean": float(spread.mean()), "deviation": float(spread.std())}
        if len(spread)
        else None,
        "direction": stands.kind,
        "turns_deg": list(stands.turns),
        "cutting": stands.cutting,
        "deciding": {"motifs": stands.motifs, "of": stands.of, "share": stands.share},
    }
    return Answer(tuple(findings), facts)


def _window_coverage(plane: Plane) -> tuple[Floats, Floats]:
    """Return the coverage of windows of half a tile each way, everywhere, and their corners."""
    rect = plane.repeat.tile_rect
    cell = max(rect.width, rect.height) / CELLS
    across, down = max(8, round(rect.width / cell)), max(8, round(rect.height / cell))
    sx, sy = across / rect.width, down / rect.height
    region = Rect(0, 0, rect.width * 1.5, rect.height * 1.5)
    size = (across * 3 // 2, down * 3 // 2)
    # Four samples a cell each way: a sum of samples is all that is wanted.
    fine = Image.new("L", (size[0] * 4, size[1] * 4))
    pen = ImageDraw.Draw(fine)
    for polygon in shapely.get_parts(plane.copies(region).shapes):
        rings = [
            shapely.get_coordinates(ring) * (sx * 4, sy * 4)
            for ring in (polygon.exterior, *polygon.interiors)
        ]
        if len(rings) == 1:
            pen.polygon(rings[0].ravel().tolist(), fill=255)
            continue
        corner = np.floor(rings[0].min(axis=0))
        extent = np.ceil(rings[0].max(axis=0) - corner).astype(int) + 1
        mask = Image.new("1", (int(extent[0]), int(extent[1])))
        for k, ring in enumerate(rings):
            ImageDraw.Draw(mask).polygon((ring - corner).ravel().tolist(), fill=int(k == 0))
        fine.paste(255, (int(corner[0]), int(corner[1])), mask)
    ink = np.asarray(fine.resize(size, Image.Resampling.BOX), np.float64) / 255
    sums = np.zeros((size[1] + 1, size[0] + 1))
    sums[1:, 1:] = ink.cumsum(axis=0).cumsum(axis=1)
    w, h = across // 2, down // 2
    window = (sums[h:, w:] - sums[:-h, w:] - sums[h:, :-w] + sums[:-h, :-w])[:down, :across]
    y, x = np.indices(window.shape)
    return window.ravel() / (w * h), np.stack([x.ravel() / sx, y.ravel() / sy], axis=1)


def _uneven(
    plane: Plane, windows: Floats, places: Floats, limits: BalanceLimits
) -> Iterator[Finding]:
    low, high = float(windows.min()), float(windows.max())
    # Where next to nothing is painted, ratios say nothing.
    if high < 0.02 or high <= limits.uneven * low:
        return
    rect = plane.repeat.tile_rect
    x, y = places[int(np.argmin(windows))]
    yield Finding(
        "uneven",
        f"half a tile here is {low:.0%} painted, another {high:.0%}",
        high / max(low, 1e-6),
        limits.uneven,
        shapely.box(x, y, x + rect.width / 2, y + rect.height / 2),
    )


def _outlier(plane: Plane, limits: BalanceLimits) -> Iterator[Finding]:
    """Yield the one motif that is far larger than all others: the eye counts repeats by it."""
    areas = shapely.area(plane.outlines)
    if len(areas) < 4:
        return
    order = np.argsort(areas)
    first, second = int(order[-1]), int(order[-2])
    times = float(areas[first] / areas[second])
    # What fills the page is a ground and no motif.
    if times <= limits.outlier_times or areas[first] > plane.area / 2:
        return
    yield Finding(
        "gives the repeat away",
        f"“{plane.names[first]}” is far larger than any other motif: the eye counts repeats by it",
        times,
        limits.outlier_times,
        plane.outlines[first],
        (plane.names[first],),
        "add a second of its size, or make it smaller",
        "times",
    )


def colour_shares(plane: Plane, rgb: NDArray[np.uint8]) -> dict[str, float]:
    """Return what share of the tile shows each of the drawing's colours, the nearest taken."""
    names = list(dict.fromkeys(c for p in plane.repeat.placements for c in p.motif.colours))
    if plane.repeat.ground is not None and plane.repeat.ground.colour not in names:
        names.append(plane.repeat.ground.colour)
    if not names:
        return {}
    palette = lab_of(rgb_of(names))
    # Five bits a channel: pictures hold too many in-between colours to compare one by one.
    coarse = (rgb.reshape(-1, 3) >> 3).astype(np.int64) @ np.array([1024, 32, 1])
    found, count = np.unique(coarse, return_counts=True)
    seen = lab_of(np.stack([found >> 10, found >> 5 & 31, found & 31], axis=1) * 8 + 4)
    rows = max(1, _AT_ONCE // len(palette))
    nearest = [
        np.linalg.norm(seen[k : k + rows, None] - palette[None], axis=2).argmin(axis=1)
        for k in range(0, len(seen), rows)
    ]
    shares = np.bincount(np.concatenate(nearest), count, len(names)) / count.sum()
    return {name: float(share) for name, share in zip(names, shares, strict=True)}


def _rare_colour(
    plane: Plane, shares: dict[str, float], limits: BalanceLimits
) -> Iterator[Finding]:
    """Yield a colour that shows once a repeat, on little, and is like no other."""
    names = [name for name, share in shares.items() if share > 0]
    if len(names) < 4:
        return
    lab = lab_of(rgb_of(names))
    for k, name in enumerate(names):
        users = [p for p in plane.repeat.placements if name in p.motif.colours]
        if len(users) != 1 or len(plane.repeat.placements) < 6:
            continue
        apart = float(np.delete(ciede2000(lab[k], lab), k).min())
        if shares[name] < limits.rare_share and apart > limits.rare_difference:
            which = plane.repeat.placements.index(users[0])
            yield Finding(
                "gives the repeat away",
                f"{name} shows only in “{users[0].motif.name}” and is like no other colour: "
                "the eye counts repeats by it",
                apart,
                limits.rare_difference,
                plane.outlines[which],
                (users[0].motif.name,),
                "use it in another motif too, or bring it nearer to the others",
                "ΔE00",
            )


def _nearest_neighbours(plane: Plane) -> Floats:
    """Return the distance in mm from each motif's centre to that of the nearest other copy."""
    centres = shapely.get_coordinates(shapely.centroid(plane.outlines))
    if not len(centres):
        return np.empty(0)
    cell = plane.reduced
    share = centres @ np.linalg.inv(cell)
    # To the picometre, so that those which lie on one another are told from all others.
    home = np.round((share - np.floor(share)) @ cell, 9)
    # Two in one cell of a reduced lattice are at most two steps from where they are nearest.
    steps = np.stack(np.meshgrid(*[np.arange(-2, 3)] * 2), axis=-1).reshape(-1, 2)
    tree = shapely.STRtree(shapely.points((home[:, None] + steps @ cell).reshape(-1, 2)))
    spots = shapely.points(home)
    _, nearest = tree.query_nearest(spots, exclusive=True, return_distance=True, all_matches=False)
    _, which, times = np.unique(home, axis=0, return_inverse=True, return_counts=True)
    found: Floats = np.where(times[which.ravel()] > 1, 0.0, nearest)
    return found
