"""Which child of a ``switch`` is drawn (SVG 2 §5.10; SVG 1.1 §5.8)."""

from __future__ import annotations

from lxml import etree

from vecrepeat.art.xml import DESCRIPTIVE, local, remove, take

_FEATURES = frozenset(
    {"SVG-static", "CoreAttribute", "Structure", "BasicStructure", "ConditionalProcessing"}
    | {"Image", "Style", "ViewportAttribute", "Shape", "Text", "BasicText", "XlinkAttribute"}
    | {"PaintAttribute", "BasicPaintAttribute", "OpacityAttribute", "GraphicsAttribute"}
    | {"BasicGraphicsAttribute", "Marker", "Gradient", "Pattern", "Clip", "BasicClip", "Mask"}
    | {"Filter", "BasicFilter"}
)
"""What of SVG 1.1 (appendix N) is drawn here: all that stands still."""


def _has_features(required: str | None) -> bool:
    """Whether the features of SVG 1.1 that an element requires are there (SVG 1.1 §5.8.2)."""
    if required is None:
        return True
    names = [name.rpartition("feature#") for name in required.split()]
    return bool(names) and all(
        base == "http://www.w3.org/TR/SVG11/" and name in _FEATURES for base, _, name in names
    )


def keep_first_match(switch: etree._Element) -> None:
    """Keep the first child whose conditions hold (SVG 2 §5.10, language English or none)."""
    chosen = False
    for child in list(switch):
        if local(child) in DESCRIPTIVE:
            continue
        languages = child.get("systemLanguage")
        holds = (
            bool(local(child))
            and local(child) != "foreignObject"
            and not child.get("requiredExtensions", "").strip()
            and _has_features(child.get("requiredFeatures"))
            and (
                languages is None
                or any(part.strip().lower().split("-")[0] == "en" for part in languages.split(","))
            )
        )
        if holds and not chosen:
            chosen = True
            for attribute in ("systemLanguage", "requiredExtensions", "requiredFeatures"):
                take(child, attribute)
        else:
            remove(child)
