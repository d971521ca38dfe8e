"""What a plan changes for the people who live there, in their words: what moves, who does it, what is not decided."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from capture.lengths import show_length
from capture.record import TRAITS, Kind
from capture.survey import Feature
from layout.plan import Plan, WallPlan
from layout.scheme import Pin, Scheme
from layout.verdicts import Verdict
from report.numbers import by_number

AT_HOME = {
    Kind.RECEPTACLE: "outlet",
    Kind.SWITCH: "light switch",
    Kind.THERMOSTAT: "thermostat",
    Kind.REGISTER: "heating vent",
    Kind.RETURN_GRILLE: "air grille",
    Kind.JACK: "phone or data socket",
    Kind.HEATER: "baseboard heater",
    Kind.ACCESS_PANEL: "access panel",
}
# What one sees of a scheme, as one would call it at home; how panels are divided shows in their number and width.
SEEN = {
    "paint": "colour",
    "top": "top above the floor",
    "middle_rail_at": "rail between two rows of panels, above the floor",
    "panel": "inside the panels",
    "moulding": "moulding in the panels",
    "reveal": "moulding set in by",
    "cap": "cap",
    "cap_projection": "cap stands out by",
    "ledge": "ledge on the cap",
    "ledge_projection": "ledge stands out by",
    "stile": "upright boards",
    "end_stile": "upright boards at the ends",
    "top_rail": "board along the top",
    "middle_rail": "board between the rows",
    "bottom_rail": "board along the bottom",
    "base": "new baseboard",
    "thickness": "boards, how thick",
}
WHO = "A licensed electrician does this where the law asks for one."
ROUGHLY = Fraction(1, 4)  # inches: as near as a sentence for the customer goes
FEW = 6  # walls that one sentence names


@dataclass(frozen=True)
class Change:
    """One thing on a wall and what becomes of it."""

    wall: str
    what: str  # such as “the outlet 32" from the left corner”
    becomes: str
    who: str = ""


def moves_of(plan: WallPlan) -> dict[str, Fraction]:
    """Which boxes go elsewhere, and how far to the right, inches: where each is wanted beside the others.

    What is too close to tell stays until it has been taped, or until it is decided that it moves.
    """
    doubtful = _doubtful(plan)
    by = {name: plan.wanted_by(name) for name in plan.wanted if name not in doubtful}
    return {name: far for name, far in by.items() if far is not None}


def _doubtful(plan: WallPlan) -> list[str]:
    """What is to be taped before anything can be decided."""
    return [judgement.feature for judgement in plan.undecided if judgement.verdict is Verdict.TOO_CLOSE]


def shifts_of(plan: Plan) -> dict[str, dict[str, float]]:
    """How far boxes go to the right, inches, by wall and name."""
    return {wall.name: {name: float(by) for name, by in moves_of(wall).items()} for wall in plan.walls}


def changes(plan: Plan) -> list[Change]:
    """Everything on the walls that moves or is built round, in the order of the room."""
    return [change for wall in plan.walls for change in _of_wall(wall, plan.scheme)]


def _of_wall(plan: WallPlan, scheme: Scheme) -> Iterator[Change]:
    moves, doubtful = moves_of(plan), _doubtful(plan)
    for judgement in by_number(plan):
        feature = plan.survey.feature(judgement.feature)
        if feature.name in moves:
            yield _moved(plan, feature, moves[feature.name], scheme)
        elif judgement.verdict.conflict and feature.name not in doubtful:
            yield _stays(plan, feature, scheme)


def _moved(plan: WallPlan, feature: Feature, by: Fraction, scheme: Scheme) -> Change:
    side = "right" if by > 0 else "left"
    about = show_length(abs(by), scheme.unit, ROUGHLY)
    return Change(plan.name, named(feature, scheme), f"moves about {about} to the {side}, at the same height", WHO)


def _stays(plan: WallPlan, feature: Feature, scheme: Scheme) -> Change:
    wired = TRAITS[feature.kind].wired
    pin = None if feature.name in plan.vain else scheme.pin(plan.name, feature.name)
    becomes = {
        Pin.EXTEND: "stays where it is; its box is brought forward to the new surface",
        Pin.BLOCK_OUT: "stays where it is, on a flat block of its own",
    }.get(pin or Pin.CLEAR, "stays where it is; the woodwork is fitted round it")
    return Change(plan.name, named(feature, scheme), becomes, WHO if wired else "")


def named(feature: Feature, scheme: Scheme) -> str:
    """A thing as one would point at it: what it is and how far from the left."""
    what = AT_HOME.get(feature.kind, feature.name)
    if feature.across is None:
        return f"the {what}"
    return f"the {what} {show_length(feature.across.value, scheme.unit, Fraction(1))} from the left"


def undecided(plan: Plan, year_built: int | None) -> list[str]:
    """What nobody has decided or read yet, a sentence each."""
    told = [sentence for wall in plan.walls for sentence in _open(wall, plan.scheme)]
    if not plan.scheme.base:
        told.append("Your present baseboard: the picture shows the new woodwork down to the floor in its place.")
    told.append("The colour: what a screen or a printer shows is near it only. Decide by a painted sample in the room.")
    if year_built is None or year_built < 1978:
        since = "the year your house was built is not known" if year_built is None else f"built in {year_built}"
        told.append(f"Old paint: {since}, so it is tested for lead before anyone sands or scrapes.")
    return told


def _open(plan: WallPlan, scheme: Scheme) -> Iterator[str]:
    moves, undecided = moves_of(plan), {judgement.feature for judgement in plan.undecided}
    for judgement in by_number(plan):
        what = named(plan.survey.feature(judgement.feature), scheme)
        if judgement.feature not in undecided:
            continue
        if judgement.feature in moves:
            yield f"Whether {what} on the {plan.name} can move: who does it looks into the wall first."
        elif judgement.verdict is Verdict.TOO_CLOSE:
            yield f"Whether {what} on the {plan.name} can stay: too close to tell, so it is measured once more first."
        else:
            yield f"How the woodwork is fitted round {what} on the {plan.name}."
    if plan.refused:
        yield f"The {plan.name} is not planned yet: {plan.refused}"


def in_short(plan: Plan) -> str:
    """A scheme in one plain sentence: how many panels, how wide, and what has to move."""
    walls = [wall for wall in plan.walls if wall.frames]
    counts = [f"{_panels([wall])} on the {wall.name}" for wall in walls]
    if len(walls) > FEW:
        counts = [f"{_panels(walls)} on {len(walls)} walls"]
    moved = sum(len(moves_of(wall)) for wall in plan.walls)
    tiers = "two rows of panels: " if plan.scheme.middle_rail_at else ""
    boxes = (
        "nothing has to move"
        if not moved
        else "1 outlet or switch moves"
        if moved == 1
        else f"{moved} outlets or switches move"
    )
    built = "; ".join(counts) or "nothing is planned"
    told = f"{tiers}{built}; {boxes}."
    return told[:1].upper() + told[1:]


def differs(first: Plan, other: Plan) -> list[str]:
    """What one sees of a way otherwise than of the first, such as “Colour: navy, not white.”."""
    changed = [
        (words, _worded(other.scheme, key), _worded(first.scheme, key))
        for key, words in SEEN.items()
        if getattr(other.scheme, key) != getattr(first.scheme, key)
    ]
    wide, was = _panel_widths(other), _panel_widths(first)
    if wide != was:
        changed.append(("panels, how wide", wide, was))
    return [f"{words[:1].upper()}{words[1:]}: {now}, not {before}." for words, now, before in changed]


def _worded(scheme: Scheme, key: str) -> str:
    value = getattr(scheme, key)
    return (scheme.show(value) if value else "none") if isinstance(value, Fraction) else str(value)


def _panel_widths(plan: Plan) -> str:
    """From the narrowest to the widest, roughly."""
    widths = [w for wall in plan.walls for frame in wall.frames for w in frame.spacing.openings(plan.scheme)]
    told = [show_length(width, plan.scheme.unit, ROUGHLY) for width in (min(widths), max(widths))] if widths else []
    return " to ".join(dict.fromkeys(told)) or "none"


def _panels(walls: Sequence[WallPlan]) -> str:
    count = sum(frame.count for wall in walls for frame in wall.frames)
    return "1 panel" if count == 1 else f"{count} panels"
