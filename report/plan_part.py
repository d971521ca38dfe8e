"""What is planned on one wall, for the site report: the drawing, what is in the way, what could be done."""

from collections.abc import Mapping
from typing import Any

from capture.record import Kind
from layout.plan import WallPlan
from layout.remedies import Remedy
from layout.scheme import Scheme
from report.boxes import decision
from report.numbers import by_number, in_the_way
from report.overlay import overlay
from report.papers import Pictures, ReportFacts, WallPages, legend, sign
from report.pictures import Source
from report.sheets import planned_sheet
from report.tables import verdict_rows
from report.views import framed_in
from report.wall_part import placed

COVER_HEIGHT, COVER_LOW, COVER_LEAST = 4.6, 3.0, 2.0  # paper inches; the lower where a list of many walls follows
LINE = 0.27  # paper inches that a wall takes in that list
MANY = 4  # walls


def plan_part(pages: WallPages, facts: ReportFacts) -> dict[str, Any]:
    """All that the template shows of a wall's plan."""
    plan = pages.plan
    noted = [*plan.notes, *_run_notes(plan), *plan.assumed]
    return {
        "name": plan.name,
        "refused": plan.refused,
        "drawing": placed(lambda room: planned_sheet(plan, room, facts.unit), facts) if plan.frames else None,
        "moving": bool(plan.moves),
        "signs": legend({judgement.verdict for judgement in plan.judgements}),
        "counts": _other_counts(plan),
        "in_the_way": in_the_way(plan.conflicts, plan.undecided),
        "things": _things(plan, facts.scheme),
        "notes": [note for note in dict.fromkeys(noted) if note != plan.refused],
    }


def _run_notes(plan: WallPlan) -> list[str]:
    several = len(plan.runs) > 1
    return [f"{run.part}: {note}" if several else note for run in plan.runs for note in run.notes]


def _other_counts(plan: WallPlan) -> list[Remedy]:
    """What another number of panels would leave in the way, the least first."""
    ways = (remedy for remedies in plan.remedies.values() for remedy in remedies if remedy.count is not None)
    return sorted(dict.fromkeys(ways), key=lambda remedy: remedy.conflicts_left)


def _things(plan: WallPlan, scheme: Scheme | None) -> list[dict[str, Any]]:
    """Everything judged, by number, with what could be done about it alone."""
    return [
        {
            "row": row,
            "sign": sign(row.verdict),
            "conflict": judgement.verdict.conflict,
            "decided": decision(plan, judgement.feature, scheme),
            "ways": [way for way in plan.remedies.get(judgement.feature, ()) if way.count is None],
        }
        for row, judgement in zip(verdict_rows(plan), by_number(plan), strict=True)
    ]


# The planned frames on a photo, for the cover.


def cover_picture(
    walls: list[WallPages], composed: Mapping[str, Source], facts: ReportFacts, pictures: Pictures
) -> dict[str, Any] | None:
    """The customer's picture of the wall with most frames; else the frames drawn on the photo that shows most of them.

    `composed` has the picture of a wall as planned by the wall's name.
    """
    ready = [pages for pages in walls if pages.plan.name in composed]
    if not ready:
        return _drawn_on_photo(walls, facts, pictures)
    plan = max(ready, key=lambda pages: _framed(pages.plan)).plan
    return pictures.add(composed[plan.name], facts.column, _cover_height(walls), f"{plan.name} {_planned(plan)}")


def _cover_height(walls: list[WallPages]) -> float:
    """As low as leaves room for the list of walls and the house on the first page, if that is not too low."""
    if len(walls) < MANY:
        return COVER_HEIGHT
    left = COVER_LOW - LINE * (len(walls) - MANY)
    return left if left >= COVER_LEAST else COVER_LOW


def _framed(plan: WallPlan) -> float:
    """Inches of wall that the planned frames cover."""
    return sum(float(frame.rect.right - frame.rect.left) for frame in plan.frames)


def _planned(plan: WallPlan) -> str:
    panels = sum(frame.count for frame in plan.frames)
    return f"with the planned wainscot drawn on it: {panels} panels, {in_the_way(plan.conflicts, plan.undecided)}."


def _drawn_on_photo(walls: list[WallPages], facts: ReportFacts, pictures: Pictures) -> dict[str, Any] | None:
    """The photo that shows most of the planned frames, with the frames drawn on it; else the first photo there is."""
    seen = [
        (framed_in(page.camera, pages.plan) if page.camera else 0.0, page, pages)
        for pages in walls
        for page in pages.photos
    ]
    if not seen:
        return None
    share, page, pages = max(seen, key=lambda choice: choice[0])
    height = _cover_height(walls)
    name = f"Photo {page.photo.name} of {pages.plan.name}"
    if page.printed:  # what is planned would have been drawn on the photo, not on its print
        return pictures.add(page.clean or page.source, facts.column, height, f"{name}.")
    small = page.for_print(min(facts.column, height * page.size[0] / page.size[1]))
    if share <= 0 or small.camera is None:
        return pictures.add(small.source, facts.column, height, f"{name}.")
    factor = small.picture.width / page.size[0]
    outlines = [
        [((s.u + 0.5) * factor - 0.5, (s.v + 0.5) * factor - 0.5) for s in mark.sights if s.photo == page.photo.name]
        for mark in pages.wall.marks
        if mark.kind is Kind.IN_FRONT
    ]
    scheme = facts.scheme or Scheme()
    picture = overlay(small.picture, small.camera, pages.plan, outlines, float(scheme.behind), scheme.paint)
    return pictures.add(picture, facts.column, height, f"{name} {_planned(pages.plan)}")
