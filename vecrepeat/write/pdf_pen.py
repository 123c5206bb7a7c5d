"""The stream being written, and what soft masks are made of.

Standard: ISO 32000-1 §8.4 (graphics state), §11.6.5 (soft masks).
"""

from __future__ import annotations

from dataclasses import dataclass, field

from pikepdf import Dictionary, Name, Object

from vecrepeat.core.geometry import IDENTITY, Affine, Rect
from vecrepeat.write.pdf_resources import Resources, decimal, digits_for, numbers


@dataclass
class Pen:
    """The stream being written and where it stands.

    Attributes:
        to_form: from the current user units to the stream's own.
        grey: whether colours are written as the luminance that a mask is made of.
        scale: mm of paper to the stream's own unit.
        out: what has been written.
        state: operators in force, by what they set.
    """

    to_form: Affine
    grey: bool = False
    scale: float = 1.0
    out: list[str] = field(default_factory=list)
    state: dict[str, str] = field(default_factory=dict)

    def set(self, what: str, operator: str) -> None:
        """Write an operator of the graphics state unless it is in force."""
        if self.state.get(what) != operator:
            self.state[what] = operator
            self.out.append(operator)

    @property
    def digits(self) -> int:
        """Decimals of coordinates in the current user units."""
        return digits_for(self.scale * self.to_form.stretch)

    def inner(self, *, grey: bool) -> Pen:
        """Return the pen of a form whose units are this pen's current user units."""
        return Pen(IDENTITY, grey, self.scale * self.to_form.stretch)


def masked(resources: Resources, content: str, box: Rect, masks: list[Object], space: str) -> str:
    """Return content under soft masks: a graphics state holds one, so each takes a group."""
    for mask in masks:
        form = resources.form(content, box, group=space)
        name = resources.named("XObject", form)
        content = f"q /{resources.state(SMask=mask)} gs /{name} Do Q"
    return content


def soft_mask(kind: str, form: Object) -> Dictionary:
    """Return a soft-mask dictionary (§11.6.5.2): outside the form nothing shows."""
    mask = Dictionary(Type=Name.Mask, S=Name(f"/{kind}"), G=form)
    if kind == "Luminosity":
        mask.BC = numbers([0.0])
    return mask


def area_text(box: Rect) -> str:
    return " ".join(decimal(v) for v in (box.x0, box.y0, box.width, box.height)) + " re"
