"""The one exception that reaches a user as a single clear line."""

from __future__ import annotations

import os
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path


class InputError(ValueError):
    """Bad input: what is wrong, where, and what to do about it.

    Args:
        what: one sentence, without a final full stop, saying what is wrong.
        file: the file at fault, if any.
        element: the id (or name) of the element at fault, if any.
        hint: what the user can do, as one clause.

    The command line shows ``str(error)`` on one line and exits with 2.
    """

    def __init__(
        self,
        what: str,
        *,
        file: str | Path | None = None,
        element: str | None = None,
        hint: str | None = None,
    ) -> None:
        self.what = what
        self.file = None if file is None else str(file)
        self.element = element
        self.hint = hint
        super().__init__(self._line())

    def of(self, file: str | Path) -> InputError:
        """Return the same error, of a file where it names none."""
        if self.file is not None:
            return self
        return InputError(self.what, file=file, element=self.element, hint=self.hint)

    def _line(self) -> str:
        where = ""
        if self.file is not None:
            where += f"{self.file}: "
        if self.element is not None:
            where += f"element “{self.element}”: "
        tail = f" ({self.hint})" if self.hint else ""
        return " ".join(f"{where}{self.what}{tail}".split())


def missing_package(what: str, package: str, *, file: str | Path | None = None) -> InputError:
    """Return the error for a package that few need and that is not installed here.

    Args:
        what: what needs it.
        package: its name in the index.
        file: the file that was to be written with it, if any.

    The hint is a command that puts it beside this program, however that was installed: in an
    environment that is not entered the interpreter is named in full, and one without pip (uv
    makes such) is filled by uv.
    """
    entered = os.environ.get("VIRTUAL_ENV") == sys.prefix
    python = "python" if entered else subprocess.list2cmdline([sys.executable])
    command = f"uv pip install --python {python}"
    if find_spec("pip") is not None:
        command = f"{python} -m pip install"
    return InputError(
        f"{what} needs the package {package}, which is not installed",
        file=file,
        hint=f"{command} {package}",
    )
