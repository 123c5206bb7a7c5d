"""The one exception that reaches a user as a single clear line."""

from __future__ import annotations

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
