"""A plan of the set-up: everything that someone else needs to build the set, gathered from a scene."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from lightsim.errors import OutputError, named, printable
from lightsim.photograph.tone import png_bytes, to_srgb8
from lightsim.planning.cautions import LAST_WORD, cautions, marks
from lightsim.planning.plan_settings import plan_numbers, plan_settings
from lightsim.report.files.writable import require_file
from lightsim.report.page_options import PageOptions, options_for
from lightsim.report.setup.plan_records import SetupPlan, camera_place, places
from lightsim.report.setup.solid.whole import Solids, solids
from lightsim.report.setup.view_3d import NoOpenGL, open_window
from lightsim.report.words import plain
from lightsim.runs.job import Report
from lightsim.scene.build import build, files_read
from lightsim.scene.file.read import as_scene
from lightsim.scene.records import Scene
from lightsim.scene.stage import Stage

if TYPE_CHECKING:
    from lightsim.report.drawing.sheet_of_paper import Sheet

SUFFIXES = (".png", ".pdf", ".svg")
USUAL = (".png", ".pdf")
PICTURE_PX = 720  # width of the picture on the page


@dataclass(frozen=True)
class Setup:
    """A plan of the set-up, from which someone else can build the set.

    plan : places, settings and cautions.  solids : the parts that are drawn.
    picture : (h, w, 3) uint8 of what the set gives, or None.
    """

    scene: Scene
    stage: Stage
    plan: SetupPlan
    solids: Solids
    picture: NDArray[np.uint8] | None = None

    def __repr__(self) -> str:
        return f"<Setup of {self.plan.name}: {len(self.plan.places)} places>"

    def as_dict(self) -> dict[str, Any]:
        """The plan's numbers, units in their names."""
        plan = self.plan
        return {
            "scene": plan.name,
            "camera": _rounded({**asdict(plan.camera), **plan.numbers}),
            "subject_above_table_mm": plan.subject_above_table_mm,
            "places": [
                {**_rounded(asdict(place)), "cautions": list(plan.marks_of(place.name))}
                for place in plan.places
            ],
            "settings": dict(plan.settings),
            "cautions": [asdict(caution) for caution in plan.cautions],
            "last_word": plan.last_word,
        }

    def table(self) -> Any:
        """The places as a table for the terminal."""
        from lightsim.report.setup.items import place_cells
        from lightsim.report.tables.measures_table import open_table

        where = ("from the subject", "off the axis", "clock", "to the side", "toward or away", "height")
        return open_table(("", *where, "face"), map(place_cells, self.plan.places))

    def notes(self) -> list[str]:
        """Camera, table and cautions, a sentence each."""
        camera = self.plan.camera
        way = "down" if camera.looks_down_deg >= 0 else "up"
        tilt = f"{way} by {plain(abs(camera.looks_down_deg), 1)}°"
        front = f"{plain(camera.front_mm, 0)} mm"
        return [
            f"The camera looks {tilt}, the front of its lens {front} from the subject.",
            f"The subject stands {plain(self.plan.subject_above_table_mm, 0)} mm above the table or higher.",
            *(f"Mind ({', '.join(caution.on)}): {caution.words}" for caution in self.plan.cautions),
            *([self.plan.last_word] if self.plan.cautions else []),
        ]

    def pages(
        self, options: PageOptions | None = None, projection: str | None = None
    ) -> tuple[list[Sheet], str | None]:
        """The sheets, and a sentence where the 3-D view had to be left out, else None.

        projection : "first" or "third" angle; None takes first on A4 and third on letter.
        """
        from lightsim.report.setup.drafting import TitleBlock
        from lightsim.report.setup.plan_sheets import drawing_sheet, settings_sheets

        options = options_for(options, self.stage)
        plan = self.plan if options.title is None else replace(self.plan, name=options.title)
        path = self.scene.path
        block = TitleBlock(
            title=plan.name,
            document_type="plan of the set-up",
            identification="–" if path is None else printable(path.name),
            date=date.today().isoformat(),
            sheet="1 / 2",
            creator=options.credit,
            projection=projection or ("third" if options.paper == "letter" else "first"),
        )
        missing = None
        try:
            others = settings_sheets(plan, self.solids, self.picture, block, options)
        except NoOpenGL as error:
            missing = str(error)
            others = settings_sheets(plan, self.solids, self.picture, block, options, with_3d=False)
        block = replace(block, sheet=f"1 / {len(others) + 1}")
        return [drawing_sheet(plan, self.solids, block, options)[0], *others], missing

    def save(
        self,
        paths: str | Path | Sequence[str | Path],
        options: PageOptions | None = None,
        projection: str | None = None,
    ) -> tuple[list[Path], str | None]:
        """Write the sheets by the files' endings (.png, .pdf, .svg); a PDF holds them all, of the others each
        sheet after the first has a file of its own, NAME-2.png.

        Returns the files, and a sentence where the 3-D view had to be left out, else None. OutputError for a
        place that cannot be written.
        """
        from lightsim.report.drawing.page_files import write_pages

        files = checked_files([paths] if isinstance(paths, str | Path) else paths)
        pages, missing = self.pages(options, projection)
        return write_pages(files, pages), missing

    def _repr_png_(self) -> bytes:
        from lightsim.report.drawing.page_files import page_image

        return png_bytes(page_image(self.pages(PageOptions(dpi=140.0))[0][0]))


