"""The job folder: every change whole or not at all, and every file checked at the door."""

import copy
import errno
import json
import os
import shutil
import subprocess
import sys
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path
from tempfile import mkdtemp

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.errors import PlainError
from capture.record import Along, At, EndKind, Kind, Mark, Photo, PrintRun, Room, Side, Sight, Tape, Wall
from layout.scheme import Scheme
from wainscribe import folder as folder_module
from wainscribe.disk import DiskError
from wainscribe.folder import KEPT, JobFolder
from wainscribe.job import Job, JobError, read_job

PHOTO = Photo(name="IMG 1.jpg", file="IMG-1.jpg", caption="from the door", record_only=True)
RECEPTACLE = Mark(
    name="receptacle 1", kind=Kind.RECEPTACLE, sights=(Sight(photo="IMG 1.jpg", u=5.0, v=6.5, at=At.TOP_LEFT, sd=2.0),),
    width=Fraction(11, 4), height=Fraction(9, 2), gangs=2, projection=Fraction(5, 127), stud_side=Side.LEFT,
    cable_slack=Fraction(6), note="half hot\nold box",
)  # fmt: skip
CASING = Mark(name="casing", kind=Kind.CASING_EDGE, side=Side.RIGHT)
TAPE = Tape(start="left end", end="receptacle 1", length=Fraction(81, 2), along=Along.ACROSS, sd=0.1, check_only=True)
LONG = Wall(
    name="long wall", left=EndKind.BULLNOSE, right=EndKind.CASING, bullnose_radius=Fraction(3, 4), width=Fraction(120),
    ceiling=Fraction(96), photos=(PHOTO,), marks=(RECEPTACLE, CASING), tapes=(TAPE,), note="faces north",
)  # fmt: skip
FULL = Job(
    name="Élan’s dining room", address="1 Oak St", customer="E. L.", installer="me", date="2026-05-31", year_built=1962,
    units="mm", paper="a4", print_run=PrintRun(name="second", across=Fraction(385, 64), up=Fraction(9)),
    rooms=(Room(name="dining", walls=(LONG, Wall(name="short wall"))), Room(name="hall", walls=(Wall(name="h"),))),
    scheme=Scheme(stile=Fraction(3), panels={"long wall": 4}),
)  # fmt: skip


@pytest.fixture
def made(tmp_path) -> JobFolder:
    return JobFolder.create(tmp_path / "made", FULL)


def rename(folder: JobFolder, name: str) -> None:
    with folder.changing() as change:
        change.job = change.job.model_copy(update={"name": name})


def files_of(path: Path) -> dict[str, bytes]:
    """All files under a folder with what they hold; the lock holds nothing that counts."""
    return {str(p.relative_to(path)): p.read_bytes() for p in path.rglob("*") if p.is_file() and p.name != ".lock"}


def one_sentence(error: pytest.ExceptionInfo[PlainError]) -> str:
    text = str(error.value)
    assert "\n" not in text
    assert text.endswith(".")
    assert "Input should" not in text  # pydantic's words are not an installer's
    return text


# Round trips


def test_a_job_with_every_field_set_reads_back_the_same(made):
    assert made.load() == FULL
    assert made.load().wall("long wall").marks[0].projection == Fraction(5, 127)  # a millimetre, still exact


def test_a_change_is_on_disk_when_its_block_ends(made):
    rename(made, "renamed")
    assert JobFolder(made.path).load() == FULL.model_copy(update={"name": "renamed"})


def test_who_holds_the_folder_reads_the_file_seldom_and_sees_each_change(made, monkeypatch):
    read, of_disk = [], Path.read_bytes
    monkeypatch.setattr(Path, "read_bytes", lambda file: (file == made.file and read.append(1)) or of_disk(file))
    with made.held():
        assert made.load() == FULL
        rename(made, "renamed")
        assert made.load().name == "renamed"
        assert len(read) == 2  # to load it, and to keep what stands there, whoever wrote that meanwhile
        made.undo()
        assert made.load() == FULL
        made.redo()
        assert made.load().name == "renamed"
    rename(JobFolder(made.path), "by another")
    assert made.load().name == "by another"


