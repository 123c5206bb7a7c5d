"""Reading XML: what is taken as SVG, and what hostile input is refused."""

from __future__ import annotations

import gzip
import os
import subprocess
import sys
import time
import tracemalloc
from pathlib import Path

import pytest
from lxml import etree
from support import SVG, svg

from vecrepeat.art import xml
from vecrepeat.art.xml import href, local, parse, read_bytes
from vecrepeat.core.errors import InputError

PLAIN = svg("<g><rect/></g>")
ACCENT = svg('<g id="é"/>')
FLAT = '<!DOCTYPE svg [<!ENTITY ns "http://www.w3.org/2000/svg">]><svg xmlns="&ns;"><rect/></svg>'

ACCEPTED = [
    # (what it shows, the bytes, names of the elements below the root)
    ("plain SVG", PLAIN.encode(), ["g", "rect"]),
    ("an XML declaration", f'<?xml version="1.0"?>{PLAIN}'.encode(), ["g", "rect"]),
    ("a byte-order mark", b"\xef\xbb\xbf" + PLAIN.encode(), ["g", "rect"]),
    ("UTF-16", PLAIN.encode("utf-16"), ["g", "rect"]),
    (
        "Latin-1",
        f'<?xml version="1.0" encoding="iso-8859-1"?>{ACCENT}'.encode("latin-1"),
        ["g"],
    ),
    ("no namespace", b"<svg><g><rect/></g></svg>", ["g", "rect"]),
    ("a prefixed namespace", f'<s:svg xmlns:s="{SVG}"><s:rect/></s:svg>'.encode(), ["rect"]),
    # The public document type, as drawing programs wrote it for years; it must not be fetched.
    (
        "a document type",
        f'<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://127.0.0.1:9/svg11.dtd">{PLAIN}'.encode(),
        ["g", "rect"],
    ),
    ("a flat entity for a namespace", FLAT.encode(), ["rect"]),
    ("comments and instructions are dropped", svg("<!-- a --><?b c?><g/>").encode(), ["g"]),
    ("foreign elements stay foreign", svg("<tool:x/><g/>").encode(), ["", "g"]),
    (
        "a character in an entity",
        b'<!DOCTYPE svg [<!ENTITY nbsp "&#160;">]><svg><title>a&nbsp;b</title></svg>',
        ["title"],
    ),
    (
        "an empty line before the declaration",
        f'\n <?xml version="1.0"?>{PLAIN}'.encode(),
        ["g", "rect"],
    ),
    ("an id that xml:id gives twice", svg('<g xml:id="a"/><g xml:id="a"/>').encode(), ["g", "g"]),
    (
        "prefixes that nothing declares, as in a drawing taken out of a page",
        f'<svg xmlns="{SVG}"><use xlink:href="#a"/><other:x other:y="1"/></svg>'.encode(),
        ["use", ""],
    ),
    ("character data", svg("<style><![CDATA[g{}]]></style>").encode(), ["style"]),
]


@pytest.mark.parametrize(("data", "names"), [a[1:] for a in ACCEPTED], ids=[a[0] for a in ACCEPTED])
def test_what_is_read(data: bytes, names: list[str]) -> None:
    root = parse(data)
    assert local(root) == "svg"
    assert [local(e) for e in root.iter()][1:] == names


def bomb(levels: int, each: int = 10) -> str:
    rows = ['<!ENTITY e0 "ha">']
    for k in range(1, levels + 1):
        below = f"&e{k - 1};" * each
        rows.append(f'<!ENTITY e{k} "{below}">')
    return f"<!DOCTYPE svg [{''.join(rows)}]>{svg(f'<title>&e{levels};</title>')}"


def declaring(entity: str, body: str = "<title>&e;</title>") -> str:
    return f"<!DOCTYPE svg [{entity}]>{svg(body)}"


SECRET = "file:///etc/hostname"
LONG = f'<!ENTITY e "{"x" * 100_000}">'
MANY = "".join(f'<!ENTITY e{k} "x">' for k in range(500))
PARAMETER = f'<!ENTITY % e SYSTEM "{SECRET}"> %e;'
UNPARSED = f'<!NOTATION n SYSTEM "n"><!ENTITY e SYSTEM "{SECRET}" NDATA n>'
HIDDEN = '<!ENTITY a "ha"><!ENTITY e "&#38;a;&#38;a;">'

