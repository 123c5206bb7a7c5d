"""The cairo library, which no Python package brings along."""

from __future__ import annotations

from typing import Any

from vecrepeat.errors import InputError

NO_CAIRO = 78
"""How a worker's process ends where there is none; sysexits.h has it as EX_CONFIG."""


def missing() -> InputError:
    """Return the error that says what to install."""
    return InputError(
        "the cairo library is not installed, which draws the art",
        hint="Debian and Ubuntu: apt-get install libcairo2; Fedora: dnf install cairo; "
        "macOS: brew install cairo; Windows: README.md says how",
    )


def load_cairosvg() -> Any:
    """Return the module ``cairosvg``.

    Raises:
        InputError: there is no cairo library.
    """
    try:
        import cairosvg
    except OSError:
        # cairocffi looks for the library as it is imported.
        raise missing() from None
    return cairosvg
