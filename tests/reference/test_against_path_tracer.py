"""The same small sets rendered here and by Mitsuba 3 (variant scalar_rgb), compared by class of pixels.

Classes come from our own maps and from a rendering that is not itself compared. Each side is rendered with
several seeds; a class mean may differ by three standard errors of the difference plus a share of the
reference. So may each block of 4 x 4 pixels, with a larger share, lest errors of opposite sign cancel.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest

from lightsim.scene.records import Drops, Light, PlacedDrop, Scene
from tests.reference.compare import opened, rendered_by_both
from tests.trace.sets import lamp, one_drop, plain_petal, simple

# a face large and near enough for a path tracer to find it through the water
SOFT = lamp(angle_deg=45.0, clock=10.0, distance_mm=150.0, width_mm=120.0, height_mm=120.0)
SIDE = SOFT.moved(angle_deg=75.0)
FRONTAL = SOFT.moved(angle_deg=15.0)
PAIR = Drops(
    count=0, placed=(PlacedDrop(-0.7, 0.0, 1.2), PlacedDrop(0.75, 0.2, 1.4)), contact_angle_deg=110.0
)

# Shares allowed beside the noise. Dry petal, shadow and bright spot: none is left out. In drops: soft light
# on the wet base comes from a grid, and light mirrored more than once inside is not looked for.
SHARE = {"inside of drops": 0.02, "rim of drops": 0.03}
PLAIN_SHARE = 0.01
BLOCK_SHARE = 0.04
# Light by way of two drops in a row is left out: what falls into the farther of two that stand in one
# another's light.
TWO_IN_A_ROW = {"inside of drops": 0.22, "rim of drops": 0.24}
# The light that a drop gathers for the dry petal comes to it as if no other drop stood in the way: a bright
# spot where the reference has none.
NO_SHADE_BETWEEN = {"petal in shadow": 0.11, "bright spot": 0.14}
# The petal under a drop that stands nearly clear of it gets too little soft light.
UNDER_A_BALL = {"inside of drops": 0.33, "rim of drops": 0.24}


@dataclass(frozen=True)
class Case:
    """A set, the light that is looked at (None: the dome), and shares of its own."""

    scene: Scene
    light: str | None = "lamp"
    shares: dict[str, float] = field(default_factory=dict)
    block_share: float = BLOCK_SHARE

    def share(self, name: str) -> float:
        """The share that a class of pixels may differ by."""
        return self.shares.get(name, SHARE.get(name, PLAIN_SHARE))


def alone(contact_angle_deg: float, light: Light | None = None, reflectance: float = 0.5) -> Case:
    """One drop of 1.5 mm, under a lamp or the dome."""
    lights = () if light is None else (light,)
    scene = simple(plain_petal(reflectance), one_drop(contact_angle_deg), lights)
    return Case(scene, None if light is None else "lamp")


def together(light: Light | None = None) -> Case:
    """Two neighbours on a line that the light comes along."""
    lights = () if light is None else (light.moved(clock=9.0),)
    scene = simple(plain_petal(0.5), PAIR, lights, field_mm=5.0)
    return Case(scene, None if light is None else "lamp")


SHORT = {
    "half drop, three-quarter light": alone(90.0, SOFT),
    "half drop, frontal light": alone(90.0, FRONTAL),
    "half drop, side light": alone(90.0, SIDE),
    "high drop, side light, dark petal": alone(110.0, SIDE, 0.3),
    "two neighbours, three-quarter light": together(SOFT),
    "two neighbours, side light": replace(
        together(SIDE), shares=TWO_IN_A_ROW | NO_SHADE_BETWEEN, block_share=1.0
    ),
    "high drop, dome": alone(110.0),
}
LONG = {
    "flat drop, three-quarter light": alone(60.0, SOFT),
    "flat drop, side light": alone(60.0, SIDE),
    "high drop, three-quarter light": alone(110.0, SOFT),
    "higher drop, three-quarter light": alone(130.0, SOFT),
    "half drop, three-quarter light, dark petal": alone(90.0, SOFT, 0.3),
    "half drop, three-quarter light, bright petal": alone(90.0, SOFT, 0.8),
    "high drop, side light, bright petal": alone(110.0, SIDE, 0.8),
    "ball, three-quarter light": replace(alone(150.0, SOFT), shares={"inside of drops": 0.04}),
    "ball, side light": replace(alone(150.0, SIDE), shares=UNDER_A_BALL),
    "flat drop, dome": alone(60.0),
    "half drop, dome": alone(90.0),
    "ball, dome": alone(150.0),
    "high drop, dome, dark petal": alone(110.0, None, 0.3),
    "high drop, dome, bright petal": alone(110.0, None, 0.8),
    "two neighbours, dome": together(),
}


def check(case: Case, folder: Path) -> None:
    """Hold class means, and the blocks of dry petal, to the reference."""
    both = rendered_by_both(opened(case.scene), case.light, folder)
    problems = []
    for name, found in both.by_class().items():
        share = case.share(name)
        said = f"{name}: ours / theirs {found.ratio:.4f} +- {found.ratio_error:.4f}"
        print(said)
        if not found.holds(share):
            problems.append(f"{said}, allowed {share:g} beside 3 standard errors")
        if "drops" in name or name == "highlight":
            continue
        for row, column, block in both.blocks(both.masks[name]):
            if not block.holds(case.block_share):
                problems.append(f"{name}, block at row {row}, column {column}: {block.ratio:.3f}")
    assert both.masks, "no class has enough pixels"
    if problems:
        both.keep_pictures(folder)
    listed = "; ".join(problems)
    assert not problems, f"{listed} (ours.png, theirs.png, difference.png in {folder})"


@pytest.mark.parametrize("name", SHORT)
def test_classes_of_pixels(name, tmp_path):
    check(SHORT[name], tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("name", LONG)
def test_classes_of_pixels_in_more_sets(name, tmp_path):
    check(LONG[name], tmp_path)
