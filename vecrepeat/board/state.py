"""What lies on the cloth at one moment, and the steps from one moment to the next.

The page makes steps and the server keeps them: the same steps applied in the same order give
the same states on both sides, in every tab and after a crash.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from vecrepeat.core.allowance import PLACEMENTS
from vecrepeat.core.errors import InputError
from vecrepeat.core.names import slug
from vecrepeat.recipe.edit import placement_row
from vecrepeat.recipe.keys import ARRANGED, TABLES
from vecrepeat.recipe.model import Placed

CLOTH = ("layout", "tile", "ground")
"""The recipe's keys at the top that a step may set."""

MOTIF = ("rank", "width", "least-line")
"""The keys of a recipe's ``[[motif]]`` tables that a step may set."""

Rows = Mapping[str, Mapping[str, Any]]
"""What a recipe says of each of some, by name."""
MOST_COLOURWAYS = 200
"""More than a line-up can show."""

Colourways = tuple[Mapping[str, Any], ...]
"""The recipe's ``[[colourway]]`` tables."""

_KEYS = {
    **{"cursor": int, "rows": dict, "order": list, "what": str, "by": str, "colourways": list},
    **{"motifs": dict, "settings": dict},
    **dict.fromkeys(CLOTH, str),
}
"""What a step may have."""


@dataclass(frozen=True)
class State:
    """One moment.

    Attributes:
        order: keys of the placements, in stacking order.
        rows: the placements by key; keys never come again for another placement.
        layout: the layout's name.
        tile: the tile's size as a recipe has it; "" as the page's.
        ground: a colour, or ``none``; "" as the page's.
        colourways: the recipe's.
        motifs: :data:`MOTIF` by the motif's name, in mm, where they are said.
        settings: of the arranging commands, by the recipe's table.
    """

    order: tuple[str, ...]
    rows: Mapping[str, Placed]
    layout: str
    tile: str = ""
    ground: str = ""
    colourways: Colourways = ()
    motifs: Rows = field(default_factory=dict)
    settings: Rows = field(default_factory=dict)

    @property
    def placed(self) -> tuple[Placed, ...]:
        """The placements in stacking order."""
        return tuple(self.rows[key] for key in self.order)

    def same_as(self, other: State) -> bool:
        """Whether a recipe would say the same of both."""
        return self._said == other._said

    @property
    def _said(self) -> tuple[Any, ...]:
        return self.cloth, self.motifs, self.settings, self.colourways, self.placed

    @property
    def cloth(self) -> dict[str, str]:
        """What it says of the cloth, by the recipe's keys."""
        return {key: getattr(self, key) for key in CLOTH}

    def as_dict(self) -> dict[str, Any]:
        """Return the moment as plain data."""
        rows = {key: placement_row(self.rows[key]) for key in self.order}
        own = {"order": list(self.order), "rows": rows, **self.cloth}
        own |= {"motifs": dict(self.motifs), "settings": dict(self.settings)}
        return {**own, "colourways": list(self.colourways)}


def first_state(
    placed: Sequence[Placed],
    layout: str,
    tile: str = "",
    ground: str = "",
    colourways: Colourways = (),
) -> State:
    """Return the moment that a recipe describes."""
    rows = {str(k): one for k, one in enumerate(placed)}
    return State(tuple(rows), rows, layout, tile, ground, colourways)


def read_colourways(rows: Any) -> Colourways:
    """Return colourways from plain data: the keys and limits of a recipe's.

    Raises:
        InputError: they are none.
    """
    table = TABLES["colourway"]
    if not isinstance(rows, list) or len(rows) > MOST_COLOURWAYS:
        raise InputError(f"a design has at most {MOST_COLOURWAYS} colourways")
    if not all(
        isinstance(row, dict) and "name" in row and row.keys() <= table.keys() for row in rows
    ):
        raise InputError("that is no colourway")
    try:
        return tuple({key: table[key].read(value) for key, value in row.items()} for row in rows)
    except ValueError as error:
        raise InputError(f"a colourway can't be so: {error}") from None


def plain_settings(keys: Mapping[str, Any]) -> dict[str, Any]:
    """Return values that a recipe's keys were read as in the form that it is written with."""
    return {key: _plain_setting(value) for key, value in keys.items()}


def _plain_setting(value: Any) -> Any:
    if isinstance(value, Fraction):
        return float(value)
    return list(value) if isinstance(value, tuple) else value


def read_settings(way: Any, keys: Any) -> dict[str, Any]:
    """Return settings of an arranging command as its recipe's table reads them.

    Raises:
        InputError: there is no such command, key or value.
    """
    if way not in ARRANGED or not isinstance(keys, dict):
        raise InputError("that is no way to arrange")
    try:
        return {key: TABLES[way][key].read(value) for key, value in keys.items()}
    except InputError:
        raise
    except (KeyError, ValueError) as error:
        raise InputError(f"{way} can't be asked for that: {error}") from None


