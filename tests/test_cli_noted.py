"""What a person notes by typed commands, done: marks, tapes, walls, facts."""

import json
from fractions import Fraction

import pytest

from tests.conftest import WALL
from tests.test_cli import refused
from wainscribe.folder import JobFolder


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
