"""The command line. The module that a command lives in is imported when it is called."""

from __future__ import annotations

import gc
import importlib
import sys
from collections.abc import Sequence
from pathlib import Path

import click

from vecrepeat.core.allowance import MEMORY, out_of_memory
from vecrepeat.core.errors import InputError
from vecrepeat.util.stopping import hold_if_stopping

SECTIONS = {
    "A drawn page to a repeat": {
        "motifs": "List the motifs of a drawing and the bounds they cross.",
        "compose": "Write the seamless repeat as an SVG pattern.",
        "export": "Write print-ready files: PNG, TIFF, PDF, JPEG, WebP.",
    },
    "Loose motifs to a repeat": {
        "recipe": "Write a first recipe from art.",
        "toss": "Strew a recipe's motifs evenly over the repeat.",
        "trials": "Toss under many seeds and show the best on one sheet, to choose by eye.",
        "fill": "Put fillers into a repeat's voids.",
        "set": "Set a recipe's motifs on a regular grid.",
        "stripe": "Lay a recipe's motifs in stripes down or across the cloth.",
        "trail": "Lay a recipe's motifs along a drawn path.",
        "ditsy": "Scatter a recipe's motifs small and close.",
        "blender": "Write a recipe of dots, stripes, checks and the like.",
        "board": "Begin, arrange and write designs by hand, on a page of this machine.",
        "trace": "Turn flat-coloured pixel motifs into vector motifs.",
    },
    "Looking before printing": {
        "check": "Find what ruins a repeat: bad joins, collisions, voids, alleys.",
        "proof": "Write a true-scale proof sheet, or a page to look at.",
    },
    "Colour": {
        "palette": "List the colours of a design and how much is seen of each.",
        "colourways": "Write a design in other colours, and a sheet of them all.",
        "swatches": "Bring a palette in from a file or picture, and write it as another.",
        "reduce": "Bring art to a few flat colours.",
        "separate": "Write a plate for each colour, for screen and rotary printing.",
    },
    "Collections": {
        "collection": "Propose a collection of loose motifs: hero, secondaries, blenders.",
        "cohesion": "Find what keeps a collection's prints from belonging together.",
        "linesheet": "Show a collection: all prints at one scale, in every colourway.",
    },
    "Goods": {
        "cloth": "Lay a repeat on a cut of cloth, with selvedges, and write it.",
        "roll": "Work out a wallpaper's match and rolls, and write a wall's drops.",
        "screen": "Tell whether a repeat goes round a rotary screen.",
        "spec": "Write a design's facts on one page for printer and buyer.",
        "batch": "Write all files of one or hundreds of recipes, in parallel.",
    },
}
"""Every command with what it does, in the order of the help."""

HOMES = {
    "page": ("motifs", "compose", "export"),
    "beginning": ("recipe", "board", "trace"),
    "arranging": ("toss", "trials", "fill", "set", "stripe", "trail", "ditsy", "blender"),
    "looking": ("check", "proof"),
    "colour": ("palette", "colourways", "reduce", "separate"),
    "collection": ("collection", "cohesion", "linesheet", "swatches"),
    "goods": ("cloth", "roll", "screen", "spec"),
    "batch": ("batch",),
}
"""The module of each command."""

COMMANDS = {name: about for section in SECTIONS.values() for name, about in section.items()}


class _Commands(click.Group):
    """Knows its commands by name and loads the one that is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        home = next(home for home, names in HOMES.items() if cmd_name in names)
        command: click.Command = getattr(importlib.import_module(f"vecrepeat.cli.{home}"), cmd_name)
        if _WITHOUT_CACHE not in command.params:
            command.params.append(_WITHOUT_CACHE)
        return command

    def invoke(self, ctx: click.Context) -> object:
        from vecrepeat.util.files import one_run

        with one_run():
            return super().invoke(ctx)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        widest = max(map(len, COMMANDS))
        for title, section in SECTIONS.items():
            with formatter.section(title):
                formatter.write_dl([(name.ljust(widest), about) for name, about in section.items()])


def _without_cache(ctx: click.Context, param: click.Parameter, given: bool) -> None:
    if given:
        from vecrepeat.util.cache import switch_off

        switch_off()


_WITHOUT_CACHE = click.Option(
    ["--no-cache"],
    is_flag=True,
    expose_value=False,
    callback=_without_cache,
    help="Work all out anew, and keep nothing of it for the next time.",
)


def _tell_of_engine() -> None:
    """Say it where cairo was wanted and is not on this machine; an error stands alone."""
    library = sys.modules.get("vecrepeat.draw.cairo_library")
    if library is None or not library.stood_in():
        return
    library.usual_engine.cache_clear()
    if not isinstance(sys.exc_info()[1], Exception):
        from vecrepeat.cli.options import show_notes

        show_notes([library.NO_CAIRO])


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="vecrepeat")
@click.pass_context
def cli(ctx: click.Context) -> None:
    """Seamless surface-pattern repeats from SVG drawings.

    Draw motifs on a page the size of your repeat and let them run over its edges; they wrap
    by themselves, at every layout, print size and dpi. Or start from a folder of loose motifs:
    vecrepeat recipe FOLDER -o design.toml.
    """
    ctx.call_on_close(_tell_of_engine)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run a command, by default the program's own; the user's errors are a line and exit code 2."""
    # A drawing is millions of small objects that live until the end: looking through them for
    # garbage again and again costs a twelfth of an export and finds none.
    gc.set_threshold(1_000_000, 50, 1_000)
    opened: list[Path] = []
    try:
        code = cli.main(args=arguments, prog_name="vecrepeat", standalone_mode=False, obj=opened)
    except InputError as error:
        # Deep down an engine knows motifs, but not the file that they came from.
        _fail(str(error.of(opened[0]) if opened and error.element else error))
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.format_message())
        sys.exit(2)
    except click.ClickException as error:
        context = getattr(error, "ctx", None)
        hint = f" (see {context.command_path} --help)" if context is not None else ""
        _fail(" ".join(error.format_message().split()) + hint)
    except (click.Abort, KeyboardInterrupt):
        click.echo("stopped", err=True)
        sys.exit(130)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(1)
    except OSError as error:
        _fail(f"{error.filename or ''}: {error.strerror or error}".lstrip(": "))
    except Exception as error:
        if not out_of_memory(error):
            raise
        _fail(f"this takes more than the {MEMORY / 1e9:.1f} GB of memory that a command may use")
    sys.exit(code if isinstance(code, int) else 0)


def _fail(line: str) -> None:
    hold_if_stopping()
    click.echo(f"vecrepeat: {line}", err=True)
    sys.exit(2)
