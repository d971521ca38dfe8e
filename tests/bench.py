"""The figures: ``make bench`` prints them. Times are ratios within one run; nothing here can fail a test."""

import shutil
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import cv2
import numpy as np
from scipy import stats
from scipy.spatial.distance import pdist

from capture.cards import marker_corners
from capture.detect import detect
from capture.measure import measure_wall
from capture.net import Seen
from capture.photos import read_photo
from capture.record import PrintRun, Wall
from tests import bench_boards, bench_desk, bench_papers, bench_plan, bench_scale, truth
from tests.bench_elevation import elevation_ratio
from tests.bench_overlay import overlay_ratio
from tests.bench_snap import demo_table, snap_table
from tests.bench_speed import peak_memory, photo_to_cards, photo_to_elevation, two_at_once
from tests.simulation import inch_among_six, try_walls
from tests.synthetic import look, photograph, place, saddles_px
from tests.test_demo import edge_errors
from wainscribe import actions
from wainscribe.demo import demo_source
from wainscribe.folder import JobFolder

Table = list[tuple[str, ...]]


def main() -> None:
    """Print every table."""
    show("Corner error on the demo photos, px RMS against the rendering's truth", demo_corners())
    show("Corner error in simulation (24 px/in, sharpened, JPEG), px RMS", simulated_corners())
    show("Marked edges of the demo against truth, in", demo_edges())
    show("Every marked edge: found minus true, and its stated 95 % plus-or-minus, in", every_edge())
    show("Spans between 40 random points of long-wall-1.jpg alone, no tape, no check bar, in", spans())
    show("500 walls drawn at random, distances between plates", simulation())
    show("Six tapes, one of them an inch off", mistakes())
    show("The demo's marks snapped to edges, against truth, in", snapped_edges())
    show("Taps snapped to edges: 200 made close-ups", snap_table())
    show("Taps snapped to edges: the demo's marks, as tapped and with thumbs off", demo_table())
    show("Search of one photo, against bare decode and detect", photo_to_cards())
    show("Four photos on two threads, over one after the other", two_at_once())
    show("Peak memory of a process", peak_memory())
    show("Elevation, against a bare remap", elevation_ratio())
    show("The plan put into a photo, against a bare remap", overlay_ratio())
    show("One 12 MP photo to solved and elevation, over bare decode, detect and warp", photo_to_elevation())
    show("Time on the demo's long wall, as ratios within this run", ratios())
    show(bench_papers.TITLE, bench_papers.setting_ratio())
    show(bench_plan.TITLE, bench_plan.times())
    show(bench_plan.INDEPENDENCE, bench_plan.independence())
    show("Published and constructed packing instances, seconds", bench_boards.instances())
    show("Boards, mouldings and sheets of a room and of houses, each proven or with its gap", bench_boards.jobs())
    show("The desk: a mark to new verdicts, a photo to its cards", bench_desk.desk_times())
    show("The desk with a house of 40 walls", bench_desk.house_times())
    show(bench_scale.HOUSE, bench_scale.house())
    show(bench_scale.CORES, bench_scale.cores())


def show(title: str, table: Table) -> None:
    """Print one table with its columns lined up."""
    widths = [max(len(row[i]) for row in table) for i in range(len(table[0]))]
    print(f"\n{title}")
    for row in table:
        first, *rest = (cell.rjust(width) for cell, width in zip(row, widths, strict=True))
        print("  " + "  ".join([first.strip().ljust(widths[0]), *rest]))


def demo_corners() -> Table:
    """Saddle points and marker corners of every measured demo photo."""
    table: Table = [("photo", "cards", "saddle", "marker")]
    for file in truth.MEASURED_PHOTOS:
        found = detect(truth.picture(file).gray, file).cards
        errors = truth.corner_errors(file, found)
        table.append((file, str(len(found)), f"{truth.rms(errors.saddle):.3f}", f"{truth.rms(errors.marker):.3f}"))
    return table


def simulated_corners() -> Table:
    """Saddle points and marker corners over blur and exposure."""
    table: Table = [("blur px, exposure", "found of 24", "saddle", "marker")]
    camera = look(size=(2016, 1512), f=1458.5, at=(20, 18, 60), yaw=12, pitch=4, roll=1.5)
    placed = {1: (5.0, 10.0, 1.0), 2: (35.0, 12.0, -1.3), 3: (20.0, 30.0, 0.6)}
    for blur in (0.5, 1.0, 2.0, 3.0):
        for exposure in (1.0, 1.6):
            gray = photograph(camera, placed, blur=blur, exposure=exposure, sharpen=0.4, seed=1)
            cards_found = detect(gray, "simulated").cards
            saddle = np.vstack([c.points - saddles_px(camera, placed[c.number])[c.which] for c in cards_found])
            marker = np.vstack(
                [c.marker - camera.project(place(placed[c.number], marker_corners())) for c in cards_found]
            )
            table.append(
                (f"{blur} {exposure}", str(len(saddle)), f"{truth.rms(saddle):.3f}", f"{truth.rms(marker):.3f}")
            )
    return table


