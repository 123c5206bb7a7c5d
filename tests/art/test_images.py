"""Which pictures of a drawing are taken in, which are left out and why, and how sharp they are."""

from __future__ import annotations

import base64
import io
import os
import zlib
from pathlib import Path

import numpy as np
import pytest
from lxml import etree
from PIL import Image
from support import SVG, root

from vecrepeat.art import images
from vecrepeat.art.images import embed_images, pixels_of
from vecrepeat.art.shapes import image_box
from vecrepeat.art.xml import href
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import IDENTITY, Affine, Rect
from vecrepeat.scene.nodes import Image as Drawn
from vecrepeat.scene.visit import effective_dpi


def packed(kind: str = "PNG", width: int = 4, height: int = 2) -> bytes:
    """A small picture as a file's bytes."""
    stream = io.BytesIO()
    Image.new("RGB", (width, height), "red").save(stream, kind)
    return stream.getvalue()


def url(data: bytes, head: str = "image/png;base64") -> str:
    return f"data:{head},{base64.b64encode(data).decode()}"


PNG = packed()
DRAWN = "<svg xmlns='http://www.w3.org/2000/svg'/>"


def image(link: str, attributes: str = 'width="8" height="8"') -> str:
    return f'<image xlink:href="{link}" {attributes}/>'


def links(tree: etree._Element) -> list[str]:
    return [href(e) for e in tree.iter(f"{{{SVG}}}image")]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A drawing's folder, with pictures in it, beside it and in a shared folder."""
    own, shared = tmp_path / "own", tmp_path / "shared"
    (own / "sub").mkdir(parents=True)
    shared.mkdir()
    for path in (own / "a.png", own / "sub" / "b c.png", tmp_path / "out.png", shared / "s.png"):
        path.write_bytes(PNG)
    (own / "p.jpg").write_bytes(packed("JPEG"))
    (own / "p.webp").write_bytes(packed("WEBP"))
    (own / "p.gif").write_bytes(packed("GIF"))
    (own / "d.svg").write_text(DRAWN)
    (own / "t.png").write_text("no picture")
    (own / "link.png").symlink_to(tmp_path / "out.png")
    (own / "inner.png").symlink_to(own / "a.png")
    (own / "loop.png").symlink_to(own / "loop.png")
    os.mkfifo(own / "pipe.png")
    return own


TAKEN = [
    # (what is taken in, its link, how the data: URL begins)
    ("a file beside the drawing", "a.png", "data:image/png;base64,"),
    ("with a dot", "./a.png", "data:image/png;base64,"),
    ("in a folder below, its name escaped", "sub/b%20c.png", "data:image/png;base64,"),
    ("up and down again within the folder", "sub/../a.png", "data:image/png;base64,"),
    ("with backslashes", "sub\\b c.png", "data:image/png;base64,"),
    ("a fragment is no part of the name", "a.png#x", "data:image/png;base64,"),
    ("a link that stays within", "inner.png", "data:image/png;base64,"),
    ("JPEG", "p.jpg", "data:image/jpeg;base64,"),
    ("WebP", "p.webp", "data:image/webp;base64,"),
    ("GIF", "p.gif", "data:image/gif;base64,"),
    ("embedded", url(PNG), url(PNG)),
    ("embedded under a wrong type", url(PNG, "image/jpg;base64"), url(PNG)),
    ("embedded without a type", url(PNG, ";base64"), url(PNG)),
    ("embedded in lines", url(PNG).replace("B", "&#10; B", 3), url(PNG)),
    ("embedded in per cent", "data:image/png," + "".join(f"%{b:02x}" for b in PNG), url(PNG)),
]


@pytest.mark.parametrize(("link", "start"), [pytest.param(*row[1:], id=row[0]) for row in TAKEN])
def test_taken_in(folder: Path, link: str, start: str) -> None:
    tree = root(image(link))
    assert embed_images(tree, folder / "art.svg", ()) == ()
    [found] = links(tree)
    assert found.startswith(start)


def test_the_file_is_embedded_untouched(folder: Path) -> None:
    tree = root('<image href="p.jpg"/>')
    embed_images(tree, folder / "art.svg", ())
    assert links(tree) == [url((folder / "p.jpg").read_bytes(), "image/jpeg;base64")]