def test_a_second_job_is_refused_in_the_same_folder(made):
    before = files_of(made.path)
    with pytest.raises(JobError, match="already holds a job; choose another folder"):
        JobFolder.create(made.path, Job(name="other"))
    assert files_of(made.path) == before


def test_a_folder_copied_elsewhere_opens_with_its_undo(made, tmp_path):
    stored = made.store_photo("a.jpg", b"picture")
    rename(made, "two")
    moved = JobFolder(Path(shutil.copytree(made.path, tmp_path / "else" / "where")))
    shutil.rmtree(made.path)
    assert moved.load().name == "two"
    assert moved.read_photo(stored) == b"picture"
    moved.undo()
    assert moved.load() == FULL


def test_a_byte_order_mark_of_an_editor_does_no_harm(made):
    made.file.write_bytes(b"\xef\xbb\xbf" + made.file.read_bytes())
    assert made.load() == FULL


def test_walls_keep_their_place_and_move_with_their_room():
    hall = Wall(name="h", width=Fraction(30))
    assert [w.name for w in FULL.with_wall(hall).walls] == ["long wall", "short wall", "h"]
    assert FULL.with_wall(hall).wall("h").width == 30
    moved = FULL.with_wall(hall, "dining")
    assert [(r.name, [w.name for w in r.walls]) for r in moved.rooms] == [("dining", ["long wall", "short wall", "h"])]
    assert [r.name for r in FULL.with_wall(Wall(name="new")).rooms] == ["dining", "hall"]
    assert Job(name="j").with_wall(hall).rooms[0].name == "room"


# Undo


def test_undo_goes_back_step_by_step_to_the_beginning_and_no_further(made):
    for n in range(12):
        rename(made, f"state {n}")
    for n in reversed(range(11)):
        made.undo()
        assert made.load().name == f"state {n}"
    made.undo()
    assert made.load() == FULL
    with pytest.raises(JobError, match="There is nothing to undo in "):
        made.undo()
    assert made.load() == FULL


def test_an_undone_change_is_gone_and_a_new_one_can_be_undone_again(made):
    rename(made, "one")
    rename(made, "two")
    made.undo()
    rename(made, "three")
    made.undo()
    assert made.load().name == "one"


def test_a_change_that_changes_nothing_leaves_no_step(made):
    rename(made, FULL.name)
    with pytest.raises(JobError, match="nothing to undo"):
        made.undo()


def test_only_so_many_earlier_states_are_kept(made, monkeypatch):
    assert KEPT >= 100
    monkeypatch.setattr(folder_module, "KEPT", 5)
    for n in range(8):
        rename(made, f"state {n}")
    assert len(list(made.history.iterdir())) == 5
    for _ in range(5):
        made.undo()
    assert made.load().name == "state 2"


def test_undo_mends_a_damaged_or_missing_job_file(made):
    rename(made, "two")
    made.file.write_text("{ half a fi")
    with pytest.raises(JobError, match=r"is damaged \(not JSON\); take the last change back with “wainscribe undo "):
        made.load()
    made.undo()
    assert made.load() == FULL
    rename(made, "two")
    made.file.unlink()
    made.undo()
    assert made.load() == FULL


# What can go wrong


def fail_halfway(change) -> None:
    change.job = change.job.model_copy(update={"name": "never"})
    raise ZeroDivisionError


def test_a_change_that_raises_leaves_every_file_as_it_was(made):
    before = files_of(made.path)
    with pytest.raises(ZeroDivisionError), made.changing() as change:
        fail_halfway(change)
    assert files_of(made.path) == before
    rename(made, "the lock is free again")


