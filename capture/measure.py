"""From the adjustment to the survey: what stands on one wall, each place with its plus-or-minus."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from capture.adjust import Solution, adjust
from capture.lengths import Measured, Source
from capture.net import Seen
from capture.network import assemble, named_columns, tape_rows, usable_tapes
from capture.places import RIGHT_END, Form, across_of, rectangle_edges, unknown
from capture.record import TRAITS, At, Kind, Mark, PrintRun, Shape, Side, Wall
from capture.survey import Check, Feature, Finding, Grade, WallSurvey
from capture.unknowns import shows_size

UNMEASURED = 100.0  # in: a standard deviation above this says that nothing measured the length
FEW_CARDS = 2
SCALE_OFF = 0.015  # a print-out further off than this was fitted to the page


@dataclass(frozen=True)
class MeasuredWall:
    """One wall, solved."""

    survey: WallSurvey
    solution: Solution


def measure_wall(wall: Wall, seen: Sequence[Seen], printed: PrintRun) -> MeasuredWall:
    """Adjust one wall and read its survey off the solution.

    Parameters
    ----------
    wall
        As noted.
    seen
        Its photos that show cards; empty for a wall surveyed by tape alone.
    printed
        The print run of the cards.
    """
    assembly = assemble(wall, seen, printed)
    solution = adjust(assembly.net)
    reader = _Reader(solution, wall)
    features = tuple(reader.feature(mark) for mark in wall.marks if TRAITS[mark.kind].shape is not Shape.OUTLINE)
    taped = wall.width is not None
    seen_end = any(m.kind is Kind.WALL_END and m.side is Side.RIGHT and m.sights for m in wall.marks)
    survey = WallSurvey(
        name=wall.name,
        left=wall.left,
        right=wall.right,
        width=reader.measured(unknown(f"{RIGHT_END}/across"), _source(seen_end, taped)),
        features=features,
        ceiling=None if wall.ceiling is None else Measured(float(wall.ceiling), 1 / 32, Source.TAPE),
        level=assembly.level,
        findings=(*assembly.findings, *_doubts(wall, solution)),
        checks=tuple(_checks(wall, solution)),
    )
    return MeasuredWall(survey, solution)


def _source(photo: bool, tape: bool) -> Source:
    return Source.BOTH if photo and tape else Source.TAPE if tape else Source.PHOTO


class _Reader:
    """Reads measured places off a solution."""

    def __init__(self, solution: Solution, wall: Wall) -> None:
        self.solution = solution
        self.index = {name: i for i, name in enumerate(solution.net.coordinates.names)}
        taped = {t.start for t in wall.tapes if not t.check_only} | {t.end for t in wall.tapes if not t.check_only}
        self.taped = taped
        self.shots = {s.name for s in solution.net.shots}
        seen_floors = [m.name for m in wall.marks if m.kind is Kind.FLOOR_POINT and self._seen(m)]
        self.first_floor = seen_floors[0] if seen_floors else ""

    def measured(self, form: Form | None, source: Source) -> Measured | None:
        """The value of a form, or None where nothing measured it."""
        if form is None or any(name not in self.index for name in form.terms):
            return None
        row = np.zeros(len(self.index))
        for name, weight in form.terms.items():
            row[self.index[name]] = weight
        value, sd = self.solution.coordinate(row, form.shift)
        return Measured(value, sd, source) if sd < UNMEASURED else None

    def _seen(self, mark: Mark) -> bool:
        return any(s.photo in self.shots for s in mark.sights)

    def feature(self, mark: Mark) -> Feature:
        """One mark as it stands on the wall."""
        seen = self._seen(mark)
        taped = any(name == mark.name or name.startswith(mark.name + " ") for name in self.taped)
        source = _source(seen, taped)
        if TRAITS[mark.kind].shape is Shape.RECTANGLE:
            edges = {name: self.measured(form, source) for name, form in rectangle_edges(mark).items()}
            lines = {at: self.measured(unknown(f"{mark.name}/{at}"), source) for at in (At.STOOL, At.APRON)}
            return Feature(
                mark, edges["left"], edges["right"], edges["bottom"], edges["top"],
                lines[At.STOOL], lines[At.APRON], _assumed(mark),
            )  # fmt: skip
        across, up = across_of(mark), unknown(f"{mark.name}/up")
        if TRAITS[mark.kind].shape is Shape.POINT:
            across = unknown(f"{mark.name}#0/across")
            up = Form() if mark.name == self.first_floor else up  # the first floor point is where y starts
        x, y = self.measured(across, source), self.measured(up, source)
        return Feature(mark, x, x, y, y)


def _assumed(mark: Mark) -> tuple[str, ...]:
    if TRAITS[mark.kind].shape is Shape.RECTANGLE and not mark.width and not all(shows_size(mark)) and mark.sights:
        return (f"{mark.name}: a standard plate taken for granted; mark two opposite corners to measure it",)
    return ()


def _checks(wall: Wall, solution: Solution) -> Iterator[Check]:
    """Readings that were held back, against the solution; one to a place that nothing measured tells nothing."""
    columns = named_columns(solution.net)
    held, _ = usable_tapes(wall, [t for t in wall.tapes if t.check_only], solution.net.cards)
    for tape, start, end in held:
        forms = [form for place in (start, end) for form in (place.x, place.y) if form is not None]
        if any(name not in columns for form in forms for name in form.terms):
            continue
        rows = tape_rows([(tape, start, end)], columns, solution.slots.size)
        way = rows.forms[0] @ solution.unknowns + rows.shift[0]
        length = float(np.linalg.norm(way))
        row = way / max(length, 1e-9) @ rows.forms[0]
        sd = float(np.sqrt(row @ solution.covariance @ row))
        if sd < UNMEASURED:
            reading = Measured(float(tape.length), float(rows.sd[0]), Source.TAPE)
            yield Check(tape.start, tape.end, reading, Measured(length, sd, Source.PHOTO))


def _doubts(wall: Wall, solution: Solution) -> list[Finding]:
    doubts = []
    if not solution.converged:
        doubts.append(
            Finding(
                "not-solved", wall.name, f"The photos of “{wall.name}” do not fit together, so no place on it is sure.",
                "Look at the marks and tape readings, or take the photos again.", Grade.STOP,
            )
        )  # fmt: skip
    if solution.net.shots and len(solution.net.cards) <= FEW_CARDS and wall.width is None and not wall.tapes:
        doubts.append(
            Finding(
                "few-cards", wall.name, f"“{wall.name}” has few cards and no tape reading, so its places are rough.",
                "Tape one long distance, or add cards near the ends and take the photo again.",
            )
        )  # fmt: skip
    if solution.net.shots and np.abs(solution.unknowns[solution.slots.printed] - 1).max() > SCALE_OFF:
        scale = float(np.mean(solution.unknowns[solution.slots.printed]))
        doubts.append(
            Finding(
                "print-scale", wall.name, f"The cards on “{wall.name}” seem printed at {scale:.1%} of their size.",
                "Print them again at 100 %, or tape the check bar and enter what it reads.",
            )
        )  # fmt: skip
    return doubts
