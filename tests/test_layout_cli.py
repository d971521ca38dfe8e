"""The planning core driven from the command line: wishes by name, details of ends, and what the plan tells."""

import json

import pytest

from capture.record import Joint
from tests.conftest import WALL


@pytest.fixture
def marked(cli, job):
    """The job with a receptacle taped 28 in from the left end."""
    cli("wall", job, WALL, "--width", "60")
    cli("mark", job, WALL, "receptacle", "--name", "r", "--across", "28", "--up", "14")
    return job


def plan_of(cli, job):
    return json.loads(cli("plan", job, "--json").stdout)


def test_wishes_are_set_by_name_and_shown_as_they_are_typed(cli, marked):
    typed = [
        "preferences=conflicts, width", "nudge=1/4", "equal=no", f"stile_at.{WALL}=centre, 48",
        f"no_stile.{WALL}=30 to 34", "pin.r=block out", f"goes_first={WALL}", "proportion=1.6",
    ]  # fmt: skip
    shown = cli("scheme", marked, *typed).stdout.splitlines()
    assert shown == [
        "preferences: conflicts, width", 'nudge: 1/4"', "equal: no", f"stile_at.{WALL}: centre, 48",
        f"no_stile.{WALL}: 30 to 34", "pin.r: block out", f"goes_first: {WALL}", "proportion: 1.6",
    ]  # fmt: skip
    assert cli("scheme", marked, "pin.r=", f"stile_at.{WALL}=", "preferences=").stdout.splitlines() == [
        "pin.r: not noted", f"stile_at.{WALL}: not noted",
        "preferences: width, conflicts, moves, match, doubts, nudge, panels",
    ]  # fmt: skip
    whole = cli("scheme", marked).stdout
    assert f"no_stile.{WALL}: 30 to 34" in whole
    assert "pin.r" not in whole
    assert "stile_at" not in whole


@pytest.mark.parametrize(
    ("wish", "sentence"),
    [
        ("pin.q=move", "No mark is called “q”"),
        ("stile_at.hall=30", "No run is called “hall”"),
        ("goes_first=hall", "No wall is called “hall”"),
        ("pin.r=hide", "“pins.r” cannot be “hide”"),
        ("nudge=20", 'Stiles may be shifted by 20", further than a stile'),
        ("middle_rail_at=8", 'The middle rail at 8" leaves'),
        ("preferences=beauty", "“preferences.0” cannot be “beauty”"),
    ],
)
def test_a_wish_that_cannot_be_is_refused_in_one_sentence(cli, marked, wish, sentence):
    refused = cli("scheme", marked, wish)
    assert refused.exit_code == 1
    assert sentence in refused.stderr
    assert len(refused.stderr.strip().splitlines()) == 1


def test_the_order_of_preferences_changes_the_plan_and_the_runner_up_is_told(cli, marked):
    assert plan_of(cli, marked)["choices"][0]["panels"] == {WALL: 2}
    cli("scheme", marked, "preferences=conflicts, width")
    (choice,) = plan_of(cli, marked)["choices"]
    assert (choice["panels"], choice["proven"], choice["gap"]) == ({WALL: 3}, True, None)
    assert (choice["lost_by"], choice["values"]["conflicts"]) == ("width", "0")
    assert "The runner-up has" in cli("plan", marked).stdout


def test_details_of_an_end_are_noted_told_and_cleared(cli, marked, folder):
    cli(
        "wall", marked, WALL, "--left", "bullnose corner", "--right", "outside corner", "--left-detail", "angle=92",
        "--left-detail", "radius=1 1/2", "--left-detail", "strips=2", "--right-detail", "joint=butted",
    )  # fmt: skip
    noted = folder.load().wall(WALL)
    assert (noted.left_detail.angle, noted.left_detail.strips, noted.right_detail.joint) == (92, 2, Joint.BUTTED)
    left, right = plan_of(cli, marked)["walls"][0]["runs"][0]["ends"]
    assert (left["stop"], left["turn"]["strips"], left["bevel"]) == ("bullnose corner", 2, "44/3")  # (180 - 92) / 6
    assert (right["joint"], right["turn"]["radius"]) == ("butted", "0")
    cli("wall", marked, WALL, "--left-detail", "angle=")
    assert folder.load().wall(WALL).left_detail.angle is None
    assert folder.load().wall(WALL).left_detail.strips == 2


@pytest.mark.parametrize(
    ("detail", "sentence"),
    [
        ("angle=12", "“angle” cannot be “12”: must lie between 30 and 175 degrees"),
        ("bevel=45", "No detail of the left end is called “bevel”"),
    ],
)
def test_a_detail_that_cannot_be_is_refused(cli, marked, detail, sentence):
    refused = cli("wall", marked, WALL, "--left-detail", detail)
    assert refused.exit_code == 1
    assert sentence in refused.stderr


def test_the_plan_tells_what_it_takes_for_granted_and_where_rails_are_joined(cli, marked):
    cli("scheme", marked, "stock_length=48")
    told = cli("plan", marked).stdout
    assert "  joint: cap over stile 2, at 30" in told
    assert "  assumed: The floor is taken as level" in told
    answer = plan_of(cli, marked)["walls"][0]
    assert {joint["stile"] for joint in answer["joints"]} == {"stile 2"}
    assert answer["assumed"]


def test_a_nudged_plan_tells_its_panels_from_the_narrowest_to_the_widest(cli, marked):
    cli("scheme", marked, "nudge=1/4", f"stile_at.{WALL}=32", f"panels.{WALL}=2")
    assert f'{WALL}: 2 panels, 23 3/4" to 24 1/4" wide' in cli("plan", marked).stdout
    assert plan_of(cli, marked)["walls"][0]["runs"][0]["nudges"] == ["1/4"]


def test_another_way_is_noted_beside_the_scheme_and_forgotten(cli, job):
    assert cli("scheme", job, "--other", "dark", "paint=navy", "top=30").exit_code == 0
    assert json.loads((job / "job.json").read_text())["alternatives"] == {"dark": {"paint": "navy", "top": "30"}}
    assert cli("scheme", job, "--other", "dark").exit_code == 0
    assert json.loads((job / "job.json").read_text())["alternatives"] == {}
    told = cli("scheme", job, "--other", "dark")
    assert told.exit_code == 1
    assert "No alternative is called “dark”" in told.stderr