@pytest.mark.parametrize("function", ["fsync", "replace"])
@pytest.mark.parametrize(
    ("number", "sentence"),
    [
        (errno.ENOSPC, "is full; nothing was changed. Free some space and try again."),
        (errno.EDQUOT, "is full; nothing was changed. Free some space and try again."),
        (errno.EROFS, "may not be written to; choose a folder of your own."),
        (errno.EIO, "cannot be written (Input/output error); nothing was changed."),
    ],
)
def test_a_disk_that_refuses_leaves_the_job_and_no_temporary_file(made, monkeypatch, function, number, sentence):
    rename(made, "before")
    before = files_of(made.path)

    def refuse(*_):
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as disk:
        disk.setattr(os, function, refuse)
        for act in (lambda: rename(made, "after"), lambda: made.store_photo("a.jpg", b"picture")):
            with pytest.raises(DiskError) as error:
                act()
            assert one_sentence(error).endswith(sentence)
    assert files_of(made.path) == before


def test_undo_passes_over_the_state_kept_for_a_change_that_was_never_written(made, monkeypatch):
    rename(made, "before")
    real = os.replace

    def full_for_the_job(source, target):
        if Path(target) == made.file:
            raise OSError(errno.ENOSPC, "full")
        real(source, target)

    with monkeypatch.context() as disk:
        disk.setattr(os, "replace", full_for_the_job)
        with pytest.raises(DiskError, match="is full"):
            rename(made, "after")
    assert made.load().name == "before"
    made.undo()
    assert made.load() == FULL


@contextmanager
def without_rights(path: Path):
    """A folder that this process may read but not write, also where the tests run as root."""
    path.chmod(0o555)
    root = os.geteuid() == 0
    if root:
        os.seteuid(65534)
    try:
        yield
    finally:
        if root:
            os.seteuid(0)
        path.chmod(0o755)


def test_a_folder_without_rights_reads_but_says_that_it_cannot_be_written():
    top = Path(mkdtemp(prefix="wainscribe-test-"))  # pytest's own folders may be entered by their owner alone
    try:
        top.chmod(0o755)
        made = JobFolder.create(top / "made", FULL)
        assert made.load() == FULL
        with without_rights(made.path):
            assert made.load() == FULL
            for act in (lambda: rename(made, "no"), made.undo, lambda: made.store_photo("a.jpg", b"p")):
                with pytest.raises(DiskError) as error:
                    act()
                assert one_sentence(error) == f"{made.path} may not be written to; choose a folder of your own."
        assert made.load() == FULL
    finally:
        shutil.rmtree(top)


HOLD = (
    "import sys; from filelock import FileLock\nwith FileLock(sys.argv[1]): print('held', flush=True); sys.stdin.read()"
)


def test_while_another_program_holds_the_job_a_change_is_refused_in_a_sentence(made, monkeypatch):
    monkeypatch.setattr(folder_module, "WAIT", 0.05)
    lock = str(made.path / ".lock")
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, lock], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as other:
        assert other.stdout.readline() == "held\n"
        with pytest.raises(JobError) as error:
            rename(made, "mine")
        assert one_sentence(error) == f"Another program is changing {made.path} right now; wait for it and try again."
        assert made.load() == FULL  # reading needs no lock
        other.communicate("")
    rename(made, "mine")
    assert made.load().name == "mine"


def test_nothing_is_made_where_there_is_no_job(tmp_path):
    nowhere = JobFolder(tmp_path / "nowhere")
    for act in (nowhere.load, nowhere.undo, lambda: rename(nowhere, "x"), lambda: nowhere.store_photo("a.jpg", b"")):
        with pytest.raises(JobError) as error:
            act()
        sentence = one_sentence(error)
        assert sentence == f"{nowhere.path} is no job folder; make one with “wainscribe new {nowhere.path}”."
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["job", "job/inner"])
def test_a_file_in_the_way_is_told(tmp_path, name):
    (tmp_path / "job").write_text("a file")
    with pytest.raises(DiskError, match="cannot be made, for a file of that name is in the way; choose another"):
        JobFolder.create(tmp_path / name, FULL)
    with pytest.raises(JobError, match="is no job folder"):
        JobFolder(tmp_path / name).load()


def test_a_name_too_long_for_the_disk_is_told(tmp_path):
    with pytest.raises(DiskError, match=r"cannot be written \(File name too long\)"):
        JobFolder.create(tmp_path / ("n" * 300), FULL)


