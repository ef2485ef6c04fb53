"""Real photographs: read from a file, and measured with the same yardstick as simulated ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.errors import PictureError
from lightsim.measure.contrast import measure_contrast
from lightsim.measure.drops import Frame
from lightsim.measure.frame import measure_drops, summed_up
from lightsim.measure.records import FrameMeasures
from lightsim.picture import DropsSeen, Photograph

if TYPE_CHECKING:
    from PIL.Image import Image

ACCEPTED = "a PNG, JPEG or TIFF file"
LAST_BEFORE_WHITE = 254 / 255  # signal from which a channel counts as clipped
MOST_PIXELS = 200_000_000


def read_photograph(path: str | Path, mm_per_px: float | None = None) -> Photograph:
    """A picture file as a linear photograph.

    Parameters
    ----------
    path : PNG, JPEG or TIFF, grey or colour, 8 bits a channel (16 in a TIFF). Taken as sRGB (IEC 61966-2-1)
        unless a colour profile in the file says otherwise; turned as its orientation tag asks; transparency
        is dropped.
    mm_per_px : size of a pixel at the subject; None when it is not known.

    Raises
    ------
    PictureError : no such file, no picture in it, or one too large.
    """
    from lightsim.optics.colour import srgb_decode

    signal = _signal(Path(path))
    linear = np.asarray(srgb_decode(signal), dtype=np.float32)
    return _photograph(linear, mm_per_px, float(srgb_decode(LAST_BEFORE_WHITE)), {"file": str(path)})


def _photograph(
    linear: NDArray, mm_per_px: float | None, saturation: float, notes: dict[str, object]
) -> Photograph:
    if mm_per_px is not None and not 0.0 < mm_per_px < float("inf"):
        raise PictureError(f"mm_per_px: {mm_per_px}; it must be a positive number of mm")
    scale = float("nan") if mm_per_px is None else float(mm_per_px)
    return Photograph(linear, scale, saturation, notes=notes)


def _signal(path: Path) -> NDArray:
    """Signal 0..1, (h, w, 3)."""
    if path.suffix.lower() in (".tif", ".tiff"):
        deep = _deep_tiff(path)
        if deep is not None:
            return deep
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        with Image.open(path) as image:
            if image.width * image.height > MOST_PIXELS:
                raise PictureError(
                    f"{path}: {image.width} x {image.height} pixels; at most 200 megapixels are read"
                )
            turned = ImageOps.exif_transpose(image)
            return np.asarray(_in_srgb(turned), dtype=np.float32) / np.float32(255.0)
    except FileNotFoundError:
        raise PictureError(f"{path}: there is no such file; {ACCEPTED} is needed") from None
    except (UnidentifiedImageError, Image.DecompressionBombError, OSError, SyntaxError) as error:
        raise PictureError(
            f"{path}: cannot be read as a picture ({_short(error)}); {ACCEPTED} is needed"
        ) from None


def _short(error: Exception) -> str:
    return "unknown format" if "identify" in str(error) else str(error).splitlines()[0]


def _in_srgb(image: Image) -> Image:
    """The picture in sRGB, three channels, by the colour profile it carries."""
    from io import BytesIO

    from PIL import ImageCms

    profile = image.info.get("icc_profile")
    if image.mode.startswith("I;16"):
        image = image.point(lambda value: value / 257.0).convert("L")
    if image.mode in ("P", "RGBA", "LA", "PA", "1"):
        image = image.convert("RGB")
    if profile and image.mode in ("RGB", "CMYK", "L"):
        try:
            source = ImageCms.ImageCmsProfile(BytesIO(profile))
            converted = ImageCms.profileToProfile(
                image, source, ImageCms.createProfile("sRGB"), outputMode="RGB"
            )
            return image.convert("RGB") if converted is None else converted
        except (ImageCms.PyCMSError, OSError):
            pass  # a damaged profile: the plain reading is the best guess
    return image.convert("RGB")


def _deep_tiff(path: Path) -> NDArray | None:
    """Signal of a TIFF with 16 bits a channel, (h, w, 3); None for any other file."""
    import tifffile

    try:
        with tifffile.TiffFile(path) as file:
            page = file.pages[0]
            if page.dtype != np.uint16 or page.ndim not in (2, 3) or page.size > 4 * MOST_PIXELS:
                return None
            pixels = page.asarray()
    except (OSError, ValueError, IndexError, tifffile.TiffFileError):
        return None
    if pixels.ndim == 2:
        pixels = np.repeat(pixels[..., None], 3, axis=-1)
    return pixels[..., :3].astype(np.float32) / np.float32(65535.0) if pixels.shape[-1] >= 3 else None


def measure_photograph(
    image: Photograph | ArrayLike,
    mm_per_px: float | None = None,
    drops: Sequence[tuple[float, float, float]] | None = None,
    *,
    light_clock: float | None = None,
) -> FrameMeasures:
    """The measures that a picture alone can give.

    Parameters
    ----------
    image : a photograph that was read, or (h, w, 3) or (h, w) linear values, 1 being white.
    mm_per_px : size of a pixel at the subject, for lengths in mm; a photograph's own when None.
    drops : (column, row, radius) of each drop's disc in pixels, pixel centres at .5; see `find_drops`.
    light_clock : where the light stood; helps to tell the highlight from the gathered light opposite to it.

    A highlight is the brightest patch of a disc, a stop or more above it; when it is clipped, its stops are a
    lower limit and are marked so.
    """
    photo = _as_photograph(image, mm_per_px)
    seen = None if drops is None else _seen(drops, photo.mm_per_px)
    frame = Frame.of(photo)
    records = () if seen is None else measure_drops(frame, seen, light_clock, None)
    return summed_up(photo, measure_contrast(frame), records, seen, None)


def _as_photograph(image: Photograph | ArrayLike, mm_per_px: float | None) -> Photograph:
    if isinstance(image, Photograph):
        photo = replace(image, glint=None, lit=None, maps=None)
        return photo if mm_per_px is None else replace(photo, mm_per_px=mm_per_px)
    linear = np.asarray(image, dtype=np.float32)
    if linear.ndim == 2:
        linear = np.repeat(linear[..., None], 3, axis=-1)
    if linear.ndim != 3 or linear.shape[-1] != 3 or linear.size == 0:
        raise PictureError(
            f"a picture of shape {linear.shape}; (height, width, 3) or (height, width) is needed"
        )
    return _photograph(linear, mm_per_px, 1.0, {})


def _seen(drops: Sequence[tuple[float, float, float]], mm_per_px: float) -> DropsSeen:
    table = np.asarray(drops, dtype=float).reshape(-1, 3)
    if not np.isfinite(table).all() or (table[:, 2] <= 0.0).any():
        raise PictureError("drops: each is (column, row, radius) in pixels, finite, with a radius above 0")
    return DropsSeen(table[:, :2], table[:, 2], np.zeros(len(table)), table[:, 2] * mm_per_px)
