"""What the pages ask and send, as JSON and pictures. A view reads the request, calls one action, and answers."""

import hashlib
import time
from typing import Any
from urllib.parse import quote
from uuid import uuid4

from flask import Blueprint, Response, jsonify, make_response, request
from werkzeug.exceptions import BadRequest, NotFound, ServiceUnavailable

from capture.errors import PlainError
from capture.lengths import Unit
from capture.record import TRAITS, Photo
from capture.rectangles import PLATES
from report.drawing import Sheet
from report.sheets import existing_sheet, planned_sheet
from report.svg import to_svg
from wainscribe import actions, told
from wainscribe.actions import Tell
from wainscribe.changed import redo_says, undo_says
from wainscribe.desk import changes, pictures
from wainscribe.desk.app import the_desk
from wainscribe.desk.checklist import QUESTIONS
from wainscribe.desk.decisions import conflicts, remedy_sketch
from wainscribe.desk.elevations import elevation_of, moved_to, pixels_of, places_of
from wainscribe.desk.looked import looked_at
from wainscribe.desk.missing import missing_on
from wainscribe.desk.tasks import papers_of
from wainscribe.desk.warm import Warm
from wainscribe.desk.words import flag, groups, points, text
from wainscribe.folder import JobFolder
from wainscribe.job import Job
from wainscribe.papers import make_papers

api = Blueprint("api", __name__, url_prefix="/api")

MOST_PHOTO_BYTES = 60_000_000
MOST_PHOTOS = 60  # on one wall
PATIENCE = 25.0  # s that news are waited for
BEAT = 0.2  # s between two looks
MOST_AT_ONCE = 200  # changes in one post


def _body() -> dict[str, Any]:
    data = request.get_json(silent=True)
    if not isinstance(data, dict):
        raise BadRequest
    return data


def _folder(job: str) -> JobFolder:
    return the_desk().home.job(job)


EDGES = ("left", "right", "bottom", "top", "stool", "apron")

# Jobs.


@api.get("/jobs")
def jobs() -> Response:
    """All jobs."""
    return jsonify(jobs=[_row(name, folder) for name, folder in the_desk().home.jobs().items()])


def _row(name: str, folder: JobFolder) -> dict[str, Any]:
    try:
        job = folder.load()
    except PlainError as error:  # one damaged job must not hide the others
        return {"id": name, "name": name, "error": the_desk().home.without_paths(str(error))}
    return {"id": name, "name": job.name, "walls": len(job.walls), "photos": sum(len(w.photos) for w in job.walls)}


@api.post("/jobs")
def new_job() -> Response:
    """Make a job."""
    given = _body()
    sent = changes.sent_id(given["id"]) if "id" in given else ""
    return jsonify(id=the_desk().home.new(text(given, "name"), sent))


KINDS = [
    {
        "kind": kind.value,
        "shape": trait.shape.value,
        "projection": str(trait.projection),
        "wired": trait.wired,
        "blocks": trait.blocks,
        "usual": kind in PLATES,
    }
    for kind, trait in TRAITS.items()
]


@api.get("/jobs/<job>")
def job_as_noted(job: str) -> Response:
    """A job as it stands."""
    folder = _folder(job)
    revision, now = folder.state()
    return jsonify(
        revision=revision,
        job=now.model_dump(mode="json"),
        kinds=KINDS,
        checklist=QUESTIONS,
        can_undo=folder.would_undo() is not None,
        can_redo=folder.would_redo() is not None,
        undo_says=undo_says(folder),
        redo_says=redo_says(folder),
    )


@api.post("/jobs/<job>/changes")
def change(job: str) -> Response:
    """Make changes, one by one in their order."""
    folder, wanted = _folder(job), groups(_body(), "changes")
    if len(wanted) > MOST_AT_ONCE:
        raise actions.ActionError(f"More than {MOST_AT_ONCE} changes at once; send them in parts.")
    desk = the_desk()
    results = [changes.apply(folder, one) for one in wanted]
    for result in results:
        if "error" in result:
            result["error"] = desk.home.without_paths(result["error"])
    return jsonify(revision=folder.state()[0], results=results)


@api.post("/jobs/<job>/undo")
def undo(job: str) -> Response:
    """Take the last change back."""
    return _turned(job, "undo")


@api.post("/jobs/<job>/redo")
def redo(job: str) -> Response:
    """Make it again."""
    return _turned(job, "redo")


def _turned(job: str, do: str) -> Response:
    """Undo or redo; the same as a change, with an id made for those who give none."""
    folder = _folder(job)
    result = changes.apply(folder, {"id": str(uuid4()), **_body(), "do": do})
    if "error" in result:
        raise actions.ActionError(result["error"])
    return jsonify(revision=folder.state()[0], **result)


@api.get("/jobs/<job>/since/<int:revision>")
def since(job: str, revision: int) -> Response:
    """Wait until the job is another than at a revision, or for as long as a browser is patient."""
    latest, desk = the_desk().warm(_folder(job)).latest, the_desk()
    if not desk.waiting.acquire(blocking=False):
        raise ServiceUnavailable("Too many are waiting for news; ask again in a few seconds.")
    try:
        end = time.monotonic() + PATIENCE
        while (now := latest.state()[0]) == revision and time.monotonic() < end:
            time.sleep(BEAT)
    finally:
        desk.waiting.release()
    return jsonify(revision=now)