def damaged(kind: str) -> bytes:
    """A picture whose last third is missing, or all but its head; or with a wrong checksum."""
    stream = io.BytesIO()
    noise = np.random.default_rng(1).integers(0, 255, (40, 40, 3), np.uint8)
    Image.fromarray(noise).save(stream, kind.partition(" ")[0])
    data = bytearray(stream.getvalue())
    if kind.endswith("checksum"):
        data[-13] ^= 1
    else:
        del data[12 if kind.endswith("head") else len(data) * 2 // 3 :]
    return bytes(data)


@pytest.mark.parametrize(
    "kind", ["PNG", "PNG checksum", "PNG head", "JPEG", "JPEG head", "WEBP", "GIF"]
)
@pytest.mark.parametrize("linked", [True, False])
def test_a_picture_with_a_part_damaged_is_refused_by_name(
    folder: Path, kind: str, linked: bool
) -> None:
    (folder / "half.pic").write_bytes(damaged(kind))
    link = "half.pic" if linked else url(damaged(kind))
    tree = root(image(link, 'id="rose" width="8" height="8"'))
    what = "the image “half.pic”" if linked else "an embedded image"
    with pytest.raises(InputError, match=f"element “rose”: {what} is damaged or cut"):
        embed_images(tree, folder / "art.svg", ())


LEFT_OUT = [
    # (what is left out, its link, words of the note)
    ("beside the folder", "../out.png", "--allow-dir"),
    ("escaped dots", "%2e%2e/out.png", "--allow-dir"),
    ("an absolute path", "/etc/passwd", "--allow-dir"),
    ("an absolute path by file:", "file:///etc/passwd", "--allow-dir"),
    ("file: of another machine", "file://host/share/a.png", "--allow-dir"),
    ("a drive", "C:\\pictures\\a.png", "--allow-dir"),
    ("a link that leads out", "link.png", "--allow-dir"),
    ("a link to itself", "loop.png", "left out"),
    ("the network", "http://example.org/a.png", "nothing is fetched"),
    ("any other scheme", "ftp://example.org/a.png", "nothing is fetched"),
    ("no such file", "none.png", "no such file"),
    ("a folder", "sub", "left out"),
    ("a pipe, without waiting for it", "pipe.png", "not a plain file"),
    ("a zero byte in the name", "a%00.png", "left out"),
    ("a name too long", "a" * 5000, "left out"),
    ("an element", "#x", "shows an element"),
    ("no link", "", "without a link"),
    ("an SVG drawing", "d.svg", "it is an SVG drawing"),
    ("no picture at all", "t.png", "neither PNG"),
    ("an embedded SVG drawing", url(DRAWN.encode(), "image/svg+xml;base64"), "SVG drawing"),
    ("an embedded SVG drawing, not so called", url(DRAWN.encode()), "SVG drawing"),
    ("damaged base64", "data:image/png;base64,!!!!", "damaged"),
    ("a data: URL without data", "data:image/png;base64", "damaged"),
]


@pytest.mark.parametrize(("link", "words"), [pytest.param(*row[1:], id=row[0]) for row in LEFT_OUT])
def test_left_out_and_said_so(folder: Path, link: str, words: str) -> None:
    tree = root(f'<g id="k">{image(link)}<rect/></g>')
    [note] = embed_images(tree, folder / "art.svg", ())
    assert words in note
    assert len(note) < 300
    assert links(tree) == []
    assert len(tree[0]) == 1


PERMITTED = ["../shared/s.png", "s.png", "{}/shared/s.png", "file://{}/shared/s.png"]


@pytest.mark.parametrize("link", PERMITTED)
def test_a_permitted_folder(folder: Path, link: str) -> None:
    tree = root(image(link.format(folder.parent)))
    assert embed_images(tree, folder / "art.svg", [folder.parent / "shared"]) == ()
    assert links(tree) == [url(PNG)]


def test_a_permitted_folder_permits_no_other(folder: Path) -> None:
    tree = root(image("../out.png"))
    assert len(embed_images(tree, folder / "art.svg", [folder.parent / "shared"])) == 1


def test_the_drawing_itself_is_no_picture(folder: Path) -> None:
    assert len(embed_images(root(image("a.png")), folder / "a.png", ())) == 1


def test_too_many_bytes(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(images, "MAX_BYTES", len(PNG) - 1)
    notes = embed_images(root(image("a.png") + image(url(PNG))), folder / "art.svg", ())
    assert len(notes) == 2


def test_too_many_pixels(folder: Path) -> None:
    # A header that states 20,000 × 20,000 pixels.
    ihdr = b"IHDR" + (20_000).to_bytes(4) * 2 + b"\x08\x02\0\0\0"
    large = PNG[:12] + ihdr + zlib.crc32(ihdr).to_bytes(4) + PNG[33:]
    [note] = embed_images(root(image(url(large))), folder / "art.svg", ())
    assert "20,000 × 20,000 px is too large" in note


def test_repeated_pictures_are_bounded_together(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(images, "MAX_TOTAL", 3 * len(PNG))
    tree = root(image("a.png") * 5)
    assert len(embed_images(tree, folder / "art.svg", ())) == 1
    assert len(links(tree)) == 3


def test_the_text_after_a_picture_stays(folder: Path) -> None:
    tree = root("<g>" + image("none.png") + "after</g>")
    embed_images(tree, folder / "art.svg", ())
    assert tree[0].text == "after"


FILTERS = [
    # (what it shows, the link, the link afterwards)
    ("a link to an element stays", "#x", "#x"),
    ("a file is taken in", "a.png", url(PNG)),
    ("what may not be read becomes empty", "/etc/passwd", ""),
]


@pytest.mark.parametrize(("link", "after"), [pytest.param(*row[1:], id=row[0]) for row in FILTERS])
def test_pictures_of_filters(folder: Path, link: str, after: str) -> None:
    tree = root(f'<filter><feImage xlink:href="{link}"/></filter>')
    embed_images(tree, folder / "art.svg", ())
    assert href(tree[0][0]) == after


WIDE = url(packed(width=300, height=150))
INCH = 'width="25.4" height="12.7"'
SQUARE = 'width="25.4" height="25.4"'
SLICE = f'{SQUARE} preserveAspectRatio="xMidYMid slice"'
DPI = [
    # (what it shows, attributes of a picture of 300 × 150 px, matrix to mm, its dpi)
    ("300 px on an inch", INCH, IDENTITY, 300),
    ("scaled up", INCH, Affine.scaling(2), 150),
    ("turned", INCH, Affine(0, 2, -2, 0, 9, 9), 150),
    ("stretched: the worse direction counts", INCH, Affine.scaling(1, 3), 100),
    ("fitted into a square: the width decides", SQUARE, IDENTITY, 300),
    ("filling a square: the height decides", SLICE, IDENTITY, 150),
    ("forced into a square", f'{SQUARE} preserveAspectRatio="none"', IDENTITY, 150),
    ("its own size", "", Affine.scaling(0.0847), 299.88),
    ("the height follows", 'width="25.4"', IDENTITY, 300),
    ("the width follows", 'height="12.7"', IDENTITY, 300),
]


@pytest.mark.parametrize(
    ("attributes", "matrix", "dpi"), [pytest.param(*row[1:], id=row[0]) for row in DPI]
)
def test_effective_dpi(attributes: str, matrix: Affine, dpi: float) -> None:
    tree = root(image(WIDE, attributes))
    embed_images(tree, Path("art.svg"), ())
    box = image_box(tree[0])
    assert box is not None
    aspect = tree[0].get("preserveAspectRatio", "")
    found = effective_dpi(Drawn(WIDE, box, pixels_of(WIDE), aspect), matrix)
    assert found == pytest.approx(dpi, rel=1e-4)


def test_no_dpi_without_a_picture() -> None:
    assert effective_dpi(Drawn("a.png", Rect(0, 0, 9, 9), pixels_of("a.png")), IDENTITY) is None


def test_no_dpi_without_scale() -> None:
    assert effective_dpi(Drawn(WIDE, Rect(0, 0, 9, 9), (300, 150)), Affine.scaling(0)) is None
