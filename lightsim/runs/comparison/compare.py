"""Several pictures side by side, each as set or all at one exposure, with measures and differences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lightsim.measures import SCHEMA_VERSION, compare_measures, frame_row
from lightsim.photograph.tone import png_bytes
from lightsim.picture import Layers
from lightsim.planning.settings_words import exposure_words, set_up_words
from lightsim.report.drawing.page_files import PAGE_SUFFIXES
from lightsim.report.files.writable import require_file, require_outputs
from lightsim.report.page_options import PageOptions, options_for
from lightsim.runs.comparison.shots import Shot, moved_row, moved_words, own_settings, plan_shots
from lightsim.runs.frame import Frame, make_frame
from lightsim.runs.job import JobProgress, Report, Worker
from lightsim.runs.layer_store import open_store
from lightsim.runs.limits import require_memory, samples_of
from lightsim.runs.sweep.result import frame_context, sheet_frame
from lightsim.runs.views import FRAME_WEIGHT, PATHS_WEIGHT, TRIAL_WEIGHT, Views, trial_gain_stops
from lightsim.scene.build import build, files_read
from lightsim.scene.file.read import as_scene
from lightsim.scene.records import Scene
from lightsim.scene.settings.value_list import Values

if TYPE_CHECKING:
    from PIL.Image import Image

    from lightsim.report.drawing.sheet_of_paper import Sheet


@dataclass(frozen=True)
class Comparison:
    """Pictures side by side, and the differences of the others from the first.

    shots : what was photographed.  frames : the photographs and their measures, in the same order.
    same_exposure : whether all are at the first one's settings; gain_stops is then what its automatic
        exposure added.
    """

    shots: tuple[Shot, ...]
    frames: tuple[Frame, ...]
    same_exposure: bool = False
    gain_stops: float = 0.0

    def __repr__(self) -> str:
        return f"<Comparison of {', '.join(shot.label for shot in self.shots)}>"

    def rows(self) -> list[dict[str, Any]]:
        """One flat row of measures for each picture, units in the keys."""
        return [
            frame_row(frame.measures, picture=shot.label, **frame_context(frame), **moved_row(shot))
            for shot, frame in zip(self.shots, self.frames, strict=True)
        ]

    def differences(self) -> list[dict[str, Any]]:
        """For each picture after the first, each measure's difference from the first with its unit."""
        first = self.frames[0].measures
        against = self.shots[0].label
        return [
            {"picture": shot.label, "against": against, "measure": key, "difference": by, "unit": unit}
            for shot, frame in zip(self.shots[1:], self.frames[1:], strict=True)
            for key, (by, unit) in compare_measures(first, frame.measures).items()
        ]

    @property
    def exposure_note(self) -> str:
        """What the exposures have in common."""
        if not self.same_exposure:
            return "each picture as it is set"
        common = exposure_words(self.shots[0].scene, self.gain_stops, own=False)
        moved = [f"{shot.label}: {', '.join(words)}" for shot in self.shots if (words := moved_words(shot))]
        return "; ".join((common, *moved))

    def notes(self) -> list[str]:
        """Exposure, and which pictures cannot be had, a sentence each."""
        frames = zip(self.shots, self.frames, strict=True)
        pairs = [(shot.label, frame.not_buildable) for shot, frame in frames]
        unbuilt = [f"{label} cannot be built: {why}." for label, why in pairs if why is not None]
        return [f"Exposure: {self.exposure_note}.", *unbuilt]

    @property
    def set_ups(self) -> str:
        """Each set-up in a line; the pictures of one scene share theirs."""
        lines = {
            shot.name: set_up_words(shot.scene, build(shot.scene), shot.light, shot.varied)
            for shot in self.shots
        }
        if len(lines) == 1:
            return next(iter(lines.values()))
        return "\n".join(f"{name}: {words}" for name, words in lines.items())

    def as_dict(self) -> dict[str, Any]:
        """All numbers, as JSON holds them."""
        return {
            "schema_version": SCHEMA_VERSION,
            "exposure": self.exposure_note,
            "exposure_stops_from_settings": self.gain_stops,
            "pictures": self.rows(),
            "differences": self.differences(),
        }

    def page(self, options: PageOptions | None = None) -> Sheet:
        """The pictures side by side, on a page."""
        from lightsim.report.comparison.side_by_side import comparison_page
        from lightsim.report.sheet.contact_sheet import SheetWords

        first = self.shots[0].scene
        alike = all(shot.scene.path == first.path for shot in self.shots)
        title = first.shown_title if alike else "Side by side"
        words = SheetWords(title, "", self.exposure_note, self.set_ups)
        frames = [
            replace(sheet_frame(frame), settings=own_settings(shot, frame))
            for shot, frame in zip(self.shots, self.frames, strict=True)
        ]
        return comparison_page(
            frames, [shot.label for shot in self.shots], words, options_for(options, build(first))
        )

    def picture(self, options: PageOptions | None = None) -> Image:
        """The page as a picture."""
        from lightsim.report.drawing.page_files import page_image

        return page_image(self.page(options))

    def table(self) -> Any:
        """The measures and their differences as a table for the terminal."""
        from lightsim.report.tables.measures_table import compare_table

        return compare_table([frame.measures for frame in self.frames], [shot.label for shot in self.shots])

    def save(self, path: str | Path, options: PageOptions | None = None) -> list[Path]:
        """Write the page (.png, .jpg, .pdf, .svg), and beside it measures (.csv, .json) and differences."""
        from lightsim.report.drawing.page_files import write_pages
        from lightsim.report.files import formats as files

        page, measures, differences, numbers = comparison_files(Path(path))
        return [
            *write_pages(page, [self.page(options)]),
            files.write_csv(measures, self.rows()),
            files.write_csv(differences, self.differences()),
            files.write_json(numbers, self.as_dict()),
        ]

    def _repr_png_(self) -> bytes:
        return png_bytes(self.picture())


