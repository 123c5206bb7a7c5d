"""What can be made into plates, and what is refused, by motif and with a way out."""

from __future__ import annotations

from vecrepeat.colour.flatten import is_solid
from vecrepeat.colour.gradients import is_stepped
from vecrepeat.colour.painted import beyond_shapes
from vecrepeat.colour.visible import Visible
from vecrepeat.core.errors import InputError
from vecrepeat.repeat.model import Repeat
from vecrepeat.scene import kinds
from vecrepeat.scene.nodes import Gradient


def refuse_unshaped(repeat: Repeat) -> None:
    """Refuse art of which the geometry does not tell where its ink is.

    Raises:
        InputError: it holds text, pictures, masks, filters or the like.
    """
    for placement in repeat.placements:
        for feature in beyond_shapes(placement.motif):
            text = feature.kind == kinds.TEXT
            raise InputError(
                f"it uses a {feature.kind} (“{feature.element}”), which has no exact areas",
                element=placement.motif.name,
                hint="leave out --live-text" if text else "redraw it in shapes, or use --soft tint",
            )


def refuse_pictures(repeat: Repeat) -> None:
    """Refuse art with pictures, which can be no tint of an ink.

    Raises:
        InputError: it holds one.
    """
    for placement in repeat.placements:
        for feature in placement.motif.features:
            if feature.kind == kinds.IMAGE:
                raise InputError(
                    f"it holds a picture (“{feature.element}”), whose colours are no inks",
                    element=placement.motif.name,
                    hint="redraw it in shapes",
                )


def refuse_soft(seen: Visible) -> None:
    """Refuse gradients that are not steps, and opacity.

    Raises:
        InputError: some of it is seen.
    """
    for motif, faces in seen.motifs.items():
        for _, mix in faces:
            soft = None
            if not is_solid(mix) or len(mix) > 1:
                soft = "opacity"
            elif isinstance(mix[0][0], Gradient) and not is_stepped(mix[0][0].stops):
                soft = f"the gradient “{mix[0][0].name}”"
            if soft is not None:
                raise InputError(
                    f"{soft} has no flat colour to make a plate of",
                    element=motif.name,
                    hint="choose --soft flat, halftone or tint",
                )
