"""Pages made from kept pictures, each with its own settings: comparison, contact sheet, plan, handout.

Each scene's title is the name that the picture was kept by.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from lightsim.errors import LightsimError
from lightsim.report.files.formats import write_csv
from lightsim.report.page_options import PageOptions
from lightsim.scene.build import build
from lightsim.scene.records import Scene
from lightsim.scene.settings.change_light import placed_by_angle

if TYPE_CHECKING:
    from lightsim.report.drawing.sheet_of_paper import Sheet

KINDS = ("comparison", "contact sheet", "plan", "handout")
MOST_KEPT = 60


def make_page(what: str, scene: Scene, kept: Sequence[Scene], folder: Path, name: str) -> list[Path]:
    """Write a page beside the scene; returns its files. Nothing is overwritten.

    what : one of KINDS.  kept : scenes of the kept pictures; the plan takes `scene` where there is none.
    name : what the files' names begin with.
    LightsimError for another kind, or too few pictures, or too many.
    """
    if what not in KINDS:
        raise LightsimError(f"make: found {what[:40]!r}, allowed {', '.join(KINDS)}")
    if len(kept) > MOST_KEPT:
        raise LightsimError(f"make: found {len(kept)} kept pictures, allowed up to {MOST_KEPT}")
    shown = _told_apart(kept)
    if what == "plan":
        return _plans(shown or [scene], folder, name)
    if len(kept) < 2:
        raise LightsimError("make: found fewer than two kept pictures, allowed two or more")
    if what == "comparison":
        from lightsim.runs.comparison.compare import compare_to_files

        path = _free(folder, f"{name}-compare", ".png")
        return list(compare_to_files(shown, path, page=PageOptions(title=_words(name)))[1])
    return _contact_sheet(shown, folder, name) if what == "contact sheet" else _handout(shown, folder, name)


def _told_apart(kept: Sequence[Scene]) -> list[Scene]:
    """The scenes with titles that are all different."""
    known: dict[str, int] = {}
    named = []
    for scene in kept:
        title = scene.shown_title
        known[title] = known.get(title, 0) + 1
        named.append(replace(scene, title=title if known[title] == 1 else f"{title} ({known[title]})"))
    return named


def _plans(scenes: Sequence[Scene], folder: Path, name: str) -> list[Path]:
    """One file with the plan of each."""
    from lightsim.report.drawing.page_files import write_pages
    from lightsim.runs.setup_plan import setup_plan

    pages: list[Sheet] = []
    for scene in scenes:
        pages += setup_plan(scene).pages()[0]
    return write_pages(_free(folder, f"{name}-plan", ".pdf"), pages)


def _contact_sheet(scenes: Sequence[Scene], folder: Path, name: str) -> list[Path]:
    """The pictures in their order with their names, settings and measures, and the measures as a table."""
    from lightsim.measures import frame_row
    from lightsim.report.drawing.page_files import write_pages
    from lightsim.report.frames import Varied
    from lightsim.report.page_options import options_for
    from lightsim.report.sheet.contact_sheet import SheetWords, sheet_pages
    from lightsim.runs.comparison.shots import Shot, own_settings
    from lightsim.runs.frame import make_frame
    from lightsim.runs.layer_store import open_store
    from lightsim.runs.limits import samples_of
    from lightsim.runs.sweep.result import frame_context, sheet_frame
    from lightsim.runs.views import Views
    from lightsim.tracer.view import silent

    shown, rows = [], []
    with Views(scenes[0].camera.width_px, samples_of("normal"), open_store()) as views:
        for scene in scenes:
            frame = make_frame(views.trace(scene, silent), scene, build(scene))
            title = scene.title
            own = own_settings(Shot(title, title, scene), frame)
            one = replace(sheet_frame(frame), varied=(Varied("picture", title),), settings=own)
            shown.append(replace(one, shows_level=True))
            rows.append(frame_row(frame.measures, picture=title, **frame_context(frame)))
    words = SheetWords(_words(name), "", "each picture as it is set")
    pages = sheet_pages(shown, words, options_for(None, build(scenes[0])))
    page = _free(folder, f"{name}-sheet", ".png")
    return [*write_pages(page, pages), write_csv(page.with_suffix(".csv"), rows)]


def _handout(scenes: Sequence[Scene], folder: Path, name: str) -> list[Path]:
    """A handout of one set for each picture."""
    from lightsim.runs.handout.handout import WIDTH_PX, write_planned_handout
    from lightsim.runs.limits import samples_of
    from lightsim.runs.sweep.schedule import plan_sweep

    if any(not scene.lights for scene in scenes):
        raise LightsimError("make: found a kept picture without a light, allowed pictures with one")
    plans = [
        plan_sweep(
            scene, {"angle": [placed_by_angle(scene.lights[0]).angle_deg]}, samples=samples_of("normal"),
            width_px=WIDTH_PX,
        )
        for scene in scenes
    ]  # fmt: skip
    path = _free(folder, f"{name}-handout", ".html")
    return [write_planned_handout(plans, path, title=_words(name))]


def _words(name: str) -> str:
    return name.replace("-", " ").capitalize()


def _free(folder: Path, stem: str, suffix: str) -> Path:
    """A name that is not there yet: nothing is overwritten from the page."""
    for number in range(1, 1000):
        path = folder / f"{stem}{'' if number == 1 else f'-{number}'}{suffix}"
        if not path.exists():
            return path
    raise LightsimError(f"{folder}: found a thousand files called {stem}, allowed fewer")