def compare(
    scenes: Sequence[Scene | str | Path],
    *,
    same_exposure: bool = False,
    light: str | None = None,
    quality: str = "normal",
    width_px: int | None = None,
    progress: Report | None = None,
    **varied: Values,
) -> Comparison:
    """Photograph several scenes, or one with several values of something, side by side.

    Parameters
    ----------
    scenes : scenes or their files; the first gives the picture's width.
    same_exposure : put all at the first one's f-number, shutter and ISO, and its automatic exposure where it
        has that; otherwise each is exposed as it is set.
    varied : values by the quantity's name, as for `sweep`; one of them may have several.
    light : the light that is changed and whose highlights are measured; each scene's key when None.
    quality, width_px, progress : as for `preview`.

    Raises
    ------
    LightsimError unless that makes 2 to 6 pictures; SceneError, PictureError as `preview`.

    Examples
    --------
    >>> made = compare([Scene()], angles="15,75", quality="draft", width_px=48)
    >>> [frame.light.angle_deg for frame in made.frames]
    [15.0, 75.0]
    """
    read = [as_scene(scene) for scene in scenes]
    shots = plan_shots(read, varied, light=light, same_exposure=same_exposure)
    width = shots[0].scene.camera.width_px if width_px is None else width_px
    samples = samples_of(quality)
    for shot in shots:
        require_memory(shot.scene, width, samples, len(shots))
    auto = same_exposure and shots[0].scene.exposure.auto
    whole = len(shots) * (PATHS_WEIGHT + FRAME_WEIGHT + auto * TRIAL_WEIGHT)
    job = JobProgress(progress, whole)
    gain = trial_gain_stops((shot.scene for shot in shots), job) if auto else 0.0
    frames: list[Frame] = []

    def finish(scene: Scene, layers: Layers) -> None:
        own = False if same_exposure else None
        frames.append(make_frame(layers, scene, build(scene), light=light, gain_stops=gain, auto=own))

    with Views(width, samples, open_store()) as views, Worker() as worker:
        for shot in shots:
            layers = views.trace(shot.scene, job.part(views.weight(shot.scene), shot.label))
            worker.give(partial(finish, shot.scene, layers))
    job.finish()
    return Comparison(shots, tuple(frames), same_exposure, gain)


def compare_to_files(
    scenes: Sequence[Scene | str | Path],
    path: str | Path,
    *,
    progress: Report | None = None,
    page: PageOptions | None = None,
    **options: Any,
) -> tuple[Comparison, list[Path]]:
    """`compare`, written to a picture and the tables beside it; returns the comparison and the files."""
    path = Path(path)
    read = [as_scene(scene) for scene in scenes]
    inputs = [file for scene in read for file in files_read(scene)]
    require_file(path, PAGE_SUFFIXES, inputs)
    require_outputs(comparison_files(path), inputs)
    made = compare(read, progress=progress, **options)
    return made, made.save(path, page)


def comparison_files(path: Path) -> list[Path]:
    """The files of a comparison: its picture, measures, differences and numbers."""
    differences = path.with_name(f"{path.stem}-differences.csv")
    return [path, path.with_suffix(".csv"), differences, path.with_suffix(".json")]
