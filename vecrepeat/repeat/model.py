"""The model of a repeat: placed motifs, a ground, a tile and a layout.

Everything here is plain data in millimetres; nothing reads a file. A motif carries its scene,
which writers, engines and checks visit.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from typing import Protocol

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vecrepeat.core.allowance import REACH
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import IDENTITY, Affine, Rect, number
from vecrepeat.repeat.layout import Lattice, Layout
from vecrepeat.repeat.symmetry import Symmetry
from vecrepeat.scene.kinds import Feature
from vecrepeat.scene.nodes import Clip, Data, Fill, Group, Path
from vecrepeat.util.once import each


@dataclass(frozen=True)
class Ground:
    """What lies behind all motifs: one flat colour.

    Attributes:
        colour: ``#rrggbb``, sRGB.
        opacity: 0 to 1.
    """

    colour: str
    opacity: float = 1.0

    @property
    def rgb(self) -> tuple[int, int, int]:
        """Red, green and blue, 0 to 255."""
        value = int(self.colour[1:], 16)
        return (value >> 16, value >> 8 & 255, value & 255)


@dataclass(frozen=True, eq=False)
class Motif:
    """One drawn unit.

    Attributes:
        name: unique within its repeat; taken from the drawing where it has one.
        parts: polygons, shape (n,), whose union is the painted area, strokes included, in mm
            of the drawing's page.
        scene: what is drawn, in mm of the page.
        features: what it makes use of beyond plain fills and strokes.
        colours: what it is painted with, as ``#rrggbb``.
        regions: what its filters work on, in mm.
        dpi: the fewest pixels per inch of its pictures as they are drawn; None without any.
        is_ground: whether it is a layer of a patterned ground, on which motifs lie.
    """

    name: str
    parts: NDArray[np.object_]
    scene: Group
    features: tuple[Feature, ...] = ()
    colours: tuple[str, ...] = ()
    regions: tuple[Rect, ...] = ()
    dpi: float | None = None
    is_ground: bool = False

    @each
    def outline(self) -> BaseGeometry:
        """The painted area as one polygon or multipolygon."""
        return shapely.union_all(self.parts)

    @cached_property
    def box(self) -> Rect:
        """The painted area's bounds."""
        return Rect.of(shapely.total_bounds(self.parts))

    @cached_property
    def extent(self) -> Rect:
        """What a renderer works on to draw it, in mm: its box and the regions of its filters."""
        return Rect.enclosing([self.box, *self.regions])

    def scaled(self, by: float, about: tuple[float, float] = (0.0, 0.0)) -> Motif:
        """Return the motif ``by`` times as large, a point of it (in mm) staying where it is."""
        if by == 1:
            return self
        x, y = about
        larger = Affine(by, 0.0, 0.0, by, x - by * x, y - by * y)
        return replace(
            self,
            parts=shapely.transform(self.parts, larger.apply),
            scene=Group((self.scene,), larger),
            regions=tuple(_mapped(region, larger) for region in self.regions),
            dpi=None if self.dpi is None else self.dpi / by,
        )


def _mapped(rect: Rect, by: Affine) -> Rect:
    """Return the bounds of where a map takes a rectangle."""
    x0, y0, x1, y1 = rect
    corners = by.apply(np.array([(x0, y0), (x1, y0), (x0, y1), (x1, y1)], np.float64))
    return Rect(*corners.min(axis=0).tolist(), *corners.max(axis=0).tolist())


@dataclass(frozen=True, eq=False)
class Placement:
    """A motif put somewhere on the cloth.

    Attributes:
        motif: what is placed.
        transform: from the motif's own mm to the mm of the tile.
    """

    motif: Motif
    transform: Affine = IDENTITY

    @cached_property
    def parts(self) -> NDArray[np.object_]:
        """Polygons whose union is the painted area, in mm of the tile."""
        if self.transform == IDENTITY:
            return self.motif.parts
        moved: NDArray[np.object_] = shapely.transform(self.motif.parts, self.transform.apply)
        return moved

    @cached_property
    def outline(self) -> BaseGeometry:
        """The painted area in mm of the tile, as one polygon or multipolygon."""
        if self.transform == IDENTITY:
            return self.motif.outline
        return shapely.transform(self.motif.outline, self.transform.apply)


class Drawn(Protocol):
    """Art that lies on no layout yet, such as a drawing that was read."""

    def repeat(self) -> Repeat:
        """Return the repeat whose tile is its page."""


