"""Kills the board at random moments under a stream of steps and saves.

``PYTHONPATH=tests:tests/board python tests/board/killed_boards.py 50`` prints the figures; the
tests run a few.
"""

from __future__ import annotations

import http.client
import random
import sys
import tempfile
import threading
from pathlib import Path

from browsing import board_of, write_art

from vecrepeat.board.desk import Desk


def killed(folder: Path, seed: int) -> tuple[int, int]:
    """Kill a board in the midst of steps; return how many steps and saves it had acknowledged.

    Raises:
        AssertionError: one of them is gone, or the journal can't be read.
    """
    chance = random.Random(seed)
    recipe = write_art(folder)
    steps = saves = 0
    with board_of(recipe) as board:
        timer = threading.Timer(chance.uniform(0.05, 1.0), board.process.kill)
        while True:
            # The disc goes right by 0.1 mm a step; a big row now and then takes time to write.
            row = {"motif": "disc", "at": [20 + (steps + 1) / 10, 50]}
            step = {"rows": {"0": row}, "what": "x" * chance.choice([1, 1, 1, 300_000])}
            try:
                answer = board.ask("/api/step", {"after": steps, "step": step})
                assert answer[0] == 200, answer
                steps += 1
                if steps == 1:
                    timer.start()
                if chance.random() < 0.1:
                    assert board.ask("/api/save", {})[0] == 200
                    saves += 1
            except (OSError, http.client.HTTPException):
                break
        timer.join()
        board.process.wait()
    found = Desk(recipe)
    x = found.now.placed[0].at
    assert x is not None
    # One that was not acknowledged may have been written too.
    assert round(10 * (x[0] - 20)) in (steps, steps + 1)
    assert not found.foreign
    for told in found.told:
        assert "its end is cut off" in told
    found.close()
    for left in folder.glob(".three*"):
        left.unlink()
    return steps, saves


def main() -> None:
    """Print how many steps were acknowledged before as many kills as are asked for."""
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    steps = saves = 0
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(number):
            more = killed(Path(folder), seed)
            steps, saves = steps + more[0], saves + more[1]
    print(f"{number} kills, {steps} steps and {saves} saves acknowledged before them, none lost")


if __name__ == "__main__":
    main()
