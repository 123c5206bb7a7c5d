"""The separate workflow: a repeat to plates, one for each ink."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

from PIL import Image, ImageOps

from vecrepeat.colour.colourway import art_colours
from vecrepeat.colour.flatten import WHITE
from vecrepeat.colour.gradients import by_stops
from vecrepeat.colour.palette import Palette, css_name, palette
from vecrepeat.colour.plates.files import (
    BLACK,
    Shown,
    bits,
    path_data,
    plate_pixels,
    plate_svg,
    write_text,
    write_tiff,
)
from vecrepeat.colour.plates.marks import marks
from vecrepeat.colour.plates.pdf import path_operators, plate_pdf, plates_pdf
from vecrepeat.colour.plates.separable import refuse_pictures, refuse_soft, refuse_unshaped
from vecrepeat.colour.plates.separation import (
    APART,
    THINNEST,
    Separation,
    plate_facts,
    printing_order,
    scaled,
    separate,
)
from vecrepeat.colour.plates.tints import halftone, tint_plates
from vecrepeat.colour.reduce import Reduction, flat_areas, into_flats, reduction
from vecrepeat.colour.visible import Visible, visible
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Rect
from vecrepeat.core.names import slug
from vecrepeat.core.units import Size, counted
from vecrepeat.draw.plan import PixelPlan, plan_pixels, printed_size
from vecrepeat.repeat.model import Repeat
from vecrepeat.util.files import write_whole

SOFT = ("refuse", "flat", "halftone", "tint")
FORMATS = ("svg", "pdf", "tiff")

MOST_PLATES = 24
"""More inks than this are asked for by number only."""

MOST_PIXELS = 1 << 30
"""A plate of more pixels than this would not fit into memory."""

TOLERANCE = 0.01
"""Greatest distance in mm between a curve and a plate's polygon."""

ANGLES = (15.0, 75.0, 45.0, 0.0, 30.0, 60.0)
"""Angles of halftone screens in turn, in degrees (common practice, no source)."""


@dataclass(frozen=True)
class Wanted:
    """How a repeat is to be separated.

    Attributes:
        colours: how many inks; None for as many as the art has flat colours.
        keep: colours that must be among the inks.
        names: colour → name.
        soft: what becomes of gradients and opacity: ``refuse``, ``flat``, ``halftone``, ``tint``.
        cloth: the colour of the cloth, which is no ink; None where it is not known.
        trap: by how many mm the lighter ink is spread under the darker.
        overprint: inks under which nothing is knocked out, by name or colour.
        formats: of ``svg``, ``pdf`` and ``tiff``.
        dpi: of TIFF files.
        width: one tile's print width in mm.
        marks: whether to put marks round the repeat.
        lines: halftone dots to the inch.
        laydown: grams of ink on a square metre printed solid, where it is known.
    """

    colours: int | None = None
    keep: tuple[str, ...] = ()
    names: dict[str, str] = field(default_factory=dict)
    soft: str = "refuse"
    cloth: str | None = None
    trap: float = 0.0
    overprint: tuple[str, ...] = ()
    formats: tuple[str, ...] = ("svg",)
    dpi: Fraction = Fraction(300)
    width: Fraction | None = None
    marks: bool = True
    lines: float = 45.0
    laydown: float | None = None


