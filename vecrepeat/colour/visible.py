"""What is seen of a repeat: areas by colour on the endless cloth, after all overlaps.

Work is done once for each motif and once for each placement, on the copy at the lattice's
origin, whatever bounds it crosses. A region is then laid out of translated pieces, so it joins
its neighbours as the design does.
"""

from __future__ import annotations

import math
import pickle
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import chain

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.colour.booleans import difference, intersection, moved, snapped, union
from vecrepeat.colour.flatten import (
    CLOTH,
    Face,
    Mix,
    covered,
    faces_of,
    in_bands,
    is_solid,
    over,
    plain,
    under,
)
from vecrepeat.colour.gradients import Banding
from vecrepeat.colour.painted import painted_layers
from vecrepeat.colour.stamps import SLACK, Key, Stamp, laid, stamp_of
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import IDENTITY, Rect
from vecrepeat.repeat.model import Ground, Motif, Placement, Repeat
from vecrepeat.repeat.wrap import Copy, copies
from vecrepeat.scene.areas import as_parts
from vecrepeat.scene.outline import DEFAULT_TOLERANCE
from vecrepeat.util.cache import kept


@dataclass(frozen=True, eq=False)
class Visible:
    """What is seen of a repeat.

    Attributes:
        repeat: the endless cloth.
        motifs: for each motif its faces in its own mm, without overlap.
        covers: for each motif the area in which it hides what lies below, in its own mm.
        alone: numbers of placements that no other copy comes near, nor one of their own: all
            of their motif's faces are seen.
        pieces: for every other placement, what is seen of its opaque parts in mm of the tile, for
            the copy at the lattice's origin; without overlap.
        faces: for every other placement, all of its faces before others hide them.
        solids: for every other placement the area in which it hides what lies below.
        through: colours that overprint.
    """

    repeat: Repeat
    motifs: Mapping[Motif, tuple[Face, ...]]
    covers: Mapping[Motif, BaseGeometry]
    alone: frozenset[int]
    pieces: tuple[tuple[Face, ...], ...]
    faces: tuple[tuple[Face, ...], ...]
    solids: tuple[BaseGeometry, ...]
    through: frozenset[str] = frozenset()

    @cached_property
    def shares(self) -> dict[Mix, float]:
        """The area in mm² of each mixture in one tile's worth of cloth, ground included."""
        found: dict[Mix, float] = defaultdict(float)
        for area, mix in chain(*self.pieces, self.ground_faces(self.repeat.tile_rect)):
            found[mix] += area.area
        ground = ground_mix(self.repeat.ground)
        own = {motif: _areas(faces) for motif, faces in self.motifs.items()}
        for number in self.alone:
            placement = self.repeat.placements[number]
            scale = abs(placement.transform.determinant)
            for mix, size in own[placement.motif].items():
                found[over(mix, ground)] += size * scale
                found[ground] -= size * scale
        return {mix: size for mix, size in found.items() if size > 0}

    @cached_property
    def _lone(self) -> frozenset[Motif]:
        """The motifs that lie alone anywhere."""
        return frozenset(self.repeat.placements[number].motif for number in self.alone)

    def banded(self, banding: Banding) -> Visible:
        """Return the same with its gradients cut into bands of one colour each."""

        def cut(own: tuple[Face, ...]) -> tuple[Face, ...]:
            return tuple(part for face in own for part in in_bands(face, banding))

        motifs = {m: cut(own) if m in self._lone else own for m, own in self.motifs.items()}
        return replace(self, motifs=motifs, pieces=tuple(cut(own) for own in self.pieces))

    def ground_faces(self, region: Rect) -> list[Face]:
        """Return what is seen of the ground (or the bare cloth) in a region, if all that lies
        alone is left out.
        """
        box = shapely.box(*region)
        found = [
            c for c in copies(self.repeat, region.grown(SLACK)) if c.placement not in self.alone
        ]
        base = Face(box, ground_mix(self.repeat.ground))
        solid = union([copied(self.solids[copy.placement], self.repeat, copy) for copy in found])
        veils = [
            Face(copied(area, self.repeat, copy), mix)
            for copy in found
            for area, mix in self.faces[copy.placement]
            if not is_solid(mix)
        ]
        above = [Face(solid, plain("solid")), *veils]
        return under(base, above)

    def grouped(self, region: Rect, key: Callable[[Mix], Key]) -> dict[Key, BaseGeometry]:
        """Return the areas seen in a region in mm of the plane, mixtures of one key together.

        Returns:
            Polygons or multipolygons by key; together they make up the region.
        """
        rest = self.crowded(region, key)
        ground = key(ground_mix(self.repeat.ground))
        own = self.stamps(key)
        placed = self.placed(lambda motif, _: own[motif])
        return laid(self.repeat, region, placed, rest, ground)

    def crowded(self, region: Rect, key: Callable[[Mix], Key]) -> dict[Key, BaseGeometry]:
        """Return the areas seen in a region as if what lies alone were not there."""
        box = shapely.box(*region)
        found: dict[Key, list[BaseGeometry]] = defaultdict(list)
        for copy in copies(self.repeat, region.grown(SLACK)):
            if copy.placement in self.alone:
                continue
            for area, mix in self.pieces[copy.placement]:
                part = copied(area, self.repeat, copy)
                x0, y0, x1, y1 = part.bounds
                if x0 < region.x0 or y0 < region.y0 or x1 > region.x1 or y1 > region.y1:
                    part = intersection(part, box)
                if not part.is_empty:
                    found[key(mix)].append(part)
        for area, mix in self.ground_faces(region):
            found[key(mix)].append(area)
        return {name: union(areas) for name, areas in found.items()}

    def stamps(self, key: Callable[[Mix], Key]) -> dict[Motif, Stamp[Key]]:
        """Return the motifs that lie alone, as they look on the ground, in their own mm."""
        ground = ground_mix(self.repeat.ground)
        found = {}
        for motif in self._lone:
            own = self.motifs[motif]
            cover = union([self.covers[motif], *(f.area for f in own if not is_solid(f.mix))])
            shown: dict[Key, list[BaseGeometry]] = defaultdict(list)
            for area, mix in own:
                shown[key(over(mix, ground))].append(area)
            areas = {name: union(parts) for name, parts in shown.items()}
            if key(ground) in areas:
                cover = difference(cover, areas.pop(key(ground)))
            found[motif] = stamp_of(areas, cover)
        return found

    def placed(self, make: Callable[[Motif, float], Stamp[Key]]) -> dict[int, Stamp[Key]]:
        """Return the stamps of all that lies alone by placement, in mm of the tile.

        ``make`` gives the stamp of a motif in its own mm, for the scale it is placed at.
        """
        found = {}
        for number in sorted(self.alone):
            motif = self.repeat.placements[number].motif
            transform = self.repeat.placements[number].transform
            scale = math.sqrt(abs(transform.determinant))
            made = make(motif, scale)
            found[number] = made if transform == IDENTITY else made.transformed(transform.apply)
        return found


