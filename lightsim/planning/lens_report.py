"""The lens train's figures, as the scene has it or with another value."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from lightsim.optics.lens_figures import TrainFigures, train_figures
from lightsim.planning.cautions import cautions
from lightsim.planning.levels import train_of
from lightsim.report.tables.measures_table import html_of
from lightsim.scene.file.check import check_scene
from lightsim.scene.file.read import as_scene
from lightsim.scene.records import Scene
from lightsim.scene.settings.quantities import OF_THE_LENS, changed_scene, require_known

FRAMED_BY_WIDTH = "a thin lens of pupil ratio 1 that frames this field from this distance"
_ABOUT_WIDTH = (
    "The scene gives a field width and no [lens]: magnification and field are as given, the rest is what a "
    "lens without thickness would do. Its focal length is only what such a lens would have; a real lens "
    "differs in light lost, depth and distance, so give its train for figures to rely on.",
    "Diffraction and depth of field are those of a lens without faults.",
)
_LAST_WORD = "What the makers of lens and camera say about supporting them comes first."


@dataclass(frozen=True)
class LensReport:
    """The figures of a lens train: magnification, working distance, light lost, depth, detail.

    figures : of the scene, with the values that were changed.
    in_file : those of the scene as the file has it, when a value was changed; else None.
    framed_by_width : whether the scene gives no lens train.
    cautions : plain words on what the camera's build calls for.
    """

    scene: Scene
    figures: TrainFigures
    in_file: TrainFigures | None
    framed_by_width: bool
    cautions: tuple[str, ...]

    @property
    def model(self) -> str:
        """The model in one line."""
        return FRAMED_BY_WIDTH if self.framed_by_width else self.figures.model

    @property
    def trust(self) -> tuple[str, ...]:
        """How far to trust the figures, a sentence each."""
        return _ABOUT_WIDTH if self.framed_by_width else self.figures.trust

    def as_dict(self) -> dict[str, Any]:
        """All figures, units in the keys."""
        found = {**asdict(self.figures), "model": self.model, "trust": list(self.trust)}
        found["framed_by"] = "field width" if self.framed_by_width else "lens train"
        found["cautions"] = list(self.cautions)
        if self.in_file is not None:
            left_out = ("model", "supposed", "trust")
            kept = {key: value for key, value in asdict(self.in_file).items() if key not in left_out}
            found["as_in_file"] = kept
        return found

    def table(self) -> Any:
        """The figures as a table for the terminal."""
        from lightsim.report.tables.lens_table import lens_table

        return lens_table(self.figures, self.in_file)

    def notes(self) -> list[str]:
        """The model, what is supposed, how far to trust it, and cautions."""
        supposed = () if self.framed_by_width else self.figures.supposed
        notes = [f"Model: {self.model}."]
        notes += [f"Supposed: {'; '.join(supposed)}."] if supposed else []
        notes += self.trust
        return [*notes, *(f"Mind: {caution}" for caution in self.cautions)]

    def _repr_html_(self) -> str:
        return html_of([self.table(), *self.notes()])


def lens(scene: Scene | str | Path, **options: str | float | None) -> LensReport:
    """Work out the lens train of a scene.

    Parameters
    ----------
    scene : a scene or its file.
    options : f_number, extension, close_up, teleconverter, reversed, magnification as numbers or as marked,
        to try another value.

    Raises
    ------
    LightsimError for a value that is not allowed, SceneError for a train that cannot be.

    Examples
    --------
    At life size a lens marked f/11 (exactly 11.3) lights the sensor as f/22.6 does:

    >>> from lightsim.scene.records import Lens
    >>> round(lens(Scene(lens=Lens(native_magnification=1.0))).figures.effective_f_number, 1)
    22.6
    """
    scene = as_scene(scene)
    wanted = {name: value for name, value in options.items() if value is not None}
    require_known(wanted, OF_THE_LENS)
    changed = check_scene(changed_scene(scene, wanted))
    return LensReport(
        changed,
        train_figures(train_of(changed)),
        train_figures(train_of(scene)) if wanted else None,
        changed.lens is None,
        _about_camera(changed),
    )


def _about_camera(scene: Scene) -> tuple[str, ...]:
    found = tuple(caution.words for caution in cautions(scene) if "camera" in caution.on)
    return (*found, _LAST_WORD) if found else ()
