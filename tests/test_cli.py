"""The command line as an installer meets it: what it says, where it says it, and the exit status."""

import errno
import json
import os
import re
import subprocess
import sys
from fractions import Fraction

import click
import pytest
from PIL import Image

from capture.record import Kind
from tests.conftest import WALL, card_box
from wainscribe.cli import main
from wainscribe.folder import JobFolder

PROGRAM = [sys.executable, "-c", "from wainscribe.cli import main; main(prog_name='wainscribe')"]


def refused(result) -> str:
    """The one line that says why it could not be done; nothing else may be said, and nothing on standard output."""
    assert result.exit_code == 1
    assert result.stdout == ""
    (line,) = result.stderr.splitlines()
    return line


def misused(result) -> str:
    """What wrong use is told, below the usage lines."""
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.startswith("Usage: wainscribe ")
    return result.stderr.splitlines()[-1]


# What cannot be done: one line, exit status 1


def test_a_file_that_is_no_photo(cli, job, tmp_path):
    (tmp_path / "list.jpg").write_text("2 boxes of screws, and a pencil for every pocket\n" * 20)
    assert refused(cli("photo", job, WALL, tmp_path / "list.jpg")) == (
        "Error: “list.jpg” is not a JPEG, PNG or HEIC photo; send the file as the phone took it."
    )


@pytest.mark.parametrize("kind", ["PNG", "HEIF"])
def test_every_kind_of_picture_that_a_phone_writes_is_taken(cli, job, tmp_path, wall_photo, kind):
    file = tmp_path / f"other.{kind.lower()}"
    rows, columns = card_box(5)
    with Image.open(wall_photo) as picture:
        picture.crop((columns.start - 40, rows.start - 40, columns.stop + 40, rows.stop + 40)).save(file, format=kind)
    assert cli("photo", job, WALL, file).stderr == f"{file.name}: cards 5.\n"


def test_a_photo_cut_short(cli, job, tmp_path, wall_photo):
    (tmp_path / "cut.jpg").write_bytes(wall_photo.read_bytes()[:9000])
    assert refused(cli("photo", job, WALL, tmp_path / "cut.jpg")) == (
        "Error: “cut.jpg” is damaged or cut short and cannot be read; copy it from the phone again."
    )


def test_one_bad_file_does_not_keep_the_others_out(cli, job, tmp_path, photos):
    (tmp_path / "list.jpg").write_text("screws\n" * 20)
    result = cli("photo", job, WALL, tmp_path / "list.jpg", photos["cards 5 and 8"])
    assert result.exit_code == 1
    lines = result.stderr.splitlines()
    assert [line for line in lines if not line.startswith("looking at ")] == [
        "Error: “list.jpg” is not a JPEG, PNG or HEIC photo; send the file as the phone took it.",
        "cards 5 and 8.jpg: cards 5, 8.",
    ]
    assert [line for line in lines if line.startswith("looking at ")] == [
        "looking at 1 of 2: list.jpg", "looking at 2 of 2: cards 5 and 8.jpg",
    ]  # fmt: skip


def test_photos_named_together_are_noted_in_their_order(cli, job, photos):
    files = [photos[name] for name in ("card 5 twice", "card 3", "no card", "cards 5 and 8")]
    result = cli("photo", job, WALL, *files)
    assert result.exit_code == 0
    noted = [photo.name for photo in JobFolder(job).load().wall(WALL).photos]
    assert noted[-4:] == [file.name for file in files]


def test_a_folder_in_place_of_a_photo(cli, job, tmp_path):
    assert refused(cli("photo", job, WALL, tmp_path)) == (
        f"Error: {tmp_path} is a folder; name the photos in it, such as {tmp_path}/*.jpg."
    )


def test_one_card_twice(cli, job, photos):
    result = cli("photo", job, WALL, photos["card 5 twice"])
    assert result.exit_code == 0
    assert result.stderr.splitlines() == [
        "twice.jpg: cards 3, 8.",
        "warning: Card 5 is in “twice.jpg” twice, so it was left out. Give every card on a wall its own number.",
    ]


def test_a_photo_without_cards(cli, job, photos):
    result = cli("photo", job, WALL, photos["no card"])
    assert result.exit_code == 0
    first, *reasons = result.stderr.splitlines()
    assert first == "no card.jpg: no card. Kept as a record photo."
    assert reasons
    assert all(r.startswith("warning: No card was found in “no card.jpg”: ") for r in reasons)
    assert cli("photo", job, WALL, "--record-only", photos["no card"]).stderr == (
        "no card.jpg: no card. Kept as a record photo.\n"
    )


