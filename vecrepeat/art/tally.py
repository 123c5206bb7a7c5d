"""How much building a scene comes to, counted as it goes on.

A few lines of SVG can ask for more work than any machine has time for: masks that are masked
twice by masks that are masked twice …, a metre of line in dashes of a micrometre. So what is
built is counted, and a drawing past all proportion refused. The bounds stand far above real
drawings.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, TypeVar

import numpy as np
from lxml import etree

from vecrepeat.core.errors import InputError
from vecrepeat.scene.nodes import Paint, Path
from vecrepeat.scene.segments import segments_of

MAX_BUILT = 200_000
"""The most that effects may come to, each part counted as often as something uses it."""

MAX_NESTING = 40
"""How deep effects may nest: renderers follow them by recursion."""

MAX_DASHES = 500_000
"""The most dashes of a drawing."""

T = TypeVar("T")


@dataclass
class Tally:
    """What has been built so far, and what is being built.

    Attributes:
        using: ids of the definitions that are being built, against those that go in circles.
        context: what ``context-fill`` and ``context-stroke`` mean (SVG 2 §13.2).
        most: how many parts the drawing may come to.
    """

    using: list[str] = field(default_factory=list, kw_only=True)
    context: Mapping[str, Paint | None] = field(default_factory=dict, kw_only=True)
    most: int = field(default=MAX_BUILT, kw_only=True)
    _once: dict[Any, tuple[Any, int]] = field(default_factory=dict, init=False)
    _built: int = field(default=0, init=False)
    _dashes: float = field(default=0.0, init=False)

    def count(self, parts: int) -> None:
        """Count what is built.

        Raises:
            InputError: it comes to too much.
        """
        self._built += parts
        if self._built > self.most:
            raise InputError(
                "its clips, masks, filters, markers and patterns use one another so often that "
                f"they come to more than {MAX_BUILT:,} elements",
                hint="simplify them",
            )

    def once(self, key: tuple[Any, ...], build: Callable[[], T]) -> T:
        """Return what is built for a key; it is built once and counts each time."""
        # How deep it may nest has been seen to for the depth it was built at only.
        at = (*key, *self.context.values(), len(self.using))
        if at in self._once:
            self.count(self._once[at][1])
        else:
            before = self._built
            built = build()
            self._once[at] = built, self._built - before
        found: T = self._once[at][0]
        return found

    @contextmanager
    def within(self, key: str) -> Iterator[None]:
        """Build what a definition holds, against those that go in circles.

        Raises:
            InputError: definitions nest too deep.
        """
        if len(self.using) >= MAX_NESTING:
            raise InputError(
                "its clips, masks, filters, markers and patterns nest more than "
                f"{MAX_NESTING} deep",
                hint="simplify them",
            )
        self.using.append(key)
        try:
            yield
        finally:
            self.using.pop()

    def count_dashes(self, element: etree._Element, path: Path, dashes: tuple[float, ...]) -> None:
        """Count the dashes of a path's line.

        Raises:
            InputError: there are too many.
        """
        # The control polygon is no shorter than the curve.
        legs = np.diff(segments_of(path.outline).points, axis=1)
        self._dashes += float(np.hypot(*np.moveaxis(legs, 2, 0)).sum()) / sum(dashes) * len(dashes)
        if self._dashes > MAX_DASHES:
            raise InputError(
                f"its dashed lines fall into more than {MAX_DASHES:,} dashes",
                element=element.get("id"),
                hint="make the dashes longer, or draw a tint instead",
            )
