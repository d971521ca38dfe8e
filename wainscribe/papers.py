"""All papers and drawings of a job, made anew into a folder."""

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import chain, count
from pathlib import Path

from capture.lengths import Unit
from capture.record import Room, Wall
from capture.survey import Finding
from layout.plan import Plan
from layout.shop import Shop
from report.boxes import ElectricianRow, electrician_rows
from report.brief import electricians_brief
from report.customer import SchemeShown, customer_sheet
from report.dxf import existing_dxf, planned_dxf
from report.papers import PhotoPage, ReportFacts, WallPages
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
from wainscribe.customer import Shot, schemes_of, schemes_shown, shots_of
from wainscribe.disk import plain_disk_errors, write_whole
from wainscribe.folder import JobFolder
from wainscribe.job import Job
from wainscribe.logo import read_logo
from wainscribe.pictured import Pictured, Wanted, pictured
from wainscribe.workers import Workers, let_go


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
PAPERS: dict[str, Callable[[Readied], Made]] = {
    "site-report.pdf": lambda job: site_report(job.facts, job.pages, job.records, job.findings, job.composed),
    "electricians-brief.pdf": lambda job: electricians_brief(job.facts, job.pages),
    "customer-sheet.pdf": lambda job: customer_sheet(job.facts, job.schemes, job.pages),
    "shop-sheet.pdf": lambda job: shop_sheet(job.shop, job.facts, job.pages),
}
NEEDED = (__name__, "report.pdf")  # modules that looking and setting take
PATIENCE = 10.0  # s for each material's boards: twice the usual, for meanwhile others look at photos
LONG = ("site-report.pdf", "shop-sheet.pdf")  # begun first, so that all end together
WITH_PHOTOS = ("site-report.pdf",)  # shows photos and elevations whole
WITH_SCHEMES = ("site-report.pdf", "customer-sheet.pdf")  # show what is planned in a photo
TABLES: dict[str, Callable[[Readied], Made]] = {
    "plan.json": lambda job: json.dumps(told.planned(job.plan), indent=1),
    "cuts.json": lambda job: json.dumps(told.cuts(job.shop), indent=1),
    "measured.csv": lambda job: write_csv(MeasuredRow, _measured(job)),
    "verdicts.csv": lambda job: write_csv(VerdictRow, [row for page in job.pages for row in verdict_rows(page.plan)]),
    "electrician.csv": lambda job: write_csv(ElectricianRow, _electrician(job)),
    "cut-list.csv": lambda job: write_csv(PieceRow, piece_rows(job.shop)),
    "running.csv": lambda job: write_csv(RunningRow, running_rows(job.shop)),
    "heights.csv": lambda job: write_csv(HeightRow, height_rows(job.shop)),
    "take-off.csv": lambda job: write_csv(TakeOffRow, take_off_rows(job.shop)),
    "boards.csv": lambda job: write_csv(BoardRow, board_rows(job.shop)),
}

# The same for every wall; the file's name begins with the wall's.
DRAWINGS: tuple[tuple[str, Callable[[WallPages, Readied], Made]], ...] = (
    ("existing.svg", lambda page, job: to_svg(existing_sheet(page.plan.survey, unit=job.unit))),
    ("planned.svg", lambda page, job: to_svg(planned_sheet(page.plan, unit=job.unit))),
    ("existing.dxf", lambda page, job: existing_dxf(page.plan.survey, job.unit)),
    ("planned.dxf", lambda page, job: planned_dxf(page.plan, job.unit)),
)


def make_papers(folder: JobFolder, output: Path, tell: Tell, processes: int | None = None) -> list[Path]:
    """Make every paper and drawing of a job; the files made, the site report first.

    Parameters
    ----------
    folder, output
        The job, and where the files go.
    tell
        Told how far it is.
    processes
        To share the work out to; None is one for each processor.
    """
    folder.load()  # where no job is, no folder is made
    with plain_disk_errors(output):  # known before the long work, not after it
        output.mkdir(parents=True, exist_ok=True)
    files = _made(folder, tell, processes)
    with plain_disk_errors(output):
        for name, data in files.items():
            write_whole(output / name, data)
    return [output / name for name in files]


def _made(folder: JobFolder, tell: Tell, processes: int | None) -> dict[str, Made]:
    """Every file by name; tables are written here while others set papers.

    Papers are set by new processes, which hold no memory from looking at photos.
    """
    job = ready(folder, tell, processes)
    let_go()
    with Workers(processes, NEEDED) as setters:
        setting = {
            name: setters.start(_set, name, _needed(name, job))
            for name in sorted(PAPERS, key=lambda name: name not in LONG)
        }
        written = {name: make(job) for name, make in TABLES.items()} | dict(_drawings(job))
        papers: dict[str, Made] = {}
        for name in PAPERS:
            tell(f"setting {name}")
            papers[name] = setting.pop(name)()
    return papers | written


