"""All papers and drawings of a job, made anew into a folder."""

import json
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache, partial
from itertools import islice
from pathlib import Path

from PIL import Image

from capture.lengths import Unit
from capture.photos import Picture, read_photo
from capture.record import Photo, Wall
from capture.survey import Finding
from layout.plan import Plan
from layout.shop import Shop
from report.boxes import ElectricianRow, electrician_rows
from report.brief import electricians_brief
from report.customer import SchemeShown, customer_sheet
from report.dxf import existing_dxf, planned_dxf
from report.papers import Elevation, PhotoPage, ReportFacts, WallPages
from report.pictures import Source
from report.sheets import existing_sheet, planned_sheet
from report.shop import shop_sheet
from report.shop_tables import (
    BoardRow,
    HeightRow,
    PieceRow,
    RunningRow,
    TakeOffRow,
    board_rows,
    height_rows,
    piece_rows,
    running_rows,
    take_off_rows,
)
from report.site_report import site_report
from report.svg import to_svg
from report.tables import MeasuredRow, VerdictRow, measured_rows, verdict_rows, write_csv
from wainscribe import told
from wainscribe.actions import SolvedWall, Tell, gather, plan_job, what_next
from wainscribe.customer import schemes_shown
from wainscribe.disk import plain_disk_errors, write_whole
from wainscribe.job import Job, JobFolder
from wainscribe.logo import read_logo
from wainscribe.seen import in_colour, search_photo
from wainscribe.straight_on import straight_on


@dataclass(frozen=True)
class Readied:
    """All that the papers of a job are made from."""

    facts: ReportFacts
    pages: tuple[WallPages, ...]
    records: tuple[PhotoPage, ...]  # photos that document a condition
    findings: tuple[Finding, ...]  # about the job as a whole
    plan: Plan
    schemes: tuple[SchemeShown, ...]  # the plan, and what else could be done
    shop: Shop

    @property
    def unit(self) -> Unit:
        """The unit that the papers speak in."""
        return self.facts.unit

    @property
    def composed(self) -> dict[str, Source]:
        """The customer's picture of each wall as planned, by the wall's name."""
        return {shown.wall: shown.after for scheme in self.schemes[:1] for shown in scheme.pictures}


Made = bytes | str

# Each file with what makes it, in the order in which a person reads them.
PAPERS: tuple[tuple[str, Callable[[Readied], Made]], ...] = (
    ("site-report.pdf", lambda job: site_report(job.facts, job.pages, job.records, job.findings, job.composed)),
    ("electricians-brief.pdf", lambda job: electricians_brief(job.facts, job.pages)),
    ("customer-sheet.pdf", lambda job: customer_sheet(job.facts, job.schemes, job.pages)),
    ("shop-sheet.pdf", lambda job: shop_sheet(job.shop, job.facts, job.pages)),
    ("plan.json", lambda job: json.dumps(told.planned(job.plan), indent=1)),
    ("cuts.json", lambda job: json.dumps(told.cuts(job.shop), indent=1)),
    ("measured.csv", lambda job: write_csv(MeasuredRow, _measured(job))),
    ("verdicts.csv", lambda job: write_csv(VerdictRow, [row for page in job.pages for row in verdict_rows(page.plan)])),
    ("electrician.csv", lambda job: write_csv(ElectricianRow, _electrician(job))),
    ("cut-list.csv", lambda job: write_csv(PieceRow, piece_rows(job.shop))),
    ("running.csv", lambda job: write_csv(RunningRow, running_rows(job.shop))),
    ("heights.csv", lambda job: write_csv(HeightRow, height_rows(job.shop))),
    ("take-off.csv", lambda job: write_csv(TakeOffRow, take_off_rows(job.shop))),
    ("boards.csv", lambda job: write_csv(BoardRow, board_rows(job.shop))),
)

# The same for every wall; the file's name begins with the wall's.
DRAWINGS: tuple[tuple[str, Callable[[WallPages, Readied], Made]], ...] = (
    ("existing.svg", lambda page, job: to_svg(existing_sheet(page.plan.survey, unit=job.unit))),
    ("planned.svg", lambda page, job: to_svg(planned_sheet(page.plan, unit=job.unit))),
    ("existing.dxf", lambda page, job: existing_dxf(page.plan.survey, job.unit)),
    ("planned.dxf", lambda page, job: planned_dxf(page.plan, job.unit)),
)


