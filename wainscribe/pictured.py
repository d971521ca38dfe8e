"""The pictures that the papers show of one wall, made in one go: each of its photos is read once, and let go of.

What is asked for and what comes back bear pickling, so that walls can be shared out between processes.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from capture.photos import Picture
from capture.record import Photo
from layout.plan import Plan
from report.brief import crops_of
from report.changes import shifts_of
from report.compose import composed
from report.crops import Crop
from report.customer import BeforeAfter, picture_width
from report.papers import Elevation, PhotoPage, ReportFacts, WallPages
from report.pictures import PRINT_DPI, QUALITY, held
from report.site_report import recorded
from report.wall_part import elevation_scale, marked, printed_elevation
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
    among: int = 1  # how many walls are shown so
    cover: str = ""  # the name of a photo of it that the cover shows as it was taken

    @property
    def wall(self) -> SolvedWall:
        """The wall itself."""
        return self.room[self.at]

    @property
    def name(self) -> str:
        """The wall's name."""
        return self.wall.wall.name

    def pages(self, photos: tuple[PhotoPage, ...] = ()) -> WallPages:
        """What the papers draw on these photos of the wall."""
        return WallPages(self.wall.wall, self.plan.wall(self.name), photos)


@dataclass(frozen=True)
class Pictured:
    """The pictures of one wall."""

    photos: tuple[PhotoPage, ...] = ()  # as fine as they are printed
    records: tuple[PhotoPage, ...] = ()  # those that document a condition
    elevation: Elevation | None = None
    crops: Mapping[str, Crop | None] | None = None  # of the boxes in the brief, by number
    schemes: tuple[BeforeAfter, ...] = ()  # one for each of the schemes that were asked for


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
    return Pictured(
        tuple(page for page in pages if not page.photo.record_only),
        tuple(replace(page, wall=wall.name) for page in pages if page.photo.record_only),
        _elevation(wanted, pictures),
        crops,
        schemes,
    )


def _page(photo: Photo, picture: Picture, wanted: Wanted) -> PhotoPage:
    """A photo as it is printed; its camera with it."""
    solution = wanted.wall.measured.solution
    solved = photo.name in {shot.name for shot in solution.net.shots} and not photo.record_only
    page = PhotoPage(photo, picture.rgb, solution.camera(photo.name) if solved else None, picture.taken)
    if photo.record_only:
        printed = recorded(page, wanted.facts)
    else:
        printed = marked(page, wanted.pages(), wanted.facts)
    clean = held(page.for_print(wanted.facts.column).source, QUALITY) if photo.name == wanted.cover else None
    return replace(printed, source=held(printed.source, QUALITY), clean=clean)


def _crops(wanted: Wanted, pictures: Mapping[str, Picture]) -> dict[str, Crop | None]:
    """The boxes of the brief, cut from the photos before they are made smaller."""
    wall, solution = wanted.wall.wall, wanted.wall.measured.solution
    photos = (photo for photo in wall.photos if photo.name in pictures)
    whole = (PhotoPage(photo, pictures[photo.name].rgb, solution.camera(photo.name)) for photo in photos)
    found = crops_of(wanted.pages(tuple(whole)), wanted.facts)
    return {number: crop and Crop(held(crop.picture), crop.photo) for number, crop in found.items()}


def _elevation(wanted: Wanted, pictures: Mapping[str, Picture]) -> Elevation | None:
    """The wall straight on as it is printed, drawn no finer than that."""

    def fine(across: float, up: float) -> float:
        return PRINT_DPI * elevation_scale(across, up, wanted.facts).factor

    drawn = straight_on(wanted.wall, pictures, fine)
    if drawn is None:
        return None
    printed = printed_elevation(drawn, wanted.pages().plan.survey, wanted.facts)
    return replace(printed, source=held(printed.source, QUALITY))


def _put_in(wanted: Wanted, photo: Photo, picture: Picture) -> Iterator[BeforeAfter]:
    """The photo today, and with each of the schemes in it."""
    before = None
    width = picture_width(wanted.among, picture.size)
    for plan in wanted.schemes:
        scene = scene_of(wanted.room, wanted.at, photo, picture, plan, shifts_of(plan), width)
        before = before or held(scene.picture)
        yield BeforeAfter(wanted.name, before, held(composed(scene)))
