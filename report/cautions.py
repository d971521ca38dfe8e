"""What a careful trade says before anyone cuts: by what the paper touches, the year built, and what was marked.

Sources: 40 CFR 745 (lead paint, houses built before 1978); 16 CFR 1304 (consumer patching compounds with respirable
asbestos banned from January 1978; older stock was used up later, hence 1980); CPSC Publication 516 (aluminium branch
wiring, 1965 to 1973); 29 CFR 1910.333(b)(2)(iv) and NFPA 70E article 120.5 (prove dead, check the tester before and
after); 29 CFR 1910.213(c) and (s)(9) (guard and spreader of a ripsaw, push sticks; from memory). On which side of the
blade a narrow strip lies is common practice.
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from enum import Enum, auto

from capture.record import Conditions, Suspect, Wiring

LEAD_PAINT = range(0, 1978)
OLD_COMPOUND = range(0, 1980)
ALUMINIUM = range(1965, 1974)
OLD_WIRING = range(0, 1965)


class Touches(Enum):
    """What the reader of a paper will lay hands on."""

    WIRING = auto()
    WALL = auto()  # its paint, its compound, and what is in it
    SAWS = auto()
    HEATER = auto()


SITE = frozenset({Touches.WIRING, Touches.WALL})


@dataclass(frozen=True)
class House:
    """What is known of the house that a caution may turn on."""

    year_built: int | None = None
    paint: Suspect | None = None
    compound: Suspect | None = None
    wiring: Collection[Wiring] = field(default_factory=frozenset)  # wherever anybody looked

    @classmethod
    def of(cls, year_built: int | None, conditions: Collection[Conditions], wiring: Collection[Wiring]) -> "House":
        """The house by the conditions of all its walls, the worst of them, and what was marked of its cable."""
        told = {*wiring, *(c.wiring for c in conditions if c.wiring is not None)}
        return cls(year_built, _worst(c.paint for c in conditions), _worst(c.compound for c in conditions), told)


def _worst(told: Iterator[Suspect | None]) -> Suspect | None:
    """What was found beats what is suspected; tested free counts only where every wall says so."""
    all_told = set(told)
    order = (Suspect.FOUND, Suspect.SUSPECTED, None, Suspect.FREE)
    return next((one for one in order if one in all_told), None)


@dataclass(frozen=True)
class Caution:
    """A heading and what to do, in plain words."""

    heading: str
    text: str


WIRING = (
    Caution(
        "Wiring",
        "This is not a wiring plan and no permit drawing. Before a plate comes off: switch the power off at the panel, "
        "keep it off, and prove each box dead with a contact tester that is checked on a live source before and after. "
        "Pens that light up without touching prove nothing. Until then every wire counts as live.",
    ),
    Caution(
        "Who does it",
        "Boxes are moved, extended and wired by a licensed electrician where that is required. Local code and the "
        "authority having jurisdiction decide; sections named here are from NEC 2023 and may differ from what is "
        "adopted locally.",
    ),
)
INSIDE = Caution(
    "Inside the wall",
    "Nothing in this paper says what is in the wall. Cable in a finished wall may lie anywhere, and so may gas and "
    "water. Nothing here asks anyone to cut into a wall before power is off and proved dead, and paint and "
    "compound are known to be safe to disturb. Fire-rated walls stay whole unless the rated detail is followed.",
)
DUST = Caution(
    "Dust",
    "Wood and MDF dust harms lungs: extract it where it is made, wear a mask made for it, and keep it from the "
    "rest of the house.",
)
SAWS = Caution(
    "Narrow rips and bevels",
    "Narrow strips kick back and draw hands in. Rip them from a wide board with the strip on the far side of the blade "
    "from the fence, guard and riving knife on, a push stick in hand; bevel before the strip is ripped off. Unplug the "
    "saw to tilt or change the blade. Eyes and ears protected.",
)
HEATER = Caution(
    "Heat",
    "Wood keeps the distance from a heater that its maker's instructions give; the distance planned here is no rule.",
)
LEAD = Caution(
    "Lead paint",
    "Houses built before 1978 may carry lead paint. Paid work that disturbs it falls under the EPA's "
    "Renovation, Repair and Painting rule (40 CFR 745): certified firm, certified renovator, lead-safe work, "
    "or a test that finds none. No dry sanding or scraping before that is settled.",
)
COMPOUND = Caution(
    "Old joint compound",
    "Joint and patching compound of walls finished before about 1980 may hold asbestos. Have it tested before "
    "anyone sands, scrapes, drills or cuts it.",
)
ALUMINIUM_WIRE = Caution(
    "Aluminium wiring",
    "Homes built, added to or rewired from 1965 to 1973 may have aluminium branch wiring (CPSC Publication "
    "516). Connections can overheat: an electrician trained for it looks at every box before it is touched.",
)
OLD_WIRE = Caution(
    "Old wiring",
    "Wiring of that age may be brittle or ungrounded, and what was added from 1965 to 1973 may be aluminium. "
    "An electrician looks before boxes are moved.",
)
SUSPECTED, FOUND = "It is suspected on this job.", "It WAS FOUND on this job: nobody disturbs it without a plan."


def cautions(
    year_built: int | None, touches: Collection[Touches] = SITE, house: House | None = None
) -> tuple[Caution, ...]:
    """The cautions of one paper, and no others.

    Parameters
    ----------
    year_built
        Of the house; where it is not known the house is taken as old.
    touches
        What the reader of the paper will lay hands on.
    house
        What else is known of it; None is nothing.
    """
    house = house or House(year_built)
    told: list[Caution] = []
    if Touches.WIRING in touches:
        told += [*WIRING, *_wires(year_built, house.wiring)]
    if Touches.WALL in touches:
        told += [INSIDE, *_suspect(LEAD, LEAD_PAINT, year_built, house.paint)]
        told += _suspect(COMPOUND, OLD_COMPOUND, year_built, house.compound)
    if Touches.HEATER in touches:
        told.append(HEATER)
    if Touches.SAWS in touches:
        told.append(SAWS)
    return (*told, DUST) if {Touches.WALL, Touches.SAWS} & set(touches) else tuple(told)


def _since(year_built: int | None) -> str:
    return "The year built is not known." if year_built is None else f"Built {year_built}."


def _wires(year_built: int | None, wiring: Collection[Wiring]) -> Iterator[Caution]:
    if Wiring.ALUMINIUM in wiring:
        yield Caution(ALUMINIUM_WIRE.heading, f"It was seen on this job. {ALUMINIUM_WIRE.text}")
    elif year_built is None or year_built in ALUMINIUM:
        yield Caution(ALUMINIUM_WIRE.heading, f"{_since(year_built)} {ALUMINIUM_WIRE.text}")
    if Wiring.KNOB_AND_TUBE in wiring:
        yield Caution(OLD_WIRE.heading, f"Knob and tube was seen on this job. {OLD_WIRE.text}")
    elif year_built in OLD_WIRING:
        yield Caution(OLD_WIRE.heading, f"{_since(year_built)} {OLD_WIRE.text}")


def _suspect(caution: Caution, years: range, year_built: int | None, known: Suspect | None) -> Iterator[Caution]:
    """Told by the year, or because it is suspected or was found; not where a test found none."""
    if known is Suspect.FREE:
        return
    if known in (Suspect.FOUND, Suspect.SUSPECTED):
        yield Caution(caution.heading, f"{FOUND if known is Suspect.FOUND else SUSPECTED} {caution.text}")
    elif year_built is None or year_built in years:
        yield Caution(caution.heading, f"{_since(year_built)} {caution.text}")
