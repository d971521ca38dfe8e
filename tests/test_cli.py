"""The command line as an installer meets it: what it says, where it says it, and the exit status."""

import csv
import errno
import io
import json
import os
import re
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import click
import numpy as np
import pytest
from PIL import Image

from capture.record import Kind
from tests.conftest import CAMERA, PLACED, WALL, card_box, pixels_of
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


def write_points(path: Path, rows, columns=("name", "u", "v"), encoding="utf-8") -> Path:
    text = io.StringIO()
    csv.writer(text).writerows([columns, *rows])
    path.write_text(text.getvalue(), encoding=encoding)
    return path


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


# What a person types, done


def test_a_wall_end_is_marked_on_either_side(cli, job):
    for side in ("left", "right"):
        result = cli("mark", job, WALL, "wall end", "--side", side, "--photo", "wall", "--point", "20,600")
        assert result.exit_code == 0, result.output
    assert [str(m.side) for m in JobFolder(job).load().wall(WALL).marks] == ["left", "right"]


def test_marks_are_named_changed_cleared_and_taken_away(cli, job):
    assert (
        cli("mark", job, WALL, "return-grille", "--across", "30", "--up", "6", "--width", "14", "--note", "loud").stderr
        == 'return grille 1 is noted: 30" from the left end, 6" above the floor, width 14".\n'
    )
    cli("mark", job, WALL, "return grille", "--name", "return grille 1", "--height", "8", "--width", "")
    (mark,) = JobFolder(job).load().wall(WALL).marks
    assert (mark.width, mark.height, mark.note, mark.gangs) == (None, 8, "loud", 1)
    assert [t.start for t in JobFolder(job).load().wall(WALL).tapes] == ["left end", "floor"]
    assert cli("mark", job, WALL, "return grille 1", "--remove").stderr == (
        f"return grille 1 with 2 tape readings is gone; “wainscribe undo {job}” brings it back.\n"
    )
    assert JobFolder(job).load().wall(WALL).tapes == ()
    cli("undo", job)
    assert len(JobFolder(job).load().wall(WALL).tapes) == 2


def test_one_corner_given_anew_leaves_the_others_and_a_whole_outline_takes_their_place(cli, job, wall_photo):
    cli("photo", job, WALL, wall_photo)

    def pixels(*words):
        cli("mark", job, WALL, *words, "--photo", wall_photo.stem)
        (mark,) = JobFolder(job).load().wall(WALL).marks
        return {sight.at.value: (sight.u, sight.v) for sight in mark.sights}

    corners = ["--top-left", "100,100", "--bottom-right", "200,300"]
    pixels("window", *corners, "--top-right", "201,99", "--stool", "150,300")
    assert pixels("window 1", "--bottom-right", "205,305") == {
        "top left": (100, 100), "top right": (201, 99), "bottom right": (205, 305), "stool": (150, 300)
    }  # fmt: skip
    assert pixels("window 1", *corners) == {"top left": (100, 100), "bottom right": (200, 300), "stool": (150, 300)}
    assert pixels("window 1", "--centre", "150,200") == {"centre": (150, 200), "stool": (150, 300)}


def test_every_length_is_read_back_as_it_was_understood_with_what_it_replaces(cli, job):
    def said(*words):
        return cli(*words).stderr

    where = '31 3/64" from the left end, 16" above the floor'
    assert said("mark", job, WALL, "receptacle", "--across", "31 3/64", "--up", "16", "--cable-slack", "5") == (
        f'receptacle 1 is noted: {where}, cable slack 5".\n'
    )
    assert said("mark", job, WALL, "receptacle 1", "--up", "17") == (
        'receptacle 1 is noted: 17" above the floor (in place of 16").\n'
    )
    assert said("tape", job, WALL, "left end", "receptacle 1", "32") == (
        'left end to receptacle 1: 32", across (in place of 31 3/64").\n'
    )
    assert said("tape", job, WALL, "left end", "receptacle 1", "33", "--check") == (
        'left end to receptacle 1: 33", across, held back to check by.\n'  # beside the one that is used
    )
    assert said("tape", job, WALL, "left end", "right end", "119") == (
        'left end to right end: 119", across.\nThe width noted with the wall, 120", counts beside it.\n'
    )
    assert said("wall", job, WALL, "--ceiling", "96 1/2", "--right-detail", "angle=91.5") == (
        f'{WALL}: 120" wide, ceiling 96 1/2", angle at the right 91.5°, from inside corner to inside corner.\n'
    )
    corners = "from inside corner to inside corner"
    assert said("wall", job, WALL, "--width", "119 7/8") == f'{WALL}: 119 7/8" (in place of 120") wide, {corners}.\n'
    assert said("tape", job, WALL, "left end", "receptacle 1", "32") == (
        'left end to receptacle 1: 32", across (as before).\n'
    )
    assert said("mark", job, WALL, "receptacle 1", "--remove") == (
        f"receptacle 1 with 3 tape readings is gone; “wainscribe undo {job}” brings it back.\n"
    )


