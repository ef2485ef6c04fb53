"""Speed beside Mitsuba 3, growth, the bare rays, cold starts, and light moved by feel. Run it from the
project's folder on a quiet machine:

    python -m tests.benchmarks.against_reference --json speed.json --plot error.png

60 drops on a flat petal, 480 x 320 pixels, a flash of 60 x 40 mm at 250 mm, 60 degrees off the lens axis.
Kernels are compiled beforehand, and Mitsuba runs in the fastest way there is on this machine. `--parts` picks
some of: error, growth, rays, cold, feel.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.records import Camera, Drops, Light, Petal, Scene

WIDTH_PX = 480
SAMPLES = 16  # of the pictures whose time is taken
THEIR_SAMPLES = 64  # of one pass of the path tracer
AIM = 0.05  # relative RMSE
OUR_SAMPLES = (1, 2, 4, 8, 16, 32, 64)
THREADS = 2
FEEL_STEPS = 60
Found = dict[str, Any]


def set_up(count: int = 60, spacing_mm: float = 0.5, angle_deg: float = 60.0) -> Scene:
    """The set that is measured; more drops are smaller ones that cover the same area."""
    petal = Petal(
        form="flat",
        outline="rectangle",
        width_mm=30.0,
        length_mm=30.0,
        curl=0.0,
        mesh_spacing_mm=spacing_mm,
        reflectance_foot=(0.5,) * 3,
        reflectance_tip=(0.5,) * 3,
        transmittance_foot=(0.0,) * 3,
        transmittance_tip=(0.0,) * 3,
        veins=0,
        vein_strength=0.0,
        relief_mm=0.0,
        gloss=0.0,
    )
    drops = Drops(count=count, diameter_mm=1.2 * (60.0 / count) ** 0.5, diameter_spread=1.3, gap_mm=0.0)
    camera = Camera(field_width_mm=24.0, f_number=11.0, looks_down_deg=0.0, width_px=WIDTH_PX)
    light = Light(
        kind="flash",
        intensity=1.0,
        width_mm=60.0,
        height_mm=40.0,
        distance_mm=250.0,
        angle_deg=angle_deg,
        clock=10.0,
    )
    return Scene(petal=petal, drops=drops, camera=camera, lights=(light,))


def taken(work: Callable[..., Any], *given: Any) -> tuple[float, Any]:
    """Seconds that a piece of work takes, and what it gives."""
    start = perf_counter()
    made = work(*given)
    return perf_counter() - start, made


# --- equal error ---


def one_picture(scene: Scene, samples: int, seed: int = 0) -> tuple[float, Any]:
    """Seconds for the camera's paths and the flash's light, from nothing, and the layers; the dome's layer,
    which the path tracer does not make either, is not counted."""
    from lightsim.tracer import View

    elsewhere = replace(scene, lights=(scene.lights[0].moved(angle_deg=20.0),))
    begin, view = taken(lambda: View(scene, samples=samples, seed=seed))
    view.trace(elsewhere)
    spent, layers = taken(view.trace, scene)
    return begin + spent, layers


def error(seconds_of_reference: float) -> Found:
    """Error against time of both: relative RMSE and the median pixel's, inside drops and on the petal.

    The reference's passes are dealt out to two pictures A and B of independent noise. The squared error of
    our picture x is then the mean of (x - A)(x - B), which the noise of A and B does not raise. The path
    tracer is without bias: its squared error after n passes is the variance of one pass over n.
    """
    from tests.reference import variant

    used = variant.choose()
    scene = set_up()
    passes, pass_s = _passes(scene, seconds_of_reference)
    _, told = one_picture(scene, 4 * SAMPLES, seed=99)
    inside, petal = told.maps.drop_cover > 0.99, told.maps.petal_cover > 0.99
    masks = {"inside drops": inside, "petal": petal}
    found: Found = {"variant": used, "passes": len(passes), "pass_s": pass_s, "samples": THEIR_SAMPLES}
    found["theirs"] = {name: _their_error(passes[:, mask], pass_s) for name, mask in masks.items()}
    ours = {samples: _ours(scene, samples) for samples in OUR_SAMPLES}
    found["ours"] = {
        name: [
            {"samples": s, "seconds": t, **_our_error(x[:, mask], passes[:, mask])}
            for s, (t, x) in ours.items()
        ]
        for name, mask in masks.items()
    }
    found["times"] = {name: _times(found, name) for name in masks}
    return found


def _passes(scene: Scene, seconds: float) -> tuple[NDArray, float]:
    """Independent pictures (n, h, w) of the path tracer, and the median seconds of one."""
    import mitsuba

    from lightsim.scene.build import build
    from tests.reference.translate import mitsuba_scene

    loaded = mitsuba_scene(build(scene), WIDTH_PX, ("flash",), THEIR_SAMPLES)

    def one(seed: int) -> NDArray:
        return np.array(mitsuba.render(loaded, seed=seed, spp=THEIR_SAMPLES))[..., 1]

    one(0)  # compiles
    times, made, start = [], [], perf_counter()
    while perf_counter() - start < seconds or len(made) < 4:
        spent, picture = taken(one, len(made) + 1)
        times.append(spent)
        made.append(picture)
    return np.array(made[: len(made) // 2 * 2]), median(times)


def _ours(scene: Scene, samples: int) -> tuple[float, NDArray]:
    """Median seconds of three pictures with seeds of their own, and the pictures (3, h, w)."""
    made = [one_picture(scene, samples, seed) for seed in range(3)]
    pictures = np.array([layers.by_light["flash"].total()[..., 1] for _, layers in made])
    return median(seconds for seconds, _ in made), pictures


def _their_error(passes: NDArray, pass_s: float) -> Found:
    variance, level = passes.var(axis=0, ddof=1), passes.mean()
    pixel = np.sqrt(variance) / np.maximum(passes.mean(axis=0), 1e-9 * level)
    rmse = float(np.sqrt(variance.mean()) / level)
    return {"rmse_of_a_pass": rmse, "median_of_a_pass": float(0.6745 * np.median(pixel)), "pass_s": pass_s}


def _our_error(x: NDArray, passes: NDArray) -> Found:
    """Relative RMSE against the reference, and of the noise alone (between seeds)."""
    a, b = passes[0::2].mean(axis=0), passes[1::2].mean(axis=0)
    level = passes.mean()
    squared = float(np.mean([(one - a) * (one - b) for one in x]))
    noise = float(np.sqrt(x.var(axis=0, ddof=1).mean()) / level)
    pixel = np.sqrt(x.var(axis=0, ddof=1)) / np.maximum(x.mean(axis=0), 1e-9 * level)
    return {
        "rmse": float(np.sqrt(max(0.0, squared)) / level),
        "noise": noise,
        "median_noise": float(0.6745 * np.median(pixel)),
        "mean_ratio": float(x.mean() / level),
    }


def _times(found: Found, name: str) -> Found:
    """Seconds to the aim: theirs from the variance of a pass; ours the first picture that reaches it, or what
    the largest one's error, falling with the root of the time, lets expect (our_samples None)."""
    theirs, ours = found["theirs"][name], found["ours"][name]

    def first(key: str) -> tuple[float, int | None]:
        good = [(one["seconds"], one["samples"]) for one in ours if one[key] <= AIM]
        return min(good) if good else (ours[-1]["seconds"] * (ours[-1][key] / AIM) ** 2, None)

    rows = {}
    for what, mine, other in (
        ("rmse", "rmse", "rmse_of_a_pass"),
        ("noise", "noise", "rmse_of_a_pass"),
        ("median", "median_noise", "median_of_a_pass"),
    ):
        their_s = theirs["pass_s"] * (theirs[other] / AIM) ** 2
        our_s, samples = first(mine)
        rows[what] = {"theirs_s": their_s, "ours_s": our_s, "our_samples": samples, "times": their_s / our_s}
    return rows


