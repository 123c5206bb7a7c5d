"""Drawings made to do harm, and how each is to end: refused in a sentence, or drawn."""

from __future__ import annotations

import base64
import gzip
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from support import svg

INK = '<path d="M10 10h50v40z"/>'
CHAIN = 40
"""Links of a chain that doubles at each: 2^40 is more than anyone can draw."""

Make = Callable[[], bytes]


class Hostile(NamedTuple):
    """A drawing and how it is to end.

    Attributes:
        make: writes it.
        end: the start of how it ends: "drawn", or "refused" and something of the reason.
        name: the file's name.
    """

    make: Make
    end: tuple[str, ...]
    name: str = "case.svg"


def _of(body: str, prolog: str = "") -> Make:
    return lambda: (prolog + svg(body)).encode()


def _chain(element: str, link: str, inner: str = INK) -> Make:
    """Definitions each of which uses the next twice."""
    links = "".join(
        f'<{element} id="n{k}">' + f"<g>{link.format(k + 1)}{link.format(k + 1)}</g></{element}>"
        for k in range(CHAIN)
    )
    last = f'<{element} id="n{CHAIN}">{inner}</{element}>'
    return _of(f"<defs>{links}{last}</defs>{INK}{link.format(0)}")


def _circle(element: str, attribute: str) -> Make:
    """Two definitions that use each other."""
    return _of(
        f'<defs><{element} id="a"><path d="M0 0h90v90z" {attribute}="url(#b)"/></{element}>'
        f'<{element} id="b"><path d="M0 0h90v90z" {attribute}="url(#a)"/></{element}></defs>'
        f'<path d="M10 10h50v40z" {attribute}="url(#a)"/>{INK}'
    )


def _bomb() -> bytes:
    declared = '<!ENTITY e0 "spam">' + "".join(
        f'<!ENTITY e{k} "{f"&e{k - 1};" * 10}">' for k in range(1, 20)
    )
    return f"<!DOCTYPE svg [{declared}]>{svg('<text>&e19;</text>')}".encode()


def _quadratic() -> bytes:
    text = svg(f"<text>{'&e;' * 200_000}</text>")
    return f'<!DOCTYPE svg [<!ENTITY e "{"x" * 4000}">]>{text}'.encode()


def _gzip_bomb() -> bytes:
    return gzip.compress(svg(" " * (300 << 20) + INK).encode(), 9)


def _data(kind: str, content: bytes) -> str:
    return f"data:{kind};base64,{base64.b64encode(content).decode()}"


def _image(link: str) -> Make:
    return _of(f'<image width="50" height="50" href="{link}"/>{INK}')


def _misty(motifs: int, each: int) -> Make:
    """Motifs of text, filters and markers, all of whose ink is to be measured."""
    filters = "".join(
        f'<filter id="f{k}" x="-1" y="-1" width="3" height="3">'
        f'<feTurbulence baseFrequency=".{k}" numOctaves="9"/><feGaussianBlur stdDeviation="{k}"/>'
        '<feDisplacementMap in="SourceGraphic" scale="9"/></filter>'
        for k in range(1, 9)
    )
    marker = '<marker id="m"><path d="M0 0h3v3z" filter="url(#f1)"/></marker>'
    lines = "".join(
        f'<text y="{9 + k}" filter="url(#f{k % 8 + 1})">mist</text>'
        f'<path d="M{k} 9h50v50l-30 20" filter="url(#f{k % 8 + 1})" marker-mid="url(#m)"/>'
        for k in range(each)
    )
    return _of(filters + marker + f"<g>{lines}</g>" * motifs)


def _nested_images() -> bytes:
    inner = svg(INK)
    for _ in range(8):
        inner = svg(
            f'<image width="50" height="50" href="{_data("image/svg+xml", inner.encode())}"/>'
        )
    return inner.encode()


OUTSIDE = "../outside/canary"
READING = '<!DOCTYPE svg [<!ENTITY e SYSTEM "{}">]>'
TEXT = "<text>&e;</text>"
DRAWN, REFUSED = "drawn", "refused"
ANY = (DRAWN, REFUSED)
TOO_SLOW = "refused: its filters, masks or text take too long to draw"

