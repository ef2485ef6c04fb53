"""Blurring a picture with a small kernel, by Fourier transform, so that the time does not grow with the
kernel.

A blur is a frozen record that gives its kernels; it is also the key under which its transform is kept.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from lightsim.picture import Floats

Kernel = NDArray[np.float64]
_KEPT_PIXELS = 4_000_000  # transforms of larger pictures are not kept


class Blur(Protocol):
    """Something that spreads light. Hashable."""

    def kernels(self) -> tuple[Kernel, ...]:
        """One kernel, (odd, odd), sum 1, for all channels alike or one for each."""
        ...

    def __hash__(self) -> int:
        """A blur is the key under which its transform is kept."""
        ...


def reach_rows(blur: Blur) -> int:
    """How many rows up and down the blur spreads light."""
    return max(kernel.shape[0] // 2 for kernel in _all_kernels(blur))


def blurred(picture: Floats, blur: Blur) -> Floats:
    """The picture, (h, w, 3) float32, with each pixel's light spread by the blur; mirrored beyond its
    edges."""
    result = np.empty_like(picture)
    for channel in range(picture.shape[2]):
        result[..., channel] = blurred_channel(picture[..., channel], blur, channel)
    return result


def blurred_channel(picture: Floats, blur: Blur, channel: int) -> Floats:
    """One channel, (h, w) float32, by the blur's kernel for that channel."""
    from scipy.fft import irfft2, rfft2

    if not picture.any():  # many a layer has no highlight, or no light through water
        return np.zeros_like(picture)
    margin, shape = _frame(picture.shape, blur, channel)
    height, width = picture.shape
    padded = np.zeros(shape, np.float32)
    rows, columns = margin
    padded[: height + 2 * rows, : width + 2 * columns] = np.pad(
        picture, ((rows, rows), (columns, columns)), mode="symmetric"
    )
    spectrum = rfft2(padded, workers=-1)
    spectrum *= _transfer(blur, channel, shape)
    whole = irfft2(spectrum, s=shape, workers=-1)
    return np.maximum(whole[rows : rows + height, columns : columns + width], 0.0)


def _frame(
    picture_shape: tuple[int, ...], blur: Blur, channel: int
) -> tuple[tuple[int, int], tuple[int, int]]:
    """Margins that the kernel reaches over the edge, and a size at least as large that transforms fast."""
    from scipy.fft import next_fast_len

    kernel = _kernel(blur, channel)
    margin = (kernel.shape[0] // 2, kernel.shape[1] // 2)
    sizes = (side + 2 * reach for side, reach in zip(picture_shape, margin, strict=True))
    height, width = (next_fast_len(size, real=True) for size in sizes)
    return margin, (height, width)


@lru_cache(maxsize=16)
def _all_kernels(blur: Blur) -> tuple[Kernel, ...]:
    return blur.kernels()


def _kernel(blur: Blur, channel: int) -> Kernel:
    kernels = _all_kernels(blur)
    return kernels[channel % len(kernels)]


def _transfer(blur: Blur, channel: int, shape: tuple[int, int]) -> NDArray[np.complex64]:
    kept = shape[0] * shape[1] <= _KEPT_PIXELS
    return _kept_transfer(blur, channel, shape) if kept else _new_transfer(blur, channel, shape)


def _new_transfer(blur: Blur, channel: int, shape: tuple[int, int]) -> NDArray[np.complex64]:
    """Transform of the kernel, its middle moved to the corner."""
    from scipy.fft import rfft2

    kernel = _kernel(blur, channel)
    padded = np.zeros(shape, np.float32)
    padded[: kernel.shape[0], : kernel.shape[1]] = kernel
    padded = np.roll(padded, (-(kernel.shape[0] // 2), -(kernel.shape[1] // 2)), axis=(0, 1))
    return rfft2(padded, workers=-1)


_kept_transfer = lru_cache(maxsize=16)(_new_transfer)