def copied(area: BaseGeometry, repeat: Repeat, copy: Copy) -> BaseGeometry:
    """Return an area of a placement where a copy of it lies."""
    if not copy.is_wrap:
        return area
    offset = repeat.lattice.at(copy.i, copy.j)
    return moved(area, float(offset.x), float(offset.y))


def ground_mix(ground: Ground | None) -> Mix:
    """Return the mixture that lies behind all motifs."""
    cloth = plain(CLOTH)
    return cloth if ground is None else over(plain(ground.colour, ground.opacity), cloth)


def visible(
    repeat: Repeat,
    *,
    tolerance: float = DEFAULT_TOLERANCE,
    through: Collection[str] = (),
    apart: float = 0.0,
) -> Visible:
    """Work out what is seen of a repeat; pictures, live text, masks and filters are not.

    Args:
        repeat: the endless cloth.
        tolerance: the greatest distance in mm between a curve and its polygon.
        through: colours that overprint: what lies below them is not knocked out.
        apart: how far in mm a placement must be from all others to count as alone.
    """
    motifs: dict[Motif, tuple[Face, ...]] = {}
    covers: dict[Motif, BaseGeometry] = {}
    over_print = frozenset(through)
    for motif in dict.fromkeys(placement.motif for placement in repeat.placements):
        motifs[motif], covers[motif] = _by_itself(motif, tolerance, over_print)
    # What overprints is seen together with what lies below it, so nothing counts as alone.
    alone = frozenset() if over_print else lonely(repeat, apart)
    faces = tuple(
        () if number in alone else _placed(motifs[placement.motif], placement)
        for number, placement in enumerate(repeat.placements)
    )
    solids = tuple(
        shapely.Polygon() if number in alone else _moved_to(covers[p.motif], p)
        for number, p in enumerate(repeat.placements)
    )
    bare = Visible(repeat, motifs, covers, alone, (), faces, solids, over_print)
    pieces = tuple(_seen(bare, number) for number in range(len(faces)))
    return replace(bare, pieces=pieces)


