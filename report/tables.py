"""What was measured and what is in the way, as plain rows for paper and for CSV."""

import csv
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from fractions import Fraction
from io import StringIO
from typing import TYPE_CHECKING

from capture.lengths import Unit, show_length, show_spread
from capture.measured import Measured
from capture.record import TRAITS, Kind, Mark, Shape, Side
from capture.survey import Feature, WallSurvey
from layout.plan import WallPlan
from layout.verdicts import Judgement
from report.numbers import by_number, in_order, numbers
from report.symbols import SYMBOLS

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

NOT_KNOWN = "not known"
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_LENGTH = re.compile(r'-?\d[\d /]*("| mm)')  # a length below the floor is no formula
SIXTEENTH = Fraction(1, 16)


@dataclass(frozen=True)
class MeasuredRow:
    """One thing on a wall: lengths from the left end and the floor, at its centre, with half the 95 % interval."""

    wall: str
    number: str
    what: str
    from_left: str
    from_left_give: str
    above_floor: str
    above_floor_give: str
    size: str
    source: str
    note: str


@dataclass(frozen=True)
class VerdictRow:
    """What one thing has to do with the planned frame."""

    wall: str
    number: str
    what: str
    letter: str
    verdict: str
    sentence: str
    tape_this: str
    also: str


def measured_rows(survey: WallSurvey, unit: Unit = Unit.INCH) -> list[MeasuredRow]:
    """Every feature of a wall, the numbered ones first; not the left end, which is where measuring starts."""
    number = numbers(survey)
    told = (f for f in in_order(survey) if f.kind is not Kind.IN_FRONT and not _is_left_end(f))
    return [_measured(survey.name, number.get(f.name), f, unit) for f in told]


def _is_left_end(feature: Feature) -> bool:
    return feature.kind is Kind.WALL_END and feature.mark.side is Side.LEFT


def _measured(wall: str, number: int | None, feature: Feature, unit: Unit) -> MeasuredRow:
    upright = TRAITS[feature.kind].shape is Shape.UPRIGHT
    across, up = feature.across or feature.left, None if upright else feature.up
    seen = [m.source.value for m in (across, up) if m is not None]
    return MeasuredRow(
        wall,
        str(number or ""),
        what(feature.mark),
        *_with_give(across, unit),
        *_with_give(up, unit),
        _size(feature, unit) if TRAITS[feature.kind].shape is Shape.RECTANGLE else "",
        " / ".join(dict.fromkeys(seen)) or NOT_KNOWN,
        "; ".join(part for part in (_low(feature, unit), feature.mark.note, *_assumed(feature)) if part),
    )


def what(mark: Mark) -> str:
    """Its name, with its kind and gangs where the name does not tell."""
    gangs = f"{mark.gangs}-gang" if mark.gangs > 1 else ""
    kind = "" if mark.kind.value in mark.name.lower() else mark.kind.value
    more = " ".join(part for part in (gangs, kind) if part)
    return f"{mark.name} ({more})" if more else mark.name


def _with_give(measured: Measured | None, unit: Unit) -> tuple[str, str]:
    if measured is None:
        return "", ""
    return show_length(measured.value, unit), show_spread(measured.spread, unit)


def _size(feature: Feature, unit: Unit) -> str:
    sides = [
        show_length(high.value - low.value, unit) if low and high else NOT_KNOWN
        for low, high in ((feature.left, feature.right), (feature.bottom, feature.top))
    ]
    return NOT_KNOWN if set(sides) == {NOT_KNOWN} else " × ".join(sides)


def _assumed(feature: Feature) -> list[str]:
    """What was taken for granted, without the name that the row already bears."""
    return [words.removeprefix(f"{feature.name}: ") for words in feature.assumed]


def _low(feature: Feature, unit: Unit) -> str:
    lines = " and ".join(f"{name} {measured.show(unit)}" for name, measured in lower_edges(feature))
    return lines and f"{lines} above the floor"


def lower_edges(feature: Feature) -> list[tuple[str, Measured]]:
    """How low a window reaches, with words for it: its stool and apron, else its casing; nothing of other things."""
    sill = [("top of stool", feature.stool), ("underside of apron", feature.apron)]
    known = [(name, line) for name, line in sill if line is not None]
    if feature.kind is Kind.WINDOW and not known and feature.bottom is not None:
        return [("lower edge of casing", feature.bottom)]
    return known


def verdict_rows(plan: WallPlan) -> list[VerdictRow]:
    """Every judgement of a wall, by number."""
    number = numbers(plan.survey)
    return [_verdict(plan, judgement, number) for judgement in by_number(plan)]


def _verdict(plan: WallPlan, judgement: Judgement, number: dict[str, int]) -> VerdictRow:
    return VerdictRow(
        plan.name,
        str(number.get(judgement.feature, "")),
        what(plan.survey.feature(judgement.feature).mark),
        SYMBOLS[judgement.verdict].letter,
        judgement.verdict.value,
        judgement.sentence,
        judgement.tape_this or "",
        "; ".join(judgement.also),
    )


def write_csv(kind: "type[DataclassInstance]", rows: "Sequence[DataclassInstance]") -> str:
    """Rows of one kind as CSV (RFC 4180) with a heading line; no cell can be taken for a formula by a spreadsheet."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    names = [column.name for column in fields(kind)]
    writer.writerow([name.replace("_", " ") for name in names])
    writer.writerows(guarded(getattr(row, name) for name in names) for row in rows)
    return out.getvalue()


def guarded(cells: Iterable[object]) -> list[str]:
    """The cells as text, an apostrophe before each that a spreadsheet would compute."""
    return ["'" + text if _computes(text) else text for text in map(str, cells)]


def _computes(text: str) -> bool:
    return text.startswith(_FORMULA) and not _LENGTH.fullmatch(text)
