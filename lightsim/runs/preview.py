"""One photograph of a scene, or its layers of light for whoever computes on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lightsim.errors import LightsimError, PictureError, named
from lightsim.measures import frame_row
from lightsim.photograph.tone import clipped_bits, to_srgb16
from lightsim.picture import Layers, Photograph
from lightsim.report.files.writable import require_file
from lightsim.report.theme import petal_colour, theme_for
from lightsim.runs.frame import Frame, make_frame
from lightsim.runs.job import JobProgress, Report
from lightsim.runs.large_picture import large_picture
from lightsim.runs.layer_store import open_store
from lightsim.runs.limits import goes_in_strips, require_memory, require_memory_for_strips, samples_of
from lightsim.runs.picture_notes import picture_figures, picture_lines
from lightsim.runs.sweep.result import frame_context
from lightsim.runs.views import Views
from lightsim.scene.build import build, files_read
from lightsim.scene.file.read import as_scene
from lightsim.scene.records import Scene
from lightsim.scene.settings.quantities import changed_scene
from lightsim.scene.stage import Stage

PICTURE_SUFFIXES = (".png", ".jpg", ".jpeg")
DEEP_SUFFIXES = (".tif", ".tiff")
LAYER_SUFFIXES = (".npz", ".exr")


@dataclass(frozen=True)
class Preview:
    """A photograph of a scene, its measures, and the layers that it was made from.

    A large one is made strip by strip; of its layers and its linear picture only averages are kept.

    Attributes
    ----------
    scene, stage : what was photographed.
    layers : linear, one per light; each pixel the average of averaged_px x averaged_px of the picture.
    frame : the picture, exposed and measured.
    averaged_px : 1 but for a large picture.
    over : of a picture made strip by strip, what the sensor clips: see `large.LargePicture`.
    """

    scene: Scene
    stage: Stage
    layers: Layers
    frame: Frame
    averaged_px: int = 1
    over: NDArray[np.uint8] | None = None

    def __repr__(self) -> str:
        height, width = self.photograph.linear.shape[:2]
        return f"<Preview of {self.scene.shown_title}, {width} x {height} pixels>"

    @property
    def photograph(self) -> Photograph:
        """The linear picture; averaged as the layers are."""
        assert self.frame.photograph is not None
        return self.frame.photograph

    def save(self, path: str | Path, *, show_clipping: bool = False) -> Path:
        """Write the picture (.png, .jpg, 16-bit .tif) or the layers (.npz, .exr), by the file's ending.

        show_clipping : mark what the sensor clips, with a key below; of eight-bit pictures only.
        """
        from lightsim.report.files import formats as files
        from lightsim.report.files.formats import write_layers_exr, write_layers_npz

        path = Path(path)
        if path.suffix.lower() == ".npz":
            write_layers_npz(path, self._whole_layers(path))
        elif path.suffix.lower() == ".exr":
            write_layers_exr(path, self._whole_layers(path))
        elif path.suffix.lower() in DEEP_SUFFIXES:
            self._whole_layers(path)
            files.write_deep_image(path, to_srgb16(self.photograph))
        elif show_clipping:
            files.write_image(path, np.vstack([self.image(show_clipping=True), self._clipping_key()]))
        else:
            files.write_image(path, self.frame.image, photograph=True)
        return path

    def _clipping_key(self) -> NDArray[np.uint8]:
        from lightsim.report.burnt_out import clipping_key

        theme = theme_for(petal=petal_colour(self.stage))
        return clipping_key(self.frame.image.shape[1], self._clipped(), theme)

    def _clipped(self) -> NDArray[np.uint8]:
        """(h, w), a bit for each channel that the sensor clips."""
        return clipped_bits(self.photograph) if self.over is None else self.over

    def image(self, *, show_clipping: bool = False) -> NDArray[np.uint8]:
        """The whole picture, (h, w, 3) sRGB; show_clipping: with what the sensor clips outlined and
        hatched."""
        if not show_clipping:
            return self.frame.image
        from lightsim.report.burnt_out import mark_burnt_out

        theme = theme_for(petal=petal_colour(self.stage))
        return mark_burnt_out(self.frame.image, self._clipped(), theme)

    def _whole_layers(self, path: Path) -> Layers:
        if self.averaged_px > 1:
            raise PictureError(
                f"{named(path)}: found a picture made strip by strip, whose layers are averaged over "
                f"{self.averaged_px} x {self.averaged_px} pixels, allowed one made with strips=False"
            )
        return self.layers

    def figures(self) -> dict[str, Any]:
        """Settings, lens train, room light, movement, clipping and the camera's meter, units in the keys."""
        return picture_figures(self.scene, self.stage, self.layers, self.frame, self.averaged_px)

    def row(self) -> dict[str, Any]:
        """The measures as a flat row, units in the keys."""
        return frame_row(self.frame.measures, **frame_context(self.frame))

    def as_dict(self) -> dict[str, Any]:
        """The measures and what the picture was made with, as JSON holds them."""
        return {**self.row(), "figures": self.figures()}

    def notes(self) -> list[str]:
        """Nothing that does not stand in the table."""
        return []

    def table(self) -> Any:
        """The measures and, below them, what the picture was made with, for the terminal."""
        from rich.console import Group

        from lightsim.report.tables.measures_table import measures_table, things_table

        lines = picture_lines(self.scene, self.figures(), self.frame)
        return Group(measures_table([self.row()]), things_table(lines))

    def _repr_png_(self) -> bytes:
        return self.frame._repr_png_() if self.averaged_px == 1 else self.photograph._repr_png_()