def test_what_lacks_its_size_a_width_taken_away_and_a_part_misnamed_say_what_to_do(cli, job):
    cli("mark", job, WALL, "window", "--across", "60", "--up", "60")
    assert "  window 1: not measured yet: tape its edges, or its width and height\n" in cli("solve", job).stdout
    assert refused(cli("tape", job, WALL, "left end", "right end", "--remove")) == (
        "Error: The width of “long wall” is noted with the wall; clear it there, with --width ''."
    )
    assert refused(cli("tape", job, WALL, "floor", "window 1 apren", "30")) == (
        "Error: No place on “long wall” is called “window 1 apren”; did you mean “window 1 apron”?"
    )


def test_a_windows_stool_and_apron_are_taped(cli, tmp_path):
    job = tmp_path / "taped"
    cli("new", job)
    cli("wall", job, "hall", "--width", "120")
    cli("mark", job, "hall", "window", "--across", "70", "--up", "54", "--width", "40", "--height", "40")
    ask = (
        "hall: tape from the floor to “window 1 stool” (its top) and “window 1 apron” (its underside); where it has "
        "neither, to its lowest edge as the apron\n"
    )
    assert cli("next", job).stdout == ask
    assert json.loads(cli("next", job, "--json").stdout)["also"] == [ask.strip()]
    assert 'lower edge of casing 34" ± 1/16" above the floor' in cli("solve", job).stdout
    assert cli("tape", job, "hall", "floor", "window 1 stool", "33 1/2").stderr == (
        'floor to window 1 stool: 33 1/2", up.\n'
    )
    assert cli("next", job).stdout == ""
    assert cli("mark", job, "hall", "window 1", "--apron-up", "30").stderr == (
        'window 1 is noted: apron 30" above the floor.\n'
    )
    told = cli("solve", job).stdout
    assert 'top of stool 33 1/2" ± 1/16" above the floor, underside of apron 30" ± 1/16" above the floor' in told
    assert "lower edge of casing" not in told
    runs = json.loads(cli("plan", job, "--json").stdout)["walls"][0]["runs"]
    (under,) = [run for run in runs if "under" in run["name"]]
    assert Fraction(under["top"]) == 30  # the frame under the window ends at its apron
    for line in ("--stool-up", "--apron-up"):
        told = cli("mark", job, "hall", "receptacle", line, "30")
        assert told.exit_code == 2
        assert told.stderr.endswith("Error: Only a window has a stool and an apron, not a receptacle.\n")


def test_a_window_that_is_called_like_a_part_of_one_is_told_as_it_was_read(cli, tmp_path):
    job = tmp_path / "taped"
    cli("new", job)
    cli("wall", job, "hall", "--width", "120")
    middle = ["--name", "window stool", "--across", "70", "--up", "60", "--stool-up", "30"]
    assert cli("mark", job, "hall", "window", *middle).stderr == (
        'window stool is noted: 70" from the left end, 60" above the floor, stool 30" above the floor.\n'
    )


@pytest.mark.parametrize(("up", "asked"), [("61", True), ("65", False)])
def test_a_window_far_above_the_wainscot_is_not_asked_about(cli, tmp_path, up, asked):
    job = tmp_path / "taped"
    cli("new", job)
    cli("wall", job, "hall", "--width", "120")
    cli("mark", job, "hall", "window", "--across", "70", "--up", up, "--width", "40", "--height", "40")
    assert ("window 1 apron" in cli("next", job).stdout) is asked  # 8 in over or under the usual top, 36 in