KILLED = """
import json, os, random, signal, sys, time
from pathlib import Path
from wainscribe.folder import JobFolder
folder = JobFolder(Path(sys.argv[1]))
rng = random.Random(1)
acknowledged = 0
for turn in range(30):
    told, tell = os.pipe()
    child = os.fork()
    if child == 0:
        for n in range(acknowledged + 1, 10**6):
            with folder.changing() as change:
                change.job = change.job.model_copy(update={"name": f"state {n}"})
            os.write(tell, b"%d\\n" % n)
    os.close(tell)
    first = os.read(told, 1) if turn % 2 else b""  # every other child is known to be at work when it dies
    time.sleep(rng.uniform(0.002, 0.08))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    with os.fdopen(told, "rb") as pipe:
        acknowledged = int(((first + pipe.read()).splitlines() or [b"%d" % acknowledged])[-1])
    stands = int(folder.load().name.removeprefix("state "))
    print(json.dumps([acknowledged, stands]), flush=True)
    acknowledged = stands
"""


def test_a_change_that_was_acknowledged_outlives_sudden_death(tmp_path):
    folder = JobFolder.create(tmp_path / "made", Job(name="state 0"))
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(folder.path)], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 0, done.stderr
    rounds = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(rounds) == 30
    assert all(stands - acknowledged in (0, 1) for acknowledged, stands in rounds)  # at most the one in hand
    last = rounds[-1][1]
    assert last >= 15  # the changes were really going on
    rename(folder, "after")
    assert [p.name for p in folder.path.iterdir() if p.suffix == ".tmp"] == []
    folder.undo()
    for n in reversed(range(last - 5, last)):
        folder.undo()
        assert folder.load().name == f"state {n}"


# At the door


def test_a_newer_version_is_refused_in_a_plain_word(made):
    made.file.write_text(json.dumps({"version": 7, "nobody": "knows"}))
    with pytest.raises(JobError) as error:
        made.load()
    assert one_sentence(error) == (
        f"{made.file} was written by a newer wainscribe (format 7); update this one to open it."
    )


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("", id="empty"),
        pytest.param("{", id="cut short"),
        pytest.param("[" * 100_000, id="nested deep, open"),
        pytest.param("[" * 100_000 + "]" * 100_000, id="nested deep"),
        pytest.param('{"version": 1, "name": ' + "[" * 900 + "]" * 900 + "}", id="nested inside"),
        pytest.param('{"version": 1, "name": "x", "year_built": 1' + "0" * 5000 + "}", id="endless number"),
        pytest.param("null", id="null"),
        pytest.param("[]", id="list"),
        pytest.param('"job"', id="text"),
        pytest.param("NaN", id="NaN"),
        pytest.param("{}", id="no name"),
        pytest.param('{"version": 0, "name": "x"}', id="no such version"),
        pytest.param('{"version": true, "name": "x", "name": 3}', id="odd version"),
        pytest.param('{"version": 1, "name": "\\ud800"}', id="half a character"),
        pytest.param('{"version": 1, "name": "a\\u0000b"}', id="NUL"),
        pytest.param('{"version": 1, "name": "x", "date": "2026-13-45"}', id="no such day"),
        pytest.param('{"version": 1, "name": "x", "scheme": {"stile": 3.5}}', id="length as number"),
        pytest.param('{"version": 1, "name": "x", "scheme": {"stile": "1/0"}}', id="by nothing"),
        pytest.param('{"version": 1, "name": "x", "scheme": {"stile": "3\\n4"}}', id="length on two lines"),
        pytest.param('{"version": 1, "name": "x", "two\\nlines": 1}', id="field on two lines"),
    ],
)
def test_a_file_that_is_no_job_is_refused_in_one_sentence(text):
    with pytest.raises(JobError) as error:
        read_job(text, "job.json")
    assert one_sentence(error).startswith("job.json is damaged")


def test_bytes_that_are_no_text_are_refused(made):
    made.file.write_bytes(b"\xff\xfe\x00{")
    with pytest.raises(JobError, match="cannot be read"):
        made.load()


