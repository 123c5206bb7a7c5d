"""The table of SVG properties: what inherits, initial values, grammars.

Sources: SVG 2 (Appendix "Property Index"; §6.6 "Presentation attributes"; §8 "Geometry
properties"), SVG 1.1 Appendix N for the properties SVG 2 left out but which
drawings still use, CSS Compositing 1 (``mix-blend-mode``, ``isolation``), CSS Masking 1
(``mask-type``), CSS Transforms 1 (``transform``, ``transform-origin``, ``transform-box``).
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple


class Property(NamedTuple):
    """One row of the property index.

    ``keywords`` maps a keyword in lower case to its canonical spelling; ``kinds`` names the
    other value types the property takes (see ``css_values.normalise``).
    """

    inherited: bool
    initial: str
    keywords: Mapping[str, str]
    kinds: tuple[str, ...]


# name | i(nherited) or - | initial value | keywords and <kinds>
_TABLE = """
alignment-baseline           |-| baseline | <any>
baseline-shift               |-| 0 | baseline sub super <length>
clip                         |-| auto | <any>
clip-path                    |-| none | none <url>
clip-rule                    |i| nonzero | nonzero evenodd
color                        |i| #000000 | <colour>
color-interpolation          |i| sRGB | auto sRGB linearRGB
color-interpolation-filters  |i| linearRGB | auto sRGB linearRGB
color-rendering              |i| auto | <any>
cursor                       |i| auto | <any>
direction                    |i| ltr | ltr rtl
display                      |-| inline | <any>
dominant-baseline            |i| auto | <any>
fill                         |i| #000000 | <paint>
fill-opacity                 |i| 1 | <opacity>
fill-rule                    |i| nonzero | nonzero evenodd
filter                       |-| none | none <urls>
flood-color                  |-| #000000 | <colour>
flood-opacity                |-| 1 | <opacity>
font-family                  |i| serif | <any>
font-size                    |i| medium | xx-small x-small small medium large x-large xx-large \
smaller larger <length+>
font-size-adjust             |i| none | none <any>
font-stretch                 |i| normal | <any>
font-style                   |i| normal | normal italic oblique <any>
font-variant                 |i| normal | <any>
font-weight                  |i| normal | normal bold bolder lighter <number+>
glyph-orientation-horizontal |i| 0deg | <any>
glyph-orientation-vertical   |i| auto | <any>
image-rendering              |i| auto | auto optimizeQuality optimizeSpeed smooth high-quality \
crisp-edges pixelated
kerning                      |i| auto | auto <length>
letter-spacing               |i| normal | normal <length>
lighting-color               |-| #ffffff | <colour>
line-height                  |i| normal | normal <length+>
marker-end                   |i| none | none <url>
marker-mid                   |i| none | none <url>
marker-start                 |i| none | none <url>
mask                         |-| none | none <mask>
mask-type                    |-| luminance | luminance alpha
opacity                      |-| 1 | <opacity>
overflow                     |-| visible | visible hidden scroll auto clip
paint-order                  |i| normal | normal <paint-order>
pointer-events               |i| auto | <any>
shape-rendering              |i| auto | auto optimizeSpeed crispEdges geometricPrecision
stop-color                   |-| #000000 | <colour>
stop-opacity                 |-| 1 | <opacity>
stroke                       |i| none | <paint>
stroke-dasharray             |i| none | none <dashes>
stroke-dashoffset            |i| 0 | <length>
stroke-linecap               |i| butt | butt round square
stroke-linejoin              |i| miter | miter miter-clip round bevel arcs
stroke-miterlimit            |i| 4 | <number+>
stroke-opacity               |i| 1 | <opacity>
stroke-width                 |i| 1 | <length+>
text-anchor                  |i| start | start middle end
text-decoration              |-| none | <any>
text-overflow                |-| clip | <any>
text-rendering               |i| auto | auto optimizeSpeed optimizeLegibility geometricPrecision
transform-box                |-| view-box | content-box border-box fill-box stroke-box view-box
transform-origin             |-| 0 0 | <origin>
unicode-bidi                 |-| normal | <any>
vector-effect                |-| none | <any>
visibility                   |i| visible | visible hidden collapse
white-space                  |i| normal | <any>
word-spacing                 |i| normal | normal <length>
writing-mode                 |i| horizontal-tb | <any>
mix-blend-mode               |-| normal | normal multiply screen overlay darken lighten \
color-dodge color-burn hard-light soft-light difference exclusion hue saturation color luminosity \
plus-lighter
isolation                    |-| auto | auto isolate
transform                    |-| none | none <transform>
x                            |-| 0 | <css-length>
y                            |-| 0 | <css-length>
width                        |-| auto | auto <css-length+>
height                       |-| auto | auto <css-length+>
cx                           |-| 0 | <css-length>
cy                           |-| 0 | <css-length>
r                            |-| 0 | <css-length+>
rx                           |-| auto | auto <css-length+>
ry                           |-| auto | auto <css-length+>
d                            |-| none | none <path>
"""


def _read_table() -> dict[str, Property]:
    table: dict[str, Property] = {}
    for row in _TABLE.strip().splitlines():
        name, inherited, initial, grammar = (cell.strip() for cell in row.split("|"))
        words = grammar.split()
        keywords = {word.lower(): word for word in words if word[0] != "<"}
        kinds = tuple(word[1:-1] for word in words if word[0] == "<")
        table[name] = Property(inherited == "i", initial, MappingProxyType(keywords), kinds)
    return table


PROPERTIES: Mapping[str, Property] = MappingProxyType(_read_table())

_BOX = frozenset({"svg", "symbol", "use", "rect", "image", "foreignObject"})

#: Geometry properties (SVG 2 §8) and the elements whose attribute of that name they are.
GEOMETRY: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "x": _BOX,
        "y": _BOX,
        "width": _BOX,
        "height": _BOX,
        "cx": frozenset({"circle", "ellipse"}),
        "cy": frozenset({"circle", "ellipse"}),
        "r": frozenset({"circle"}),
        "rx": frozenset({"rect", "ellipse"}),
        "ry": frozenset({"rect", "ellipse"}),
        "d": frozenset({"path"}),
    }
)

#: Properties which engines read from ``style=""`` only; no attribute of theirs exists.
STYLE_ONLY = ("isolation", "mix-blend-mode")

#: Properties read from, and written as, the attribute of the same name on any element.
PRESENTATION: frozenset[str] = frozenset(PROPERTIES) - {*GEOMETRY, *STYLE_ONLY, "transform"}

#: Where the ``transform`` property lives when not in an attribute ``transform`` (SVG 2 §8.5).
TRANSFORM_ATTRIBUTE: Mapping[str, str] = MappingProxyType(
    {
        "linearGradient": "gradientTransform",
        "radialGradient": "gradientTransform",
        "pattern": "patternTransform",
    }
)

#: Elements whose attributes named like properties are something else (``fill="freeze"``,
#: the descriptors of an SVG font's ``font-face``) and which draw nothing themselves.
UNSTYLED = frozenset(
    {
        "animate",
        "animateColor",
        "animateMotion",
        "animateTransform",
        "set",
        "discard",
        "font-face",
        "font-face-src",
        "metadata",
        "title",
        "desc",
        "script",
        "style",
    }
)

#: Names of the inherited SVG properties.
INHERITED: frozenset[str] = frozenset(n for n, row in PROPERTIES.items() if row.inherited)

#: Initial value of every known property, in normal form.
INITIAL: Mapping[str, str] = MappingProxyType({n: row.initial for n, row in PROPERTIES.items()})

#: Shorthands and the longhands each one sets, in the order ``css_values.expand`` gives them.
SHORTHANDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "marker": ("marker-start", "marker-mid", "marker-end"),
        "font": (
            "font-style",
            "font-variant",
            "font-weight",
            "font-stretch",
            "font-size",
            "line-height",
            "font-family",
        ),
    }
)
