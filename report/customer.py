"""The customer sheet: their own photo today and as planned, the schemes side by side, and what will change for them.

Here the plan becomes plain words and pictures; the template only sets them out.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from capture.lengths import Unit, show_length
from layout.paint import WORDS, srgb_of
from layout.plan import Plan, WallPlan
from report.board import LEFT, RIGHT, Room
from report.cardsheet import Paper
from report.cautions import SITE, Caution, cautions
from report.changes import changes, differs, in_short, moves_of, undecided
from report.papers import MARGIN, MOST_BYTES, Pictures, ReportFacts, WallPages, setting
from report.pictures import Source
from report.printing import to_pdf
from report.sheets import plan_width, planned_sheet
from report.site_report import house_of
from report.svg import to_svg
from report.typeset import long_date
from report.wall_part import DRAWING_HEIGHT

SHEET_WIDTH = 1600  # px of a picture: what `PRINT_DPI` asks for across a page
PIXEL = 0.1  # bytes that one takes as JPEG where walls are smooth, as most of the picture is
LARGE = 4.05  # in: two pictures and their words fill a page
COVER = 6.2
SMALL = 3.4
BESIDE = 0.25  # in: between two schemes
MOST_CAUTIONS = ("Wiring", "Lead paint", "Old joint compound", "Aluminium wiring", "Old wiring", "Dust")
DRAWN = "No photo of this wall could be measured, so there is no picture of the plan; the drawing shows it."

DASHED = "Dashed: where an outlet or switch is now."


@dataclass(frozen=True)
class BeforeAfter:
    """One photo of a wall today and as planned."""

    wall: str
    before: Source
    after: Source


@dataclass(frozen=True)
class SchemeShown:
    """One way to do it: its name, its plan, and its pictures."""

    name: str
    plan: Plan
    pictures: tuple[BeforeAfter, ...] = ()


def picture_width(walls: int, size: tuple[int, int]) -> int:
    """How wide the pictures of so many walls are made, px, of a photo of this width and height.

    Two of each wall are together to weigh no more than can be mailed. What weighs more after all is made coarser in the
    end; to make all of a house so fine first would take half as long again.
    """
    across, up = size
    pixels = MOST_BYTES / (2 * max(walls, 1) * PIXEL)
    return min(SHEET_WIDTH, max(1, int((pixels * across / up) ** 0.5)))


def customer_sheet(facts: ReportFacts, schemes: Sequence[SchemeShown], walls: Sequence[WallPages] = ()) -> bytes:
    """The customer sheet as a tagged PDF.

    Parameters
    ----------
    facts
        Who, where, when; unit and paper.
    schemes
        At least one, the one that is proposed first; its pictures are shown large, the first of each side by side.
    walls
        What is known of the walls, for the cautions.
    """
    paper, pictures = facts.sheet, Pictures()
    first = schemes[0]
    context = setting(facts, "Your walls, today and as planned", pictures) | {
        "visited": long_date(facts.visited) if facts.visited else "",
        "cover": _cover(first, paper, pictures),
        "in_short": in_short(first.plan),
        "walls": [_wall(wall, first, paper, pictures, facts.unit) for wall in first.plan.walls],
        "schemes": _side_by_side(schemes, paper, pictures),
        "sizes": _sizes(first.plan, facts.unit),
        "changes": changes(first.plan),
        "undecided": undecided(first.plan, facts.year_built),
        "colour": _colour(first.plan),
        "cautions": _cautions(facts, walls),
    }
    return to_pdf("customer_sheet.html", context, pictures.packed())


def _cover(scheme: SchemeShown, paper: Paper, pictures: Pictures) -> dict[str, Any] | None:
    if not scheme.pictures:
        return None
    shown = scheme.pictures[0]
    return pictures.add(
        shown.after, paper.width - 2 * MARGIN, COVER, f"The {shown.wall} as planned, laid into its photo."
    )


def _wall(wall: WallPlan, scheme: SchemeShown, paper: Paper, pictures: Pictures, unit: Unit) -> dict[str, Any]:
    width = paper.width - 2 * MARGIN
    shown = next((one for one in scheme.pictures if one.wall == wall.name), None)
    told: dict[str, Any] = {
        "name": wall.name,
        "title": wall.name[:1].upper() + wall.name[1:],
        "before": None,
        "after": None,
        "drawing": None,
        "why": wall.refused,
    }
    if shown is not None:
        told["before"] = pictures.add(shown.before, width, LARGE, f"The {wall.name} today, from a photo.")
        told["after"] = pictures.add(
            shown.after, width, LARGE, f"The same photo of the {wall.name}, with what is planned."
        )
    elif wall.frames:
        told["drawing"] = _drawn(wall, (width, DRAWING_HEIGHT), unit)
        told["why"] = f"{DRAWN} {DASHED}" if moves_of(wall) else DRAWN
    return told


def _drawn(wall: WallPlan, room: Room, unit: Unit) -> Markup:
    """The wall in lines, its boxes as the pictures of other walls have them."""
    places = {name: float(wall.wanted[name]) for name in moves_of(wall)}
    return Markup(to_svg(planned_sheet(wall, room, unit, crew=False, places=places)))


def _side_by_side(schemes: Sequence[SchemeShown], paper: Paper, pictures: Pictures) -> list[dict[str, Any]]:
    """Each scheme with one picture, all of the same photo, else all of one wall in lines; and what differs.

    Nothing where there is no choice.
    """
    if len(schemes) < 2:
        return []
    width, first = (paper.width - 2 * MARGIN - BESIDE) / 2, schemes[0].plan
    wall = None if all(scheme.pictures for scheme in schemes) else _telling_wall([scheme.plan for scheme in schemes])
    told: list[dict[str, Any]] = []
    for scheme in schemes:
        sentence, picture, drawing = in_short(scheme.plan), None, None
        if wall is not None:
            room = width + RIGHT - LEFT, SMALL
            drawing = _drawn(scheme.plan.wall(wall), room, first.scheme.unit)
        elif scheme.pictures:
            picture = pictures.add(scheme.pictures[0].after, width, SMALL, f"{scheme.name}: {sentence}")
        shown = {"picture": picture, "drawing": drawing, "wall": wall, "differs": differs(first, scheme.plan)}
        told.append(shown | {"name": scheme.name, "sentence": sentence})
    return told


def _telling_wall(plans: Sequence[Plan]) -> str | None:
    """The widest wall that is planned in every way, of those whose panels differ if any do."""
    telling: dict[str, tuple[bool, float]] = {}
    for name in [wall.name for wall in plans[0].walls]:
        frames = {plan.wall(name).frames for plan in plans}
        if all(frames):
            telling[name] = len(frames) > 1, plan_width(plans[0].wall(name))
    return max(telling, key=lambda name: telling[name], default=None)


def _sizes(plan: Plan, unit: Unit) -> list[str]:
    scheme = plan.scheme
    stands_out = show_length(
        scheme.build_up + max(scheme.cap_projection, scheme.ledge_projection * bool(scheme.ledge)), unit
    )
    return [
        f"The woodwork reaches {show_length(scheme.top, unit)} above the floor.",
        f"Its cap stands {stands_out} out from the wall: so much further off stands the furniture.",
    ]


def _colour(plan: Plan) -> dict[str, str]:
    """The colour's name and a patch of it; grey print shows a patch that differs from the paper by its frame."""
    paint = plan.scheme.paint
    red, green, blue = srgb_of(paint)
    return {"name": paint, "patch": f"#{red:02x}{green:02x}{blue:02x}", "digits": WORDS.get(paint, paint)}


def _cautions(facts: ReportFacts, walls: Sequence[WallPages]) -> list[Caution]:
    told = cautions(facts.year_built, SITE, house_of(facts, walls))
    return [caution for caution in told if caution.heading in MOST_CAUTIONS]
