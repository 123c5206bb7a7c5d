"""Any bytes are drawn or refused: no other error, no hang, no file of another folder.

``python tests/fuzz`` runs on for as long as it is let; what it finds is kept in ``cases``, which
the ordinary test run goes through.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fuzz.grammar import documents
from fuzz.harness import Harness
from fuzz.mutation import mutated, seeds

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="watches a process by its /proc")


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
