"""Bad input by the thousand: ``make torture``, or ``python -m tests.fuzz --inputs 500`` for a short run.

Photos, job files, lengths, tables of points and command lines are mutated at random. Each must be taken, or refused by
one plain sentence; none may end in a traceback, take over TIME seconds, or more memory than MEMORY; the original photo
stays as it was.
"""

import io
import json
import multiprocessing
import os
import random
import re
import resource
import shutil
import sys
import warnings
from collections import Counter
from collections.abc import Callable
from fractions import Fraction
from multiprocessing.connection import Connection
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import click
import numpy as np
from click.testing import CliRunner
from PIL import Image, ImageCms

from capture.errors import PlainError
from capture.lengths import parse_length
from capture.record import Along, At, EndKind, Kind, Side
from tests.synthetic import look, photograph
from wainscribe import actions, told
from wainscribe.demo import demo_source
from wainscribe.job import read_job

TIME = 30.0  # s for one input, on a busy machine
MEMORY = 700_000_000  # bytes that a program may hold at most
WALL = "long wall"
CARDS = {3: (30.0, 62.0, 1.0), 5: (62.0, 30.0, -1.0), 8: (88.0, 60.0, 0.5)}

Case = Callable[["Bench", random.Random], None]


class Bench:
    """What the inputs are tried on: a job with one photographed wall, and photos to spoil."""

    def __init__(self, place: Path) -> None:
        self.place = place
        camera = look(size=(800, 600), f=585.0, at=(60.0, 48.0, 80.0), yaw=4, centre=(0, 0))
        picture = Image.fromarray(photograph(camera, CARDS)).convert("RGB")
        self.photos = list(encodings(picture))
        (place / "wall.jpg").write_bytes(self.photos[0])
        self.folder = actions.new_job(place / "job", "the job")
        actions.set_wall(self.folder, WALL, None, {"width": "120"})
        actions.add_photo(self.folder, WALL, place / "wall.jpg")
        demo = json.loads((demo_source() / "job.json").read_text("utf-8"))
        self.jobs = [json.loads(self.folder.file.read_text("utf-8")), demo, without_photos(demo)]


def encodings(picture: Image.Image) -> list[bytes]:
    """One picture in many kinds of file."""
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = 26
    exif[0x0112] = 6
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    grey16 = Image.fromarray(np.asarray(picture.convert("L")).astype(np.uint16) * 257)
    ways: list[tuple[Image.Image, str, dict[str, Any]]] = [
        (picture, "JPEG", {"exif": exif, "quality": 90}),
        (picture, "JPEG", {"progressive": True, "icc_profile": profile}),
        (picture.convert("CMYK"), "JPEG", {}),
        (picture.convert("L"), "JPEG", {}),
        (picture, "PNG", {"exif": exif}),
        (grey16, "PNG", {}),
        (picture.convert("RGBA"), "PNG", {}),
        (picture.convert("P"), "PNG", {}),
        (picture, "PNG", {"save_all": True, "append_images": [picture, picture]}),
        (picture, "HEIF", {"exif": exif}),
        (picture, "MPO", {"save_all": True, "append_images": [picture]}),
        (picture, "GIF", {}),
        (picture, "TIFF", {}),
        (picture.resize((1, 1)), "PNG", {}),
    ]
    made = []
    for image, kind, options in ways:
        out = io.BytesIO()
        image.save(out, kind, **options)
        made.append(out.getvalue())
    return made


def without_photos(job: dict[str, Any]) -> dict[str, Any]:
    """The job by tape alone."""
    tape = json.loads(json.dumps(job))
    for room in tape["rooms"]:
        for wall in room["walls"]:
            wall["photos"] = []
            wall["marks"] = [{**mark, "sights": []} for mark in wall["marks"]]
    return dict(tape)


