"""The same art in other colours: a pure function from repeat to repeat.

Only colours in the markup change, so outlines, boxes and the index of the repeat are taken
over as they are, however large the sheet.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import TypeVar

from vecrepeat.repeat import Ground, Motif, Placement, Repeat

_PAINT_RE = re.compile(
    r'(\s(?:fill|stroke|stop-color|flood-color|lighting-color|color)=")([^"]*#[^"]*)(")'
)
_HEX_RE = re.compile(r"#[0-9a-fA-F]{6}(?![0-9a-zA-Z_-])")
_BARE_STOP_RE = re.compile(r"<stop(?![^>]*\sstop-color=)")
_START_RE = re.compile(r"<([a-zA-Z]+)((?:\s[^>]*)?)>")
_REFERENCE_RE = re.compile(r"#([^\s\"')]+)")
_T = TypeVar("_T", Motif, Placement, Repeat)
_BLACK = "#000000"
"""The paint of a shape or a stop that names none (SVG 2 §13.3, §14.2.4.1)."""

_MOTIF_CACHES = ("outline", "box")
_REPEAT_CACHES = ("boxes", "index")


def recoloured(
    repeat: Repeat, colours: Mapping[str, str], ground: Ground | str | None = ""
) -> Repeat:
    """Return a repeat with its colours exchanged.

    Fills, strokes, gradient stops, and light and floods of filters change; opacities stay, so
    what is translucent is so in its new colour. Pictures keep theirs, and so do masks, whose
    colours are no paint.

    Args:
        repeat: the endless cloth.
        colours: ``#rrggbb`` of the art → ``#rrggbb``; what is not named stays.
        ground: the ground's new colour, a whole ground, None for none, or "" to have it follow
            ``colours``.
    """
    known = {old.lower(): new.lower() for old, new in colours.items()}
    masked = _only_in_masks(repeat)
    motifs = {p.motif: _motif(p.motif, known) for p in repeat.placements}
    placements = tuple(_placement(p, motifs[p.motif]) for p in repeat.placements)
    resources = {
        key: markup if key in masked else _markup(markup, known)
        for key, markup in repeat.resources.items()
    }
    old = repeat.ground
    if ground == "":
        ground = old and replace(old, colour=known.get(old.colour, old.colour))
    elif isinstance(ground, str):
        ground = Ground(ground.lower(), 1.0 if old is None else old.opacity)
    assert not isinstance(ground, str)
    result = replace(repeat, placements=placements, resources=resources, ground=ground)
    return _keeping(repeat, result, _REPEAT_CACHES)


def _motif(motif: Motif, colours: Mapping[str, str]) -> Motif:
    markup = _markup(motif.markup, colours)
    new = tuple(dict.fromkeys(colours.get(colour, colour) for colour in motif.colours))
    return _keeping(motif, replace(motif, markup=markup, colours=new), _MOTIF_CACHES)


def _placement(placement: Placement, motif: Motif) -> Placement:
    return _keeping(placement, replace(placement, motif=motif), ("parts", "outline"))


def _keeping(old: _T, new: _T, names: tuple[str, ...]) -> _T:
    """Hand on what has been worked out of the geometry, which is the same."""
    new.__dict__.update({name: old.__dict__[name] for name in names if name in old.__dict__})
    return new


def _markup(markup: str, colours: Mapping[str, str]) -> str:
    def exchanged(match: re.Match[str]) -> str:
        return colours.get(match.group().lower(), match.group())

    def paint(match: re.Match[str]) -> str:
        return match.group(1) + _HEX_RE.sub(exchanged, match.group(2)) + match.group(3)

    changed = _PAINT_RE.sub(paint, markup)
    if colours.get(_BLACK, _BLACK) != _BLACK:
        changed = _BARE_STOP_RE.sub(f'<stop stop-color="{colours[_BLACK]}"', changed)
        start = _START_RE.match(changed)
        # What names no fill inherits it from the outermost element.
        if start and not re.search(r"\sfill=", start.group(2)) and "Gradient" not in start.group(1):
            at = start.end(1)
            changed = f'{changed[:at]} fill="{colours[_BLACK]}"{changed[at:]}'
    return changed


def _only_in_masks(repeat: Repeat) -> set[str]:
    """Return the ids of masks and of what nothing but masks refers to."""
    masks = {key for key, text in repeat.resources.items() if text.startswith("<mask")}
    drawn = [p.motif.markup for p in repeat.placements]
    drawn += [text for key, text in repeat.resources.items() if key not in masks]
    elsewhere = {key for text in drawn for key in _REFERENCE_RE.findall(text)}
    inside = {key for mask in masks for key in _REFERENCE_RE.findall(repeat.resources[mask])}
    return masks | (inside - elsewhere)
