"""The separate workflow: a repeat to plates, one for each ink."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

from PIL import Image

from vecrepeat.colour.colourway import art_colours
from vecrepeat.colour.flatten import WHITE
from vecrepeat.colour.gradients import by_stops
from vecrepeat.colour.palette import Palette, css_name, palette
from vecrepeat.colour.plates.files import (
    BLACK,
    DrawnPlate,
    bits,
    path_data,
    plate_pixels,
    plate_svg,
    write_tiff,
)
from vecrepeat.colour.plates.marks import marks
from vecrepeat.colour.plates.pdf import path_operators, plate_pdf, plates_pdf
from vecrepeat.colour.plates.separation import (
    APART,
    THINNEST,
    printing_order,
    refuse_soft,
    refuse_unshaped,
    scaled,
    separate,
)
from vecrepeat.colour.plates.tints import halftone, rendered_plates, tint_plates
from vecrepeat.colour.reduce import Reduction, flat_areas, into_flats, reduction
from vecrepeat.colour.rendered import Rendered, look, without_areas
from vecrepeat.colour.visible import Visible, visible
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Rect
from vecrepeat.core.names import listed, slug, unique
from vecrepeat.core.units import Size, counted
from vecrepeat.draw.plan import PixelPlan, plan_pixels
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
        lines = [
            f"plate {p['order']}: {p['name']} {p['colour']}, {p['coverage'] * 100:.2f} % of the "
            f"cloth, {p['ink_cm2_per_m2']:,.0f} cm² of ink to the m²"
            + (f", {p['ink_g_per_m2']:.2f} g" if "ink_g_per_m2" in p else "")
            + (", overprints" if p["overprints"] else "")
            for p in self.plates
        ]
        count = f"{counted(len(self.plates), 'plate')} in {counted(len(self.files), 'file')}"
        return [*lines, f"{self.files[-1].parent}: {count}"]

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
    write = _write_tints if wanted.soft in ("halftone", "tint") else _write_flats
    base = slug(repeat.name) or "repeat"
    rows: list[dict[str, Any]] = []
    files: list[Path] = []
    plan = plan_pixels(repeat, wanted.dpi, width=wanted.width)
    in_pixels = "tiff" in wanted.formats
    if in_pixels and plan.block[0] * plan.block[1] > MOST_PIXELS:
        raise InputError(
            f"a plate of {plan.block[0]:,} × {plan.block[1]:,} px is too large",
            hint="lower the dpi, or take SVG or PDF plates",
        )
    for row, own in write(repeat, folder / base, wanted, plan):
        files += own
        if row:
            rows.append({**row, "files": [file.name for file in own]})
            step(1)
    notes = [note] if in_pixels and (note := plan.note()) else []
    if wanted.soft in ("halftone", "tint") and (soft := without_areas(repeat)):
        shown = listed([f"“{name}”" for name in soft])
        notes.append(
            f"plates take their shares from a rendering at {float(wanted.dpi):g} dpi: {shown} "
            "have no exact areas"
        )
    notes += [
        f"{row['name']} is a plate over {row['coverage'] * 100:.0f} % of the cloth: where the "
        f"cloth itself is white, --cloth '{WHITE}' leaves it bare"
        for row in rows
        if row["colour"] == WHITE and wanted.cloth is None
    ]
    factor = float(plan.printed.width / repeat.width)
    data = {
        "design": repeat.name,
        "layout": str(repeat.layout),
        "straight_block_mm": [float(side) * factor for side in repeat.block_size],
        "straight_block_px": list(plan.block) if in_pixels else None,
        "dpi": float(wanted.dpi) if in_pixels else None,
        "cloth": wanted.cloth,
        "trap_mm": wanted.trap,
        "gradients_and_opacity": wanted.soft,
        "overprint": [row["name"] for row in rows if row["overprints"]],
        "plates": rows,
        "notes": notes,
    }
    listing = folder / f"{base}-plates.json"
    write_whole(listing, (json.dumps(data, indent=2, ensure_ascii=False) + "\n").encode())
    return Separated(tuple(rows), (*files, listing), tuple(notes))


_Written = Iterator[tuple[dict[str, Any] | None, list[Path]]]
"""Each plate's facts and its files; last, without facts, files of all plates together."""


