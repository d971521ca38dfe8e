"""All papers and drawings of a job, made anew into a folder."""

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

from PIL import Image

from capture.lengths import Unit
from capture.photos import Picture, read_photo
from capture.record import Photo
from capture.rectify import elevation
from layout.plan import WallPlan
from report.papers import Elevation, PhotoPage, ReportFacts, WallPages, site_report
from report.sheets import existing_sheet, planned_sheet
from report.svg import to_svg
from report.tables import (
    ElectricianRow,
    MeasuredRow,
    VerdictRow,
    electrician_rows,
    measured_rows,
    verdict_rows,
    write_csv,
)
from wainscribe import told
from wainscribe.actions import SolvedWall, Tell, plan_job
from wainscribe.job import Job, JobFolder, plain_disk_errors, write_whole

ELEVATION_SCALE = 18.0  # px per wall inch: 200 dpi on a letter page for a 14 ft wall at its widest
MARGIN = 3.0  # wall inches shown round the wall


def make_papers(folder: JobFolder, output: Path, tell: Tell) -> list[Path]:
    """Make every paper and drawing of a job; the files made, the site report first."""
    job = folder.load()
    with plain_disk_errors(output):  # known before the long work, not after it
        output.mkdir(parents=True, exist_ok=True)
    solved, plan = plan_job(folder, job, tell)
    for refusal in [wall.refused for wall in plan.walls if wall.refused]:
        tell(f"warning: {refusal}")
    pages = []
    for wall in solved:
        tell(f"drawing {wall.wall.name}")
        pages.append(_wall_pages(folder, wall, plan.wall(wall.wall.name)))
    tell("setting the site report")
    records = [
        replace(_photo_page(folder, photo, None), wall=wall.name)
        for wall in job.walls
        for photo in wall.photos
        if photo.record_only
    ]
    findings = [f for wall in solved for f in wall.findings if f not in wall.measured.survey.findings]
    report = site_report(_facts(job), pages, records, findings)
    files: dict[str, bytes | str] = {"site-report.pdf": report, "plan.json": json.dumps(told.planned(plan), indent=1)}
    files |= dict(_drawings(pages, Unit(job.units)))
    with plain_disk_errors(output):
        for name, data in files.items():
            write_whole(output / name, data)
    return [output / name for name in files]


def _facts(job: Job) -> ReportFacts:
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
    )


def _wall_pages(folder: JobFolder, solved: SolvedWall, plan: WallPlan) -> WallPages:
    shots = {s.name for s in solved.measured.solution.net.shots}
    photos = [p for p in solved.wall.photos if not p.record_only]
    pages = tuple(_photo_page(folder, photo, solved if photo.name in shots else None) for photo in photos)
    return WallPages(solved.wall, plan, pages, _elevation(folder, solved))


def _photo_page(folder: JobFolder, photo: Photo, solved: SolvedWall | None) -> PhotoPage:
    picture = _read(folder, photo)
    camera = solved.measured.solution.camera(photo.name) if solved else None
    return PhotoPage(photo, Image.fromarray(picture.rgb), camera, picture.taken)


def _read(folder: JobFolder, photo: Photo) -> Picture:
    return read_photo(folder.read_photo(photo.file), photo.name)


def _elevation(folder: JobFolder, solved: SolvedWall) -> Elevation | None:
    """The wall square-on, from the photo that sees most cards."""
    solution, survey = solved.measured.solution, solved.measured.survey
    if not solution.net.shots:
        return None
    best = max(solution.net.shots, key=lambda s: len(s.cards))
    photo = next(p for p in solved.wall.photos if p.name == best.name)
    cards_right = max(float(solution.unknowns[solution.slots.card(i)][0]) for i in range(len(solution.net.cards)))
    right = survey.width.value if survey.width else cards_right + 12.0
    top = survey.ceiling.value if survey.ceiling else 84.0
    extent = (-MARGIN, -MARGIN, right + MARGIN, top)
    redrawn = elevation(_read(folder, photo).rgb, solution.camera(best.name), extent, ELEVATION_SCALE)
    note = f"Redrawn from “{photo.name}”; the photo shows at least {redrawn.finest:.0f} pixels per inch here."
    return Elevation(Image.fromarray(redrawn.rgb), redrawn.px_per_inch, redrawn.left, redrawn.top, note)


def _slugs(names: list[str]) -> list[str]:
    """File names for the walls, each its own even where two names differ only in signs."""
    plain = ["".join(c if c.isalnum() else "-" for c in name.lower()).strip("-") or "wall" for name in names]
    return [slug if plain.count(slug) == 1 else f"{slug}-{n}" for n, slug in enumerate(plain, start=1)]


def _drawings(pages: list[WallPages], unit: Unit) -> Iterator[tuple[str, bytes | str]]:
    for slug, page in zip(_slugs([page.wall.name for page in pages]), pages, strict=True):
        yield f"{slug}-existing.svg", to_svg(existing_sheet(page.plan.survey, unit=unit))
        yield f"{slug}-planned.svg", to_svg(planned_sheet(page.plan, unit=unit))
    yield (
        "measured.csv",
        write_csv(MeasuredRow, [row for page in pages for row in measured_rows(page.plan.survey, unit)]),
    )
    yield "verdicts.csv", write_csv(VerdictRow, [row for page in pages for row in verdict_rows(page.plan)])
    yield (
        "electrician.csv",
        write_csv(ElectricianRow, [row for page in pages for row in electrician_rows(page.plan, unit)]),
    )
