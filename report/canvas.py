"""Drawing on a picture with soft edges: fills, lines and numbered flags, in pixels.

Frame: image (px; the centre of the first pixel at (0, 0)).
"""

import functools
from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from capture.camera import Array
from report.symbols import Symbol

Colour = tuple[int, int, int]
INK: Colour = (20, 20, 20)
PAPER: Colour = (255, 255, 255)
_SHIFT = 4  # OpenCV takes coordinates in 1/16 px
_FONTS = ("Inter-Bold.otf", "DejaVuSans-Bold.ttf")


class Canvas:
    """An RGB picture that is drawn on in place; the original is kept, so that parts can be brought back."""

    def __init__(self, picture: Image.Image) -> None:
        self.original: NDArray[np.uint8] = np.array(picture.convert("RGB"))
        self.pixels = self.original.copy()
        # A thousandth of the longer side: line weights grow with the picture, and stay when a phone is turned.
        self.unit = max(self.pixels.shape[:2]) / 1000

    def fill(self, polygon: Array, colour: Colour, opacity: float) -> None:
        """Cover a polygon of pixels (N, 2)."""
        window, mask = self._cover(polygon)
        self._apply(mask, window, np.array(colour, float), opacity)

    def restore(self, polygon: Array) -> None:
        """Bring the original back inside a polygon of pixels (N, 2)."""
        window, mask = self._cover(polygon)
        self._apply(mask, window, self.original[window], 1.0)

    def line(self, points: Array, colour: Colour, width: float, opacity: float = 1.0, closed: bool = False) -> None:
        """A line through pixels (N, 2), `width` in thousandths of the picture's width."""
        if len(points) < 2:
            return
        half = max(0.5, width * self.unit / 2)
        window, corner = self._window(points, half + 2)
        mask: NDArray[np.uint8] = np.zeros(self.pixels[window].shape[:2], np.uint8)
        if not mask.size:
            return  # all of it lies beside the picture
        for start, end in zip(points if closed else points[:-1], np.roll(points, -1, axis=0), strict=False):
            along = end - start
            length = float(np.hypot(*along))
            if length > 0:
                across = np.array([-along[1], along[0]]) * (half / length)
                over = along * (0.3 * half / length)
                quad = [start - over + across, end + over + across, end + over - across, start - over - across]
                cv2.fillConvexPoly(mask, _fixed(np.array(quad) - corner), 255, cv2.LINE_AA, _SHIFT)
        self._apply(mask, window, np.array(colour, float), opacity)

    def outline(self, points: Array, closed: bool = True) -> None:
        """A dark line with a light edge, which reads on light and dark alike."""
        self.line(points, PAPER, 4.2, 0.85, closed)
        self.line(points, INK, 1.7, 1.0, closed)

    def flag(self, at: Sequence[float], number: int, symbol: Symbol | None = None) -> None:
        """A number in a ring, and a verdict's sign beside it."""
        radius = 14.0 * self.unit
        angles = np.linspace(0, 2 * np.pi, 48, endpoint=False)
        ring = np.column_stack([np.cos(angles), np.sin(angles)])
        for grown, colour in ((1.14, PAPER), (1.0, INK), (0.9, PAPER)):
            self.fill(np.asarray(at) + ring * radius * grown, colour, 1.0)
        self.letters(at, str(number), radius * (1.25 if number < 10 else 1.05 if number < 100 else 0.8), INK)
        if symbol is not None:
            self._sign((at[0] + 2.35 * radius, at[1]), symbol, radius)

    def _sign(self, at: tuple[float, float], symbol: Symbol, unit: float) -> None:
        shape = np.array(symbol.shape) * (unit, -unit)
        for grown, colour in ((1.16, PAPER), (1.02, INK), *(() if symbol.filled else ((0.86, PAPER),))):
            self.fill(np.asarray(at) + shape * grown, colour, 1.0)
        ink = PAPER if symbol.filled else INK
        self.letters((at[0], at[1] + symbol.drop * unit), symbol.letter, unit * 1.15, ink)

    def letters(self, at: Sequence[float], text: str, size: float, colour: Colour) -> None:
        """A few letters centred on a pixel, `size` in pixels."""
        letter = font(max(6, round(size)))
        reach = np.array([size * (len(text) + 1), size * 1.5])
        window, corner = self._window(np.array([at - reach, at + reach]), 0)
        height, width = self.pixels[window].shape[:2]
        if height and width:
            mask = Image.new("L", (width, height))
            place = (at[0] - corner[0], at[1] - corner[1] + 0.36 * size)
            ImageDraw.Draw(mask).text(place, text, fill=255, font=letter, anchor="ms")
            self._apply(np.asarray(mask), window, np.array(colour, float), 1.0)

    def picture(self) -> Image.Image:
        """What has been drawn so far."""
        return Image.fromarray(self.pixels)

    def _cover(self, polygon: Array) -> tuple[tuple[slice, slice], NDArray[np.uint8]]:
        """The part of the picture that a polygon lies in, and how far it covers each pixel there, 0 to 255."""
        if len(polygon) < 3:
            return (slice(0), slice(0)), np.zeros((0, 0), np.uint8)
        window, corner = self._window(polygon, 2)
        mask: NDArray[np.uint8] = np.zeros(self.pixels[window].shape[:2], np.uint8)
        if mask.size:
            cv2.fillPoly(mask, [_fixed(polygon - corner)], 255, cv2.LINE_AA, _SHIFT)
        return window, mask

    def _window(self, points: Array, margin: float) -> tuple[tuple[slice, slice], Array]:
        """The part of the picture round some points, and its first pixel."""
        size = self.pixels.shape[1::-1]
        low = np.clip(np.floor(points.min(axis=0) - margin), 0, size).astype(int)
        high = np.clip(np.ceil(points.max(axis=0) + margin + 1), 0, size).astype(int)
        return (slice(low[1], high[1]), slice(low[0], high[0])), low.astype(float)

    def _apply(
        self, mask: NDArray[np.uint8], window: tuple[slice, slice], colour: NDArray[np.number], opacity: float
    ) -> None:
        share = mask[..., None].astype(np.float32) * (opacity / 255)
        under = self.pixels[window].astype(np.float32)
        self.pixels[window] = np.rint(under + (colour.astype(np.float32) - under) * share).astype(np.uint8)


@functools.cache
def font(size: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """The papers' typeface, or what there is."""
    for name in _FONTS:
        try:
            return ImageFont.truetype(name, size)
        except OSError:
            continue
    return ImageFont.load_default(size)


def _fixed(points: Array) -> NDArray[np.int32]:
    # Far outside the picture a coordinate would overflow OpenCV's fixed point; the line inside does not change.
    return np.rint(np.clip(points, -30_000, 30_000) * (1 << _SHIFT)).astype(np.int32)
