"""How much memory pictures take while they are made, how much is free, and refusing what does not fit."""

from __future__ import annotations

import os
from pathlib import Path

from lightsim.errors import PictureError

# Bytes for each pixel: the camera's paths that are kept, more for each sample, and what each card sends to
# them; one light's layer (1 + 3 + 3 + 3 + 1 float32, and 3 for their sum); the maps, the photograph, its
# exposing and its measures; a picture of eight bits a channel.
PATHS_BYTES = 200
SAMPLE_BYTES = 40
CARD_BYTES = 180
LAYER_BYTES = 56
PICTURE_BYTES = 160
SHOWN_BYTES = 3
SPREAD_BYTES = 32

# Strip by strip: the paths of rows in work, at least so many blocks of so many rows, found in buffers of so
# many bytes for each sample; the picture's linear values (a second time where movement smears lights apart),
# what a light's shadows are by blocks, and the picture that is shown.
PENDING_BYTES = 500_000_000
PENDING_BLOCKS, BLOCK_ROWS = 5, 16
BUFFER_BYTES = 80
STRIP_PICTURE_BYTES = 36
STRIP_LIGHT_BYTES = 4

LEAST_ADDRESS_SPACE = 500_000_000  # the libraries with their threads on two cores; measured
MEMORY_SHARE = 0.9  # of the free memory that a picture may take


def paths_bytes(pixels: int, samples: int, cards: int = 0) -> int:
    """The camera's kept paths of so many pixels, and what so many cards send to them."""
    return pixels * (PATHS_BYTES + SAMPLE_BYTES * samples + CARD_BYTES * cards)


def layers_bytes(pixels: int, layers: int) -> int:
    """So many layers of light."""
    return pixels * LAYER_BYTES * layers


def spread_bytes(width: int, height: int, reach: int) -> int:
    """Spreading a picture's light by so many pixels to each side."""
    return (width + 2 * reach) * (height + 2 * reach) * SPREAD_BYTES


def strips_bytes(width: int, height: int, samples: int, faces: int) -> int:
    """One photograph, traced and exposed strip by strip. faces: of lights and cards."""
    block = width * BLOCK_ROWS
    pending = max(PENDING_BYTES, PENDING_BLOCKS * paths_bytes(block, samples))
    pixels = STRIP_PICTURE_BYTES + STRIP_LIGHT_BYTES * (faces + 1)
    return pending + block * samples * BUFFER_BYTES + width * height * pixels


def free_bytes() -> int | None:
    """Memory that is free for use, or None where the system does not say."""
    found = [_available(), _control_group_free(), _address_space_left()]
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


def address_space_limit() -> int | None:
    """Bytes of address space that the process may take (ulimit -v), None where there is no limit."""
    try:
        import resource
    except ImportError:  # not on this system
        return None
    limit, _ = resource.getrlimit(resource.RLIMIT_AS)
    return None if limit == resource.RLIM_INFINITY else limit


def _address_space_left() -> int | None:
    limit = address_space_limit()
    if limit is None:
        return None
    try:
        pages = int(Path("/proc/self/statm").read_text().split()[0])
        return max(0, limit - pages * os.sysconf("SC_PAGE_SIZE"))
    except (OSError, ValueError, IndexError):
        return limit


def require_address_space() -> None:
    """PictureError, in a sentence, where the libraries alone would not fit: they would end the process, or
    wait for ever, instead of saying so."""
    limit = address_space_limit()
    if limit is not None and limit < LEAST_ADDRESS_SPACE:
        found = f"memory: found a limit of {_size(limit)} (ulimit -v)"
        raise PictureError(f"{found}, allowed {_size(LEAST_ADDRESS_SPACE)} or more")


def require_bytes(needed: int, width: int, height: int) -> None:
    """PictureError, with the estimate, when a picture of this size that needs so much would not fit."""
    free = free_bytes()
    if free is None or needed <= MEMORY_SHARE * free:
        return
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
