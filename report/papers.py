"""What all papers share: who, where and when, what is known of each wall, the pictures, and how a page is set."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from io import BytesIO
from typing import TYPE_CHECKING, Any

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray
from PIL import Image

from capture.camera import Camera
from capture.lengths import Unit
from capture.record import Conditions, Photo, Wall
from layout.next_steps import Step
from layout.plan import WallPlan
from layout.scheme import Scheme
from layout.verdicts import Verdict
from report.cardsheet import PAPERS, Paper
from report.drawing import Sheet
from report.pictures import PRINT_DPI, Held, Source, jpeg, looked_at, png, shrink, size_of
from report.svg import symbol_svg, to_svg
from report.symbols import SYMBOLS
from report.typeset import long_date, printable
from report.views import CameraView

if TYPE_CHECKING:
    from report.crops import Crop

MARGIN = 0.6  # paper inches round an upright page
MARGIN_WIDE = 0.35  # and round a page that lies on its side for a drawing
PHOTO_HEIGHT = 4.0  # two photos and their words fit a page
LOGO_ROOM = 1.6, 0.6  # paper inches, width and height
JPEG, PNG = "image/jpeg", "image/png"
MOST_BYTES = 9_000_000  # that the pictures of a paper may weigh, so that it can be mailed


@dataclass(frozen=True)
class PhotoPage:
    """A photo for the paper."""

    photo: Photo
    source: Source  # upright, RGB
    camera: Camera | None = None  # solved, in the frame of its wall
    taken: datetime | None = None
    note: str = ""
    wall: str = ""  # the wall that a record photo documents
    whole: tuple[int, int] | None = None  # width and height of the photo as taken, px; None is as the source
    printed: bool = False  # whether it is as fine as it is printed, and what was marked is drawn on it
    clean: Source | None = None  # the same without what was marked, where the cover asks for it

    @property
    def size(self) -> tuple[int, int]:
        """Width and height at full size, px."""
        return self.whole or size_of(self.source)

    @property
    def picture(self) -> Image.Image:
        """The photo as fine as it is here."""
        return looked_at(self.source)

    def for_print(self, width: float) -> "PhotoPage":
        """The same photo no finer than `width` paper inches can show, its camera with it."""
        small = shrink(self.source, round(width * PRINT_DPI))
        factor = small.width / size_of(self.source)[0]
        camera = None if self.camera is None else CameraView.scaled(self.camera, factor).camera
        return PhotoPage(self.photo, small, camera, self.taken, self.note, self.wall)


@dataclass(frozen=True)
class Elevation:
    """A wall's rectified picture."""

    source: Source
    px_per_inch: float
    left: float  # wall inches of the outer corner of the first pixel
    top: float
    note: str = ""  # which photos it is made of
    seen: NDArray[np.bool_] | None = None  # (height, width): where any photo looked; None is everywhere
    fineness: tuple[float, float] | None = None  # px per wall inch that the photos gave, least and most
    coarsest: str = ""  # where they gave least, such as "at the left, near the floor"
    unseen: float = 0.0  # share of it at which no photo looked, known once it is printed
    printed: bool = False  # whether it is as fine as it is printed, hatched, and what stands there is drawn on it

    @property
    def inches(self) -> tuple[float, float]:
        """Width and height, wall inches."""
        width, height = size_of(self.source)
        return width / self.px_per_inch, height / self.px_per_inch


@dataclass(frozen=True)
class WallPages:
    """All that the papers show of one wall."""

    wall: Wall
    plan: WallPlan
    photos: tuple[PhotoPage, ...] = ()
    elevation: Elevation | None = None  # the wall straight on; None where no photo of it was solved
    steps: tuple[Step, ...] = ()  # what would settle what is too close to tell
    room: str = ""
    crops: "Mapping[str, Crop | None] | None" = None  # of its boxes, by number; None is made when they are looked at


