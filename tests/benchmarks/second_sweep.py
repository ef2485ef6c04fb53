"""How long a sweep takes whose light is kept on disk, beside the one that traced it.

Run it from the project's folder:

    python tests/benchmarks/second_sweep.py

The README's demo at 960 x 640 pixels, 16 samples, 13 angles, two threads, into an empty cache of layers; then
the same at half the flash power, which traces nothing. In turns, each in a process of its own; wall time, and
the processor's time with that of the film's encoder; what the layers take on disk.
"""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from statistics import median
from time import perf_counter

TURNS = 3
COMMAND = [sys.executable, "-m", "lightsim", "sweep"]


def timed(scene: Path, out: Path, environment: dict[str, str]) -> tuple[float, float]:
    """Wall and processor seconds of one sweep."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), perf_counter()
    subprocess.run([*COMMAND, str(scene), "--quiet", "-o", str(out)], check=True, env=environment,
                   stdout=subprocess.DEVNULL)  # fmt: skip
    wall, after = perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    """Print both sweeps' times and their ratio."""
    from lightsim.runs.layer_store import LayerStore
    from lightsim.scene.file.read import load_scene
    from lightsim.scene.file.write import save_scene
    from lightsim.tracer import trace_layers
    from lightsim.tracer.kernels.jit import cache_folder

    root = Path(__file__).resolve().parents[2]
    scene = load_scene(root / "scenes" / "dewy-petal.toml")
    trace_layers(scene, width_px=96, samples=4)  # compiles the kernels, which is not counted
    brighter = replace(scene, lights=(replace(scene.lights[0], power=1 / 16), *scene.lights[1:]))
    found: dict[str, list[tuple[float, float]]] = {"first": [], "second": []}
    with tempfile.TemporaryDirectory() as folder:
        cache = Path(folder) / "cache"
        shutil.copytree(cache_folder(), cache / cache_folder().name)  # its own layers, the compiled kernels
        settings = {"LIGHTSIM_THREADS": "2", "LIGHTSIM_CACHE": str(cache), "PYTHONPATH": str(root)}
        environment = {**os.environ, **settings}
        files = {
            "first": save_scene(scene, Path(folder) / "demo.toml"),
            "second": save_scene(brighter, Path(folder) / "brighter.toml"),
        }
        for turn in range(TURNS):
            LayerStore(cache / "layers").empty()
            for name, file in files.items():
                found[name].append(timed(file, Path(folder) / f"{name}-{turn}", environment))
            kept = LayerStore(cache / "layers").files()
    size_mb = sum(file.size_bytes for file in kept) / 1e6
    print(f"layers on disk {size_mb:.0f} MB in {len(kept)} files")
    for name, times in found.items():
        wall, processor = (median(each[i] for each in times) for i in (0, 1))
        print(f"{name:7s} {wall:6.1f} s, processor {processor:6.1f} s (medians of {TURNS})")
    ratios = [second[0] / first[0] for first, second in zip(found["first"], found["second"], strict=True)]
    print(f"second : first {median(ratios):.2f} (median of {TURNS} pairs)")


if __name__ == "__main__":
    main()