@dataclass(frozen=True, eq=False)
class Repeat:
    """Art and a lattice: the endless cloth.

    Attributes:
        name: short name, for files.
        width: the tile's width in mm, exact.
        height: the tile's height in mm, exact.
        placements: motifs in stacking order, the first at the bottom.
        layout: how tiles tessellate.
        ground: the colour behind all motifs, or None for bare cloth.
        metadata: the drawing's own ``title``, ``desc`` and ``metadata`` elements, as markup.
        symmetry: what the layout turns, where it does more than move tiles: placements then
            come in groups, one for each operation. None once they are moved or exchanged.
    """

    name: str
    width: Fraction
    height: Fraction
    placements: tuple[Placement, ...]
    layout: Layout = field(default_factory=Layout)
    ground: Ground | None = None
    metadata: str = ""
    symmetry: Symmetry | None = None

    @staticmethod
    def of(design: Repeat | Drawn) -> Repeat:
        """Return a repeat as it is, and art as a block of its page."""
        return design if isinstance(design, Repeat) else design.repeat()

    def with_layout(self, layout: Layout | str, *, cut: bool = False) -> Repeat:
        """Return the same art on another layout.

        Where the layout turns tiles, or is a plane group, the tile of what is returned is the
        cell that repeats by translation alone, and the motifs stand in it as often as the
        layout turns them.

        Args:
            layout: the layout or its name.
            cut: cut the art to the layout's smallest region first, as a kaleidoscope does.

        Raises:
            InputError: the layout's name is not known, the page does not suit it, it has no
                region to cut to, or nothing lies in it.
            ValueError: this repeat's layout turns tiles already.
        """
        if isinstance(layout, str):
            layout = Layout.parse(layout)
        if self.symmetry is not None:
            raise ValueError(f"the art is on the layout {self.layout} already")
        cell = layout.cell(self.width, self.height)
        if cell is None:
            if cut:
                raise InputError(
                    f"layout {layout} turns nothing, so there is no region to cut to",
                    hint="choose a turnover, a half-turn or a plane group",
                )
            return replace(self, layout=layout)
        page = cut_to_region(self, cell.symmetry) if cut else self
        return replace(
            page,
            width=cell.width,
            height=cell.height,
            layout=Layout(cell.kind, cell.shift, label=str(layout)),
            symmetry=cell.symmetry,
            placements=tuple(
                Placement(placement.motif, turn @ placement.transform)
                for placement in page.placements
                for turn in cell.symmetry.transforms
            ),
        )

    def scaled(self, scale: Fraction) -> Repeat:
        """Return the same cloth ``scale`` times as large."""
        if scale == 1:
            return self
        zoom = Affine.scaling(float(scale))
        symmetry = self.symmetry
        if symmetry is not None:
            ax, ay, bx, by = symmetry.axes
            symmetry = replace(symmetry, axes=(zoom.a * ax, zoom.d * ay, zoom.a * bx, zoom.d * by))
        return replace(
            self,
            width=self.width * scale,
            height=self.height * scale,
            placements=tuple(Placement(p.motif, zoom @ p.transform) for p in self.placements),
            symmetry=symmetry,
        )

    @classmethod
    def alone(cls, motif: Motif, tile: Fraction, move: Affine) -> Repeat:
        """Return one motif on bare cloth, moved from its own mm to the mm of a tile.

        The tile is square, and so large that no copy comes into view.
        """
        return cls(motif.name, tile, tile, (Placement(motif, move),))

    @cached_property
    def motifs_alone(self) -> Repeat:
        """The same cloth without the layers of a patterned ground; itself where there are none."""
        alone = tuple(p for p in self.placements if not p.motif.is_ground)
        return self if len(alone) == len(self.placements) else replace(self, placements=alone)

    @cached_property
    def lattice(self) -> Lattice:
        """The lattice of the layout in mm."""
        return self.layout.lattice(self.width, self.height)

    @property
    def block_size(self) -> tuple[Fraction, Fraction]:
        """The straight block's width and height in mm."""
        across, down = self.layout.straight_block
        return (self.width * across, self.height * down)

    @property
    def tile_rect(self) -> Rect:
        """The tile as a rectangle in mm, its corner at the origin."""
        return Rect(0.0, 0.0, float(self.width), float(self.height))

    @cached_property
    def boxes(self) -> NDArray[np.float64]:
        """Bounds of every placement's painted area, shape (n, 4), in mm of the tile.

        Raises:
            InputError: one reaches further than :data:`vecrepeat.core.allowance.REACH` tiles.
        """
        boxes = np.array([shapely.total_bounds(p.parts) for p in self.placements], dtype=np.float64)
        boxes = boxes.reshape(-1, 4)
        tiles = boxes / np.tile([float(self.width), float(self.height)], 2)
        far = np.flatnonzero((tiles < -REACH).any(axis=1) | (tiles > 1 + REACH).any(axis=1))
        if len(far):
            raise InputError(
                f"it reaches more than {REACH} tiles beyond its own",
                element=self.placements[far[0]].motif.name,
                hint="make it smaller, place it nearer or make the tile larger",
            )
        return boxes

    @cached_property
    def index(self) -> tuple[shapely.STRtree, NDArray[np.int64]]:
        """Spatial index over all placements' parts, and the placement each part is of."""
        parts = [p.parts for p in self.placements]
        owner = np.repeat(np.arange(len(parts)), [len(p) for p in parts])
        everything = np.concatenate(parts) if parts else np.empty(0, object)
        return shapely.STRtree(everything), owner


REGION_BLEED = 0.1
"""By how many mm a motif's cut edge goes on under its mirror image, so that no ground shows."""


def cut_to_region(repeat: Repeat, symmetry: Symmetry) -> Repeat:
    """Return the repeat with its art cut to the smallest region of a symmetry.

    Outlines end at the region exactly; what is drawn goes on :data:`REGION_BLEED` beyond.

    Raises:
        InputError: nothing lies in the region.
    """
    region = shapely.Polygon(symmetry.region_mm)
    bleed = region.buffer(REGION_BLEED, join_style="mitre")
    corners = "L".join(f"{number(x)} {number(y)}" for x, y in bleed.exterior.coords[:-1])
    clip = Clip((Path(Data(f"M{corners}Z"), Fill()),), name=f"{symmetry.name} region")
    placements = []
    for placement in repeat.placements:
        parts = shapely.intersection(placement.parts, region)
        parts = shapely.get_parts(shapely.union_all(parts[shapely.area(parts) > 0]))
        parts = parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON]
        if not len(parts):
            continue
        move = placement.transform
        motif = replace(
            placement.motif,
            parts=parts,
            scene=Group((Group((placement.motif.scene,), move),), clip=clip),
            regions=tuple(_mapped(region, move) for region in placement.motif.regions),
        )
        placements.append(Placement(motif))
    if not placements:
        raise InputError(
            f"nothing is drawn in the region that {symmetry.name} repeats",
            hint="draw near the page's upper left corner",
        )
    return replace(repeat, placements=tuple(placements))