def test_two_angles_for_one_corner_are_told_at_once(cli, tmp_path):
    job = tmp_path / "taped"
    cli("new", job)
    for name in ("A", "B", "C"):
        cli("wall", job, name, "--width", "120")
    assert "look again" not in cli("wall", job, "B", "--left-detail", "angle=91").stderr
    told = "The corner of “A” and “B” has two values for its angle, 95 and 91; keep the one that was measured."
    assert cli("wall", job, "A", "--right-detail", "angle=95").stderr.endswith(f"\nlook again: {told}\n")
    assert "look again" not in cli("wall", job, "C", "--left-detail", "angle=80").stderr  # another corner
    assert cli("solve", job).stderr.count(told) == 1
    around = "The corner of “C” and “A” has two values for its angle, 100 and 99; "
    cli("wall", job, "A", "--left-detail", "angle=99")
    assert around in cli("wall", job, "C", "--right-detail", "angle=100").stderr  # the last meets the first


def test_a_wall_is_added_changed_cleared_and_taken_away(cli, job):
    assert cli("wall", job, "short wall", "--width", "8' 2 1/2\"", "--right", "open end").stderr == (
        'short wall: 98 1/2" wide, from inside corner to open end.\n'
    )
    assert cli("wall", job, "short wall", "--width", "").stderr == (
        "short wall: width not taped, from inside corner to open end.\n"
    )
    assert "“wainscribe undo" in cli("wall", job, "short wall", "--remove").stderr
    assert [w.name for w in JobFolder(job).load().walls] == [WALL]


@pytest.mark.parametrize("name", ["", "x" * 81, "a\x07b", "two\nlines", " ends in space ", "wand\udcff"])
def test_a_name_that_nobody_could_type_again_is_refused(cli, job, name):
    before = (job / "job.json").read_bytes()
    assert refused(cli("wall", job, name)).endswith(".")
    assert refused(cli("mark", job, WALL, "stud", "--name", name or " ")).endswith(".")
    assert (job / "job.json").read_bytes() == before


def test_a_tape_is_read_back_in_the_units_of_the_job_and_taken_away(cli, job):
    assert cli("tape", job, WALL, "Card 03", "card 8", "58 1/16").stderr == 'card 3 to card 8: 58 1/16", straight.\n'
    cli("about", job, "units=mm")
    assert cli("tape", job, WALL, "card 3", "card 8", "1475mm", "--along", "straight").stderr == (
        "card 3 to card 8: 1475 mm, straight (in place of 1474.8 mm).\n"  # 58 1/16 in of 25.4 mm
    )
    assert len(JobFolder(job).load().wall(WALL).tapes) == 1
    assert cli("tape", job, WALL, "card 8", "card 3", "--remove").exit_code == 0
    assert JobFolder(job).load().wall(WALL).tapes == ()


def test_a_photo_is_taken_off_by_its_name(cli, job):
    assert cli("photo", job, WALL, "wall", "--remove").stderr == (
        f"wall.jpg is gone; “wainscribe undo {job}” brings it back.\n"
    )
    assert JobFolder(job).load().wall(WALL).photos == ()


def test_a_mark_that_is_there_is_changed_by_its_name_and_a_walls_end_is_there_once(cli, job):
    cli("mark", job, WALL, "switch", "--across", "30", "--up", "44")
    assert cli("mark", job, WALL, "switch 1", "--gangs", "2").stderr == "switch 1 is noted.\n"
    for point in ("100,900", "101,400"):
        said = cli("mark", job, WALL, "wall-end", "--side", "left", "--photo", "wall", "--point", point).stderr
        assert said == "left end is noted.\n"
    marks = JobFolder(job).load().wall(WALL).marks
    assert [(mark.name, mark.gangs) for mark in marks] == [("switch 1", 2), ("left end", 1)]
    assert cli("mark", job, WALL, "stud").stderr == (
        "stud 1 is noted.\n"
        "Nothing says yet where it is: give its pixels in a photo, or --across and --up, or tape to it.\n"
    )


