"""Settings of the whole test suite; helpers are in support.py."""

from __future__ import annotations

from hypothesis import settings

# Machines that run tests are shared: a slow example is no failure.
settings.register_profile("vecrepeat", deadline=None)
settings.load_profile("vecrepeat")
