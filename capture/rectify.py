"""One photo redrawn square-on: every pixel of a picture to scale, taken from where the solved camera saw it.

Everything is drawn as lying in the wall, so what stands proud of it leans away from the camera's foot. Detail is
never invented: a photo coarser than the picture stays as blurred as it is, a finer one is averaged over each pixel.
Work goes in tiles, so that memory stays small whatever the size of the wall.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Self

import cv2
import numpy as np
from numpy.typing import NDArray

from capture.camera import Array, Camera, project_grid

Pixels = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Tile = tuple[slice, slice]  # rows, columns

TILE = 768  # px of the picture
SPACING = 16  # px of the picture between the pixels that are projected exactly, where the map is as good as straight
MAP_ERROR = 1 / 64  # px of the photo: half of the 1/32 to which cv2.remap rounds where it samples
OUT_OF_SIGHT = -1e6  # px: stands for what a camera cannot face
STEP = 0.01  # in: third derivatives times its square, and rounding over it, are both below 1e-6 px per inch
RIM = 3  # px of the photo round a tile: one for interpolation, one for the filter, one that averaging may cut off
UNBLUR = np.array([-1, 2, -1]) / 12  # added to a filter (3,) takes 1/6 px² off its variance


@dataclass(frozen=True)
class Raster:
    """The pixels of a picture on the wall; row 0 is at the top."""

    left: float  # wall inches of the outer corner of the first pixel
    top: float
    px_per_inch: float
    width: int
    height: int

    @classmethod
    def over(cls, extent: tuple[float, float, float, float], px_per_inch: float) -> Self:
        """The raster over left, bottom, right, top in wall inches."""
        left, bottom, right, top = extent
        width, height = (max(2, round(span * px_per_inch)) for span in (right - left, top - bottom))
        return cls(left, top, px_per_inch, width, height)

    def places(self, rows: Array, columns: Array) -> tuple[Array, Array]:
        """Wall inches x (C,) of the middles of columns and y (R,) of those of rows."""
        return self.left + (columns + 0.5) / self.px_per_inch, self.top - (rows + 0.5) / self.px_per_inch

    def points(self, rows: Array, columns: Array) -> Array:
        """Wall points (R * C, 3) of the centres of pixels, row by row."""
        x, y = self.places(rows, columns)
        return np.stack([*np.meshgrid(x, y), np.zeros((len(y), len(x)))], axis=-1).reshape(-1, 3)

    def centres(self) -> Array:
        """Wall points (height * width, 3) of all pixels, row by row."""
        return self.points(np.arange(float(self.height)), np.arange(float(self.width)))

    def tiles(self) -> Iterator[Tile]:
        """The picture in parts."""
        for row in range(0, self.height, TILE):
            for column in range(0, self.width, TILE):
                yield slice(row, min(row + TILE, self.height)), slice(column, min(column + TILE, self.width))


def redraw(rgb: Pixels, camera: Camera, raster: Raster, tile: Tile) -> tuple[Pixels, Mask] | None:
    """One tile of a wall seen square-on.

    Parameters
    ----------
    rgb : (height, width, 3)
        The upright photo.
    camera
        Solved, in the frame of this wall.
    raster, tile
        The picture, and which part of it.

    Returns
    -------
    pixels : (rows, columns, 3)
    looked : (rows, columns)
        Where the photo looked at all; `pixels` mean nothing elsewhere. None instead of both where it looked nowhere.
    """
    found = look(camera, raster, tile)
    return found and (sample(rgb, found[0]), found[1])


@dataclass(frozen=True)
class Nodes:
    """Pixels of a photo for every `step`-th pixel of a tile and for one more on each side."""

    grid: Array  # (R, C, 2) px
    step: int
    tile: Tile

    @cached_property
    def low(self) -> Array:
        """The least u and v (2,)."""
        return np.array([self.grid[..., i].min() for i in (0, 1)])

    @cached_property
    def high(self) -> Array:
        """The greatest u and v (2,)."""
        return np.array([self.grid[..., i].max() for i in (0, 1)])

    @property
    def shrinking(self) -> Array:
        """Pixels of the photo, across and down (2,), that go into one of the picture: the median over the tile."""
        ways = [np.abs(np.diff(self.grid, axis=axis)).reshape(-1, 2).T for axis in (0, 1)]
        # np.median takes as long as all else that is done with a tile's nodes.
        across, down = (np.partition(way, way.shape[1] // 2)[:, way.shape[1] // 2] for way in ways)
        return np.asarray(np.hypot(across, down) / self.step)

    def pixels(self, scale: Array | float = 1.0, shift: Array | float = 0.0) -> NDArray[np.float32]:
        """`scale` times the photo's pixels plus `shift`, for every pixel of the tile (rows, columns, 2)."""
        return between(self.grid * scale + shift, self.step, self.tile)


def look(camera: Camera, raster: Raster, tile: Tile) -> tuple[Nodes, Mask] | None:
    """Which pixels of a photo a tile's are, and where it looked (rows, columns); None where it looked nowhere."""
    nodes = _nodes(camera, raster, tile)
    if nodes is None:
        return None
    looked = _looked(nodes, camera, raster)
    return (nodes, looked) if looked.any() else None


