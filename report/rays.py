"""The rays of a picture's pixels, and where they pass over a wall.

A ray is told by its height z over the wall: it passes (x0 + sx z, y0 + sy z, z), for a pinhole sees straight lines.

Frame: wall (in; x right, y up, z out of the wall).
"""

from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from report.views import View

Array = NDArray[np.float64]
Floats = NDArray[np.float32]
Indices = NDArray[np.intp]
STEP = 8  # px between rays that are worked out; between them they are straight to 0.01 px


def each_of(samples: NDArray[Any], pixels: Indices) -> NDArray[Any]:
    """All samples (n, N) of single pixels, from those of all (n, h, w)."""
    return samples.reshape(len(samples), -1).take(pixels, axis=1)


@dataclass(frozen=True)
class Rays:
    """The rays of a window of a picture, one to a pixel or several."""

    x0: Floats  # (h, w), or (n, h, w) for n to a pixel: where they meet the wall
    y0: Floats
    sx: Floats  # (h, w) how they move per inch off the wall: all of a pixel alike
    sy: Floats

    def at(self, z: Floats | float) -> tuple[Floats, Floats]:
        """Their places at a height."""
        return self.x0 + self.sx * z, self.y0 + self.sy * z

    def part(self, window: tuple[slice, slice]) -> "Rays":
        """Those of a part of the window."""
        rows, columns = window
        return Rays(
            self.x0[..., rows, columns], self.y0[..., rows, columns], self.sx[rows, columns], self.sy[rows, columns]
        )

    def pick(self, at: Indices) -> "Rays":
        """Single ones, each array (N,), by their indices into all of `x0`."""
        pixel = at % self.sx.size
        return Rays(self.x0.take(at), self.y0.take(at), self.sx.take(pixel), self.sy.take(pixel))

    def of(self, pixels: Indices) -> "Rays":
        """All that there are to single pixels, (n, N), by their indices into all of `sx`."""
        x0, y0 = (each_of(start, pixels) for start in (self.x0, self.y0))
        return Rays(x0, y0, self.sx.take(pixels), self.sy.take(pixels))

    @property
    def middle(self) -> "Rays":
        """Those of the middles of the pixels, (h, w), where there are several to each."""
        share = np.float32(1 / len(self.x0))
        return replace(self, x0=self.x0.sum(axis=0) * share, y0=self.y0.sum(axis=0) * share)


# Where the samples of a pixel lie, px from its middle, column and row, on a turned grid, so that lines that are nearly
# upright or level come out smooth (Akenine-Möller et al. 2018, section 5.4.2).
TURNED = np.array([(-1, -3), (3, -1), (-3, 1), (1, 3)]) / 8
MIDDLE = np.zeros((1, 2))


def rays_of(view: View, corner: tuple[int, int], size: tuple[int, int]) -> Rays:
    """The rays of the middles of the pixels of a window of a picture, (h, w); what is given as for `samples_of`."""
    rays = samples_of(view, corner, size, MIDDLE)
    return replace(rays, x0=rays.x0[0], y0=rays.y0[0])


def samples_of(view: View, corner: tuple[int, int], size: tuple[int, int], places: Array = TURNED) -> Rays:
    """The rays of several samples to a pixel of a window of a picture, (n, h, w).

    Parameters
    ----------
    view
        Where wall places fall.
    corner, size
        First column and row, width and height of the window, px.
    places : (n, 2)
        Where the samples lie, px from the pixel's middle. The slopes of all are those of the middle: within a pixel
        they change by its width over its focal length, which a member's few inches make a hundredth of a pixel.
    """
    u, v = (
        start + np.arange(-1, -(-n // STEP) + 1) * STEP + (STEP - 1) / 2 for n, start in zip(size, corner, strict=True)
    )
    met = view.meets(np.stack(np.meshgrid(u, v), axis=-1).reshape(-1, 2)).T.reshape(4, len(v), len(u))
    up, across = np.gradient(met[:2], STEP, axis=(1, 2))
    samples = [met[:2] + across * column + up * row for column, row in places]
    x0, y0 = (_between(np.stack([sample[k] for sample in samples]), size) for k in (0, 1))
    sx, sy = _between(met[2:], size)
    return Rays(x0, y0, sx, sy)


def _between(nodes: Array, size: tuple[int, int]) -> Floats:
    """What is worked out at every `STEP`th pixel (n, rows, columns), for all pixels of a window, (n, h, w)."""
    fine = np.empty((len(nodes), size[1], size[0]), np.float32)
    for part, node in zip(fine, nodes.astype(np.float32), strict=True):
        whole = cv2.resize(node, None, fx=STEP, fy=STEP, interpolation=cv2.INTER_LINEAR)
        part[:] = whole[STEP : STEP + size[1], STEP : STEP + size[0]]
    return fine