def spoiled(data: bytes, rng: random.Random, others: list[bytes]) -> bytes:
    """Bytes with a few faults in them."""
    out = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 5))):
        at = rng.randrange(max(len(out), 1))
        early = rng.randrange(min(len(out), 600) or 1)  # headers are where it hurts
        what = rng.choice(("flip", "flip", "head", "cut", "splice", "fill", "size", "double"))
        if what == "flip" and out:
            out[at] ^= 1 << rng.randrange(8)
        elif what == "head" and out:
            out[early] = rng.choice((0, 1, 127, 128, 255, rng.randrange(256)))
        elif what == "cut":
            del out[at:]
        elif what == "splice":
            other = rng.choice(others)
            start = rng.randrange(len(other))
            out[at : at + rng.randrange(2000)] = other[start : start + rng.randrange(2000)]
        elif what == "fill":
            out[at : at + 64] = bytes([rng.choice((0, 255))]) * 64
        elif what == "size":
            out[early : early + 2] = (20000).to_bytes(2, rng.choice(("big", "little")))
        elif what == "double":
            out += out[: 100_000 - len(out)] if len(out) < 100_000 else b""
    return bytes(out)


HOSTILE: tuple[Any, ...] = (
    None, True, -1, 0, 1, 10**400, 1e308, -1e308, float("nan"), float("inf"), "", " ", "0", "-1", "1/0", "0/1", "1e999",
    "NaN", "99999999/7", "1/99999999999999999999", [], {}, [[]], "a" * 500, "\u202egnirts", "👷🏽", "\ud800", "\x00",
    "a\nb",
    "<script>alert(1)</script>", "=1+1", "../../etc/passwd", "left end", "card 3", "floor", "receptacle", "bullnose",
    {"value": 1, "sd": -1}, "100000000000", "1/1000000", "24000", "5e-324",
)  # fmt: skip


def mutated(node: Any, rng: random.Random) -> Any:
    """A JSON value with something changed somewhere in it."""
    if isinstance(node, dict) and node and rng.random() < 0.93:
        key = rng.choice(list(node))
        what = rng.random()
        if what < 0.05:
            return {k: v for k, v in node.items() if k != key}
        if what < 0.08:
            return {**node, rng.choice(("extra", "__class__", "version", key + "x")): rng.choice(HOSTILE)}
        return {**node, key: mutated(node[key], rng)}
    if isinstance(node, list) and node and rng.random() < 0.93:
        at = rng.randrange(len(node))
        what = rng.random()
        if what < 0.05:
            return [*node, node[at]]
        if what < 0.08:
            return node[:at] + node[at + 1 :]
        return [*node[:at], mutated(node[at], rng), *node[at + 1 :]]
    if rng.random() < 0.02:
        deep: Any = "deep"
        for _ in range(rng.choice((50, 3000))):
            deep = [deep]
        return deep
    if isinstance(node, int | float) and not isinstance(node, bool) and abs(node) < 1e300 and rng.random() < 0.4:
        return node * rng.choice((-1, 0, 1e-9, 0.1, 10, 1e9))
    if isinstance(node, str) and re.fullmatch(r"-?\d+(/[1-9]\d*)?", node) and rng.random() < 0.8:
        return str(Fraction(node) * rng.choice((0, -1, Fraction(1, 64), Fraction(1, 3), 2, 10, 1000)))
    if isinstance(node, bool) and rng.random() < 0.8:
        return not node
    if isinstance(node, str) and rng.random() < 0.5:
        return rng.choice((*Kind, *EndKind, *At, *Along, *Side, "all", "long wall", "move", "leave"))
    return rng.choice(HOSTILE)


def photo(bench: Bench, rng: random.Random) -> None:
    """A spoiled photo is taken in, or refused."""
    data = spoiled(rng.choice(bench.photos), rng, bench.photos)
    file = bench.place / "spoiled.jpg"
    file.write_bytes(data)
    taken, _ = actions.add_photo(bench.folder, WALL, file)
    assert bench.folder.read_photo(taken.file) == data
    bench.folder.undo()
    os.unlink(bench.folder.photos / taken.file)


