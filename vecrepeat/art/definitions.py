"""Definitions added to a drawing, and content that is drawn elsewhere than where it stands."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import dataclass

from lxml import etree

from vecrepeat.art.markup import references
from vecrepeat.art.normalform import CHOSEN, DEFINITIONS, LABEL, elements_by_id
from vecrepeat.art.style import INHERITED, INITIAL, inherited_properties
from vecrepeat.art.xml import DESCRIPTIVE, SVG, attributes, local, take

NAMES = (LABEL, CHOSEN, "aria-label", "data-name")
"""The attributes that name an element, apart from its id."""

_BAKED = INHERITED - {"color", "cursor", "pointer-events"}


_EFFECTS = {"clip-path": "clipPath", "mask": "mask", "filter": "filter"}


def drop_missing_effects(root: etree._Element) -> tuple[str, ...]:
    """Take off the effects whose definition is not there, and return notes.

    What has such an effect is drawn without it (Filter Effects 1 §5; CSS Masking 1 §5.1), but
    some renderers leave it out.
    """
    by_id = elements_by_id(root)
    notes: dict[str, None] = {}
    for element in root.iter(f"{{{SVG}}}*"):
        for name, kind in _EFFECTS.items():
            value = element.get(name, "")
            keys = list(references({name: value}))
            found = [key for key in keys if key in by_id and local(by_id[key]) == kind]
            if len(found) != value.count("url("):
                del element.attrib[name]
                missing = next((key for key in keys if key not in found), value)
                notes[f"the {name} “{missing[:60]}” is not in the drawing: it is left out"] = None
    return tuple(notes)


@dataclass
class Definitions:
    """A drawing's definitions, to which new ones may be added.

    Attributes:
        root: the ``svg`` element.
        by_id: all elements with an id; new definitions too.
        added: how many elements the new ones come to.
    """

    root: etree._Element
    by_id: dict[str, etree._Element]
    added: int = 0
    _defs: etree._Element | None = None
    _count: int = 0

    def add(self, element: etree._Element, kind: str) -> str:
        """Add a definition under an id of its own, which is returned."""
        if self._defs is None:
            self._defs = etree.SubElement(self.root, f"{{{SVG}}}defs")
        while True:
            self._count += 1
            key = f"pattern-{kind}-{self._count}"
            if key not in self.by_id:
                break
        element.set("id", key)
        self._defs.append(element)
        self.by_id[key] = element
        self.added += sum(1 for _ in element.iter())
        return key

    def new_clip(self) -> etree._Element:
        """Return an empty clip path, not yet added, whose content is not hidden."""
        clip = etree.Element(f"{{{SVG}}}clipPath")
        if self.root.get("visibility") not in (None, "visible"):
            clip.set("visibility", "visible")
        return clip


def baked(inside: Mapping[str, str], place: etree._Element) -> dict[str, str]:
    """Return the properties to set so that at ``place`` those of elsewhere are inherited."""
    outside = {**inherited_properties(place), **attributes(place)}
    look: dict[str, str] = {}
    for name in sorted(_BAKED):
        value = inside.get(name, INITIAL[name])
        if value != outside.get(name, INITIAL[name]):
            look[name] = "16" if (name, value) == ("font-size", "medium") else value
    return look


def bare_copy(element: etree._Element) -> etree._Element:
    """Return a copy without ids, names and definitions: references mean the originals."""
    clone = copy.deepcopy(element)
    clone.tail = None
    for part in list(clone.iter()):
        take(part, "id", *NAMES)
        if local(part) in DEFINITIONS or local(part) in DESCRIPTIVE:
            above = part.getparent()
            if above is not None:
                above.remove(part)
    return clone
