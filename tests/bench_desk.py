"""The desk's figures: a mark to new verdicts, a photo to its cards. ``python -m tests.bench_desk`` prints them."""

import io
import time
import uuid
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from flask.testing import FlaskClient
from PIL import Image

from capture.record import At, EndKind, Kind, Mark, Photo, PrintRun, Room, Side, Sight, Wall
from tests import truth
from tests.house import build
from tests.synthetic import look, photograph
from wainscribe.desk.app import create_app, the_desk
from wainscribe.folder import JobFolder
from wainscribe.job import Job
from wainscribe.seen import search_photos

Table = list[tuple[str, ...]]

# A made wall of 20 ft: ten cards, three photos from 12 ft, nine boxes, the ends, the floor and a level line.
WIDTH = 240.0
CARDS = {n + 1: (12.0 + 24.0 * n, 52.0 if n % 2 else 20.0, 0.4 * (n % 3 - 1)) for n in range(10)}
EYES = {f"wall-{i + 1}.jpg": look(at=(x, 52.0, 144.0), yaw=yaw, pitch=2.0 + i) for i, (x, yaw) in enumerate(
    ((62.0, 4.0), (120.0, 0.0), (178.0, -5.0)))}  # fmt: skip
BOXES = {f"receptacle {n + 1}": (20.0 + 25.0 * n, 14.0) for n in range(9)}
PLATE = (2.75, 4.5)  # in
THUMB = 3.0  # px
TIMES = 60


def main() -> None:
    """Print the table."""
    from tests.bench import show

    show("The desk: server times, ms", desk_times())
    show("The desk with a room of 3 walls, and a house of 40 with 120 photos, in turn: server times, ms", house_times())


def desk_times(times: int = TIMES) -> Table:
    """A mark posted and the plan asked for, on a 20 ft wall with 3 photos and in the demo room; a photo sent."""
    table: Table = [("what", "times", "median", "95 %", "longest")]
    with TemporaryDirectory() as scratch:
        home = Path(scratch)
        long_wall(home / "long")
        demo_room(home / "demo")
        app = create_app(home)
        client, token = app.test_client(), token_of(app)
        for job, wall, name in (("long", "wall", "receptacle 4"), ("demo", "long wall", "receptacle 3")):
            spent = [at_hand for at_hand, _ in islice(taps(client, token, job, wall, name), times)]
            table.append(_row(f"a mark to new verdicts, {job}", spent))
        table.append(_row("a photo sent to its cards, 12 MP", photo_to_cards(client, token, 5)))
    return table


def house_times(walls: tuple[int, ...] = (3, 40), times: int = 12) -> Table:
    """A mark on one of many walls, with the plan of the whole house asked for after it; houses in turn."""
    with TemporaryDirectory() as scratch:
        app = create_app(Path(scratch))
        client, token = app.test_client(), token_of(app)
        tapping = {}
        for count in walls:
            folder = build(Path(scratch) / f"house-{count}", count)
            job = folder.load()
            search_photos(folder, [photo for wall in job.walls for photo in wall.photos])
            tapping[count] = taps(client, token, folder.path.name, job.walls[1].name, "receptacle 3", whole=True)
        spent = {count: list[tuple[float, float]]() for count in walls}
        for _ in range(times):  # in turn, so that a busy machine slows all
            for count, tap in tapping.items():
                spent[count].append(next(tap))
    table: Table = [("what", "times", "median", "95 %", "longest")]
    for count in walls:
        at_hand, rest = zip(*spent[count], strict=True)
        table.append(_row(f"a mark to new verdicts of the wall at hand, {count} walls", at_hand))
        table.append(_row("from there to the verdicts of all walls", rest))
    return table


def _row(what: str, spent: Sequence[float]) -> tuple[str, ...]:
    ms = 1000 * np.array(spent)
    return (what, str(len(ms)), *(f"{v:.0f}" for v in (np.median(ms), np.percentile(ms, 95), ms.max())))


def token_of(app) -> str:
    """What a page of this machine sends with every change."""
    with app.app_context():
        return the_desk().guard.token("here")


