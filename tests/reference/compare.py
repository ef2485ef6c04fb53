"""One set rendered here and by Mitsuba 3, and what each says of every class of pixels."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.stats import t as student

from lightsim.picture import Layers, Maps, luminance
from lightsim.scene.build import build
from lightsim.scene.records import Scene
from lightsim.tracer import trace_layers
from tests.reference.kept_pictures import path_traced

CLASS_SEED = 99  # of the rendering that tells the classes: not one of those that are compared
BLOCK_PX = 4
FEWEST_PX = 12  # of a class that is worth a mean
RARE = 0.01  # chance of calling any right picture wrong, over all that is asked of it together
LEVEL = 1e-12  # keeps a division by black from failing


@dataclass(frozen=True)
class Effort:
    """Size of the pictures, and seeds and samples per pixel of each renderer."""

    width_px: int = 48
    our_seeds: int = 6
    our_samples: int = 32
    their_seeds: int = 12
    their_samples: int = 384


FAST = Effort()
FULL = Effort(our_seeds=8, our_samples=128, their_seeds=16, their_samples=1024)


@dataclass(frozen=True)
class Agreement:
    """Means of some pixels, ours and theirs, their standard errors, and the seeds behind each."""

    ours: NDArray | float
    theirs: NDArray | float
    our_error: NDArray | float
    their_error: NDArray | float
    seeds: tuple[int, int]

    @staticmethod
    def of(ours: NDArray, theirs: NDArray) -> Agreement:
        """From values by seed along the first axis."""

        def error(values: NDArray) -> NDArray:
            return np.std(values, axis=0, ddof=1) / len(values) ** 0.5

        return Agreement(
            ours.mean(axis=0), theirs.mean(axis=0), error(ours), error(theirs), (len(ours), len(theirs))
        )

    @property
    def error(self) -> NDArray | float:
        """Standard error of the difference."""
        return np.hypot(self.our_error, self.their_error)

    @property
    def ratio(self) -> NDArray | float:
        """Ours over theirs."""
        return self.ours / (self.theirs + LEVEL)

    @property
    def ratio_error(self) -> NDArray | float:
        """Standard error of the ratio."""
        return self.error / (self.theirs + LEVEL)

    def chance(self, share: float) -> NDArray | float:
        """How likely such a difference is if the true one is at most a share of theirs (Welch's test)."""
        a, b = np.square(self.our_error), np.square(self.their_error)
        m, n = self.seeds
        freedom = np.square(a + b + LEVEL**2) / (a * a / (m - 1) + b * b / (n - 1) + LEVEL**4)
        beyond = np.maximum(0.0, np.abs(self.ours - self.theirs) - share * np.abs(self.theirs))
        return 2.0 * student.sf(beyond / (self.error + LEVEL), np.maximum(freedom, 1.0))


@dataclass(frozen=True)
class Both:
    """Luminances by seed (seeds, h, w), the masks (h, w) of the classes of pixels, and what we know of it."""

    ours: NDArray
    theirs: NDArray
    masks: dict[str, NDArray]
    known: Layers

    def over(self, mask: NDArray) -> Agreement:
        """What both say of some pixels together."""
        return Agreement.of(self.ours[:, mask].mean(axis=1), self.theirs[:, mask].mean(axis=1))

    def by_class(self) -> dict[str, Agreement]:
        """What both say of each class."""
        return {name: self.over(mask) for name, mask in self.masks.items()}

    def pixels(self) -> Agreement:
        """What both say of each pixel."""
        return Agreement.of(self.ours, self.theirs)

    def blocks(self, mask: NDArray) -> tuple[list[tuple[int, int]], Agreement | None]:
        """Places (row, column) and agreement of the blocks of pixels that lie mostly in a class."""
        places, a, b = [], [], []
        for y in range(0, mask.shape[0], BLOCK_PX):
            for x in range(0, mask.shape[1], BLOCK_PX):
                part = mask[y : y + BLOCK_PX, x : x + BLOCK_PX]
                if part.sum() >= BLOCK_PX**2 // 2:
                    places.append((y, x))
                    a.append(self.ours[:, y : y + BLOCK_PX, x : x + BLOCK_PX][:, part].mean(axis=1))
                    b.append(self.theirs[:, y : y + BLOCK_PX, x : x + BLOCK_PX][:, part].mean(axis=1))
        return places, Agreement.of(np.array(a).T, np.array(b).T) if places else None

    def keep_pictures(self, folder: Path) -> None:
        """ours.png, theirs.png, difference.png (grey: none; five times as strong), chance.png (each pixel's
        p-value: white 1, black one in ten thousand or less)."""
        ours, theirs = self.ours.mean(axis=0), self.theirs.mean(axis=0)
        top = float(np.percentile(theirs, 99.0)) + LEVEL
        chance = 1.0 + np.log10(np.maximum(self.pixels().chance(0.0), 1e-4)) / 4.0
        pictures = {
            "ours": (ours / top).clip(0.0) ** (1 / 2.2),
            "theirs": (theirs / top).clip(0.0) ** (1 / 2.2),
            "difference": 0.5 + 2.5 * (ours - theirs) / top,
            "chance": chance,
        }
        for name, picture in pictures.items():
            eight = (np.clip(picture, 0.0, 1.0) * 255.0).astype(np.uint8)
            Image.fromarray(eight.repeat(8, axis=0).repeat(8, axis=1)).save(folder / f"{name}.png")


def classes(maps: Maps, lit: NDArray | None, seen: NDArray, glint: NDArray) -> dict[str, NDArray]:
    """Masks by class of pixels, those of a mere few pixels left out. lit, seen, glint: (h, w)."""
    bare, wet = maps.petal_cover > 0.99, maps.drop_cover > 0.99
    found = {} if wet.sum() == 0 else _in_drops(maps, glint, wet)
    found |= {"petal": bare} if lit is None else _on_petal(lit, seen, bare)
    found["whole picture"] = np.ones_like(bare)
    return {name: mask for name, mask in found.items() if mask.sum() >= FEWEST_PX}


def _on_petal(lit: NDArray, seen: NDArray, bare: NDArray) -> dict[str, NDArray]:
    lit = np.nan_to_num(lit, nan=-1.0)
    in_light = bare & (lit > 0.99)
    if not in_light.any():
        return {"petal": bare}
    bright = bare & (seen > 1.1 * np.median(seen[in_light]))
    spot = bright & (lit <= 0.99)
    return {
        "petal in light": in_light,
        "petal in half-shadow": bare & (lit <= 0.99) & (lit > 0.7) & ~spot,
        "petal in shadow": bare & (lit <= 0.7) & ~spot,
        "bright spot": spot,
    }


def _in_drops(maps: Maps, glint: NDArray, wet: NDArray) -> dict[str, NDArray]:
    rows, columns = np.mgrid[: wet.shape[0], : wet.shape[1]] + 0.5
    drops = maps.drops
    out = np.full(wet.shape, np.inf)
    for centre, radius in zip(drops.centre_px, drops.radius_px, strict=True):
        out = np.minimum(out, np.hypot(columns - centre[0], rows - centre[1]) / radius)
    highlight = wet & (glint > 0.5 * glint.max()) & (glint > 0.0)
    return {
        "highlight": highlight,
        "inside of drops": wet & (out <= 0.8) & ~highlight,
        "rim of drops": wet & (out > 0.8) & ~highlight,
    }


def rendered_by_both(scene: Scene, lights: tuple[str, ...] | None, effort: Effort = FAST) -> Both:
    """Some lights of a scene together, or its dome (None), by both; a unit of output each."""
    theirs = path_traced(build(scene), effort.width_px, lights, effort.their_samples, effort.their_seeds)
    names = lights or ("ambient",)

    def ours(seed: int, samples: int) -> Layers:
        return trace_layers(scene, width_px=effort.width_px, samples=samples, seed=seed)

    def added(layers: Layers) -> NDArray:
        return np.sum([luminance(layers.by_light[name].total()) for name in names], axis=0)

    layers = np.array([added(ours(s, effort.our_samples)) for s in range(effort.our_seeds)])
    told = ours(CLASS_SEED, 4 * effort.our_samples)
    lit = [told.by_light[name].lit for name in names]
    glint = np.sum([told.by_light[name].glint for name in names], axis=0)
    least = None if lit[0] is None else np.min(lit, axis=0)  # type: ignore[type-var]
    return Both(layers, theirs, classes(told.maps, least, added(told), glint), told)


def without_gloss(scene: Scene) -> Scene:
    """The scene with a petal whose cuticle does not shine."""
    return replace(scene, petal=replace(scene.petal, gloss=0.0))
