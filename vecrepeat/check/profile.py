"""Limits: what a repeat is held to, by process, in TOML files that users may add to."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from typing import Any, TypeVar, get_type_hints

from vecrepeat.core.errors import InputError
from vecrepeat.util.files import parse_toml, read_toml

DEFAULT = "cloth-digital"


@dataclass(frozen=True)
class JoinLimits:
    """Joins: a partner may be ``off_mm`` out of place and is looked for within ``search_mm``."""

    off_mm: float = 0.01
    search_mm: float = 5.0


@dataclass(frozen=True)
class CollisionLimits:
    """Collisions.

    Attributes:
        gap_mm: motifs closer than this are too close.
        overlap_mm2: overlaps of at most this area are taken for touching.
        layered_share: where more than this share of the motifs overlap another, the drawing
            is made in layers and overlaps are meant.
    """

    gap_mm: float = 0.2
    overlap_mm2: float = 0.01
    layered_share: float = 0.3


@dataclass(frozen=True)
class VoidLimits:
    """Voids: circles wider than ``times_typical`` times the median one and ``least_mm``."""

    times_typical: float = 2.5
    least_mm: float = 5.0
    shown: int = 12


@dataclass(frozen=True)
class AlleyLimits:
    """Alleys.

    Attributes:
        least_mm: narrower lanes are no alleys.
        times_typical: an alley is wider than this many typical empty circles.
        near_empty: share of a lane that may be covered for it to look empty.
        near_empty_times: a near-empty lane is wider than this many typical empty circles.
    """

    least_mm: float = 3.0
    times_typical: float = 1.0
    near_empty: float = 0.01
    near_empty_times: float = 1.5


@dataclass(frozen=True)
class BalanceLimits:
    """Balance.

    Attributes:
        uneven: coverage of the fullest half-tile window over that of the emptiest.
        outlier_times: area of the largest motif over that of the next.
        rare_share: share of the ink below which a colour that stands apart is rare.
        rare_difference: CIEDE2000 from the nearest other colour for it to stand apart.
    """

    uneven: float = 3.0
    outlier_times: float = 6.0
    rare_share: float = 0.004
    rare_difference: float = 35.0


@dataclass(frozen=True)
class PrintLimits:
    """What the process holds.

    Attributes:
        dpi: the printer's resolution, pixels per inch.
        line_mm: thinnest line.
        gap_mm: narrowest gap within a motif.
        detail_mm: smallest detail.
        image_dpi: coarsest picture within a drawing.
        colours: most flat colours; 0 for any number.
        spot: whether each colour is an ink of its own, without tints or transparency.
        near_colours: CIEDE2000 below which two flat colours are as good as one.
        circumferences_mm: of the screens that can be had; the straight block's height must
            divide one. None where the process has no screens.
    """

    dpi: float = 150.0
    line_mm: float = 0.1
    gap_mm: float = 0.1
    detail_mm: float = 0.15
    image_dpi: float = 100.0
    colours: int = 0
    spot: bool = False
    near_colours: float = 0.5
    circumferences_mm: tuple[float, ...] = ()


@dataclass(frozen=True)
class GlareLimits:
    """Pattern glare.

    Attributes:
        viewing_mm: how far away the eye is.
        low_cpd: lowest spatial frequency of concern, cycles per degree.
        high_cpd: highest.
        contrast: Michelson contrast from which stripes are of concern.
        striped: share of the picture's variance in one direction within the band from which
            it counts as stripes.
    """

    viewing_mm: float = 1000.0
    low_cpd: float = 1.0
    high_cpd: float = 8.0
    contrast: float = 0.4
    striped: float = 0.5


@dataclass(frozen=True)
class CollectionLimits:
    """What prints of a collection keep to each other (common practice, no source).

    Attributes:
        off_palette: CIEDE2000 from a palette colour within which a colour counts as it.
        step: a hero's scale over a secondary's, at least.
        spread: the largest scale of all prints over the smallest, at least.
        rest: a print rests the eye where it is at most so busy as this share of the busiest.
        ground_span: L* from the darkest ground to the lightest, at least.
        ground_gap: CIEDE2000 between two grounds that are not the same, at least.
        alike: from which likeness on two prints are too near in look; 1 is the same.
    """

    off_palette: float = 2.0
    step: float = 1.4
    spread: float = 3.0
    rest: float = 0.5
    ground_span: float = 15.0
    ground_gap: float = 5.0
    alike: float = 0.75


@dataclass(frozen=True)
class Profile:
    """A named set of limits.

    Attributes:
        name: by which it is asked for.
        about: what it is for, a sentence.
    """

    name: str = DEFAULT
    about: str = ""
    joins: JoinLimits = field(default_factory=JoinLimits)
    collisions: CollisionLimits = field(default_factory=CollisionLimits)
    voids: VoidLimits = field(default_factory=VoidLimits)
    alleys: AlleyLimits = field(default_factory=AlleyLimits)
    balance: BalanceLimits = field(default_factory=BalanceLimits)
    print: PrintLimits = field(default_factory=PrintLimits)
    glare: GlareLimits = field(default_factory=GlareLimits)
    collection: CollectionLimits = field(default_factory=CollectionLimits)


def built_in() -> tuple[str, ...]:
    """Return the names of the profiles that come with the package."""
    folder = resources.files("vecrepeat.check") / "profiles"
    return tuple(
        sorted(f.name.removesuffix(".toml") for f in folder.iterdir() if f.name.endswith(".toml"))
    )


def load_profile(name: str | Path = DEFAULT) -> Profile:
    """Return a profile by its name, or from a TOML file of one's own.

    A file may begin with ``base = "cloth-rotary"`` (a name or another file beside it) and then
    state only what differs.

    Raises:
        InputError: no such profile or file, no TOML, an unknown limit, or a value that is of
            the wrong kind or negative.
    """
    return _load(str(name), None, ())


def _load(name: str, beside: Path | None, seen: tuple[str, ...]) -> Profile:
    if name in built_in():
        source = resources.files("vecrepeat.check") / "profiles" / f"{name}.toml"
        file = Path(name)
        table = parse_toml(source.read_text("utf-8"), file)
    else:
        file = Path(name) if beside is None else beside.parent / name
        if file.suffix != ".toml":
            raise InputError(
                f"there is no profile “{name}”",
                hint=f"use {', '.join(built_in())} or a .toml file",
            )
        if str(file.resolve()) in seen:
            raise InputError("the profile is based on itself", file=file)
        seen = (*seen, str(file.resolve()))
        table = read_toml(file, "profile")
    base = table.pop("base", None)
    start = Profile(name=file.stem) if base is None else _load(str(base), file, seen)
    return _overlay(dataclasses.replace(start, name=file.stem), table, file)


_Limits = TypeVar("_Limits")


def _overlay(limits: _Limits, table: dict[str, Any], file: Path, within: str = "") -> _Limits:
    """Return limits with the values of a table in place of their own."""
    kinds = get_type_hints(type(limits))
    changed: dict[str, Any] = {}
    for key, value in table.items():
        name = f"{within}{key}"
        if key not in kinds:
            raise InputError(
                f"the profile has the unknown limit “{name}”",
                file=file,
                hint=f"known here are {', '.join(kinds)}",
            )
        if dataclasses.is_dataclass(kinds[key]):
            if not isinstance(value, dict):
                raise InputError(f"“{name}” must be a table", file=file)
            changed[key] = _overlay(getattr(limits, key), value, file, f"{name}.")
        else:
            changed[key] = _as_kind(value, kinds[key], name, file)
    return dataclasses.replace(limits, **changed)  # type: ignore[type-var]


def _as_kind(value: Any, kind: Any, name: str, file: Path) -> Any:
    number = isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value < 1e9
    if kind is float and number:
        return float(value)
    if kind is int and number and value == int(value):
        return int(value)
    if kind in (bool, str) and isinstance(value, kind):
        return value
    lengths = isinstance(value, list) and all(
        isinstance(v, int | float) and not isinstance(v, bool) and 0 < v < 1e9 for v in value
    )
    if kind == tuple[float, ...] and lengths:
        return tuple(float(v) for v in value)
    raise InputError(f"“{name}” has a value that can't be used: {value!r}", file=file)
