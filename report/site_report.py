"""The site report: what stands on the walls, signed for; then what is planned there and what is in the way.

Here the numbers become words and pictures; the templates only set them out.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from capture.lengths import Unit, show_length
from capture.record import TRAITS, Kind
from capture.survey import Finding
from layout.plan import WallPlan
from layout.verdicts import Verdict
from report.cautions import SITE, House, Touches, cautions
from report.conditions import of_house
from report.papers import PhotoPage, Pictures, ReportFacts, WallPages, legend, setting
from report.pictures import Source
from report.plan_part import cover_picture, plan_part
from report.printing import to_pdf
from report.typeset import when
from report.wall_part import told_findings, wall_part

FEW = 3  # walls that need no contents
RECORD_HEIGHT = 2.6  # paper inches


def site_report(
    facts: ReportFacts,
    walls: Sequence[WallPages],
    record_photos: Sequence[PhotoPage] = (),
    findings: Sequence[Finding] = (),
    composed: Mapping[str, Source] | None = None,
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
    composed
        The customer's pictures of walls as planned, by the wall's name; the cover shows one of them.
    """
    pictures = Pictures()
    context = setting(facts, "Site report", pictures) | {
        "cover": cover_picture(list(walls), composed or {}, facts, pictures),
        "walls": [wall_part(pages, facts, pictures) | {"number": n} for n, pages in enumerate(walls, 1)],
        "plans": [plan_part(pages, facts) for pages in walls],
        "summary": [_summary(pages.plan, facts.unit) for pages in walls],
        "contents": len(walls) > FEW,
        "house": of_house(facts.conditions, facts.year_built, facts.unit),
        "findings": told_findings(findings),
        "record_photos": [_record(page, facts, pictures) for page in record_photos],
        "photo_log": _photo_log(walls, record_photos),
        "cautions": cautions(facts.year_built, touched(walls), house_of(facts, walls)),
        "legend": legend(Verdict),
        "sizes": _sizes(facts),
    }
    return to_pdf("site_report.html", context, pictures.packed())


def touched(walls: Sequence[WallPages]) -> set[Touches]:
    """What a reader of the papers about these walls will lay hands on."""
    heaters = any(f.kind is Kind.HEATER for pages in walls for f in pages.plan.survey.features)
    return {*SITE, *([Touches.HEATER] if heaters else [])}


def house_of(facts: ReportFacts, walls: Sequence[WallPages]) -> House:
    """What is known of the house by its walls' checklists and the marks of its boxes."""
    told = [pages.wall.conditions.in_house(facts.conditions) for pages in walls] or [facts.conditions]
    marks = [f.mark for pages in walls for f in pages.plan.survey.features if TRAITS[f.kind].wired]
    return House.of(facts.year_built, told, [mark.wiring for mark in marks if mark.wiring is not None])


def _summary(plan: WallPlan, unit: Unit) -> dict[str, Any]:
    things, conflicts, undecided = len(plan.judgements), len(plan.conflicts), len(plan.undecided)
    return {
        "name": plan.name,
        "width": plan.survey.width.show(unit) if plan.survey.width else "not measured",
        "panels": " + ".join(str(frame.count) for frame in plan.frames) or "none",
        "things": things,
        "free": things - conflicts,
        "conflicts": conflicts,
        "decided": conflicts - undecided,
        "undecided": undecided,
    }


def _record(page: PhotoPage, facts: ReportFacts, pictures: Pictures) -> dict[str, Any]:
    words = ". ".join(part for part in (page.photo.name, page.photo.caption, page.note) if part)
    shown = page if page.printed else recorded(page, facts)
    figure = pictures.add(shown.source, _record_width(facts), RECORD_HEIGHT, f"Photo {words}")
    return figure | {"words": f"{words} ({page.wall + ', ' if page.wall else ''}{when(page.taken)})"}


def recorded(page: PhotoPage, facts: ReportFacts) -> PhotoPage:
    """A photo that documents a condition, as it is printed."""
    width, height = page.size
    small = page.for_print(min(_record_width(facts), RECORD_HEIGHT * width / height))
    return replace(small, whole=page.size, printed=True)


def _record_width(facts: ReportFacts) -> float:
    return (facts.column - 0.3) / 2


def _photo_log(walls: Sequence[WallPages], record_photos: Sequence[PhotoPage]) -> list[dict[str, str]]:
    of_walls = [(page, pages.plan.name) for pages in walls for page in pages.photos]
    return [
        {
            "name": page.photo.name,
            "file": page.photo.file,
            "wall": wall,
            "taken": when(page.taken),
            "size": "{} × {}".format(*page.size),
            "use": "record" if page.photo.record_only else "measured" if page.camera else "not measured",
        }
        for page, wall in (*of_walls, *((page, page.wall or "record") for page in record_photos))
    ]


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