@dataclass(frozen=True)
class ReportFacts:
    """Who, where and when, and how the papers are set."""

    job: str
    address: str = ""
    customer: str = ""
    installer: str = ""
    visited: date | None = None
    unit: Unit = Unit.INCH
    paper: str = "letter"  # or "a4"
    year_built: int | None = None
    scheme: Scheme | None = None
    notes: tuple[str, ...] = ()
    conditions: Conditions = field(default_factory=Conditions)  # of the whole house
    logo: Image.Image | None = None  # the installer's

    @property
    def sheet(self) -> Paper:
        """The paper that it is printed on."""
        return PAPERS[self.paper]

    @property
    def column(self) -> float:
        """Paper inches between the margins of an upright page."""
        return self.sheet.width - 2 * MARGIN


@dataclass
class Pictures:
    """The pictures of one paper, handed to the printer by name."""

    held: dict[str, tuple[bytes, str]] = field(default_factory=dict)
    names: dict[Held, str] = field(default_factory=dict)

    def add(
        self, source: Source, most_width: float, most_height: float, alt: str, lettered: bool = False
    ) -> dict[str, Any]:
        """Take a picture in as large as fits; returns what the template's figure needs (paper inches)."""
        picture = source if isinstance(source, Held) else looked_at(source)
        across, up = picture.size
        width = min(most_width, most_height * across / up)
        name = f"p{len(self.held) + 1}"
        if isinstance(picture, Held):  # whatever its size on the page, it is in the paper once
            name = self.names.setdefault(picture, name)
            self.held[name] = picture.jpeg, JPEG
        else:
            self.held[name] = (png(picture, width), PNG) if lettered else (jpeg(picture, width), JPEG)
        return {
            "src": f"picture:{name}",
            "alt": printable(alt),
            "width": round(width, 4),
            "room": most_width,  # for its words, however narrow it is
            "lower": round(min(width, PHOTO_HEIGHT * across / up), 4),  # the same picture where two share a page
        }

    def packed(self, most: int = MOST_BYTES) -> dict[str, tuple[bytes, str]]:
        """The pictures as the printer takes them, coarser where together they would weigh more than `most` bytes."""
        weight = self._weight()
        while weight > most:
            share = 0.95 * (most / weight) ** 0.5  # the weight goes with the pixels
            self.held |= {
                name: (_coarser(data, share), JPEG) for name, (data, mime) in self.held.items() if mime == JPEG
            }
            weight = self._weight()
        return self.held

    def _weight(self) -> int:
        return sum(len(data) for data, mime in self.held.values() if mime == JPEG)


def _coarser(data: bytes, share: float) -> bytes:
    picture = Image.open(BytesIO(data))
    return jpeg(picture, picture.width * share / PRINT_DPI)


def setting(facts: ReportFacts, kind: str, pictures: Pictures) -> dict[str, Any]:
    """What the templates of every paper ask for: the job, the sheet, the running words."""
    logo = None
    if facts.logo is not None:
        logo = pictures.add(facts.logo, *LOGO_ROOM, f"Logo of {facts.installer or 'the installer'}", lettered=True)
    return {
        "kind": kind,
        "facts": facts,
        "paper": facts.sheet,
        "margin": MARGIN,
        "margin_wide": MARGIN_WIDE,
        "running": shorten(facts.job, 60),
        "long_name": len(facts.job) > 36,
        "visited": long_date(facts.visited),
        "logo": logo,
    }


def shorten(text: str, most: int) -> str:
    """The text on one line, cut with an ellipsis where it is longer than `most` letters."""
    line = " ".join(printable(text).split())
    return line if len(line) <= most else line[: most - 1].rstrip() + "…"


def drawn(sheet: Sheet) -> dict[str, Any]:
    """A drawing for a template: told whole to who listens to the paper instead of looking at it."""
    told = Sheet(**(vars(sheet) | {"title": f"{sheet.title}. {sheet.description}".strip(), "description": ""}))
    width, height = sheet.paper_size
    return {"svg": Markup(to_svg(told)), "scale": sheet.scale.name, "width": width, "height": height}


def sign(verdict: str) -> Markup:
    """A verdict's sign."""
    return Markup(symbol_svg(SYMBOLS[Verdict(verdict)], verdict))


def legend(verdicts: Any) -> list[tuple[Markup, str]]:
    """The signs of some verdicts, with their words."""
    return [(sign(verdict), verdict.value) for verdict in Verdict if verdict in set(verdicts)]
