"""What tests of the board share: a browser for each of their files."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from browsing import browser


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with browser() as found:
        yield found
