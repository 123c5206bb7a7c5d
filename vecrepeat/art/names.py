"""What a drawing calls its elements."""

from __future__ import annotations

from lxml import etree

from vecrepeat.art.normalform import LABEL
from vecrepeat.art.xml import local


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
