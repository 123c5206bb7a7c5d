"""A hypothesis grammar of SVG documents: plausible, odd and hostile in turn."""

from __future__ import annotations

from xml.sax.saxutils import quoteattr

from hypothesis import strategies as st

Text = st.SearchStrategy[str]

IDS = ("a", "b", "c", "d", "e")
"""Few, so that references meet, nest and go round."""

OUTSIDE = "../outside/canary"
"""A file that exists beside the art's folder, without its suffix; it is never to be opened."""

HOSTILE = (
    *("NaN", "nan", "inf", "-Infinity", "1e308", "-1e308", "1e400", "1e-400", "-0", "1e", "."),
    *("", "+5", "5.", "--5", "0x10", "1,5", "1 2", "99999999999999999999", "4294967296", "1e38"),
    *("-1", "0", "1e-9", "none", "auto", "inherit", "calc(1px + 2%)", "var(--x)", "٣", "\u00a05"),
)
PIXEL = (
    "data:image/png;base64,iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGA"
    "WjR9awAAAABJRU5ErkJggg=="
)
TINY_SVG = "data:image/svg+xml,%3Csvg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 9 9'/%3E"
LINKS = (
    *(PIXEL, TINY_SVG, "data:,", "data:image/png;base64,AAAA", "data:image/png;base64,%%%"),
    *(f"{OUTSIDE}.png", f"{OUTSIDE}.svg", f"{OUTSIDE}.svg#a", "file:///etc/passwd"),
    *("http://127.0.0.1:9/x.png", "//127.0.0.1/x", "", "#", "#missing", "missing.png", "\\\\h\\x"),
)


def one(*values: str) -> Text:
    """One of some values."""
    return st.sampled_from(values)


plain: Text = st.integers(-20, 120).map(str) | st.floats(0, 100, width=16).map(str)
number: Text = st.integers(0, 9).flatmap(lambda k: one(*HOSTILE) if k == 0 else plain)
unit: Text = one(*[""] * 6, "px", "mm", "%", "%", "em", "ex", "in", "pt", "Q", "rem", "vw", "foo")
length: Text = st.builds(lambda n, u: n + u, number, unit)
reference: Text = one(*[f"#{key}" for key in IDS] * 3, *LINKS)
url: Text = one(*IDS * 4, "missing").map(lambda key: f"url(#{key})") | reference.map(
    lambda link: f"url('{link}')"
)
colour: Text = one(
    *("red", "#abc", "#abcd", "#12345678", "rgb(300,-1,50%)", "hsl(20,50%,50%)", "currentColor"),
    *("transparent", "inherit", "var(--x, blue)", "var(--y)", "icc-color(x)", "context-fill"),
    *("color-mix(in srgb, red, blue)", "none", "rgba(1,2,3,.5)", "url(#a) red", "bogus("),
)
paint: Text = colour | url
numbers: Text = st.lists(number, max_size=8).map(" ".join)
function: Text = st.builds(
    lambda name, arguments: f"{name}({' '.join(arguments)})",
    one("translate", "scale", "rotate", "skewX", "skewY", "matrix", "matrix3d", "Scale"),
    st.lists(number, min_size=0, max_size=6),
) | one("scale(0)", "scale(0 1)", "scale(1e-9)", "matrix(1 1 1 1 0 0)", "rotate(30 5 5)", "none")
transform: Text = st.lists(function, min_size=1, max_size=3).map(" ".join)
path_data: Text = st.lists(
    st.builds(
        lambda letter, arguments: letter + " ".join(arguments),
        st.sampled_from("MmLlHhVvCcSsQqTtAaZz"),
        st.lists(number, max_size=7),
    ),
    max_size=6,
).map(lambda parts: "M 5 5 " + " ".join(parts))

