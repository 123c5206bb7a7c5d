"""What is asked of a collection at the board, done in a process beside it.

Each function takes what it may keep, the collection's text at the moment and what was asked.
Pictures of prints are of one straight block, at pixels to the mm of the cloth.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from vecrepeat.board.collection_desk import Shelved
from vecrepeat.board.helped import answer_requests
from vecrepeat.check.profile import DEFAULT, load_profile
from vecrepeat.collection.cohesion import check_cohesion
from vecrepeat.collection.line import Line
from vecrepeat.collection.linesheet import size_of
from vecrepeat.core.colours import rgb_of
from vecrepeat.core.errors import InputError
from vecrepeat.core.names import slug
from vecrepeat.core.units import MM_PER_INCH
from vecrepeat.draw.sheet import opaque
from vecrepeat.recipe.collection import Collection, Print, parse_collection
from vecrepeat.repeat.model import Repeat
from vecrepeat.scene.kinds import IMAGE
from vecrepeat.sources.blending import blender_text, drawn_blender
from vecrepeat.sources.prints import Collected, art_colours, collected
from vecrepeat.sources.source import open_source
from vecrepeat.util.imagefiles import png_of
from vecrepeat.write.exporting import Exporter

MOST_PIXELS = 3_000_000
"""Of a block's picture; a larger one is drawn coarser."""

MOST_KEPT = 300
"""So many pictures are kept."""

_BLACK = "#000000"
_MOVED, _FAINT = 40, 0.02
"""How far a colour is moved to see what follows, and the share below which nothing does."""

_TRIED = "/"
"""The name of a colourway that is only tried; a slash is in no name of a file."""


@lru_cache(maxsize=8)
def _read(text: str, file: Path) -> Collection:
    return parse_collection(text, file)


def _print(shelved: Shelved, collection: Collection, one: Print) -> Collected:
    if one.file not in shelved.drawn:
        try:
            shelved.drawn[one.file] = open_source(one.file, allowed=shelved.allowed)
        except InputError as error:
            raise error.of(one.file) from None
    return Collected(collection, one, shelved.drawn[one.file])


def _named(shelved: Shelved, text: str, asked: Mapping[str, Any]) -> Collected:
    collection = _read(text, shelved.file)
    return _print(shelved, collection, collection.print_of(str(asked["print"])))


