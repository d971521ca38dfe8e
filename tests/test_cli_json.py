"""The answers that other programs read, and where pixels lie on a wall."""

import csv
import io
import json
import re
from pathlib import Path

import numpy as np
import pytest

from tests.conftest import CAMERA, PLACED, WALL, pixels_of
from tests.test_cli import refused


def write_points(path: Path, rows, columns=("name", "u", "v"), encoding="utf-8") -> Path:
    text = io.StringIO()
    csv.writer(text).writerows([columns, *rows])
    path.write_text(text.getvalue(), encoding=encoding)
    return path


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
