"""How large a picture is while something is dragged: as large as this machine can trace in time."""

from __future__ import annotations

from statistics import median

# From small to large: width in pixels, and paths per pixel. A moved light costs hardly less with fewer paths
# (116 ms of the processor with 2 at 320 pixels, 129 with 4), and drops break up into grain.
STEPS = ((320, 4), (400, 4), (480, 4), (560, 4), (640, 4), (720, 4))
AIM_S = 0.075  # for tracing and packing; the way to the page and the painting come on top
NOTES = 8


class SketchSize:
    """Chooses a step by the times of the pictures before; it is taken only while nothing else is to be done,
    since another size needs the camera's paths anew."""

    def __init__(self) -> None:
        self._step = 0
        self._times: list[float] = []

    @property
    def width_px(self) -> int:
        """Of the next sketch."""
        return STEPS[self._step][0]

    @property
    def samples(self) -> int:
        """Paths per pixel of the next sketch."""
        return STEPS[self._step][1]

    def note(self, seconds: float, width_px: int) -> None:
        """A sketch of the present size took so long."""
        if width_px == self.width_px:
            self._times = [*self._times[-NOTES + 1 :], seconds]

    def better(self) -> int | None:
        """The step that should come in time, None where that is the present one or is not known yet."""
        if len(self._times) < NOTES:
            return None
        work = median(self._times) / _work(self._step)
        fitting = [step for step in range(len(STEPS)) if work * _work(step) <= AIM_S]
        wanted = max(fitting, default=0)
        return None if wanted == self._step else wanted

    def take(self, step: int) -> None:
        """Make sketches of another step from now on."""
        self._step, self._times = step, []


def _work(step: int) -> float:
    """Tracing time in proportion: a light's own work, and each pixel's. Measured on the demo from 320 to 720
    pixels: 84 ms of the processor, and 0.45 ms for each 1000 of the width's square."""
    width, _ = STEPS[step]
    return width * width + 188_000.0