PROPERTIES: dict[str, Text] = {
    "fill": paint,
    "stroke": paint,
    "color": colour,
    "stroke-width": length,
    "stroke-dasharray": st.lists(length, max_size=4).map(",".join),
    "stroke-dashoffset": length,
    "stroke-linecap": one("butt", "round", "square", "bogus"),
    "stroke-linejoin": one("miter", "round", "bevel", "arcs", "miter-clip"),
    "stroke-miterlimit": number,
    "vector-effect": one("none", "non-scaling-stroke"),
    "paint-order": one("stroke", "markers fill", "normal"),
    "opacity": number,
    "fill-opacity": length,
    "fill-rule": one("evenodd", "nonzero"),
    "clip-rule": one("evenodd", "nonzero"),
    "clip-path": url | one("inset(10%)", "circle()", "none"),
    "mask": url | one("none"),
    "filter": url | one("blur(3px)", "none"),
    "marker": url,
    "marker-start": url,
    "marker-mid": url,
    "marker-end": url,
    "display": one("none", "inline", "block"),
    "visibility": one("hidden", "visible", "collapse"),
    "overflow": one("visible", "hidden", "scroll"),
    "mix-blend-mode": one("multiply", "screen", "bogus"),
    "isolation": one("isolate"),
    "font-size": length | one("larger", "x-small"),
    "font-family": one("serif", "'No Such Font'", "DejaVu Sans, sans-serif", "''"),
    "font": one("bold 5px serif", "inherit", "bogus"),
    "letter-spacing": length,
    "text-anchor": one("start", "middle", "end"),
    "writing-mode": one("tb", "vertical-rl"),
    "stop-color": colour,
    "stop-opacity": number,
    "flood-color": colour,
    "transform-origin": st.lists(length, min_size=1, max_size=3).map(" ".join),
    "transform-box": one("fill-box", "view-box"),
    "--x": colour | length | one("var(--x)", "var(--y)"),
    "--y": one("var(--x)", "url(#a)", ""),
    "all": one("unset", "initial"),
}
_property: st.SearchStrategy[tuple[str, str]] = st.sampled_from(sorted(PROPERTIES)).flatmap(
    lambda name: st.tuples(st.just(name), PROPERTIES[name])
)
_BOX = {"x": length, "y": length, "width": length, "height": length}
_VIEW = {
    "viewBox": st.lists(number, min_size=4, max_size=4).map(" ".join) | one("0 0 50 50", "0 0 0 9"),
    "preserveAspectRatio": one("none", "xMinYMax slice", "xMidYMid meet", "bogus"),
}
_UNITS = one("userSpaceOnUse", "objectBoundingBox", "bogus")
_LINK = {"href": reference, "xlink:href": reference}
GEOMETRY: dict[str, dict[str, Text]] = {
    "rect": {**_BOX, "rx": length, "ry": length},
    "circle": {"cx": length, "cy": length, "r": length},
    "ellipse": {"cx": length, "cy": length, "rx": length, "ry": length},
    "line": {"x1": length, "y1": length, "x2": length, "y2": length},
    "polyline": {"points": numbers},
    "polygon": {"points": numbers},
    "path": {"d": path_data, "pathLength": number},
    "image": {**_BOX, **_LINK, "preserveAspectRatio": _VIEW["preserveAspectRatio"]},
    "use": {**_BOX, **_LINK},
    "text": {"x": numbers, "y": numbers, "dx": numbers, "rotate": numbers, "textLength": length},
    "g": {},
    "a": _LINK,
    "switch": {},
    "svg": {**_BOX, **_VIEW},
    "symbol": _VIEW,
    "defs": {},
    "clipPath": {"clipPathUnits": _UNITS},
    "mask": {**_BOX, "maskUnits": _UNITS, "maskContentUnits": _UNITS},
    "pattern": {
        **(_BOX | _VIEW | _LINK),
        "patternUnits": _UNITS,
        "patternContentUnits": _UNITS,
        "patternTransform": transform,
    },
    "marker": {
        **_VIEW,
        "markerWidth": length,
        "markerHeight": length,
        "refX": length,
        "refY": length,
        "orient": one("auto", "auto-start-reverse", "45", "1rad", "bogus"),
        "markerUnits": one("userSpaceOnUse", "strokeWidth"),
    },
    "linearGradient": {
        **_LINK,
        "x1": length,
        "x2": length,
        "y1": length,
        "gradientUnits": _UNITS,
        "gradientTransform": transform,
        "spreadMethod": one("pad", "reflect", "repeat"),
    },
    "radialGradient": {
        **_LINK,
        "cx": length,
        "r": length,
        "fx": length,
        "fr": length,
        "gradientUnits": _UNITS,
        "gradientTransform": transform,
    },
    "stop": {"offset": length},
    "filter": {**_BOX, **_LINK, "filterUnits": _UNITS, "primitiveUnits": _UNITS},
    "feGaussianBlur": {"stdDeviation": numbers, "in": one("SourceAlpha", "b", "BackgroundImage")},
    "feOffset": {"dx": length, "dy": number, "result": one("b")},
    "feFlood": _BOX,
    "feComposite": {"operator": one("in", "arithmetic", "xor"), "k1": number, "in2": one("b")},
    "feColorMatrix": {"type": one("matrix", "saturate", "hueRotate"), "values": numbers},
    "feMorphology": {"radius": numbers, "operator": one("dilate", "erode")},
    "feTurbulence": {"baseFrequency": numbers, "numOctaves": number, "seed": number},
    "feConvolveMatrix": {"order": numbers, "kernelMatrix": numbers, "divisor": number},
    "feImage": _LINK,
    "feTile": {},
    "feMerge": {},
    "feBlend": {"mode": one("multiply"), "in2": one("SourceGraphic")},
    "style": {},
    "title": {},
    "foreignObject": _BOX,
    "animate": {"attributeName": one("x"), "values": numbers},
    "script": {},
    "tspan": {"x": numbers, "dy": length, "baseline-shift": one("super", "20%")},
    "textPath": {**_LINK, "startOffset": length},
}
SHAPES = ("rect", "circle", "ellipse", "line", "polyline", "polygon", "path", "path", "rect")
DRAWN = (*SHAPES * 2, "image", "use", "use", "text", "g", "g", "svg", "a", "switch")
DEFINED = (
    *("symbol", "clipPath", "mask", "pattern", "marker", "linearGradient", "radialGradient"),
    *("filter", "g", "clipPath", "pattern"),
)
PRIMITIVES = tuple(name for name in GEOMETRY if name.startswith("fe"))


