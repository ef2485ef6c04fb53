"""A layer of light as a small file: half floats, each array scaled to their range, packed as a zip archive.

A half float (IEEE 754 binary16) keeps 11 bits: an error of at most 2^-11 (0.05 %) of the value, where the
smallest step of an eight-bit sRGB picture is 0.9 %. Its range is 2^-14 to 65504, so each array is multiplied
by a power of two that brings its greatest value to 2^14 or more; only what lies more than 28 stops below that
loses further bits.
The archive's own checksum (CRC-32) reveals a damaged file.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from zipfile import ZIP_DEFLATED, BadZipFile, ZipFile
from zlib import error as ZlibError

import numpy as np
from numpy.typing import NDArray

from lightsim.picture import DROP_FIGURES, MAP_NAMES, DropsSeen, Layer, Maps

SCHEMA_VERSION = 1
KIND = "lightsim layer"
HEADER = "about.json"
TOP_EXPONENT = 15  # of the greatest value of a scaled array; 2^16 is beyond a half float
COMPRESSION = 1  # the quickest level: after the bytes are sorted it packs as well as any

Arrays = dict[str, NDArray]


class NotALayerFile(ValueError):
    """A file is damaged, or is something else."""


def as_halves(values: NDArray[np.float32]) -> tuple[NDArray[np.float16], int]:
    """The array times 2^exponent as half floats, and the exponent."""
    greatest = float(np.nanmax(np.abs(values), initial=0.0))
    exponent = 0 if greatest == 0.0 else TOP_EXPONENT - int(np.frexp(greatest)[1])
    return np.ldexp(values, exponent).astype(np.float16), exponent


def from_halves(halves: NDArray[np.float16], exponent: int) -> NDArray[np.float32]:
    """The array that `as_halves` made, within its error."""
    values = halves.astype(np.float32)
    values *= np.float32(2.0**-exponent)  # a power of two: exact
    return values


def round_to_halves(layer: Layer) -> Layer:
    """The layer as it comes back from a file, so that a picture is the same whether traced or read."""
    arrays = {name: from_halves(*as_halves(values)) for name, values in layer.arrays().items()}
    return Layer(layer.light, layer.unit, **arrays)


def maps_arrays(maps: Maps) -> Arrays:
    """The arrays of the maps and of the drops in them."""
    return {
        **{name: getattr(maps, name) for name in MAP_NAMES},
        **{f"drops.{name}": getattr(maps.drops, name) for name in DROP_FIGURES},
    }


def decode_maps(arrays: Arrays) -> Maps:
    """The maps of these arrays."""
    drops = DropsSeen(**{name: arrays[f"drops.{name}"] for name in DROP_FIGURES})
    return Maps(**{name: arrays[name] for name in MAP_NAMES}, drops=drops)


def write_arrays(
    path: Path, arrays: Mapping[str, NDArray], about: Mapping[str, Any], *, halves: bool
) -> None:
    """Write arrays and what is to be known of them; as half floats, or exactly."""
    listed: dict[str, Any] = {}
    header = {"kind": KIND, "schema_version": SCHEMA_VERSION, "about": dict(about), "arrays": listed}
    with ZipFile(path, "w", ZIP_DEFLATED, compresslevel=COMPRESSION) as archive:
        for name, values in arrays.items():
            exponent = None
            if halves:
                values, exponent = as_halves(values)
            listed[name] = {
                "shape": list(values.shape),
                "dtype": values.dtype.str,
                "exponent": exponent,
            }
            archive.writestr(name, _sorted_bytes(values))
        archive.writestr(HEADER, json.dumps(header))


def read_arrays(path: Path) -> Arrays:
    """The arrays of a file. NotALayerFile when it is damaged or something else; OSError as opening it."""
    try:
        with ZipFile(path) as archive:
            listed = _header(archive)["arrays"]
            return {name: _array(archive.read(name), of) for name, of in listed.items()}
    except (BadZipFile, ZlibError, KeyError, ValueError, TypeError, EOFError, NotImplementedError) as error:
        raise NotALayerFile(f"{path}: damaged, or not a file of layers") from error


def read_about(path: Path) -> dict[str, Any]:
    """What a file says of itself; errors as `read_arrays`."""
    try:
        with ZipFile(path) as archive:
            return dict(_header(archive)["about"])
    except (BadZipFile, ZlibError, KeyError, ValueError, TypeError, EOFError, NotImplementedError) as error:
        raise NotALayerFile(f"{path}: damaged, or not a file of layers") from error


def _header(archive: ZipFile) -> dict[str, Any]:
    header = json.loads(archive.read(HEADER))
    if header["kind"] != KIND or header["schema_version"] != SCHEMA_VERSION:
        raise ValueError("another kind of file")
    return dict(header)


def _sorted_bytes(values: NDArray) -> bytes:
    """Colour planes apart, and all first bytes before all second ones: alike stands beside alike."""
    planes = np.moveaxis(values, -1, 0) if values.ndim == 3 else values
    flat = np.ascontiguousarray(planes).reshape(-1)
    return flat.view(np.uint8).reshape(-1, values.dtype.itemsize).T.tobytes()


def _array(data: bytes, of: Mapping[str, Any]) -> NDArray:
    shape, dtype = tuple(of["shape"]), np.dtype(of["dtype"])
    flat = _unsorted(np.frombuffer(data, np.uint8).reshape(dtype.itemsize, -1), dtype)
    if len(shape) == 3:
        flat = np.moveaxis(flat.reshape(shape[-1], *shape[:-1]), 0, -1)
    values = np.ascontiguousarray(flat).reshape(shape)
    return values if of["exponent"] is None else from_halves(values, of["exponent"])


def _unsorted(planes: NDArray[np.uint8], dtype: np.dtype[Any]) -> NDArray:
    """The values, (n,), whose first bytes are planes[0], whose second bytes are planes[1], and so on."""
    if dtype.str == "<f2":  # most of what is read; six times as fast as any number of bytes
        words = planes[1].astype("<u2") << np.uint16(8)
        words |= planes[0]
        return words.view(dtype)
    return np.ascontiguousarray(planes.T).reshape(-1).view(dtype)