def read_motifs(rows: Any, known: Collection[str]) -> dict[str, dict[str, Any]]:
    """Return what is said of motifs from plain data: :data:`MOTIF`, where they are.

    Raises:
        InputError: there is no such motif, key or value.
    """
    found: dict[str, dict[str, Any]] = {}
    for name, row in rows.items():
        if name not in known:
            raise InputError(f"there is no motif “{str(name)[:60]}”")
        if not isinstance(row, dict) or not row.keys() <= {*MOTIF}:
            raise InputError("a motif has a rank, a width and a least line")
        try:
            read = {key: TABLES["motif"][key].read(value) for key, value in row.items()}
        except InputError:
            raise
        except ValueError as error:
            raise InputError(f"a motif can't be so: {error}") from None
        found[name] = plain_settings(read)
    return found


def read_placed(row: Any, known: Collection[str]) -> Placed:
    """Return a placement from plain data: the keys and limits of a recipe's placements.

    Raises:
        InputError: it is none, or its motif is not known.
    """
    table = TABLES["placement"]
    if not isinstance(row, dict) or not row.keys() <= table.keys():
        raise InputError("that is no placement")
    try:
        found = {key: table[key].read(value) for key, value in row.items() if value is not None}
    except ValueError as error:
        raise InputError(f"a placement can't be so: {error}") from None
    if found.get("motif") not in known:
        raise InputError(f"there is no motif “{str(row.get('motif'))[:60]}”")
    return Placed(**found)


def read_state(data: Any, known: Collection[str]) -> State:
    """Return a moment from plain data.

    Raises:
        InputError: it is none.
    """
    try:
        rows = {str(key): read_placed(row, known) for key, row in data["rows"].items()}
        order = tuple(map(str, data["order"]))
        cloth = {"layout": str(data["layout"])}
        # Before they could be changed here, none was written down.
        cloth |= {key: str(data.get(key, "")) for key in CLOTH[1:]}
        motifs = read_motifs(data.get("motifs", {}), known)
        settings = _all_settings(data.get("settings", {}))
        ways = read_colourways(data.get("colourways", []))
    except (TypeError, KeyError, AttributeError):
        raise InputError("that is no state of a cloth") from None
    _check(order, rows)
    _check_cloth(cloth)
    return State(order, rows, **cloth, colourways=ways, motifs=motifs, settings=settings)


def _all_settings(tables: Any) -> dict[str, dict[str, Any]]:
    return {way: plain_settings(read_settings(way, keys)) for way, keys in tables.items()}


def _check(order: Sequence[str], rows: Mapping[str, Placed]) -> None:
    if len(set(order)) != len(order) or not rows.keys() >= set(order):
        raise InputError("the stacking order names what is not there")
    if len(order) > PLACEMENTS:
        raise InputError(f"a tile holds at most {PLACEMENTS:,} placements")


def _check_cloth(cloth: Mapping[str, str]) -> None:
    try:
        for key, value in cloth.items():
            if value or key == "layout":
                TABLES[""][key].read(value)
    except InputError:
        raise
    except ValueError as error:
        raise InputError(f"the cloth can't be so: {error}") from None


def _check_names(ways: Colourways) -> None:
    names = [slug(way["name"]) for way in ways]
    if "" in names or len(set(names)) < len(names):
        raise InputError("each colourway has a name of its own, which files can have")


@dataclass(frozen=True)
class History:
    """Every moment since the beginning that undoing can still reach.

    Attributes:
        states: the moments; undone ones stay until another step is made.
        cursor: which of them is now.
    """

    states: tuple[State, ...]
    cursor: int = 0

    @property
    def now(self) -> State:
        """The present moment."""
        return self.states[self.cursor]

    def after(self, step: Any, known: Collection[str]) -> History:
        """Return the history with one more step.

        A step is ``{"cursor": k}``, which undoes or redoes to a moment, or what changed:
        ``{"rows": {key: row}, "order": [key], "colourways": [row], "motifs": {name: row},
        "settings": {way: keys}, "what": words}`` and :data:`CLOTH`, each where it did.

        Raises:
            InputError: the step can't be made.
        """
        if not isinstance(step, dict) or any(
            type(value) is not _KEYS.get(key) for key, value in step.items()
        ):
            raise InputError("that is no step")
        if "cursor" in step:
            cursor = step["cursor"]
            if not 0 <= cursor < len(self.states):
                raise InputError("there is no such moment to go back to")
            return History(self.states, cursor)
        now, changed = self.now, step.get("rows", {})
        order = tuple(step.get("order", now.order))
        if not all(type(key) is str for key in order):
            raise InputError("that is no step")
        rows = {**now.rows, **{k: read_placed(r, known) for k, r in changed.items()}}
        _check(order, rows)
        cloth = {key: step.get(key, getattr(now, key)) for key in CLOTH}
        ways = now.colourways
        if "colourways" in step:
            ways = read_colourways(step["colourways"])
            _check_names(ways)
        motifs = {**now.motifs, **read_motifs(step.get("motifs", {}), known)}
        state = State(
            order,
            {key: rows[key] for key in order},
            **cloth,
            colourways=ways,
            motifs={name: row for name, row in motifs.items() if row},
            settings={**now.settings, **_all_settings(step.get("settings", {}))},
        )
        if not changed.keys() <= state.rows.keys():
            raise InputError("the step changes what is not on the cloth")
        _check_cloth(cloth)
        end = self.cursor + 1
        return History((*self.states[:end], state), end)
