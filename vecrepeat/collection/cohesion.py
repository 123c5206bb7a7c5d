"""Whether the prints of a collection belong together: findings that say what to do."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path
from typing import Any

from vecrepeat.check.direction import direction
from vecrepeat.check.findings import Finding
from vecrepeat.check.plane import Plane
from vecrepeat.check.printing import check_printing
from vecrepeat.check.profile import CollectionLimits, Profile
from vecrepeat.collection.line import Line
from vecrepeat.collection.measures import Seen, seen
from vecrepeat.colour.colourway import MERGED
from vecrepeat.core.colours import differences, lightness
from vecrepeat.core.names import listed, slug
from vecrepeat.core.units import counted, format_mm
from vecrepeat.recipe.collection import Collection
from vecrepeat.recipe.model import AS_DRAWN
from vecrepeat.repeat.model import Repeat
from vecrepeat.sources.prints import art_colours

_CALM = 1e-6
"""Of plain cloth, for ratios."""

_TOO_SMALL = ("line too thin", "gap too narrow", "detail too small")
"""Kinds of faults that a larger print does away with."""


@dataclass(frozen=True, eq=False)
class Member:
    """One print with what was measured of it.

    Attributes:
        name: its own.
        role: hero, secondary or blender.
        repeat: in the palette as it is, at print size.
        look: how it looks.
        direction: as :class:`vecrepeat.check.direction.Direction` says its kind.
        strangers: its colours that the palette lacks, each with the nearest palette name and the
            CIEDE2000 to that, the farthest first.
        faults: what the process's limits find in it.
    """

    name: str
    role: str
    repeat: Repeat
    look: Seen
    direction: str
    strangers: tuple[tuple[str, str, float], ...]
    faults: tuple[Finding, ...]

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data."""
        ground = self.repeat.ground
        return {
            "name": self.name,
            "role": self.role,
            "busy": self.look.busy,
            "scale_mm": self.look.scale,
            "ground": None if ground is None else ground.colour,
            "direction": self.direction,
            "off_palette": [
                {"colour": colour, "nearest": name, "delta_e": far}
                for colour, name, far in self.strangers
            ],
        }


@dataclass(frozen=True, eq=False)
class Cohesion:
    """What a collection's check came to.

    Attributes:
        file: the collection.
        profile: the limits' name.
        members: its prints.
        findings: by question, as :data:`vecrepeat.check.findings.COLLECTION_QUESTIONS`.
        notes: what was taken in a special way, a sentence each.
    """

    file: Path
    profile: str
    members: tuple[Member, ...]
    findings: tuple[Finding, ...]
    notes: tuple[str, ...]

    def line(self) -> str:
        """Return the outcome as one line."""
        count = len(self.findings)
        found = counted(count, "finding") if count else "nothing found"
        return f"{self.file}: {found} in {counted(len(self.members), 'print')}, {self.profile}"

    def as_dict(self) -> dict[str, Any]:
        """Return the report as plain data, lengths in mm."""
        return {
            "file": str(self.file),
            "profile": self.profile,
            "prints": [member.as_dict() for member in self.members],
            "findings": [finding.as_dict() for finding in self.findings],
        }


def check_cohesion(
    line: Line, profile: Profile, step: Callable[[int], None] | None = None
) -> Cohesion:
    """Hold a collection's prints to each other, to their palette and to one process.

    Args:
        line: the collection, opened.
        profile: the limits.
        step: called with 1 after each print.

    Raises:
        InputError: a print can't be drawn.
    """
    collection = line.collection
    members = []
    for one, repeat in zip(line.prints, line.repeats(AS_DRAWN), strict=True):
        plane = Plane(repeat)
        members.append(
            Member(
                one.name,
                one.role,
                repeat,
                seen(repeat, list(collection.palette.values())),
                direction(plane).kind,
                tuple(_strangers(repeat, collection, profile.collection)),
                check_printing(plane, profile.print).findings,
            )
        )
        if step is not None:
            step(1)
    limits = profile.collection
    found = [
        *_off_palette(members, limits),
        *_merged(collection),
        *_scales(members, limits),
        *_rest(members, limits),
        *_grounds(members, limits),
        *_alike(members, limits),
        *_directions(members),
        *_printed(members, collection.file),
    ]
    return Cohesion(collection.file, profile.name, tuple(members), tuple(found), tuple(line.notes))


def _strangers(
    repeat: Repeat, collection: Collection, limits: CollectionLimits
) -> Iterator[tuple[str, str, float]]:
    """Yield the colours that are no palette colours, the farthest first."""
    colours, names = art_colours(repeat), list(collection.palette)
    apart = differences(colours, collection.palette.values())
    rows = zip(colours, apart.argmin(axis=1), apart.min(axis=1), strict=True)
    for colour, near, far in sorted(rows, key=lambda row: -row[2]):
        if far > limits.off_palette:
            yield colour, names[int(near)], float(far)


def _off_palette(members: Sequence[Member], limits: CollectionLimits) -> Iterator[Finding]:
    for member in members:
        if not member.strangers:
            continue
        told = [f"{colour} (nearest {name}, {far:.1f})" for colour, name, far in member.strangers]
        count = counted(len(told), "colour")
        yield Finding(
            "off the palette",
            f"“{member.name}” has {count} that the palette lacks: {listed(told)}",
            member.strangers[0][2],
            limits.off_palette,
        )


