"""How long a sweep takes, and how much memory. Run it from the project's folder on a quiet machine:

    python tests/benchmarks/sweep.py

960 x 640 pixels, 16 samples a pixel, two threads, of two sets with 90 drops on a cupped petal: a plain one of
some 20,000 triangles under one flash, and the demo scene that the README begins with, 264,600 triangles with
veins, gloss and relief, and a card that opens the shadows. The kernels are compiled beforehand, which is not
counted. Each table is measured in fresh processes.
"""

from __future__ import annotations

import json
import os
import platform
import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from statistics import median
from time import perf_counter, time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from lightsim.scene.records import Scene

THREADS = 2
WIDTH_PX = 960
QUALITY = "normal"  # 16 samples a pixel
ANGLES = "0:180:15"
DEVELOPED = 5  # times that a photograph is exposed from one set of layers
COMMAND = [sys.executable, "-c", "from lightsim.cli import main; main()"]


def wet_petal() -> Scene:
    """The set that is measured: a flash, the room's light, a backdrop, drops from a third to 2 mm."""
    from lightsim.scene.records import Backdrop, Camera, Drops, Petal, Scene

    petal = Petal(form="cupped", curl=0.3, mesh_spacing_mm=0.36)
    camera = Camera(field_width_mm=24.0, f_number=11.0, width_px=WIDTH_PX)
    return Scene(petal=petal, drops=Drops(count=90, diameter_mm=0.75), camera=camera, backdrop=Backdrop())


def demo() -> Scene:
    """The README's first scene."""
    from lightsim.scene.file.read import load_scene

    scene = load_scene(Path(__file__).resolve().parents[2] / "scenes" / "dewy-petal.toml")
    return replace(scene, camera=replace(scene.camera, width_px=WIDTH_PX))


SETS: dict[str, Callable[[], Scene]] = {"plain set": wet_petal, "README's demo": demo}


def angles_deg() -> list[float]:
    """The angles of the sweep."""
    first, last, step = (int(number) for number in ANGLES.split(":"))
    return [float(angle) for angle in range(first, last + 1, step)]


def seconds(work: Callable[[], object]) -> float:
    """How long a piece of work takes."""
    start = perf_counter()
    work()
    return perf_counter() - start


def compile_kernels() -> None:
    """A small picture, so that every kernel is compiled and kept."""
    from lightsim.tracer import trace_layers

    trace_layers(demo(), width_px=96, samples=4)


def steps(name: str) -> dict[str, object]:
    """Times of the steps in one process: the camera's paths, the first light, further angles, exposing."""
    from lightsim.runs.limits import samples_of
    from lightsim.runs.steps import expose
    from lightsim.scene.build import build
    from lightsim.tracer import View

    scene = SETS[name]()
    moved = [
        replace(scene, lights=(scene.lights[0].moved(angle_deg=angle), *scene.lights[1:]))
        for angle in angles_deg()
    ]
    start = perf_counter()
    view = View(moved[0], samples=samples_of(QUALITY))
    paths = perf_counter() - start
    layers = view.trace(moved[0])
    first = perf_counter() - start
    further = [seconds(lambda one=one: view.trace(one)) for one in moved[1:]]  # type: ignore[misc]
    exposed = [seconds(lambda: expose(layers, scene)) for _ in range(DEVELOPED)]
    return {
        "drops": len(build(scene).drops),
        "triangles": len(build(scene).petal.faces),
        "paths": paths,
        "first": first,
        "further": further,
        "expose": exposed,
        "memory": in_kb(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss),
    }


def in_a_fresh_process(*step: str) -> dict[str, object]:
    """What one of this file's steps gives when it is run on its own."""
    done = subprocess.run([sys.executable, __file__, *step], check=True, capture_output=True, text=True)
    return json.loads(done.stdout.splitlines()[-1])


def whole_sweep(name: str) -> tuple[float, float, int]:
    """Seconds from the command's start to the sheet on disk and to all files, and peak memory (kB)."""
    from lightsim.scene.file.write import save_scene

    with tempfile.TemporaryDirectory() as folder:
        file, out = save_scene(SETS[name](), Path(folder) / "wet-petal.toml"), Path(folder) / "out"
        options = ["--angles", ANGLES, "--quality", QUALITY, "--quiet", "-o", str(out)]
        start, clock = perf_counter(), time()
        process = subprocess.Popen([*COMMAND, "sweep", str(file), *options], stdout=subprocess.DEVNULL)
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        spent = perf_counter() - start
        if process.returncode or not (out / "sheet.png").exists():
            raise SystemExit(f"the sweep ended with code {process.returncode} and wrote no sheet")
        sheet = (out / "sheet.png").stat().st_mtime - clock
    return sheet, spent, in_kb(used.ru_maxrss)


def in_kb(peak: int) -> int:
    """The system's figure for the greatest memory held, in kB (macOS counts bytes)."""
    return peak // 1024 if sys.platform == "darwin" else peak


def table(name: str, found: dict, sheet_s: float, sweep_s: float, sweep_kb: int) -> None:
    """Print what was found."""
    from rich.console import Console
    from rich.table import Table

    count = len(angles_deg())
    share = median(found["further"]) / found["first"]
    rows = [
        ("the first frame's light: camera's paths and one flash", f"{found['first']:.2f} s"),
        ("    of it finding the camera's paths", f"{found['paths']:.2f} s"),
        (f"each further angle (median of {len(found['further'])})", f"{median(found['further']):.2f} s"),
        (
            f"    the slowest of them, at {slowest(found['further']):g} degrees",
            f"{max(found['further']):.2f} s",
        ),
        ("    median as a share of the first frame", f"{100.0 * share:.0f} %"),
        ("exposing again, nothing traced (median)", f"{1000.0 * median(found['expose']):.0f} ms"),
        (f"sweep of {count} angles, start to sheet on disk", f"{sheet_s:.1f} s"),
        ("    to chart, animation and all files", f"{sweep_s:.1f} s"),
        ("peak memory: sweep from start to files", f"{sweep_kb / 1024:.0f} MiB"),
        ("peak memory: tracing and exposing alone", f"{found['memory'] / 1024:.0f} MiB"),
    ]
    title = f"{name}: {found['drops']} drops, {found['triangles']:,} triangles"
    made = Table(title=title, title_justify="left")
    made.add_column("what")
    made.add_column("measured", justify="right")
    for row in rows:
        made.add_row(*row)
    console = Console()
    console.print(made)
    console.print(machine_words(), highlight=False)


def slowest(further: list[float]) -> float:
    """The angle, in degrees, of the slowest of the further angles."""
    return angles_deg()[1 + further.index(max(further))]


def machine_words() -> str:
    """The machine in general words, and how busy it is."""
    busy = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    return f"{os.cpu_count()} cores, {THREADS} threads, Python {platform.python_version()}{busy}"


def main() -> None:
    """Run all steps, each in its own process, and print the table."""
    os.environ["LIGHTSIM_THREADS"] = str(THREADS)
    os.environ.setdefault("PYTHONPATH", str(Path(__file__).resolve().parents[2]))
    in_a_fresh_process("compile")
    for name in SETS:
        swept = whole_sweep(name)
        table(name, in_a_fresh_process("steps", name), *swept)


if __name__ == "__main__":
    if sys.argv[1:] == ["compile"]:
        compile_kernels()
        print("{}")
    elif sys.argv[1:2] == ["steps"]:
        print(json.dumps(steps(sys.argv[2])))
    else:
        main()
