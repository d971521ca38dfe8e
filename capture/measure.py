"""From the adjustment to the survey: what stands on one wall, each place with its plus-or-minus."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from capture.adjust import Solution, adjust
from capture.lengths import Measured, Source, show_length
from capture.net import Seen
from capture.network import Assembly, assemble, named_columns
from capture.places import RIGHT_END, Form, across_of, rectangle_edges, unknown
from capture.record import TRAITS, At, Kind, Mark, PrintRun, Shape, Side, Wall
from capture.survey import Check, Feature, Finding, Grade, WallSurvey
from capture.tapes import Ends, readings, tape_rows
from capture.unknowns import shows_size

UNMEASURED = 100.0  # in: a standard deviation above this says that nothing measured the length
FEW_CARDS = 2
UNLIKELY = 4.0  # standard deviations: a sound wall of a hundred observations shows one this far off in 150 walls
ALIKE = 1.1  # a tape and the one mark at its end disagree alike; the tape is named, and with it the marks
POOR_FIT = 0.3  # px: six times the usual noise of saddle points
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
    reader = _Reader(solution, assembly.wall)
    used = zip(wall.marks, assembly.wall.marks, strict=True)
    features = tuple(reader.feature(mark, m) for mark, m in used if TRAITS[mark.kind].shape is not Shape.OUTLINE)
    survey = WallSurvey(
        name=wall.name,
        left=wall.left,
        right=wall.right,
        width=_width(assembly, reader),
        features=features,
        ceiling=None if wall.ceiling is None else Measured(float(wall.ceiling), 1 / 32, Source.TAPE),
        level=assembly.level,
        findings=(*assembly.findings, *_doubts(wall, solution)),
        checks=tuple(_checks(assembly.held, solution)),
    )
    return MeasuredWall(survey, solution)


def _width(assembly: Assembly, reader: "_Reader") -> Measured | None:
    """From end to end; None where nothing tells of both."""
    taped = RIGHT_END in reader.taped
    seen = any(m.kind is Kind.WALL_END and m.side is Side.RIGHT and m.sights for m in assembly.wall.marks)
    if assembly.net.shots and not assembly.anchored[0] and assembly.wall.width is None:
        return None  # the right end as counted from a card
    return reader.measured(unknown(f"{RIGHT_END}/across"), _source(seen, taped))


def _source(photo: bool, tape: bool) -> Source:
    return Source.BOTH if photo and tape else Source.TAPE if tape else Source.PHOTO


class _Reader:
    """Reads measured places off a solution."""

    def __init__(self, solution: Solution, wall: Wall) -> None:
        self.solution = solution
        self.index = {name: i for i, name in enumerate(solution.net.coordinates.names)}
        self.taped = {place for t in readings(wall) for place in (t.start, t.end)}

    def measured(self, form: Form | None, source: Source) -> Measured | None:
        """The value of a form, or None where nothing measured it."""
        if form is None or any(name not in self.index for name in form.terms):
            return None
        row = np.zeros(len(self.index))
        for name, weight in form.terms.items():
            row[self.index[name]] = weight
        value, sd = self.solution.coordinate(row, form.shift)
        return Measured(value, sd, source) if sd < UNMEASURED else None

    def feature(self, noted: Mark, mark: Mark) -> Feature:
        """A mark as noted, and where it stands on the wall by those of its sights that are used."""
        taped = any(name == mark.name or name.startswith(mark.name + " ") for name in self.taped)
        source = _source(bool(mark.sights), taped)
        if TRAITS[mark.kind].shape is Shape.RECTANGLE:
            edges = {name: self.measured(form, source) for name, form in rectangle_edges(mark).items()}
            lines = {at: self.measured(unknown(f"{mark.name}/{at}"), source) for at in (At.STOOL, At.APRON)}
            return Feature(
                noted, edges["left"], edges["right"], edges["bottom"], edges["top"],
                lines[At.STOOL], lines[At.APRON], _assumed(mark),
            )  # fmt: skip
        across, up = across_of(mark), unknown(f"{mark.name}/up")
        if TRAITS[mark.kind].shape is Shape.POINT:
            across = unknown(f"{mark.name}#0/across")
        x, y = self.measured(across, source), self.measured(up, source)
        return Feature(noted, x, x, y, y)


def _assumed(mark: Mark) -> tuple[str, ...]:
    if TRAITS[mark.kind].shape is Shape.RECTANGLE and not mark.width and not all(shows_size(mark)) and mark.sights:
        return (f"{mark.name}: a standard plate taken for granted; mark two opposite corners to measure it",)
    return ()


def _checks(held: Ends, solution: Solution) -> Iterator[Check]:
    """Readings that were held back, against the solution; one to a place that nothing measured tells nothing."""
    columns = named_columns(solution.net)
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
    return [*doubts, *(list(_misprinted(wall, solution)) or _outlier(wall, solution)), *_poor_fits(solution)]


def _misprinted(wall: Wall, solution: Solution) -> Iterator[Finding]:
    scales = solution.unknowns[solution.slots.printed]
    if solution.net.shots and np.abs(scales - 1).max() > SCALE_OFF:
        yield Finding(
            "print-scale", wall.name,
            f"The cards on “{wall.name}” seem printed at {float(np.mean(scales)):.1%} of their size.",
            "Print them again at 100 %, or tape the check bar and enter what it reads.",
        )  # fmt: skip


def _outlier(wall: Wall, solution: Solution) -> Iterator[Finding]:
    """The tape reading or sight that disagrees most with all others, if by more than chance would have it.

    One at a time, since a gross error spoils its neighbours' residuals too; its size is -v / r (Baarda 1968).
    """
    suspects = [label.startswith(("tape ", "sight of ")) for label in solution.labels]
    size = np.where(suspects, np.abs(solution.standardized), 0.0)
    taped = [label in solution.net.tapes.names for label in solution.labels]
    worst = int(np.argmax(np.where(taped, ALIKE * size, size)))
    if size[worst] <= UNLIKELY:
        return
    label = solution.labels[worst]
    off = abs(float(solution.residuals[worst] / solution.redundancy[worst]))  # in standard deviations
    if label in solution.net.tapes.names:
        nth = sum(taped[:worst])
        off *= float(solution.net.tapes.sd[nth])
        reading = show_length(float(solution.net.tapes.length[nth]))
        yield Finding(
            "tape-disagrees", wall.name,
            f"The {label}, {reading}, disagrees by {show_length(off)} with everything else on “{wall.name}”.",
            "Tape it again; if it reads the same, look at the marks at its ends.",
        )  # fmt: skip
    else:
        name = label.removeprefix("sight of ")
        off *= float(solution.net.sights.sd[(sum(suspects[:worst]) - sum(taped[:worst])) // 2])
        yield Finding(
            "mark-disagrees", wall.name,
            f"The mark of {name} lies {off:.0f} pixels from where everything else on “{wall.name}” has it.",
            "Mark it again there, and see that its name is right.",
        )  # fmt: skip


def _poor_fits(solution: Solution) -> Iterator[Finding]:
    """Photos whose cards do not fit together: one that moved between photos, or does not lie flat.

    Two cards that moved against each other both disagree; no residual tells which of them it was.
    """
    labels = np.array(solution.labels)
    for shot in solution.net.shots:
        if shot.corner_sd > POOR_FIT:
            v = solution.residuals[labels == f"corner in {shot.name}"]
            numbers = np.repeat([c.number for c in shot.cards], [2 * len(c.which) for c in shot.cards])
            square = {c.number: float(np.mean(v[numbers == c.number] ** 2)) for c in shot.cards}
            worst = " and ".join(str(n) for n, s in square.items() if s > max(square.values()) / 2)
            yield Finding(
                "poor-fit", shot.name,
                f"The cards in “{shot.name}” miss their places by {shot.corner_sd:.1f} pixels, above all card {worst}.",
                "See that they lie flat and did not move between photos; take the photo again.",
            )  # fmt: skip
