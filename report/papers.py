"""The site report: what stands on the walls, what is planned there, what is in the way, and who does what about it.

Here the numbers become words and pictures; the templates only set them out.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from fractions import Fraction
from math import ceil
from typing import Any

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray
from PIL import Image

from capture.camera import Camera
from capture.lengths import Source, Unit, show_length
from capture.record import TRAITS, Kind, Photo, Wall
from capture.survey import Finding, Grade
from layout.next_steps import Step
from layout.paint import USUAL
from layout.plan import WallPlan
from layout.scheme import Scheme
from layout.verdicts import Verdict
from report.cardsheet import PAPERS, Paper
from report.cautions import cautions
from report.drawing import Sheet, choose_scale
from report.numbers import by_number, conflicts
from report.overlay import elevation_overlay, marked_photo, overlay
from report.pictures import PRINT_DPI, hatched, jpeg
from report.printing import to_pdf
from report.sheets import bar_sheet, existing_sheet, planned_sheet
from report.svg import symbol_svg, to_svg
from report.symbols import SYMBOLS
from report.tables import ElectricianRow, electrician_rows, measured_rows, verdict_rows
from report.typeset import long_date, printable

MARGIN = 0.7  # paper inches round an upright page
MARGIN_WIDE = 0.35  # and round a page that lies on its side for a drawing
HEAD_WIDE = 1.5  # what heading and legend take there
FOOT_WIDE = 0.7  # what the legend leaves free below the drawing where it is not needed
LINE_WIDE = 0.36  # one conflict in words
PHOTO_HEIGHT = 4.0  # two photos and their words fit a page
COVER_HEIGHT = 5.4
ELEVATION_HEIGHT = 4.0
HATCH = 3.0  # wall inches between the lines where no photo looked


@dataclass(frozen=True)
class PhotoPage:
    """A photo for the paper."""

    photo: Photo
    picture: Image.Image  # upright, RGB
    camera: Camera | None = None  # solved, in the frame of its wall
    taken: datetime | None = None
    note: str = ""
    wall: str = ""  # the wall that a record photo documents


@dataclass(frozen=True)
class Elevation:
    """A wall's rectified picture."""

    image: Image.Image
    px_per_inch: float
    left: float  # wall inches of the outer corner of the first pixel
    top: float
    note: str = ""  # which photos it is made of
    seen: NDArray[np.bool_] | None = None  # (height, width): where any photo looked; None is everywhere
    fineness: tuple[float, float] | None = None  # px per wall inch that the photos gave, least and most
    coarsest: str = ""  # where they gave least, such as "at the left, near the floor"


@dataclass(frozen=True)
class WallPages:
    """All that the paper shows of one wall."""

    wall: Wall
    plan: WallPlan
    photos: tuple[PhotoPage, ...] = ()
    elevation: Elevation | None = None
    steps: tuple[Step, ...] = ()  # what would settle what is too close to tell


@dataclass(frozen=True)
class ReportFacts:
    """Who, where and when, and how the paper is set."""

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


@dataclass
class Pictures:
    """The pictures of one paper, handed to the printer by name."""

    held: dict[str, tuple[bytes, str]] = field(default_factory=dict)

    def add(self, picture: Image.Image, most_width: float, most_height: float, alt: str) -> dict[str, Any]:
        """Take a picture in as large as fits; returns what the template's figure needs (paper inches)."""
        width = min(most_width, most_height * picture.width / picture.height)
        name = f"p{len(self.held) + 1}"
        self.held[name] = jpeg(picture, width), "image/jpeg"
        return {
            "src": f"picture:{name}",
            "alt": printable(alt),
            "width": round(width, 4),
            "room": most_width,  # for its words, however narrow it is
            "lower": round(
                min(width, PHOTO_HEIGHT * picture.width / picture.height), 4
            ),  # the same picture where two share a page
        }


def site_report(
    facts: ReportFacts,
    walls: Sequence[WallPages],
    record_photos: Sequence[PhotoPage] = (),
    findings: Sequence[Finding] = (),
) -> bytes:
    """The site report as a tagged PDF.

    Parameters
    ----------
    facts
        Who, where, when; unit and paper.
    walls
        The walls in the order of the room.
    record_photos
        Photos that document a condition and are not measured.
    findings
        What the program noticed about the job as a whole; each wall's own are with its survey.
    """
    paper, pictures = PAPERS[facts.paper], Pictures()
    told = [_wall(pages, facts, paper, pictures) for pages in walls]
    context = {
        "facts": facts,
        "paper": paper,
        "margin": MARGIN,
        "margin_wide": MARGIN_WIDE,
        "running": shorten(facts.job, 60),
        "long_name": len(facts.job) > 48,
        "visited": long_date(facts.visited),
        "cover": max((p for w in told if (p := w["planned_photo"])), key=lambda p: p["share"], default=None),
        "walls": told,
        "summary": [wall["summary"] for wall in told],
        "findings": _findings(findings),
        "electrician": _electrician(walls, facts.unit),
        "record_photos": [_record(page, paper, pictures) for page in record_photos],
        "photo_log": _photo_log(walls, record_photos),
        "cautions": cautions(facts.year_built),
        "legend": _legend(Verdict),
        "sizes": _sizes(facts),
    }
    return to_pdf("site_report.html", context, pictures.held)