def dress(shelved: Shelved, text: str, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return every print in a colourway: its size, what of the palette it uses, and a key.

    The key is another one where the print looks otherwise. A print that can't be opened says why.

    Raises:
        InputError: there is no such colourway.
    """
    collection = _read(text, shelved.file)
    way = str(asked["way"])
    palette = collection.palette_in(way)
    found = []
    for one in collection.prints:
        try:
            own = _print(shelved, collection, one)
            repeat = own.in_colourway(way)
            found.append(
                {
                    "print": slug(one.name),
                    "key": _key(own, way),
                    "block": [float(side) for side in repeat.block_size],
                    "tile": [float(repeat.width), float(repeat.height)],
                    "size": size_of(repeat),
                    "uses": [k for k, name in enumerate(palette) if any(_follow(own, way, name))],
                }
            )
        except InputError as error:
            found.append({"print": slug(one.name), "error": str(error)})
    return {"prints": found}


def _key(own: Collected, way: str) -> str:
    said = [str(own.one.file), str(own.one.width), own.targets(way), own.ground_in(way)]
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()[:16]


def picture(shelved: Shelved, text: str, asked: Mapping[str, Any]) -> bytes:
    """Return a print in a colourway, a PNG of one block; raises where it can't be drawn."""
    own, way, scale = _named(shelved, text, asked), str(asked["way"]), _scale(asked)

    def drawn() -> bytes:
        return png_of(Image.fromarray(_block(own.in_colourway(way), scale)))

    return _kept(shelved, f"{_key(own, way)} {scale}", drawn)


def shares(shelved: Shelved, text: str, asked: Mapping[str, Any]) -> bytes:
    """Return how much of each of three palette colours is in every pixel of a print's block.

    They are the channels of a picture: what sRGB compositing makes of a colour that moves is a
    sum over what is laid. Shades and mixed yarns that follow it by a part count by that part.
    ``group`` says which three, in the palette's order.

    Raises:
        InputError: there is no such print, colourway or group, or it can't be drawn.
    """
    own, way, scale = _named(shelved, text, asked), str(asked["way"]), _scale(asked)
    names, group = list(own.collection.palette), asked.get("group")
    if type(group) is not int or not 0 <= 3 * group < len(names):
        raise InputError("there are no such colours")
    key = f"{_key(own, way)} {scale} {group} {list(own.collection.palette_in(way).items())}"

    def drawn() -> bytes:
        follow = [_follow(own, way, name) for name in names[3 * group : 3 * group + 3]]
        art = art_colours(own.drawn.repeat)
        colours = {colour: _coded([by.get(colour, 0.0) for by, _ in follow]) for colour in art}
        coded = _coded_block(own, colours, _coded([ground for _, ground in follow]), scale)
        if any(f.kind == IMAGE for p in own.drawn.repeat.placements for f in p.motif.features):
            # Pictures keep their colours in both.
            bare = _coded_block(own, dict.fromkeys(colours, _BLACK), _BLACK, scale)
            coded = np.where(coded > bare, coded - bare, 0).astype(np.uint8)
        return png_of(Image.fromarray(coded))

    return _kept(shelved, key, drawn)


def _coded(shares: list[float]) -> str:
    return "#" + "".join(f"{round(255 * share):02x}" for share in (*shares, 0.0, 0.0)[:3])


def _coded_block(
    own: Collected, colours: Mapping[str, str], ground: str, scale: Fraction
) -> NDArray[np.uint8]:
    repeat = own.in_colours(colours, ground)
    return _block(repeat, scale, over_black=True)


def _follow(own: Collected, way: str, name: str) -> tuple[dict[str, float], float]:
    """Return how much each colour of the art, and the ground, moves with a palette colour."""
    palette = own.collection.palette_in(way)
    here = rgb_of(palette[name]).astype(int)
    step = np.where(here < 128, _MOVED, -_MOVED)
    there = "#" + "".join(f"{v:02x}" for v in here + step)
    before, after = (_seen(own, palette | {name: colour}) for colour in (palette[name], there))

    def share(one: str | None, other: str | None) -> float:
        if one is None or other is None:
            return 0.0
        moved = (rgb_of(other).astype(float) - rgb_of(one)) / step
        found = float(np.clip(moved.mean(), 0, 1))
        return found if found > _FAINT else 0.0

    shares = {colour: share(before[0][colour], after[0][colour]) for colour in before[0]}
    return {c: v for c, v in shares.items() if v}, share(before[1], after[1])


def _seen(own: Collected, palette: Mapping[str, str]) -> tuple[dict[str, str], str | None]:
    tried = replace(own, collection=replace(own.collection, colourways={_TRIED: palette}))
    return tried.targets(_TRIED), tried.ground_in(_TRIED)


def find(shelved: Shelved, text: str, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the cohesion check finds: the same findings as the command's.

    Raises:
        InputError: a profile that is none, or a print can't be drawn.
    """
    collection = _read(text, shelved.file)
    sources = tuple(
        collected(collection, one, _print(shelved, collection, one).drawn)
        for one in collection.prints
    )
    profile = load_profile(str(asked.get("profile") or DEFAULT))
    report = check_cohesion(Line(collection, sources), profile)
    return {"found": [one.told() for one in report.findings], "line": report.line()}


def blend(shelved: Shelved, text: str, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return a blender that is tried, in a colourway, as it would be drawn.

    Asked are its ``kind``, what it is ``told`` as a recipe has it, palette names of its
    ``colours`` and of its ``ground``, the ``way`` and the scale.

    Raises:
        InputError: its keys don't go together, or the palette has no such name.
    """
    palette = _read(text, shelved.file).palette_in(str(asked["way"]))

    def colour(name: Any) -> str:
        if name not in palette:
            raise InputError(f"the palette has no “{str(name)[:40]}”")
        return palette[name]

    told = {**asked["told"], "colours": [colour(name) for name in asked["colours"]]}
    file = shelved.file.with_name("blender.toml")
    said = blender_text("blender", str(asked["kind"]), told, ground=colour(asked["ground"]))
    repeat, notes = drawn_blender(said, file)
    drawn = _block(repeat, _scale(asked))
    return {
        "picture": base64.b64encode(png_of(Image.fromarray(drawn))).decode(),
        "block": [float(side) for side in repeat.block_size],
        "size": size_of(repeat),
        "notes": list(notes),
    }


def _scale(asked: Mapping[str, Any]) -> Fraction:
    """Return pixels to the mm of the cloth."""
    scale = Fraction(float(asked["scale"])).limit_denominator(1000)
    if not Fraction(1, 20) <= scale <= 40:
        raise InputError("that is no scale for a page")
    return scale


def _block(repeat: Repeat, scale: Fraction, *, over_black: bool = False) -> NDArray[np.uint8]:
    """Return one straight block as RGB, on white or on black."""
    wide, high = repeat.block_size
    most = (MOST_PIXELS / float(wide * high)) ** 0.5
    exporter = Exporter(repeat)
    plan = exporter.plan(min(scale, Fraction(most).limit_denominator(1000)) * MM_PER_INCH)
    strips = exporter.sheet(plan, block=True).strips(exporter.painter(plan))
    return np.concatenate([strip[..., :3] if over_black else opaque(strip) for strip in strips])


def _kept(shelved: Shelved, key: str, draw: Callable[[], bytes]) -> bytes:
    if key not in shelved.pictures:
        while len(shelved.pictures) >= MOST_KEPT:
            del shelved.pictures[next(iter(shelved.pictures))]
        shelved.pictures[key] = draw()
    return shelved.pictures[key]


WORK = {"dress": dress, "picture": picture, "shares": shares, "find": find, "blend": blend}


if __name__ == "__main__":
    answer_requests(WORK)