def test_a_print_out_at_the_wrong_scale(cli, job):
    assert refused(cli("print-run", job, "--across", "5 1/2")) == (
        "Error: The 6 in bar reads 5.500 in, 91.7% of its size: it was fitted to the page; "
        "print the cards again at 100 %."
    )
    assert "--across, --up or both" in misused(cli("print-run", job))
    assert cli("print-run", job, "--across", "6", "--up", "9").stderr == (
        'The bars of print run “first” are noted: across 6", up 9".\n'
    )


def test_a_wall_narrower_than_its_frames(cli, job):
    cli("wall", job, WALL, "--width", "8")
    cli("wall", job, "good wall", "--width", "100")
    result = cli("plan", job)
    assert result.exit_code == 1
    assert result.stderr.startswith("Error: “long wall” is narrower than its frames: ")
    assert "  good wall: 4 panels, " in result.stdout  # the other walls are planned all the same


def test_a_job_folder_from_a_newer_version(cli, job):
    file = job / "job.json"
    file.write_text(json.dumps({**json.loads(file.read_text()), "version": 2}))
    for command in (["solve"], ["plan"], ["papers"], ["scheme"], ["about"], ["wall", WALL], ["photo", WALL, "x.jpg"]):
        assert refused(cli(command[0], job, *command[1:])) == (
            f"Error: {file} was written by a newer wainscribe (format 2); update this one to open it."
        )


def test_a_damaged_job_says_how_to_get_back_and_undo_does_it(cli, job):
    before = (job / "job.json").read_bytes()
    cli("about", job, "customer=E. L.")
    (job / "job.json").write_bytes(before[:100])
    assert refused(cli("solve", job)) == (
        f"Error: {job / 'job.json'} is damaged (not JSON); take the last change back with “wainscribe undo {job}”, "
        "or copy the file from a backup."
    )
    assert cli("undo", job).stderr == "The last change is undone.\n"
    assert (job / "job.json").read_bytes() == before


def test_undo_and_redo_say_what_they_undo_and_make_again(cli, job):
    tape = "tape from"
    for words, what in (
        (["mark", job, WALL, "receptacle", "--across", "31 3/16", "--up", "16"], f"receptacle 1 on “{WALL}” added"),
        (["tape", job, WALL, "floor", "receptacle 1", "17"], f"{tape} floor to receptacle 1 on “{WALL}” changed"),
        (
            ["tape", job, WALL, "left end", "receptacle 1", "31"],
            f"{tape} left end to receptacle 1 on “{WALL}” changed",
        ),
        (["scheme", job, "top=34"], "top of the scheme changed"),
        (["mark", job, WALL, "receptacle 1", "--remove"], f"receptacle 1 on “{WALL}” removed"),
    ):
        assert cli(*words).exit_code == 0
        assert cli("undo", job).stderr == f"Undone: {what}.\n"
        assert cli("redo", job).stderr == f"Made again: {what}.\n"


def test_of_several_changes_in_one_each_is_told(cli, job):
    cli("mark", job, WALL, "window", "--stool-up", "30")
    cli("mark", job, WALL, "window 1", "--stool-up", "30 1/2", "--apron-up", "27")
    tape = "tape from floor to window 1"
    assert cli("undo", job).stderr == (f"Undone: {tape} stool on “{WALL}” changed, {tape} apron on “{WALL}” added.\n")


