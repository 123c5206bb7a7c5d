"""``vecrepeat palette``, ``colourways``, ``reduce`` and ``separate``."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.options import Given, Reply, option
from vecrepeat.cli.progress import progress
from vecrepeat.core.errors import InputError

DELTA_E = options.named("delta-e", click.FloatRange(min=0))


@options.over_source(
    options.output(
        "Write palette files there: CSS, JSON, CSV, TOML and chip cards.",
        options.FOLDER,
        required=False,
    ),
    option(
        "--merge",
        type=DELTA_E,
        default=2.0,
        help="Colours no farther apart than this (CIEDE2000) count as one.",
    ),
    option(
        "--colours",
        "most",
        type=options.COUNT,
        help="At most how many main colours; by default 12 where there are gradients, filters or "
        "pictures, and else all.",
    ),
    option(
        "--name",
        "named",
        multiple=True,
        metavar="COLOUR=NAME",
        help="Call a colour so; may be given several times.",
    ),
    option("--save", is_flag=True, help="Write the palette into the recipe."),
)
def palette(
    given: Given,
    output: Path | None,
    merge: float,
    most: int | None,
    named: tuple[str, ...],
    save: bool,
) -> Reply:
    """List the colours of SRC by the area that is seen of them after all overlaps."""
    from vecrepeat.colour import paletting

    asked = paletting.parse_names(named)
    source = given.opened()
    names = paletting.recipe_names(source) | asked
    _, found = paletting.palette_of(source.repeat, merge=merge, most=most, names=names)
    if save:
        paletting.save_palette(source, found)
    files = [] if output is None else paletting.write_palette(found, output, source.name)
    facts = {
        "file": str(source.file),
        "colours": [entry.as_dict() for entry in found.entries],
        "bare_cloth": found.cloth,
        "files": [str(file) for file in files],
    }
    written = [] if output is None else [f"{output}: {len(files)} palette files"]
    notes = [*source.notes, *paletting.notes_on(found)]
    return Reply(facts, [*paletting.table(found), *written], notes)


@options.over_source(
    options.output("Where the colourways and the line-up sheet go.", options.FOLDER),
    option(
        "--map",
        "pairs",
        multiple=True,
        metavar="COLOUR=COLOUR",
        help="Make one colourway of these; palette names will do on the left.",
    ),
    option("--ground", metavar="COLOUR", help="The ground of the colourway given by --map."),
    option(
        "--suggest",
        type=click.IntRange(0, 7),
        default=0,
        metavar="N",
        help="Add N colourways by rule: the other ground, tonal, muted, ember, dusk, two hue "
        "turns.",
    ),
    option(
        "--keep", is_flag=True, help="Write the colourways of --map and --suggest into the recipe."
    ),
    option(
        "--format",
        "formats",
        type=click.Choice(["png", "svg", "none"]),
        multiple=True,
        default=("png",),
        help="What to write each as; none for the line-up sheet alone.",
    ),
    option("--dpi", type=options.DPI, default="150"),
    options.REPEAT_WIDTH,
    option(
        "--contrast",
        type=DELTA_E,
        default=5.0,
        help="Warn where touching colours come closer than this (CIEDE2000).",
    ),
)
def colourways(
    given: Given,
    output: Path,
    pairs: tuple[str, ...],
    ground: str | None,
    suggest: int,
    keep: bool,
    formats: tuple[str, ...],
    **asked: Any,
) -> Reply:
    """Write SRC in other colours, and one sheet that shows all colourways together.

    A recipe's own [[colourway]] tables come first.
    """
    from vecrepeat.colour import colourways, paletting

    source = given.opened()
    seen, palette = paletting.palette_of(source.repeat, names=paletting.recipe_names(source))
    ways = colourways.gathered(
        seen,
        palette,
        listed=colourways.recipe_colourways(source, palette),
        pairs=paletting.parse_pairs(pairs, "--map"),
        ground=ground,
        suggest=suggest,
    )
    kinds = [kind for kind in dict.fromkeys(formats) if kind != "none"]
    with progress("colourways", len(ways)) as step:
        written, sheet = colourways.write_colourways(
            seen, palette, ways, output, formats=kinds, step=step, **asked
        )
    if keep:
        colourways.keep_colourways(source, ways)
    faults = [f"{way.name}: {fault.line()}" for way in written for fault in way.faults]
    options.tell((way.line() for way in written), [*source.notes, *faults])
    facts = {"colourways": [way.as_dict() for way in written], "line_up": str(sheet)}
    last = f"{sheet}: line-up sheet of {len(written) + 1} colourways"
    return Reply(facts, [last], source.notes)


@options.over_source(
    options.output("The tile to write, SVG or PNG."),
    option("--colours", required=True, type=options.COUNT, help="How many may be left."),
    option(
        "--keep",
        multiple=True,
        metavar="COLOUR",
        help="A colour that must be among them; may be given several times.",
    ),
    option(
        "--steps",
        type=options.COUNT,
        help="At most how many bands a gradient has; by default as many as the colours it passes.",
    ),
    option("--dpi", type=options.DPI, default="300"),
)
def reduce(given: Given, output: Path, colours: int, keep: tuple[str, ...], **asked: Any) -> Reply:
    """Bring SRC to N flat colours, for a process with a limit on them.

    Colours are merged where it shows least: visible area times CIEDE2000. Gradients become
    steps of the colours left.
    """
    from vecrepeat.colour.paletting import parse_colour
    from vecrepeat.colour.reduce import write_reduced

    source = given.opened()
    if output.resolve() == given.file.resolve():
        raise InputError("that is the drawing itself", file=output, hint="give another name")
    kept = [parse_colour(text) for text in keep]
    done = write_reduced(source.repeat, output, colours, keep=kept, **asked)
    return Reply(done.as_dict(), done.lines(), [*source.notes, *done.notes])


@options.over_source(
    options.output("Where the plates go.", options.FOLDER),
    option(
        "--colours", type=options.COUNT, help="How many inks; by default one for every flat colour."
    ),
    option(
        "--keep",
        multiple=True,
        metavar="COLOUR",
        help="A colour that must be an ink; may be given several times.",
    ),
    option(
        "--name",
        "named",
        multiple=True,
        metavar="COLOUR=NAME",
        help="Call an ink so; may be given several times.",
    ),
    option(
        "--soft",
        type=click.Choice(["refuse", "flat", "halftone", "tint"]),
        default="refuse",
        help="What becomes of gradients and opacity: an error, flat steps, dots, or 8-bit tints.",
    ),
    option(
        "--cloth",
        metavar="COLOUR",
        help="The colour of the cloth: what is of it takes no ink and makes no plate.",
    ),
    option(
        "--trap",
        type=options.LENGTH_OR_ZERO,
        default="0mm",
        help="Spread the lighter ink under the darker by this much where they meet.",
    ),
    option(
        "--overprint",
        multiple=True,
        metavar="INK",
        help="Knock nothing out below this ink; may be given several times.",
    ),
    option(
        "--format",
        "formats",
        type=click.Choice(["svg", "pdf", "tiff"]),
        multiple=True,
        help="What to write plates as (svg; tiff where --soft is halftone or tint); several will "
        "do.",
    ),
    option("--dpi", type=options.DPI, default="300"),
    options.REPEAT_WIDTH,
    option(
        "--marks/--no-marks",
        default=True,
        help="Put registration and colour marks round the repeat.",
    ),
    option(
        "--lines",
        type=click.FloatRange(5, 300),
        default=45.0,
        metavar="N",
        help="Halftone dots to the inch.",
    ),
    option(
        "--laydown",
        type=click.FloatRange(min=0, min_open=True),
        metavar="GRAMS",
        help="Grams of ink on a square metre printed solid; tells the grams each plate uses.",
    ),
)
def separate(
    given: Given,
    output: Path,
    colours: int | None,
    keep: tuple[str, ...],
    named: tuple[str, ...],
    soft: str,
    cloth: str | None,
    trap: Fraction,
    formats: tuple[str, ...],
    **asked: Any,
) -> Reply:
    """Write a plate for each colour of SRC, light to dark, over one straight block."""
    from vecrepeat.colour.paletting import parse_colour, parse_names
    from vecrepeat.colour.plates.separating import Wanted, write_plates

    wanted = Wanted(
        colours=colours,
        keep=tuple(parse_colour(text) for text in keep),
        names=parse_names(named),
        soft=soft,
        cloth=None if cloth is None else parse_colour(cloth),
        trap=float(trap),
        formats=formats or (("tiff",) if soft in ("halftone", "tint") else ("svg",)),
        **asked,
    )
    source = given.opened()
    with progress("plates", colours or 1) as step:
        done = write_plates(source.repeat, output, wanted, step=step)
    return Reply(done.as_dict(), done.lines(), [*source.notes, *done.notes])
