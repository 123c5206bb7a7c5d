"""Colour at the board: main colours, colourways tried and kept, and what a page recolours by.

Each function is work of the board's helper; see :mod:`vecrepeat.board.helper_worker`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import combinations
from typing import Any

from vecrepeat.board.cloth import (
    at_moment,
    describe_motif,
    describe_pictures,
    layers_of,
    repeat_of,
)
from vecrepeat.board.state import State, first_state, read_colourways
from vecrepeat.colour.colourway import (
    CONTRAST,
    Colourway,
    faults,
    full_map,
    neighbours,
    recolour_by,
)
from vecrepeat.colour.colourways import colourway_of_row, gathered, row_of
from vecrepeat.colour.palette import Entry, Palette
from vecrepeat.colour.paletting import palette_of, recipe_names
from vecrepeat.colour.recolour import recoloured
from vecrepeat.colour.rendered import Rendered
from vecrepeat.colour.visible import Visible
from vecrepeat.core.colours import differences
from vecrepeat.core.errors import InputError
from vecrepeat.recipe.model import Placed
from vecrepeat.repeat.model import Placement, Repeat
from vecrepeat.scene.kinds import IMAGE
from vecrepeat.sources.source import Source

_CHANNELS = ("#ff0000", "#00ff00", "#0000ff")
"""What three colours are drawn in, so that one picture tells how much of each is in a pixel."""

_NOTHING = "#000000"

_RAMPS = 4
"""So many ramps are shown under a colour."""

SUGGESTED = 7
"""So many colourways are suggested."""


@dataclass(frozen=True, eq=False)
class Measured:
    """The cloth of a moment, as drawn, and its colours."""

    repeat: Repeat
    seen: Visible | Rendered
    palette: Palette

    @cached_property
    def art(self) -> frozenset[str]:
        """What the art and its ground are painted with."""
        ground = () if self.repeat.ground is None else (self.repeat.ground.colour,)
        motifs = {placement.motif for placement in self.repeat.placements}
        return frozenset([*ground, *(colour for motif in motifs for colour in motif.colours)])

    @cached_property
    def touching(self) -> dict[tuple[str, str], float]:
        """Along how many mm colours touch, by pairs."""
        return neighbours(self.seen, self.palette)


def measured(source: Source, state: State) -> Measured:
    """Return a moment's colours; the same as the command line's of the recipe that says it."""
    motifs = tuple((name, *sorted(row.items())) for name, row in state.motifs.items())
    return _measured(source, state.placed, tuple(state.cloth.values()), motifs)


@lru_cache(maxsize=2)
def _measured(
    source: Source,
    placed: tuple[Placed, ...],
    cloth: tuple[str, ...],
    motifs: tuple[tuple[Any, ...], ...],
) -> Measured:
    layout, tile, ground = cloth
    rows = {name: dict(row) for name, *row in motifs}
    state = replace(first_state(placed, layout, tile, ground), motifs=rows)
    repeat = repeat_of(source, state)
    return Measured(repeat, *palette_of(repeat, names=recipe_names(source)))


def in_row(source: Source, state: State, row: Any) -> Repeat:
    """Return the cloth of a moment in a colourway, given as a recipe's table; None is as drawn.

    Raises:
        InputError: it is no colourway, or names a colour that the palette has not.
    """
    if row is None:
        return repeat_of(source, state)
    own = measured(source, state)
    return _recoloured(own.repeat, own, _way(source, own, row))


def _way(source: Source, own: Measured, row: Any) -> Colourway:
    return colourway_of_row(source, read_colourways([row])[0], own.palette)


def _recoloured(repeat: Repeat, own: Measured, way: Colourway) -> Repeat:
    return recolour_by(repeat, full_map(repeat, own.palette, way), way)


def _all_motifs(source: Source, now: Source) -> Repeat:
    """Return each motif once, placed or not: the tray shows them all; and a blender's layers.

    The page makes motifs larger by itself. Those with thicker lines are as they are ``now``.
    """
    own = {name: now.pool.motifs[name] for name in _lined(source, now)}
    placements = tuple(Placement(motif) for motif in {**source.pool.motifs, **own}.values())
    under = layers_of(now.repeat)
    return replace(source.page, placements=(*under, *placements), ground=now.page.ground)


def _lined(*sources: Source) -> list[str]:
    """Return the motifs whose lines any of the sources' recipes thickens."""
    rows = [row for one in sources if one.recipe for row in one.recipe.motifs.items()]
    return sorted({name for name, row in rows if "least-line" in row})


def main_colours(source: Source, state: State, _: Any) -> dict[str, Any]:
    """Return the main colours of the cloth as drawn, the most seen first."""
    own = measured(source, state)
    return {
        "colours": [
            {
                "key": _key(source, own, entry),
                "name": entry.name,
                "colour": entry.colour,
                "members": list(entry.members),
                "ramps": [list(ramp) for ramp in entry.ramps[:_RAMPS]],
                "share": entry.share,
                "ground": entry.is_ground,
            }
            for entry in own.palette.entries
        ],
        "gathered": own.palette.gathered,
        "note": own.palette.note,
        "pictured": any(
            feature.kind == IMAGE
            for motif in source.pool.motifs.values()
            for feature in motif.features
        ),
    }


