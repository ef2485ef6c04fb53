"""The frames of a sweep and what can be made of them: rows of measures, sheet, chart, animation."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lightsim.measures import MEASURES, SCHEMA_VERSION, drop_rows, frame_row
from lightsim.photograph.tone import png_bytes
from lightsim.planning.settings_words import exposure_words, set_up_words, settings_words
from lightsim.report.frames import SheetFrame, Varied
from lightsim.report.page_options import PageOptions, options_for
from lightsim.report.sheet.caption_lines import hidden_sentence
from lightsim.runs.frame import Frame
from lightsim.runs.job import Report
from lightsim.runs.picture_notes import LEAST_HIDDEN
from lightsim.runs.sweep.schedule import SweepPlan
from lightsim.scene.build import build
from lightsim.scene.obstruction import free_from_deg, free_words
from lightsim.scene.settings.change_light import light_named

if TYPE_CHECKING:
    from PIL.Image import Image

    from lightsim.report.drawing.sheet_of_paper import Sheet

# Of a photograph's notes, what a row of measures has too: the room's light against the flashes, smears,
# clipping.
ROOM_NOTES = (
    "room_light_stops_below_flash",
    "ghost_px",
    "ghost_mm",
    "clipped_share_red",
    "clipped_share_green",
    "clipped_share_blue",
)


@dataclass(frozen=True)
class Sweep:
    """The frames of a sweep, in order, and the sheet, chart, tables and animation made of them.

    plan : the values, the light, the size and the quality.  frames : one for each value.
    gain_stops : what the common automatic exposure added.
    reused : how many frames were kept from an earlier run.
    """

    plan: SweepPlan
    frames: tuple[Frame, ...]
    gain_stops: float = 0.0
    reused: int = 0

    def __repr__(self) -> str:
        return f"<Sweep of {len(self)} frames: {self.title}, {self.varied_words}>"

    def __len__(self) -> int:
        return len(self.frames)

    def __getitem__(self, index: int) -> Frame:
        return self.frames[index]

    def __iter__(self) -> Iterator[Frame]:
        return iter(self.frames)

    @property
    def title(self) -> str:
        """What heads the sheet."""
        return self.plan.scene.shown_title

    def rows(self) -> list[dict[str, Any]]:
        """One flat row of measures for each frame, units in the keys."""
        return [frame_row(frame.measures, **self.context(frame)) for frame in self.frames]

    def drop_rows(self) -> list[dict[str, Any]]:
        """One flat row of measures for each drop of each frame."""
        return [row for frame in self.frames for row in drop_rows(frame.measures, **self.context(frame))]

    def context(self, frame: Frame) -> dict[str, Any]:
        """What a row of measures says of its frame."""
        held = self.plan.held_words(frame.values)
        row = {"picture": f"frames/{self.plan.stem(frame.values)}.png", **frame_context(frame)}
        varied = zip(self.plan.axes, frame.values, strict=True)
        row |= {axis.quantity.column: value for axis, value in varied if axis.quantity.column}
        return {**row, "exposure_held_by": ", ".join(held)} if held else row

    def as_dict(self, *, with_drops: bool = True) -> dict[str, Any]:
        """All numbers as JSON holds them, with the meaning of each key."""
        plan = self.plan
        return {
            "schema_version": SCHEMA_VERSION,
            "varied": plan.axes[0].quantity.name,
            "varied_key": plan.axes[0].quantity.key,
            "axes": [
                {"name": axis.quantity.name, "key": axis.quantity.key, "values": list(axis.values)}
                for axis in plan.axes
            ],
            "light": plan.light_name,
            "samples": plan.samples,
            "width_px": plan.scene.camera.width_px if plan.width_px is None else plan.width_px,
            "set_up": self.set_up,
            "varied_words": self.varied_words,
            "exposure": self._exposure_words,
            "measures": {key: {"unit": unit, "about": about} for key, (unit, about) in MEASURES.items()},
            "frames": [self._frame_dict(frame, with_drops) for frame in self.frames],
        }

    def _frame_dict(self, frame: Frame, with_drops: bool) -> dict[str, Any]:
        row = frame_row(frame.measures, **self.context(frame))
        return {**row, "drops": drop_rows(frame.measures)} if with_drops else row

    @property
    def set_up(self) -> str:
        """The set-up in a line."""
        plan = self.plan
        scene = plan.scene_at(plan.steps[0])
        named_apart = (*plan.names, "power", "iso") if plan.exposure == "hold" else plan.names
        return set_up_words(scene, build(scene), plan.light_name, named_apart)

    @property
    def varied_words(self) -> str:
        """What is varied, of which light, and whose highlights are measured where it is not the key."""
        plan, light = self.plan, self.plan.light_name
        labels = " and ".join(
            f"{axis.quantity.label} of {light}" if axis.quantity.of_light else axis.quantity.label
            for axis in plan.axes
        )
        return labels if plan.measures_key else f"{labels}; highlights and shadows are those of {light}"

    @property
    def exposure_note(self) -> str:
        """What is varied, and what the frames' exposures have in common."""
        return f"{self.varied_words}; {self._exposure_words}"

    @property
    def _exposure_words(self) -> str:
        plan = self.plan
        if plan.exposure == "hold":
            fixed = settings_words(plan.scene, (*plan.names, "iso"))
            return f"exposure held by the flash’s power, then by ISO (see each frame); all at {fixed}"
        return exposure_words(plan.scene, self.gain_stops, plan.own_exposure, plan.names)

    def table(self) -> Any:
        """The measures as a table for the terminal."""
        from lightsim.report.tables.measures_table import measures_table

        return measures_table(self.rows())

    def notes(self) -> list[str]:
        """What else is worth knowing, a sentence each."""
        notes = [f"Varied: {self.varied_words}.", f"Exposure: {self._exposure_words}."]
        if self.reused:
            notes.append(f"{self.reused} of {len(self)} frames were kept from before.")
        return [*notes, *self._what_stands_in_the_way()]

    def _what_stands_in_the_way(self) -> Iterator[str]:
        """Which frames cannot be built, from which angle on the way is free, what is hidden of the light."""
        reasons: dict[str, list[str]] = {}
        for frame in self.frames:
            if frame.not_buildable is not None:
                reasons.setdefault(frame.not_buildable, []).append(self.plan.words(frame.values))
        for reason, names in reasons.items():
            yield f"Cannot be built: {', '.join(names)} ({reason})."
        if self.plan.left_out:
            angles = ", ".join(f"{angle:g}" for angle in self.plan.left_out)
            yield f"Left out, since the set cannot be built there (--angles shows them): {angles} degrees."
        name = self.plan.light_name
        if name is not None and self.plan.left_out:
            scene = self.plan.scene_at(self.plan.steps[0])
            light = light_named(scene, name)
            free = free_from_deg(build(scene), light)
            if free is not None:
                yield f"{free_words(light, free).capitalize()}."
        if hidden := hidden_sentence(self.sheet_frames()):
            yield hidden

    def sheet_frames(self) -> list[SheetFrame]:
        """The frames as a sheet, a chart or an animation takes them."""
        return [sheet_frame(frame, self.plan, own=self.plan.own_exposure) for frame in self.frames]

    def page_options(self, options: PageOptions | None = None) -> PageOptions:
        """The options with the petal's own colour where they name none."""
        return options_for(options, build(self.plan.scene_at(self.plan.steps[0])))

    def pages(self, options: PageOptions | None = None) -> list[Sheet]:
        """The contact sheet's pages."""
        from lightsim.report.sheet.contact_sheet import SheetWords, sheet_pages

        words = SheetWords(self.title, self.plan.scene.about, self.exposure_note, self.set_up)
        return sheet_pages(self.sheet_frames(), words, self.page_options(options), grid=self.plan.is_grid)

    def sheet(self, options: PageOptions | None = None) -> Image:
        """The contact sheet's first page as a picture."""
        from lightsim.report.drawing.page_files import page_image

        return page_image(self.pages(options)[0])

    def save(
        self, folder: str | Path, progress: Report | None = None, options: PageOptions | None = None
    ) -> list[Path]:
        """Write frames, sheet, measures, chart and animation into a folder; returns the files."""
        from lightsim.runs.sweep.save import save_sweep

        return save_sweep(self, Path(folder), progress, options)

    def _repr_png_(self) -> bytes:
        return png_bytes(self.sheet(PageOptions(dpi=140.0)))


