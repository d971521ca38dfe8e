"""What stands on one wall, for the site report: its photos, drawings, table, checklist and open questions."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from math import ceil
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from capture.lengths import Unit, show_length
from capture.measured import Source
from capture.record import Kind, Mark
from capture.survey import Finding, Grade, Reading, WallSurvey
from layout.plan import WallPlan
from report.board import Room
from report.cardsheet import Paper
from report.conditions import of_wall
from report.dimensions import bar_sheet
from report.drawing import Scale, Sheet, choose_scale
from report.overlay import elevation_overlay, marked_photo
from report.papers import (
    MARGIN_WIDE,
    PHOTO_HEIGHT,
    Elevation,
    PhotoPage,
    Pictures,
    ReportFacts,
    WallPages,
    drawn,
)
from report.pictures import PRINT_DPI, hatched, shrink
from report.sheets import existing_sheet
from report.tables import measured_rows
from report.typeset import sentence, when

ELEVATION_HEIGHT = 4.3  # paper inches
DRAWING_HEIGHT = 5.2
READS = 1 / 25  # the smallest scale that reads well, 1/2" = 1' or 1:25; below it a drawing gets a wider page
LOW = 0.5  # of a page that lies on its side: under a drawing no higher there is room for what belongs to it
HEAD_WIDE, FOOT_WIDE = 1.2, 0.35  # paper inches that words, and labels longer than usual, take on a lying page
NOT_OFF = 1 / 32  # wall inches that a reading may miss and still fit
HATCH = 3.0  # wall inches between the lines where no photo looked


def wall_part(pages: WallPages, facts: ReportFacts, pictures: Pictures) -> dict[str, Any]:
    """All that the template shows of a wall as it stands."""
    survey, unit = pages.plan.survey, facts.unit
    return {
        "name": survey.name,
        "about": _about(survey, unit),
        "photos": [_marked(page, pages, facts, pictures) for page in pages.photos],
        "elevation": _elevation(pages, facts, pictures),
        "drawing": placed(lambda room: existing_sheet(survey, room, unit), facts),
        "rows": measured_rows(_without_floor(survey), unit),
        "readings": list(_readings(pages, unit)),
        "checks": [check.told(unit) for check in survey.checks],
        "checklist": of_wall(pages.wall, facts.conditions, unit),
        "questions": list(dict.fromkeys(_questions(pages, unit))),  # with whether a tape answers it
        "steps": [step.told(unit) for step in pages.steps],
        "note": " ".join(sentence(note) for note in dict.fromkeys(_notes(pages, unit))),
        "findings": told_findings(survey.findings),
    }


def _about(survey: WallSurvey, unit: Unit) -> str:
    width = f"{survey.width.show(unit)} wide ({survey.width.source})" if survey.width else "width not measured"
    ceiling = f", ceiling at {survey.ceiling.show(unit)}" if survey.ceiling else ""
    return f"{width}{ceiling}, from {survey.left} to {survey.right}."


def placed(make: Callable[[Room], Sheet], facts: ReportFacts) -> dict[str, Any]:
    """A drawing on the upright page where it reads there, else on a page that lies on its side if that is larger.

    Where it is low, what belongs to it goes under it.
    """
    upright = make((facts.column, DRAWING_HEIGHT))
    if upright.scale.factor < READS:
        lying = make(wide_room(facts.sheet))
        if lying.scale.factor > upright.scale.factor:
            return drawn(lying) | {"wide": True, "low": lying.paper_size[1] < LOW * facts.sheet.width}
    return drawn(upright) | {"wide": False, "low": False}


def wide_room(paper: Paper) -> Room:
    """Paper inches for a drawing on a page that lies on its side."""
    return paper.height - 2 * MARGIN_WIDE, paper.width - 2 * MARGIN_WIDE - HEAD_WIDE - FOOT_WIDE


def _marked(page: PhotoPage, pages: WallPages, facts: ReportFacts, pictures: Pictures) -> dict[str, Any]:
    survey, photo = pages.plan.survey, page.photo
    counted = sum(feature.rectangle for feature in survey.features)
    alt = f"Photo {photo.name} of {survey.name} with what was marked, {counted} numbered outlines."
    words = [f"Photo {photo.name}, {when(page.taken)}.", photo.caption, page.note]
    if page.camera is None:
        words.append("Not measured: its camera could not be solved.")
    shown = page if page.printed else marked(page, pages, facts)
    figure = pictures.add(shown.source, facts.column, PHOTO_HEIGHT, alt)
    return figure | {"words": " ".join(part for part in words if part)}


def marked(page: PhotoPage, pages: WallPages, facts: ReportFacts) -> PhotoPage:
    """A photo of a wall as it is printed, with what was marked there."""
    width, height = page.size
    small = page.for_print(min(facts.column, PHOTO_HEIGHT * width / height))
    marks = [_shrunk(mark, small.size[0] / width) for mark in pages.wall.marks]
    picture = marked_photo(small.picture, small.camera, pages.plan.survey, marks, page.photo.name)
    return replace(small, source=picture, whole=page.size, printed=True)


def _shrunk(mark: Mark, factor: float) -> Mark:
    """The mark with its taps where they fall in a picture `factor` times as large."""

    def moved(pixel: float) -> float:
        return (pixel + 0.5) * factor - 0.5

    taps = tuple(tap.model_copy(update={"u": moved(tap.u), "v": moved(tap.v)}) for tap in mark.sights)
    return mark.model_copy(update={"sights": taps})


def _elevation(pages: WallPages, facts: ReportFacts, pictures: Pictures) -> dict[str, Any] | None:
    """The rectified picture at a usual scale with what stands there, and its scale bar."""
    shot, survey = pages.elevation, pages.plan.survey
    if shot is None:
        return None
    shot = shot if shot.printed else printed_elevation(shot, survey, facts)
    across, up = shot.inches
    scale = elevation_scale(across, up, facts)
    alt = (
        f"{survey.name} seen straight on, made from its photos, at {scale.name}: "
        f"{show_length(across, facts.unit)} across and {show_length(up, facts.unit)} up."
    )
    figure = pictures.add(shot.source, across * scale.factor, up * scale.factor, alt)
    note = " ".join(_about_elevation(shot, scale, facts.unit))
    return figure | {"bar": drawn(bar_sheet(scale, across, facts.unit))["svg"], "scale": scale.name, "note": note}


def elevation_scale(across: float, up: float, facts: ReportFacts) -> Scale:
    """At which scale a wall of so many inches is printed straight on."""
    return choose_scale(across, up, (facts.column, ELEVATION_HEIGHT), facts.unit)


def printed_elevation(shot: Elevation, survey: WallSurvey, facts: ReportFacts) -> Elevation:
    """The rectified picture as it is printed, with lines where no photo looked and with what stands there."""
    across, up = shot.inches
    scale = elevation_scale(across, up, facts)
    small = shrink(shot.source, round(across * scale.factor * PRINT_DPI))
    fine = small.width / across
    picture = elevation_overlay(_hatched(small, shot.seen, across), fine, shot.left, shot.top, survey)
    unseen = 0.0 if shot.seen is None else 1 - float(shot.seen.mean())
    return replace(shot, source=picture, px_per_inch=fine, seen=None, unseen=unseen, printed=True)


def _hatched(image: Image.Image, seen: NDArray[np.bool_] | None, across: float) -> Image.Image:
    """The picture with lines where no photo looked; it is `across` wall inches wide."""
    if seen is None or seen.all():
        return image
    shown = np.asarray(Image.fromarray(seen).resize(image.size, Image.Resampling.NEAREST))
    return hatched(image, shown, HATCH * image.width / across)


def _about_elevation(shot: Elevation, scale: Scale, unit: Unit) -> Iterator[str]:
    if shot.note:
        yield shot.note
    if shot.fineness is not None:
        yield _how_fine(shot, shot.fineness, min(shot.px_per_inch, PRINT_DPI * scale.factor), unit)
    if shot.unseen:
        yield f"Hatched: no photo looked there ({max(0.01, shot.unseen):.0%} of it)."


def _how_fine(shot: Elevation, fineness: tuple[float, float], printed: float, unit: Unit) -> str:
    """The smallest detail that shows, two pixels of what is coarser: of the photos or of the `printed` px per inch."""
    least, most = fineness
    step = Fraction(1, 16) if unit is Unit.INCH else Fraction(5, 127)  # 1 mm
    fine, coarse = (show_length(ceil(2 / min(given, printed) / step) * step, unit) for given in (most, least))
    per = "inch" if unit is Unit.INCH else "centimetre"
    counts = [f"{given if unit is Unit.INCH else given / 2.54:.0f}" for given in (least, most)]
    told = f"The photos gave {' to '.join(dict.fromkeys(counts))} pixels per {per} of wall"
    if fine == coarse:
        return f"{told}; as printed, details smaller than {fine} are lost."
    return (
        f"{told}; as printed, details smaller than {fine} are lost, and {shot.coarsest}, those smaller than {coarse}."
    )


# What is not settled.


def tape_first(plan: WallPlan, unit: Unit) -> list[str]:
    """The readings to take before anything is cut."""
    readings = [judgement.tape_this for judgement in plan.undecided if judgement.tape_this]
    width = plan.survey.width
    if width is None or width.source in (Source.PHOTO, Source.USUAL):
        readings.append(f"tape the width of {plan.name}, to {'1 mm' if unit is Unit.MM else '1/16'}")
    return list(dict.fromkeys(readings))


def _questions(pages: WallPages, unit: Unit) -> Iterator[tuple[str, bool]]:
    """What is open, each with whether it is answered by what a tape reads."""
    yield from ((reading, True) for reading in tape_first(pages.plan, unit))
    for check in pages.plan.survey.checks:
        if not check.agrees:
            yield f"tape {check.start} to {check.end} again: {check.told(unit)}", True
    for mark in pages.wall.marks:
        for photo, doubt in dict.fromkeys((s.photo, s.doubt) for s in mark.sights if s.doubt):
            yield f"look at {mark.name} in photo {photo} again: {doubt}", False


def _readings(pages: WallPages, unit: Unit) -> Iterator[str]:
    """Tape readings: each with how it fits, and together those that nothing else checks."""
    alone = _alone(pages)
    yield from (reading.told(unit) for reading in pages.plan.survey.readings if reading not in alone)
    if alone and pages.photos:  # by tape alone the table has them already
        told = "; ".join(f"{reading.places} {show_length(reading.length.value, unit)}" for reading in alone)
        yield f"with nothing else to check {'it' if len(alone) == 1 else 'them'} by: {told}."


def _alone(pages: WallPages) -> list[Reading]:
    """Readings that nothing else checks and nothing contradicts."""
    return [one for one in pages.plan.survey.readings if one.noticed is None and abs(one.off) < NOT_OFF]


def _without_floor(survey: WallSurvey) -> WallSurvey:
    """The wall without the points that only tell where the floor is."""
    return replace(survey, features=tuple(f for f in survey.features if f.kind is not Kind.FLOOR_POINT))


def _notes(pages: WallPages, unit: Unit) -> Iterator[str]:
    survey = pages.plan.survey
    if floor := [f for f in survey.features if f.kind is Kind.FLOOR_POINT]:
        yield f"floor: marked at {len(floor)} {'place' if len(floor) == 1 else 'places'}"
    if not pages.photos and (alone := _alone(pages)):
        yield f"by tape alone: nothing else checks {len(alone)} of its {len(survey.readings)} readings"
    elif survey.level:
        yield f"level: {survey.level}"
    if survey.lens:
        yield f"lens: {survey.lens}"
    if survey.corner:
        yield f"right corner: {survey.corner.told(unit)}"


def told_findings(findings: Sequence[Finding]) -> list[dict[str, str]]:
    """What the program noticed, the gravest first."""
    heads = {Grade.STOP: "Stop", Grade.WARN: "Look into this", Grade.NOTE: "Note"}
    ordered = sorted(findings, key=lambda finding: list(Grade).index(finding.grade))
    return [{"head": heads[f.grade], "place": f.place, "sentence": f.sentence, "remedy": f.remedy} for f in ordered]
