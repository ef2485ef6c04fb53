"""One trial: a mutated scene and a command line, run as a user runs it and judged by what may come of it."""

from __future__ import annotations

import os
import random
import time
import traceback
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
from click.testing import CliRunner

from lightsim.cli import main
from lightsim.cli.failures import TRACEBACK
from lightsim.scene.file.write import scene_to_toml, template_scene
from lightsim.scene.records import Petal
from tests.cli.conftest import LENS_SET, SMALL_SET
from tests.fuzz.lines import command_line
from tests.fuzz.mutate import mutated

# A scene that has every usual section, its mesh coarse so that it is soon built.
FULL_SET = scene_to_toml(replace(template_scene(), petal=Petal(mesh_spacing_mm=1.0, tilt_deg=15.0)))
NAME = "set.toml"
SLOW_S = 60.0  # a trial that takes longer is told of; only the long run does so
TRACED = ("preview", "-o", "p.png", "--width", "32", "--quality", "draft", "--quiet")
LONGEST_LINE = 2300


class Trial(NamedTuple):
    """Which trial it was: its seed, its scene and its words."""

    seed: str
    text: str
    words: list[str]


def fuzz(
    count: int, seed: int, folder: Path, trace_every: int = 0, tell: Callable[[str], None] = lambda _: None
) -> tuple[list[str], Counter[int]]:
    """So many trials in an empty folder; what is wrong, a text for each, and how often each code came."""
    before = Path.cwd()
    os.chdir(folder)
    faults: list[str] = []
    ends: Counter[int] = Counter()
    try:
        for number in range(count):
            trial = trial_of(f"{seed}-{number}", trace=bool(trace_every) and number % trace_every == 0)
            fault, code = judged(trial, folder)
            ends[code] += 1
            if fault:
                faults.append(f"trial {trial.seed}: {' '.join(trial.words)[:300]!r}\n{fault}")
                tell(faults[-1])
    finally:
        os.chdir(before)
    return faults, ends


def trial_of(seed: str, trace: bool = False) -> Trial:
    """The trial of a seed."""
    chance = random.Random(seed)
    text = mutated(chance.choice((SMALL_SET, LENS_SET, FULL_SET)), chance)
    words = list(TRACED) if trace else command_line(chance)
    return Trial(seed, text, [words[0], NAME, *words[1:]])


def judged(trial: Trial, folder: Path) -> tuple[str, int]:
    """What is wrong with how a trial ended, "" for nothing, and its exit code."""
    (folder / NAME).write_bytes(trial.text.encode("utf-8", "surrogatepass"))
    began = time.monotonic()
    with np.errstate(all="ignore"):
        result = CliRunner(env={TRACEBACK: "1"}).invoke(main, trial.words, prog_name="lightsim")
    took = time.monotonic() - began
    return wrong_with(result, folder, took), result.exit_code


def wrong_with(result, folder: Path, took_s: float) -> str:
    """A fault in words: an exception, a wrong exit code, no sentence, control characters, files left."""
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        return "".join(traceback.format_exception(result.exception))[-2500:]
    if result.exit_code not in (0, 2):
        return f"exit code {result.exit_code}: {result.output[-500:]}"
    lines = result.stderr.splitlines()
    if result.exit_code == 2 and (result.stdout or not lines):
        return f"refused, but not in a sentence alone: {result.output[:500]!r}"
    if any(not line.startswith("lightsim: ") or len(line) > LONGEST_LINE for line in lines):
        return f"no sentence, or a long one: {result.stderr[:500]!r}"
    if any(sign in result.output for sign in ("\x1b", "\x00", "\u202e", "Traceback")):
        return f"printed as it came: {result.output[:500]!r}"
    left = {path.name for path in folder.iterdir()} - {NAME, "p.png"}
    if left or (result.exit_code and (folder / "p.png").exists()):
        return f"left behind: {sorted(left)}"
    (folder / "p.png").unlink(missing_ok=True)
    return f"took {took_s:.0f} s" if took_s > SLOW_S else ""
