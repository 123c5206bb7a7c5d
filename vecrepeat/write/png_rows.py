"""The filtered rows of a periodic PNG as deflate data, every row of its tile compressed once.

A line of the file is a filter type and rows of the tile side by side, each as far down the tile
as its column is shifted. So rows are compressed one by one, each so that it stands alone, and
put side by side as bytes. "PNG" is Portable Network Graphics (PNG) Specification (Third
Edition), W3C.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from vecrepeat.write.deflate import MATCH_MIN, WINDOW, Adler, Deflater, Matches, stored

# PNG 9.2: filter types.
FILTER_NONE, FILTER_UP = 0, 2

# A line is a filtered row of the tile with its filter type byte, laid out so that the row's
# samples start on an 8-byte word: PAD bytes of which the last is the filter type, the row, zeros
# to a full word.
WORD = 8
PAD = WORD

# How many lines of the sheet are put together at a time.
BATCH = 64


@dataclass(frozen=True)
class Grid:
    """How lines are made of the tile's rows.

    Attributes:
        rows: of the tile.
        row_bytes: of the tile, without a filter type.
        line_bytes: of the sheet, likewise.
        shifts: for each column of tiles across a period, how many rows it lies lower.
        lines: of one vertical period, as far as the sheet shows it.
        last: after so many of them the sheet's last period ends.
    """

    rows: int
    row_bytes: int
    line_bytes: int
    shifts: tuple[int, ...]
    lines: int
    last: int

    @property
    def bare(self) -> dict[int, int]:
        """Rows that the first line shows, which has no filter, with a number for each.

        Filtered rows have the numbers 0 to ``rows - 1``.
        """
        tops = dict.fromkeys(-shift % self.rows for shift in self.shifts)
        return {row: self.rows + i for i, row in enumerate(tops)}

    @property
    def wraps(self) -> bool:
        """Whether the tile's first row lies under its last one anywhere within a period."""
        return any(shift % self.rows for shift in self.shifts)

    def numbers(self, start: int, stop: int) -> NDArray[np.intp]:
        """Return the numbers of the rows in lines, of shape (lines, columns)."""
        found: NDArray[np.intp] = np.arange(start, stop)[:, None] - np.array(self.shifts)
        found %= self.rows
        if start == 0:
            bare = self.bare
            found[0] = [bare[int(row)] for row in found[0]]
        return found


class Slice(NamedTuple):
    """Filtered rows that follow each other.

    Attributes:
        number: of the first one; see :class:`Grid`.
        lines: their bytes, as said above.
    """

    number: int
    lines: NDArray[np.uint8]


def filtered(
    grid: Grid, shape: tuple[int, int], most: int, strips: Iterable[NDArray[np.uint8]]
) -> Iterator[Slice]:
    """Filter the tile's rows (PNG 9.2) into slices of ``most`` rows or fewer.

    Slices end at ``grid.last``. The row that the first line shows in a column comes before its
    filtered self; where the tile is shown wrapped, its first row filtered comes at the end.

    Args:
        grid: what is needed of the tile.
        shape: columns and channels.
        most: see above.
        strips: the tile's rows in order, of any heights.

    Raises:
        ValueError: the strips do not make up the tile.
    """
    bare = grid.bare
    top = above = np.zeros(grid.row_bytes, np.uint8)
    row = 0
    # The slice that is being filled is of rows `start` to `stop`, and is full up to `at`.
    at = start = stop = 1
    lines = _blank(0, grid.row_bytes, FILTER_UP)
    for strip in strips:
        if strip.ndim != 3 or strip.shape[1:] != shape or strip.dtype != np.uint8:
            raise ValueError(
                f"a strip must be uint8 of shape (rows, {shape[0]}, {shape[1]}),"
                f" not {strip.dtype} {strip.shape}"
            )
        end = row + len(strip)
        if end > grid.rows:
            raise ValueError(f"the strips hold more than the block's {grid.rows} rows")
        samples = np.ascontiguousarray(strip).reshape(len(strip), grid.row_bytes)
        if row == 0 and len(strip):
            top = samples[0].copy()
        for first in [r for r in bare if row <= r < end]:
            line = _blank(1, grid.row_bytes, FILTER_NONE)
            line[0, PAD : PAD + grid.row_bytes] = samples[first - row]
            yield Slice(bare[first], line)
        while at < end:
            if at == start:
                stop = min(start + most, grid.last if start < grid.last else grid.rows)
                lines = _blank(stop - start, grid.row_bytes, FILTER_UP)
            rows = samples[at - row : stop - row]
            out = lines[at - start : at - start + len(rows), PAD : PAD + grid.row_bytes]
            np.subtract(rows[0], samples[at - row - 1] if at > row else above, out=out[0])
            np.subtract(rows[1:], rows[:-1], out=out[1:])
            at += len(rows)
            if at == stop:
                yield Slice(start, lines)
                start = stop
        if len(strip):
            above = samples[-1].copy()  # the caller may reuse the strip's memory
        row = end
    if row < grid.rows:
        raise ValueError(f"the strips hold {row} rows, the block has {grid.rows}")
    if grid.wraps:
        line = _blank(1, grid.row_bytes, FILTER_UP)
        np.subtract(top, above, out=line[0, PAD : PAD + grid.row_bytes])
        yield Slice(0, line)


