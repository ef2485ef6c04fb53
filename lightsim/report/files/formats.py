"""Pictures, tables, numbers and layers of light on disk. Every file is written whole or not at all.

Layers are written linear and whole, for whoever computes on: as numpy's archive and as OpenEXR.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from lightsim.errors import OutputError, PictureError, named
from lightsim.picture import DROP_FIGURES, MAP_NAMES, Layers
from lightsim.whole_file import replacing, require_suffix

if TYPE_CHECKING:
    from PIL.Image import Image

IMAGE_SUFFIXES = (".png", ".jpg", ".jpeg")
_JPEG_QUALITY = 94
_RUNS = 3  # zlib's Z_RLE: of a photograph both quicker and smaller than the effort below
_PNG_EFFORT = 4  # of 9: half the time of the usual 6 on a sheet, 6 % larger


def write_image(
    path: str | Path, image: NDArray[np.uint8] | Image, dpi: float = 300.0, *, photograph: bool = False
) -> Path:
    """A picture as PNG or JPEG, by the file's ending; sRGB.

    image : (h, w, 3) or (h, w) uint8, or a pillow image.
    dpi : dots per inch for printing.
    photograph : whether it shows no lettering or lines; its PNG is then packed as suits one.
    Raises OutputError for another ending or a place that cannot be written, PictureError for another array.
    """
    suffix = require_suffix(path, IMAGE_SUFFIXES)
    picture = _as_picture(image)
    with replacing(path) as part:
        if suffix == ".png":
            effort = {"compress_type": _RUNS} if photograph else {"compress_level": _PNG_EFFORT}
            picture.save(part, format="PNG", dpi=(dpi, dpi), pnginfo=_srgb_chunk(), **effort)
        else:
            picture.convert("RGB").save(
                part, format="JPEG", quality=_JPEG_QUALITY, subsampling=0, dpi=(dpi, dpi)
            )
    return Path(path)


def write_deep_image(path: str | Path, image: NDArray[np.uint16], dpi: float = 300.0) -> Path:
    """A picture (h, w, 3) of sixteen bits a channel as TIFF, with the sRGB profile in it.

    Raises OutputError for another ending or a place that cannot be written.
    """
    from PIL import ImageCms
    from tifffile import imwrite

    require_suffix(path, (".tif", ".tiff"))
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    with replacing(path) as part:
        imwrite(
            part, image, photometric="rgb", compression="zlib", predictor=True, iccprofile=profile,
            resolution=(dpi, dpi), resolutionunit="INCH", software="lightsim", metadata=None,
        )  # fmt: skip
    return Path(path)


def _srgb_chunk() -> Any:
    """The sRGB chunk with perceptual intent (PNG specification, W3C, 11.3.2.5)."""
    from PIL.PngImagePlugin import PngInfo

    info = PngInfo()
    info.add(b"sRGB", b"\x00")
    return info


def _as_picture(image: NDArray[np.uint8] | Image) -> Image:
    from PIL import Image

    if isinstance(image, Image.Image):
        return image
    if image.dtype != np.uint8 or image.ndim not in (2, 3) or (image.ndim == 3 and image.shape[2] != 3):
        raise PictureError(
            f"found a picture of shape {image.shape} and kind {image.dtype}, "
            "allowed (height, width, 3) or (height, width) of kind uint8"
        )
    return Image.fromarray(np.ascontiguousarray(image))


def write_csv(path: str | Path, rows: Sequence[Mapping[str, Any]]) -> Path:
    """A table with one line for each row and a column for each key, as RFC 4180 has it.

    Columns come in the order in which keys first appear; what is None or not a finite number is left empty.
    """
    columns = list(dict.fromkeys(key for row in rows for key in row))
    with (
        replacing(path) as part,
        part.open("w", newline="", encoding="utf-8", errors="backslashreplace") as file,
    ):
        writer = csv.DictWriter(file, columns, restval="")
        writer.writeheader()
        for row in rows:
            writer.writerow({key: plain_value(value) for key, value in row.items()})
    return Path(path)


def write_json(path: str | Path, data: Any, *, indented: bool = True) -> Path:
    """Numbers as JSON (RFC 8259), in the order given; numbers that are not finite become null.

    Arrays, tuples, records and paths become lists, lists, objects and strings. indented: for people to read,
    which takes four times as long to write.
    """
    with replacing(path) as part:
        part.write_text(json_text(data, indented=indented) + "\n", encoding="utf-8")
    return Path(path)


def json_text(data: Any, *, indented: bool = True) -> str:
    """Numbers as `write_json` writes them.

    Signs that a terminal obeys instead of showing them, such as marks of direction, and bytes of a file's
    name that are no text are escaped.
    """
    text = json.dumps(plain_value(data), indent=2 if indented else None, ensure_ascii=False, allow_nan=False)
    lines = [
        line if line.isprintable() else "".join(_json_sign(sign) for sign in line)
        for line in text.split("\n")
    ]
    text = "\n".join(lines)
    return text.encode("utf-8", "backslashreplace").decode()


def _json_sign(sign: str) -> str:
    """A sign of a JSON text as it is or, where it cannot be seen, as JSON's escape."""
    return sign if sign.isprintable() else json.dumps(sign)[1:-1]


def plain_value(value: Any) -> Any:
    """The value as lists, dictionaries, strings, numbers, True, False and None alone."""
    if value is None or type(value) in (str, int, bool):  # most are one of these or a float
        return value
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float):
        return value if isfinite(value) else None
    if isinstance(value, np.ndarray):
        return plain_value(value.tolist())
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain_value(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain_value(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain_value(item) for item in value]
    return str(value) if isinstance(value, Path) else value


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
