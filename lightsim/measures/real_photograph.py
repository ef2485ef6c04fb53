"""Real photographs: files read, drops looked for, measured with the same yardstick as simulated ones."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.errors import PictureError, named
from lightsim.measures.bare_petal import PetalPlaces
from lightsim.measures.frame_measures import measure_drops, summed_up
from lightsim.measures.measure_records import FrameMeasures
from lightsim.measures.petal_measures import measure_petal
from lightsim.measures.window import Frame
from lightsim.picture import DropsSeen, Photograph

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


WORKING_PX = 900  # longest side of the picture in which circles are looked for
FEWEST_RADII = 24


def find_drops(
    photo: Photograph, least_radius_px: float, most_radius_px: float, count: int = 20
) -> list[tuple[float, float, float]]:
    """(column, row, radius) in pixels of up to `count` round outlines, the clearest first; none overlap.

    A help, not a measurement: look at what was found before trusting it. The circles' places are good to
    about a pixel of the picture scaled to WORKING_PX.

    Raises
    ------
    PictureError : radii that are not 2 px or more, or in the wrong order.

    R. O. Duda and P. E. Hart, Comm. ACM 15 (1972) 11 (the transform); scikit-image's edges, votes and peaks.
    """
    from skimage.feature import canny
    from skimage.transform import hough_circle, hough_circle_peaks, rescale

    if not 2.0 <= least_radius_px <= most_radius_px < float("inf"):
        raise PictureError(
            f"radii from {least_radius_px} to {most_radius_px} px; "
            "the least must be 2 or more and not above the most"
        )
    scale = min(1.0, WORKING_PX / max(photo.shape))
    tone = np.cbrt(np.clip(photo.luminance() / photo.saturation, 0.0, 1.0))
    small = rescale(tone, scale, anti_aliasing=scale < 1.0) if scale < 1.0 else tone
    low, high = least_radius_px * scale, most_radius_px * scale
    radii = np.unique(np.round(np.linspace(low, high, FEWEST_RADII)).astype(int).clip(2))
    votes = hough_circle(canny(small, sigma=2.0), radii)
    _, x, y, r = hough_circle_peaks(votes, radii, total_num_peaks=8 * count, threshold=0.4 * votes.max())
    return _apart(np.column_stack([(x + 0.5) / scale, (y + 0.5) / scale, r / scale]), count)


def _apart(circles: np.ndarray, count: int) -> list[tuple[float, float, float]]:
    """The first `count` circles whose centres lie outside all that were kept before them."""
    kept: list[tuple[float, float, float]] = []
    for x, y, r in circles:
        if len(kept) < count and all(np.hypot(x - a, y - b) > max(r, c) for a, b, c in kept):
            kept.append((float(x), float(y), float(r)))
    return kept


DROP_MARGIN = 1.05  # of a drop's radius: what lies within is not bare petal


def measure_photograph(
    image: Photograph | ArrayLike,
    mm_per_px: float | None = None,
    drops: Sequence[tuple[float, float, float]] | None = None,
    *,
    light_clock: float | None = None,
    petal: ArrayLike | None = None,
) -> FrameMeasures:
    """The measures that a picture alone can give.

    Parameters
    ----------
    image : a photograph that was read, or (h, w, 3) or (h, w) linear values, 1 being white.
    mm_per_px : size of a pixel at the subject, for lengths in mm; a photograph's own when None.
    drops : (column, row, radius) of each drop's disc in pixels, pixel centres at .5; see `find_drops`.
    light_clock : where the light stood; helps to tell the highlight from the caustic opposite to it.
    petal : (h, w), true where the petal is; None takes the whole picture for petal where drops are given. The
        drops are left out of it. With neither, nothing is measured of the petal.

    A highlight is the brightest patch of a disc, a stop or more above it; when it is clipped, its stops are a
    lower limit and are marked so.
    """
    photo = _as_photograph(image, mm_per_px)
    seen = None if drops is None else _seen(drops, photo.mm_per_px)
    frame = Frame.of(photo, light_clock=light_clock)
    records = () if seen is None else measure_drops(frame, seen)
    bare = _bare(photo.shape, seen, petal)
    places = None if bare is None else PetalPlaces(bare, frame.mm_per_px)
    return summed_up(photo, measure_petal(frame, places), records, seen, None)


def measure_file(
    path: str | Path,
    drops: Sequence[str] = (),
    petal: str | Path | None = None,
    *,
    mm_per_px: float | None = None,
    light_clock: float | None = None,
) -> FrameMeasures:
    """`measure_photograph` of a picture file, with what says where the petal is in words and files.

    drops : "column,row,radius" of each drop's disc in pixels.  petal : a picture as large, white where the
        petal is.

    Raises PictureError where neither is given, and for whatever of it cannot be read.
    """
    if not drops and petal is None:
        raise PictureError(f"{named(path)}: found neither drops nor a petal's mask, allowed one or both")
    photo = read_photograph(path, mm_per_px)
    mask = None if petal is None else read_photograph(petal).luminance() > 0.5
    discs = [_disc(drop) for drop in drops]
    return measure_photograph(photo, drops=discs or None, light_clock=light_clock, petal=mask)


def _disc(text: str) -> tuple[float, float, float]:
    try:
        column, row, radius = map(float, text.split(","))
    except ValueError:
        raise PictureError(
            f"--drop: found {named(text)!r}, allowed column,row,radius in pixels such as 1520,980,210"
        ) from None
    return column, row, radius


def _bare(shape: tuple[int, int], drops: DropsSeen | None, petal: ArrayLike | None) -> NDArray | None:
    """The pixels of bare petal, (h, w) bool; None where nothing says."""
    if drops is None and petal is None:
        return None
    bare = np.ones(shape, bool) if petal is None else np.array(petal, dtype=bool)
    if bare.shape != shape:
        raise PictureError(f"petal: a mask of shape {bare.shape}; {shape}, as the picture, is needed")
    if drops is not None:
        down, right = np.ogrid[: shape[0], : shape[1]]
        for (x, y), radius in zip(drops.centre_px, DROP_MARGIN * drops.radius_px, strict=True):
            rows = slice(max(0, int(y - radius)), int(y + radius) + 2)
            columns = slice(max(0, int(x - radius)), int(x + radius) + 2)
            apart = np.hypot(right[:, columns] + 0.5 - x, down[rows] + 0.5 - y)
            bare[rows, columns] &= apart > radius
    return bare


def _as_photograph(image: Photograph | ArrayLike, mm_per_px: float | None) -> Photograph:
    if isinstance(image, Photograph):
        photo = replace(image, glint=None, lit=None, maps=None)
        return photo if mm_per_px is None else replace(photo, mm_per_px=checked_scale(mm_per_px))
    linear = np.asarray(image, dtype=np.float32)
    if linear.ndim == 2:
        linear = np.repeat(linear[..., None], 3, axis=-1)
    if linear.ndim != 3 or linear.shape[-1] != 3 or linear.size == 0:
        raise PictureError(
            f"a picture of shape {linear.shape}; (height, width, 3) or (height, width) is needed"
        )
    return Photograph(linear, checked_scale(mm_per_px))


def _seen(drops: Sequence[tuple[float, float, float]], mm_per_px: float) -> DropsSeen:
    table = np.asarray(drops, dtype=float).reshape(-1, 3)
    if not np.isfinite(table).all() or (table[:, 2] <= 0.0).any():
        raise PictureError("drops: each is (column, row, radius) in pixels, finite, with a radius above 0")
    return DropsSeen(table[:, :2], table[:, 2], np.zeros(len(table)), table[:, 2] * mm_per_px)