def _blank(rows: int, row_bytes: int, kind: int) -> NDArray[np.uint8]:
    lines = np.zeros((rows, PAD + -(-row_bytes // WORD) * WORD), np.uint8)
    lines[:, PAD - 1] = kind
    return lines


class Lines(NamedTuple):
    """Lines of the sheet that follow each other.

    Attributes:
        pieces: their deflate data, which starts and ends on a byte and refers only to itself.
        adler: of their bytes, filter types included.
        rows: how many.
    """

    pieces: Sequence[bytes]
    adler: Adler
    rows: int


_NO_WORDS = np.zeros((0, 0), np.uint16)


@dataclass
class Coded:
    """Rows of the tile, compressed.

    Attributes:
        number: of the first one; see :class:`Grid`.
        count: how many rows.
        pieces: each row's deflate data, or that of all rows with their filter types.
        adler: of each row, or of all rows with their filter types.
        part_pieces: the deflate data of that part of each row which the sheet's last column
            shows.
        part_adler: of these parts.
        words: for each row, how many of its first words are not zero: none, one and so on.
    """

    number: int
    count: int
    pieces: list[bytes]
    adler: Adler
    part_pieces: list[bytes] = field(default_factory=list)
    part_adler: Adler = field(default_factory=Adler)
    words: NDArray[np.uint16] = field(default_factory=lambda: _NO_WORDS)


class WholeLines:
    """Makes lines where a row of the tile is one: deflate as it comes."""

    def __init__(self, grid: Grid) -> None:
        self._line = slice(PAD - 1, PAD + grid.row_bytes)

    def encode(self, rows: Slice) -> Coded:
        """Compress rows. What takes long lets go of the interpreter: call it in threads."""
        data = np.ascontiguousarray(rows.lines[:, self._line])
        return Coded(rows.number, len(data), [Deflater()(data)], Adler.of(data.data))

    def lines(self, coded: Iterable[Coded]) -> Iterator[Lines]:
        """Put rows together that come as :func:`filtered` yielded them."""
        for rows in coded:
            yield Lines(rows.pieces, rows.adler, rows.count)


class SideBySide:
    """Makes lines of several rows, in the same two steps.

    Where a horizontal period fits deflate's window, what follows the first one is matches.
    Otherwise the compressed rows follow over again.
    """

    def __init__(self, grid: Grid) -> None:
        self._grid = grid
        columns, part = divmod(grid.line_bytes, grid.row_bytes)
        self._columns, self._part = columns, part
        self._row = slice(PAD, PAD + grid.row_bytes)
        self._cut = slice(PAD, PAD + part)
        period = grid.row_bytes * len(grid.shifts)
        rest = grid.line_bytes - period
        self._matches = (
            # Matches are three bytes or longer, and so are the distances that Matches takes.
            Matches(period, rest) if min(period, rest) >= MATCH_MIN and period <= WINDOW else None
        )
        # A row shown only once in a line is compressed with the line's filter type.
        self._typed = self._matches is not None and len(grid.shifts) == 1
        self._packed = slice(PAD - self._typed, PAD + grid.row_bytes)
        if self._matches is not None:
            # Byte p of a line is byte p mod period of a period. Match k stands for 258 bytes
            # from `start` on; with the byte before, they are zero if the words are that cover
            # start - 1 to start + 257: counted by whole periods and within columns.
            self._from_period, at = np.divmod(self._matches.starts - 1, period)
            self._from_column, at = np.divmod(at, grid.row_bytes)
            self._from_word = at // WORD
            self._to_period, at = np.divmod(self._matches.starts + 258, period)
            self._to_column, at = np.divmod(at, grid.row_bytes)
            self._to_word = -(-at // WORD)

    def encode(self, rows: Slice) -> Coded:
        """Compress rows, each by itself."""
        lines, deflate = rows.lines, Deflater()
        words = _NO_WORDS
        if self._matches is not None:
            nonzero = lines.view(np.uint64)[:, PAD // WORD :] != 0
            words = np.zeros((len(lines), nonzero.shape[1] + 1), np.uint16)
            np.cumsum(nonzero, axis=1, out=words[:, 1:], dtype=np.uint16)
        cut = self._matches is None and self._part > 0
        return Coded(
            rows.number,
            len(lines),
            [deflate(line[self._packed]) for line in lines],
            Adler.of_each([line[self._row].data for line in lines], self._grid.row_bytes),
            [deflate(line[self._cut]) for line in lines] if cut else [],
            Adler.of_each([line[self._cut].data for line in lines], self._part),
            words,
        )

    def lines(self, coded: Iterable[Coded]) -> Iterator[Lines]:
        """Put rows together that come as :func:`filtered` yielded them."""
        grid = self._grid
        if len(grid.shifts) == 1:
            for rows in coded:
                every = np.arange(len(rows.pieces))[:, None]
                yield self._lines(rows, every, rows.number >= grid.rows)
            return
        held = _Held(grid.rows + len(grid.bare))
        start = 0
        for rows in coded:
            held.put(rows)
            while start < grid.lines:
                stop = min(start + BATCH, grid.last if start < grid.last else grid.lines)
                numbers = grid.numbers(start, stop)
                if not held.ready[numbers].all():
                    break
                yield self._lines(held.coded, numbers, start == 0)
                start = stop

    def _lines(self, held: Coded, numbers: NDArray[np.intp], first_is_bare: bool) -> Lines:
        """Put lines together.

        Args:
            held: rows.
            numbers: which of them the lines show, of shape (lines, columns of a period).
            first_is_bare: whether the first line has no filter.
        """
        count, across = numbers.shape
        kinds = np.full(count, FILTER_UP)
        if first_is_bare:
            kinds[0] = FILTER_NONE
        # A run of one byte: both its sums are the byte.
        adler = Adler(kinds, kinds, 1)
        period = Adler()
        for column in range(across):
            period += held.adler[numbers[:, column]]
        whole, rest = divmod(self._columns, across)
        adler += period * whole
        for column in range(rest):
            adler += held.adler[numbers[:, column]]
        if self._part:
            adler += held.part_adler[numbers[:, rest]]

        types = [b"" if self._typed else stored(bytes([kind])) for kind in kinds.tolist()]
        pieces: list[bytes] = []
        nonzero = self._nonzero(held.words, numbers) if self._matches else [None] * count
        for kind, row, matches in zip(types, numbers.tolist(), nonzero, strict=True):
            shown = [held.pieces[number] for number in row]
            if self._matches is not None:
                pieces += [kind, *shown, self._matches.row(matches)]
                continue
            pieces += [kind, *shown * whole, *shown[:rest]]
            if self._part:
                pieces.append(held.part_pieces[row[rest]])
        return Lines(pieces, adler.joined(), count)

    def _nonzero(self, words: NDArray[np.uint16], numbers: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Return which matches stand for anything but zeros, of shape (lines, matches)."""
        whole = words[numbers, -1].astype(np.int64)
        before = np.cumsum(whole, axis=1)
        period = before[:, -1:]
        before = before - whole

        def up_to(column: NDArray[np.int64], word: NDArray[np.int64]) -> NDArray[np.int64]:
            found: NDArray[np.int64] = before[:, column] + words[numbers[:, column], word]
            return found

        within = up_to(self._to_column, self._to_word) - up_to(self._from_column, self._from_word)
        found: NDArray[np.bool_] = within + (self._to_period - self._from_period) * period != 0
        return found


class _Held:
    """All rows of a tile, as they come.

    Args:
        count: how many there will be.
    """

    def __init__(self, count: int) -> None:
        self.ready = np.zeros(count, np.bool_)
        self._sums = np.zeros((4, count), np.int64)
        self.coded = Coded(0, count, [b""] * count, Adler(), [b""] * count)

    def put(self, rows: Coded) -> None:
        """Take rows in."""
        held, sums, count = self.coded, self._sums, len(self.ready)
        if not self.ready.any():
            held.adler = Adler(sums[0], sums[1], rows.adler.length)
            held.part_adler = Adler(sums[2], sums[3], rows.part_adler.length)
            held.words = np.zeros((count, rows.words.shape[1]), np.uint16)
        at = slice(rows.number, rows.number + len(rows.pieces))
        sums[0, at], sums[1, at] = rows.adler.total, rows.adler.weighted
        sums[2, at], sums[3, at] = rows.part_adler.total, rows.part_adler.weighted
        held.pieces[at] = rows.pieces
        if rows.part_pieces:
            held.part_pieces[at] = rows.part_pieces
        if rows.words.size:
            held.words[at] = rows.words
        self.ready[at] = True