def demo_edges() -> Table:
    """Error of every marked edge, and how many lie inside their 95 % interval."""
    table: Table = [("wall", "edges", "RMS", "largest", "inside 95 %", "normalised² / N", "chance of more")]
    folder = JobFolder(demo_source())
    job = folder.load()
    for wall in job.walls:
        names, errors, covariance = edge_errors(actions.solve_wall(folder, job, wall.name))
        z = errors / np.sqrt(np.diag(covariance))
        square = float(errors @ np.linalg.solve(covariance, errors))
        table.append(
            (
                wall.name,
                str(len(names)),
                f"{truth.rms(errors):.3f}",
                f"{np.abs(errors).max():.3f}",
                f"{int(np.sum(np.abs(z) < 1.959964))} of {len(z)}",
                f"{square / len(z):.2f}",
                f"{stats.chi2.sf(square, len(z)):.2f}",
            )
        )
    return table


def snapped_edges() -> Table:
    """Error of every marked edge once it is snapped; stools and aprons, whose projection nobody measured, apart."""
    table: Table = [("wall", "edges", "RMS", "largest")]
    with TemporaryDirectory() as scratch:
        path = Path(scratch) / "job"
        shutil.copytree(demo_source(), path)
        (path / "history").mkdir(exist_ok=True)
        folder = JobFolder(path)
        for wall in folder.load().walls:
            actions.snap_marks(folder, wall.name)
        for solved in actions.solve_job(folder, folder.load()):
            names, errors, _ = edge_errors(solved)
            edges = errors[[not name.endswith(("stool", "apron")) for name in names]]
            table.append((solved.wall.name, str(len(edges)), f"{truth.rms(edges):.3f}", f"{np.abs(edges).max():.3f}"))
    return table


def every_edge() -> Table:
    """One line an edge."""
    table: Table = [("edge", "error", "±", "inside")]
    folder = JobFolder(demo_source())
    job = folder.load()
    for wall in job.walls:
        names, errors, covariance = edge_errors(actions.solve_wall(folder, job, wall.name))
        for name, error, spread in zip(names, errors, 1.959964 * np.sqrt(np.diag(covariance)), strict=True):
            table.append(
                (f"{wall.name}, {name}", f"{error:+.3f}", f"{spread:.3f}", "yes" if abs(error) < spread else "no")
            )
    return table


def spans() -> Table:
    """Every distance between random wall points, flat and proud, located in one photo."""
    file, name = "long-wall-1.jpg", "long wall"
    detected = detect(truth.picture(file).gray, file).cards
    picture = truth.picture(file)
    seen = Seen(file, picture.size, picture.focal_35, picture.phone, detected)
    solution = measure_wall(Wall(name=name), [seen], PrintRun()).solution
    rng = np.random.default_rng(0)
    points = np.column_stack([rng.uniform(3, 140, 40), rng.uniform(4, 80, 40), rng.choice([0, 5 / 32, 11 / 16], 40)])
    eye = truth.camera(file, name)
    points = points[eye.sees(points)]
    xy, _ = solution.locate(file, eye.project(points), points[:, 2])
    found, true = (pdist(places) for places in (xy, points[:, :2]))
    scale = float(found @ true / (true @ true))
    return [
        ("spans", "RMS error", "largest", "RMS with one common scale taken out"),
        (str(len(true)), f"{truth.rms(found - true):.3f}", f"{np.abs(found - true).max():.3f}",
         f"{truth.rms(found - scale * true):.3f}"),
    ]  # fmt: skip


def simulation() -> Table:
    """What the stated plus-or-minus is worth, over walls drawn from what the program takes for granted."""
    t = try_walls(range(500))
    return [
        ("walls", "distances", "said not to fit", "RMS over bound", "inside 95 %", "normalised² / N", "chance of more"),
        (str(t.walls), str(len(t.errors)), str(len(t.failed)), f"{t.over_bound:.3f}", f"{t.inside:.1%}",
         f"{t.square:.3f}", f"{t.chance:.2f}"),
    ]  # fmt: skip


def mistakes() -> Table:
    """How often a misread tape is found and rightly named."""
    cases, right, _ = inch_among_six(range(1000, 1125))
    return [("walls", "rightly named"), (str(cases), f"{right} ({right / cases:.1%})")]


def ratios() -> Table:
    """Finding cards and solving, against bare decoding and bare marker finding."""
    data = (truth.DEMO / "photos" / "long-wall-1.jpg").read_bytes()
    gray = read_photo(data, "photo").gray
    folder = JobFolder(demo_source())
    job = folder.load()
    decode = _best(lambda: cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR))
    rows = {
        "decode upright over bare cv2 decode": _best(lambda: read_photo(data, "photo")) / decode,
        "find and measure cards over bare cv2 decode": _best(lambda: detect(gray, "photo")) / decode,
        "solve the long wall over bare cv2 decode": _best(lambda: actions.solve_wall(folder, job, "long wall"))
        / decode,
    }
    return [("what", "ratio"), *((what, f"{ratio:.2f}") for what, ratio in rows.items())]


def _best(work: Callable[[], object], times: int = 3) -> float:
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        spent.append(time.perf_counter() - start)
    return min(spent)


if __name__ == "__main__":
    main()
