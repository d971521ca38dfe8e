"""Sudden death, thousands of times: ``make torture``, or ``python -m tests.torture --kills 100`` for a short run.

A child program changes a job without pause (walls, marks, tapes, schemes, photos, undo, papers) and says what
stands after each change; it is killed at a random moment. Then the job must open, hold the last change that was told or
the one in hand, and have no half photo, paper or earlier state. The same on a disk so small that it is soon full.
"""

import hashlib
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory

import click
from PIL import Image

from capture.errors import PlainError
from capture.record import Along, Kind, Mark, Tape
from tests.synthetic import look, photograph
from wainscribe import actions
from wainscribe.folder import JobFolder
from wainscribe.job import read_job
from wainscribe.papers import make_papers

WALLS = ("long wall", "short wall", "passage")
CARDS = {3: (30.0, 62.0, 1.0), 5: (62.0, 30.0, -1.0), 8: (88.0, 60.0, 0.5)}
LONGEST = 0.12  # s a child lives; many changes fit
ROOM = 100_000  # bytes left on a disk that is soon full
PAPER_LONGEST = 6.0  # s, when it makes papers


@dataclass
class Tally:
    """What was survived."""

    kills: int = 0
    heard: int = 0  # answers, told before a kill
    changes: int = 0
    in_hand: int = 0  # kills after which the change in hand stood though nobody had been told
    refused: Counter[str] = field(default_factory=Counter)


def photos_for(folder: Path, count: int) -> list[Path]:
    """Small photographs of cards, each named by what it holds, so that half a one is known."""
    made = []
    for seed in range(count):
        camera = look(size=(800, 600), f=585.0, at=(60.0, 48.0, 80.0), yaw=4 * seed, centre=(0, 0))
        file = folder / "raw.jpg"
        Image.fromarray(photograph(camera, CARDS, seed=seed)).convert("RGB").save(file, quality=90)
        named = folder / f"P{hashlib.sha256(file.read_bytes()).hexdigest()[:24]}.jpg"
        file.rename(named)
        made.append(named)
    return made


def act(folder: JobFolder, rng: random.Random, photos: list[Path]) -> None:
    """One random change, such as people make."""
    wall = rng.choice(WALLS)
    what = rng.choice(("wall", "mark", "mark", "tape", "scheme", "about", "photo", "remove", "undo", "undo"))
    number = rng.randint(1, 60)
    if what == "wall":
        actions.set_wall(folder, wall, None, {"width": str(rng.randint(60, 200)), "note": f"n{rng.random()}"})
    elif what == "mark":
        reach = Tape(
            start="left end", end=f"stud {number}", length=Fraction(rng.randint(1, 900), 16), along=Along.ACROSS
        )
        actions.add_mark(folder, wall, Mark(name=f"stud {number}", kind=Kind.STUD, note=f"{rng.random()}"), [reach])
    elif what == "tape":
        tape = Tape(start="left end", end="right end", length=Fraction(rng.randint(900, 3000), 16), along=Along.ACROSS)
        actions.add_tape(folder, wall, tape)
    elif what == "scheme":
        actions.set_scheme(folder, {"top": str(rng.randint(30, 50))})
    elif what == "about":
        actions.set_about(folder, {"customer": f"c{rng.random()}"})
    elif what == "photo":
        actions.add_photo(folder, wall, rng.choice(photos))
    elif what == "remove":
        marks = folder.load().wall(wall).marks
        actions.remove_mark(folder, wall, rng.choice(marks).name if marks else "none")
    elif what == "undo":
        folder.undo()


def digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def child(path: Path, seed: int, photos: list[Path], tell: int, papers: bool) -> None:
    """Change the job until killed; say what stands, after each change."""
    folder, rng = JobFolder(path), random.Random(seed)
    if papers:
        make_papers(folder, path / "papers", lambda _: None)
        os._exit(0)
    while True:
        try:
            act(folder, rng, photos)
            said = "done"
        except PlainError as error:  # such as nothing to undo; told in a sentence, and nothing may have changed
            said = str(error)
        line = json.dumps([digest(folder.file.read_bytes()), said]) + "\n"
        os.write(tell, line.encode())


def forked(path: Path, seed: int, photos: list[Path], papers: bool) -> tuple[int, int]:
    """A child at work; its number, and the pipe that it speaks through."""
    hear, tell = os.pipe()
    number = os.fork()
    if number == 0:
        try:
            os.close(hear)
            child(path, seed, photos, tell, papers)
        except BaseException as error:
            print(f"seed {seed}: {type(error).__name__}: {error}", file=sys.stderr, flush=True)
        os._exit(1)
    os.close(tell)
    return number, hear


def one_kill(path: Path, seed: int, photos: list[Path], tally: Tally, papers: bool = False) -> None:
    """Let a child work, kill it, and look at what it left."""
    folder, rng = JobFolder(path), random.Random(seed)
    told, states = digest(folder.file.read_bytes()), kept(folder)
    number, hear = forked(path, seed, photos, papers)
    first = os.read(hear, 1) if seed % 2 and not papers else b""  # every other child is known to be at work
    time.sleep(rng.uniform(0, PAPER_LONGEST if papers else LONGEST))
    os.kill(number, signal.SIGKILL)
    _, status = os.waitpid(number, 0)
    with os.fdopen(hear, "rb") as pipe:
        lines = [json.loads(line) for line in (first + pipe.read()).splitlines()]
    if os.WIFEXITED(status) and not papers:
        raise AssertionError(f"the child of seed {seed} ended by itself: status {status}")
    tally.kills += 1
    tally.heard += len(lines)
    tally.changes += sum(said == "done" for _, said in lines)
    tally.refused.update(said for _, said in lines if said != "done")
    look_over(folder, lines[-1][0] if lines else told, states, tally, seed)