def ready(folder: JobFolder, tell: Tell, processes: int | None = None) -> Readied:
    """Solve and plan the job, and make its pictures; boards are packed here while others look at photos."""
    job = folder.load()
    with Workers(processes, NEEDED) as lookers:  # they are made ready while walls are measured here
        solved, plan = plan_job(folder, job, tell)
        for refusal in [wall.refused for wall in plan.walls if wall.refused]:
            tell(f"warning: {refusal}")
        schemes, shots, facts = schemes_of(job, solved, plan), shots_of(solved, plan), _facts(folder, job)
        wanted = _wanted(folder, facts, job, solved, schemes, shots)
        names = [one.name for one in wanted]
        pictures = [lookers.start(pictured, one) for one in wanted]
        readied = _readied(facts, job, solved, plan, tell)
        del solved, wanted  # a house of solutions
        let_go()
        return _with_pictures(readied, _called(pictures, names, tell), schemes, shots)


def _called(pictures: list[Callable[[], Pictured]], names: Sequence[str], tell: Tell) -> list[Pictured]:
    """The pictures of all walls as they come; what is done with is let go of."""
    found = []
    for name in names:
        tell(f"drawing {name}")
        found.append(pictures.pop(0)())
    return found


def _set(name: str, job: Readied) -> Made:
    """Set one paper, in whichever process."""
    return PAPERS[name](job)


def _needed(name: str, job: Readied) -> Readied:
    """What a paper is made from, to be handed to another process without the pictures that it does not show."""
    if name not in WITH_SCHEMES:
        job = replace(job, schemes=())
    if name not in WITH_PHOTOS:
        job = replace(job, records=(), pages=tuple(replace(page, photos=(), elevation=None) for page in job.pages))
    return job


def _readied(facts: ReportFacts, job: Job, solved: Sequence[SolvedWall], plan: Plan, tell: Tell) -> Readied:
    """All but the pictures."""
    steps = what_next(solved, plan)
    pages = (
        WallPages(
            one.wall,
            plan.wall(one.wall.name),
            steps=tuple(step for step in steps if step.wall == one.wall.name),
            room=_room(job, one.wall).name,
        )
        for one in solved
    )
    findings = (f for wall in solved for f in wall.findings if f not in wall.measured.survey.findings)
    tell("packing pieces into boards")
    return Readied(facts, tuple(pages), (), tuple(findings), plan, (), gather(job, plan, PATIENCE))


def _with_pictures(
    job: Readied, made: Sequence[Pictured], schemes: Sequence[tuple[str, Plan]], shots: Sequence[Shot]
) -> Readied:
    pages = tuple(
        replace(page, photos=one.photos, elevation=one.elevation, crops=one.crops)
        for page, one in zip(job.pages, made, strict=True)
    )
    shown = {page.wall.name: one.schemes for page, one in zip(pages, made, strict=True)}
    records = tuple(record for one in made for record in one.records)
    return replace(job, pages=pages, records=records, schemes=schemes_shown(schemes, shots, shown))


def _wanted(
    folder: JobFolder,
    facts: ReportFacts,
    job: Job,
    solved: Sequence[SolvedWall],
    schemes: Sequence[tuple[str, Plan]],
    shots: Sequence[Shot],
) -> list[Wanted]:
    """What is asked for of every wall: side by side all schemes show the same wall, the others the plan alone.

    Where no photo shows anything planned, the first one is for the cover.
    """
    by_name = {one.wall.name: one for one in solved}
    found: list[Wanted] = []
    photos = {shot.wall: shot.photo for shot in shots}
    for one in solved:
        walls = [wall.name for wall in _room(job, one.wall).walls]
        photo, first = photos.get(one.wall.name, ""), bool(shots) and shots[0].wall == one.wall.name
        plans = [_of_room(plan, walls) for _, plan in schemes]
        found.append(
            Wanted(
                folder.path,
                facts,
                [by_name[name] for name in walls],
                walls.index(one.wall.name),
                plans[0],
                photo=photo,
                schemes=plans if first else plans[: 1 if photo else 0],
                among=len(shots),
                cover="" if shots or any(other.cover for other in found) else _first_photo(one.wall),
            )
        )
    return found


def _first_photo(wall: Wall) -> str:
    return next((photo.name for photo in wall.photos if not photo.record_only), "")


def _of_room(plan: Plan, walls: Sequence[str]) -> Plan:
    return Plan(plan.scheme, tuple(plan.wall(name) for name in walls))


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


def _room(job: Job, wall: Wall) -> Room:
    return next(room for room in job.rooms if wall.name in [one.name for one in room.walls])


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
    found: list[str] = []
    for slug in plain:
        tried = chain([slug] if plain.count(slug) == 1 else [], (f"{slug}-{n}" for n in count(1)))
        found.append(next(name for name in tried if name not in found and (name == slug or name not in plain)))
    return found