def taps(
    client: FlaskClient, token: str, job: str, wall: str, name: str, whole: bool = False
) -> Iterator[tuple[float, float]]:
    """Taps on a mark, each a little elsewhere: seconds from its post to the answered plan of its wall, and on to all.

    The plan of the `whole` house is asked for only then; else it takes no time.
    """
    rng = np.random.default_rng(0)
    held = client.get(f"/api/jobs/{job}").json["job"]
    walls = [w for room in held["rooms"] for w in room["walls"]]
    mark = next(m for w in walls if w["name"] == wall for m in w["marks"] if m["name"] == name)
    client.get(f"/api/jobs/{job}/plan")
    while True:
        sights = [{**s, "u": s["u"] + rng.normal(0, THUMB), "v": s["v"] + rng.normal(0, THUMB)} for s in mark["sights"]]
        change = {"id": str(uuid.uuid4()), "do": "mark", "wall": wall,
                  "mark": {"name": name, "kind": mark["kind"], "sights": sights}}  # fmt: skip
        start = time.perf_counter()
        done = client.post(f"/api/jobs/{job}/changes", json={"changes": [change]}, headers={"X-Desk-Token": token})
        plan = client.get(f"/api/jobs/{job}/plan", query_string={"wall": wall})
        at_hand = time.perf_counter()
        if whole:
            client.get(f"/api/jobs/{job}/plan")
        if not done.json["results"][0].get("ok") or plan.status_code != 200:
            raise RuntimeError(f"the desk refused: {done.json} {plan.status}")
        yield at_hand - start, time.perf_counter() - at_hand


def photo_to_cards(client: FlaskClient, token: str, times: int) -> list[float]:
    """Seconds from the post of a photo that is new to the job to its cards."""
    data, spent = (truth.DEMO / "photos" / "long-wall-2.jpg").read_bytes(), []
    for n in range(times):
        form = {"id": str(uuid.uuid4()), "file": (io.BytesIO(data + bytes([n])), f"new-{n}.jpg")}
        start = time.perf_counter()
        done = client.post("/api/jobs/demo/walls/long wall/photos", data=form, headers={"X-Desk-Token": token})
        spent.append(time.perf_counter() - start)
        if not done.json.get("cards"):
            raise RuntimeError(f"the desk refused: {done.json}")
    return spent


def demo_room(path: Path) -> JobFolder:
    """The demo job, copied."""
    job = JobFolder(truth.DEMO).load()
    folder = JobFolder.create(path, job)
    for photo in {p.file for wall in job.walls for p in wall.photos}:
        (folder.photos / photo).write_bytes((truth.DEMO / "photos" / photo).read_bytes())
    return folder


def long_wall(path: Path) -> JobFolder:
    """A job of one made wall; its photos are drawn from known cameras."""
    marks = (
        _line("left end", Kind.WALL_END, 0.0, Side.LEFT),
        _line("right end", Kind.WALL_END, WIDTH, Side.RIGHT),
        *(_point(f"floor point {n}", Kind.FLOOR_POINT, (x, 0.0)) for n, x in enumerate((10.0, 120.0, 230.0), 1)),
        *(_point(f"level point {n}", Kind.LEVEL_POINT, (x, 48.0)) for n, x in enumerate((30.0, 210.0), 1)),
        *(_box(name, middle) for name, middle in BOXES.items()),
    )
    photos = tuple(Photo(name=name, file=name) for name in EYES)
    wall = Wall(name="wall", left=EndKind.INSIDE_CORNER, right=EndKind.INSIDE_CORNER, photos=photos, marks=marks)
    job = Job(name="Long wall", print_run=PrintRun(name="bench"), rooms=(Room(name="room", walls=(wall,)),))
    folder = JobFolder.create(path, job)
    for name, eye in EYES.items():
        _save(folder.photos / name, photograph(eye, CARDS))
    return folder


def _save(file: Path, gray: np.ndarray) -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = 26  # FocalLengthIn35mmFilm
    Image.fromarray(gray).save(file, quality=92, exif=exif)


def _sights(points: list[tuple[At, tuple[float, float]]], proud: float) -> tuple[Sight, ...]:
    """Sights of wall places in every photo that shows them all."""
    xyz = np.array([[*place, proud] for _, place in points])
    sights = []
    for name, eye in EYES.items():
        if eye.sees(xyz).all():
            sights += [Sight(photo=name, u=float(u), v=float(v), at=at) for (at, _), (u, v) in zip(
                points, eye.project(xyz), strict=True)]  # fmt: skip
    return tuple(sights)


def _line(name: str, kind: Kind, x: float, side: Side) -> Mark:
    return Mark(name=name, kind=kind, side=side, sights=_sights([(At.POINT, (x, 18.0)), (At.POINT, (x, 60.0))], 0.0))


def _point(name: str, kind: Kind, place: tuple[float, float]) -> Mark:
    return Mark(name=name, kind=kind, sights=_sights([(At.POINT, place)], 0.25 if place[1] == 0 else 0.0))


def _box(name: str, middle: tuple[float, float]) -> Mark:
    (x, y), (w, h) = middle, (PLATE[0] / 2, PLATE[1] / 2)
    corners = [(At.TOP_LEFT, (x - w, y + h)), (At.BOTTOM_RIGHT, (x + w, y - h))]
    return Mark(name=name, kind=Kind.RECEPTACLE, sights=_sights(corners, 5 / 32))


if __name__ == "__main__":
    main()