def spaced(tile: Tile, step: int) -> list[Array]:
    """Rows and columns in the middle of every `step` pixels of a tile, and one more on each side."""
    sides = ((part.start, -(-(part.stop - part.start) // step)) for part in tile)
    return [first + (np.arange(-1, count + 1) + 0.5) * step - 0.5 for first, count in sides]


def between(values: Array, step: int, tile: Tile) -> NDArray[np.float32]:
    """Values (rows, columns, ...) at every pixel of a tile, bilinear between those (R, C, ...) at `spaced` ones."""
    # The outermost half steps, which cv2.resize holds level, are the ones that are cut off.
    size = (step * values.shape[1], step * values.shape[0])
    fine = cv2.resize(values.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)
    rows, columns = (slice(step, step + part.stop - part.start) for part in tile)
    return np.asarray(fine[rows, columns], np.float32)


def _nodes(camera: Camera, raster: Raster, tile: Tile) -> Nodes | None:
    """Which pixels of the photo a tile's are, known to `MAP_ERROR`; None where the tile is out of sight.

    Projected exactly on a grid and interpolated bilinearly between. On a cell of side h that is off by at most
    h² / 8 (|u_xx| + |u_yy|); second differences of the grid are h² u_xx and h² u_yy, and the grid is made finer
    until they say that it will do.
    """
    step = SPACING
    while True:
        pixels, faced = project_grid(camera.lens, camera.pose, *raster.places(*spaced(tile, step)))
        if not faced.all():
            pixels[~faced] = OUT_OF_SIGHT
        nodes = Nodes(pixels, step, tile)
        if not faced.any() or (faced.all() and ((nodes.high < -1) | (nodes.low > camera.size)).any()):
            return None
        sag = _sag(nodes, camera.size) if faced.all() else np.inf
        if step == 1 or sag < MAP_ERROR:
            return nodes
        step = next((s for s in (step // 2, step // 4, step // 8) if sag * (s / step) ** 2 < MAP_ERROR), 1)


def _sag(nodes: Nodes, size: tuple[int, int]) -> float:
    """How far the map bends from straight between its nodes, px of the photo, as far as the photo may look."""
    ways = [np.diff(nodes.grid, 2, axis=axis) for axis in (0, 1)]
    bends = [np.einsum("rci,rci->rc", bend, bend) for bend in ways]
    sag = sum(np.sqrt(bend.max(initial=0.0)) / 8 for bend in bends)
    if sag >= MAP_ERROR and not ((nodes.low > 0).all() and (nodes.high < np.array(size)).all()):
        near = _near(nodes.grid, np.array(size), 1 + sag)
        parts = near[1:-1], near[:, 1:-1]
        sag = sum(np.sqrt(bend.max(initial=0.0, where=part)) / 8 for bend, part in zip(bends, parts, strict=True))
    return float(sag)


def _near(grid: Array, size: Array, out: float) -> Mask:
    """Which nodes (R, C) belong to a cell that lies in the photo, or not farther out of it than `out` px."""
    low, high = _reach(grid)
    cells = np.pad(((high > -out) & (low < size + out)).all(axis=-1), 1)
    return np.asarray(cells[:-1, :-1] | cells[:-1, 1:] | cells[1:, :-1] | cells[1:, 1:])


def _reach(grid: Array) -> tuple[Array, Array]:
    """The least and the greatest u and v (R - 1, C - 1, 2) of each cell between nodes (R, C, 2)."""
    low, high = np.minimum(grid[:-1], grid[1:]), np.maximum(grid[:-1], grid[1:])
    return np.minimum(low[:, :-1], low[:, 1:]), np.maximum(high[:, :-1], high[:, 1:])


def _looked(nodes: Nodes, camera: Camera, raster: Raster) -> Mask:
    """Where the photo looked (rows, columns): asked of the camera itself where a cell of the map leaves a doubt."""
    tile, size, out = nodes.tile, np.array(camera.size), 2 * MAP_ERROR
    shape = tuple(part.stop - part.start for part in tile)
    if (nodes.low > 0).all() and (nodes.high < size - 1).all():
        return np.ones(shape, bool)
    low, high = _reach(nodes.grid)
    inside = _both((low > out - 0.5) & (high < size - 0.5 - out))
    possible = _both((high >= -0.5 - out) & (low <= size - 0.5 + out))
    looked = _filled(inside, nodes)
    rows, columns = _pixels(possible & ~inside, nodes.step, shape)
    x = raster.left + (tile[1].start + columns + 0.5) / raster.px_per_inch
    y = raster.top - (tile[0].start + rows + 0.5) / raster.px_per_inch
    looked[rows, columns] = camera.sees(np.column_stack([x, y, np.zeros(len(x))]))
    return looked


def _both(pair: Mask) -> Mask:
    """What holds across and down (..., 2): many times faster than by `all` along so short an axis."""
    return np.asarray(pair[..., 0] & pair[..., 1])


def _first(step: int) -> int:
    """Pixels before a tile's first one that belong to its first cell, which starts at a node outside."""
    return step - step // 2


def _filled(cells: Mask, nodes: Nodes) -> Mask:
    """What is true of cells between nodes (R - 1, C - 1), for every pixel of their tile (rows, columns)."""
    step, tile = nodes.step, nodes.tile
    fine = cells.repeat(step, axis=0).repeat(step, axis=1)
    rows, columns = (slice(_first(step), _first(step) + part.stop - part.start) for part in tile)
    return np.ascontiguousarray(fine[rows, columns])


def _pixels(cells: Mask, step: int, shape: tuple[int, ...]) -> NDArray[np.intp]:
    """Rows and columns (2, N) of the pixels of a tile, of that shape, in the cells (R - 1, C - 1) that are true."""
    within = np.stack(np.divmod(np.arange(step * step), step))
    every = (np.argwhere(cells).T[:, :, None] * step + within[:, None] - _first(step)).reshape(2, -1)
    return np.asarray(every[:, _both(((every >= 0) & (every < np.array(shape)[:, None])).T)])


def sample(rgb: Pixels, nodes: Nodes, into: Pixels | None = None) -> Pixels:
    """The photo at a tile's pixels, each the mean of the pixels that go into it where that is more than one.

    Drawn `into` a tile where one is given.

    Linear interpolation is a mean by itself: its weights 1 - t and t have variance t (1 - t), 1/6 over all t, and a box
    of width w has w² / 12, so it stands for a box of √2 pixels. A photo coarser than the picture is not to lose more:
    there the filter before it takes 1/6 off again, which comes as near to the true picture as cubic interpolation
    does, in a third of the time (tests/test_rectify.py).
    """
    shrinking = nodes.shrinking
    whole = np.maximum(np.floor(shrinking), 1).astype(int)
    if whole.min() == 1 and whole.max() == 2:
        whole[:] = 1  # a box of three pixels does as well, and OpenCV is ten times slower at halving one side alone
    size = np.array(rgb.shape[1::-1])
    low = np.clip(np.floor(nodes.low).astype(int) - RIM * whole, 0, size - whole)
    high = np.minimum(np.ceil(nodes.high).astype(int) + RIM * whole + 1, size)
    count = np.maximum((high - low) // whole, 1)
    part = rgb[low[1] : low[1] + count[1] * whole[1], low[0] : low[0] + count[0] * whole[0]]
    if whole.max() > 1:
        part = np.asarray(cv2.resize(part, count.tolist(), interpolation=cv2.INTER_AREA), np.uint8)
    rest = shrinking / whole
    if shrinking.min() >= 1:
        across, down = (_box(width) for width in np.sqrt(np.maximum(rest**2 - 2, 0)))
    else:
        across, down = (_box(width) + UNBLUR for width in rest)
    if across[1] != 1 or down[1] != 1:
        part = np.asarray(cv2.sepFilter2D(part, -1, across, down, borderType=cv2.BORDER_REPLICATE), np.uint8)
    # To 1/32 px: linear interpolation is then twice as fast.
    at = cv2.convertMaps(nodes.pixels(1 / whole, (0.5 - low) / whole - 0.5), np.empty(0, np.float32), cv2.CV_16SC2)
    return np.asarray(cv2.remap(part, *at, cv2.INTER_LINEAR, into, cv2.BORDER_REPLICATE), np.uint8)


def _box(width: float) -> Array:
    """The mean over `width` pixels, 1 to 3, as weights (3,): the outer two count for the part that is covered."""
    over = max(width - 1, 0.0) / 2
    return np.array([over, 1.0, over]) / (1 + 2 * over)


def _derivatives(camera: Camera, points: Array) -> Array:
    """How pixels move with wall points (N, 3): d (u, v) / d (x, y), (N, 2, 2) px per inch, by central differences."""
    ways = np.eye(3)[:2] * STEP
    moved = [(camera.project(points + way) - camera.project(points - way)) / (2 * STEP) for way in ways]
    return np.stack(moved, axis=-1)


def seen(camera: Camera, raster: Raster) -> Mask:
    """Where a photo looked (height, width)."""
    looked = np.zeros((raster.height, raster.width), bool)
    for tile in raster.tiles():
        if found := look(camera, raster, tile):
            looked[tile] = found[1]
    return looked


def resolution(camera: Camera, points: Array) -> Array:
    """Pixels per wall inch that a photo gives at wall points (N, 3), in the direction where it gives fewest.

    The smaller singular value of d (u, v) / d (x, y): determinant over the larger one. 0 where the camera faces away.
    """
    fewest = np.zeros(len(points))
    faced = camera.faces(points)
    (a, b), (c, d) = _derivatives(camera, points[faced]).transpose(1, 2, 0)
    squares, determinant = a * a + b * b + c * c + d * d, np.abs(a * d - b * c)
    larger = np.sqrt((squares + np.sqrt(np.maximum(squares**2 - 4 * determinant**2, 0))) / 2)
    fewest[faced] = determinant / larger
    return fewest
