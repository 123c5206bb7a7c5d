"""Reading SVG's XML safely: no network, no external entities, bounded size and depth."""

from __future__ import annotations

import math
import re
import zlib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, cast

from lxml import etree

from vecrepeat.core.errors import InputError
from vecrepeat.util.filekinds import signature
from vecrepeat.util.files import read_file

SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"
XML = "http://www.w3.org/XML/1998/namespace"
HREF = f"{{{XLINK}}}href"

DESCRIPTIVE = frozenset(("title", "desc", "metadata"))
"""Elements that describe and draw nothing."""

MAX_BYTES = 256 << 20
MAX_ELEMENTS = 400_000
MAX_DEPTH = 200
MAX_ENTITIES = 100

_NAMES_ONLY = frozenset(("NAMESPACE", "DTD", "VALID"))
"""The kinds of errors that leave a document well-formed: prefixes not declared, ids used twice."""

_GZIP = b"\x1f\x8b"


def read_bytes(path: Path) -> bytes:
    """Read a file of at most 256 MiB, unpacking gzip (``.svgz``) within the same bound.

    Raises:
        InputError: the file can't be read or is too large.
    """
    data = read_file(path, MAX_BYTES)
    if not data.startswith(_GZIP):
        return data
    plain = b""
    while data.startswith(_GZIP) and len(plain) <= MAX_BYTES:
        # A file may hold several members, one after the other (RFC 1952 §2.2).
        inflater = zlib.decompressobj(zlib.MAX_WBITS | 16)
        try:
            plain += inflater.decompress(data, MAX_BYTES + 1 - len(plain))
        except zlib.error:
            raise InputError("the gzip data is damaged", file=path) from None
        if not inflater.eof and len(plain) <= MAX_BYTES:
            raise InputError("the gzip data is cut off", file=path)
        data = inflater.unused_data
    if len(plain) > MAX_BYTES:
        raise InputError(f"the file unpacks to more than {MAX_BYTES >> 20} MiB", file=path)
    return plain


def parse(data: bytes) -> etree._Element:
    """Parse SVG into a tree of elements only (comments and instructions are dropped).

    Args:
        data: the document's bytes.

    Returns:
        The root ``svg`` element.

    Raises:
        InputError: not XML, not SVG, entities that nest or reach outside, or a tree larger
            than 400,000 elements or deeper than 200.
    """
    kind = signature(data)
    if kind:
        raise InputError(f"this is {kind}, not SVG", hint="give the SVG drawing")
    # Some generators write an empty line before the declaration.
    data = data.lstrip()
    declares_entities = b"<!ENTITY" in data or _not_ascii_compatible(data)
    if declares_entities:
        _check_entities(data)

    def parser(*, recover: bool = False) -> etree.XMLParser:
        return etree.XMLParser(
            resolve_entities=declares_entities,
            no_network=True,
            load_dtd=False,
            dtd_validation=False,
            remove_comments=True,
            remove_pis=True,
            recover=recover,
            # Large embedded pictures need libxml2's roomy limits; those also switch off its
            # guard against entity amplification, so they are given only where there are none.
            huge_tree=not declares_entities,
        )

    strict = parser()
    try:
        root = etree.fromstring(data, strict)
    except (etree.XMLSyntaxError, ValueError) as error:
        if not all(entry.domain_name in _NAMES_ONLY for entry in strict.error_log):
            raise InputError(
                f"not a well-formed SVG file: {_first_line(error)}",
                hint="save it again as plain SVG",
            ) from None
        # Taken out of a page, where nothing declares prefixes.
        root = etree.fromstring(data, parser(recover=True))
        _declare_prefixes(root)
    if root is None or etree.QName(root).localname != "svg":
        name = "nothing" if root is None else f"<{etree.QName(root).localname}>"
        raise InputError(f"not SVG: the document holds {name}, not <svg>")
    if (space := etree.QName(root).namespace or SVG) != SVG:
        raise InputError(
            f"not SVG: its <svg> is in the namespace “{space}”", hint=f"SVG's is {SVG}"
        )
    _check_size(root)
    if declares_entities or not etree.QName(root).namespace:
        _adopt_namespace(root)
    return root


def _first_line(error: Exception) -> str:
    line = str(error).splitlines()[0] if str(error) else "it is empty"
    return re.sub(r" \(<string>, line \d+\)$", "", line).rstrip(".")[:160]