REFUSED = [
    # (what is wrong, the document, a part of what the user is told)
    ("ten levels of entities", bomb(10), "entit"),
    ("one level of nesting", bomb(1), "entit"),
    ("an entity within itself", declaring('<!ENTITY e "&e;">'), "entit"),
    ("a long entity, often used", declaring(LONG, "&e;" * 10_000), "entit"),
    ("entities by the hundred", declaring(MANY, ""), "entit"),
    ("a file as entity", declaring(f'<!ENTITY e SYSTEM "{SECRET}">'), "outside"),
    ("a public entity", declaring(f'<!ENTITY e PUBLIC "x" "{SECRET}">'), "outside"),
    ("an unused file entity", declaring(f'<!ENTITY e SYSTEM "{SECRET}">', ""), "outside"),
    ("a file as parameter entity", declaring(PARAMETER, ""), "outside"),
    ("an unparsed entity", declaring(UNPARSED, ""), "outside"),
    ("an entity that is not declared", svg("<title>&e;</title>"), "well-formed"),
    ("a bomb hidden by character references", declaring(HIDDEN), "entit"),
]


@pytest.mark.parametrize(("text", "told"), [r[1:] for r in REFUSED], ids=[r[0] for r in REFUSED])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "utf-16-be", "utf-32"])
def test_what_is_refused_in_every_encoding(text: str, told: str, encoding: str) -> None:
    """A declaration must not escape notice by its bytes."""
    data = text.encode(encoding)
    if encoding == "utf-16-be":
        data = b"\xfe\xff" + data
    with pytest.raises(InputError) as caught:
        parse(data)
    # Not every encoding need be read at all, but none may open a way round.
    assert told in str(caught.value) or (encoding != "utf-8" and "well-formed" in str(caught.value))


def test_a_bomb_declared_as_utf_7_is_refused() -> None:
    text = f'<?xml version="1.0" encoding="utf-7"?>{bomb(9)}'
    with pytest.raises(InputError):
        parse(text.encode("utf-7"))


def test_a_bomb_costs_neither_time_nor_memory() -> None:
    data = bomb(12).encode()
    tracemalloc.start()
    began = time.process_time()
    with pytest.raises(InputError):
        parse(data)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert time.process_time() - began < 1
    assert peak < 20 << 20


def test_no_file_comes_in_through_an_entity(tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("swordfish")
    text = declaring(f'<!ENTITY e SYSTEM "{(tmp_path / "secret").as_uri()}">')
    with pytest.raises(InputError) as caught:
        parse(text.encode())
    assert "swordfish" not in str(caught.value)


def test_no_file_comes_in_through_xinclude(tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("swordfish")
    body = (
        '<x:include xmlns:x="http://www.w3.org/2001/XInclude" parse="text" '
        f'href="{(tmp_path / "secret").as_uri()}"/>'
    )
    assert b"swordfish" not in etree.tostring(parse(svg(body).encode()))


@pytest.mark.parametrize(
    ("depth", "fits"),
    # The root is the first level.
    [(xml.MAX_DEPTH - 1, True), (xml.MAX_DEPTH, False), (5000, False)],
    ids=["deepest", "one too deep", "far too deep"],
)
def test_depth_is_bounded(depth: int, fits: bool) -> None:
    data = svg("<g>" * depth + "</g>" * depth).encode()
    if fits:
        assert len(list(parse(data).iter())) == depth + 1
        return
    with pytest.raises(InputError, match=r"deep|well-formed"):
        parse(data)


def test_the_number_of_elements_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(xml, "MAX_ELEMENTS", 10)
    assert len(parse(svg("<g/>" * 9).encode())) == 9
    with pytest.raises(InputError, match="more than 10 elements"):
        parse(svg("<g/>" * 10).encode())


def test_gzip_is_unpacked(tmp_path: Path) -> None:
    (tmp_path / "a.svgz").write_bytes(gzip.compress(PLAIN.encode()))
    assert read_bytes(tmp_path / "a.svgz") == PLAIN.encode()


def test_gzip_of_several_members_is_unpacked(tmp_path: Path) -> None:
    """RFC 1952 §2.2: members follow one another."""
    parts = PLAIN[:40].encode(), PLAIN[40:].encode()
    (tmp_path / "a.svgz").write_bytes(b"".join(map(gzip.compress, parts)))
    assert read_bytes(tmp_path / "a.svgz") == PLAIN.encode()


def test_gzip_that_is_cut_off_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a.svgz").write_bytes(gzip.compress(PLAIN.encode())[:-12])
    with pytest.raises(InputError, match=r"a\.svgz: the gzip data is cut off"):
        read_bytes(tmp_path / "a.svgz")


def test_a_link_whose_prefix_nothing_declares_is_a_link() -> None:
    root = parse(f'<svg xmlns="{SVG}"><use xlink:href="#a"/></svg>'.encode())
    assert href(root[0]) == "#a"


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (
            b'<svg xmlns="http://www.w3.org/2000/SVG"/>',
            "in the namespace “http://www.w3.org/2000/SVG”",
        ),
        (f'<!DOCTYPE svg [<!ENTITY a "{"x" * 5000}">]>{PLAIN}'.encode(), "longer than 4,096"),
        # Broken and not only undeclared: what follows the fault would be guessed.
        (f'<svg xmlns="{SVG}"><use xlink:href="#a"></svg>'.encode(), "well-formed"),
    ],
    ids=["another namespace", "a long entity", "an open element"],
)
def test_what_is_refused_is_told(data: bytes, told: str) -> None:
    with pytest.raises(InputError, match=told):
        parse(data)