def _key(source: Source, own: Measured, entry: Entry) -> str:
    """Return what a colourway calls a main colour, so that it still does when motifs move.

    That is a name that the recipe gives, or a colour of the art: one that was measured on a
    rendering may be another the next time.
    """
    if source.recipe and entry.name in source.recipe.palette:
        return entry.name
    return next((colour for colour in entry.members if colour in own.art), entry.colour)


def dress(source: Source, state: State, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return what is drawn otherwise in a colourway, and where each colour of the art goes.

    ``shapes`` are those of the motifs whose lines are thickened.

    Raises:
        InputError: see :func:`in_row`.
    """
    now = at_moment(source, state)
    repeat, targets = _all_motifs(source, now), {}
    if asked.get("row") is not None:
        own = measured(source, state)
        way = _way(source, own, asked.get("row"))
        targets = full_map(repeat, own.palette, way)
        repeat = recolour_by(repeat, targets, way)
    shapes = {name: describe_motif(now, name) for name in _lined(source, now)}
    return {**_drawn(repeat), "targets": targets, "shapes": shapes}


def code(source: Source, state: State, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return the motifs in red, green and blue for three main colours, and all else in black.

    So each channel of the picture is how much of one colour a pixel has, edges, veils and ramps
    included: what sRGB compositing makes of it is a sum over the colours that are laid. The
    ground counts as one more colour after the main ones. The ``group`` before the first is all
    black.

    Raises:
        InputError: there is no such group.
    """
    own, group = measured(source, state), asked.get("group")
    entries = own.palette.entries
    if type(group) is not int or not -1 <= group <= len(entries) // 3:
        raise InputError("there are no such colours")
    first = 3 * group

    def coded(number: int) -> str:
        return _CHANNELS[number - first] if 0 <= number - first < 3 and first >= 0 else _NOTHING

    by_colour = {c: coded(k) for k, entry in enumerate(entries) for c in entry.members}
    repeat = _all_motifs(source, at_moment(source, state))
    for placement in repeat.placements:
        for colour in placement.motif.colours:
            if colour not in by_colour:
                by_colour[colour] = _coded_as(own.palette.entry(colour), entries, coded)
    ground = coded(len(entries))
    return _drawn(recoloured(repeat, by_colour, None if repeat.ground is None else ground))


def _coded_as(entry: Entry | None, entries: tuple[Entry, ...], coded: Any) -> str:
    return _NOTHING if entry is None else str(coded(entries.index(entry)))


def _drawn(repeat: Repeat) -> dict[str, Any]:
    ground = repeat.ground
    return {
        "ground": None if ground is None else ground.colour,
        "groundOpacity": 1.0 if ground is None else ground.opacity,
        "pictures": describe_pictures(repeat),
    }


def judge(source: Source, state: State, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return what touches and can't be told apart in a colourway, or as drawn, a sentence each.

    Raises:
        InputError: see :func:`in_row`.
    """
    own = measured(source, state)
    if asked.get("row") is None:
        return {"lines": _alike(own)}
    way = _way(source, own, asked.get("row"))
    targets = full_map(own.repeat, own.palette, way)
    found = faults(own.palette, targets, own.touching, ground=way.ground)
    return {"lines": [fault.line() for fault in found]}


def _alike(own: Measured) -> list[str]:
    entries = own.palette.entries
    colours = [entry.colour for entry in entries]
    apart = differences(colours, colours)
    found = []
    for one, other in combinations(range(len(entries)), 2):
        pair = (colours[one], colours[other])
        contact = own.touching.get(pair, own.touching.get(pair[::-1], 0.0))
        if contact > 0 and apart[one, other] < CONTRAST:
            found.append(
                f"{entries[one].name} ({pair[0]}) and {entries[other].name} ({pair[1]}) touch "
                f"along {contact:.0f} mm and are hard to tell apart: ΔE {apart[one, other]:.1f}"
            )
    return found


def suggest(source: Source, state: State, _: Any) -> dict[str, Any]:
    """Return colourways by rule, as a recipe has them."""
    own = measured(source, state)
    rows = [row_of(way) for way in gathered(own.seen, own.palette, suggest=SUGGESTED)]
    if own.palette.gathered:
        keys = {entry.colour: _key(source, own, entry) for entry in own.palette.entries}
        rows = [{**row, "colours": _renamed(row["colours"], keys)} for row in rows]
    return {"rows": rows}


def _renamed(colours: Mapping[str, str], keys: Mapping[str, str]) -> dict[str, str]:
    return {keys.get(colour, colour): target for colour, target in colours.items()}
