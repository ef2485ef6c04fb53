"""What each mechanism of the tracer buys: seconds, error and worst block of this tree on a few sets, as a
table.

    python -m tests.benchmarks.ablation --reference rays.npz          # many paths a pixel, kept as the truth
    python -m tests.benchmarks.ablation --against rays.npz            # this tree's rows of the table

A mechanism is compiled in, so it is switched off on a branch: run the second command there and here, and keep
both tables in README.md beside this file. The truth is best made on a branch on which each path traces a
shadow ray of its own. One flash, 480 pixels wide, 16 paths a pixel; processor's seconds of the flash moved by
a hundredth of an hour.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from time import process_time

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.file.read import load_scene
from lightsim.scene.records import Diffuser, Scene
from lightsim.tracer import View
from tests.benchmarks.against_reference import set_up

DEMO = Path(__file__).parents[2] / "scenes" / "dewy-petal.toml"
ANGLES_DEG = (30.0, 75.0, 90.0, 105.0)
WIDTH_PX, SAMPLES, TRUTH_SAMPLES = 480, 16, 128
BLOCK = 4  # pixels along the side of a block whose mean is compared
DARK = 0.05  # of the middle level: what is darker counts as that dark
TREE = Path(__file__).parents[2] / "lightsim" / "tracer"


@dataclass(frozen=True)
class Row:
    """What was found on one set: processor's seconds, errors relative to the truth."""

    name: str
    seconds: float
    bias: float
    error_90: float
    error_99: float
    worst_block: float


def sets() -> Iterator[tuple[str, Scene]]:
    """The sets of the table, each lit by one flash."""
    demo = load_scene(DEMO)
    for angle in ANGLES_DEG:
        yield f"demo, {angle:.0f} degrees", replace(demo, lights=(demo.lights[0].moved(angle_deg=angle),))
    yield "60 drops, flat petal", set_up(60)
    yield "1000 drops", set_up(1000)
    near = Diffuser(width_mm=150.0, height_mm=150.0)
    light = demo.lights[0].moved(angle_deg=60.0, distance_mm=90.0, diffuser=near)
    yield "a near, large face", replace(demo, lights=(light,), cards=())


def petal_light(view: View, scene: Scene) -> NDArray[np.float64]:
    """The flash's light that the bare petal sends, (h, w); NaN where something else is seen."""
    layers = view.trace(scene)
    light = layers.by_light[scene.lights[0].name].petal.mean(axis=-1).astype(float)
    return np.where(layers.maps.petal_cover > 0.999, light, np.nan)


def seconds_moved(view: View, scene: Scene) -> float:
    """Processor's seconds of the flash moved, the best of two."""
    best = np.inf
    for turn in (0.01, 0.0):
        light = scene.lights[0]
        moved = light.moved(clock=light.clock + turn)
        begin = process_time()
        view.trace(replace(scene, lights=(moved, *scene.lights[1:])))
        best = min(best, process_time() - begin)
    return float(best)


def row_of(name: str, scene: Scene, truth: NDArray[np.float64]) -> Row:
    """This tree's figures on a set."""
    view = View(scene, width_px=WIDTH_PX, samples=SAMPLES)
    found = petal_light(view, scene)
    known = np.isfinite(found) & np.isfinite(truth)
    least = DARK * float(np.median(truth[known]))
    error = np.abs(found - truth)[known] / np.maximum(truth[known], least)
    whole = np.isfinite(in_blocks(found)) & np.isfinite(in_blocks(truth))
    ratio = in_blocks(found)[whole] / np.maximum(in_blocks(truth)[whole], least)
    return Row(
        name,
        seconds_moved(view, scene),
        float(found[known].sum() / truth[known].sum() - 1.0),
        *(float(np.quantile(error, share)) for share in (0.9, 0.99)),
        float(np.abs(ratio - 1.0).max()),
    )


def in_blocks(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Means over blocks of pixels."""
    rows, columns = (n // BLOCK for n in values.shape)
    return values[: rows * BLOCK, : columns * BLOCK].reshape(rows, BLOCK, columns, BLOCK).mean(axis=(1, 3))


def lines_of_tracer() -> int:
    """Lines of the tracer of this tree."""
    return sum(len(path.read_text(encoding="utf-8").splitlines()) for path in TREE.rglob("*.py"))


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--reference", type=Path, help="trace the truth and keep it in this file")
    parser.add_argument("--against", type=Path, help="print this tree's table against that truth")
    chosen = parser.parse_args()
    if chosen.reference:
        truth = {
            name: petal_light(View(scene, width_px=WIDTH_PX, samples=TRUTH_SAMPLES, seed=100), scene)
            for name, scene in sets()
        }
        np.savez_compressed(chosen.reference, **{name: light for name, light in truth.items()})
    if chosen.against:
        print(f"{lines_of_tracer()} lines in the tracer\n")
        print(
            "| set | s | sum | 90 % of pixels | 99 % | worst block |\n| --- | --- | --- | --- | --- | --- |"
        )
        with np.load(chosen.against) as truth:
            for name, scene in sets():
                row = row_of(name, scene, truth[name])
                errors = f"{row.error_90:.3f} | {row.error_99:.3f} | {row.worst_block:.2f}"
                print(f"| {row.name} | {row.seconds:.2f} | {row.bias:+.4f} | {errors} |", flush=True)


if __name__ == "__main__":
    main()
