"""Picture files as linear photographs."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lightsim.errors import PictureError, named
from lightsim.picture import Photograph

if TYPE_CHECKING:
    from PIL.Image import Image

ACCEPTED = "a PNG, JPEG or TIFF file"
KINDS = ("PNG", "JPEG", "TIFF")
LAST_BEFORE_WHITE = 254 / 255  # signal from which a channel counts as clipped
MOST_MEGAPIXELS = 120


def read_photograph(path: str | Path, mm_per_px: float | None = None) -> Photograph:
    """A picture file as a linear photograph.

    Parameters
    ----------
    path : PNG, JPEG or TIFF, grey or colour, 8 bits a channel, or 16 in a TIFF. Taken as sRGB
        (IEC 61966-2-1); a colour profile in an 8-bit file is converted. Turned as its orientation tag asks;
        transparency is dropped.
    mm_per_px : size of a pixel at the subject; None when it is not known.

    Raises
    ------
    PictureError : no such file, no picture in it, one too large, or a scale that is not positive.
    """
    from lightsim.optics.colour import srgb_decode

    scale = checked_scale(mm_per_px)
    codes = _codes(Path(path))
    highest = np.iinfo(codes.dtype).max
    linear = srgb_decode(np.arange(highest + 1) / highest).astype(np.float32)[codes]
    return Photograph(linear, scale, float(srgb_decode(LAST_BEFORE_WHITE)), notes={"file": str(path)})


def checked_scale(mm_per_px: float | None) -> float:
    """The scale, NaN for one that is not known; refuses one that is not positive."""
    if mm_per_px is None:
        return float("nan")
    if not 0.0 < mm_per_px < float("inf"):
        raise PictureError(f"mm_per_px: {mm_per_px}; it must be a positive number of mm")
    return float(mm_per_px)


def _codes(path: Path) -> NDArray:
    """The file's numbers in sRGB, (h, w, 3) uint8 or uint16."""
    from PIL import Image

    try:
        deep = _deep_tiff(path) if path.suffix.lower() in (".tif", ".tiff") else None
        return _by_pillow(path) if deep is None else deep
    except FileNotFoundError:
        raise PictureError(f"{named(path)}: there is no such file; {ACCEPTED} is needed") from None
    except Image.DecompressionBombError:
        raise PictureError(_too_large(path)) from None
    except (OSError, SyntaxError, ValueError) as error:
        text = str(error)
        why = "unknown format" if not text or "identify" in text else text.splitlines()[0]
        raise PictureError(
            f"{named(path)}: cannot be read as a picture ({why}); {ACCEPTED} is needed"
        ) from None


def _too_large(path: Path) -> str:
    return f"{named(path)}: the picture is too large; at most {MOST_MEGAPIXELS} megapixels are read"


def _by_pillow(path: Path) -> NDArray:
    from PIL import Image, ImageOps

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # the limit is our own
        with Image.open(path, formats=KINDS) as image:
            if image.width * image.height > MOST_MEGAPIXELS * 10**6:
                raise PictureError(_too_large(path))
            return np.asarray(_in_srgb(ImageOps.exif_transpose(image)))


def _in_srgb(image: Image) -> Image:
    """The picture in sRGB, three channels of 8 bits, by the colour profile it carries."""
    profile = image.info.get("icc_profile")
    if image.mode.startswith("I;16"):
        image = image.point(lambda value: value / 257.0).convert("L")
    elif image.mode not in ("RGB", "CMYK", "L"):
        image = image.convert("RGB")
    converted = _by_profile(image, profile) if profile else None
    return image.convert("RGB") if converted is None else converted


def _by_profile(image: Image, profile: bytes) -> Image | None:
    """The picture brought from its colour profile to sRGB; None where the profile is of no use."""
    from io import BytesIO

    from PIL import ImageCms

    try:
        source, target = ImageCms.ImageCmsProfile(BytesIO(profile)), ImageCms.createProfile("sRGB")
        return ImageCms.profileToProfile(image, source, target, outputMode="RGB")
    except (ImageCms.PyCMSError, OSError):
        return None


def _deep_tiff(path: Path) -> NDArray | None:
    """Numbers of a TIFF with 16 bits a channel, (h, w, 3) uint16; None for any other file."""
    import tifffile

    try:
        with tifffile.TiffFile(path) as file:
            page = file.pages[0]
            if page.dtype != np.uint16 or page.ndim not in (2, 3):
                return None
            if page.shape[0] * page.shape[1] > MOST_MEGAPIXELS * 10**6:
                raise PictureError(_too_large(path))
            pixels = page.asarray()
    except (ValueError, IndexError, tifffile.TiffFileError):
        return None
    if pixels.ndim == 2:
        return np.repeat(pixels[..., None], 3, axis=-1)
    return pixels[..., :3] if pixels.shape[-1] >= 3 else None