def preview(
    scene: Scene | str | Path,
    *,
    light: str | None = None,
    quality: str = "normal",
    width_px: int | None = None,
    strips: bool | None = None,
    exact_layers: bool = False,
    progress: Report | None = None,
) -> Preview:
    """Photograph a scene as it stands: traced, exposed and measured.

    Parameters
    ----------
    scene : a scene or its file.
    light : the light whose highlights are measured; the key when None.
    quality : "draft", "normal" or "final".
    width_px : of the picture; the scene's when None.
    strips : make it strip by strip, which takes little memory, but keeps neither layers nor linear picture
        whole; None: only when it is large.
    exact_layers : trace anew, in 32 bits; otherwise layers are kept on disk, and taken from there, in 16.
    progress : called with the share done (0..1) and what is being done.

    Raises
    ------
    SceneError for a scene that cannot be built; PictureError for a picture too large for memory.

    Examples
    --------
    >>> made = preview(Scene(), quality="draft", width_px=48)
    >>> made.photograph.linear.shape
    (32, 48, 3)
    """
    scene = as_scene(scene)
    samples = samples_of(quality)
    if goes_in_strips(scene, width_px, samples) if strips is None else strips:
        require_memory_for_strips(scene, width_px, samples)
        stage = build(scene)
        made = large_picture(scene, stage, light=light, width_px=width_px, samples=samples, progress=progress)
        return Preview(scene, stage, made.layers, made.frame, made.side, made.over)
    require_memory(scene, width_px, samples)
    stage = build(scene)
    job = JobProgress(progress, 1.0)
    with Views(width_px, samples, None if exact_layers else open_store()) as views:
        layers = views.trace(scene, job.part(1.0, "tracing the light"))
    frame = make_frame(layers, scene, stage, light=light, with_photograph=True)
    return Preview(scene, stage, layers, frame)


def preview_to_file(
    scene: Scene | str | Path,
    path: str | Path | None = None,
    *,
    light: str | None = None,
    changes: Mapping[str, float | str | None] | None = None,
    white_balance: str | None = None,
    auto: bool | None = None,
    show_clipping: bool = False,
    **options: Any,
) -> tuple[Preview, Path]:
    """`preview` with some things changed, written to a file; returns the preview and the file.

    path : None makes SCENE-preview.png.
    changes : values by the quantity's name (see `quantities.QUANTITIES`), as numbers or as they are marked.
    white_balance : a light's name, "key", "ambient", or a colour temperature in kelvin.
    auto : takes the place of the scene's exposure.auto.  show_clipping : mark what the sensor clips.
    Other options as for `preview`.
    """
    scene = as_scene(scene)
    scene = changed_scene(scene, {} if changes is None else changes, light)
    exposure = scene.exposure
    if auto is not None:
        exposure = replace(exposure, auto=auto)
    if white_balance is not None:
        exposure = replace(exposure, white_balance=_balance(white_balance))
    scene = replace(scene, exposure=exposure)
    stem = "scene" if scene.path is None else scene.path.stem
    place = Path(f"{stem}-preview.png") if path is None else Path(path)
    require_file(place, PICTURE_SUFFIXES + DEEP_SUFFIXES + LAYER_SUFFIXES, files_read(scene))
    if show_clipping and place.suffix.lower() not in PICTURE_SUFFIXES:
        raise LightsimError(f"--show-clipping: found {place}, allowed with {', '.join(PICTURE_SUFFIXES)}")
    if place.suffix.lower() not in PICTURE_SUFFIXES:
        options = {**options, "strips": False, "exact_layers": True}
    made = preview(scene, light=light, **options)
    return made, made.save(place, show_clipping=show_clipping)


def _balance(text: str) -> str | float:
    try:
        return float(text.lower().removesuffix("k"))
    except ValueError:
        return text
