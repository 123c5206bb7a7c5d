"""Drawings made to do harm are refused in a sentence, or drawn, within bounds of time and memory.

Those that take longer, and a fuzz runner, are in tests/fuzz.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from fuzz.harness import Harness
from fuzz.hostile import CASES, SLOW, TABLE

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="watches a process by its /proc")


@pytest.fixture(scope="module")
def harness() -> Iterator[Harness]:
    with Harness(inside=True) as made:
        yield made


@pytest.mark.parametrize("name", [name for name in TABLE if name not in SLOW])
def test_hostile_drawings_are_refused_or_drawn(harness: Harness, name: str) -> None:
    case = TABLE[name]
    verdict = harness.judge(case.make(), case.name)
    assert verdict.failures == ()
    assert verdict.end.startswith(case.end), verdict.end


@pytest.mark.parametrize("case", CASES, ids=lambda path: path.stem)
def test_cases_that_once_failed(harness: Harness, case: Path) -> None:
    verdict = harness.judge(case.read_bytes())
    assert verdict.failures == ()
    assert verdict.warnings == ()


def test_files_outside_the_folder_are_seen_when_opened(harness: Harness) -> None:
    # The watch that the tests above lean on does see.
    (Path(harness.art).parent / "outside" / "canary.txt").read_text()
    assert harness._watch.seen()
