"""Garbles journals in every way we know and sees what a board makes of them.

``PYTHONPATH=tests:tests/board python tests/board/garbled_journals.py 5000`` prints the figures;
the tests run a sample.
"""

from __future__ import annotations

import random
import re
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest import mock

from browsing import write_art

from vecrepeat.board.desk import Desk, Reading

STEPS = 24


def move(n: int, key: str = "0", motif: str = "disc") -> dict[str, Any]:
    """Step n, which says so."""
    return {"rows": {key: {"motif": motif, "at": [n + 0.5, 50]}}, "what": f"step {n}"}


def moves(chance: random.Random) -> list[dict[str, Any]]:
    """Steps that each move one of three motifs."""
    some = [("0", "disc"), ("1", "leaf"), ("2", "square")]
    return [move(n, *chance.choice(some)) for n in range(1, STEPS + 1)]


def work(chance: random.Random) -> list[dict[str, Any]]:
    """Steps of every kind, undoing included."""
    order, cursor, length = ["0", "1", "2"], 0, 1
    orders = {0: order}
    steps: list[dict[str, Any]] = []
    for n in range(1, STEPS + 1):
        kind, what = chance.random(), f"step {n}"
        if kind < 0.25 and length > 1:
            cursor = chance.randrange(length)
            steps.append({"cursor": cursor, "what": what})
            continue
        order = orders[cursor]
        if kind < 0.45:
            order = [*order, f"new-{n}"]
            row = {"motif": "leaf", "at": [n, n]}
            steps.append({"rows": {order[-1]: row}, "order": order, "what": what})
        elif kind < 0.6 and len(order) > 1:
            order = chance.sample(order, len(order) - 1)
            steps.append({"order": order, "what": what})
        elif kind < 0.7:
            steps.append({"layout": chance.choice(["block", "brick", "drop:1/3"]), "what": what})
        else:
            key = chance.choice(order)
            motif = {"0": "disc", "2": "square"}.get(key, "leaf")
            steps.append(move(n, key, motif))
        cursor, length = cursor + 1, cursor + 2
        orders[cursor] = order
    return steps


def garbled(data: bytes, chance: random.Random) -> tuple[bytes, str]:
    """A journal with something done to it, and what that was."""
    lines = data.splitlines(keepends=True)
    some = chance.randrange(len(lines))
    other = chance.randrange(len(lines))
    place = chance.randrange(len(data))
    junk = chance.choice(
        [b"dear diary\n", b"\n", b'{"what":"no mark"}\n', b"\xff\xfe\xfd", chance.randbytes(40)]
    )

    def flipped(count: int) -> bytes:
        whole = bytearray(data)
        for _ in range(count):
            whole[chance.randrange(len(whole))] ^= 1 << chance.randrange(8)
        return bytes(whole)

    size = chance.randrange(1, 200)
    ways: dict[str, Callable[[], bytes]] = {
        "one bit flipped": lambda: flipped(1),
        "bits flipped": lambda: flipped(chance.randrange(2, 30)),
        "cut off": lambda: data[:place],
        "cut off at a line": lambda: b"".join(lines[:some]),
        "beginning gone": lambda: data[place:],
        "a line gone": lambda: b"".join(lines[:some] + lines[some + 1 :]),
        "lines gone": lambda: b"".join(x for x in lines if chance.random() < 0.7),
        "a line twice": lambda: b"".join(lines[: some + 1] + lines[some:]),
        "lines swapped": lambda: b"".join(
            lines[other] if k == some else lines[some] if k == other else x
            for k, x in enumerate(lines)
        ),
        "lines shuffled": lambda: b"".join(chance.sample(lines, len(lines))),
        "junk put in": lambda: data[:place] + junk + data[place:],
        "a junk line": lambda: b"".join([*lines[:some], junk, *lines[some:]]),
        "zeros": lambda: (data[:place] + bytes(size) + data[place + size :])[: len(data)],
        "zeros behind": lambda: data + bytes(size),
        "a byte order mark": lambda: b"\xef\xbb\xbf" + data,
        "not UTF-8": lambda: data[:place] + b"\xc3\x28" + data[place + 2 :],
        "other line ends": lambda: data.replace(b"\n", b"\r\n"),
        "nothing left": lambda: b"",
        "another text": lambda: chance.randbytes(size),
    }
    way = chance.choice(sorted(ways))
    return ways[way](), way


class QuickDesk(Desk):
    """Reads the art no more than once."""

    reading: Reading

    def read(self) -> Reading:
        return self.reading


def tried(folder: Path, seed: int) -> tuple[str, str]:
    """Garble a journal and open it; return what was done, and what came of it.

    Raises:
        AssertionError: a step is gone without a word, or what could not be read is gone.
    """
    # Nothing is cut off from its power here.
    with mock.patch("os.fsync"):
        return _tried(folder, random.Random(seed))


def _tried(folder: Path, chance: random.Random) -> tuple[str, str]:
    file = folder / "three.toml"
    if not file.exists():
        write_art(folder)
        QuickDesk.reading = Desk(file).read()
    for old in folder.glob(".three*"):
        old.unlink()
    first, plain = QuickDesk(file), chance.random() < 0.5
    steps = moves(chance) if plain else work(chance)
    for n, step in enumerate(steps):
        first.step(n, step)
    path = first.journal.path
    before = path.read_bytes()
    data, way = garbled(before, chance)
    if chance.random() < 0.3:
        data, then = garbled(data or before, chance)
        way = f"{way}, {then}"
    path.write_bytes(data)
    found = QuickDesk(file)

    kept = {step.get("what") for step in found.steps} - {None}
    missing = [step for step in steps if step["what"] not in kept]
    said = " ".join(found.told)
    if found.told:
        # All that was there is there still.
        asides = list(folder.glob(".three.toml.journal.aside-*"))
        assert [one.read_bytes() for one in asides] == [data], way
        assert str(asides[0]) in said
        counts = re.search(r"(\d+) of (\d+) steps? (?:is|are) lost", said)
        hopeless = "can't be gone on with" in said
        if missing and not hopeless and "its end is cut off" not in said:
            assert counts, (way, said)
            assert int(counts[1]) >= len(missing), (way, said)
    else:
        assert not missing, way
        assert found.now == first.now, way
        assert found.steps == steps, way
    if found.history.states[0] == first.history.states[0] and found.steps:
        # A line that stands there as it was written is a step that is kept.
        whole = before.splitlines()[2:-1]
        there = set(data.splitlines())
        intact = [s for s, line in zip(steps, whole, strict=True) if line in there]
        if plain:
            assert kept == {s["what"] for s in intact} | ({"a step that is lost"} & kept), way
            rows = dict(first.history.states[0].as_dict()["rows"])
            for step in intact:
                rows.update(step["rows"])
            assert found.now.as_dict()["rows"] == rows, way
    # Opened once more, as after another crash, there is nothing more to tell.
    again = QuickDesk(file)
    assert (again.now, again.steps, again.told) == (found.now, found.steps, []), way
    outcome = "told" if found.told else "whole"
    return way, f"{outcome}, {'some steps lost' if missing else 'no step lost'}"


def main() -> None:
    """Print what came of as many garbled journals as are asked for."""
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 5000
    outcomes: Counter[str] = Counter()
    ways: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(number):
            way, outcome = tried(Path(folder), seed)
            outcomes[outcome] += 1
            ways.update(way.split(", "))
    for counts in (outcomes, ways):
        print(*(f"{count:6} {what}" for what, count in counts.most_common()), sep="\n")


if __name__ == "__main__":
    main()
