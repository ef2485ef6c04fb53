"""The words for how many samples a pixel gets."""

from __future__ import annotations

from lightsim.errors import LightsimError


def samples_of(quality: str) -> int:
    """Samples per pixel of a quality word."""
    from lightsim.tracer import QUALITY

    if quality not in QUALITY:
        raise LightsimError(f"quality: found {quality!r}, allowed {', '.join(QUALITY)}")
    return QUALITY[quality]