def _write_flats(repeat: Repeat, base: Path, wanted: Wanted, plan: PixelPlan) -> _Written:
    """Write flat plates to files whose names begin with ``base``."""
    factor = float(plan.printed.width / repeat.width)
    refuse_unshaped(repeat)
    seen = visible(repeat, tolerance=TOLERANCE, apart=APART * wanted.trap / factor)
    if wanted.soft == "refuse":
        refuse_soft(seen)
    stops = seen.banded(by_stops)
    choice, found = _inks(stops, wanted), palette(stops, names=wanted.names)
    names = {ink: name for ink, name in _names(choice, found).items() if ink != wanted.cloth}
    if wanted.overprint:
        inks = {_ink(text, names) for text in wanted.overprint}
        through = [c for c in art_colours(repeat, found) if choice.nearest(c) in inks]
        seen = visible(repeat, tolerance=TOLERANCE, through=through)
    thin = max(THINNEST, 25.4 / float(wanted.dpi)) if "tiff" in wanted.formats else THINNEST
    separation = scaled(
        separate(
            seen.banded(into_flats(choice)),
            choice,
            Rect(0.0, 0.0, *(float(side) for side in repeat.block_size)),
            names=names,
            trap=wanted.trap / factor,
            thin=thin / factor,
            cloth=wanted.cloth,
        ),
        factor,
    )
    size = Size(*(side * plan.printed.width / repeat.width for side in repeat.block_size))
    layers: list[DrawnPlate] = []
    paths: list[bytes] = []
    for plate in separation.plates:
        drawn = marks(separation, plate, repeat.name) if wanted.marks else None
        title = f"{repeat.name}: {plate.name}"
        files = {kind: _file(base, plate.order, plate.name, kind) for kind in wanted.formats}
        if "svg" in files:
            layers.append(DrawnPlate(plate, path_data(plate.printed), plate.colour))
            black = layers[-1]._replace(colour=BLACK, marks=drawn)
            write_whole(files["svg"], plate_svg(separation, [black], title).encode())
        if "pdf" in files:
            paths.append(path_operators(plate.printed))
            pdf = plate_pdf(separation, plate, paths[-1], size, drawn, title)
            write_whole(files["pdf"], pdf)
        if "tiff" in files:
            pixels = plate_pixels(plate, separation.region, plan, drawn)
            write_tiff(pixels, files["tiff"], wanted.dpi)
        areas = {"area_cm2": plate.area.area / 100, "trap_cm2": plate.trap.area / 100}
        coverage = separation.coverage(plate)
        facts = _facts(plate.order, plate.name, plate.colour, coverage, wanted, **areas)
        in_order = [files[kind] for kind in FORMATS if kind in files]
        yield {**facts, "overprints": plate.overprints}, in_order
    if layers:
        everything = base.with_name(f"{base.name}-all-plates.svg")
        write_whole(everything, plate_svg(separation, layers, repeat.name).encode())
        yield None, [everything]
    if paths:
        everything = base.with_name(f"{base.name}-all-plates.pdf")
        data = plates_pdf(separation, paths, size, repeat.name, marked=wanted.marks)
        write_whole(everything, data)
        yield None, [everything]


def _write_tints(repeat: Repeat, base: Path, wanted: Wanted, plan: PixelPlan) -> _Written:
    """Write tints or halftones to files whose names begin with ``base``."""
    if wanted.trap > 0 or wanted.overprint:
        raise InputError(
            "traps and overprints need flat colours", hint=f"leave them out, or --soft {SOFT[1]}"
        )
    if set(wanted.formats) - {"tiff"}:
        raise InputError("halftones and tints are pixels", hint="take --format tiff")
    seen = look(repeat, TOLERANCE)
    found, choice = palette(seen, names=wanted.names), _inks(seen, wanted)
    names = _names(choice, found)
    inks = [ink for ink in printing_order(choice.colours) if ink != wanted.cloth]
    cloth = wanted.cloth or WHITE
    if isinstance(seen, Rendered):
        plates = rendered_plates(repeat, plan, inks, cloth)
    else:
        plates = tint_plates(repeat, plan, inks, art_colours(repeat, found), cloth)
    for order, (ink, tint) in enumerate(zip(inks, plates, strict=True), 1):
        if wanted.soft == "tint":
            picture = Image.fromarray(255 - tint, "L")
        else:
            angle = ANGLES[(order - 1) % len(ANGLES)]
            picture = bits(~halftone(tint, wanted.lines * 1000 / float(wanted.dpi), angle))
        file = _file(base, order, names[ink], "tiff")
        write_tiff(picture, file, wanted.dpi)
        yield _facts(order, names[ink], ink, float(tint.mean()) / 255, wanted), [file]


def _file(base: Path, order: int, name: str, kind: str) -> Path:
    return base.with_name(f"{base.name}-{order:02}-{slug(name)}.{kind}")


def _facts(
    order: int, name: str, colour: str, coverage: float, wanted: Wanted, **areas: float
) -> dict[str, Any]:
    """Return a plate's facts as plain data."""
    facts = {
        "order": order,
        "name": name,
        "colour": colour,
        "overprints": False,
        **areas,
        "coverage": coverage,
        "ink_cm2_per_m2": coverage * 10_000,
    }
    if wanted.laydown is not None:
        facts["ink_g_per_m2"] = coverage * wanted.laydown
    return facts


def _inks(stops: Visible | Rendered, wanted: Wanted) -> Reduction:
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


def _names(choice: Reduction, found: Palette) -> dict[str, str]:
    """Return ink's colour → name, each name once."""
    names: dict[str, str] = {}
    for colour in choice.colours:
        entry = found.entry(colour)
        base = css_name(colour) if entry is None else entry.name
        names[colour] = unique(base, names.values())
    return names


def _ink(text: str, names: dict[str, str]) -> str:
    """Return the ink that a name or a colour means."""
    for colour, name in names.items():
        if text.lower() in (colour, name.lower()):
            return colour
    raise InputError(f"there is no ink “{text}”", hint=f"there are {', '.join(names.values())}")