@dataclass(frozen=True)
class Separated:
    """What was written.

    Attributes:
        plates: a plate's facts and files each, in printing order.
        files: all files, the list of plates last.
        notes: what the printer should know, a sentence each.
    """

    plates: tuple[dict[str, Any], ...]
    files: tuple[Path, ...]
    notes: tuple[str, ...]

    def lines(self) -> list[str]:
        """Return the facts as lines."""
        return [
            f"plate {p['order']}: {p['name']} {p['colour']}, {p['coverage'] * 100:.2f} % of the "
            f"cloth, {p['ink_cm2_per_m2']:,.0f} cm² of ink to the m²"
            + (f", {p['ink_g_per_m2']:.2f} g" if "ink_g_per_m2" in p else "")
            + (", overprints" if p["overprints"] else "")
            for p in self.plates
        ]

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data."""
        return {
            "plates": list(self.plates),
            "files": [str(file) for file in self.files],
            "notes": list(self.notes),
        }


def write_plates(
    repeat: Repeat,
    folder: Path,
    wanted: Wanted,
    *,
    step: Callable[[int], None] = lambda _: None,
) -> Separated:
    """Separate a repeat and write its plates over one straight block.

    Args:
        repeat: the endless cloth.
        folder: where the files go.
        wanted: how.
        step: called with plates written.

    Raises:
        InputError: art that can't be separated so, too many or too few colours, or a file that
            can't be written.
    """
    if wanted.soft in ("halftone", "tint"):
        return _write_tints(repeat, folder, wanted, step)
    plan, factor = _planned(repeat, wanted)
    seen, choice, found = _chosen(repeat, wanted, APART * wanted.trap / factor)
    names = {ink: name for ink, name in _names(choice, found).items() if ink != wanted.cloth}
    if wanted.overprint:
        inks = {_ink(text, names) for text in wanted.overprint}
        through = [c for c in art_colours(repeat, found) if choice.nearest(c) in inks]
        seen = visible(repeat, tolerance=TOLERANCE, through=through)
    block = Rect(0.0, 0.0, *(float(side) for side in repeat.block_size))
    thin = max(THINNEST, 25.4 / float(wanted.dpi)) if "tiff" in wanted.formats else THINNEST
    separation = scaled(
        separate(
            seen.banded(into_flats(choice)),
            choice,
            block,
            names=names,
            trap=wanted.trap / factor,
            thin=thin / factor,
            cloth=wanted.cloth,
        ),
        factor,
    )
    return _write_flat(repeat, separation, plan, folder, wanted, step)


def _write_flat(
    repeat: Repeat,
    separation: Separation,
    plan: PixelPlan,
    folder: Path,
    wanted: Wanted,
    step: Callable[[int], None],
) -> Separated:
    facts, files = [], []
    base = slug(repeat.name) or "repeat"
    size = _block_size(repeat, plan)
    layers: list[Shown] = []
    paths: list[bytes] = []
    for plate in separation.plates:
        drawn = marks(separation, plate, repeat.name) if wanted.marks else None
        stem = f"{base}-{plate.order:02}-{slug(plate.name)}"
        title = f"{repeat.name}: {plate.name}"
        own = []
        if "svg" in wanted.formats:
            own.append(folder / f"{stem}.svg")
            layers.append(Shown(plate, path_data(plate.printed), plate.colour))
            black = layers[-1]._replace(colour=BLACK, marks=drawn)
            write_text(plate_svg(separation, [black], title), own[-1])
        if "pdf" in wanted.formats:
            own.append(folder / f"{stem}.pdf")
            paths.append(path_operators(plate.printed))
            write_whole(own[-1], plate_pdf(separation, plate, paths[-1], size, drawn, title))
        if "tiff" in wanted.formats:
            own.append(folder / f"{stem}.tiff")
            write_tiff(plate_pixels(plate, separation.region, plan, drawn), own[-1], wanted.dpi)
        row = plate_facts(separation, plate, wanted.laydown)
        facts.append({**row, "files": [file.name for file in own]})
        files += own
        step(1)
    if "svg" in wanted.formats:
        everything = folder / f"{base}-all-plates.svg"
        write_text(plate_svg(separation, layers, repeat.name), everything)
        files.append(everything)
    if "pdf" in wanted.formats:
        everything = folder / f"{base}-all-plates.pdf"
        data = plates_pdf(separation, paths, size, repeat.name, marked=wanted.marks)
        write_whole(everything, data)
        files.append(everything)
    return _listed(repeat, separation.region, plan, facts, files, folder, wanted)


def _write_tints(
    repeat: Repeat, folder: Path, wanted: Wanted, step: Callable[[int], None]
) -> Separated:
    if wanted.trap > 0 or wanted.overprint:
        raise InputError(
            "traps and overprints need flat colours", hint=f"leave them out, or --soft {SOFT[1]}"
        )
    if set(wanted.formats) - {"tiff"}:
        raise InputError("halftones and tints are pixels", hint="take --format tiff")
    refuse_pictures(repeat)
    seen = visible(repeat, tolerance=TOLERANCE)
    found = palette(seen.banded(by_stops), names=wanted.names)
    choice = _inks(seen.banded(by_stops), wanted)
    plan, factor = _planned(repeat, wanted)
    names = _names(choice, found)
    inks = [ink for ink in printing_order(choice.colours) if ink != wanted.cloth]
    plates = tint_plates(repeat, plan, inks, art_colours(repeat, found), wanted.cloth or WHITE)
    facts, files = [], []
    for order, ink in enumerate(inks, 1):
        tint = plates[ink]
        coverage = float(tint.mean()) / 255
        if wanted.soft == "tint":
            picture = Image.fromarray(255 - tint, "L")
        else:
            dots = halftone(tint, wanted.lines * 1000 / float(wanted.dpi), ANGLES[order % 6 - 1])
            picture = ImageOps.invert(bits(dots).convert("L")).convert(
                "1", dither=Image.Dither.NONE
            )
        file = folder / f"{slug(repeat.name) or 'repeat'}-{order:02}-{slug(names[ink])}.tiff"
        write_tiff(picture, file, wanted.dpi)
        files.append(file)
        row: dict[str, Any] = {
            "order": order,
            "name": names[ink],
            "colour": ink,
            "overprints": False,
            "coverage": coverage,
            "ink_cm2_per_m2": coverage * 10_000,
            "files": [file.name],
        }
        if wanted.laydown is not None:
            row["ink_g_per_m2"] = coverage * wanted.laydown
        facts.append(row)
        step(1)
    region = Rect(0.0, 0.0, *(float(side) * factor for side in repeat.block_size))
    return _listed(repeat, region, plan, facts, files, folder, wanted)


def _listed(
    repeat: Repeat,
    region: Rect,
    plan: PixelPlan,
    facts: Sequence[dict[str, Any]],
    files: list[Path],
    folder: Path,
    wanted: Wanted,
) -> Separated:
    """Write the list of plates beside them."""
    notes = []
    if "tiff" in wanted.formats and (note := plan.note()):
        notes.append(note)
    notes += [
        f"{row['name']} is a plate over {row['coverage'] * 100:.0f} % of the cloth: where the "
        f"cloth itself is white, --cloth '{WHITE}' leaves it bare"
        for row in facts
        if row["colour"] == WHITE and wanted.cloth is None
    ]
    listing = folder / f"{slug(repeat.name) or 'repeat'}-plates.json"
    data = {
        "design": repeat.name,
        "layout": str(repeat.layout),
        "straight_block_mm": [region.width, region.height],
        "straight_block_px": list(plan.block) if "tiff" in wanted.formats else None,
        "dpi": float(wanted.dpi) if "tiff" in wanted.formats else None,
        "cloth": wanted.cloth,
        "trap_mm": wanted.trap,
        "gradients_and_opacity": wanted.soft,
        "overprint": [row["name"] for row in facts if row["overprints"]],
        "plates": list(facts),
        "notes": notes,
    }
    write_text(json.dumps(data, indent=2, ensure_ascii=False) + "\n", listing)
    return Separated(tuple(facts), (*files, listing), tuple(notes))


def _chosen(repeat: Repeat, wanted: Wanted, apart: float) -> tuple[Visible, Reduction, Palette]:
    """Return what is seen, the inks, and the palette they are named after."""
    refuse_unshaped(repeat)
    seen = visible(repeat, tolerance=TOLERANCE, apart=apart)
    if wanted.soft == "refuse":
        refuse_soft(seen)
    stops = seen.banded(by_stops)
    return seen, _inks(stops, wanted), palette(stops, names=wanted.names)


def _inks(stops: Visible, wanted: Wanted) -> Reduction:
    """Return the inks, and the cloth's colour among them where it is known."""
    cloth = wanted.cloth
    areas = flat_areas(stops, cloth or WHITE)
    if cloth is None:
        return reduction(areas, _count(areas, wanted), wanted.keep)
    own = areas.pop(cloth, 0.0)
    if not areas:
        raise InputError(f"all that is seen is {cloth}, the cloth's colour: nothing is printed")
    count = _count(areas, wanted) + 1
    return reduction({**areas, cloth: own}, count, (*wanted.keep, cloth))


