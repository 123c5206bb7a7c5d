"""In which order characters of both directions are shown.

Source: Unicode Standard Annex 9, without embeddings, overrides and isolates; of paired brackets
those on any keyboard.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence

_LETTERS = {
    **{"L": "L", "R": "R", "AL": "A", "EN": "E", "AN": "N", "ES": "S", "ET": "T"},
    **{"CS": "C", "NSM": "M", "BN": "B"},
}
_SPACE = ("WS", "S", "B")
_AS_R = str.maketrans("EN", "RR")
_CLOSING = {"(": ")", "[": "]", "{": "}"}


def levels_of(text: str, backwards: bool) -> list[int]:
    """Return each character's level: even ones run to the right, odd ones to the left.

    Args:
        text: a line.
        backwards: whether the line as a whole runs from right to left.
    """
    base = "R" if backwards else "L"
    classes = [unicodedata.bidirectional(char) for char in text]
    kinds = "".join(_LETTERS.get(kind, "O") for kind in classes)
    # W1 to W7, N0 to N2, in the order of the annex; one letter stands for one character.
    kinds = re.sub(r"(?<=[^MB])([MB]+)", lambda m: kinds[m.start() - 1] * len(m[0]), kinds)
    kinds = re.sub(r"^[MB]+", lambda m: base * len(m[0]), kinds)
    kinds = re.sub(r"A[^LRA]*", lambda m: m[0].replace("E", "N"), kinds).replace("A", "R")
    kinds = re.sub(r"(?<=E)[SC](?=E)", "E", kinds)
    kinds = re.sub(r"(?<=N)C(?=N)", "N", kinds)
    kinds = re.sub(r"(?<=E)T+|T+(?=E)", lambda m: "E" * len(m[0]), kinds)
    kinds = re.sub(r"[SCT]", "O", kinds)
    kinds = re.sub(
        r"(^|[LR])[^LR]*",
        lambda m: m[0].replace("E", "L") if (m[1] or base) == "L" else m[0],
        kinds,
    )
    for start, end in _brackets(text, kinds):
        inside = set(re.findall("[LR]", kinds[start:end].translate(_AS_R)))
        before = re.findall("[LR]", base + kinds[:start].translate(_AS_R))[-1]
        if inside:
            way = base if base in inside else before
            kinds = f"{kinds[:start]}{way}{kinds[start + 1 : end]}{way}{kinds[end + 1 :]}"

    def between(found: re.Match[str]) -> str:
        sides = f"{base}{kinds}{base}".translate(_AS_R)
        one, other = sides[found.start()], sides[found.end() + 1]
        return (one if one == other else base) * len(found[0])

    kinds = re.sub("O+", between, kinds)
    found = [{"L": 2 if backwards else 0, "R": 1}.get(kind, 2) for kind in kinds]
    for at in range(len(text) - 1, -1, -1):
        if classes[at] not in _SPACE:
            break
        found[at] = int(backwards)
    return found


def _brackets(text: str, kinds: str) -> list[tuple[int, int]]:
    """Return where pairs of brackets open and close, in the order of opening (BD16)."""
    found, opened = [], []
    for at, char in enumerate(text):
        if kinds[at] != "O":
            continue
        if char in _CLOSING:
            opened.append(at)
        for k in range(len(opened) - 1, -1, -1):
            if _CLOSING[text[opened[k]]] == char:
                found.append((opened[k], at))
                del opened[k:]
                break
    return sorted(found)


def shown_order(levels: Sequence[int]) -> list[int]:
    """Return the numbers of runs from left to right, by their levels (rule L2)."""
    order = list(range(len(levels)))
    for level in range(max(levels, default=0), 0, -1):
        at = 0
        while at < len(order):
            end = at
            while end < len(order) and levels[order[end]] >= level:
                end += 1
            order[at:end] = reversed(order[at:end])
            at = end + 1
    return order
