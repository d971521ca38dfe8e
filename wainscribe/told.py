"""Results as plain data for --json and for other programs. Lengths are wall inches; covariances inches²."""

from fractions import Fraction
from typing import Any

import numpy as np

from capture.adjust import Solution
from capture.lengths import Unit
from capture.measured import Measured
from capture.survey import Feature, Finding
from layout.best import Choice
from layout.bevels import shown
from layout.ends import RunEnd
from layout.frames import Frame
from layout.next_steps import Step
from layout.packing import Board, Packing
from layout.pieces import Piece
from layout.plan import Plan, WallPlan
from layout.remedies import Remedy
from layout.setout import running_dimensions
from layout.shop import SetOut, Shop
from wainscribe.actions import SolvedWall


def solved(wall: SolvedWall) -> dict[str, Any]:
    """One solved wall: estimates, standard deviations, residuals."""
    solution, survey = wall.measured.solution, wall.measured.survey
    return {
        "wall": survey.name,
        "converged": solution.converged,
        "stopped": solution.stopped,
        "level": survey.level,
        "width": _measured(survey.width),
        "photos": [_photo(solution, s.name) for s in solution.net.shots],
        "cards": [_card(solution, i, number) for i, number in enumerate(solution.net.cards)],
        "printed_scale": _estimates(solution, solution.slots.printed),
        "features": [_feature(f) for f in survey.features],
        "observations": _observations(solution),
        "findings": [finding(f) for f in wall.findings],
    }


def _photo(solution: Solution, name: str) -> dict[str, Any]:
    i = solution.shot_index(name)
    shot = solution.net.shots[i]
    lens = _estimates(solution, solution.slots.lens(shot.lens))
    return {
        "name": name,
        "size": list(shot.size),
        "lens": dict(zip(("f", "cx", "cy", "k1", "k2"), lens, strict=True)),
        "stood_at": [float(v) for v in solution.camera(name).centre],
        "corner_sd_px": shot.corner_sd,
        "cards": [c.number for c in shot.cards],
    }


def _card(solution: Solution, i: int, number: int) -> dict[str, Any]:
    x, y, angle = _estimates(solution, solution.slots.card(i))
    turn = {key: float(np.degrees(value)) for key, value in angle.items()}
    return {"number": number, "x": x, "y": y, "angle_degrees": turn}


def _estimates(solution: Solution, where: slice) -> list[dict[str, float]]:
    sd = np.sqrt(np.diag(solution.covariance)[where])
    return [{"value": float(v), "sd": float(s)} for v, s in zip(solution.unknowns[where], sd, strict=True)]


def _observations(solution: Solution) -> list[dict[str, Any]]:
    """Root mean square of the weighted residuals, and the redundancy, by kind of observation."""
    kinds = list(dict.fromkeys(solution.labels))
    labels = np.array(solution.labels)
    return [
        {
            "what": kind,
            "count": int(np.sum(mine := labels == kind)),
            "rms_over_sd": float(np.sqrt(np.mean(solution.residuals[mine] ** 2))),
            "redundancy": float(solution.redundancy[mine].sum()),
        }
        for kind in kinds
    ]


def _measured(value: Measured | None) -> dict[str, Any] | None:
    return None if value is None else {"value": value.value, "sd": value.sd, "source": value.source.value}


def _feature(feature: Feature) -> dict[str, Any]:
    edges = {side: _measured(getattr(feature, side)) for side in ("left", "right", "bottom", "top", "stool", "apron")}
    return {"name": feature.name, "kind": feature.kind.value, **{k: v for k, v in edges.items() if v is not None}}


def finding(found: Finding) -> dict[str, str]:
    """What the program noticed."""
    return {
        "code": found.code,
        "place": found.place,
        "sentence": found.sentence,
        "remedy": found.remedy,
        "grade": found.grade.value,
    }


def located(names: list[str], xy: np.ndarray[Any, Any], covariance: np.ndarray[Any, Any]) -> dict[str, Any]:
    """Points with standard deviations, and their joint covariance row by row."""
    sd = np.sqrt(np.diag(covariance)).reshape(-1, 2)
    points = [
        {"name": n, "x": float(x), "y": float(y), "sd_x": float(sx), "sd_y": float(sy)}
        for n, (x, y), (sx, sy) in zip(names, xy, sd, strict=True)
    ]
    return {"points": points, "covariance": covariance.tolist()}