def selector() -> Text:
    """A CSS selector, understood or not."""
    return one(
        *[f"#{key}" for key in IDS], "*", "rect", "g > path", ".k", "svg *:first-child"
    ) | one(*("path:nth-child(2n+1)", "[fill='red']", "::before", "a:hover", "g ~ *", ":is(", "@x"))


def rules() -> Text:
    """A style sheet."""
    rule = st.builds(
        lambda chosen, pairs: f"{chosen}{{{';'.join(f'{k}:{v}' for k, v in pairs)}}}",
        selector(),
        st.lists(_property, max_size=3),
    )
    odd = one(
        f"@import url({OUTSIDE}.css);",
        "@media print{*{fill:red}}",
        "@font-face{font-family:x;src:url(file:///etc/passwd)}",
        "*{fill:red !important}",
        "{{{{",
        "/*",
        ":root{--x:red;--y:var(--x)}",
    )
    return st.lists(rule | odd, max_size=3).map("".join).map(_escaped)


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;")


@st.composite
def attributes_of(draw: st.DrawFn, name: str) -> str:
    """Attributes of an element: most of its own, and some properties, in every form."""
    own = GEOMETRY[name]
    found: dict[str, str] = {}
    chosen = draw(st.sets(st.sampled_from(sorted(own)), max_size=6)) if own else set()
    if name == "path":
        chosen = {*chosen, "d"}
    if name in ("use", "textPath", "feImage"):
        chosen = {*chosen, "href"}
    for key in sorted(chosen):
        found[key] = draw(own[key])
    for key, value in draw(st.lists(_property, max_size=3)):
        if draw(st.booleans()):
            found[key] = value
        else:
            found["style"] = f"{found.get('style', '')};{key}:{value}"
    extra = draw(st.integers(0, 9))
    if extra < 5:
        found["id"] = draw(one(*IDS))
    if extra % 3 == 0:
        found["transform"] = draw(transform)
    if extra == 7:
        found["class"] = "k"
    if extra == 8:
        found[draw(one("systemLanguage", "requiredFeatures", "data-name", "aria-label"))] = draw(
            one("en", "", "layer 1", "x")
        )
    # Names such as --x are properties, not attributes.
    return "".join(
        f" {key}={quoteattr(value)}" for key, value in found.items() if not key.startswith("--")
    )