def look_over(folder: JobFolder, told: str, before: list[str], tally: Tally, seed: int) -> None:
    """Whether a job is whole and holds what was told."""
    folder.load()
    stands = digest(folder.file.read_bytes())
    if stands != told:  # the change in hand: a step on, whose earlier state is what was told; or a step back
        states = kept(folder)
        forward, back = states[-1:] == [told], stands in before or stands in states or stands not in (*before, *states)
        assert forward or back, f"seed {seed}: neither what was told nor one step from it"
        tally.in_hand += 1
    for state in sorted(folder.history.glob("*.json")):
        read_job(state.read_text("utf-8"), str(state))
    for photo in folder.photos.glob("[!.]*"):
        assert photo.stem == f"P{digest(photo.read_bytes())[:24]}", f"seed {seed}: {photo.name} is not whole"
    named = {p.file for wall in folder.load().walls for p in wall.photos}
    assert named <= {p.name for p in folder.photos.iterdir()}, f"seed {seed}: a photo is missing"
    for paper in (folder.path / "papers").glob("[!.]*"):
        data = paper.read_bytes()
        assert data, f"seed {seed}: {paper.name} is empty"
        assert paper.suffix != ".pdf" or data.rstrip().endswith(b"%%EOF"), f"seed {seed}: {paper.name} is not whole"


def kept(folder: JobFolder) -> list[str]:
    """The earlier states, oldest first."""
    return [digest(state.read_bytes()) for state in sorted(folder.history.glob("*.json"))]


def new_job(path: Path, photos: list[Path]) -> None:
    folder = actions.new_job(path, "the job")
    for wall in WALLS:
        actions.set_wall(folder, wall, None, {"width": "120"})
    actions.add_photo(folder, WALLS[0], photos[0])


@contextmanager
def small_disk(at: Path) -> Iterator[Path]:
    """A disk of its own, so small that it is soon full."""
    at.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=16m", "tmpfs", str(at)], check=True)
    try:
        yield at
    finally:
        subprocess.run(["umount", str(at)], check=True)


def kills(count: int, seed: int, at: Path, photos: list[Path], room: int | None = None) -> Tally:
    """Kill `count` children, one in forty of them at its papers; or on a disk with `room` bytes left."""
    path, tally = at / "job", Tally()
    _in_a_child(new_job, path, photos)
    if room is not None:
        (at / "others").write_bytes(bytes(shutil.disk_usage(at).free - room))
    for n in range(count):
        one_kill(path, seed + n, photos, tally, papers=room is None and n % 40 == 39)
        if sys.stderr.isatty() and n % 20 == 0:
            print(f"\r{n} of {count}", end="", file=sys.stderr)
    return tally


def _in_a_child(work: Callable[..., object], *arguments: object) -> None:
    """What would start OpenCV's threads is done in a child, for a program with threads cannot be forked safely."""
    number = os.fork()
    if number == 0:
        try:
            work(*arguments)
            os._exit(0)
        except BaseException as error:
            print(f"{type(error).__name__}: {error}", file=sys.stderr)
            os._exit(1)
    assert os.waitpid(number, 0)[1] == 0


def read_only(at: Path, photos: list[Path]) -> str:
    """A disk that may not be written to: the job opens and measures; a change is refused in a sentence."""
    with small_disk(at) as disk:
        _in_a_child(new_job, disk / "job", photos)
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        folder = JobFolder(disk / "job")
        folder.load()
        try:
            folder.undo()
        except PlainError as error:
            return str(error)
    raise AssertionError("a disk that may not be written to was written to")


@click.command()
@click.option("--kills", "count", default=1200, show_default=True)
@click.option("--seed", default=0, show_default=True)
def main(count: int, seed: int) -> None:
    """Kill, fill and lock, and print what was survived."""
    with TemporaryDirectory() as place:
        at = Path(place)
        os.environ["XDG_CONFIG_HOME"] = str(at / "configuration")
        (at / "photos").mkdir()
        made = subprocess.run(
            [sys.executable, "-c", f"from tests.torture import *; photos_for(Path({str(at / 'photos')!r}), 6)"],
            check=True,
        )
        assert made.returncode == 0
        photos = sorted((at / "photos").glob("P*.jpg"))
        show("kills", kills(count, seed, at, photos))
        if os.geteuid() == 0:
            with small_disk(at / "small") as disk:
                tally = kills(count // 4, seed + count, disk, photos, ROOM)
                show("kills on a full disk", tally)
                assert any("is full" in said for said in tally.refused), "the small disk was never full"
            print(f"read-only disk: {read_only(at / 'locked', photos)}")
        else:
            print("not root: no small disk and no read-only disk could be mounted, so neither was tried")


def show(title: str, tally: Tally) -> None:
    print(f"{title}: {tally.kills}, answers heard {tally.heard}, changes told {tally.changes}")
    print(f"  the change in hand stood {tally.in_hand} times")
    for said, times in tally.refused.most_common(6):
        print(f"  refused {times} times: {said[:140]}")


if __name__ == "__main__":
    main()