def shorten(text: str, most: int) -> str:
    """The text on one line, cut with an ellipsis where it is longer than `most` letters."""
    line = " ".join(printable(text).split())
    return line if len(line) <= most else line[: most - 1].rstrip() + "…"


# The planned frames on a photo.


def _share_seen(page: PhotoPage, plan: WallPlan) -> float:
    """How much of the planned frames a photo shows, times their length, so that the longest wall is preferred."""
    if page.camera is None:
        return 0.0
    total = 0.0
    for frame in plan.frames:
        x = np.linspace(float(frame.rect.left), float(frame.rect.right), 25)
        for y in (float(frame.rect.bottom), float(frame.rect.top)):
            points = np.column_stack([x, np.full(25, y), np.zeros(25)])
            total += float(page.camera.sees(points).mean() * (x[-1] - x[0]))
    return total


def _planned_photo(pages: WallPages, facts: ReportFacts, width: float, pictures: Pictures) -> dict[str, Any] | None:
    """The photo of a wall that shows most of the planned frames, with the frames drawn on it."""
    seen = [(_share_seen(page, pages.plan), page) for page in pages.photos]
    share, page = max(seen, key=lambda choice: choice[0], default=(0.0, None))
    if page is None or page.camera is None or share <= 0:
        return None
    outlines = [
        [(sight.u, sight.v) for sight in mark.sights if sight.photo == page.photo.name]
        for mark in pages.wall.marks
        if mark.kind is Kind.IN_FRONT
    ]
    scheme = facts.scheme
    behind = float(scheme.panel_thickness) if scheme is not None and scheme.panel == "sheet" else 0.0
    paint = scheme.paint if scheme is not None else USUAL
    drawn = overlay(page.picture, page.camera, pages.plan, outlines, behind, paint)
    panels = sum(frame.count for frame in pages.plan.frames)
    alt = (
        f"Photo {page.photo.name} of {pages.plan.name} with the planned wainscot drawn on it: {panels} panels, "
        f"{len(conflicts(pages.plan.judgements))} in the way."
    )
    return pictures.add(drawn, width, COVER_HEIGHT, alt) | {"share": share}


# One wall.


def _wall(pages: WallPages, facts: ReportFacts, paper: Paper, pictures: Pictures) -> dict[str, Any]:
    plan, unit = pages.plan, facts.unit
    room = _wide_room(paper)
    planned = _drawn(planned_sheet(plan, room, unit)) if plan.frames else None
    verdicts = [(row, _sign(row.verdict)) for row in verdict_rows(plan)]
    flagged = [(row, sign) for row, sign in verdicts if Verdict(row.verdict).conflict]
    lines = int((room[1] + FOOT_WIDE - planned["height"]) / LINE_WIDE) if planned else 0
    width = paper.width - 2 * MARGIN
    return {
        "name": plan.name,
        "summary": _summary(plan, unit),
        "photos": [_marked(page, pages, width, pictures) for page in pages.photos],
        "planned_photo": _planned_photo(pages, facts, width, pictures),
        "elevation": _elevation(pages, facts, width, pictures),
        "existing": _drawn(existing_sheet(plan.survey, room, unit)),
        "planned": planned,
        "flagged": flagged if len(flagged) <= lines else [],  # all or none: they are told in full overleaf
        "signs": _legend({judgement.verdict for judgement in plan.judgements}),
        "rows": measured_rows(plan.survey, unit),
        "checks": [check.told(unit) for check in plan.survey.checks],
        "readings": [reading.told(unit) for reading in plan.survey.readings],
        "verdicts": verdicts,
        "remedies": _remedies(plan),
        "tape": _tape_first(plan, unit),
        "steps": [step.told(unit) for step in pages.steps],
        "notes": _notes(pages, unit),
        "findings": _findings(plan.survey.findings),
    }


def _wide_room(paper: Paper) -> tuple[float, float]:
    """Paper inches for a drawing on a page that lies on its side."""
    return paper.height - 2 * MARGIN_WIDE, paper.width - 2 * MARGIN_WIDE - HEAD_WIDE


