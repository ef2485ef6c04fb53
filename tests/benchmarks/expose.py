"""How long a change of the settings takes on a traced picture of 960 x 640 pixels: python
tests/benchmarks/expose.py

The demo scene is traced once. Then each setting is changed again and again, from the changed scene to the
eight-bit picture; nothing is traced, and diffraction is put into the layers once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from statistics import median
from time import perf_counter

from lightsim.photograph.tone import to_srgb8
from lightsim.picture import Layers
from lightsim.runs.photographing import photograph, through_lens
from lightsim.scene.build import build
from lightsim.scene.file.read import load_scene
from lightsim.scene.records import Motion, Noise, Scene
from lightsim.scene.settings.quantities import change_scene
from lightsim.tracer import trace_layers

SCENE = Path(__file__).parents[2] / "scenes" / "dewy-petal.toml"
REPEATS = 15
CHANGES: dict[str, Callable[[Scene, int], Scene]] = {
    "power": lambda scene, i: change_scene(scene, {"power": 2.0 ** (-3 - i % 4)}),
    "shutter": lambda scene, i: change_scene(scene, {"shutter": 2.0 ** (-5 - i % 4)}),
    "ISO": lambda scene, i: change_scene(scene, {"iso": 100.0 * 2.0 ** (i % 4)}),
    "white balance": lambda scene, i: replace(
        scene, exposure=replace(scene.exposure, white_balance=3000.0 + 500.0 * (i % 4))
    ),
}


def main() -> None:
    """Print the table."""
    scene = load_scene(SCENE)
    layers = trace_layers(scene, samples=4)
    height, width = layers.shape
    print(f"{width} x {height} pixels, {len(layers.by_light)} layers; median of {REPEATS}, ms")
    start = perf_counter()
    through_lens(layers, scene, build(scene))
    print(f"diffraction put into the layers, once: {1000 * (perf_counter() - start):.0f}")
    kinds = {
        "with diffraction": scene,
        "without": replace(scene, camera=replace(scene.camera, diffraction=False)),
        "and movement": replace(scene, motion=Motion(2.0)),
        "and noise": replace(scene, noise=Noise()),
    }
    print(f"{'change of':16}" + "".join(f"{kind:>20}" for kind in kinds))
    for name, change in CHANGES.items():
        times = (f"{1000 * timed(layers, each, change):20.1f}" for each in kinds.values())
        print(f"{name:16}" + "".join(times))


def timed(layers: Layers, scene: Scene, change: Callable[[Scene, int], Scene]) -> float:
    """Median seconds from a changed scene to its picture."""
    times = []
    for i in range(REPEATS + 1):
        changed = change(scene, i)
        start = perf_counter()
        to_srgb8(photograph(layers, changed, build(changed)))
        times.append(perf_counter() - start)
    return median(times[1:])  # the first makes what is kept


if __name__ == "__main__":
    main()