def _merged(collection: Collection) -> Iterator[Finding]:
    names = list(collection.palette)
    before = differences(collection.palette.values(), collection.palette.values())
    for way in collection.colourways:
        colours = collection.palette_in(way).values()
        after = differences(colours, colours)
        for one, other in combinations(range(len(names)), 2):
            if after[one, other] < MERGED <= before[one, other]:
                yield Finding(
                    "merged in a colourway",
                    f"in “{way}” {names[one]} and {names[other]} have merged",
                    float(after[one, other]),
                    MERGED,
                )


def _scales(members: Sequence[Member], limits: CollectionLimits) -> Iterator[Finding]:
    heroes = [member for member in members if member.role == "hero"]
    for hero in heroes:
        for second in (member for member in members if member.role == "secondary"):
            times = hero.look.scale / second.look.scale
            if times < limits.step:
                yield Finding(
                    "scales too near",
                    f"“{hero.name}” (hero) is of a scale of {hero.look.scale:.0f} mm, "
                    f"“{second.name}” of {second.look.scale:.0f} mm",
                    times,
                    limits.step,
                )
    drawn = sorted((m for m in members if m.look.texture.any()), key=lambda m: m.look.scale)
    if len(drawn) > 2:
        small, large = drawn[0], drawn[-1]
        times = large.look.scale / small.look.scale
        if times < limits.spread:
            yield Finding(
                "scales without a spread",
                f"all scales lie between {small.look.scale:.0f} mm (“{small.name}”) and "
                f"{large.look.scale:.0f} mm (“{large.name}”)",
                times,
                limits.spread,
            )


def _rest(members: Sequence[Member], limits: CollectionLimits) -> Iterator[Finding]:
    if len(members) < 3:
        return
    order = sorted(members, key=lambda member: member.look.busy)
    calm, busy = order[0], order[-1]
    share = calm.look.busy / max(busy.look.busy, _CALM)
    if share > limits.rest:
        yield Finding(
            "no rest",
            f"the calmest print, “{calm.name}”, is {share:.0%} as busy as the busiest, "
            f"“{busy.name}”",
            share,
            limits.rest,
        )


def _grounds(members: Sequence[Member], limits: CollectionLimits) -> Iterator[Finding]:
    users: dict[str, list[str]] = {}
    for member in members:
        if member.repeat.ground is not None:
            users.setdefault(member.repeat.ground.colour, []).append(member.name)
    colours = list(users)
    if sum(map(len, users.values())) > 2:
        levels = [lightness(colour) for colour in colours]
        span = max(levels) - min(levels)
        if span < limits.ground_span:
            yield Finding(
                "grounds of one lightness",
                f"all grounds lie between L* {min(levels):.0f} and {max(levels):.0f}",
                span,
                limits.ground_span,
            )
    apart = differences(colours, colours) if colours else None
    for one, other in combinations(range(len(colours)), 2):
        assert apart is not None
        if apart[one, other] < limits.ground_gap:
            yield Finding(
                "grounds nearly the same",
                f"the grounds of “{users[colours[one]][0]}” ({colours[one]}) and "
                f"“{users[colours[other]][0]}” ({colours[other]}) look like one dyed twice",
                float(apart[one, other]),
                limits.ground_gap,
            )


def _alike(members: Sequence[Member], limits: CollectionLimits) -> Iterator[Finding]:
    for one, other in combinations(members, 2):
        likeness = one.look.likeness(other.look)
        if likeness >= limits.alike:
            yield Finding(
                "alike",
                f"“{one.name}” and “{other.name}” look much the same",
                likeness,
                limits.alike,
            )


def _directions(members: Sequence[Member]) -> Iterator[Finding]:
    """Yield one-way prints where fewer are than are not: a buyer cuts all of them alike."""
    single = [member.name for member in members if member.direction == "one-way"]
    share = len(single) / len(members)
    if single and share < 0.5:
        names = listed([f"“{name}”" for name in single])
        is_ = "is" if len(single) == 1 else "are"
        yield Finding(
            "one-way among others",
            f"{names} {is_} one-way, the other {len(members) - len(single)} are not",
            share,
            0.5,
        )


def _printed(members: Sequence[Member], file: Path) -> Iterator[Finding]:
    """Yield what the process can't hold, once for each print and kind, the worst of each."""
    for member in members:
        kinds: dict[str, list[Finding]] = {}
        for fault in member.faults:
            kinds.setdefault(fault.kind, []).append(fault)
        for kind, faults in kinds.items():
            names = list(dict.fromkeys(f"“{name}”" for fault in faults for name in fault.motifs))
            where = f" in {listed(names)}" if names else ""
            if kind not in _TOO_SMALL:
                what = faults[0].what if len(faults) == 1 else f"{kind}{where}"
                yield replace(faults[0], what=f"“{member.name}”: {what}", mark=None)
                continue
            worst = min(faults, key=lambda fault: fault.value)
            wide = float(member.repeat.width) * worst.limit / worst.value
            yield replace(
                worst,
                what=f"“{member.name}”: {kind}{where}",
                mark=None,
                advice=f"print its tile {format_mm(wide, 1)} wide or more, or look where: "
                f"vecrepeat check {file}/{slug(member.name)}",
            )
