"""The words of a drawing's normal form: what :func:`vecrepeat.art.structure.normalise` leaves."""

from __future__ import annotations

from lxml import etree

from vecrepeat.art.xml import SVG, local

PAINT_SERVERS = frozenset(("linearGradient", "radialGradient", "pattern"))
DEFINITIONS = PAINT_SERVERS | {"defs", "clipPath", "mask", "filter", "marker", "symbol"}
LABEL = "data-label"
"""Where a drawing program's own label is kept."""

KIND = "data-kind"
"""What element a group stands for that has become paths: a text."""

BOX = "data-box"
"""The bounding box of a text that has become paths: that of its character cells (SVG 2 §11.4)."""

LAYER = "data-layer"
"""What marks a group that a drawing program calls a layer."""

CHOSEN = "data-chosen"
"""Marks what the user's selector picked, set before styles are resolved."""


def elements_by_id(root: etree._Element) -> dict[str, etree._Element]:
    """Return the first element of each id."""
    found: dict[str, etree._Element] = {}
    for element in root.iter(f"{{{SVG}}}*"):
        key = element.get("id")
        if key:
            found.setdefault(key, element)
    return found


def url_id(text: str) -> str:
    """Return the id in ``url(#id)``, or "" where there is none."""
    start = text.find("url(")
    if start < 0:
        return ""
    inner = text[start + 4 :].partition(")")[0].strip().strip("\"'")
    return inner[1:] if inner.startswith("#") else ""


def label_of(element: etree._Element) -> str:
    """Return the name a drawing gives an element, or "".

    The nearest to what a person wrote wins: a program's label, ``aria-label``, ``<title>``,
    ``data-name``, then the id.
    """
    title = next((c for c in element if local(c) == "title"), None)
    candidates = (
        element.get(LABEL),
        element.get("aria-label"),
        None if title is None else "".join(str(text) for text in title.itertext()),
        element.get("data-name"),
        element.get("id"),
    )
    for text in candidates:
        name = " ".join((text or "").split())
        if name:
            return name[:80]
    return ""
