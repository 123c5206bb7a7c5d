"""Build the packages and use them as a stranger would: ``python tests/wheels``.

Builds the sdist, and the wheel from the sdist. Then, each in an empty virtual environment:

* the wheel with the newest packages: the main job on a demo drawing, nothing but the promised
  packages installed, and a user's own strictly typed program under mypy;
* the wheel with the oldest packages that ``pyproject.toml`` allows, and the tests of the main
  job with them;
* the same with the cairo library hidden: resvg draws the tile, and one line says so.

Minutes long and dependent on a package index, so run by hand.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tarfile
import tempfile
import tomllib
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

PROGRAM = """\
from pathlib import Path

import vecrepeat
from vecrepeat import Layout, Repeat, read_art

art = read_art(Path("art.svg"))
repeat: Repeat = art.repeat(Layout.parse("half-drop"))
vecrepeat.compose(repeat, "repeat.svg")
exported = vecrepeat.export(repeat, "tile.png", dpi=72)
print(exported.width + exported.height)
"""
WRONG = 'from vecrepeat import Layout\nLayout.parse(3) + "x"\n'
"""A user's own mypy must see our types and refuse this."""


def ran(*command: str | Path, cwd: Path, good: bool = True, **environment: str) -> str:
    """Run a program and return all it says.

    Raises:
        SystemExit: it ends otherwise than it should.
    """
    done = subprocess.run(
        [str(word) for word in command],
        cwd=cwd,
        env={**os.environ, **environment},
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    if (done.returncode == 0) != good:
        sys.exit(f"{' '.join(map(str, command))} ended with {done.returncode}:\n{done.stdout}")
    return done.stdout


def fresh(folder: Path) -> Path:
    """Make an empty virtual environment and return its folder of programs."""
    venv.create(folder, with_pip=True)
    return folder / ("Scripts" if os.name == "nt" else "bin")


def floors(extras: list[str]) -> list[str]:
    """Return the oldest allowed version of every package that we ask for."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    wanted = list(project["dependencies"])
    for extra in extras:
        wanted += project["optional-dependencies"][extra]
    found = [re.fullmatch(r"([A-Za-z0-9_.-]+)>=([0-9.]+)", line) for line in wanted]
    return [f"{m[1]}=={m[2]}" for m in found if m is not None]


def main() -> None:
    """Run all of it, and say what was done."""
    with tempfile.TemporaryDirectory() as name:
        work = Path(name)
        tools = fresh(work / "tools")
        ran(tools / "pip", "install", "-q", "build", "mypy", cwd=work)
        ran(tools / "python", "-m", "build", "-o", work / "dist", ROOT, cwd=work)
        (wheel,) = (work / "dist").glob("*.whl")
        (sdist,) = (work / "dist").glob("*.tar.gz")
        with tarfile.open(sdist) as archive:
            inside = {Path(entry).parts[1] for entry in archive.getnames() if "/" in entry}
        print(f"built {sdist.name} ({', '.join(sorted(inside))}) and {wheel.name}")

        user = work / "user"
        user.mkdir()
        (user / "art.svg").write_bytes((ROOT / "demo-svg" / "night-garden.svg").read_bytes())
        (user / "program.py").write_text(PROGRAM)
        (user / "wrong.py").write_text(WRONG)

        newest = fresh(work / "newest")
        ran(newest / "pip", "install", "-q", wheel, cwd=work)
        print(ran(newest / "pip", "check", cwd=work).strip())
        print("python program.py:", ran(newest / "python", "program.py", cwd=user).strip())
        ran(newest / "vecrepeat", "export", "art.svg", "-o", "t.png", "--dpi", "72", cwd=user)
        python = str(newest / "python")
        mypy = (tools / "mypy", "--strict", "--python-executable", python)
        print("mypy program.py:", ran(*mypy, "program.py", cwd=user).strip())
        told = ran(*mypy, "wrong.py", cwd=user, good=False)
        print("mypy wrong.py:", told.strip().splitlines()[-1])

        told = ran(
            *(newest / "vecrepeat", "export", "art.svg", "-o", "u.png", "--dpi", "72"),
            cwd=user,
            PYTHONPATH=str(ROOT / "tests" / "without_cairo"),
        )
        assert told.count("no cairo library") == 1, told
        print("without libcairo:", told.strip())

        oldest = fresh(work / "oldest")
        pins = floors([])
        # In one go, so that what only the tests need suits the oldest packages too.
        ran(oldest / "pip", "install", "-q", *pins, f"{wheel}[test]", cwd=work)
        print("oldest:", " ".join(pins))
        tests = [
            "tests/cli",
            "tests/draw/test_exactness.py",
            "tests/vector",
            "tests/repeat/test_wrap.py",
        ]
        told = ran(
            oldest / "python", "-m", "pytest", "-q", "-p", "no:cacheprovider", *tests, cwd=ROOT
        )
        print("tests with the oldest packages:", told.strip().splitlines()[-1])


if __name__ == "__main__":
    main()
