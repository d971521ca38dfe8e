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
from layout.plan import WallPlan
from report.dxf import existing_dxf, planned_dxf
from report.papers import PhotoPage, ReportFacts, WallPages, site_report
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
from wainscribe.actions import SolvedWall, Tell, plan_job, what_next
from wainscribe.customer import customer_paper
from wainscribe.job import Job, JobFolder, plain_disk_errors, write_whole
from wainscribe.shop_papers import shop_papers
from wainscribe.straight_on import straight_on


def make_papers(folder: JobFolder, output: Path, tell: Tell) -> list[Path]:
    """Make every paper and drawing of a job; the files made, the site report first."""
    job = folder.load()
    with plain_disk_errors(output):  # known before the long work, not after it
        output.mkdir(parents=True, exist_ok=True)
    solved, plan = plan_job(folder, job, tell)
    for refusal in [wall.refused for wall in plan.walls if wall.refused]:
        tell(f"warning: {refusal}")
    steps = what_next(solved, plan)
    pages = []
    for wall in solved:
        tell(f"drawing {wall.wall.name}")
        mine = tuple(step for step in steps if step.wall == wall.wall.name)
        pages.append(replace(_wall_pages(folder, wall, plan.wall(wall.wall.name)), steps=mine))
    tell("setting the site report")
    records = [
        replace(_photo_page(photo, _read(folder, photo), None), wall=wall.name)
        for wall in job.walls
        for photo in wall.photos
        if photo.record_only
    ]
    findings = [f for wall in solved for f in wall.findings if f not in wall.measured.survey.findings]
    report = site_report(_facts(job), pages, records, findings)
    files: dict[str, bytes | str] = {"site-report.pdf": report, "plan.json": json.dumps(told.planned(plan), indent=1)}
    files |= dict(_drawings(pages, Unit(job.units)))
    files["customer-sheet.pdf"] = customer_paper(folder, job, solved, plan, tell)
    files |= shop_papers(job, plan, _facts(job))
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
    pictures = {photo.name: _read(folder, photo) for photo in photos}
    pages = [_photo_page(p, pictures[p.name], solved if p.name in shots else None) for p in photos]
    return WallPages(solved.wall, plan, tuple(pages), straight_on(solved, pictures))


def _photo_page(photo: Photo, picture: Picture, solved: SolvedWall | None) -> PhotoPage:
    camera = solved.measured.solution.camera(photo.name) if solved else None
    return PhotoPage(photo, Image.fromarray(picture.rgb), camera, picture.taken)


def _read(folder: JobFolder, photo: Photo) -> Picture:
    return read_photo(folder.read_photo(photo.file), photo.name)


def _slugs(names: list[str]) -> list[str]:
    """File names for the walls, each its own even where two names differ only in signs."""
    plain = ["".join(c if c.isalnum() else "-" for c in name.lower()).strip("-") or "wall" for name in names]
    return [slug if plain.count(slug) == 1 else f"{slug}-{n}" for n, slug in enumerate(plain, start=1)]


def _drawings(pages: list[WallPages], unit: Unit) -> Iterator[tuple[str, bytes | str]]:
    for slug, page in zip(_slugs([page.wall.name for page in pages]), pages, strict=True):
        yield f"{slug}-existing.svg", to_svg(existing_sheet(page.plan.survey, unit=unit))
        yield f"{slug}-planned.svg", to_svg(planned_sheet(page.plan, unit=unit))
        yield f"{slug}-existing.dxf", existing_dxf(page.plan.survey, unit)
        yield f"{slug}-planned.dxf", planned_dxf(page.plan, unit)
    yield (
        "measured.csv",
        write_csv(MeasuredRow, [row for page in pages for row in measured_rows(page.plan.survey, unit)]),
    )
    yield "verdicts.csv", write_csv(VerdictRow, [row for page in pages for row in verdict_rows(page.plan)])
    yield (
        "electrician.csv",
        write_csv(ElectricianRow, [row for page in pages for row in electrician_rows(page.plan, unit)]),
    )
