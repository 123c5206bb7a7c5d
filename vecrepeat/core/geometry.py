"""Small immutable plane geometry shared by every stage."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    # Not imported here: worker processes that draw know matrices and no arrays.
    import numpy as np
    from numpy.typing import NDArray


class Rect(NamedTuple):
    """An axis-aligned rectangle, ``x0 <= x1`` and ``y0 <= y1``, y downwards."""

    x0: float
    y0: float
    x1: float
    y1: float

    @classmethod
    def of(cls, bounds: Iterable[float]) -> Rect:
        """Return the rectangle of four bounds of any number type, such as shapely's."""
        return cls(*(float(v) for v in bounds))

    @classmethod
    def enclosing(cls, rects: Sequence[Rect]) -> Rect:
        """Return the smallest rectangle that holds all of ``rects``, one or more."""
        x0, y0, x1, y1 = zip(*rects, strict=True)
        return cls(min(x0), min(y0), max(x1), max(y1))

    @property
    def width(self) -> float:
        """Extent along x."""
        return self.x1 - self.x0

    @property
    def height(self) -> float:
        """Extent along y."""
        return self.y1 - self.y0

    def grown(self, by: float) -> Rect:
        """Return the rectangle with every side moved outwards by ``by``."""
        return Rect(self.x0 - by, self.y0 - by, self.x1 + by, self.y1 + by)

    def moved(self, dx: float, dy: float) -> Rect:
        """Return the rectangle moved by ``(dx, dy)``."""
        return Rect(self.x0 + dx, self.y0 + dy, self.x1 + dx, self.y1 + dy)


class Affine(NamedTuple):
    """The matrix of SVG's ``matrix(a b c d e f)``: x' = a·x + c·y + e, y' = b·x + d·y + f.

    Source: SVG 2 §8.5, *The transform property*.
    """

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    @classmethod
    def translation(cls, dx: float, dy: float) -> Affine:
        """Return the move by ``(dx, dy)``."""
        return cls(1.0, 0.0, 0.0, 1.0, dx, dy)

    @classmethod
    def scaling(cls, sx: float, sy: float | None = None) -> Affine:
        """Return the scaling about the origin by ``sx`` across and ``sy`` (or ``sx``) down."""
        return cls(sx, 0.0, 0.0, sx if sy is None else sy, 0.0, 0.0)

    def __matmul__(self, other: Affine) -> Affine:
        """Return the product: ``(self @ other)`` maps a point by ``other``, then by ``self``."""
        if other is IDENTITY:
            return self
        a, b, c, d, e, f = self
        oa, ob, oc, od, oe, of = other
        return Affine(
            a * oa + c * ob,
            b * oa + d * ob,
            a * oc + c * od,
            b * oc + d * od,
            a * oe + c * of + e,
            b * oe + d * of + f,
        )

    @classmethod
    def from_svg(cls, text: str | None) -> Affine:
        """Return what :meth:`svg` has written; the identity for nothing."""
        if not text:
            return IDENTITY
        kind, _, rest = text.partition("(")
        values = tuple(float(v) for v in rest.rstrip(")").split())
        return cls.translation(*values) if kind == "translate" else cls(*values)

    @property
    def determinant(self) -> float:
        """Signed area scale."""
        return self.a * self.d - self.b * self.c

    def inverse(self) -> Affine:
        """Return the inverse.

        Raises:
            ZeroDivisionError: the matrix flattens the plane.
        """
        det = self.determinant
        a, b, c, d, e, f = self
        return Affine(
            d / det,
            -b / det,
            -c / det,
            a / det,
            (c * f - d * e) / det,
            (b * e - a * f) / det,
        )

    def apply(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Map points of shape (n, 2)."""
        # By columns: a matrix product of two columns costs many times as much in threads.
        x, y = points[:, 0], points[:, 1]
        result = points.astype("f8")
        result[:, 0] = self.a * x + self.c * y + self.e
        result[:, 1] = self.b * x + self.d * y + self.f
        return result

    @property
    def stretch(self) -> float:
        """The largest factor by which any length grows (the matrix's spectral norm)."""
        a, b, c, d = self.a, self.b, self.c, self.d
        half = (a * a + b * b + c * c + d * d) / 2
        return math.sqrt(half + math.sqrt(max(0.0, half * half - self.determinant**2)))

    def is_similarity(self, tolerance: float = 1e-9) -> bool:
        """Whether lengths grow alike in all directions, so that circles stay circles."""
        a, b, c, d = self.a, self.b, self.c, self.d
        size = a * a + b * b + c * c + d * d
        return (
            abs(a * c + b * d) <= tolerance * size
            and abs(a * a + b * b - c * c - d * d) <= tolerance * size
        )

    def svg(self) -> str:
        """Return the shortest exact ``transform`` attribute value."""
        a, b, c, d, e, f = (number(v) for v in self)
        if (self.b, self.c) == (0.0, 0.0) and (self.a, self.d) == (1.0, 1.0):
            return f"translate({e} {f})"
        return f"matrix({a} {b} {c} {d} {e} {f})"


IDENTITY = Affine()


def number(value: float) -> str:
    """Format a float as the shortest decimal that reads back to the same float."""
    if value == int(value) and abs(value) < 1e15:
        return str(int(value))
    return repr(float(value))
