"""Hostile drawings that take more than a second to be refused or drawn."""

from __future__ import annotations

import sys
from collections.abc import Iterator

import pytest

from fuzz.harness import Harness
from fuzz.hostile import SLOW, TABLE

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="watches a process by its /proc")


@pytest.fixture(scope="module")
def harness() -> Iterator[Harness]:
    with Harness() as made:
        yield made


@pytest.mark.parametrize("name", sorted(SLOW))
def test_hostile_drawings_are_refused_or_drawn(harness: Harness, name: str) -> None:
    case = TABLE[name]
    verdict = harness.judge(case.make(), case.name)
    assert verdict.failures == ()
    assert verdict.end.startswith(case.end), verdict.end
