"""A handout of one or several sets: one HTML file for a phone, a projector or the printer."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from lightsim.errors import LightsimError
from lightsim.planning.cautions import LAST_WORD, cautions
from lightsim.report.files.writable import require_file
from lightsim.report.handout.handout_page import handout_html
from lightsim.report.handout.handout_records import HandoutPage, Section
from lightsim.report.page_options import PageOptions
from lightsim.report.terms import GLOSSARY
from lightsim.report.theme import petal_colour, theme_for
from lightsim.runs.handout.handout_set import encode_jpeg, handout_set, weight_of
from lightsim.runs.job import JobProgress, Report
from lightsim.runs.limits import require_memory, samples_of
from lightsim.runs.setup_plan import setup_plan
from lightsim.runs.sweep.save import SCENE_FILE
from lightsim.runs.sweep.schedule import SweepPlan, Values, plan_sweep
from lightsim.scene.build import build, files_read
from lightsim.scene.file.read import load_scene
from lightsim.whole_file import replacing

SUFFIXES = (".html", ".htm")
WIDTH_PX = 720
PLAN_PX = 1400
PLAN_WEIGHT = 1.0


def write_handout(
    sources: Sequence[str | Path],
    output: str | Path | None = None,
    *,
    values: dict[str, Values | None] | None = None,
    light: str | None = None,
    quality: str = "normal",
    width_px: int | None = None,
    title: str | None = None,
    ground: str = "light",
    with_plan: bool = True,
    progress: Report | None = None,
) -> Path:
    """Write a handout and return its file.

    Parameters
    ----------
    sources : scene files, or folders that a sweep wrote.
    output : the file (.html); named after the first source when None.
    values : what varies, for scene files, by the name of `scene.settings.quantities`; the angle when None.
    width_px : of the photographs; 720 when None.
    title : of the page; that of the first set when None.
    ground : "light" or "dark".
    with_plan : with the plan of the first set.

    Raises
    ------
    SceneError, LightsimError, OutputError before anything is traced.
    """
    if not sources:
        raise LightsimError(
            "handout: found no scene, allowed one or several scene files or folders of sweeps"
        )
    theme_for(ground)
    plans = [_plan_of(Path(source), values or {}, light, quality, width_px) for source in sources]
    path = Path(output) if output is not None else Path(f"{_stem(Path(sources[0]))}-handout.html")
    return write_planned_handout(
        plans, path, title=title, ground=ground, with_plan=with_plan, progress=progress
    )


def write_planned_handout(
    plans: Sequence[SweepPlan],
    path: Path,
    *,
    title: str | None = None,
    ground: str = "light",
    with_plan: bool = True,
    progress: Report | None = None,
) -> Path:
    """Write a handout of planned sweeps, one set each; options and errors as for `handout`."""
    require_file(path, SUFFIXES, [file for plan in plans for file in files_read(plan.scene)])
    for plan in plans:
        require_memory(plan.scene, plan.width_px, plan.samples, len(plan.steps))
    job = JobProgress(progress, sum(map(weight_of, plans)) + (PLAN_WEIGHT if with_plan else 0.0))
    sets = [handout_set(plan, job) for plan in plans]
    first = plans[0].scene
    page = HandoutPage(
        title=title or sets[0].title,
        sections=tuple(Section(each.title if len(sets) > 1 else "", shown=each) for each in sets),
        plan=plan_picture(plans[0]) if with_plan else None,
        plan_words=f"Plan of the set-up: where everything stands, {first.shown_title}",
        cautions=caution_sentences(plans),
        terms=tuple(GLOSSARY.items()),
    )
    if with_plan:
        job.part(PLAN_WEIGHT, "plan of the set-up")(1.0)
    job.finish()
    with replacing(path) as part:
        part.write_text(handout_html(page, petal_colour(build(first)), ground), encoding="utf-8")
    return path


def caution_sentences(plans: Sequence[SweepPlan]) -> tuple[str, ...]:
    """The cautions that the sets call for, each once, and the last word."""
    said = dict.fromkeys(caution.words for plan in plans for caution in cautions(plan.scene))
    return (*said, LAST_WORD) if said else ()


def plan_picture(plan: SweepPlan) -> bytes:
    """The page of the set-up as JPEG."""
    from lightsim.report.drawing.page_files import page_image

    pages, _ = setup_plan(plan.scene, with_picture=False).pages(PageOptions(dpi=140.0))
    return encode_jpeg(np.asarray(page_image(pages[0])), PLAN_PX, 80)


def _stem(source: Path) -> str:
    return source.name.removeprefix("out-") if source.is_dir() else source.stem


def _plan_of(
    source: Path, values: dict[str, Values | None], light: str | None, quality: str, width_px: int | None
) -> SweepPlan:
    if not source.is_dir():
        width = WIDTH_PX if width_px is None else width_px
        return plan_sweep(
            load_scene(source), values, light=light, samples=samples_of(quality), width_px=width
        )
    if any(value is not None for value in values.values()):
        raise LightsimError(
            f"{source}: found a folder with lists of values, allowed lists with a scene file only"
        )
    summary = _sweep_of(source)
    scene = load_scene(source / SCENE_FILE)
    swept = {axis["name"]: axis["values"] for axis in summary["axes"]}
    return plan_sweep(
        scene,
        swept,
        light=summary["light"],
        samples=summary["samples"],
        width_px=width_px or summary["width_px"],
    )


def _sweep_of(folder: Path) -> dict[str, Any]:
    try:
        summary = json.loads((folder / "measures.json").read_text(encoding="utf-8"))
        assert {"axes", "light", "samples", "width_px"} <= summary.keys()
    except (OSError, ValueError, AttributeError, AssertionError):
        raise LightsimError(
            f"{folder}: found a folder without a sweep's measures.json and {SCENE_FILE}, "
            "allowed a scene file or a folder that `lightsim sweep` wrote"
        ) from None
    return summary