@lru_cache(maxsize=256)
def _by_itself(
    motif: Motif, tolerance: float, through: frozenset[str]
) -> tuple[tuple[Face, ...], BaseGeometry]:
    """Return what is seen of a motif that nothing lies on, and where it hides what lies below.

    A board asks at every step, and every command again, so it is kept.
    """

    def work() -> tuple[tuple[Face, ...], BaseGeometry]:
        layers = painted_layers(motif, tolerance=tolerance)
        try:
            return tuple(faces_of(layers, through)), covered(layers, through)
        except InputError as error:
            raise InputError(error.what, element=motif.name, hint=error.hint) from None

    return kept("seen", pickle.dumps((motif.scene, tolerance, sorted(through))), work)


def lonely(repeat: Repeat, apart: float) -> frozenset[int]:
    """Return the numbers of placements that no copy comes as near as this, in mm.

    Where a distance counts, those that are stretched unevenly are none of them: lengths in
    their motif's space mean nothing.
    """
    near = apart + 2 * SLACK
    found = []
    for number, placement in enumerate(repeat.placements):
        if apart > 0 and not placement.transform.is_similarity():
            continue
        parts = placement.parts
        if not len(parts):
            continue
        box = Rect.of(shapely.total_bounds(parts))
        others = [c for c in copies(repeat, box.grown(near)) if c != Copy(number, 0, 0)]
        tree = shapely.STRtree(parts)
        for copy in others:
            theirs = repeat.placements[copy.placement].parts
            if copy.is_wrap:
                offset = repeat.lattice.at(copy.i, copy.j)
                shift = np.array([float(offset.x), float(offset.y)])
                theirs = shapely.transform(theirs, lambda xy, by=shift: xy + by)
            if tree.query(theirs, predicate="dwithin", distance=near).size:
                break
        else:
            found.append(number)
    return frozenset(found)


def _areas(faces: Iterable[Face]) -> dict[Mix, float]:
    found: dict[Mix, float] = defaultdict(float)
    for area, mix in faces:
        found[mix] += area.area
    return found


def _placed(faces: tuple[Face, ...], placement: Placement) -> tuple[Face, ...]:
    transform = placement.transform
    if transform == IDENTITY:
        return faces

    def placed(mix: Mix) -> Mix:
        return tuple(
            (c if isinstance(c, str) else replace(c, matrix=transform @ c.matrix), share)
            for c, share in mix
        )

    return tuple(Face(_moved_to(area, placement), placed(mix)) for area, mix in faces)


def _moved_to(area: BaseGeometry, placement: Placement) -> BaseGeometry:
    if placement.transform == IDENTITY:
        return area
    return snapped(shapely.transform(area, placement.transform.apply))


def _seen(everything: Visible, number: int) -> tuple[Face, ...]:
    """Return what other copies, and its own, leave of a placement's opaque faces."""
    repeat = everything.repeat
    own = [face for face in everything.faces[number] if is_solid(face.mix)]
    if not own:
        return ()
    box = Rect.of(shapely.total_bounds(as_parts([face.area for face in own]))).grown(SLACK)
    above = [copy for copy in copies(repeat, box) if copy > Copy(number, 0, 0)]
    solids = [copied(everything.solids[copy.placement], repeat, copy) for copy in above]
    # Where the copies do not come near, nothing need be united.
    mine = shapely.box(*box)
    near = [solid for solid in solids if shapely.intersects(solid, mine)]
    hiding = union([intersection(solid, mine) for solid in near])
    veils = [
        Face(copied(area, repeat, copy), mix)
        for copy in above
        for area, mix in everything.faces[copy.placement]
        if not is_solid(mix)
    ]
    seen: list[Face] = []
    for area, mix in own:
        left = difference(area, hiding)
        if not left.is_empty:
            seen += under(Face(left, mix), veils)
    return tuple(seen)