@api.post("/jobs/<job>/logo")
def keep_logo(job: str) -> Response:
    """Keep a logo's file in the job; the change that shows it on the papers names it by the answer."""
    request.max_content_length = MOST_PHOTO_BYTES
    folder, file = _folder(job), request.files.get("file")
    if file is None:
        raise actions.ActionError("No picture came with that; choose it again.")
    return jsonify(logo=actions.keep_logo(folder, file.filename or "logo", file.read()))


# Photos.


def _photo(job: str, wall: str, photo: str) -> tuple[JobFolder, Job, Photo]:
    folder = _folder(job)
    now = folder.load()
    return folder, now, actions.find_photo(now.wall(wall), photo)


@api.post("/jobs/<job>/walls/<path:wall>/photos")
def take_photo(job: str, wall: str) -> Response:
    """Take a photo in; what it shows."""
    request.max_content_length = MOST_PHOTO_BYTES
    folder, file = _folder(job), request.files.get("file")
    if file is None:
        raise actions.ActionError("No photo came with that; choose it again.")
    sent, name, data = changes.sent_id(request.form.get("id")), file.filename or "photo.jpg", file.read()
    now = folder.load().wall(wall)
    if len(now.photos) >= MOST_PHOTOS:
        raise actions.ActionError(f"“{wall}” has {MOST_PHOTOS} photos already; take some off first.")
    taken = _taken(folder, wall, name, data, sent)
    return jsonify(photo=taken.name, **looked_at(folder, taken, the_desk().opened))


def _taken(folder: JobFolder, wall: str, name: str, data: bytes, sent: str) -> Photo:
    known = folder.answer(sent)
    if known is not None:  # sent again after a lost connection
        return actions.find_photo(folder.load().wall(wall), known)
    folder.doing = {sent: ""}
    caption, record_only = request.form.get("caption", ""), request.form.get("record_only", "") in ("true", "1", "yes")
    photo, _ = actions.take_photo(folder, wall, name, data, caption, record_only)
    actions.take_lenses(folder)
    return photo


@api.get("/jobs/<job>/walls/<path:wall>/photos/<path:photo>/cards")
def cards(job: str, wall: str, photo: str) -> Response:
    """What a photo shows."""
    folder, _, found = _photo(job, wall, photo)
    return jsonify(photo=found.name, **looked_at(folder, found, the_desk().opened))


@api.get("/jobs/<job>/walls/<path:wall>/photos/<path:photo>.jpg")
def photo_picture(job: str, wall: str, photo: str) -> Response:
    """A photo, upright, without its EXIF."""
    folder, _, found = _photo(job, wall, photo)
    return _picture(pictures.preview(folder, found, _width()))


def _width() -> int | None:
    width = request.args.get("width", type=int)
    return None if width is None else min(max(width, 1), 100_000)


def _picture(data: bytes, mimetype: str = "image/jpeg") -> Response:
    """A picture that a browser may keep, but asks for again."""
    response = make_response(data)
    response.mimetype = mimetype
    response.headers["Cache-Control"] = "private, no-cache"
    response.set_etag(hashlib.sha256(data).hexdigest()[:32])
    response.make_conditional(request)
    return response


@api.post("/jobs/<job>/walls/<path:wall>/snap")
def snap(job: str, wall: str) -> Response:
    """Where a mark's edges are, without keeping them."""
    (folder, warm), given = _warm(job), _body()
    fields = {key: given[key] for key in ("kind", "name", "side") if given.get(key)}
    of_photo = {"photo": given["photo"]} if given.get("photo") else {}
    sights = [{**of_photo, **sight} for sight in groups(given, "sights")]
    mark = changes.mark_of(folder.load().wall(wall), {"mark": {**fields, "sights": sights}})
    snapped, found, moved, doubt = warm.snapped(wall, mark)
    sights = [sight.model_dump(mode="json") for sight in snapped.sights]
    if flag(given, "square_on"):
        places = places_of(elevation_of(folder, warm.wall(wall)[1])[1], snapped)
        return jsonify(found=found, sights=sights, moved=moved, doubt=doubt, places=places)
    return jsonify(found=found, sights=sights, moved=moved, doubt=doubt)


# The walls as measured and planned.


@api.get("/jobs/<job>/walls/<path:wall>/measured")
def measured(job: str, wall: str) -> Response:
    """A wall as measured."""
    now, solved = _warm(job)[1].wall(wall)
    data = told.solved(solved)
    for plain, feature in zip(data["features"], solved.measured.survey.features, strict=True):
        plain["shown"] = {
            edge: value.show(Unit(now.units)) for edge in EDGES if (value := getattr(feature, edge)) is not None
        }
    return jsonify(**data, missing=missing_on(solved, Unit(now.units)))


def _warm(job: str) -> tuple[JobFolder, Warm]:
    folder = _folder(job)
    return folder, the_desk().warm(folder)