def checked_files(paths: Sequence[str | Path], inputs: Sequence[Path] = ()) -> list[Path]:
    """The page's files; OutputError for one that cannot be written, is an input or is named twice."""
    files = [Path(path) for path in paths]
    for number, path in enumerate(files):
        require_file(path, SUFFIXES, inputs)
        if path in files[:number]:
            raise OutputError(f"{named(path)}: found twice, allowed once")
    return files


def _rounded(numbers: dict[str, Any]) -> dict[str, Any]:
    """Numbers without the dust of the last digits."""
    return {
        key: round(value, 6) + 0.0 if isinstance(value, float) else value for key, value in numbers.items()
    }


def setup_plan(
    scene: Scene | str | Path,
    *,
    quality: str = "normal",
    with_picture: bool = True,
    progress: Report | None = None,
) -> Setup:
    """Draw up the plan of a set-up.

    Parameters
    ----------
    scene : a scene or its file.
    quality : of the picture, "draft", "normal" or "final".
    with_picture : False traces nothing.
    progress : called with the share done (0..1) and what is being done.

    Raises
    ------
    SceneError for a scene that cannot be built.

    Examples
    --------
    >>> [place] = setup_plan(Scene(), with_picture=False).plan.places
    >>> place.name, round(place.distance_mm)
    ('flash', 250)
    """
    scene = as_scene(scene)
    stage = build(scene)
    shapes = solids(scene, stage)
    picture = _picture(scene, quality, progress) if with_picture else None
    return Setup(scene, stage, _plan(scene, stage, shapes), shapes, picture)


def _picture(scene: Scene, quality: str, progress: Report | None) -> NDArray[np.uint8]:
    from lightsim.runs.preview import preview

    return to_srgb8(preview(scene, quality=quality, width_px=PICTURE_PX, progress=progress).photograph)


def _plan(scene: Scene, stage: Stage, shapes: Solids) -> SetupPlan:
    safety = cautions(scene)
    return SetupPlan(
        name=scene.shown_title,
        about=" ".join(scene.about.split()),
        camera=camera_place(scene, stage),
        places=tuple(places(scene, stage)),
        subject_above_table_mm=shapes.subject_above_table_mm,
        settings=tuple(plan_settings(scene, stage)),
        cautions=(*safety, *marks(scene)),
        last_word=LAST_WORD if safety else "",
        numbers=plan_numbers(scene, stage),
    )


def plan_to_files(
    scene: Scene | str | Path,
    outputs: Sequence[str | Path] = (),
    *,
    quality: str = "normal",
    page: PageOptions | None = None,
    projection: str | None = None,
    progress: Report | None = None,
) -> tuple[Setup, list[Path], str | None]:
    """The plan of a scene as sheets; returns it, the files, and a sentence where the 3-D view is missing.

    outputs : .png, .pdf and .svg files; none makes SCENE-plan.png and SCENE-plan.pdf.
    page : how the sheets look.  projection : as for `Setup.pages`.
    Raises SceneError, and OutputError for a place that cannot be written, before anything is written.
    """
    scene = as_scene(scene)
    stem = "scene" if scene.path is None else scene.path.stem
    paths = checked_files(outputs or [f"{stem}-plan{suffix}" for suffix in USUAL], files_read(scene))
    made = setup_plan(scene, quality=quality, progress=progress)
    written, missing = made.save(paths, page, projection)
    return made, written, missing


def walk_round(scene: Scene | str | Path) -> None:
    """Open a window to walk round the set; LightsimError where there is no display."""
    made = setup_plan(scene, with_picture=False)
    open_window(made.solids, f"{made.plan.name}: the set-up")
