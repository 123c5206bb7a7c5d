"""A sample of the bank of defects; the whole of it is tests/benchmarks/check_bank.py."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

BENCHMARKS = Path(__file__).parent.parent / "benchmarks"


def _loaded(name: str) -> ModuleType:
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, BENCHMARKS / f"{name}.py")
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]


bank = _loaded("check_bank")
vector_bank = _loaded("vector_bank")
DEFECTS = {**bank.RASTER_DEFECTS, **vector_bank.VECTOR_DEFECTS}


@pytest.mark.parametrize("kind", list(DEFECTS))
def test_defect_is_found(tmp_path: Path, kind: str) -> None:
    case = DEFECTS[kind](np.random.default_rng(11), tmp_path)
    assert bank.caught(case, bank.found_in(case))


@pytest.mark.parametrize("k", range(8))
def test_clean_raster_raises_no_alarm(tmp_path: Path, k: int) -> None:
    assert bank.found_in(bank.clean_raster(np.random.default_rng([12, k]), tmp_path, k)) == ()


@pytest.mark.parametrize("k", range(3))
def test_clean_vector_raises_no_alarm(tmp_path: Path, k: int) -> None:
    case = vector_bank.clean_vector(np.random.default_rng([13, k]), tmp_path, k)
    assert bank.found_in(case) == ()