def planned(plan: Plan) -> dict[str, Any]:
    """The plan: exact lengths as fractions of an inch in text."""
    return {
        "walls": [_wall(wall, plan.scheme.step) for wall in plan.walls],
        "choices": [_choice(choice) for choice in plan.choices],
    }


def _wall(wall: WallPlan, step: Fraction) -> dict[str, Any]:
    undecided = {judgement.feature for judgement in wall.undecided}
    return {
        "name": wall.name,
        "refused": wall.refused,
        "runs": [_run(frame, step) for frame in wall.frames],
        "verdicts": [
            {
                "feature": j.feature,
                "verdict": j.verdict.value,
                "in_the_way": j.verdict.conflict,
                "decided": j.verdict.conflict and j.feature not in undecided,
                "against": j.against,
                "clearance": j.clearance,
                "sd": j.sd,
                "probability": j.probability,
                "sentence": j.sentence,
                "tape_this": j.tape_this,
                "also": list(j.also),
                "remedies": [_remedy(r) for r in wall.remedies.get(j.feature, ())],
            }
            for j in wall.judgements
        ],
        "notes": list(wall.notes),
        "assumed": list(wall.assumed),
        "joints": [{"member": j.member, "stile": j.stile, "at": str(j.at)} for j in wall.joints],
    }


def _choice(choice: Choice) -> dict[str, Any]:
    """How a room's runs are divided; the runner-up likewise, and by which preference it loses."""
    return {
        "panels": {run: spacing.count for run, spacing in choice.spacings.items()},
        "values": {preference.value: str(value) for preference, value in choice.values.items()},
        "runner_up": None if choice.runner_up is None else _choice(choice.runner_up),
        "lost_by": choice.lost_by and choice.lost_by.value,
        "instead": None if choice.instead is None else _choice(choice.instead),
        "proven": choice.proven,
        "gap": None if choice.gap is None else {"preference": choice.gap[0].value, "at_most": str(choice.gap[1])},
    }


def _run(frame: Frame, step: Fraction) -> dict[str, Any]:
    run = frame.run
    return {
        "name": run.name,
        "left": str(run.left),
        "right": str(run.right),
        "bottom": str(run.bottom),
        "top": str(run.top),
        "panels": frame.count,
        "panel_width": str(frame.panel_width),
        "nudges": [str(by) for by in frame.spacing.nudges],
        "ends": [_end(end) for end in (run.left_end, run.right_end)],
        "members": [
            {
                "name": m.name,
                "role": m.role.value,
                **{s: str(getattr(m.rect, s)) for s in ("left", "right", "bottom", "top")},
            }
            for m in frame.members
        ],
        "stiles": [
            {"name": m.name, "left": str(m.shown_left), "right": str(m.shown_right)}
            for m in running_dimensions(frame, step).marks
        ],  # running dimensions from the run's left end, in whole steps
        "notes": list(run.notes),
    }


def _end(end: RunEnd) -> dict[str, Any]:
    """How a run stops: lengths in inches, angles in degrees, as exact text."""
    corner = end.corner
    return {
        "stop": end.stop.value,
        "stile_beyond_its_face": str(end.beyond),
        "hidden": str(end.hidden),
        "filler": str(end.filler),
        "bevel": str(end.bevel),
        "relief": str(end.relief),
        "scribe": str(end.scribe),
        "joint": end.joint and end.joint.value,
        "turn": corner
        and {
            "angle": str(end.angle),
            "strips": corner.pieces - 2,
            "radius": str(corner.radius),
            "bevel": str(corner.bevel),
            "strip_heel": str(shown(corner.heel).length),
            "strip_face": str(shown(corner.face).length),
        },
    }


def _remedy(remedy: Remedy) -> dict[str, Any]:
    return {
        "kind": remedy.kind.value,
        "sentence": remedy.sentence,
        "window": None if remedy.window is None else [str(edge) for edge in remedy.window],
        "move": None if remedy.move is None else str(remedy.move),
        "warnings": list(remedy.warnings),
        "boxes_moved": remedy.boxes_moved,
        "conflicts_left": remedy.conflicts_left,
        "panels": remedy.count and list(remedy.count),
        "panel_width": remedy.panel_width and [str(width) for width in remedy.panel_width],
        "pieces": remedy.pieces,
        "shift": remedy.shift and {"stile": remedy.shift[0], "by": str(remedy.shift[1])},
    }


