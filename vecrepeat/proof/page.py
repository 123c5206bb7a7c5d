"""The proof as one page for a browser: pan, zoom, layouts, colourways; no network, no server."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from importlib.resources import files
from typing import Any

from vecrepeat.colour.colourway import Colourway, full_map, recolour_by
from vecrepeat.colour.colourways import recipe_colourways
from vecrepeat.core.errors import InputError
from vecrepeat.proof.sheet import Proof
from vecrepeat.recipe.model import AS_DRAWN
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Repeat
from vecrepeat.sources.source import Source
from vecrepeat.util.xmltext import escaped
from vecrepeat.write.svg import Motifs

TRIED = ("block", "half-drop", "brick", "turnover-across")
"""Layouts that the page offers besides the design's own."""


def page_html(proof: Proof, source: Source) -> str:
    """Return the page of a proof at print size; its source has the art to try layouts with."""
    ids = Motifs(proof.repeat).ids
    motifs = list(ids)
    data = {
        "motifs": [ids[motif] for motif in motifs],
        "layouts": list(_layouts(proof, source, motifs)),
        "colourways": list(_colourways(proof, source)),
        "palette": [
            {
                "name": entry.name,
                "colour": entry.colour,
                "share": f"{entry.share:.1%}",
                "ground": entry.is_ground,
            }
            for entry in proof.palette.entries
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
    scripts = (files("vecrepeat.repeat") / "lattice.js", folder / "page.js")
    script = "\n".join(file.read_text(encoding="utf-8") for file in scripts)
    return filled(page, title=proof.title, script=script, data=data)


def filled(page: str, *, title: str, script: str, data: Any) -> str:
    """Return a page of ours with its title, script and data in place."""
    # Inside a script element only “</” could end it (HTML Standard §4.12.1.3).
    packed = json.dumps(data, ensure_ascii=False, separators=(",", ":")).replace("</", "<\\/")
    for key, text in (("title", escaped(title)), ("script", script), ("data", packed)):
        page = page.replace(f"{{{{{key}}}}}", text)
    return page


def _layouts(proof: Proof, source: Source, motifs: Sequence[Any]) -> Any:
    """Yield the design's own layout, then others to try, as plain data."""
    scale = proof.repeat.width / source.repeat.width
    yield _laid(str(source.layout), proof.repeat, motifs)
    if proof.repeat.motifs_alone is not proof.repeat:
        # A patterned ground is drawn for its layout.
        return
    for name in TRIED:
        if name == str(source.layout):
            continue
        try:
            repeat = source.page.with_layout(Layout.parse(name))
        except InputError:
            continue
        yield _laid(name, repeat.scaled(scale), motifs)


def _laid(name: str, repeat: Repeat, motifs: Sequence[Any]) -> dict[str, Any]:
    number = {motif.name: i for i, motif in enumerate(motifs)}
    return {
        "name": name,
        **repeat.layout.as_dict(repeat.width, repeat.height),
        "block": [float(side) for side in repeat.block_size],
        "placements": [
            {
                "motif": number[placement.motif.name],
                "matrix": [round(v, 9) for v in placement.transform],
                "box": [round(float(v), 4) for v in box],
            }
            for placement, box in zip(repeat.placements, repeat.boxes, strict=True)
        ],
    }


def _colourways(proof: Proof, source: Source) -> Iterator[dict[str, Any]]:
    """Yield the art's own colours, then the recipe's colourways, as what is drawn of each."""
    for way in (Colourway(AS_DRAWN), *recipe_colourways(source, proof.palette)):
        targets = full_map(proof.repeat, proof.palette, way)
        repeat = recolour_by(proof.repeat, targets, way)
        yield {
            "name": way.name,
            "definitions": Motifs(repeat).definitions(),
            "ground": None if repeat.ground is None else repeat.ground.colour,
            "colours": targets,
        }