def test_a_gzip_bomb_is_refused_within_bounds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(xml, "MAX_BYTES", 1 << 20)
    (tmp_path / "a.svgz").write_bytes(gzip.compress(bytes(100 << 20)))
    tracemalloc.start()
    with pytest.raises(InputError, match="unpacks to more"):
        read_bytes(tmp_path / "a.svgz")
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 10 << 20


def test_a_large_file_is_refused_unread(tmp_path: Path) -> None:
    """A sparse file: it takes no room, but its size is more than may be read."""
    path = tmp_path / "a.svg"
    with path.open("wb") as out:
        out.truncate(xml.MAX_BYTES + 1)
    with pytest.raises(InputError, match="larger than 256 MiB"):
        read_bytes(path)


ENDLESS = """
import resource, sys
from pathlib import Path
from vecrepeat.art import xml
from vecrepeat.core.errors import InputError
resource.setrlimit(resource.RLIMIT_AS, (1 << 30, 1 << 30))
xml.MAX_BYTES = 1 << 20
try:
    xml.read_bytes(Path("/dev/zero"))
except InputError as error:
    print(error)
"""


@pytest.mark.skipif(not os.path.exists("/dev/zero"), reason="there is no /dev/zero here")
def test_an_endless_device_is_refused_within_bounds() -> None:
    """Its size says 0; in a process of 1 GiB, so that it can't take the machine down."""
    done = subprocess.run(
        [sys.executable, "-c", ENDLESS], capture_output=True, text=True, check=False
    )
    assert done.stdout.startswith("/dev/zero: ")


@pytest.mark.parametrize(
    ("attributes", "link"),
    [
        ('href="#a"', "#a"),
        ('xlink:href="#b"', "#b"),
        # SVG 2 §16.1.6: href comes before xlink:href.
        ('xlink:href="#b" href="#a"', "#a"),
        ('href=" #a "', "#a"),
        ("", ""),
    ],
)
def test_links(attributes: str, link: str) -> None:
    assert href(parse(svg(f"<use {attributes}/>").encode())[0]) == link


@pytest.mark.parametrize(
    ("name", "told"),
    [("none.svg", "no such file"), (".", "folder"), ("n" * 300, "too long"), ("a\0b", "byte")],
    ids=["missing", "folder", "name too long", "null in the name"],
)
def test_what_can_not_be_read_is_told(tmp_path: Path, name: str, told: str) -> None:
    with pytest.raises(InputError, match=told):
        read_bytes(tmp_path / name)


def test_elements_in_an_entity_are_of_svg() -> None:
    # libxml2 gives them no namespace; the SVG 1.1 suite's coords-viewattr-01-b draws such.
    text = (
        "<!DOCTYPE svg [<!ENTITY e \"<rect width='9' height='9'/>\">]>"
        '<svg xmlns="http://www.w3.org/2000/svg"><g>&e;</g><g>&e;</g></svg>'
    )
    found = parse(text.encode())
    assert [local(e) for e in found.iter()] == ["svg", "g", "rect", "g", "rect"]