def test_facts_and_scheme_are_shown_as_they_stand(cli, job):
    assert cli("about", job, "year_built=1962").stdout == "year_built: 1962\n"
    assert cli("about", job).stdout.splitlines()[:2] == ["name: the job", "address:"]
    assert cli("scheme", job, "stile=4", "panels.long wall=5").stdout == 'stile: 4"\npanels.long wall: 5\n'
    shown = cli("scheme", job).stdout
    assert "panels.long wall: 5\n" in shown
    assert "unit" not in shown
    cli("about", job, "units=mm")
    told = next(line for line in cli("scheme", job).stdout.splitlines() if line.startswith("stile: "))
    assert told.split(maxsplit=3) == ["stile:", "102", "mm", "width of the stiles"]


def test_cards_are_made(cli, tmp_path):
    made = cli("cards", "--last", "2", "--paper", "a4", "-o", tmp_path / "cards.pdf")
    assert made.exit_code == 0
    assert made.stderr == (
        f"Cards 1 to 2 are in {tmp_path / 'cards.pdf'}. Print at 100 %, then read the check bar on one sheet.\n"
    )
    assert (tmp_path / "cards.pdf").read_bytes().startswith(b"%PDF")


def test_a_print_run_without_a_name_a_sheet_could_hold_is_refused(cli, tmp_path):
    for name, why in (("", "it must not be empty"), ("x" * 81, "it must be no longer than 80 letters")):
        told = refused(cli("cards", "--last", "1", "--print-run", name, "-o", tmp_path / "cards.pdf"))
        assert told.startswith("Error: “name” cannot be “")
        assert told.endswith(f"”: {why}.")
    assert list(tmp_path.iterdir()) == []


# JSON


def test_solve_as_json_tells_estimates_deviations_and_residuals(cli, job):
    cli("mark", job, WALL, "receptacle", "--photo", "wall", "--top-left", "500,700", "--bottom-right", "520,735")
    result = cli("solve", job, WALL, "--json")
    assert result.exit_code == 0
    (wall,) = json.loads(result.stdout)["walls"]
    assert (wall["wall"], wall["converged"]) == (WALL, True)
    assert wall["width"]["value"] == pytest.approx(120, abs=1e-3)
    (photo,) = wall["photos"]
    assert photo["cards"] == [3, 5, 8]
    f = photo["lens"]["f"]
    assert abs(f["value"] - CAMERA.lens[0]) < 4 * f["sd"]
    assert {c["number"] for c in wall["cards"]} == {3, 5, 8}
    assert all(c[axis]["sd"] > 0 for c in wall["cards"] for axis in ("x", "y", "angle_degrees"))
    (receptacle,) = wall["features"]
    assert {"left", "right", "bottom", "top"} <= set(receptacle)
    assert receptacle["left"]["sd"] > 0
    assert receptacle["left"]["source"] == "photo"
    corners = next(o for o in wall["observations"] if o["what"] == "corner in wall.jpg")
    assert corners["count"] == 2 * 8 * 3
    assert 0.2 < corners["rms_over_sd"] < 2
    assert 0 < corners["redundancy"] < corners["count"]


def test_plan_as_json_is_exact(cli, job):
    cli("mark", job, WALL, "receptacle", "--across", "40", "--up", "16")
    result = cli("plan", job, "--json")
    (wall,) = json.loads(result.stdout)["walls"]
    assert wall["name"] == WALL
    (run,) = wall["runs"]
    assert re.fullmatch(r"\d+(/\d+)?", run["panel_width"])
    assert [v["feature"] for v in wall["verdicts"]] == ["receptacle 1"]


def test_findings_go_to_standard_error_and_json_alone_to_standard_output(cli, job, photos):
    cli("photo", job, WALL, photos["card 5 twice"])
    result = cli("solve", job, "--json")
    assert json.loads(result.stdout)["walls"][0]["findings"][0]["code"] == "card-twice"
    assert "Card 5 is in “twice.jpg” twice" in result.stderr


def test_the_schema_is_json(cli):
    assert json.loads(cli("schema").stdout)["title"] == "Job"


# locate

SPOTS = np.array([(25.0, 30.0), (45.0, 55.0), (60.0, 45.0), (75.0, 70.0), (90.0, 40.0), (100.0, 65.0)])


def locate(cli, job, points: Path, *options) -> tuple[np.ndarray, np.ndarray, dict]:
    result = cli("locate", job, WALL, "--photo", "wall.jpg", "--points", points, "--json", *options)
    assert result.exit_code == 0, result.stderr
    answer = json.loads(result.stdout)
    return np.array([(p["x"], p["y"]) for p in answer["points"]]), np.array(answer["covariance"]), answer


