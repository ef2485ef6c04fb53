"""Known before the work starts: whether a picture fits in memory, whether its place can be written."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Collection
from pathlib import Path

from lightsim.errors import OutputError, PictureError
from lightsim.scene.records import Scene

# Bytes for each pixel: one light's layer (1 + 3 + 3 + 3 + 1 float32), kept once more as the lens draws it
# where diffraction is shown; the maps, the photograph, its developing and its measures; and the camera's
# paths that are kept.
LAYER_BYTES = 44
PICTURE_BYTES = 160
PATHS_BYTES = 200
SAMPLE_BYTES = 40

# Share of the free memory that a picture may take.
MEMORY_SHARE = 0.9


def picture_size(scene: Scene, width_px: int | None) -> tuple[int, int]:
    """Width and height in pixels of the picture."""
    width = scene.camera.width_px if width_px is None else width_px
    across, up = scene.camera.sensor_mm
    return width, max(1, round(width * up / across))


def memory_needed_bytes(scene: Scene, width_px: int | None, samples: int = 16, pictures: int = 1) -> int:
    """Estimate of the memory that it takes to trace and develop pictures of one view, one after the other.

    Of several pictures one is still developed while the next is traced, so their layers are there twice.
    """
    width, height = picture_size(scene, width_px)
    layers = LAYER_BYTES * (len(scene.lights) + 1) * (2 if scene.camera.diffraction else 1)
    layers *= 2 if pictures > 1 else 1
    paths = PATHS_BYTES + SAMPLE_BYTES * samples
    return width * height * (layers + paths + PICTURE_BYTES + 3 * pictures)


def memory_free_bytes() -> int | None:
    """Memory that is free for use, or None where the system does not say."""
    found = [_available(), _control_group_free()]
    known = [value for value in found if value is not None]
    return min(known) if known else None


def _available() -> int | None:
    """MemAvailable of the Linux kernel, else all physical memory."""
    try:
        for line in Path("/proc/meminfo").read_text().splitlines():
            if line.startswith("MemAvailable:"):
                return int(line.split()[1]) * 1024
    except (OSError, ValueError, IndexError):
        pass
    try:
        return os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
    except (AttributeError, ValueError, OSError):
        return None


def _control_group_free() -> int | None:
    """What a container's limit leaves, where there is one (control group version 2)."""
    group = Path("/sys/fs/cgroup")
    try:
        limit = (group / "memory.max").read_text().strip()
        used = int((group / "memory.current").read_text())
        return None if limit == "max" else max(0, int(limit) - used)
    except (OSError, ValueError):
        return None


def require_memory(scene: Scene, width_px: int | None, samples: int = 16, pictures: int = 1) -> None:
    """PictureError, with the estimate, when the picture would not fit in memory."""
    needed, free = memory_needed_bytes(scene, width_px, samples, pictures), memory_free_bytes()
    if free is None or needed <= MEMORY_SHARE * free:
        return
    width, height = picture_size(scene, width_px)
    fits = int(width * (MEMORY_SHARE * free / needed) ** 0.5) - 2  # rows are whole
    raise PictureError(
        f"width: found {width} pixels, which makes a picture of {width} x {height} and needs about "
        f"{_size(needed)} of memory; {_size(free)} are free, allowed up to about {fits // 10 * 10} pixels"
    )


def _size(count: float) -> str:
    for unit in ("bytes", "kB", "MB", "GB"):
        if count < 1000.0:
            return f"{count:.3g} {unit}"
        count /= 1000.0
    return f"{count:,.3g} TB" if count < 1000 else f"{count:,.0f} TB"


def require_folder(folder: Path) -> None:
    """Make the folder where it is missing and make sure that it can be written; OutputError otherwise."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except FileExistsError:
        raise OutputError(f"{folder}: found a file, allowed a folder that can be written") from None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise OutputError(f"{folder}: cannot be written ({reason}), allowed a folder that can be") from None


def require_file(path: Path, suffixes: Collection[str] = ()) -> None:
    """Make sure that a file can be written there, with one of the suffixes; OutputError otherwise."""
    if suffixes and path.suffix.lower() not in suffixes:
        found = f"the ending {path.suffix!r}" if path.suffix else "no ending"
        raise OutputError(f"{path}: found {found}, allowed {', '.join(suffixes)}")
    if path.is_dir():
        raise OutputError(f"{path}: found a folder, allowed a file's name")
    if not path.parent.exists():
        raise OutputError(f"{path.parent}: found no such folder, allowed one that exists")
    require_folder(path.parent)