def job_file(bench: Bench, rng: random.Random) -> None:
    """A spoiled job file is opened and planned, or refused."""
    value = rng.choice(bench.jobs)
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        value = mutated(value, rng)
    try:
        text = json.dumps(value)
    except (ValueError, RecursionError):
        text = "[" * 100_000
    if rng.random() < 0.1:
        text = spoiled(text.encode("utf-8", "replace"), rng, [b'{"a": 1}']).decode("utf-8", "replace")
    job = read_job(text, "job.json")
    solved, plan = actions.plan_job(bench.folder, job)
    json.dumps([told.planned(plan), *(told.solved(one) for one in solved)], allow_nan=False)


LENGTHS = "0123456789 ''\"\"//.,-–+½⅛⅞′″ feetinchmcm\u202e\u0663"


def length(_: Bench, rng: random.Random) -> None:
    """Letters that may be a length."""
    parse_length("".join(rng.choice(LENGTHS) for _ in range(rng.randrange(14))))


def points(bench: Bench, rng: random.Random) -> None:
    """A table of points that may be none."""
    table = "name,u,v,z\n" + "".join(
        f"p{n},{rng.choice((400, -5, 1e9, 'x', '', 'nan', '1e400', 300))},{rng.choice((300, 1e-300, '=1', 250))},"
        f"{rng.choice((0, 1, -40, 79, 80, 1e6, ''))}\n" for n in range(rng.randrange(4))
    )  # fmt: skip
    data = table.encode() if rng.random() < 0.5 else spoiled(table.encode(), rng, [b"a,b\xff\x00"])
    file = bench.place / "points.csv"
    file.write_bytes(data)
    run(["locate", str(bench.folder.path), WALL, "--photo", "wall.jpg", "--points", str(file), "--json"])


WORDS = (
    *(
        "-1",
        "0",
        "36 1/2",
        "1/0",
        "nan",
        "1e400",
        "999999",
        "",
        " ",
        "\x00",
        "\u202egnirts",
        "<b>",
        "a" * 300,
        "👷🏽‍♀️",
        WALL,
    ),
    *(
        "stud",
        "window",
        "receptacle",
        "left end",
        "right end",
        "floor",
        "card 3",
        "casing",
        "bullnose",
        "--remove",
        "--check",
    ),
    *(
        "stile=0",
        "stile=-3",
        "top=1e9",
        "panels.long wall=101",
        "panel_width=1/64",
        "moulding=40",
        "reveal=30",
        "order=,",
    ),
    *(
        "preferences=width",
        "pin.x=move",
        "--left",
        "--width",
        "--across",
        "--up",
        "--along",
        "--note",
        "--json",
        "--photo",
    ),
    *(
        "wall.jpg",
        "--centre",
        "400,300",
        "nan,nan",
        "--top-left",
        "1,1",
        "--bottom-right",
        "700,500",
        "date=2026-02-30",
    ),
    *("year_built=1e3", "units=mm", "units=ell", "tiers=2", "tiers=0", "nudge=50", "proportion=0", "ledge=yes", "-h"),
)
COMMANDS = ("wall", "mark", "tape", "scheme", "about", "solve", "plan", "next", "undo", "snap", "aside", "print-run")


def command(bench: Bench, rng: random.Random) -> None:
    """A command line that may be nonsense; often it is nearly right."""
    what = rng.choice(COMMANDS)
    words = [rng.choice(WORDS) for _ in range(rng.randrange(5))]
    if rng.random() < 0.6:
        words = {
            "mark": [WALL, rng.choice([kind.value for kind in Kind])],
            "tape": [WALL, "left end", "right end"],
        }.get(what, [WALL] if what in ("wall", "snap", "aside") else []) + words
    run([what, str(bench.folder.path), *words])


def run(words: list[str]) -> None:
    """Run the command line; a sentence on standard error is a refusal."""
    from wainscribe.cli import main

    result = CliRunner().invoke(main, words, prog_name="wainscribe")
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code in (0, 1, 2)
    if result.exit_code:
        raise PlainError(result.stderr.strip().splitlines()[-1])


CASES: dict[str, tuple[Case, float]] = {  # and how often
    "photo": (photo, 0.3),
    "job file": (job_file, 0.35),
    "length": (length, 0.1),
    "points": (points, 0.05),
    "command": (command, 0.2),
}


