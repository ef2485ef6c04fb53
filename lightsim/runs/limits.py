"""Known before the work starts: whether a picture fits in memory."""

from __future__ import annotations

from lightsim import memory
from lightsim.errors import LightsimError
from lightsim.photograph.diffraction import reach_px
from lightsim.scene.camera import camera_geometry
from lightsim.scene.records import Scene

STRIPS_FROM_BYTES = 600_000_000  # of kept camera paths


def picture_size(scene: Scene, width_px: int | None) -> tuple[int, int]:
    """Width and height in pixels of the picture."""
    width = scene.camera.width_px if width_px is None else width_px
    across, up = scene.camera.sensor_mm
    return width, max(1, round(width * up / across))


def memory_needed_bytes(scene: Scene, width_px: int | None, samples: int = 16, pictures: int = 1) -> int:
    """Estimate of the memory that it takes to trace and expose pictures of one view, one after the other.

    Of several pictures one is still exposed while the next is traced, so their layers are there twice.
    """
    width, height = picture_size(scene, width_px)
    layers = (len(scene.lights) + 1) * (2 if scene.camera.diffraction else 1)  # once more as the lens draws
    layers *= 2 if pictures > 1 else 1
    pixels = width * height
    kept = memory.paths_bytes(pixels, samples, len(scene.cards)) + memory.layers_bytes(pixels, layers)
    kept += pixels * (memory.PICTURE_BYTES + memory.SHOWN_BYTES * pictures)
    return kept + memory.spread_bytes(width, height, _reach_px(scene, width))


def _reach_px(scene: Scene, width: int) -> int:
    """How far diffraction spreads light over a picture of that width."""
    if not scene.camera.diffraction:
        return 0
    geometry = camera_geometry(scene.camera, scene.lens)
    return reach_px(geometry.effective_f_number, 1000.0 * scene.camera.sensor_mm[0] / width)


def require_memory(scene: Scene, width_px: int | None, samples: int = 16, pictures: int = 1) -> None:
    """PictureError, with the estimate, when the picture would not fit in memory."""
    memory.require_bytes(
        memory_needed_bytes(scene, width_px, samples, pictures), *picture_size(scene, width_px)
    )


def goes_in_strips(scene: Scene, width_px: int | None, samples: int) -> bool:
    """Whether a picture is so large that one photograph of it is made strip by strip."""
    width, height = picture_size(scene, width_px)
    return memory.paths_bytes(width * height, samples) > STRIPS_FROM_BYTES


def require_memory_for_strips(scene: Scene, width_px: int | None, samples: int) -> None:
    """PictureError, with the estimate, when the picture would not fit in memory even strip by strip."""
    width, height = picture_size(scene, width_px)
    memory.require_bytes(
        memory.strips_bytes(width, height, samples, len(scene.lights) + len(scene.cards)), width, height
    )


def samples_of(quality: str) -> int:
    """Samples per pixel of a quality word."""
    from lightsim.tracer import QUALITY

    if quality not in QUALITY:
        raise LightsimError(f"quality: found {quality!r}, allowed {', '.join(QUALITY)}")
    return QUALITY[quality]
