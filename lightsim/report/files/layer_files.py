"""Layers of light on disk, linear and whole, for whoever computes on: numpy's archive and OpenEXR."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lightsim.errors import OutputError, named
from lightsim.picture import DROP_FIGURES, MAP_NAMES, Layers
from lightsim.whole_file import replacing, require_suffix

SCHEMA_VERSION = 1


def write_layers_npz(path: str | Path, layers: Layers) -> Path:
    """All layers and maps as a numpy archive.

    Names in it: lights/<name>/<part>, maps/<map>, drops/<figure>, light_names, light_units, mm_per_px,
    schema_version. Raises OutputError where it cannot be written.
    """
    require_suffix(path, (".npz",))
    arrays: dict[str, Any] = {
        "schema_version": np.array(SCHEMA_VERSION),
        "mm_per_px": np.array(layers.mm_per_px),
        "light_names": np.array(list(layers.by_light)),
        "light_units": np.array([layer.unit for layer in layers.by_light.values()]),
        **{f"maps/{name}": getattr(layers.maps, name) for name in MAP_NAMES},
        **{f"drops/{name}": getattr(layers.maps.drops, name) for name in DROP_FIGURES},
    }
    for name, layer in layers.by_light.items():
        for part, values in layer.arrays().items():
            arrays[f"lights/{name}/{part}"] = values
    with replacing(path) as part_path, part_path.open("wb") as file:
        np.savez(file, **arrays)
    return Path(path)


def write_layers_exr(path: str | Path, layers: Layers) -> Path:
    """All layers and maps as one OpenEXR picture of 32-bit floats.

    Channels are named by light and part: flash.petal.R, flash.glint.Y, flash.lit.Y, maps.depth_mm.Y; a
    drop's index is a whole number kept as a float, -1 for none. Colours have sRGB (Rec. 709) primaries, the
    format's own default. The header's `lightsim` text holds units, size of a pixel and the drops as JSON.
    Raises OutputError where it cannot be written.
    """
    import OpenEXR

    require_suffix(path, (".exr",))
    header = {
        "compression": OpenEXR.ZIP_COMPRESSION,
        "type": OpenEXR.scanlineimage,
        "lightsim": json.dumps(_description(layers)),
    }
    with replacing(path) as part:
        try:
            with OpenEXR.File(header, exr_channels(layers)) as file:
                file.write(str(part))
        except RuntimeError as error:
            raise OutputError(f"{named(path)}: cannot be written ({error}); choose another place") from error
    return Path(path)


def exr_channels(layers: Layers) -> dict[str, NDArray[np.float32]]:
    """Channel name -> (h, w) float32."""
    channels = {}
    for name, layer in layers.by_light.items():
        for part, values in layer.arrays().items():
            channels.update(_split(f"{channel_name(name)}.{part}", values))
    for name in MAP_NAMES:
        channels.update(_split(f"maps.{name}", getattr(layers.maps, name)))
    return channels


def channel_name(light: str) -> str:
    """A light's name as it stands in a channel's: dots part a channel's name, so they are replaced."""
    return "".join("_" if sign == "." or sign.isspace() else sign for sign in light)


def _split(name: str, values: NDArray) -> dict[str, NDArray[np.float32]]:
    planes = [values] if values.ndim == 2 else [values[..., index] for index in range(3)]
    letters = "Y" if values.ndim == 2 else "RGB"
    return {
        f"{name}.{letter}": np.ascontiguousarray(plane, dtype=np.float32)
        for letter, plane in zip(letters, planes, strict=True)
    }


def _description(layers: Layers) -> dict[str, Any]:
    return {
        "schema_version": SCHEMA_VERSION,
        "mm_per_px": layers.mm_per_px,
        "lights": [
            {"name": name, "channels": channel_name(name), "unit": f"cd/m2 per {layer.unit}"}
            for name, layer in layers.by_light.items()
        ],
        "drops": {name: np.asarray(getattr(layers.maps.drops, name)).tolist() for name in DROP_FIGURES},
    }