def try_one(bench: Bench, name: str, seed: int) -> str:
    """What became of one input: "taken", "refused", or what went wrong."""
    try:
        CASES[name][0](bench, random.Random(seed))
    except PlainError as error:
        text = str(error)
        return "refused" if text.strip() and "\n" not in text and len(text) < 1500 else f"no plain sentence: {text!r}"
    except BaseException as error:  # whatever it is, no person may see it
        place = error.__traceback__
        while place and place.tb_next:
            place = place.tb_next
        where = f"{place.tb_frame.f_code.co_filename}:{place.tb_lineno}" if place else ""
        return f"{type(error).__name__}: {str(error)[:300]} at {where}"
    return "taken"


def worker(pipe: Connection, place: Path) -> None:
    """Try what comes through the pipe, and say what became of it and how much memory is held at most."""
    warnings.simplefilter("error")
    os.environ["XDG_CONFIG_HOME"] = str(place / "configuration")
    shutil.rmtree(place, ignore_errors=True)
    place.mkdir(parents=True)
    bench = Bench(place)
    spotless = {p: p.read_bytes() for p in (bench.folder.file,)}
    pipe.send("ready")
    while (asked := pipe.recv()) is not None:
        pipe.send((try_one(bench, *asked), most_memory()))
        for file, data in spotless.items():
            file.write_bytes(data)


def most_memory() -> int:
    """The most bytes that this program has held; Linux's own rusage would count what its parent held before it."""
    status = Path("/proc/self/status")
    if status.exists():
        return int(re.findall(r"VmHWM:\s+(\d+) kB", status.read_text())[0]) * 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


class Worker:
    """A program of its own, so that one that hangs or dies can be told and replaced."""

    def __init__(self, place: Path) -> None:
        self.place = place
        context = multiprocessing.get_context("spawn")
        self.pipe, theirs = context.Pipe()
        self.process = context.Process(target=worker, args=(theirs, place), daemon=True)
        self.process.start()
        assert self.pipe.recv() == "ready"

    def ask(self, name: str, seed: int) -> tuple[str, int]:
        """What became of one input; None for a program that hung or died."""
        self.pipe.send((name, seed))
        if not self.pipe.poll(TIME):
            self.process.kill()
            return f"took over {TIME:.0f} s", 0
        try:
            became, memory = self.pipe.recv()
        except EOFError:
            return "the program died", 0
        return str(became), int(memory)


def try_inputs(
    count: int, seed: int, place: Path, tell: Callable[[int], None] = lambda _: None
) -> tuple[Counter[str], list[str], int]:
    """Try `count` inputs; how many were taken and refused, what went wrong, and the most memory held."""
    rng = random.Random(seed)
    names, shares = list(CASES), [share for _, share in CASES.values()]
    counts, wrong, most = Counter[str](), [], 0
    at_work = Worker(place / "bench")
    for n in range(count):
        name = rng.choices(names, shares)[0]
        became, memory = at_work.ask(name, seed + n)
        most = max(most, memory)
        counts[f"{name} {became}" if became in ("taken", "refused") else "wrong"] += 1
        if became not in ("taken", "refused"):
            wrong.append(f"{name}, seed {seed + n}: {became}")
        if became.startswith(("took", "the program")):
            at_work = Worker(place / "bench")
        tell(n)
    at_work.pipe.send(None)
    return counts, wrong, most


@click.command()
@click.option("--inputs", default=10_000, show_default=True)
@click.option("--seed", default=0, show_default=True)
def main(inputs: int, seed: int) -> None:
    """Try them, print what became of them, and fail if anything went wrong."""

    def tell(n: int) -> None:
        if sys.stderr.isatty() and n % 20 == 0:
            print(f"\r{n} of {inputs}", end="", file=sys.stderr)

    with TemporaryDirectory() as place:
        counts, wrong, most = try_inputs(inputs, seed, Path(place), tell)
    print(f"inputs: {inputs}, most memory {most / 1e6:.0f} MB")
    for what, times in sorted(counts.items()):
        print(f"  {what}: {times}")
    for line in wrong[:40]:
        print(f"  WRONG {line}")
    if wrong or most > MEMORY:
        sys.exit(1)


if __name__ == "__main__":
    main()
