"""The thread that traces for the page: one picture at a time, and the newest wish wins.

A wish is drawn small at first, then in full size, then in full quality, as far as no newer wish comes; the
time after that goes to the sky. Work that has become stale is dropped between the tracer's bands.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace

from lightsim.errors import LightsimError
from lightsim.live.live_picture import LivePicture, Packing
from lightsim.live.sketch_size import STEPS, SketchSize
from lightsim.live.sky import Sky
from lightsim.picture import Layers
from lightsim.scene.build import build
from lightsim.scene.records import Exposure, Scene
from lightsim.scene.stage import Stage
from lightsim.tracer import QUALITY, View

QUALITIES = ("sketch", "draft", "normal")
REST_S = 0.25  # how long the hand must rest before a picture is refined
# For so long after a picture the preparation of a set gives way to another one's; then it is finished, or a
# slider of the flower that is being moved would show nothing.
GIVES_WAY_S = 0.7


class Stale(Exception):
    """Raised inside the tracer's progress: a newer wish has come."""


@dataclass(frozen=True)
class Wish:
    """A scene that the page wants to see. number : the revision of the scene."""

    number: int
    scene: Scene


def set_of(scene: Scene) -> Scene:
    """All that the camera's paths depend on: no lights, no exposure, nothing that is added later."""
    return replace(
        scene, lights=(), exposure=Exposure(), motion=None, noise=None, title="", about="",
        path=None, camera=replace(scene.camera, diffraction=False, width_px=16),
    )  # fmt: skip


@dataclass
class _Kept:
    """A view with what it was made for."""

    of: tuple[Scene, int, int]
    view: View


