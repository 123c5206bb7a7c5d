"""Taking up what an earlier board left: every step that can be made, and a word on all others.

A step says where motifs lie and in what order, whatever went before, so one that is lost takes
no other with it. The journal tells which moment each step was made on. Where undoing led there,
it is gone back to. Where a lost step made it, the moment before stands for it: that differs by
what the lost step changed, and nothing else.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from typing import Any

from vecrepeat.board.journal import FoundJournal, Trail
from vecrepeat.board.state import CLOTH, History, State, read_state
from vecrepeat.core.errors import InputError
from vecrepeat.core.units import counted

LOST = {"what": "a step that is lost"}
"""Stands for a step that is lost: it changes nothing."""

_DAMAGED = (ValueError, KeyError, TypeError, AttributeError)


@dataclass(frozen=True)
class Taken:
    """The steps with which the board can go on.

    Attributes:
        history: every moment; None where none can be shown.
        steps: the steps that lead to it.
        base_changed: whether the first moment is without motifs that it had.
        faults: what could not be taken up, a sentence each.
    """

    history: History | None
    steps: tuple[Mapping[str, Any], ...] = ()
    base_changed: bool = False
    faults: tuple[str, ...] = ()


def take_up(found: FoundJournal, known: Collection[str], suits: Callable[[State], None]) -> Taken:
    """Make the steps of a journal, with the names of the motifs that there are.

    ``suits`` raises InputError where the art can't have a moment's layout.
    """
    steps_there = counted(len(found.lines), "step")
    if found.head is None:
        lines = counted(len(found.data.splitlines()), "line")
        what = f"what its {steps_there} start from can't be read"
        return Taken(
            None, faults=(what if found.lines else f"its {lines} can't be read as a board's",)
        )
    gone: dict[str, None] = {}
    try:
        base = dict(found.head["base"])
        fitted = _reduce_to_known({"rows": base["rows"], "order": base["order"]}, (), known, gone)
        state = read_state({**base, **fitted}, known)
        suits(state)
    except _DAMAGED as error:
        what = f"what its {steps_there} start from can't be: {error}"
        return Taken(None, faults=(what,))
    base_changed = bool(gone)
    history, trail = History((state,)), Trail()
    steps: list[Mapping[str, Any]] = []
    lost, partly = set(range(1, _count_steps(found) + 1)), 0

    def make(number: int, step: Mapping[str, Any]) -> None:
        nonlocal history
        made = history.after(step, known)
        suits(made.now)
        history = made
        trail.go(number, step)
        steps.append(step)

    for line in found.lines:
        try:
            if trail.made[trail.cursor] != line.on:
                there = line.on in trail.made
                make(line.on, {"cursor": trail.made.index(line.on)} if there else LOST)
            if line.to is None:
                step = _reduce_to_known(line.step, history.now.order, known, gone)
            else:
                step = {**line.step, "cursor": trail.made.index(line.to)}
            make(line.number, step)
        except _DAMAGED:
            continue
        lost.remove(line.number)
        partly += line.to is None and step != line.step
    return Taken(
        history, tuple(steps), base_changed, tuple(_describe_faults(found, lost, partly, gone))
    )


def _reduce_to_known(
    step: Mapping[str, Any], order: Collection[str], known: Collection[str], gone: dict[str, None]
) -> Mapping[str, Any]:
    """Return a step without motifs that are no more and placements that a lost step laid.

    It is no undoing or redoing, and to be made where placements lie in an order. Names of
    motifs that are no more are added to ``gone``.

    Raises:
        InputError: nothing is left of it.
    """
    rows = step.get("rows", {})
    gone.update((row["motif"], None) for row in rows.values() if row["motif"] not in known)
    there = {key: row for key, row in rows.items() if row["motif"] in known}
    keys = {*order, *there}
    kept = [key for key in step.get("order", order) if key in keys]
    keys = set(kept)
    fitted = dict(step)
    if "rows" in step:
        fitted["rows"] = {key: row for key, row in there.items() if key in keys}
    if "order" in step:
        fitted["order"] = kept
    if rows and not fitted["rows"] and kept == list(order) and not set(CLOTH) & set(step):
        raise InputError("nothing is left of it")
    return fitted


def _count_steps(found: FoundJournal) -> int:
    return max([found.last or 0, *(line.number for line in found.lines)])


def _describe_faults(
    found: FoundJournal, lost: Collection[int], partly: int, gone: Collection[str]
) -> list[str]:
    faults = []
    if gone:
        names = ", ".join(f"“{name}”" for name in gone)
        faults.append(
            f"the art has no motif {names} any more (bring it back, end the board and give the "
            "kept journal its old name, and the steps that lay it are here again)"
        )
    if found.last is None:
        faults.append("its end is cut off, and whatever was written there")
    if found.unread:
        faults.append(f"{counted(found.unread, 'line')} can't be read")
    if lost:
        word = "is" if len(lost) == 1 else "are"
        faults.append(f"{len(lost)} of {counted(_count_steps(found), 'step')} {word} lost")
    if partly:
        faults.append(f"{counted(partly, 'step')} could be made in part")
    return faults