def make_papers(folder: JobFolder, output: Path, tell: Tell) -> list[Path]:
    """Make every paper and drawing of a job; the files made, the site report first."""
    folder.load()  # where no job is, no folder is made
    with plain_disk_errors(output):  # known before the long work, not after it
        output.mkdir(parents=True, exist_ok=True)
    job = ready(folder, tell)
    files: dict[str, Made] = {}
    for name, maker in PAPERS:
        if name.endswith(".pdf"):
            tell(f"setting {name}")
        files[name] = maker(job)
    files |= dict(_drawings(job))
    with plain_disk_errors(output):
        for name, data in files.items():
            write_whole(output / name, data)
    return [output / name for name in files]


def ready(folder: JobFolder, tell: Tell) -> Readied:
    """Solve and plan the job, and read its photos."""
    job = folder.load()
    shown = (photo for wall in job.walls for photo in wall.photos if not photo.record_only)
    with ThreadPoolExecutor(1) as ahead:  # the picture wanted first is decoded while cards are sought and walls solved
        for photo in islice(shown, 1):
            ahead.submit(_read, folder, photo)
        solved, plan = plan_job(folder, job, tell)
    for refusal in [wall.refused for wall in plan.walls if wall.refused]:
        tell(f"warning: {refusal}")
    steps = what_next(solved, plan)
    pages = []
    for one in solved:
        mine = tuple(step for step in steps if step.wall == one.wall.name)
        pages.append(replace(_wall_pages(folder, one, plan, tell), steps=mine, room=_room(job, one.wall)))
    records = (
        replace(_photo_page(folder, photo, None), wall=wall.name)
        for wall in job.walls
        for photo in wall.photos
        if photo.record_only
    )
    findings = (f for wall in solved for f in wall.findings if f not in wall.measured.survey.findings)
    schemes = schemes_shown(folder, job, solved, plan, tell)
    tell("packing pieces into boards")
    return Readied(
        _facts(folder, job),
        tuple(pages),
        tuple(records),
        tuple(findings),
        plan,
        schemes,
        gather(job, plan),
    )


def _facts(folder: JobFolder, job: Job) -> ReportFacts:
    return ReportFacts(
        job=job.name,
        address=job.address,
        customer=job.customer,
        installer=job.installer,
        visited=date.fromisoformat(job.date) if job.date else None,
        unit=Unit(job.units),
        paper=job.paper,
        year_built=job.year_built,
        scheme=job.wanted,
        conditions=job.conditions,
        logo=read_logo(folder.read_photo(job.logo), job.logo) if job.logo else None,
    )


def _room(job: Job, wall: Wall) -> str:
    return next(room.name for room in job.rooms if wall.name in [one.name for one in room.walls])


def _wall_pages(folder: JobFolder, solved: SolvedWall, plan: Plan, tell: Tell) -> WallPages:
    shots = {s.name for s in solved.measured.solution.net.shots}
    photos = [p for p in solved.wall.photos if not p.record_only]
    pages = [_photo_page(folder, p, solved if p.name in shots else None) for p in photos]

    def drawn() -> Elevation | None:
        tell(f"drawing {solved.wall.name}")
        return straight_on(solved, in_colour([p for p in photos if p.name in shots], partial(_read, folder)))

    return WallPages(solved.wall, plan.wall(solved.wall.name), tuple(pages), drawn)


def _photo_page(folder: JobFolder, photo: Photo, solved: SolvedWall | None) -> PhotoPage:
    """A photo for the papers, read from the disk each time that it is looked at."""
    camera = solved.measured.solution.camera(photo.name) if solved else None
    seen = search_photo(folder, photo)
    return PhotoPage(photo, lambda: Image.fromarray(_read(folder, photo).rgb), camera, seen.taken, whole=seen.size)


@lru_cache(maxsize=2)  # a page looks at its photo several times, and most at the last one
def _read(folder: JobFolder, photo: Photo) -> Picture:
    return read_photo(folder.read_photo(photo.file), photo.name)


def _measured(job: Readied) -> list[MeasuredRow]:
    return [row for page in job.pages for row in measured_rows(page.plan.survey, job.unit)]


def _electrician(job: Readied) -> list[ElectricianRow]:
    return [row for page in job.pages for row in electrician_rows(page.plan, job.unit, job.facts.scheme)]


def _drawings(job: Readied) -> Iterator[tuple[str, Made]]:
    for slug, page in zip(_slugs([page.wall.name for page in job.pages]), job.pages, strict=True):
        for name, maker in DRAWINGS:
            yield f"{slug}-{name}", maker(page, job)


def _slugs(names: list[str]) -> list[str]:
    """File names for the walls, each its own even where two names differ only in signs."""
    plain = ["".join(c if c.isalnum() else "-" for c in name.lower()).strip("-") or "wall" for name in names]
    return [slug if plain.count(slug) == 1 else f"{slug}-{n}" for n, slug in enumerate(plain, start=1)]