def test_a_full_disk(cli, job, monkeypatch, tmp_path):
    before = (job / "job.json").read_bytes()

    def full(_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    for command in (
        ["wall", job, "short wall"], ["mark", job, WALL, "stud", "--across", "16"], ["about", job, "customer=x"],
        ["scheme", job, "stile=3"], ["tape", job, WALL, "card 3", "card 8", "58"],
    ):  # fmt: skip
        assert refused(cli(*command)) == (
            f"Error: The disk of {job} is full; nothing was changed. Free some space and try again."
        )
    cards = tmp_path / "cards.pdf"
    assert refused(cli("cards", "--last", "1", "-o", cards)).startswith(f"Error: The disk of {cards} is full; ")
    assert (job / "job.json").read_bytes() == before
    assert not cards.exists()
    assert not list(tmp_path.rglob("*.tmp"))


@pytest.mark.parametrize(
    "command",
    [
        ["wall", "NOWHERE", "a"], ["photo", "NOWHERE", "a", "b.jpg"], ["solve", "NOWHERE"], ["plan", "NOWHERE"],
        ["mark", "NOWHERE", "a", "stud"], ["mark", "NOWHERE", "a", "stud 1", "--remove"], ["papers", "NOWHERE"],
        ["tape", "NOWHERE", "a", "floor", "card 1", "3"], ["scheme", "NOWHERE"], ["scheme", "NOWHERE", "top=36"],
        ["about", "NOWHERE"], ["undo", "NOWHERE"], ["print-run", "NOWHERE", "--up", "9"],
    ],
)  # fmt: skip
def test_no_job_folder(cli, tmp_path, command):
    for nowhere in (tmp_path / "nowhere", tmp_path / "file"):
        (tmp_path / "file").write_text("a file, not a folder")
        words = [nowhere if word == "NOWHERE" else word for word in command]
        assert refused(cli(*words)) == (f"Error: {nowhere} is no job folder; make one with “wainscribe new {nowhere}”.")
    assert not (tmp_path / "nowhere").exists()  # not even a lock


def test_a_job_without_a_wall(cli, tmp_path):
    job = tmp_path / "bare"
    assert cli("new", job).exit_code == 0
    for command in ("solve", "plan", "papers"):
        sentence = f"Error: {job} has no wall yet; add one with “wainscribe wall {job} NAME”."
        assert refused(cli(command, job)) == sentence


def test_next_does_not_call_all_well_where_a_wall_cannot_be_planned(cli, job):
    cli("wall", job, WALL, "--width", "8")
    told = cli("next", job)
    assert told.exit_code == 0
    assert told.stderr.splitlines()[0].startswith("stop: “long wall” is narrower than its frames: ")
    assert "Nothing is too close to tell." not in told.stderr
    cli("wall", job, WALL, "--width", "120")
    cli("mark", job, WALL, "switch", "--across", "60", "--up", "50")
    assert cli("next", job).stderr == ""  # the first long reading is asked for, and no wall is refused
    cli("tape", job, WALL, "card 3", "card 8", "58")
    assert cli("next", job).stderr == "Nothing is too close to tell.\n"


def test_next_says_on_which_walls_nothing_is_marked(cli, tmp_path):
    job = tmp_path / "bare"
    cli("new", job)
    cli("wall", job, "hall", "--width", "100")
    cli("wall", job, "stairs", "--width", "60")
    how = "mark what stands there in a photo, or by tape; “wainscribe mark --help” shows both."
    assert cli("next", job).stderr == f"Nothing is marked yet on “hall”, “stairs”: {how}\n"
    cli("mark", job, "hall", "switch", "--across", "40", "--up", "44")
    said = f"Nothing is marked yet on “stairs”: {how}\nNothing is too close to tell.\n"
    assert cli("next", job).stderr == said


def test_next_names_what_no_reading_would_settle(cli, tmp_path):
    job = tmp_path / "taped"
    cli("new", job)
    cli("wall", job, WALL, "--width", "100")
    stile = next(s for s in json.loads(cli("plan", job, "--json").stdout)["walls"][0]["runs"][0]["stiles"][1:-1])
    edge = float(Fraction(stile["right"])) + 0.75  # from the run's left end, which stands a build-up off the corner
    cli("mark", job, WALL, "receptacle", "--across", edge - 1.375, "--up", "15")  # its right edge on the stile's
    close = [v["feature"] for v in json.loads(cli("plan", job, "--json").stdout)["walls"][0]["verdicts"]]
    assert close == ["receptacle 1"]
    assert cli("next", job).stderr == (
        f"Too close to tell, and no one reading would settle it: {WALL}: receptacle 1. Shift a stile or pin it.\n"
    )


def test_what_has_no_height_yet_is_to_be_taped_next(cli, tmp_path):
    job = tmp_path / "taped"
    cli("new", job)
    cli("wall", job, "hall", "--width", "100")
    cli("mark", job, "hall", "receptacle", "--across", "40")
    assert cli("next", job).stdout == "hall: tape receptacle 1: its bottom and top\n"


@pytest.mark.parametrize(
    ("command", "offer"),
    [
        (["wall", "JOB", "--remove", "lng wall"], "No wall is called “lng wall”; did you mean “long wall”?"),
        (["solve", "JOB", "lng wall"], "No wall is called “lng wall”; did you mean “long wall”?"),
        (["solve", "JOB", "zzz"], "No wall is called “zzz”; known: long wall. “wainscribe wall” adds one."),
        (["photo", "JOB", "lng wall", "WALLPHOTO"], "No wall is called “lng wall”; did you mean “long wall”?"),
        (["mark", "JOB", WALL, "recptacle"], "No kind of mark is called “recptacle”; did you mean “receptacle”?"),
        (
            ["mark", "JOB", WALL, "stud", "--name", "x", "--remove"],
            "No mark on “long wall” is called “x”; there is none yet.",
        ),
        (
            ["mark", "JOB", WALL, "stud", "--photo", "wal.jpg", "--point", "1,1"],
            "No photo of “long wall” is called “wal.jpg”; did you mean “wall.jpg”?",
        ),
        (
            ["tape", "JOB", WALL, "crd 3", "floor", "4"],
            "No place on “long wall” is called “crd 3”; did you mean “card 3”?",
        ),
        (["scheme", "JOB", "stle=3"], "No scheme setting is called “stle”; did you mean “stile”?"),
        (["about", "JOB", "custmer=x"], "No fact about the job is called “custmer”; did you mean “customer”?"),
    ],
)
def test_unknown_names_offer_the_nearest(cli, job, wall_photo, command, offer):
    words = [{"JOB": job, "WALLPHOTO": wall_photo}.get(word, word) for word in command]
    assert refused(cli(*words)) == f"Error: {offer}"


def test_papers_into_a_file_or_a_forbidden_place(cli, job, tmp_path):
    (tmp_path / "file").write_text("x")
    assert refused(cli("papers", job, "-o", tmp_path / "file")) == (
        f"Error: {tmp_path / 'file'} cannot be made, for a file of that name is in the way; choose another."
    )
    assert refused(cli("papers", job, "-o", "/proc/nowhere")).startswith("Error: ")


def test_cards_into_a_folder_or_nowhere(cli, tmp_path):
    assert refused(cli("cards", "--last", "1", "-o", tmp_path)) == (
        f"Error: {tmp_path} is a folder; name a file in it."
    )
    assert refused(cli("cards", "--last", "1", "-o", tmp_path / "no" / "c.pdf")) == (
        f"Error: There is no folder {tmp_path / 'no'} to write c.pdf into; make it first."
    )


# Wrong use: exit status 2


@pytest.mark.parametrize("text", ["abc", "3 1/0", "-4", "12..5", "3 foot long", "1e9", "", "nan"])
def test_lengths_that_cannot_be_read(cli, job, text):
    before = (job / "job.json").read_bytes()
    told = misused(cli("print-run", job, "--across", text))
    assert told == (
        f"Error: Invalid value for '--across': “{text}” is not a length; "
        'write it like 36 1/2, 36-1/2", 3\' 0 1/2", 36.5 in, 927 mm or 92.7 cm.'
    )
    assert f"“{text}” is not a length" in misused(cli("tape", job, WALL, "--", "card 3", "card 8", text))
    assert (job / "job.json").read_bytes() == before


def test_a_length_beyond_any_wall(cli, job):
    assert "“5000 ft” is over 1,000 ft; check the unit" in misused(cli("wall", job, WALL, "--width", "5000 ft"))


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["receptacle", "--centre", "5,5"], "Error: Pixels need --photo NAME: which photo are they in?"),
        (["receptacle", "--photo", "wall", "--point", "5,5"],
         "Error: A receptacle is marked by --centre or two opposite corners, not by --point."),
        (["casing edge", "--photo", "wall", "--top-left", "5,5"],
         "Error: A casing edge is marked by --point, not by --top-left."),
        (["floor-point", "--photo", "wall", "--centre", "5,5"],
         "Error: A floor point is marked by --point, not by --centre."),
        (["register", "--photo", "wall", "--stool", "5,5"],
         "Error: Only a window has a stool and an apron, not a register."),
        (["wall end", "--photo", "wall", "--point", "5,5"], "Error: A wall end needs --side left or --side right."),
        (["stud", "--photo", "wall", "--point", "5"],
         "Error: Invalid value for '--point': “5” is no pixel; write it as U,V such as 2016.5,1511"),
        (["stud", "--photo", "wall", "--point", "nan,5"],
         "Error: Invalid value for '--point': “nan,5” lies outside any photo"),
    ],
)  # fmt: skip
def test_pixels_without_a_photo_or_of_the_wrong_sort(cli, job, options, told):
    assert misused(cli("mark", job, WALL, *options)) == told


