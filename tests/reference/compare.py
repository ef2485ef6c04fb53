"""One set rendered here and by Mitsuba 3, and what each says of every class of pixels."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import mitsuba
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from lightsim.picture import Layer, Maps
from lightsim.scene.build import build
from lightsim.scene.records import Scene
from lightsim.trace import trace

WIDTH_PX = 48
OUR_SEEDS, OUR_SAMPLES = 6, 32
THEIR_SEEDS, THEIR_SAMPLES = 8, 512
CLASS_SEED = 99  # of the rendering that tells the classes: not one of those that are compared
BLOCK_PX = 4
FEWEST_PX = 12  # of a class that is worth a mean

mitsuba.set_variant("scalar_rgb")

from tests.reference.translate import mitsuba_scene  # noqa: E402  (a variant must be chosen first)


@dataclass(frozen=True)
class Agreement:
    """Means of some pixels, ours and theirs, and the standard error of their difference, in theirs' unit."""

    ours: float
    theirs: float
    error: float

    @property
    def ratio(self) -> float:
        """Ours over theirs."""
        return self.ours / self.theirs

    @property
    def ratio_error(self) -> float:
        """Standard error of the ratio."""
        return self.error / self.theirs

    def holds(self, share: float) -> bool:
        """Whether the difference is within three standard errors and a share of theirs."""
        return abs(self.ours - self.theirs) <= 3.0 * self.error + share * self.theirs


@dataclass(frozen=True)
class Both:
    """Pictures by seed (seeds, h, w), and the masks (h, w) of the classes of pixels."""

    ours: NDArray
    theirs: NDArray
    masks: dict[str, NDArray]

    def over(self, mask: NDArray) -> Agreement:
        """What both say of some pixels."""
        a, b = self.ours[:, mask].mean(axis=1), self.theirs[:, mask].mean(axis=1)
        error = np.hypot(np.std(a, ddof=1) / len(a) ** 0.5, np.std(b, ddof=1) / len(b) ** 0.5)
        return Agreement(float(a.mean()), float(b.mean()), float(error))

    def by_class(self) -> dict[str, Agreement]:
        """What both say of each class."""
        return {name: self.over(mask) for name, mask in self.masks.items()}

    def blocks(self, mask: NDArray) -> list[tuple[int, int, Agreement]]:
        """Row, column and agreement of each block of pixels that lies mostly in a class."""
        found = []
        for y in range(0, mask.shape[0], BLOCK_PX):
            for x in range(0, mask.shape[1], BLOCK_PX):
                part = np.zeros_like(mask)
                part[y : y + BLOCK_PX, x : x + BLOCK_PX] = mask[y : y + BLOCK_PX, x : x + BLOCK_PX]
                if part.sum() >= BLOCK_PX**2 // 2:
                    found.append((y, x, self.over(part)))
        return found

    def keep_pictures(self, folder: Path) -> None:
        """ours.png, theirs.png and difference.png (grey: none; five times as strong)."""
        ours, theirs = self.ours.mean(axis=0), self.theirs.mean(axis=0)
        top = float(np.percentile(theirs, 99.0)) + 1e-12
        difference = 0.5 * top + 5.0 * (ours - theirs)
        for name, picture in (("ours", ours), ("theirs", theirs), ("difference", difference)):
            eight = (np.clip(picture / top, 0.0, 1.0) ** (1 / 2.2) * 255.0).astype(np.uint8)
            large = eight.repeat(8, axis=0).repeat(8, axis=1)
            Image.fromarray(large).save(folder / f"{name}.png")


def classes(maps: Maps, layer: Layer) -> dict[str, NDArray]:
    """Masks by class of pixels, those of a mere few pixels left out."""
    bare, wet = maps.petal_cover > 0.99, maps.drop_cover > 0.99
    found = {} if wet.sum() == 0 else _in_drops(maps, layer, wet)
    if layer.lit is None:
        found["petal"] = bare
    else:
        found |= _on_petal(layer, bare)
    return {name: mask for name, mask in found.items() if mask.sum() >= FEWEST_PX}


def _on_petal(layer: Layer, bare: NDArray) -> dict[str, NDArray]:
    lit = np.nan_to_num(layer.lit, nan=-1.0)
    seen = layer.total()[..., 0]
    in_light = bare & (lit > 0.99)
    level = np.median(seen[in_light]) if in_light.any() else np.median(seen[bare])
    bright = bare & (seen > 1.1 * level)
    return {
        "petal in light": in_light & ~bright,
        "petal in half-shadow": bare & (lit <= 0.99) & (lit > 0.7) & ~bright,
        "petal in shadow": bare & (lit <= 0.7) & ~bright,
        "bright spot": bright,
    }


def _in_drops(maps: Maps, layer: Layer, wet: NDArray) -> dict[str, NDArray]:
    rows, columns = np.mgrid[: wet.shape[0], : wet.shape[1]] + 0.5
    drops = maps.drops
    out = np.full(wet.shape, np.inf)
    for centre, radius in zip(drops.centre_px, drops.radius_px, strict=True):
        out = np.minimum(out, np.hypot(columns - centre[0], rows - centre[1]) / radius)
    highlight = wet & (layer.glint > 0.5 * layer.glint.max()) & (layer.glint > 0.0)
    return {
        "highlight": highlight,
        "inside of drops": wet & (out <= 0.8) & ~highlight,
        "rim of drops": wet & (out > 0.8) & ~highlight,
    }


def rendered_by_both(scene: Scene, light: str | None, folder: Path, width_px: int = WIDTH_PX) -> Both:
    """One light of a scene, or its dome (None), by both."""
    loaded = mitsuba_scene(build(scene), folder, width_px, light, THEIR_SAMPLES)
    theirs = np.array([np.array(mitsuba.render(loaded, seed=s))[..., 0] for s in range(THEIR_SEEDS)])
    name = light or "ambient"

    def ours(seed: int, samples: int):
        return trace(scene, width_px=width_px, samples=samples, seed=seed)

    layers = [ours(s, OUR_SAMPLES).by_light[name].total()[..., 0] for s in range(OUR_SEEDS)]
    told = ours(CLASS_SEED, 4 * OUR_SAMPLES)
    return Both(np.array(layers), theirs, classes(told.maps, told.by_light[name]))


def opened(scene: Scene, f_number: float = 11.0) -> Scene:
    """The scene with another lens opening."""
    return replace(scene, camera=replace(scene.camera, f_number=f_number))