def _summary(plan: WallPlan, unit: Unit) -> dict[str, Any]:
    verdicts = [judgement.verdict for judgement in plan.judgements]
    doubtful = verdicts.count(Verdict.TOO_CLOSE)
    return {
        "name": plan.name,
        "width": plan.survey.width.show(unit) if plan.survey.width else "not measured",
        "panels": " + ".join(str(frame.count) for frame in plan.frames) or "none",
        "things": len(verdicts),
        "conflicts": len(conflicts(plan.judgements)),
        "doubtful": doubtful,
        "free": len(verdicts) - len(conflicts(plan.judgements)) - doubtful,
    }


def _marked(page: PhotoPage, pages: WallPages, width: float, pictures: Pictures) -> dict[str, Any]:
    survey, photo = pages.plan.survey, page.photo
    drawn = marked_photo(page.picture, page.camera, survey, pages.wall.marks, photo.name)
    counted = sum(feature.rectangle for feature in survey.features)
    alt = f"Photo {photo.name} of {survey.name} with what was marked, {counted} numbered outlines."
    words = [f"Photo {photo.name}.", photo.caption, page.note]
    if page.camera is None:
        words.append("Not measured: its camera could not be solved.")
    return pictures.add(drawn, width, PHOTO_HEIGHT, alt) | {"words": " ".join(part for part in words if part)}


def _elevation(pages: WallPages, facts: ReportFacts, width: float, pictures: Pictures) -> dict[str, Any] | None:
    """The rectified picture at a usual scale, the frames over it, with its scale bar."""
    shot = pages.elevation
    if shot is None:
        return None
    across, up = shot.image.width / shot.px_per_inch, shot.image.height / shot.px_per_inch
    scale = choose_scale(across, up, (width, ELEVATION_HEIGHT), facts.unit)
    planned = bool(pages.plan.frames)
    image = shot.image if shot.seen is None else hatched(shot.image, shot.seen, HATCH * shot.px_per_inch)
    drawn = elevation_overlay(
        image, shot.px_per_inch, shot.left, shot.top, pages.plan if planned else pages.plan.survey
    )
    alt = (
        f"{pages.plan.name} seen straight on, made from its photos, at {scale.name}: "
        f"{show_length(across, facts.unit)} across and {show_length(up, facts.unit)} up"
        + (", with the planned frames drawn on it." if planned else ".")
    )
    figure = pictures.add(drawn, across * scale.factor, up * scale.factor, alt)
    bar = _drawn(bar_sheet(scale, across, facts.unit))
    printed = min(drawn.width / across, PRINT_DPI * scale.factor)
    words = [shot.note, _how_fine(shot, printed, facts.unit), _not_seen(shot.seen)]
    return figure | {"bar": bar["svg"], "scale": scale.name, "note": " ".join(w for w in words if w)}


def _how_fine(shot: Elevation, printed: float, unit: Unit) -> str:
    """The smallest detail that shows, two pixels of what is coarser: of the photos or of the `printed` px per inch."""
    if shot.fineness is None:
        return ""
    least, most = shot.fineness
    step = Fraction(1, 16) if unit is Unit.INCH else Fraction(5, 127)  # 1 mm
    fine, coarse = (show_length(ceil(2 / min(given, printed) / step) * step, unit) for given in (most, least))
    per = "inch" if unit is Unit.INCH else "centimetre"
    counts = [f"{given if unit is Unit.INCH else given / 2.54:.0f}" for given in (least, most)]
    told = f"The photos gave {' to '.join(dict.fromkeys(counts))} pixels per {per} of wall"
    if fine == coarse:
        return f"{told}; as printed, details smaller than {fine} are lost."
    return (
        f"{told}; as printed, details smaller than {fine} are lost, and {shot.coarsest}, those smaller than {coarse}."
    )


def _not_seen(seen: NDArray[np.bool_] | None) -> str:
    if seen is None or seen.all():
        return ""
    return f"Hatched: no photo looked there ({max(0.01, 1 - float(seen.mean())):.0%} of it)."


def _drawn(sheet: Sheet) -> dict[str, Any]:
    return {"svg": Markup(to_svg(sheet)), "scale": sheet.scale.name, "height": sheet.paper_size[1]}


def _sign(verdict: str) -> Markup:
    return Markup(symbol_svg(SYMBOLS[Verdict(verdict)], verdict))


def _legend(verdicts: Any) -> list[tuple[Markup, str]]:
    return [(_sign(verdict), verdict.value) for verdict in Verdict if verdict in set(verdicts)]