def frame_context(frame: Frame) -> dict[str, Any]:
    """What a row of measures says of its frame: the light's place and size, settings, exposure, the room."""
    context: dict[str, Any] = {}
    if frame.light is not None:
        light = frame.light
        context = {
            "light": light.name,
            "light_angle_deg": light.angle_deg,
            "light_clock": light.clock,
            "light_distance_mm": light.distance_mm,
            "light_width_mm": light.width_mm if light.diffuser is None else light.diffuser.width_mm,
        }
    room = {key: frame.notes[key] for key in ROOM_NOTES if key in frame.notes}
    context |= {"light_hidden_share": frame.hidden_share, "not_buildable": frame.not_buildable}
    return {**context, **frame.settings, "exposure_stops_from_settings": frame.exposure_stops, **room}


def sheet_frame(frame: Frame, plan: SweepPlan | None = None, *, own: bool = False) -> SheetFrame:
    """A frame ready to be shown."""
    varied: tuple[Varied, ...] = ()
    if plan is not None:
        pairs = [(axis.quantity, value) for axis, value in zip(plan.axes, frame.values, strict=True)]
        varied = tuple(Varied(one.label, value, one.unit, one.caption_of(value)) for one, value in pairs)
    light, hidden = frame.light, frame.hidden_share or 0.0
    return SheetFrame(
        image=frame.image,
        measures=frame.measures,
        varied=varied,
        angle_deg=None if light is None else light.angle_deg,
        clock=12.0 if light is None else light.clock,
        distance_mm=1.0 if light is None else light.distance_mm,
        inset_drop=frame.drop,
        not_buildable=frame.not_buildable or "",
        hidden_share=hidden if hidden >= LEAST_HIDDEN else 0.0,
        second_drop=frame.second_drop if plan is not None and "f_number" in plan.names else None,
        mm_per_px=frame.mm_per_px,
        exposure_stops=frame.exposure_stops if own else None,
        shows_level=plan is not None and not own and any(axis.quantity.changes_level for axis in plan.axes),
        settings=() if plan is None else plan.held_words(frame.values),
        measured_light="" if plan is None or plan.measures_key else plan.light_name or "",
    )