def _count(areas: dict[str, float], wanted: Wanted) -> int:
    if wanted.colours is not None:
        return wanted.colours
    if len(areas) > MOST_PLATES:
        raise InputError(
            f"the art shows {len(areas)} flat colours, a plate each", hint="give --colours N"
        )
    return max(1, len(areas))


def _planned(repeat: Repeat, wanted: Wanted) -> tuple[PixelPlan, float]:
    """Return the tile in whole pixels, and print size over drawn size."""
    printed = printed_size(repeat, wanted.width, None)
    plan = plan_pixels(repeat, wanted.dpi, width=wanted.width)
    pixels = plan.block[0] * plan.block[1]
    if "tiff" in wanted.formats and pixels > MOST_PIXELS:
        raise InputError(
            f"a plate of {plan.block[0]:,} × {plan.block[1]:,} px is too large",
            hint="lower the dpi, or take SVG or PDF plates",
        )
    return plan, float(printed.width / repeat.width)


def _block_size(repeat: Repeat, plan: PixelPlan) -> Size:
    """Return the straight block's print size, exact."""
    factor = plan.printed.width / repeat.width
    return Size(*(side * factor for side in repeat.block_size))


def _names(choice: Reduction, found: Palette) -> dict[str, str]:
    """Return ink's colour → name, each name once."""
    names: dict[str, str] = {}
    for colour in choice.colours:
        entry = found.entry(colour)
        base = css_name(colour) if entry is None else entry.name
        name, count = base, 2
        while name in names.values():
            name, count = f"{base}-{count}", count + 1
        names[colour] = name
    return names


def _ink(text: str, names: dict[str, str]) -> str:
    """Return the ink that a name or a colour means."""
    for colour, name in names.items():
        if text.lower() in (colour, name.lower()):
            return colour
    raise InputError(f"there is no ink “{text}”", hint=f"there are {', '.join(names.values())}")


def summary(done: Separated, folder: Path) -> str:
    """Return what was written as one line."""
    return f"{folder}: {counted(len(done.plates), 'plate')} in {counted(len(done.files), 'file')}"
