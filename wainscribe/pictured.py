"""The pictures that the papers show of one wall, made in one go: each of its photos is read once, and let go of.

What is asked for and what comes back bear pickling, so that walls can be shared out between processes.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from pathlib import Path

from PIL import Image

from capture.photos import Picture
from capture.record import Photo
from layout.plan import Plan
from report.brief import crops_of
from report.changes import shifts_of
from report.compose import composed
from report.crops import Crop
from report.customer import SHEET_WIDTH, BeforeAfter
from report.papers import Elevation, PhotoPage, ReportFacts, WallPages
from report.pictures import DRAWN_ON_QUALITY, HeldMask, held
from report.wall_part import print_width
from wainscribe.actions import SolvedWall
from wainscribe.folder import JobFolder
from wainscribe.scenes import scene_of
from wainscribe.seen import look_at
from wainscribe.straight_on import straight_on


@dataclass(frozen=True)
class Wanted:
    """One wall of a solved and planned job, and what to put into its photo."""

    folder: Path
    facts: ReportFacts
    room: Sequence[SolvedWall]
    at: int  # the wall's place in the room
    plan: Plan  # of the room
    photo: str = ""  # the name of that which shows most of what is planned; "" where none shows any
    schemes: Sequence[Plan] = ()  # of the room, to be put into that photo

    @property
    def wall(self) -> SolvedWall:
        """The wall itself."""
        return self.room[self.at]

    @property
    def name(self) -> str:
        """The wall's name."""
        return self.wall.wall.name


@dataclass(frozen=True)
class Pictured:
    """The pictures of one wall."""

    photos: tuple[PhotoPage, ...] = ()  # as fine as they are printed
    records: tuple[PhotoPage, ...] = ()  # those that document a condition
    drawn: "DrawnWall | None" = None
    crops: Mapping[str, Crop | None] | None = None  # of the boxes in the brief, by number
    schemes: tuple[BeforeAfter, ...] = ()  # one for each of the schemes that were asked for


@dataclass(frozen=True)
class DrawnWall:
    """A wall seen straight on, in a tenth of its memory; whole again when it is called for."""

    elevation: Elevation
    seen: HeldMask

    def __call__(self) -> Elevation:
        """The elevation itself."""
        return replace(self.elevation, source=self.elevation.image, seen=self.seen())


def pictured(wanted: Wanted) -> Pictured:
    """Make the pictures of one wall.

    Raises
    ------
    PlainError
        A photo is missing or cannot be read.
    """
    wall = wanted.wall.wall
    shots = {shot.name for shot in wanted.wall.measured.solution.net.shots}
    pages: list[PhotoPage] = []
    pictures: dict[str, Picture] = {}
    schemes: tuple[BeforeAfter, ...] = ()
    for photo in sorted(wall.photos, key=lambda photo: photo.name != wanted.photo):  # the large work while few are held
        picture = look_at(JobFolder(wanted.folder), photo)
        if photo.name == wanted.photo:
            schemes = tuple(_put_in(wanted, photo, picture))
        if photo.name in shots and not photo.record_only:
            pictures[photo.name] = picture
        pages.append(_page(photo, picture, wanted))
    pages.sort(key=lambda page: wall.photos.index(page.photo))
    crops = _crops(wanted, pictures)
    drawn = straight_on(wanted.wall, pictures)
    return Pictured(
        tuple(page for page in pages if not page.photo.record_only),
        tuple(replace(page, wall=wall.name) for page in pages if page.photo.record_only),
        None
        if drawn is None
        else DrawnWall(replace(drawn, source=held(drawn.image, DRAWN_ON_QUALITY), seen=None), HeldMask.of(drawn.seen)),
        crops,
        schemes,
    )


def _page(photo: Photo, picture: Picture, wanted: Wanted) -> PhotoPage:
    """A photo no finer than it is printed; its camera with it."""
    solution = wanted.wall.measured.solution
    solved = photo.name in {shot.name for shot in solution.net.shots} and not photo.record_only
    page = PhotoPage(
        photo,
        Image.fromarray(picture.rgb),
        solution.camera(photo.name) if solved else None,
        picture.taken,
        whole=picture.size,
    )
    small = page.for_print(print_width(page, wanted.facts))
    return replace(small, source=held(small.picture, DRAWN_ON_QUALITY), whole=page.size)


def _crops(wanted: Wanted, pictures: Mapping[str, Picture]) -> dict[str, Crop | None]:
    """The boxes of the brief, cut from the photos before they are made smaller."""
    wall, solution = wanted.wall.wall, wanted.wall.measured.solution
    photos = (photo for photo in wall.photos if photo.name in pictures)
    whole = (
        PhotoPage(photo, cache(partial(Image.fromarray, pictures[photo.name].rgb)), solution.camera(photo.name))
        for photo in photos
    )
    found = crops_of(WallPages(wall, wanted.plan.wall(wall.name), tuple(whole)), wanted.facts)
    return {number: crop and Crop(held(crop.picture), crop.photo) for number, crop in found.items()}


def _put_in(wanted: Wanted, photo: Photo, picture: Picture) -> Iterator[BeforeAfter]:
    """The photo today, and with each of the schemes in it."""
    before = None
    for plan in wanted.schemes:
        scene = scene_of(wanted.room, wanted.at, photo, picture, plan, shifts_of(plan), SHEET_WIDTH)
        before = before or held(scene.picture)
        yield BeforeAfter(wanted.name, before, held(composed(scene)))
