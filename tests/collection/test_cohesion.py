"""What keeps prints from belonging together, and what is measured of each."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from coloraide import Color
from support import vecrepeat, write_svg

from vecrepeat.check.profile import load_profile
from vecrepeat.collection.cohesion import Cohesion, check_cohesion
from vecrepeat.collection.line import open_line
from vecrepeat.collection.measures import Seen, seen
from vecrepeat.sources.source import open_source

PALETTE = ["#102040", "#f0e0c0", "#c04030"]


def looked_at(folder: Path, body: str) -> Seen:
    return seen(open_source(write_svg(folder, body)).repeat, PALETTE)


def stripes(at: float, colour: str = "#f0e0c0") -> str:
    return (
        f'<rect width="100" height="100" fill="#102040"/><g id="a"><rect x="{at}" width="40" '
        f'height="100" fill="{colour}"/></g>'
    )


def test_stripes_measured_by_arithmetic(tmp_path: Path) -> None:
    look = looked_at(tmp_path, stripes(20))
    # 100 mm at 0.8 mm are 125 pixels; each row steps twice, from one colour to the other.
    one, other = (np.array(Color(c).convert("oklab").coords()) for c in PALETTE[:2])
    step = float(np.linalg.norm(one - other))
    assert look.busy == pytest.approx(100 * (2 * step / 125) / 2, rel=0.02)
    assert look.scale == pytest.approx(50, rel=0.01)  # half of what comes every 100 mm
    assert look.shares == pytest.approx([0.6, 0.4, 0], abs=0.01)


def test_likeness_goes_by_colours_and_texture_not_by_place(tmp_path: Path) -> None:
    look = looked_at(tmp_path, stripes(0))
    assert look.likeness(look) == pytest.approx(1)
    assert look.likeness(looked_at(tmp_path, stripes(30))) > 0.95
    across = '<rect width="100" height="100" fill="#102040"/><g id="a"><rect y="20" width="100" '
    turned = looked_at(tmp_path, f'{across} height="40" fill="#f0e0c0"/></g>')
    assert look.likeness(turned) < 0.1
    assert look.likeness(looked_at(tmp_path, stripes(0, "#c04030"))) < 0.7
    plain = looked_at(tmp_path, stripes(0, "#102040"))
    assert (plain.busy, plain.scale) == (0, 0)


def test_scale_is_that_of_motifs_large_ones_first(tmp_path: Path) -> None:
    dots = (
        '<g id="a"><rect x="10" y="10" width="30" height="20"/></g>'
        '<g id="b"><rect x="60" y="60" width="10" height="10"/></g>'
    )
    assert looked_at(tmp_path, dots).scale == pytest.approx((600 * 30 + 100 * 10) / 700, rel=1e-3)


def checked(meadow: Path, added: str = "", profile: str = "cloth-digital") -> Cohesion:
    meadow.write_text(meadow.read_text() + added)
    return check_cohesion(open_line(meadow), load_profile(profile))


def kinds(report: Cohesion) -> list[str]:
    return [finding.kind for finding in report.findings]


ARROWS = "".join(
    f'<g id="arrow-{k}"><path d="M{x} 45l-9 -20h5v-20h8v20h5z" fill="#c04030"/></g>'
    for k, x in enumerate((20, 60))
)


def test_prints_that_belong_together_have_no_findings(meadow: Path) -> None:
    # Two small grounds and colours of the palette, a scale of 50 mm beside one of 5 mm.
    report = checked(meadow)
    assert kinds(report) == []
    assert [member.look.scale for member in report.members] == [
        pytest.approx(50, rel=0.01),
        pytest.approx(5, rel=0.01),
    ]
    assert vecrepeat("cohesion", meadow).code == 0


def test_a_colour_that_the_palette_lacks_is_told_with_its_nearest(meadow: Path) -> None:
    meadow.write_text(meadow.read_text().replace('colours = ["poppy", "cream"]', "", 1))
    text = (meadow.parent / "dots.svg").read_text()
    (meadow.parent / "dots.svg").write_text(text.replace("#c04030", "#c86030"))
    done = vecrepeat("cohesion", meadow, "--json")
    assert done.code == 1
    facts = json.loads(done.out)
    (stray,) = facts["prints"][1]["off_palette"]
    far = Color("#c86030").delta_e("#c04030", method="2000", space="lab-d65")
    assert (stray["colour"], stray["nearest"]) == ("#c86030", "poppy")
    assert stray["delta_e"] == pytest.approx(far, abs=0.2)
    assert "#c86030 (nearest poppy" in facts["findings"][0]["what"]


@pytest.mark.parametrize(
    ("added", "kind", "told"),
    [
        (
            '[[print]]\nname = "Twin"\nrole = "secondary"\nfrom = "hero.svg"\n',
            "alike",
            "“Bands” and “Twin”",
        ),
        (
            '[[print]]\nname = "Half"\nrole = "secondary"\nfrom = "hero.svg"\nwidth = "9cm"\n',
            "scales too near",
            "“Half” of 45 mm",
        ),
        (
            '[[print]]\nname = "Other"\nrole = "blender"\nfrom = "dots.svg"\nwidth = "0.3mm"\n',
            "detail too small",
            "print its tile 0.4 mm wide or more",
        ),
        (
            '[[print]]\nname = "Up"\nrole = "blender"\nfrom = "arrows.svg"\n'
            'colours = ["poppy", "cream"]\n',
            "one-way among others",
            "“Up” is one-way, the other 2 are not",
        ),
        (
            '[[colourway]]\nname = "dull"\ncolours = { ink = "#808080", poppy = "#808080" }\n',
            "merged in a colourway",
            "in “dull” ink and poppy have merged",
        ),
        (
            '[[print]]\nname = "Dye"\nrole = "blender"\nfrom = "dots.svg"\n'
            'map = { ground = "mud" }\n',
            "grounds nearly the same",
            "“Dots” (#f0e0c0) and “Dye” (#eddfc2)",
        ),
    ],
)
def test_each_fault_is_told(meadow: Path, added: str, kind: str, told: str) -> None:
    write_svg(meadow.parent, ARROWS, name="arrows.svg")
    meadow.write_text(meadow.read_text().replace("[printer]", 'mud = "#eddfc2"\n[printer]'))
    report = checked(meadow, added)
    (found,) = [finding for finding in report.findings if finding.kind == kind]
    assert told in found.what + found.advice


def test_rest_spread_and_grounds_of_a_whole_collection(meadow: Path, tmp_path: Path) -> None:
    rows = "".join(
        f'[[print]]\nname = "B{k}"\nrole = "blender"\nfrom = "dots.svg"\nwidth = "{9 + k}mm"\n'
        for k in range(3)
    )
    head = meadow.read_text().partition("[[print]]")[0]
    meadow.write_text(head + rows)
    report = checked(meadow)
    assert {"no rest", "scales without a spread", "grounds of one lightness"} <= set(kinds(report))
    own = tmp_path / "own.toml"
    own.write_text("[collection]\nrest = 1\nspread = 1\nground_span = 0\nalike = 1.1\n")
    assert kinds(checked(meadow, profile=str(own))) == []