def plot(found: Found, path: Path) -> None:
    """Relative RMSE against seconds, both."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(1, 2, figsize=(10, 4.2), sharey=True)
    for axis, name in zip(axes, found["ours"], strict=True):
        theirs, ours = found["theirs"][name], found["ours"][name]
        seconds = theirs["pass_s"] * np.array([1 / 64, 1e4])
        line = 100.0 * theirs["rmse_of_a_pass"] * np.sqrt(theirs["pass_s"] / seconds)
        axis.loglog(seconds, line, color="tab:red", label=f"path tracer, {found['variant']}")
        at = [one["seconds"] for one in ours]
        axis.loglog(at, [100.0 * one["rmse"] for one in ours], "o-", color="tab:blue", label="ours")
        noise = [100.0 * one["noise"] for one in ours]
        axis.loglog(at, noise, "o--", color="tab:cyan", label="ours, noise alone")
        axis.axhline(100.0 * AIM, color="grey", linewidth=0.8)
        axis.set(title=name, xlabel="seconds", ylabel="relative RMSE, %")
        axis.grid(alpha=0.3, which="both")
        axis.legend()
    figure.tight_layout()
    figure.savefig(path, dpi=110)


# --- growth ---


def growth() -> Found:
    """Seconds of a picture from nothing, as drops, triangles and pixels grow, and from one core to two."""
    drops = {count: _first_and_next(set_up(count)) for count in (10, 100, 1000, 10_000)}
    petals = {spacing: _first_and_next(set_up(spacing_mm=spacing)) for spacing in (0.95, 0.3, 0.095, 0.03)}
    pixels = {width: _first_and_next(set_up(), width) for width in (240, 480, 960, 1920)}
    return {"drops": drops, "triangles": petals, "pixels": pixels, "cores": _cores()}


def _first_and_next(scene: Scene, width_px: int = WIDTH_PX) -> Found:
    """Seconds to place things, for the first picture of two tries, and for the light moved by 5 degrees."""
    from lightsim.scene.build import build
    from lightsim.tracer import View

    placing, stage = taken(lambda: build(scene))
    moved = replace(scene, lights=(scene.lights[0].moved(angle_deg=65.0),))
    first, further = [], []
    for _ in range(2):
        begin, view = taken(lambda: View(scene, width_px=width_px, samples=SAMPLES))
        first.append(begin + taken(view.trace)[0])
        further.append(taken(view.trace, moved)[0])
    return {
        "placing_s": placing,
        "drops": len(stage.drops),
        "triangles": len(stage.petal.faces),
        "pixels": view.shape[0] * view.shape[1],
        "first_s": min(first),
        "next_s": min(further),
    }


def _cores() -> Found:
    """Seconds on one thread and on two, the better of three."""
    times = {}
    for threads in (1, 2):
        os.environ["LIGHTSIM_THREADS"] = str(threads)
        times[threads] = min(one_picture(set_up(), SAMPLES)[0] for _ in range(3))
    del os.environ["LIGHTSIM_THREADS"]
    return {"one_s": times[1], "two_s": times[2], "efficiency": times[1] / (2.0 * times[2])}


# --- the bare rays ---


def rays() -> Found:
    """How many rays the picture needs, and how long embreex takes for as many against the same petal.

    Counted: one ray for each sample; for each end beyond the first that a path found by way of a drop, one
    more; for each end on the petal, dry or wet, one toward the light. embreex searches on one core: its time
    is halved, as if two cores shared the work evenly.
    """
    from lightsim.tracer import View

    scene = set_up()
    begin, view = taken(lambda: View(scene, samples=SAMPLES))
    whole = begin + taken(view.trace)[0]
    samples = view.shape[0] * view.shape[1] * SAMPLES
    lists = [
        (len(b.paths.petal_weight), len(b.paths.base_weight), len(b.paths.away_weight)) for b in view._blocks
    ]
    leaf, base, away = (sum(one) for one in zip(*lists, strict=True))
    shadow, more = leaf + base, max(0, leaf + base + away - samples)
    bare = _bare_rays(view.stage, samples, more + shadow)
    count = samples + more + shadow
    return {"rays": count, "embreex_s": bare, "ours_s": whole, "times": whole / bare}


def _bare_rays(stage: Any, from_lens: int, others: int) -> float:
    """Seconds on two cores: rays from the lens, then rays from the petal toward the light."""
    from embreex import rtcore_scene
    from embreex.mesh_construction import TriangleMesh

    petal = stage.petal
    scene = rtcore_scene.EmbreeScene()
    TriangleMesh(scene, petal.vertices[petal.faces].astype(np.float32))
    half = 0.5 * stage.camera.field_width_mm
    rng = np.random.default_rng(1)

    def points(many: int) -> NDArray:
        at = np.zeros((many, 3), dtype=np.float32)
        at[:, 0] = np.sort(rng.uniform(-half, half, many))
        at[:, 1] = rng.uniform(-half, half, many) / stage.camera.aspect
        return at

    seconds, step, lift = 0.0, 500_000, np.array([0.0, 0.0, 1e-3], dtype=np.float32)
    lens = np.array([0.0, 0.0, stage.camera.pupil_distance_mm], dtype=np.float32)
    lamp = stage.lights[0].face.centre.astype(np.float32)
    for total, toward in ((from_lens, None), (others, lamp)):
        for begin in range(0, total, step):
            at = points(min(step, total - begin))
            origin = np.broadcast_to(lens, at.shape).copy() if toward is None else at + lift
            way = at - origin if toward is None else toward - origin
            seconds += taken(scene.run, origin, way)[0]
    return seconds / THREADS


# --- cold ---


def cold() -> Found:
    """Seconds of the command's help, of a process's first picture, and of the one-off compilation."""
    from lightsim.tracer import trace_layers

    trace_layers(set_up(), width_px=96, samples=4)
    with tempfile.TemporaryDirectory() as empty:
        compiling = _process("--picture", LIGHTSIM_CACHE=empty)
        again = _process("--picture", LIGHTSIM_CACHE=empty)
    return {
        "help_s": min(_command("--help") for _ in range(5)),
        "first_picture_s": min(_process("--picture")["wall_s"] for _ in range(3)),
        "first_picture_inside_s": min(_process("--picture")["inside_s"] for _ in range(3)),
        "compiling_s": compiling["wall_s"],
        "after_compiling_s": again["wall_s"],
    }


def _command(*words: str) -> float:
    code = "from lightsim.cli import main; main()"
    return taken(
        lambda: subprocess.run([sys.executable, "-c", code, *words], check=True, capture_output=True)
    )[0]


def _process(*words: str, **environment: str) -> Found:
    """A fresh process of this file: its whole time, and what it printed last. Python may keep its bytecode,
    as it does of an installed package."""
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    run = [sys.executable, "-m", "tests.benchmarks.against_reference", *words]
    wall, done = taken(
        lambda: subprocess.run(run, check=True, capture_output=True, text=True, env={**kept, **environment})
    )
    return {"wall_s": wall, **json.loads(done.stdout.splitlines()[-1])}


def first_picture() -> Found:
    """Seconds from the import to the first picture at 480 x 320, 4 paths a pixel."""

    def work() -> None:
        from lightsim.tracer import trace_layers

        trace_layers(set_up(), samples=4)

    return {"inside_s": taken(work)[0]}


# --- by feel ---


def feel() -> Found:
    """Milliseconds of a light moved in steps, and of a change of power, to the eight-bit picture."""
    from lightsim.photograph.tone import to_srgb8
    from lightsim.runs.photographing import photograph
    from lightsim.scene.build import build
    from lightsim.tracer import View

    scene = replace(set_up(), camera=replace(set_up().camera, diffraction=False))
    found: Found = {}
    for samples in (4, SAMPLES):
        view = View(scene, samples=samples)
        layers = view.trace()
        moves = [1000.0 * taken(view.trace, moved)[0] for moved in _moves(scene)]
        found[f"{samples}"] = {"median_ms": median(moves), "p95_ms": float(np.percentile(moves, 95.0))}

    def exposed(changed: Scene) -> None:
        to_srgb8(photograph(layers, changed, build(changed)))

    powers = []
    for i in range(21):
        louder = replace(scene, lights=(replace(scene.lights[0], power=2.0 ** -(1 + i % 4)),))
        powers.append(1000.0 * taken(exposed, louder)[0])
    found["power_ms"] = median(powers[1:])
    return found


def _moves(scene: Scene) -> list[Scene]:
    """The scene with its light on the way round a small loop."""
    turns = 2.0 * np.pi * np.arange(1, FEEL_STEPS + 1) / FEEL_STEPS
    places = [(60.0 + 15.0 * float(np.sin(t)), 10.0 + float(np.cos(t))) for t in turns]
    return [replace(scene, lights=(scene.lights[0].moved(angle_deg=a, clock=c),)) for a, c in places]


# --- the table ---


def rows(found: Found) -> list[tuple[str, str, str]]:
    """What, asked, measured."""
    made: list[tuple[str, str, str]] = []
    if "error" in found:
        made += _error_rows(found["error"])
    if "growth" in found:
        made += _growth_rows(found["growth"])
    if "rays" in found:
        one = found["rays"]
        bare = f"{one['rays'] / 1e6:.1f} million rays: {one['embreex_s']:.2f} s; ours: {one['ours_s']:.2f} s"
        words = f"{one['times']:.1f} ({bare})"
        made.append(("whole picture over the bare rays", "2", words))
    if "cold" in found:
        made += _cold_rows(found["cold"])
    if "feel" in found:
        made += _feel_rows(found["feel"])
    return made


def _error_rows(one: Found) -> list[tuple[str, str, str]]:
    made = []
    asked = {"inside drops": "1000 times", "petal": "50 times"}
    words = {
        "rmse": "5 % relative RMSE, systematic error counted",
        "noise": "5 % relative RMSE, noise alone",
        "median": "5 % by the median pixel",
    }
    for name, kinds in one["times"].items():
        for kind, what in words.items():
            t = kinds[kind]
            how = "expected" if t["our_samples"] is None else f"{t['our_samples']} paths a pixel"
            ours = f"{t['times']:.3g} times: {t['ours_s']:.2f} s ({how})"
            said = f"{ours} against {t['theirs_s']:.3g} s ({one['variant']})"
            made.append((f"{name}: {what}", asked[name] if kind != "median" else "ahead", said))
    return made


def _growth_rows(one: Found) -> list[tuple[str, str, str]]:
    made = []
    for name, key in (("drops", "drops"), ("triangles", "triangles")):
        each = list(one[name].values())
        listed = "; ".join(f"{e[key]:,}: {e['first_s']:.2f} s, then {e['next_s']:.2f} s" for e in each)
        first, further = (each[-1][k] / each[0][k] for k in ("first_s", "next_s"))
        made.append(
            (f"growth with {name}", "2 times", f"{first:.1f} times (next light {further:.1f}): {listed}")
        )
    listed = "; ".join(_per_pixel(e) for e in one["pixels"].values())
    made.append(("microseconds a pixel, first and next light", "constant", listed))
    cores = one["cores"]
    said = f"{cores['efficiency']:.2f} ({cores['one_s']:.2f} s, {cores['two_s']:.2f} s)"
    return [*made, ("efficiency from one core to two", "0.85", said)]


def _per_pixel(one: Found) -> str:
    first, further = (1e6 * one[key] / one["pixels"] for key in ("first_s", "next_s"))
    return f"{one['pixels'] / 1e6:.2f} megapixels: {first:.2f}, {further:.2f}"


def _cold_rows(one: Found) -> list[tuple[str, str, str]]:
    return [
        ("`lightsim --help`", "0.3 s", f"{one['help_s']:.2f} s"),
        ("first picture of a process", "1 s", f"{one['first_picture_inside_s']:.2f} s after Python's start"),
        ("one-off compilation", "30 s", f"{one['compiling_s']:.0f} s"),
    ]


def _feel_rows(one: Found) -> list[tuple[str, str, str]]:
    made = []
    for samples in (key for key in one if key.isdigit()):
        said = f"{one[samples]['median_ms']:.0f} ms, {one[samples]['p95_ms']:.0f} ms"
        made.append((f"light moved, {samples} paths a pixel: median, 95th percentile", "33 ms, 60 ms", said))
    return [*made, ("change of power, to the eight-bit picture", "5 ms", f"{one['power_ms']:.1f} ms")]


def machine() -> str:
    """The machine in general words, and how busy it is."""
    busy = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    return f"{os.cpu_count()} cores, Python {platform.python_version()}{busy}"


def main() -> None:
    """Measure what is asked for, print the table, write the files."""
    parts: dict[str, Callable[[], Found]] = {"growth": growth, "rays": rays, "cold": cold, "feel": feel}
    wanted = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    wanted.add_argument("--parts", nargs="+", choices=["error", *parts], default=["error", *parts])
    wanted.add_argument("--json", type=Path, help="where to write all numbers")
    wanted.add_argument("--plot", type=Path, help="where to draw error against time")
    wanted.add_argument("--seconds", type=float, default=240.0, help="for the path tracer's reference")
    wanted.add_argument("--picture", action="store_true", help=argparse.SUPPRESS)
    asked = wanted.parse_args()
    if asked.picture:
        print(json.dumps(first_picture()))
        return
    one_picture(set_up(), 1)  # compiles
    found: Found = {"machine": machine()}
    for part in asked.parts:
        found[part] = error(asked.seconds) if part == "error" else parts[part]()
        if asked.json is not None:
            asked.json.write_text(json.dumps(found, indent=1) + "\n")
    show(found)
    if asked.plot is not None and "error" in found:
        plot(found["error"], asked.plot)


def show(found: Found) -> None:
    """Print the table in a form that pastes into a page."""
    print("| what | asked | measured |\n| --- | --- | --- |")
    for row in rows(found):
        print("| " + " | ".join(row) + " |")
    print(f"\n{found['machine']}; at the end: {machine()}")


if __name__ == "__main__":
    main()