def _not_ascii_compatible(data: bytes) -> bool:
    """Whether the bytes may hide a declaration from a byte search (UTF-16, UTF-7, EBCDIC …)."""
    head = data[:200]
    if head.startswith(b"\xef\xbb\xbf"):
        head = head[3:]
    if b"\x00" in head or head[:2] in (b"\xfe\xff", b"\xff\xfe"):
        return True
    declared = re.search(rb"encoding\s*=\s*[\"']([^\"']*)", head)
    return declared is not None and not re.fullmatch(
        rb"(?i)utf-?8|us-ascii|ascii|iso-8859-\d+|latin-?1|windows-125\d|cp125\d", declared.group(1)
    )


def _check_entities(data: bytes) -> None:
    """Allow only a few flat, internal entities, as some drawing programs write for namespaces."""
    guard = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False, recover=True
    )
    try:
        tree = etree.fromstring(data, guard)
    except (etree.XMLSyntaxError, ValueError) as error:
        raise InputError(f"not a well-formed SVG file: {_first_line(error)}") from None
    dtd: Any = None if tree is None else tree.getroottree().docinfo.internalDTD
    entities = [] if dtd is None else list(dtd.entities())
    if len(entities) > MAX_ENTITIES:
        raise InputError(f"the file declares {len(entities)} entities")
    for entity in entities:
        value = entity.content
        if value is None or entity.orig is None:
            raise InputError(
                f"the entity “{entity.name}” refers outside the file, which is not allowed",
            )
        # A character reference is allowed, unless it makes a "&" that is read again.
        if "&" in value or re.search(r"&(?!#)|%", entity.orig):
            what = "expands other entities, which is not allowed"
        elif len(value) > 4096:
            what = "is longer than 4,096 characters"
        else:
            continue
        raise InputError(f"the entity “{entity.name}” {what}")


def _check_size(root: etree._Element) -> None:
    depth = count = 0
    for event, _ in etree.iterwalk(root, events=("start", "end")):
        depth += 1 if event == "start" else -1
        count += event == "start"
        if depth > MAX_DEPTH:
            raise InputError(f"elements are nested more than {MAX_DEPTH} deep")
        if count > MAX_ELEMENTS:
            raise InputError(f"the file holds more than {MAX_ELEMENTS:,} elements")


def _declare_prefixes(root: etree._Element) -> None:
    """Give names with prefixes that nothing declares their namespace, or one of their own."""

    def named(name: str) -> str:
        prefix, colon, rest = name.partition(":")
        if name.startswith("{") or not colon:
            return name
        space = {"svg": SVG, "xlink": XLINK}.get(prefix, prefix)
        return f"{{{space}}}{rest}"

    for element in root.iter("*"):
        element.tag = named(str(element.tag))
        for key, value in attributes(element).items():
            if named(key) != key:
                del element.attrib[key]
                element.set(named(key), value)


def _adopt_namespace(root: etree._Element) -> None:
    """Read elements without any namespace as SVG.

    Some tools write whole documents so, and libxml2 leaves it out where an entity holds elements.
    """
    for element in root.iter():
        if isinstance(element.tag, str) and not element.tag.startswith("{"):
            element.tag = f"{{{SVG}}}{element.tag}"


_PREFIX = f"{{{SVG}}}"


def local(element: etree._Element) -> str:
    """Return an SVG element's name without its namespace, or "" for a foreign element."""
    return _local_of(element.tag)


@lru_cache(maxsize=4096)
def _local_of(tag: object) -> str:
    if isinstance(tag, str) and tag.startswith(_PREFIX):
        return tag[len(_PREFIX) :]
    return ""


def href(element: etree._Element) -> str:
    """Return an element's link, ``href`` before ``xlink:href`` (SVG 2 §16.1.6)."""
    return (element.get("href") or element.get(HREF) or "").strip()


def attributes(element: etree._Element) -> dict[str, str]:
    """Return an element's attributes as plain strings, foreign ones as ``{namespace}name``."""
    return dict(cast(Mapping[str, str], element.attrib))


def real(text: str | None, default: float) -> float:
    """Return a finite number that is written out, or the default."""
    try:
        value = float(text) if text else default
    except ValueError:
        return default
    return value if math.isfinite(value) else default


def take(element: etree._Element, *names: str) -> str | None:
    """Remove attributes; return the value of the first of them that was there."""
    found: str | None = None
    for name in names:
        value = element.get(name)
        if value is not None:
            del element.attrib[name]
            found = value if found is None else found
    return found


def remove(element: etree._Element) -> None:
    """Take an element out of its tree, leaving the text that follows it."""
    parent = element.getparent()
    if parent is None:
        return
    if element.tail:
        before = element.getprevious()
        if before is None:
            parent.text = (parent.text or "") + element.tail
        else:
            before.tail = (before.tail or "") + element.tail
    parent.remove(element)
