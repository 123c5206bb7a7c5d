"""Options that toss and fill share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from vecrepeat.cli import options
from vecrepeat.errors import InputError

_F = TypeVar("_F", bound=Callable[..., Any])


class RangeType(click.ParamType):  # type: ignore[type-arg]
    """One number, or two with a dash or a colon between."""

    name = "range"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, float]:
        """Return the smaller and the larger number."""
        if isinstance(value, tuple):
            return value
        try:
            numbers = [float(part) for part in value.replace("–", "-").replace(":", "-").split("-")]
        except ValueError:
            numbers = []
        if len(numbers) not in (1, 2) or min(numbers) <= 0:
            raise InputError(f"the scale “{value}” is not understood", hint="such as 0.8-1.2")
        return (numbers[0], numbers[-1])


def arrange_options(function: _F) -> _F:
    """Add the options that toss and fill share; those not given are None."""
    from vecrepeat.recipe import DIRECTIONS

    added = (
        click.argument("recipe", type=click.Path(path_type=Path)),
        click.option(
            "-o",
            "--output",
            type=click.Path(path_type=Path),
            help="The recipe to write; by default the same one.",
        ),
        click.option("--seed", type=click.IntRange(0), help="Another seed, another arrangement."),
        click.option(
            "--clearance",
            type=options.LengthType(),
            metavar="LENGTH",
            help="Least distance between painted outlines; 3mm by default.",
        ),
        click.option(
            "--direction", type=click.Choice(DIRECTIONS), help="How motifs may be turned."
        ),
        click.option(
            "--sway", type=float, metavar="DEGREES", help="How far they may lean from that."
        ),
        click.option("--flip/--no-flip", default=None, help="Whether motifs may be mirrored."),
        click.option(
            "--apart",
            type=options.LengthType(),
            metavar="LENGTH",
            help="Least distance between the middles of the same motif.",
        ),
        click.option("--even/--no-even", default=None, help="Whether to even the gaps out."),
        options.json_option,
    )
    for add in reversed(added):
        function = add(function)
    return function


def asked_keys(values: dict[str, Any]) -> dict[str, Any]:
    """Return the recipe keys of options that were given, as the recipe writes them."""
    keys = {}
    for name, value in values.items():
        if value is None:
            continue
        # A length with the text it was given as.
        keys[name.replace("_", "-")] = float(value[1]) if _is_length(value) else value
    return keys


def _is_length(value: Any) -> bool:
    return isinstance(value, tuple) and isinstance(value[0], str)
