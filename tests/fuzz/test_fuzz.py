"""Any bytes are drawn or refused: no other error, no hang, no file of another folder.

``python tests/fuzz`` runs on for as long as it is let; what it finds is kept in ``cases``.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fuzz.grammar import documents
from fuzz.harness import Harness
from fuzz.mutation import mutated, seeds

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="watches a process by its /proc")

CASES = sorted(Path(__file__).with_name("cases").glob("*.svg"))


@pytest.fixture(scope="module")
def harness() -> Iterator[Harness]:
    with Harness() as made:
        yield made


@settings(
    max_examples=150, derandomize=True, database=None, suppress_health_check=list(HealthCheck)
)
@given(data=documents())
def test_generated_drawings(harness: Harness, data: bytes) -> None:
    assert harness.judge(data).failures == ()


@settings(
    max_examples=120, derandomize=True, database=None, suppress_health_check=list(HealthCheck)
)
@given(seed=st.integers(0, 1 << 30))
def test_mutated_drawings(harness: Harness, seed: int) -> None:
    assert harness.judge(mutated(seeds(fixtures=False), seed)).failures == ()


@pytest.mark.parametrize("case", CASES, ids=lambda path: path.stem)
def test_cases_that_once_failed(harness: Harness, case: Path) -> None:
    verdict = harness.judge(case.read_bytes())
    assert verdict.failures == ()
    assert verdict.warnings == ()