@pytest.fixture
def spots(tmp_path) -> Path:
    rows = [(f"spot {i}", *pixel) for i, pixel in enumerate(pixels_of(SPOTS))]
    return write_points(tmp_path / "spots.csv", rows)


def test_locate_answers_points_with_their_joint_covariance(cli, job, spots):
    xy, covariance, answer = locate(cli, job, spots)
    assert set(answer) == {"points", "covariance"}
    assert [p["name"] for p in answer["points"]] == [f"spot {i}" for i in range(6)]
    assert all(set(p) == {"name", "x", "y", "sd_x", "sd_y"} for p in answer["points"])
    assert covariance.shape == (12, 12)
    assert np.allclose(covariance, covariance.T, rtol=0, atol=1e-12)
    assert np.linalg.eigvalsh(covariance).min() > -1e-9 * np.trace(covariance)
    sds = [(p["sd_x"], p["sd_y"]) for p in answer["points"]]
    assert np.allclose(np.diag(covariance), np.square(sds).ravel(), rtol=1e-9)
    assert xy.shape == (6, 2)


def test_located_points_lie_within_four_deviations_of_the_truth(cli, job, spots):
    xy, covariance, _ = locate(cli, job, spots)
    for i in range(len(SPOTS)):
        for j in range(i):
            apart, true = xy[i] - xy[j], SPOTS[i] - SPOTS[j]
            row = np.zeros(len(covariance))
            unit = apart / np.hypot(*apart)
            row[2 * i : 2 * i + 2], row[2 * j : 2 * j + 2] = unit, -unit
            sd = float(np.sqrt(row @ covariance @ row))
            assert abs(np.hypot(*apart) - np.hypot(*true)) < 4 * sd
            assert sd < 1.0


def test_before_any_end_is_marked_the_lowest_card_is_the_frame(cli, job, spots):
    """Its centre is (0, 0) and its up is up, as the truth has card 3 at x, y, turned by its angle."""
    xy, covariance, _ = locate(cli, job, spots)
    x, y, angle = PLACED[min(PLACED)]
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    true = (SPOTS - (x, y)) @ np.array([[c, -s], [s, c]])
    assert np.all(np.abs(xy - true) < 4 * np.sqrt(np.diag(covariance)).reshape(-1, 2))


def test_a_marked_end_and_floor_make_the_frame_the_walls(cli, job, spots):
    end, floor = (f"{u},{v}" for u, v in pixels_of([(22.0, 50.0), (60.0, 10.0)]))
    for what in (["wall end", "--side", "left", "--point", end], ["floor point", "--point", floor]):
        assert cli("mark", job, WALL, *what, "--photo", "wall").exit_code == 0
    xy, covariance, _ = locate(cli, job, spots)
    assert np.all(np.abs(xy - (SPOTS - (22.0, 10.0))) < 4 * np.sqrt(np.diag(covariance)).reshape(-1, 2))


def test_the_noise_of_the_taps_is_added_where_it_is_told(cli, job, spots):
    xy, without, _ = locate(cli, job, spots)
    same, with_taps, _ = locate(cli, job, spots, "--tap-sd", "2")
    assert np.array_equal(xy, same)
    added = with_taps - without
    # Against differences: how far the place moves when the pixel does, each pixel by itself.
    moved = {}
    for axis, name in enumerate("uv"):
        step = np.zeros(2)
        step[axis] = 0.5
        rows = [(f"spot {i}", *(pixel + step)) for i, pixel in enumerate(pixels_of(SPOTS))]
        there, _, _ = locate(cli, job, write_points(spots.with_name(f"{name}.csv"), rows))
        moved[axis] = (there - xy) / 0.5
    for i in range(len(SPOTS)):
        J = np.column_stack([moved[0][i], moved[1][i]])
        assert np.allclose(added[2 * i : 2 * i + 2, 2 * i : 2 * i + 2], 4 * J @ J.T, rtol=0.02, atol=1e-6)
        added[2 * i : 2 * i + 2, 2 * i : 2 * i + 2] = 0
    assert np.allclose(added, 0, atol=1e-12)  # taps err independently


