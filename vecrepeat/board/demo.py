"""The drawing to try the board with: in the package where it is installed, else in the sources."""

from __future__ import annotations

from pathlib import Path

_NAME = "night-garden.svg"
_PLACES = (Path(__file__).with_name("demo"), Path(__file__).parents[2] / "demo-svg")
DEMO = next((place / _NAME for place in _PLACES if place.is_dir()), _PLACES[0] / _NAME)