@api.get("/jobs/<job>/walls/<path:wall>/existing.svg")
def existing(job: str, wall: str) -> Response:
    """The wall as it stands."""
    now, solved = _warm(job)[1].wall(wall)
    return _drawing(existing_sheet(solved.measured.survey, unit=Unit(now.units)))


@api.get("/jobs/<job>/walls/<path:wall>/planned.svg")
def planned(job: str, wall: str) -> Response:
    """The wall as planned."""
    now, _, found = _warm(job)[1].at_hand(wall)
    return _drawing(planned_sheet(found.wall(wall), unit=Unit(now.units)))


@api.get("/jobs/<job>/walls/<path:wall>/remedies/<path:thing>/<int:number>.svg")
def remedy(job: str, wall: str, thing: str, number: int) -> Response:
    """A remedy as it would look."""
    now, _, found = _warm(job)[1].at_hand(wall)
    return _drawing(remedy_sketch(found.wall(wall), thing, number, now.wanted))


def _drawing(sheet: Sheet) -> Response:
    return _picture(to_svg(sheet).encode(), "image/svg+xml")


@api.get("/jobs/<job>/walls/<path:wall>/elevation.jpg")
def elevation(job: str, wall: str) -> Response:
    """The wall seen straight on."""
    folder, warm = _warm(job)
    return _picture(elevation_of(folder, warm.wall(wall)[1])[0])


@api.get("/jobs/<job>/walls/<path:wall>/elevation.json")
def about_elevation(job: str, wall: str) -> Response:
    """The scale of that picture, and where it starts."""
    folder, warm = _warm(job)
    _, solved = warm.wall(wall)
    about = elevation_of(folder, solved)[1]
    shown = {mark.name: places_of(about, mark) for mark in solved.wall.marks}
    return jsonify({**{key: value for key, value in about.items() if key != "cameras"}, "marks": shown})


@api.post("/jobs/<job>/walls/<path:wall>/pixels")
def pixels(job: str, wall: str) -> Response:
    """The photo and the pixels that show places of the elevation."""
    folder, warm = _warm(job)
    photo, found = pixels_of(folder, warm.wall(wall)[1], points(_body(), "points"))
    return jsonify(photo=photo, pixels=found)


@api.post("/jobs/<job>/walls/<path:wall>/moved")
def moved(job: str, wall: str) -> Response:
    """The sights of a mark that was dragged on the elevation; nothing is kept."""
    (folder, warm), given = _warm(job), _body()
    _, solved = warm.wall(wall)
    mark = changes.known_mark(solved.wall, text(given, "name"))
    sights = moved_to(folder, solved, mark, points(given, "points"))
    return jsonify(sights=[sight.model_dump(mode="json") for sight in sights])


@api.get("/jobs/<job>/walls/<path:wall>/overlay/<path:photo>.jpg")
def overlay(job: str, wall: str, photo: str) -> Response:
    """A photo with the planned frames drawn on it."""
    folder, warm = _warm(job)
    now, one, found = warm.at_hand(wall)
    return _picture(pictures.overlaid(folder, one, found.wall(wall), now.wanted, photo, _width()))


@api.get("/jobs/<job>/plan")
def plan(job: str) -> Response:
    """The plan, and what has to be decided; with ?wall=, of that wall alone, and the names of the rest."""
    _, warm = _warm(job)
    if wall := request.args.get("wall"):
        now, one, found = warm.at_hand(wall)
        solved = [one]
    else:
        now, solved, found = warm.planned()
    data = told.planned(found)
    for each, of in zip(data["walls"], solved, strict=True):
        del each["joints"]  # they take the cut list, which no page asks for
        each["photos"] = [s.name for s in of.measured.solution.net.shots if not s.borrowed]
    there = {each["name"] for each in data["walls"]}
    rest = [each.name for each in now.walls if each.name not in there]
    return jsonify(**data, conflicts=conflicts(now, found, f"/api/jobs/{quote(job, safe='')}"), rest=rest)


@api.get("/jobs/<job>/next")
def what_next(job: str) -> Response:
    """What to tape or photograph next."""
    return jsonify(_warm(job)[1].next())


# Papers.


@api.post("/jobs/<job>/papers")
def make(job: str) -> Response:
    """Make the papers."""
    folder, desk = _folder(job), the_desk()

    def work(tell: Tell) -> list[str]:
        return [file.name for file in make_papers(folder, folder.path / "papers", tell)]

    return jsonify(task=desk.tasks.start(job, work))


@api.get("/jobs/<job>/papers")
def made(job: str) -> Response:
    """The papers that were made."""
    return jsonify(files=[{"name": file.name, "bytes": file.stat().st_size} for file in papers_of(_folder(job))])


@api.get("/tasks/<name>")
def task(name: str) -> Response:
    """How far a task is."""
    desk = the_desk()
    found = desk.tasks.by_id.get(name)
    if found is None:
        raise NotFound("That task is not known any more; start it again.")
    said = [desk.home.without_paths(line) for line in list(found.said)]
    failed = {"failed": desk.home.without_paths(found.failed)} if found.failed else {}
    return jsonify(done=found.done, said=said, files=found.files, **failed)
