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
import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from vecrepeat.art.read import Art as Art
    from vecrepeat.art.read import read_art as read_art
    from vecrepeat.core.errors import InputError as InputError
    from vecrepeat.core.units import Size as Size
    from vecrepeat.repeat.layout import Lattice as Lattice
    from vecrepeat.repeat.layout import Layout as Layout
    from vecrepeat.repeat.model import Ground as Ground
    from vecrepeat.repeat.model import Motif as Motif
    from vecrepeat.repeat.model import Placement as Placement
    from vecrepeat.repeat.model import Repeat as Repeat
    from vecrepeat.repeat.wrap import Copy as Copy
    from vecrepeat.repeat.wrap import copies as copies
    from vecrepeat.write.composing import Composed as Composed
    from vecrepeat.write.composing import compose as compose
    from vecrepeat.write.exporting import Exported as Exported
    from vecrepeat.write.exporting import Exporter as Exporter
    from vecrepeat.write.exporting import export as export

# Loaded when first asked for, so that `import vecrepeat` and `vecrepeat --help` stay quick.
_MODULES = {
    "art.read": ("Art", "read_art"),
    "core.errors": ("InputError",),
    "core.units": ("Size",),
    "repeat.layout": ("Lattice", "Layout"),
    "repeat.model": ("Ground", "Motif", "Placement", "Repeat"),
    "repeat.wrap": ("Copy", "copies"),
    "write.composing": ("Composed", "compose"),
    "write.exporting": ("Exported", "Exporter", "export"),
}
_HOMES = {name: module for module, names in _MODULES.items() for name in names}

__all__ = list(_HOMES)


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'vecrepeat' has no attribute {name!r}")
    value = getattr(importlib.import_module(f"vecrepeat.{_HOMES[name]}"), name)
    globals()[name] = value
    if model := sys.modules.get("vecrepeat.repeat.model"):
        # A notebook asks a repeat for its picture by a method of this name.
        model.Repeat._repr_svg_ = _shown_in_notebook
    return value


def _shown_in_notebook(repeat: Repeat) -> str:
    """Return 2 × 2 tiles as SVG."""
    from vecrepeat.core.units import Size
    from vecrepeat.write.svg import expanded_svg

    return expanded_svg(repeat, Size(repeat.width * 2, repeat.height * 2))


def __dir__() -> list[str]:
    return sorted([*globals(), *_HOMES])