@st.composite
def element(draw: st.DrawFn, names: tuple[str, ...], depth: int) -> str:
    """An element with what is in it."""
    name = draw(st.sampled_from(names))
    attributes = draw(attributes_of(name))
    inside: list[str] = []
    if depth > 0:
        below: tuple[str, ...] = DRAWN
        most = 3
        if name in SHAPES or name in ("image", "use"):
            most = 0
        elif name.endswith("Gradient"):
            below = ("stop",)
        elif name == "filter":
            below = PRIMITIVES
        elif name in ("text", "tspan", "textPath"):
            below = ("tspan", "textPath", "tspan", "a", "title")
            inside.append(draw(one("ink", "", "a &#8238; b", "אב", "x" * 50, "&#xFFFF;"[:0] + "é")))
            most = 2
        elif name == "feMerge" or name.startswith("fe"):
            most = 0
        if most:
            inside += draw(st.lists(element(below, depth - 1), max_size=most))
    if name == "style":
        inside = [draw(rules())]
    return f"<{name}{attributes}>{''.join(inside)}</{name}>"


@st.composite
def documents(draw: st.DrawFn) -> bytes:
    """A whole SVG document."""
    style = f"<style>{draw(rules())}</style>" if draw(st.integers(0, 2)) == 0 else ""
    defined = draw(st.lists(element(DEFINED, 2), max_size=4))
    drawn = draw(st.lists(element((*DRAWN, *SHAPES), 3), min_size=1, max_size=4))
    odd = draw(st.sampled_from((*[9] * 25, 0, 1, 2, 3, *range(15, 20))))
    size = 'width="100" height="100" viewBox="0 0 100 100"'
    if odd == 0:
        size = f"width={quoteattr(draw(length))} height={quoteattr(draw(length))}"
    elif odd == 1:
        size = f"viewBox={quoteattr(draw(_VIEW['viewBox']))}"
    prolog = ""
    if odd == 2:
        prolog = draw(
            one(
                '<!DOCTYPE svg [<!ENTITY x "10">]>',
                f'<!DOCTYPE svg SYSTEM "{OUTSIDE}.txt">',
                f'<?xml-stylesheet href="{OUTSIDE}.css" type="text/css"?>',
                '<?xml version="1.0" encoding="UTF-16"?>',
                '<!DOCTYPE svg [<!ENTITY x "10"><!ENTITY y "&x;&x;">]>',
                f'<!DOCTYPE svg [<!ENTITY x SYSTEM "{OUTSIDE}.txt">]>',
            )
        )
    include = ""
    if odd == 3:
        include = (
            '<xi:include xmlns:xi="http://www.w3.org/2001/XInclude" '
            f'href="{OUTSIDE}.txt" parse="text"/>'
        )
    root_attributes = draw(attributes_of("g")) if odd > 14 else ""
    # Something that is sure to be drawn, so that not most of all is refused as empty.
    sure = "".join(
        f" {key}={quoteattr(value)}"
        for key, value in dict(draw(st.lists(_property, max_size=2))).items()
        if not key.startswith("--")
    )
    drawn.append(f'<path d="M-9 20h60l9 70z"{sure}/>')
    text = (
        f'{prolog}<svg xmlns="http://www.w3.org/2000/svg" '
        f'xmlns:xlink="http://www.w3.org/1999/xlink" {size}{root_attributes}>'
        f"{style}<defs>{''.join(defined)}</defs>{include}{''.join(drawn)}</svg>"
    )
    return text.encode("utf-8", "replace")
