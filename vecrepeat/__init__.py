"""vecrepeat: seamless surface-pattern repeats from SVG drawings.

>>> import vecrepeat
>>> art = vecrepeat.read_art("night-garden.svg")           # doctest: +SKIP
>>> vecrepeat.export(art, "tile.png")                      # doctest: +SKIP
>>> repeat = art.repeat("half-drop")                       # doctest: +SKIP
>>> vecrepeat.compose(repeat, "repeat.svg")                # doctest: +SKIP
>>> vecrepeat.export(repeat, "yard.png", dpi=150, sheet="54x36in", width="12in")  # doctest: +SKIP
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from vecrepeat.art.read import Art as Art
    from vecrepeat.art.read import read_art as read_art
    from vecrepeat.composing import Composed as Composed
    from vecrepeat.composing import compose as compose
    from vecrepeat.errors import InputError as InputError
    from vecrepeat.exporting import Exported as Exported
    from vecrepeat.exporting import Exporter as Exporter
    from vecrepeat.exporting import export as export
    from vecrepeat.layout import Lattice as Lattice
    from vecrepeat.layout import Layout as Layout
    from vecrepeat.repeat import Ground as Ground
    from vecrepeat.repeat import Motif as Motif
    from vecrepeat.repeat import Placement as Placement
    from vecrepeat.repeat import Repeat as Repeat
    from vecrepeat.units import Size as Size
    from vecrepeat.wrap import Copy as Copy
    from vecrepeat.wrap import copies as copies

# Loaded when first asked for, so that `import vecrepeat` and `vecrepeat --help` stay quick.
_HOMES = {
    "Art": "art.read",
    "read_art": "art.read",
    "Composed": "composing",
    "compose": "composing",
    "InputError": "errors",
    "Exported": "exporting",
    "Exporter": "exporting",
    "export": "exporting",
    "Lattice": "layout",
    "Layout": "layout",
    "Ground": "repeat",
    "Motif": "repeat",
    "Placement": "repeat",
    "Repeat": "repeat",
    "Size": "units",
    "Copy": "wrap",
    "copies": "wrap",
}

__all__ = list(_HOMES)


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'vecrepeat' has no attribute {name!r}")
    value = getattr(importlib.import_module(f"vecrepeat.{_HOMES[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *_HOMES])