def test_numbers_that_are_none_are_refused_and_the_field_is_named():
    data = json.loads(FULL.model_dump_json())
    data["rooms"][0]["walls"][0]["marks"][0]["sights"][0]["u"] = float("nan")
    with pytest.raises(
        JobError, match=r"damaged at “rooms\.0\.walls\.0\.marks\.0\.sights\.0\.u”: it must be a plain number"
    ):
        read_job(json.dumps(data), "job.json")


DATA = json.loads(FULL.model_dump_json())


def places_in(data, path=()):
    """The path of every value inside nested JSON."""
    items = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, value in items:
        yield (*path, key)
        yield from places_in(value, (*path, key))


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=90)
    | st.sampled_from(["1/0", "-3", "12001", "card 3", "left end", "receptacle 1 top", "receptacle 1#0", "2026-02-30"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)  # fmt: skip


@given(st.sampled_from(sorted(places_in(DATA), key=str)), st.sampled_from(["replace", "drop", "add"]), ANYTHING)
@settings(max_examples=300, deadline=None, derandomize=True)
def test_whatever_stands_in_a_field_the_job_loads_or_says_so_in_a_sentence(path, how, value):
    data = copy.deepcopy(DATA)
    *way, last = path
    inside = data
    for key in way:
        inside = inside[key]
    if how == "replace":
        inside[last] = value
    elif how == "drop":
        del inside[last]
    elif isinstance(inside, dict):
        inside["more"] = value
    else:
        inside.append(value)
    try:
        job = read_job(json.dumps(data), "job.json")
    except JobError as error:
        text = str(error)
        assert text.startswith("job.json ")
        assert text.endswith(".")
        assert "\n" not in text
        assert "Input should" not in text
    else:
        assert read_job(job.model_dump_json(), "job.json") == job


def with_walls(*walls: Wall) -> Job:
    return Job(name="j").model_copy(update={"rooms": (Room(name="room", walls=walls),)})


def with_marks(*marks: Mark) -> Job:
    return with_walls(Wall(name="w", marks=marks))


BOX = Mark(name="box", kind=Kind.OTHER)


def stud(name: str) -> Mark:
    return Mark(name=name, kind=Kind.STUD)


MISTAKEN = [
    pytest.param(with_walls(Wall(name="w"), Wall(name="w")), "Two things are called “w”; every wall needs", id="walls"),
    pytest.param(with_marks(BOX, BOX), "Two things are called “box”; every mark on “w” needs a name", id="marks"),
    pytest.param(
        with_walls(Wall(name="w", photos=(PHOTO, PHOTO))), "“IMG 1.jpg”; every photo of “w” needs a", id="photos"
    ),
    pytest.param(
        FULL.model_copy(update={"rooms": (Room(name="a"), Room(name="a"))}), "“a”; every room needs", id="rooms"
    ),
    pytest.param(with_marks(stud("card 3")), "“card 3” on “w” already means another place; use", id="card"),
    pytest.param(with_marks(stud("floor")), "“floor” on “w” already means another place; use", id="floor"),
    pytest.param(
        with_marks(Mark(name="right end", kind=Kind.WALL_END, side=Side.LEFT)), "“right end” on “w” already", id="end"
    ),
    pytest.param(with_marks(BOX, stud("box left")), "“box left” on “w” already means another place", id="edge"),
    pytest.param(with_marks(BOX, stud("box#0")), "“box#0” on “w” already means another place", id="sight"),
    pytest.param(with_walls(Wall(name=" w")), "“w” has spaces at an end, two in a row, or a line break", id="space"),
    pytest.param(with_walls(Wall(name="a\nb")), "“a b” has spaces at an end, two in a row, or a line", id="two lines"),
    pytest.param(with_walls(Wall(name="a\x1bb")), "“a b” holds characters that cannot be printed", id="control"),
]


@pytest.mark.parametrize(("job", "sentence"), MISTAKEN)
def test_names_that_could_be_mistaken_are_not_written(made, job, sentence):
    before = files_of(made.path)
    with pytest.raises(JobError) as error, made.changing() as change:
        change.job = job
    assert sentence in one_sentence(error)
    assert files_of(made.path) == before


@pytest.mark.parametrize(("job", "sentence"), MISTAKEN)
def test_names_that_could_be_mistaken_are_refused_at_the_door(job, sentence):
    with pytest.raises(JobError) as error:
        read_job(job.model_dump_json(), "job.json")
    assert one_sentence(error).startswith("job.json is damaged: ")
    assert sentence in str(error.value)


def test_the_ends_and_the_floor_may_be_called_what_they_are():
    marks = (
        Mark(name="left end", kind=Kind.WALL_END, side=Side.LEFT),
        Mark(name="right end", kind=Kind.WALL_END, side=Side.RIGHT),
        Mark(name="floor", kind=Kind.FLOOR_POINT),
        Mark(name="card table", kind=Kind.IN_FRONT),
        BOX,
        Mark(name="box top shelf", kind=Kind.OTHER),
    )
    job = with_marks(*marks)
    assert read_job(job.model_dump_json(), "job.json").wall("w").marks == marks


def test_the_published_schema_describes_the_job_with_all_its_parts():
    schema = Job.model_json_schema()
    assert schema["type"] == "object"
    assert {"Wall", "Mark", "Tape", "Photo", "Room", "Scheme", "PrintRun", "Sight"} <= set(schema["$defs"])
    assert set(DATA) == set(schema["properties"])
    for name, sample in (("Wall", DATA["rooms"][0]["walls"][0]), ("Scheme", DATA["scheme"])):
        assert set(sample) == set(schema["$defs"][name]["properties"])
        assert schema["$defs"][name]["additionalProperties"] is False
    assert Job.model_validate(DATA) == FULL


# Photos


def test_a_photo_is_kept_byte_for_byte_and_once(made):
    data = bytes(range(256)) * 40
    file = made.store_photo("IMG_0001.JPG", data)
    assert file == "IMG_0001.jpg"
    assert made.store_photo("IMG_0001.JPG", data) == file
    assert made.read_photo(file) == data
    assert (made.photos / file).read_bytes() == data
    assert len(list(made.photos.iterdir())) == 1


def test_the_same_name_with_other_content_takes_a_name_beside_it(made):
    names = [made.store_photo(name, data) for name, data in (("a.jpg", b"1"), ("a.jpg", b"2"), ("A.JPG", b"3"))]
    assert names == ["a.jpg", "a-2.jpg", "A-3.jpg"]  # on some machines A.jpg is a.jpg
    assert [made.read_photo(name) for name in names] == [b"1", b"2", b"3"]


@pytest.mark.parametrize(
    "name",
    [
        "../../x", "..", ".", "/etc/passwd", "C:\\Users\\me\\x.jpg", "a'b\"c`$(d).jpg", "x" * 500 + ".jpg", "😀🪚.heic",
        "", " ", ".jpg", "a\nb.jpg", "nul\0byte.jpg", "CON.jpg", "lpt1", "wand\udcff.jpg", "photo.jp/eg",
        "a.tar.verylong", "-rf.jpg", "a:b.jpg",
    ],
)  # fmt: skip
def test_a_hostile_file_name_stays_in_the_photos_folder(made, name):
    before = files_of(made.path)
    file = made.store_photo(name, b"picture")
    assert files_of(made.path) == before | {f"photos/{file}": b"picture"}
    assert made.read_photo(file) == b"picture"
    assert len(file) <= 70
    assert file.isascii()
    assert not set(file) & set("/\\:'\"` $\n\0")
    assert not file.startswith(("-", "."))
    assert file.split(".")[0].casefold() not in ("con", "lpt1")


def test_a_photo_outside_the_folder_is_not_read(made, tmp_path):
    (tmp_path / "secret.jpg").write_bytes(b"secret")
    with pytest.raises(JobError, match="is missing from"):
        made.read_photo("../../secret.jpg")
    with pytest.raises(JobError, match=r"The photo gone\.jpg is missing from .*; copy it back there\."):
        made.read_photo("gone.jpg")