class Tracing:
    """Traces the newest wish.

    show : called in this thread with each picture.  fail : with a revision and the reasons why there is none.
    tell : called with a short word on what is being done, "" when nothing is.
    sky_grew : called when one more place of the sky is known.
    """

    def __init__(
        self,
        show: Callable[[LivePicture], None],
        fail: Callable[[int, list[str]], None],
        tell: Callable[[str], None],
        sky_grew: Callable[[], None],
    ):
        self._show, self._fail, self._tell, self._sky_grew = show, fail, tell, sky_grew
        self._wake = threading.Condition()
        self._wish: Wish | None = None
        self._done = 0  # how many qualities of the wish are done
        self._hand_down, self._last_wish, self._shown_at = False, 0.0, 0.0
        self._built: threading.Thread | None = None
        self._closed = False
        self._width_px: int | None = None  # until a page has told it there are only sketches
        self._views: dict[str, _Kept] = {}
        self._packing = {quality: Packing(quick=quality == QUALITIES[0]) for quality in QUALITIES}
        self.sketch = SketchSize()
        self.sky = Sky()
        self.sky_on = True
        self._thread = threading.Thread(target=self._run, name="lightsim-live-tracing", daemon=True)

    def start(self, built: threading.Thread | None = None) -> None:
        """Begin to wait for wishes. built : a thread that is building the first set; it is waited for."""
        self._built = built
        self._thread.start()

    def close(self) -> None:
        """End after the band in hand."""
        with self._wake:
            self._closed = True
            self._wake.notify()
        if self._thread.is_alive():
            self._thread.join(timeout=20.0)

    @property
    def owes_sketch(self) -> bool:
        """Whether the newest wish has no picture yet."""
        return self._wish is not None and self._done == 0

    def wish(self, number: int, scene: Scene) -> None:
        """Wish for a picture of a scene; it takes the place of the wish before."""
        with self._wake:
            self._wish, self._done, self._last_wish = Wish(number, scene), 0, time.monotonic()
            self._wake.notify()

    def hand(self, down: bool) -> None:
        """Whether something is being dragged: then nothing but the newest wish is worked on."""
        with self._wake:
            self._hand_down = down
            self._wake.notify()

    def set_width(self, width_px: int) -> None:
        """The full width of a picture."""
        with self._wake:
            if width_px != self._width_px:
                self._width_px, self._done = width_px, min(self._done, 1)
                self.sky.clear()
                self._wake.notify()

    def set_sky(self, on: bool) -> None:
        """Whether idle time fills the sky."""
        with self._wake:
            self.sky_on = on
            self._wake.notify()

    def _run(self) -> None:
        if self._built is not None:
            self._built.join()
        while True:
            with self._wake:
                work = self._next()
                while work is None and not self._closed:
                    self._wake.wait(self._patience())
                    work = self._next()
                if self._closed:
                    return
            assert work is not None
            try:
                work()
            except Stale:
                continue
            except LightsimError as error:
                self._give_up(error)
            except Exception as error:  # a fault of ours: say so on the page and go on with the next wish
                self._give_up(error)

    def _give_up(self, error: Exception) -> None:
        wish = self._wish
        problems = getattr(error, "problems", None) or [str(error) or type(error).__name__]
        with self._wake:
            self._done = len(QUALITIES)
        if wish is not None:
            self._fail(wish.number, list(problems))

    def _patience(self) -> float | None:
        """How long to sleep until there may be something to refine; None until a wish comes."""
        if self._wish is None or self._hand_down:
            return None
        rest = self._last_wish + REST_S - time.monotonic()
        more = self._done < len(QUALITIES) or self.sketch.better() is not None or self._sky_wanted()
        return max(rest, 0.01) if more else None

    def _sky_wanted(self) -> bool:
        return self.sky_on and self._wish is not None and self.sky.has_more(self._wish.scene)

    def _next(self) -> Callable[[], None] | None:
        """What to do now, under the lock."""
        wish = self._wish
        if wish is None:
            return None
        if self._done == 0:
            return lambda: self._draw(wish, "sketch")
        if self._width_px is None or self._hand_down or time.monotonic() < self._last_wish + REST_S:
            return None
        if self._done < len(QUALITIES):
            quality = QUALITIES[self._done]
            return lambda: self._draw(wish, quality)
        step = self.sketch.better()
        if step is not None:
            return lambda: self._resize_sketch(wish, step)
        return (lambda: self._fill_sky(wish)) if self._sky_wanted() else None

    def _draw(self, wish: Wish, quality: str) -> None:
        started = time.monotonic()
        self._tell("" if quality == "sketch" else "refining")
        stage = build(wish.scene)
        kept = self.sky.picture(wish.scene, stage, wish.number) if quality == "sketch" else None
        if kept is not None:
            self._finish(wish, kept, len(QUALITIES) - 1)  # once more at rest, for the numbers
            return
        layers, fresh = self._traced(wish, quality)
        picture = self._picture(wish.number, wish.scene, stage, quality, layers, started)
        if quality == "sketch" and not fresh:
            self.sketch.note(picture.traced_s, picture.width)
        if quality == QUALITIES[-1]:
            self.sky.note(wish.scene, picture)
        self._finish(wish, picture, QUALITIES.index(quality) + 1)

    def _picture(
        self, number: int, scene: Scene, stage: Stage, quality: str, layers: Layers, started: float
    ) -> LivePicture:
        """Traced layers, packed. started : when tracing began, by time.monotonic."""
        packed, (height, width) = self._packing[quality].pack(layers, scene, stage), layers.shape
        return LivePicture(
            number, quality, width, height, layers.mm_per_px, packed, scene, stage, layers,
            time.monotonic() - started, self._sizes(quality)[1],
        )  # fmt: skip

    def _finish(self, wish: Wish, picture: LivePicture, done: int) -> None:
        with self._wake:
            if self._wish is wish:
                self._done = max(self._done, done)
        self._shown_at = time.monotonic()
        self._show(picture)
        self._tell("")

    def _sizes(self, quality: str) -> tuple[int, int]:
        """Width and samples of a quality."""
        if quality == "sketch":
            return self._no_wider(self.sketch.width_px), self.sketch.samples
        assert self._width_px is not None
        return self._width_px, QUALITY[quality]

    def _no_wider(self, width_px: int) -> int:
        return width_px if self._width_px is None else min(width_px, self._width_px)

    def _traced(self, wish: Wish, quality: str) -> tuple[Layers, bool]:
        """Layers, and whether the camera's paths had to be found for them."""
        width, samples = self._sizes(quality)
        of = (set_of(wish.scene), width, samples)
        kept, fresh = self._views.get(quality), False

        def look(_: float) -> None:
            if self._closed or (quality != "sketch" and self._hindered(wish, width)):
                raise Stale

        def prepare(_: float) -> None:
            look(_)
            recent = time.monotonic() < self._shown_at + GIVES_WAY_S
            if recent and self._wish is not None and set_of(self._wish.scene) != of[0]:
                raise Stale

        if kept is None or kept.of != of:
            self._forget(of[0], quality)
            self._tell("setting up")
            view = View(wish.scene, width_px=width, samples=samples, progress=prepare)
            kept, fresh = _Kept(of, view), True
            self._views[quality] = kept
            if self._wish is not wish and self._wish is not None and set_of(self._wish.scene) == of[0]:
                raise Stale  # only a light has been moved meanwhile: it is traced in this view
        return kept.view.trace(
            _for_view(wish.scene, kept.view), progress=look, sketch=quality == "sketch"
        ), fresh

    def _hindered(self, wish: Wish, width_px: int) -> bool:
        """Whether refining a wish is of no more use, or has to wait for the hand."""
        return self._wish is not wish or self._hand_down or self._width_px != width_px

    def _forget(self, set_: Scene, quality: str) -> None:
        """Views of another set are of no more use."""
        self._views.pop(quality, None)
        for name in [name for name, kept in self._views.items() if kept.of[0] != set_]:
            del self._views[name]

    def _resize_sketch(self, wish: Wish, step: int) -> None:
        """Find the camera's paths for sketches of another size, before the hand needs them."""
        width, samples = STEPS[step]
        width = self._no_wider(width)
        view = View(wish.scene, width_px=width, samples=samples, progress=self._unless_moved(wish))
        view.trace(progress=self._unless_moved(wish))
        self._views[QUALITIES[0]] = _Kept((set_of(wish.scene), width, samples), view)
        self.sketch.take(step)

    def _unless_moved(self, wish: Wish) -> Callable[[float], None]:
        """Progress of idle work: it is dropped as soon as there is a new wish or the hand is down."""

        def look(_: float) -> None:
            if self._closed or self._wish is not wish or self._hand_down:
                raise Stale

        return look

    def _fill_sky(self, wish: Wish) -> None:
        """Trace the key at one more place, in full quality."""
        kept = self._views.get(QUALITIES[-1])
        place = self.sky.next_place(wish.scene)
        if kept is None or place is None or kept.of[0] != set_of(wish.scene):
            self.sky.pause(wish.scene)
            return
        try:
            moved = self.sky.scene_at(wish.scene, place)
            stage = build(moved)
        except LightsimError as error:
            self.sky.cannot_stand(wish.scene, place, str(error))
            self._sky_grew()
            return

        started = time.monotonic()
        layers = kept.view.trace(_for_view(moved, kept.view), progress=self._unless_moved(wish))
        self.sky.note(moved, self._picture(0, moved, stage, QUALITIES[-1], layers, started))
        self._sky_grew()


def _for_view(scene: Scene, view: View) -> Scene:
    """The scene with all that is added after tracing as the view's own scene has it."""
    own = view.scene
    camera = replace(scene.camera, diffraction=own.camera.diffraction, width_px=own.camera.width_px)
    return replace(scene, motion=own.motion, noise=own.noise, camera=camera)
