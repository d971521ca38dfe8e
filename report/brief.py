"""The electrician's brief: which boxes are in the way, where each may go, and what is known behind it."""

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from capture.lengths import FOOT, Unit, show_length
from capture.record import TRAITS
from capture.survey import Feature
from layout.floorline import LEAST_SPACE, REACH
from layout.moves import height_of_the_others
from layout.plan import WallPlan
from layout.remedies import FREE_WIRE
from layout.setback import GRACE
from report.boxes import (
    CLEARS_NOWHERE,
    ElectricianRow,
    comes_forward,
    electrician_rows,
    hindered,
    spacing_rows,
    staying_rows,
)
from report.cautions import Touches, cautions
from report.crops import Crop, crop_of
from report.moves_sheet import moves_sheet
from report.numbers import in_the_way, numbers
from report.papers import Pictures, ReportFacts, WallPages, setting
from report.printing import to_pdf
from report.site_report import house_of
from report.tables import what
from report.wall_part import placed

CROP_WIDTH, CROP_HEIGHT = 2.1, 1.68  # paper inches


def electricians_brief(facts: ReportFacts, walls: Sequence[WallPages]) -> bytes:
    """The electrician's brief as a tagged PDF.

    Parameters
    ----------
    facts
        Who, where, when; unit and paper.
    walls
        The walls, room by room, in order round each.
    """
    pictures = Pictures()
    wired = [pages for pages in walls if _boxes(pages.plan)]
    parts = [_wall(pages, facts, pictures) for pages in wired]
    context = setting(facts, "Electrician’s brief", pictures) | {
        "foot": "Not a wiring plan. Power off and proved dead before a plate comes off.",
        "walls": parts,
        "moving": sum(len(part["cards"]) for part in parts),
        "in_the_way": _in_the_way([pages.plan for pages in walls]),
        "spacing": _spacing(walls, facts),
        "build_up": _build_up(facts),
        "rule": _rule(facts.unit),
        "cautions": cautions(facts.year_built, {Touches.WIRING, Touches.WALL}, house_of(facts, walls)),
    }
    return to_pdf("brief.html", context, pictures.packed())


def _boxes(plan: WallPlan) -> list[str]:
    return [feature.name for feature in plan.survey.features if TRAITS[feature.kind].wired]


def _in_the_way(plans: Sequence[WallPlan]) -> str:
    """Of all wired boxes together, how many are in the way."""
    wired = [(p, one) for p in plans for one in p.conflicts if TRAITS[p.survey.feature(one.feature).kind].wired]
    return in_the_way([one for _, one in wired], [one for plan, one in wired if one in plan.undecided])


def _wall(pages: WallPages, facts: ReportFacts, pictures: Pictures) -> dict[str, Any]:
    plan, unit = pages.plan, facts.unit
    rows = electrician_rows(plan, unit, facts.scheme)
    return {
        "name": plan.name,
        "ends": f"from {plan.survey.left} to {plan.survey.right}",
        "drawing": placed(lambda room: moves_sheet(plan, room, unit), facts),
        "cards": [
            {
                "row": row,
                "picture": _picture(pages, row.number, facts, pictures),
                "wanting": _wanting(row),
                "hindered": hindered(plan, _feature(pages, row.number).name),
                "height": _height(pages, row.number, unit),
                "forward": comes_forward(plan, _feature(pages, row.number).name),
            }
            for row in rows
        ],
        "staying": staying_rows(plan, unit, facts.scheme),
    }


def _height(pages: WallPages, number: str, unit: Unit) -> str:
    """At which height a box is wanted that moves."""
    feature = _feature(pages, number)
    usual = height_of_the_others(feature, pages.plan.survey)
    return "same height" if usual is None else f"{show_length(usual.value, unit)} high, as the others"


def _wanting(row: ElectricianRow) -> str:
    """What stands in the place of where a box is wanted, if nowhere."""
    return "stays" if row.may_stand == CLEARS_NOWHERE else row.may_stand


def crops_of(pages: WallPages, facts: ReportFacts) -> dict[str, Crop | None]:
    """The pictures that the brief shows of a wall's boxes, by number."""
    rows = electrician_rows(pages.plan, facts.unit, facts.scheme)
    return {row.number: _crop(pages, row.number, facts) for row in rows}


def _crop(pages: WallPages, number: str, facts: ReportFacts) -> Crop | None:
    """The box as the best photo shows it."""
    feature = _feature(pages, number)
    wanted = pages.plan.wanted.get(feature.name)
    return crop_of(feature, pages.photos, None if wanted is None else float(wanted), int(number))


def _feature(pages: WallPages, number: str) -> Feature:
    name = next(name for name, n in numbers(pages.plan.survey).items() if str(n) == number)
    return pages.plan.survey.feature(name)


def _picture(pages: WallPages, number: str, facts: ReportFacts, pictures: Pictures) -> dict[str, Any] | None:
    crop = _crop(pages, number, facts) if pages.crops is None else pages.crops[number]
    if crop is None:
        return None
    feature = _feature(pages, number)
    wanted = pages.plan.wanted.get(feature.name)
    alt = f"{what(feature.mark)} as photo {crop.photo} shows it, its outline drawn"
    alt += "." if wanted is None else f", and dashed where it is wanted, at {show_length(wanted, facts.unit)}."
    return pictures.add(crop.picture, CROP_WIDTH, CROP_HEIGHT, alt) | {"photo": crop.photo}


def _spacing(walls: Sequence[WallPages], facts: ReportFacts) -> list[dict[str, Any]]:
    """The receptacles along the floor line, room by room."""
    rooms = groupby(walls, key=lambda pages: pages.room)
    told = [{"room": room, "rows": spacing_rows([p.plan for p in pages], facts.unit)} for room, pages in rooms]
    return [one for one in told if one["rows"]]


def _rule(unit: Unit) -> dict[str, str]:
    """The lengths that the code asks for; inches and feet as they stand there."""
    if unit is Unit.INCH:
        return {"space": f"{LEAST_SPACE // FOOT} ft", "far": f"{REACH // FOOT} ft", "wire": f"{FREE_WIRE} in"}
    asked = {"space": LEAST_SPACE, "far": REACH, "wire": FREE_WIRE}
    return {name: show_length(length, unit) for name, length in asked.items()}


def _build_up(facts: ReportFacts) -> dict[str, str] | None:
    scheme = facts.scheme
    if scheme is None:
        return None
    field = scheme.build_up - scheme.thickness
    return {
        "wood": show_length(scheme.build_up, facts.unit),
        "field": show_length(field, facts.unit) if field else "",
        "top": show_length(scheme.top, facts.unit),
        "grace": show_length(GRACE, facts.unit),
    }