def test_a_proud_face_is_met_at_its_height(cli, job, tmp_path):
    points = np.array([(45.0, 55.0, 0.6875), (95.0, 40.0, 0.6875)])
    pixels = CAMERA.project(points)
    rows = [(f"p{i}", *pixel, z) for i, (pixel, z) in enumerate(zip(pixels, points[:, 2], strict=True))]
    proud, covariance, _ = locate(cli, job, write_points(tmp_path / "z.csv", rows, ("name", "u", "v", "z")))
    row = np.array([-1.0, 0, 1.0, 0])
    true = np.hypot(*(points[1] - points[0])[:2])
    assert abs(np.hypot(*(proud[1] - proud[0])) - true) < 4 * np.sqrt(row @ covariance @ row)
    flat, _, _ = locate(cli, job, write_points(tmp_path / "flat.csv", [r[:3] for r in rows]))
    assert np.hypot(*(flat[1] - flat[0])) - np.hypot(*(proud[1] - proud[0])) > 0.2  # nearer things look larger


def test_a_points_file_may_start_with_a_byte_order_mark_and_hold_more_columns(cli, job, spots, tmp_path):
    rows = [(*pixel, "note", f"spot {i}", "") for i, pixel in enumerate(pixels_of(SPOTS))]
    other = write_points(tmp_path / "bom.csv", rows, ("u", "v", "remark", "name", "z"), "utf-8-sig")
    assert np.array_equal(locate(cli, job, other)[0], locate(cli, job, spots)[0])


COLUMNS = "its columns are name,u,v and, if proud, z in inches."


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", f"FILE holds no points; {COLUMNS}"),
        (b"name,u,v\n", f"FILE holds no points; {COLUMNS}"),
        (b"name,u\na,1\n", f"FILE has no column v; {COLUMNS}"),
        (b"name;u;v\na;1;2\n", f"FILE has no column name; {COLUMNS}"),
        (b"name,u,v\na,1\n", "Line 2 of FILE is not name,u,v[,z] in numbers; mend it and try again."),
        (b"name,u,v\na,5,5\nb,x,2\n", "Line 3 of FILE is not name,u,v[,z] in numbers; mend it and try again."),
        (b"name,u,v\na,nan,2\n", "Line 2 of FILE holds a number that is not finite; mend it and try again."),
        (b"name,u,v,z\na,1,2,inf\n", "Line 2 of FILE holds a number that is not finite; mend it and try again."),
        (b"\xff\xfen\0a\0", f"FILE is not a CSV file in UTF-8; {COLUMNS}"),
        (b"name,u,v\na,1e9,1e9\n", "Pixel 1e+09,1e+09 of “wall.jpg” shows no place on the wall; "
                                   "check that it lies in the photo."),
        (b"name,u,v,z\na,800,600,1000\n", "Pixel 800,600 of “wall.jpg” shows no place on the wall; "
                                          "check that it lies in the photo."),
    ],
)  # fmt: skip
def test_points_that_cannot_be_located(cli, job, tmp_path, data, told):
    file = tmp_path / "points.csv"
    file.write_bytes(data)
    result = cli("locate", job, WALL, "--photo", "wall", "--points", file, "--json")
    assert refused(result) == f"Error: {told.replace('FILE', str(file))}"


def test_locate_without_points_or_cards(cli, job, spots, photos, tmp_path):
    assert refused(cli("locate", job, WALL, "--photo", "wall", "--points", tmp_path / "no.csv")) == (
        f"Error: {tmp_path / 'no.csv'} cannot be read (No such file or directory); check its name."
    )
    cli("photo", job, WALL, photos["no card"])
    assert refused(cli("locate", job, WALL, "--photo", "no card", "--points", spots)) == (
        "Error: No card was found in “no card.jpg”. So nothing can be measured in it."
    )


def test_locate_speaks_to_people_in_their_units(cli, job, spots):
    assert re.match(
        r'spot 0: -?\d.*" ± .*" across, .*" up\n', cli("locate", job, WALL, "--photo", "wall", "--points", spots).stdout
    )
    cli("about", job, "units=mm")
    assert re.match(
        r"spot 0: -?\d+ mm ± \d+ mm across", cli("locate", job, WALL, "--photo", "wall", "--points", spots).stdout
    )


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