@pytest.mark.parametrize(
    "command",
    [
        [], ["frobnicate"], ["wall"], ["wall", "JOB", WALL, "--left", "nook"], ["scheme", "JOB", "stile"],
        ["tape", "JOB", WALL, "floor", "card 3"], ["cards", "--first", "5", "--last", "2"],
        ["cards", "--paper", "legal"],
        ["locate", "JOB", WALL, "--photo", "wall"],
        ["locate", "JOB", WALL, "--photo", "wall", "--points", "p", "--tap-sd", "nan"],
        ["mark", "JOB", WALL, "stud", "--gangs", "11"], ["mark", "JOB", WALL, "wall end", "--side", "up"],
    ],
)  # fmt: skip
def test_wrong_use_ends_with_status_2(cli, job, command):
    result = cli(*[job if word == "JOB" else word for word in command])
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "Usage: wainscribe" in result.stderr


# Help

JARGON = re.compile(
    r"homograph|jacobian|eigen|least.squares|bundle|fiducial|marker|apriltag|saddle|prior|posterior|sigma|RMS|"
    r"pydantic|stdout|stderr|traceback|boolean|\bstring|integer|\bnull\b|regex|kwargs|float\b",
    re.I,
)  # fmt: skip


@pytest.mark.parametrize("name", ["", *sorted(main.commands)])
def test_every_help_is_plain_and_whole(cli, name):
    result = cli(*[name] * bool(name), "--help")
    assert result.exit_code == 0
    assert result.stderr == ""
    body = result.stdout.split("\n", 1)[1]
    assert JARGON.search(body) is None
    command = main.commands[name] if name else main
    assert command.help.strip().endswith(".")
    assert all(len(line) <= 100 for line in result.stdout.splitlines())