def steps(first: str, also: list[str], found: list[Step]) -> dict[str, Any]:
    """What to do next: a first long reading where the printed scale is unsure, then what settles verdicts; inches."""
    return {
        "first": first,
        "also": also,
        "steps": [
            {"wall": s.wall, "what": s.what, "settles": list(s.settles), "about": s.about,
             "before": s.before, "after": s.after}
            for s in found
        ],
    }  # fmt: skip


def cuts(shop: Shop) -> dict[str, Any]:
    """What is to be cut: exact lengths as fractions of an inch in text, as the saw is set."""
    row_of = {(p.unit, place): n for n, p in enumerate(shop.pieces, start=1) for place in p.places}
    return {
        "unit": shop.scheme.unit.value,
        "pieces": [_piece(n, piece) for n, piece in enumerate(shop.pieces, start=1)],
        "set_out": [_set_out(run) for run in shop.set_out],
        "order_of_work": [{"walls": list(room.walls), "steps": list(room.steps)} for room in shop.orders],
        "take_off": [
            {
                "material": row.material.value,
                "thickness": str(row.thickness),
                "width": None if row.width is None else str(row.width),
                "count": row.count,
                "lineal_feet": float(row.lineal_feet),
                "square_feet": float(row.square_feet),
                "counted_as": row.counted and [str(size) for size in row.counted],
                "board_feet": float(row.board_feet),
                "waste": float(row.waste),
            }
            for row in shop.take_off
        ],
        "hardware": [{"name": one.name, "count": one.count, "note": one.note} for one in shop.fixings],
        "packings": [_packing(packing, row_of, shop.scheme.unit) for packing in shop.packings],
        "refused": [{"wall": refusal.wall, "sentence": refusal.sentence} for refusal in shop.refused],
        "short": list(shop.short),
        "taken_for_granted": list(shop.taken),
        "tape_first": list(shop.untaped),
    }


def _piece(number: int, piece: Piece) -> dict[str, Any]:
    return {
        "number": number,
        "name": piece.name,
        "role": piece.role.value,
        "run": piece.unit,
        "count": piece.count,
        "places": list(piece.places),
        "length": str(piece.length),
        "short_point": str(piece.short_point),
        "width": str(piece.width),
        "back_width": str(piece.back_width),
        "thickness": str(piece.thickness),
        "ends": [
            {"kind": end.kind.value, "angle": str(end.angle), "long_side": end.long_side, "note": end.note}
            for end in piece.ends
        ],
        "edges": [str(edge.angle) for edge in piece.edges],
        "grain": piece.grain.value,
        "material": piece.material.value,
        "loose": piece.loose,
        "notes": list(piece.notes),
        "cautions": list(piece.cautions),
    }


def _set_out(run: SetOut) -> dict[str, Any]:
    return {
        "wall": run.wall,
        "run": run.name,
        "starts": str(run.left),
        "stiles": [
            {
                "name": mark.name,
                "left": str(mark.left),
                "right": str(mark.right),
                "shown_left": str(mark.shown_left),
                "shown_right": str(mark.shown_right),
            }
            for mark in run.running.marks
        ],
        "heights": [{"name": mark.name, "at": str(mark.at), "shown": str(mark.shown)} for mark in run.heights],
    }


def _packing(packing: Packing, row_of: dict[tuple[str, str], int], unit: Unit) -> dict[str, Any]:
    return {
        "material": packing.material.value,
        "least": packing.objective.value,
        "amount": float(packing.amount),
        "at_least": float(packing.bound),
        "proven": packing.proven,
        "told": packing.told(unit),
        "boards": [_board(board, row_of) for board in packing.boards],
        "offcuts": [{"stock": o.stock.name, "length": str(o.length), "width": str(o.width)} for o in packing.offcuts],
    }


def _board(board: Board, row_of: dict[tuple[str, str], int]) -> dict[str, Any]:
    stock = board.stock
    return {
        "stock": stock.name,
        "thickness": str(stock.thickness),
        "width": str(stock.width),
        "length": str(stock.length),
        "across": board.across,
        "lanes": [
            {
                "at": str(lane.at),
                "width": str(lane.width),
                "left": str(lane.left),
                "cuts": [
                    {
                        "piece": row_of[cut.piece.unit, cut.place],
                        "place": cut.place,
                        "at": str(cut.at),
                        "length": str(cut.length),
                        "width": str(cut.width),
                    }
                    for cut in lane.cuts
                ],
            }
            for lane in board.lanes
        ],
    }
