"""From one solution to the survey of its wall: every place with its plus-or-minus, and how the tapes agree."""

from collections.abc import Iterator

import numpy as np

from capture.adjust import Solution
from capture.beliefs import tape_sd
from capture.blunders import doubts, least_noticed
from capture.equations import Rows
from capture.lenses import lens_words
from capture.measured import Errors, Measured, Source
from capture.network import Assembly, named_columns
from capture.places import RIGHT_END, Form, across_of, rectangle_edges, unknown
from capture.record import TRAITS, At, Kind, Mark, Shape, Side, Wall
from capture.survey import Check, Corner, Feature, Reading, WallSurvey
from capture.tapes import Ends, readings, tape_rows
from capture.unknowns import shows_size

UNMEASURED = 100.0  # in: a standard deviation above this says that nothing measured the length


def survey_of(noted: Wall, assembly: Assembly, solution: Solution, corner: Corner | None) -> WallSurvey:
    """What stands on one wall.

    Parameters
    ----------
    noted
        The wall as noted, with all its sights.
    assembly, solution
        What was built from it, and its adjustment.
    corner
        The corner at its right end, where a photo shows both sides of it.
    """
    features, width = places_of(noted, assembly, solution)
    ceiling = None if noted.ceiling is None else float(noted.ceiling)
    return WallSurvey(
        name=noted.name,
        left=noted.left,
        right=noted.right,
        width=width,
        features=features,
        ceiling=None if ceiling is None else Measured(ceiling, tape_sd(ceiling), Source.TAPE),
        level=assembly.level,
        lens=lens_words(assembly.net.lens_keys, assembly.lenses),
        findings=(*assembly.findings, *doubts(noted, solution, features)),
        checks=tuple(_checks(assembly.held, solution)),
        readings=tuple(_readings(solution)),
        corner=corner,
        left_detail=noted.at_end(Side.LEFT),
        right_detail=noted.at_end(Side.RIGHT),
        conditions=noted.conditions,
    )


def places_of(noted: Wall, assembly: Assembly, solution: Solution) -> tuple[tuple[Feature, ...], Measured | None]:
    """All features of a wall, and its width from end to end."""
    reader = _Reader(solution, assembly.wall)
    used = zip(noted.marks, assembly.wall.marks, strict=True)
    features = tuple(reader.feature(mark, m) for mark, m in used if TRAITS[mark.kind].shape is not Shape.OUTLINE)
    return features, _width(assembly, reader)


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
        self.covariance = solution.covariance[solution.slots.q, solution.slots.q]
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
        return Measured(value, sd, source, Errors(row, self.covariance)) if sd < UNMEASURED else None

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


def _readings(solution: Solution) -> Iterator[Reading]:
    """Every tape reading that was used: how it fits, and the smallest error in it that the rest would give away."""
    tapes, rows = solution.net.tapes, Rows.of(solution.net).tapes
    for i, (name, reading, sd) in enumerate(zip(tapes.names, tapes.length, tapes.sd, strict=True)):
        row = rows[i]
        off = -float(solution.residuals[row]) * float(sd)
        length = Measured(float(reading), float(sd), Source.TAPE)
        yield Reading(name.removeprefix("tape "), length, off, least_noticed(solution, row, float(sd)))
