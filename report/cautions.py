"""What a careful trade says before anyone cuts: wiring always; paint, compound and wire by the year built.

Sources: 40 CFR 745 (lead paint, houses built before 1978); 16 CFR 1304 (consumer patching compounds with respirable
asbestos banned from January 1978; older stock was used up later, hence 1980); CPSC Publication 516 (aluminium branch
wiring, 1965 to 1973); 29 CFR 1910.333(b)(2)(iv) and NFPA 70E article 120.5 (prove dead, check the tester before and
after).
"""

from dataclasses import dataclass

LEAD_PAINT = range(0, 1978)
OLD_COMPOUND = range(0, 1980)
ALUMINIUM = range(1965, 1974)
OLD_WIRING = range(0, 1965)


@dataclass(frozen=True)
class Caution:
    """A heading and what to do, in plain words."""

    heading: str
    text: str


ALWAYS = (
    Caution(
        "Wiring",
        "This is not a wiring plan. Before a plate comes off: switch the power off at the panel, keep it off, and "
        "prove each box dead with a contact tester that is checked on a live source before and after. Pens that light "
        "up without touching prove nothing. Until then every wire counts as live.",
    ),
    Caution(
        "Who does it",
        "Boxes are moved, extended and wired by a licensed electrician where that is required. Local code and the "
        "authority having jurisdiction decide; sections named here are from NEC 2023 and may differ from what is "
        "adopted locally.",
    ),
    Caution(
        "Inside the wall",
        "Nothing in this paper says what is in the wall. Cable in a finished wall may lie anywhere, and so may gas and "
        "water. Nothing here asks anyone to cut into a wall before power is off and proved dead, and paint and "
        "compound are known to be safe to disturb. Fire-rated walls stay whole unless the rated detail is followed.",
    ),
    Caution(
        "Dust",
        "Wood and MDF dust harms lungs: extract it where it is made, wear a mask made for it, and keep it from the "
        "rest of the house.",
    ),
)
BY_YEAR = (
    (
        LEAD_PAINT,
        Caution(
            "Lead paint",
            "Houses built before 1978 may carry lead paint. Paid work that disturbs it falls under the EPA's "
            "Renovation, Repair and Painting rule (40 CFR 745): certified firm, certified renovator, lead-safe work, "
            "or a test that finds none. No dry sanding or scraping before that is settled.",
        ),
    ),
    (
        OLD_COMPOUND,
        Caution(
            "Old joint compound",
            "Joint and patching compound of walls finished before about 1980 may hold asbestos. Have it tested before "
            "anyone sands, scrapes, drills or cuts it.",
        ),
    ),
    (
        ALUMINIUM,
        Caution(
            "Aluminium wiring",
            "Homes built, added to or rewired from 1965 to 1973 may have aluminium branch wiring (CPSC Publication "
            "516). Connections can overheat: an electrician trained for it looks at every box before it is touched.",
        ),
    ),
    (
        OLD_WIRING,
        Caution(
            "Old wiring",
            "Wiring of that age may be brittle or ungrounded, and what was added from 1965 to 1973 may be aluminium. "
            "An electrician looks before boxes are moved.",
        ),
    ),
)


def cautions(year_built: int | None) -> tuple[Caution, ...]:
    """The cautions for a house of that year; where the year is not known it is taken as old."""
    since = "The year built is not known." if year_built is None else f"Built {year_built}."
    by_year = (
        Caution(caution.heading, f"{since} {caution.text}")
        for years, caution in BY_YEAR
        if (year_built is None and years is not OLD_WIRING) or year_built in years
    )
    return (*ALWAYS[:-1], *by_year, ALWAYS[-1])
