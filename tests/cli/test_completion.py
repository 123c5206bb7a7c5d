"""The shell's completion, as docs/commands.md tells of it."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

DOC = Path(__file__).parents[2] / "docs" / "commands.md"


def lines_told() -> dict[str, str]:
    """Each shell's line, as the documentation has it."""
    found = re.findall(r"^\| (bash|zsh|fish)\b[^|]*\|[^|]*\| `(.*)` \|$", DOC.read_text(), re.M)
    return {shell: line.replace("\\|", "|") for shell, line in found}


@pytest.mark.parametrize(
    ("shell", "asks"),
    [
        # What bash calls for "vecrepeat ex<Tab>", and what zsh and fish ask of the command.
        (
            "bash",
            "COMP_WORDS=(vecrepeat ex); COMP_CWORD=1; _vecrepeat_completion vecrepeat; "
            'echo "${COMPREPLY[@]}"',
        ),
        (
            "zsh",
            'COMP_WORDS="vecrepeat ex" COMP_CWORD=1 _VECREPEAT_COMPLETE=zsh_complete vecrepeat',
        ),
        ("fish", "complete -C 'vecrepeat ex'"),
    ],
)
def test_a_command_is_completed(tmp_path: Path, shell: str, asks: str) -> None:
    program = shutil.which(shell)
    if program is None:
        pytest.skip(f"{shell} is not installed")
    command = tmp_path / "vecrepeat"
    command.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m vecrepeat "$@"\n')
    command.chmod(0o755)
    line = lines_told()[shell]
    script = f"set PATH {tmp_path} $PATH" if shell == "fish" else f"PATH={tmp_path}:$PATH"
    compdef = "compdef() { :; }" if shell == "zsh" else ""
    done = subprocess.run(
        [program, "-c", "\n".join((script, compdef, line, asks))], capture_output=True, text=True
    )
    assert re.search(r"\bexport\b", done.stdout), done.stderr


def test_all_three_shells_are_told_of() -> None:
    # Those that click knows (its documentation, "Shell Completion").
    assert set(lines_told()) == {"bash", "zsh", "fish"}