def test_the_commands_others_rely_on_are_there():
    assert {
        "demo", "cards", "new", "wall", "photo", "solve", "locate", "mark", "tape", "plan", "papers", "undo",
    } <= set(main.commands)  # fmt: skip
    options = {option for p in main.commands["locate"].params for option in p.opts if isinstance(p, click.Option)}
    assert {"--photo", "--points", "--tap-sd", "--json"} <= options


def test_the_help_of_mark_lists_every_kind(cli):
    told = " ".join(cli("mark", "--help").stdout.split())
    assert all(kind.value in told for kind in Kind)


# As a program of its own


def test_as_a_program_it_keeps_its_streams_apart_and_its_status(job):
    def run(*words):
        return subprocess.run([*PROGRAM, *words], capture_output=True, timeout=120, check=False)

    done = run("solve", str(job), "--json")
    assert (done.returncode, done.stderr) == (0, b"")
    assert json.loads(done.stdout)["walls"][0]["wall"] == WALL
    odd = run(b"wall", str(job).encode(), b"wand \xff\xfe", b"--width", b"9")  # a name that is not UTF-8
    assert odd.returncode == 1
    assert odd.stdout == b""
    assert odd.stderr.startswith(b"Error: ")
    assert b"Traceback" not in odd.stderr


def test_a_reading_held_back_is_told_by_solve(cli, job):
    cli("mark", job, WALL, "outlet", "--across", "40", "--up", "16")
    cli("tape", job, WALL, "left end", "receptacle 1", "41", "--check")
    assert '  held back, left end to receptacle 1: taped 41", reckoned without it 40"' in cli("solve", job).stdout
    assert "does NOT agree" in cli("solve", job).stdout


def test_places_counted_from_a_card_are_not_said_to_be_from_the_left_end(cli, job):
    cli("mark", job, WALL, "receptacle", "--photo", "wall", "--centre", "800,600")
    told = cli("solve", job).stdout
    assert "from a card, not from the left end" in told
    assert "above a card, not the floor" in told


def test_a_length_typed_without_quotes_is_told_to_want_them(cli, job):
    told = cli("mark", job, WALL, "receptacle", "--across", "200", "--up", "15", "3/4")
    assert told.exit_code == 2
    assert "a length of several words goes in quotes, such as '15 3/4'." in told.stderr


def test_what_was_undone_can_be_made_again_until_something_else_is_changed(cli, job):
    cli("about", job, "customer=Ann")
    cli("undo", job)
    assert "customer:\n" in cli("about", job).stdout
    assert cli("redo", job).exit_code == 0
    assert "customer: Ann" in cli("about", job).stdout
    cli("undo", job)
    cli("about", job, "installer=me")
    told = cli("redo", job)
    assert told.exit_code == 1
    assert "There is nothing to redo" in told.stderr
