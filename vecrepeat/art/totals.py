"""What elements come to with all they hold and refer to, each looked at only once."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

from lxml import etree


class Edge(NamedTuple):
    """What an element holds or refers to, how often, and by how much that nests deeper."""

    target: etree._Element
    times: int = 1
    deeper: int = 0


class Total(NamedTuple):
    """What an element comes to with all it holds and refers to.

    Attributes:
        size: how many elements that is, each counted as often as something leads to it.
        depth: how deep it nests.
        characters: how long their attributes are, counted alike.
    """

    size: int
    depth: int = 0
    characters: int = 0

    def plus(self, other: Total, edge: Edge) -> Total:
        """Return the sum with what an edge leads to."""
        return Total(
            self.size + edge.times * other.size,
            max(self.depth, other.depth + edge.deeper),
            self.characters + edge.times * other.characters,
        )


@dataclass
class _Frame:
    """An element whose sum is being made: the edge that led to it and those not yet followed."""

    edge: Edge
    rest: Iterator[Edge]
    total: Total


def total(
    root: etree._Element,
    own: Callable[[etree._Element], Total],
    edges: Callable[[etree._Element], Iterator[Edge]],
) -> Total:
    """Return what an element comes to. Where it leads back to itself, that counts nothing."""
    # Not by recursion: a chain may be as long as the file.
    known: dict[etree._Element, Total | None] = {root: None}
    stack = [_Frame(Edge(root), edges(root), own(root))]
    while True:
        frame = stack[-1]
        edge = next(frame.rest, None)
        if edge is None:
            known[frame.edge.target] = frame.total
            stack.pop()
            if not stack:
                return frame.total
            stack[-1].total = stack[-1].total.plus(frame.total, frame.edge)
        elif edge.target not in known:
            known[edge.target] = None
            stack.append(_Frame(edge, edges(edge.target), own(edge.target)))
        elif (found := known[edge.target]) is not None:
            frame.total = frame.total.plus(found, edge)