def _remedies(plan: WallPlan) -> dict[str, Any]:
    """What could be done, what leaves least behind first: for a whole run at once, and for each thing alone."""
    others = [remedy for remedies in plan.remedies.values() for remedy in remedies if remedy.count is not None]
    by_thing = [
        {"row": row, "ways": [way for way in plan.remedies.get(judgement.feature, ()) if way.count is None]}
        for row, judgement in zip(verdict_rows(plan), by_number(plan), strict=True)
    ]
    return {
        "counts": sorted(dict.fromkeys(others), key=lambda remedy: remedy.conflicts_left),
        "things": [thing for thing in by_thing if thing["ways"]],
    }


def _tape_first(plan: WallPlan, unit: Unit) -> list[str]:
    """The readings to take before anything is cut."""
    readings = [judgement.tape_this for judgement in plan.judgements if judgement.tape_this]
    width = plan.survey.width
    if width is None or width.source in (Source.PHOTO, Source.USUAL):
        readings.append(f"tape the width of {plan.name}, to {'1 mm' if unit is Unit.MM else '1/16'}")
    return list(dict.fromkeys(readings))


def _notes(pages: WallPages, unit: Unit) -> list[str]:
    plan = pages.plan
    several = len(plan.runs) > 1
    of_runs = (f"{run.part}: {note}" if several else note for run in plan.runs for note in run.notes)
    noted = [*plan.notes, *of_runs, *plan.assumed]
    if plan.survey.level:
        noted.append(f"level: {plan.survey.level}")
    if plan.survey.lens:
        noted.append(f"lens: {plan.survey.lens}")
    if plan.survey.corner:
        noted.append(f"right corner: {plan.survey.corner.told(unit)}")
    if pages.wall.note:
        noted.append(pages.wall.note)
    return list(dict.fromkeys(noted))


def _findings(findings: Sequence[Finding]) -> list[dict[str, str]]:
    heads = {Grade.STOP: "Stop", Grade.WARN: "Look into this", Grade.NOTE: "Note"}
    ordered = sorted(findings, key=lambda finding: list(Grade).index(finding.grade))
    return [{"head": heads[f.grade], "place": f.place, "sentence": f.sentence, "remedy": f.remedy} for f in ordered]


# The electrician, the photos, the sizes.


def _electrician(walls: Sequence[WallPages], unit: Unit) -> dict[str, Any]:
    rows: list[ElectricianRow] = [row for pages in walls for row in electrician_rows(pages.plan, unit)]
    moving = {(row.wall, row.number) for row in rows}
    staying = [
        row
        for pages in walls
        for row, judgement in zip(verdict_rows(pages.plan), by_number(pages.plan), strict=True)
        if TRAITS[pages.plan.survey.feature(judgement.feature).kind].wired and (row.wall, row.number) not in moving
    ]
    return {"rows": rows, "staying": staying}


def _record(page: PhotoPage, paper: Paper, pictures: Pictures) -> dict[str, Any]:
    words = ". ".join(part for part in (page.photo.name, page.photo.caption, page.note) if part)
    figure = pictures.add(page.picture, (paper.width - 2 * MARGIN) / 2 - 0.15, 2.6, f"Photo {words}")
    return figure | {"words": words, "taken": _when(page)}


def _photo_log(walls: Sequence[WallPages], record_photos: Sequence[PhotoPage]) -> list[dict[str, str]]:
    of_walls = [(page, pages.plan.name) for pages in walls for page in pages.photos]
    return [
        {
            "name": page.photo.name,
            "file": page.photo.file,
            "wall": wall,
            "taken": _when(page),
            "size": f"{page.picture.width} × {page.picture.height}",
            "use": "record" if page.photo.record_only else "measured" if page.camera else "not measured",
        }
        for page, wall in (*of_walls, *((page, page.wall or "record") for page in record_photos))
    ]


def _when(page: PhotoPage) -> str:
    return f"{long_date(page.taken.date())}, {page.taken:%H:%M}" if page.taken else "time not recorded"


def _sizes(facts: ReportFacts) -> list[tuple[str, str]]:
    scheme = facts.scheme
    if scheme is None:
        return []
    named: list[tuple[str, Fraction]] = [
        ("Top of the cap above the floor", scheme.top),
        ("Stiles, width", scheme.stile),
        ("Top rail", scheme.top_rail),
        ("Bottom rail", scheme.bottom_rail),
        ("Thickness of stiles and rails", scheme.thickness),
        ("Moulding, width", scheme.moulding),
        ("Reveal", scheme.reveal),
        ("Panel width wanted", scheme.panel_width),
        ("Clear field wanted round a plate", scheme.plate_clear),
    ]
    return [(name, show_length(size, facts.unit)) for name, size in named if size]
