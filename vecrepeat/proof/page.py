"""The proof as one page for a browser: pan, zoom, layouts, colourways; no network, no server."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from importlib.resources import files
from typing import Any

from vecrepeat.colour.palette import Entry
from vecrepeat.errors import InputError
from vecrepeat.geometry import Affine
from vecrepeat.layout import Layout
from vecrepeat.proof.sheet import Proof
from vecrepeat.repeat import Placement, Repeat
from vecrepeat.sources import Source
from vecrepeat.vector.document import Ids, motif_definitions, resources
from vecrepeat.xmltext import escaped

TRIED = ("block", "half-drop", "brick", "turnover-across")
"""Layouts that the page offers besides the design's own."""


def page_html(proof: Proof, source: Source) -> str:
    """Return the page.

    Args:
        proof: what it is to tell; its repeat is at print size.
        source: where the art on its page is, to try other layouts with.
    """
    ids = Ids(proof.repeat)
    motifs = list(ids.motif)
    data = {
        "definitions": resources(proof.repeat) + motif_definitions(ids),
        "motifs": [ids.motif[motif] for motif in motifs],
        "layouts": list(_layouts(proof, source, motifs)),
        "colourways": _colourways(proof, source),
        "palette": [
            {
                "name": entry.name,
                "colour": entry.colour,
                "share": f"{entry.share:.1%}",
                "ground": entry.is_ground,
            }
            for entry in proof.palette
        ],
        "facts": list(proof.facts),
        "findings": [
            {"words": f"{f.what}: {f.advice}", "at": None if f.at is None else list(f.at)}
            for f in proof.findings
        ],
        "cautions": list(proof.cautions),
    }
    folder = files("vecrepeat.proof")
    page = folder.joinpath("page.html").read_text(encoding="utf-8")
    script = folder.joinpath("page.js").read_text(encoding="utf-8")
    # Inside a script element only “</” could end it (HTML Standard §4.12.1.3).
    packed = json.dumps(data, ensure_ascii=False, separators=(",", ":")).replace("</", "<\\/")
    for key, text in (("title", escaped(proof.title)), ("script", script), ("data", packed)):
        page = page.replace(f"{{{{{key}}}}}", text)
    return page


def _layouts(proof: Proof, source: Source, motifs: Sequence[Any]) -> Any:
    """Yield the design's own layout, then others to try, as plain data."""
    scale = float(proof.repeat.width / source.repeat.width)
    yield _laid(str(source.layout), proof.repeat, motifs)
    for name in TRIED:
        if name == str(source.layout):
            continue
        try:
            repeat = source.page.with_layout(Layout.parse(name))
        except InputError:
            continue
        yield _laid(name, _sized(repeat, scale, proof.repeat), motifs)


def _sized(repeat: Repeat, scale: float, like: Repeat) -> Repeat:
    """Return a repeat of the art at print size."""
    from dataclasses import replace
    from fractions import Fraction

    if scale == 1:
        return repeat
    grown = Affine.scaling(scale)
    return replace(
        repeat,
        width=repeat.width * Fraction(scale),
        height=repeat.height * Fraction(scale),
        placements=tuple(Placement(p.motif, grown @ p.transform) for p in repeat.placements),
        symmetry=None,
    )


def _laid(name: str, repeat: Repeat, motifs: Sequence[Any]) -> dict[str, Any]:
    lattice = repeat.lattice
    block = repeat.block_size
    number = {motif.name: i for i, motif in enumerate(motifs)}
    return {
        "name": name,
        "width": float(repeat.width),
        "height": float(repeat.height),
        "block": [float(side) for side in block],
        "lattice": [float(v) for v in (*lattice.a, *lattice.b)],
        "placements": [
            {
                "motif": number[placement.motif.name],
                "matrix": [round(v, 9) for v in placement.transform],
                "box": [round(float(v), 4) for v in box],
            }
            for placement, box in zip(repeat.placements, repeat.boxes, strict=True)
        ],
    }


def _colourways(proof: Proof, source: Source) -> list[dict[str, Any]]:
    """Return the art's own colours, then the recipe's colourways, as maps of colours."""
    ground = proof.repeat.ground
    own: dict[str, Any] = {
        "name": "as drawn",
        "map": {},
        "ground": None if ground is None else ground.colour,
    }
    found = [own]
    recipe = source.recipe
    for row in recipe.colourways if recipe else ():
        mapped = _map_of(row.get("colours", {}), proof.palette, recipe.palette if recipe else {})
        back = own["ground"]
        if back is not None:
            back = mapped.get(back, back)
        if "ground" in row:
            back = None if row["ground"] == "none" else row["ground"]
        found.append({"name": row["name"], "map": mapped, "ground": back})
    return found


def _map_of(
    colours: Mapping[str, str], palette: Sequence[Entry], names: Mapping[str, str]
) -> dict[str, str]:
    """Return colours of the art → colours, from palette names or colours."""
    members = {entry.colour: entry.members for entry in palette}
    named = {entry.name: entry.colour for entry in palette} | dict(names)
    found: dict[str, str] = {}
    for key, value in colours.items():
        colour = named.get(key, key).lower()
        for member in members.get(colour, (colour,)):
            found[member] = value
    return found