TABLE: dict[str, Hostile] = {
    # XML
    "entity bomb": Hostile(_bomb, (REFUSED,)),
    "one entity very often": Hostile(_quadratic, (REFUSED,)),
    "external entity, relative": Hostile(
        _of(TEXT, READING.format(f"{OUTSIDE}.txt")), ("refused: the entity",)
    ),
    "external entity, file:": Hostile(
        _of(TEXT, READING.format("file:///etc/passwd")), ("refused: the entity",)
    ),
    "parameter entity": Hostile(
        _of(INK, f'<!DOCTYPE svg [<!ENTITY % e SYSTEM "{OUTSIDE}.txt"> %e;]>'), (REFUSED,)
    ),
    "external DTD": Hostile(_of(INK, f'<!DOCTYPE svg SYSTEM "{OUTSIDE}.txt">'), (DRAWN,)),
    "XInclude": Hostile(
        _of(
            '<xi:include xmlns:xi="http://www.w3.org/2001/XInclude" '
            f'href="{OUTSIDE}.txt" parse="text"/>{INK}'
        ),
        (DRAWN,),
    ),
    "invalid UTF-8": Hostile(lambda: svg(INK).encode() + b"<!-- \xff\xfe\xc0 -->", (REFUSED,)),
    "NUL bytes": Hostile(lambda: svg(INK).encode() + b"\0" * 99, (REFUSED,)),
    "nothing": Hostile(lambda: b"", (REFUSED,)),
    "nested 10^5 deep": Hostile(_of("<g>" * 100_000 + INK + "</g>" * 100_000), (REFUSED,)),
    "2·10^5 shapes": Hostile(_of('<path d="M1 1h9v9z"/>' * 200_000), ANY),
    "10^6 elements": Hostile(_of("<g/>" * 1_000_000 + INK), (REFUSED,)),
    "gzip bomb": Hostile(_gzip_bomb, (REFUSED,), "case.svgz"),
    "gzip cut short": Hostile(
        lambda: gzip.compress(svg(INK).encode())[:-30], (REFUSED,), "case.svgz"
    ),
    # Other files
    "image above the folder": Hostile(_image(f"{OUTSIDE}.png"), ANY),
    "SVG image above the folder": Hostile(_image(f"{OUTSIDE}.svg"), ANY),
    "image by file:": Hostile(_image("file:///etc/passwd"), ANY),
    "image by http:": Hostile(_image("http://127.0.0.1:9/x.png"), ANY),
    "image by a device": Hostile(_image("/dev/zero"), ANY),
    "use of another file": Hostile(_of(f'<use href="{OUTSIDE}.svg#a"/>{INK}'), (DRAWN,)),
    "style sheet import": Hostile(
        _of(f"<style>@import url({OUTSIDE}.css);</style>{INK}"), (DRAWN,)
    ),
    "style sheet instruction": Hostile(
        _of(INK, f'<?xml-stylesheet href="{OUTSIDE}.css" type="text/css"?>'), (DRAWN,)
    ),
    "fill of another file": Hostile(
        _of(f'<path d="M10 10h50v40z" fill="url({OUTSIDE}.svg#a) red"/>'), (DRAWN,)
    ),
    "filter with another file": Hostile(
        _of(
            f'<filter id="f"><feImage href="{OUTSIDE}.png"/></filter>'
            f'<path d="M10 10h50v40z" filter="url(#f)"/>{INK}'
        ),
        ANY,
    ),
    "SVG in data that reads": Hostile(
        _image(_data("image/svg+xml", svg(f'<image href="{OUTSIDE}.png"/>').encode())), ANY
    ),
    "SVG in data with a bomb": Hostile(_image(_data("image/svg+xml", _bomb())), ANY),
    "SVG in SVG in SVG": Hostile(_nested_images, ANY),
    "huge data": Hostile(_image("data:image/png;base64," + "A" * (40 << 20)), ANY),
    "a picture of 65,535 squared": Hostile(
        _image(
            _data(
                "image/png",
                bytes.fromhex("89504e470d0a1a0a0000000d49484452")
                + b"\0\0\xff\xff\0\0\xff\xff\x08\x06\0\0\0\xc0\xc1\xc2\xc3",
            )
        ),
        ANY,
    ),
    # References that go round or explode
    "use of itself": Hostile(_of(f'<g id="a">{INK}<use href="#a"/></g>'), ANY),
    "use in a circle": Hostile(
        _of(f'<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>{INK}'), ANY
    ),
    "2^40 by use": Hostile(_chain("g", '<use href="#n{}"/>'), (REFUSED,)),
    "2^40 by pattern": Hostile(_chain("pattern", '<path d="M0 0h90v90z" fill="url(#n{})"/>'), ANY),
    "2^40 by sized pattern": Hostile(
        lambda: _chain("pattern", '<path d="M0 0h90v90z" fill="url(#n{})"/>')().replace(
            b"<pattern ", b'<pattern width="9" height="9" patternUnits="userSpaceOnUse" '
        ),
        ANY,
    ),
    "2^40 by mask": Hostile(_chain("mask", '<path d="M0 0h90v90z" mask="url(#n{})"/>'), ANY),
    "2^40 by clip": Hostile(
        _chain("clipPath", '<path d="M0 0h90v90z" clip-path="url(#n{})"/>'), ANY
    ),
    "2^40 by marker": Hostile(
        _chain("marker", '<path d="M0 0h90v90z" marker-mid="url(#n{})"/>'), ANY
    ),
    "patterns in a circle": Hostile(_circle("pattern", "fill"), ANY),
    "masks in a circle": Hostile(_circle("mask", "mask"), ANY),
    "clips in a circle": Hostile(_circle("clipPath", "clip-path"), ANY),
    "markers in a circle": Hostile(_circle("marker", "marker-start"), ANY),
    "gradients in a circle": Hostile(
        _of(
            '<linearGradient id="a" href="#b"/><linearGradient id="b" href="#a"/>'
            '<path d="M10 10h50v40z" fill="url(#a)"/>'
        ),
        ANY,
    ),
    "variables in a circle": Hostile(
        _of("<style>path{--a:var(--b);--b:var(--a);fill:var(--a)}</style>" + INK),
        ANY,
    ),
    "2^40 by variables": Hostile(
        _of(
            "<style>path{--v0:x;"
            + "".join(f"--v{k + 1}:var(--v{k})var(--v{k});" for k in range(CHAIN))
            + f"fill:var(--v{CHAIN})}}</style>{INK}"
        ),
        ANY,
    ),
    # Numbers
    "NaN": Hostile(_of('<path d="M NaN 1 L 5 NaN z"/><rect width="NaN" height="5"/>' + INK), ANY),
    "1e308": Hostile(_of('<path d="M-1e308 -1e308 L 1e308 0 L 0 1e308 z"/>' + INK), ANY),
    "1e308 in a transform": Hostile(
        _of(f'<g transform="scale(1e308) scale(1e308)">{INK}</g>{INK}'), ANY
    ),
    "1e6 wide": Hostile(_of('<rect x="-1e6" y="-1e6" width="2e6" height="2e6"/>'), ANY),
    "1e5 wide, in a filter": Hostile(
        _of(
            '<filter id="f"><feGaussianBlur stdDeviation="1e4"/></filter>'
            '<rect x="-5e4" y="10" width="1e5" height="1e5" filter="url(#f)"/>'
        ),
        ANY,
    ),
    "scale 0": Hostile(_of(f'<g transform="scale(0)">{INK}</g>{INK}'), (DRAWN,)),
    "scale 0, in a filter": Hostile(
        _of(
            '<filter id="f"><feGaussianBlur stdDeviation="2"/></filter>'
            f'<g transform="scale(0 1)" filter="url(#f)">{INK}</g>{INK}'
        ),
        (DRAWN,),
    ),
    "a billion dashes": Hostile(
        _of('<path d="M0 0H1e6V1e6" stroke="red" stroke-dasharray="1e-3"/>' + INK), ANY
    ),
    "a tiny pattern": Hostile(
        _of(
            '<pattern id="p" width="1e-4" height="1e-4" patternUnits="userSpaceOnUse">'
            '<rect width="5e-5" height="5e-5"/></pattern><rect width="90" height="90" '
            'fill="url(#p)"/>'
        ),
        ANY,
    ),
    "a heavy filter": Hostile(
        _of(
            '<filter id="f" width="9" height="9"><feTurbulence baseFrequency=".01" '
            'numOctaves="2000000000"/></filter><rect width="90" height="90" filter="url(#f)"/>'
        ),
        ANY,
    ),
    "text, filters and markers in one motif": Hostile(_misty(1, 30), (TOO_SLOW,)),
    "text, filters and markers in many motifs": Hostile(_misty(40, 3), (TOO_SLOW,)),
    "a page of a nanometre": Hostile(
        lambda: svg(INK, width="1e-9mm", height="1e-9mm").encode(), (REFUSED,)
    ),
    "a page of a light year": Hostile(
        lambda: svg(INK, width="9e18mm", height="9e18mm").encode(), (REFUSED,)
    ),
    "a view of nothing": Hostile(lambda: svg(INK, view_box="0 0 0 0").encode(), (REFUSED,)),
    "a selector of 10^5 parts": Hostile(
        _of(f"<style>{','.join(['g>g'] * 100_000)}{{fill:red}}</style>{INK}"), ANY
    ),
    "10^4 rules over 10^4 elements": Hostile(
        _of(
            f"<style>{''.join(f'g :not(.c{k}){{fill:red}}' for k in range(3_000))}</style>"
            + '<path d="M1 1h9v9z"/>' * 3_000
        ),
        ANY,
    ),
    "a path of 10^6 pieces": Hostile(_of(f'<path d="M0 0{"l3 1-2 1" * 500_000}z"/>'), ANY),
}

SLOW = frozenset(
    {"2·10^5 shapes", "10^6 elements", "gzip bomb", "huge data", "a path of 10^6 pieces"}
    | {"a heavy filter", "a selector of 10^5 parts", "10^4 rules over 10^4 elements"}
    | {"markers in a circle", "masks in a circle", "1e5 wide, in a filter"}
    | {f"text, filters and markers in {where}" for where in ("one motif", "many motifs")}
)
"""Those that take more than a second; the others are part of the ordinary test run."""

CASES = sorted(Path(__file__).with_name("cases").glob("*.svg"))
"""What the fuzz runner found fault with once."""
