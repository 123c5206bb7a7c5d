"""What each motif is made of and where it paints, measured where geometry can't tell."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace

import shapely

from vecrepeat.art.filters import told_area
from vecrepeat.art.motifs import PlacedNode
from vecrepeat.art.page import Page
from vecrepeat.core.allowance import MEASURING_SECONDS, MOTIF_SECONDS
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import IDENTITY, Affine, Rect
from vecrepeat.scene import kinds
from vecrepeat.scene.areas import Parts, as_parts
from vecrepeat.scene.features import features_of
from vecrepeat.scene.kinds import Feature
from vecrepeat.scene.nodes import Group, Node
from vecrepeat.scene.outline import Outliner
from vecrepeat.scene.visit import title_of, walk
from vecrepeat.scene.write import Writer
from vecrepeat.util.fonts import generic_families

_MEASURED = frozenset((kinds.TEXT, kinds.MASK, kinds.FILTER, kinds.NON_SCALING, kinds.IMAGE))
"""Kinds whose ink is not where the geometry is."""

_SPREADING = frozenset((kinds.TEXT, kinds.NON_SCALING))
"""Kinds whose ink may lie outside all boxes known beforehand."""

_NONE = as_parts([])

MOTIFS = 10
"""Motifs that have to do with :data:`MEASURING_SECONDS`."""


class SpentError(RuntimeError):
    """The time for measuring a drawing is used up."""


@dataclass
class Allowance:
    """What is left of the time for measuring one drawing.

    Whoever does a part of the work asks for :meth:`seconds` before, so that no sequence of
    parts, each of them bounded, can add up to more.
    """

    _motifs: int = 0
    _spent: float = 0.0
    _since: float | None = None

    @contextmanager
    def motif(self) -> Iterator[None]:
        """Count what is done within as the measuring of one more motif."""
        self._motifs += 1
        self._since = _clock()
        try:
            yield
        finally:
            self._spent += _clock() - self._since
            self._since = None

    def seconds(self, usual: float) -> float:
        """Return how many seconds the next part may take: as usual, or what is left if less.

        Raises:
            SpentError: nothing is left.
        """
        running = 0.0 if self._since is None else _clock() - self._since
        allowed = MEASURING_SECONDS + MOTIF_SECONDS * max(0, self._motifs - MOTIFS)
        left = allowed - self._spent - running
        if left <= 0:
            raise SpentError
        return min(usual, left)


def _clock() -> float:
    """Seconds of processor time that this thread, and resvg for it, have taken."""
    # Few drawings need measuring; the rest do not wait for what it takes to import.
    from vecrepeat.draw.resvg import processor_time

    return time.thread_time() + processor_time()


@dataclass
class Inker:
    """Answers for a page's nodes what they use and where they paint.

    Args:
        page: the page.
        outliner: outlines nodes in mm.
    """

    page: Page
    outliner: Outliner
    notes: list[str] = field(default_factory=list)
    _allowance: Allowance = field(default_factory=Allowance)
    _features: dict[int, tuple[Node, tuple[Feature, ...]]] = field(default_factory=dict)

    def features(self, node: Node) -> tuple[Feature, ...]:
        """Return what a node makes use of beyond plain fills and strokes."""
        if id(node) not in self._features:
            self._features[id(node)] = (node, features_of(node))
        return self._features[id(node)][1]

    def refine(self, placed: PlacedNode, parts: Parts) -> Parts:
        """Return a node's painted area in mm, measured where geometry can't tell."""
        used = {feature.kind for feature in self.features(placed.node)}
        if not used & _MEASURED:
            return parts
        if used & _SPREADING:
            return self._measured(placed, parts, generic_families() if kinds.TEXT in used else ())
        told, untold = told_area(placed.scene, self.outliner)
        if untold is None:
            return told
        (shapes,) = self.outliner.parts([(untold, IDENTITY)])
        untold = replace(untold, name=title_of(placed.node))
        found = self._measured(PlacedNode(untold, IDENTITY), shapes, of=told)
        return as_parts([*told, *found])

    def _measured(
        self,
        placed: PlacedNode,
        parts: Parts,
        fonts: Sequence[str] | None = None,
        of: Parts = _NONE,
    ) -> Parts:
        """Return a node's painted area in mm, measured.

        Args:
            placed: the node.
            parts: its painted area by geometry.
            fonts: generic families that text is set in, where ink may lie outside all boxes known
                beforehand; None where none does.
            of: what else the motif paints, whose size says how close to look.
        """
        # Few drawings need measuring; the rest do not wait for what it takes.
        from vecrepeat.art.ink import measure
        from vecrepeat.draw.resvg import ResvgError, ResvgTimeError

        page = Rect(0.0, 0.0, float(self.page.width), float(self.page.height))
        region = page.grown(max(page.width, page.height))
        near = None
        if len(parts):
            near = Rect.of(shapely.total_bounds(parts))
            region = Rect.enclosing([region, near])
        writer = Writer("ink")
        fragment = writer.fragment(placed.scene)
        name = title_of(placed.node)
        try:
            with self._allowance.motif():
                return measure(
                    fragment.markup,
                    writer.defined(),
                    region,
                    fonts=fonts or (),
                    near=near,
                    within=self._bounds(placed, parts) if fonts is None else None,
                    beside=Rect.of(shapely.total_bounds(of)) if len(of) else None,
                    allowance=self._allowance,
                )
        except (ResvgTimeError, SpentError) as error:
            raise InputError(
                "its filters, masks or text take too long to draw",
                element=name,
                hint="simplify or rasterise them",
            ) from error
        except ResvgError as error:
            self.notes.append(
                f"“{name}”: where it paints could not be measured ({error}); "
                "its shapes are taken instead"
            )
            return parts if len(parts) else as_parts([shapely.box(*page)])

    def _bounds(self, placed: PlacedNode, parts: Parts) -> Rect | None:
        """Return where all that a node paints and filters lies, in mm; None where unknown."""
        boxes = [Rect.of(shapely.total_bounds(parts))] if len(parts) else []
        for node, matrix in walk(placed.node, placed.matrix):
            if isinstance(node, Group) and node.filter is not None:
                if node.filter.region is None:
                    return None
                boxes.append(bounds_of(node.filter.region, matrix))
        return Rect.enclosing(boxes) if boxes else None

    def regions(self, placed: PlacedNode) -> tuple[Rect, ...]:
        """Return the bounds of what each filter of a node works on, in mm, where that is known."""
        return tuple(
            bounds_of(node.filter.region, matrix)
            for node, matrix in walk(placed.node, placed.matrix)
            if isinstance(node, Group) and node.filter is not None and node.filter.region
        )


def bounds_of(rect: Rect, matrix: Affine) -> Rect:
    """Return the bounds of where a map takes a rectangle."""
    return Rect.of(shapely.transform(shapely.box(*rect), matrix.apply).bounds)
