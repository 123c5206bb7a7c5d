"""The keys of a recipe, and what each may say.

:data:`TABLES` is the one list of them: the reader, its errors, the board and the documentation all
go by it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from vecrepeat.blenders.settings import KINDS, MARKS, ORDERS, WAYS
from vecrepeat.core.allowance import PLACEMENTS
from vecrepeat.recipe.values import (
    Between,
    OneOf,
    Whole,
    read_colour,
    read_colours,
    read_dpi,
    read_file_words,
    read_flag,
    read_gap,
    read_ground,
    read_layout,
    read_length,
    read_marks,
    read_paints,
    read_point,
    read_range,
    read_size,
    read_widths,
    read_word_list,
    read_words,
)
from vecrepeat.repeat.ranks import DENSITIES, DIRECTIONS, RANKS

Read = Callable[[Any], Any]


class Key(NamedTuple):
    """One key of a recipe.

    Attributes:
        read: turns TOML's value into ours; raises :class:`ValueError` saying what is expected.
        about: what it means, a sentence.
        required: whether it must be there.
    """

    read: Read
    about: str
    required: bool = False


_RANGE = "smallest and largest scale, such as [0.8, 1.2]"

_SEED = Key(Whole(0, 2**31), "The same seed gives the same arrangement; by default 1.")
_CLEARANCE = Key(read_gap, "Least distance between painted outlines; 3 mm by default.")
_DIRECTION = Key(
    OneOf(tuple(DIRECTIONS)),
    "How motifs may be turned: one-way, two-way, four-way or free (the default).",
)
_FLIP = Key(read_flag, "Let motifs be mirrored.")

_ARRANGED = {
    "seed": _SEED,
    "clearance": _CLEARANCE,
    "direction": _DIRECTION,
    "sway": Key(Between(0, 180), "How far motifs may lean from their direction, in degrees."),
    "flip": _FLIP,
    "apart": Key(read_gap, "Least distance between the middles of the same motif."),
    "even": Key(read_flag, "Even the gaps out; true by default."),
}

_SPACED = {
    "seed": Key(Whole(0, 2**31), "Deal the motifs out another way."),
    "clearance": _CLEARANCE,
    "direction": Key(
        OneOf(tuple(DIRECTIONS)),
        "How motifs are turned: one-way (the default), two-way, four-way or free.",
    ),
    "flip": Key(read_flag, "Mirror every other motif."),
    "scale": Key(Between(0.01, 100), "The largest scale; smaller where motifs would not fit."),
}

TABLES: dict[str, dict[str, Key]] = {
    "": {
        "name": Key(
            read_file_words, "Short name, for files; by default the recipe's own file name."
        ),
        "art": Key(
            read_word_list,
            "Drawings whose page is the tile: SVG files, beside the recipe; or a finished tile of "
            "pixels.",
        ),
        "loose": Key(read_word_list, "Files, or folders of files, that hold one motif each."),
        "tile": Key(read_size, "The tile's size such as “10x10in”; by default the first page's."),
        "layout": Key(read_layout, "How tiles lie, such as “half-drop”; by default a block."),
        "cut-to-region": Key(read_flag, "Cut the art to the layout's region, like a kaleidoscope."),
        "ground": Key(
            read_ground, "The colour behind all motifs, or “none”; by default the page's."
        ),
        "selector": Key(read_words, "CSS selector of the elements to take as motifs."),
        "allow-dir": Key(
            read_word_list, "Folders besides the art's own to take linked pictures from."
        ),
        "live-text": Key(read_flag, "Keep text live instead of turning it into paths."),
    },
    "motif": {
        "name": Key(read_words, "The motif's name, as `vecrepeat motifs` lists it.", required=True),
        "rank": Key(OneOf(tuple(RANKS)), "hero, secondary or filler."),
        "width": Key(read_length, "Its width on the tile; by default as drawn."),
        "least-line": Key(
            read_length, "Its strokes are no thinner than this on the tile; by default as drawn."
        ),
        "backdrop": Key(read_flag, "Keep the rectangle that a loose drawing stands on."),
    },
    "placement": {
        "motif": Key(read_words, "Which motif.", required=True),
        "at": Key(
            read_point, "Its middle in mm from the tile's upper left corner; as drawn if absent."
        ),
        "turn": Key(Between(-36_000, 36_000), "Degrees clockwise."),
        "scale": Key(Between(0.001, 1000), "1 is the motif's own size."),
        "flip": Key(read_flag, "Mirrored left to right, before it is turned."),
        "pinned": Key(read_flag, "It stays where it is when the rest is tossed anew."),
    },
    "toss": {
        **_ARRANGED,
        "density": Key(
            OneOf(DENSITIES),
            "airy, medium or packed: counts and clearance that are not given. Packed motifs also "
            "grow or shrink by up to 15 % to fit.",
        ),
        "along": Key(
            read_words,
            "Turn motifs along a motif's lines, an SVG file's beside the recipe, or a “wave”.",
        ),
        "heroes": Key(
            Whole(0, PLACEMENTS), "How many heroes on a tile; by default each motif once."
        ),
        "secondaries": Key(Whole(0, PLACEMENTS), "How many secondaries on a tile."),
        "fillers": Key(Whole(0, PLACEMENTS), "How many fillers on a tile."),
        "hero-coverage": Key(Between(0, 1), "Share of the cloth that heroes are to paint."),
        "secondary-coverage": Key(Between(0, 1), "Share that secondaries are to paint."),
        "filler-coverage": Key(Between(0, 1), "Share that fillers are to paint."),
        "hero-scale": Key(read_range, f"Heroes: {_RANGE}."),
        "secondary-scale": Key(read_range, f"Secondaries: {_RANGE}."),
        "filler-scale": Key(read_range, f"Fillers: {_RANGE}."),
    },
    "fill": {
        **_ARRANGED,
        "count": Key(Whole(0, PLACEMENTS), "The most fillers to place; by default all that fit."),
        "smallest": Key(read_gap, "Diameter of the smallest void to fill."),
        "scale": Key(read_range, f"Fillers: {_RANGE}."),
    },
    "set": {
        **_SPACED,
        "columns": Key(Whole(1, 200), "Columns on a tile; by default each motif has a place."),
        "rows": Key(Whole(1, 200), "Rows on a tile; likewise."),
        "stagger": Key(
            OneOf(("none", "drop", "brick")),
            "Move every other column (drop) or row (brick) by half a step.",
        ),
        "alike": Key(read_flag, "Bring motifs to much the same size; true by default."),
    },
    "stripe": {
        **_SPACED,
        "way": Key(OneOf(("down", "across")), "How stripes run; down by default."),
        "order": Key(read_word_list, 'Ranks of the stripes in turn, such as ["hero", "filler"].'),
        "times": Key(Whole(1, 200), "How often they come on a tile; by default as fits."),
        "stagger": Key(read_flag, "Begin every other stripe of a rank half a step on."),
    },
    "trail": {
        **_SPACED,
        "along": Key(
            read_words, "A motif whose lines are the path, or an SVG file beside the recipe."
        ),
        "side": Key(
            OneOf(("both", "left", "right", "on")), "Where motifs sit; both sides by default."
        ),
        "off": Key(read_gap, "How far off the path they sit; by default they touch it."),
        "lean": Key(Between(-90, 90), "Degrees by which they lean forward; 35 by default."),
        "follow": Key(read_flag, "Turn them with the path; true by default."),
        "spacing": Key(read_gap, "Least distance along the path; by default the clearance."),
    },
    "ditsy": {
        **_ARRANGED,
        "clearance": Key(read_gap, "Least distance between painted outlines; 1.5 mm by default."),
        "flip": Key(read_flag, "Let motifs be mirrored; true by default."),
        "size": Key(read_length, "The largest motif's longer side; by default a 12th of the tile."),
        "count": Key(Whole(1, PLACEMENTS), "Motifs on a tile; by default as spacing says."),
        "spacing": Key(Between(0.5, 20), "Mean distance between motifs, in sizes; 0.8 by default."),
    },
    "blender": {
        "kind": Key(OneOf(tuple(KINDS)), f"What it is: {', '.join(KINDS)}.", required=True),
        "colours": Key(
            read_paints,
            'Its colours in turn, such as ["#1b2a49", "#c0392b"]; “none” for a stripe of ground.',
        ),
        "size": Key(read_length, "How large a dot, square or mark is, or how thick a line."),
        "spacing": Key(read_length, "From the middle of one mark, line or opening to the next."),
        "length": Key(read_length, "Of a stroke, about."),
        "widths": Key(read_widths, 'Of stripes in turn, such as ["6mm", "2mm"].'),
        "order": Key(OneOf(ORDERS), "How dots stand: grid, half-drop or scattered."),
        "way": Key(OneOf(WAYS), "How stripes or strokes run: down, across or diagonal."),
        "marks": Key(read_marks, f"What is strewn, in turn: {', '.join(MARKS)}."),
        "uneven": Key(Between(0, 1), "How much a hand's unevenness shows; 0.5 by default."),
        "seed": Key(Whole(0, 2**31), "The same seed draws the same; 1 by default."),
    },
    "palette": {},
    "colourway": {
        "name": Key(read_words, "The colourway's name, for files.", required=True),
        "ground": Key(read_ground, "Its ground, or “none”; by default as the art's is mapped."),
        "colours": Key(read_colours, "From palette names or colours of the art to colours."),
    },
    "print": {
        "name": Key(read_words, "What it is for, for files."),
        "width": Key(read_length, "Print width of one tile, such as “12in”."),
        "height": Key(read_length, "Print height of one tile."),
        "dpi": Key(read_dpi, "Pixels per inch."),
        "sheet": Key(read_size, "Fill a sheet such as “54x36in”; by default one tile."),
        "block": Key(read_flag, "Write the straight block instead of one tile."),
        "cloth": Key(
            read_words, "Fill a cut of cloth, such as “fat-quarter” or “yard”, or a length."
        ),
        "bolt": Key(read_words, "The bolt the cut is of, by name or width; 140 cm by default."),
        "format": Key(read_words, "png, tif, pdf …: the ending of the file's name."),
        "profile": Key(
            read_words, "An ICC profile, beside the recipe, whose colours it is written in."
        ),
        "intent": Key(read_words, "Its rendering intent; relative by default."),
    },
}
"""Every table's keys. The table "palette" takes any names, each with a colour."""

FREE: Mapping[str, Read] = {"palette": read_colour}
"""What the tables that take any names have for each."""

REPEATED = frozenset(("motif", "placement", "colourway", "print"))
"""Tables that are written ``[[name]]``, once for each."""

ARRANGED = ("toss", "fill", "set", "stripe", "trail", "ditsy")
"""Tables of the arranging commands, which are called as they are."""
