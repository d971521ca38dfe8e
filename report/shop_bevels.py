"""Bevelled pieces in section, and how they go together round a corner: heel and toe at the true angle.

Frame: inches of the section, x across the piece from its left edge on the show side, y from its back to its face.
"""

import cmath
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from capture.lengths import Unit
from layout.bevels import fine
from layout.pieces import Piece, PieceRole
from layout.shop import Shop
from report.drawing import Anchor, Item, Line, Pen, Point, Scale, Sheet, Text, reach
from report.shop_tables import degrees

NARROW = 2.0  # inches: what is narrower is drawn twice full size
AROUND = 0.46  # paper inches kept free for dimensions
SHOWN_FLAT = 2.25  # inches of a wide stile shown in the picture of the corner
MOST_WIDE = 5.6  # paper inches: what is wider is drawn at half size


@dataclass(frozen=True)
class Bevelled:
    """A section to draw."""

    number: int  # of its row in the cut list
    piece: Piece
    mirrored: tuple[int, ...]  # rows of pieces that are the same the other way round


def bevelled(shop: Shop) -> list[Bevelled]:
    """The pieces with a bevelled edge, each section once."""
    told: dict[object, Bevelled] = {}
    for number, piece in enumerate(shop.pieces, start=1):
        if not any(edge.angle for edge in piece.edges):
            continue
        size = piece.width, piece.thickness
        if (twin := told.get((size, piece.edges[::-1]))) and piece.edges != piece.edges[::-1]:
            told[size, twin.piece.edges] = replace(twin, mirrored=(*twin.mirrored, number))
        else:
            told.setdefault((size, piece.edges), Bevelled(number, piece, ()))
    return list(told.values())


def section_sheet(number: int, piece: Piece, unit: Unit) -> Sheet:
    """A piece cut across, its show side up."""
    factor = 2.0 if piece.width < NARROW else 1.0 if piece.width < MOST_WIDE else 0.5
    scale = Scale({2.0: "twice full size", 1.0: "full size", 0.5: "half size"}[factor], factor)
    toes, heels = _outline(piece)
    away = scale.on_wall(1.0)
    wide, thick = float(piece.width), float(piece.thickness)
    items = [
        Line((toes[0], toes[1], heels[1], heels[0], toes[0]), Pen.HEAVY),
        *_across(toes[0][0], toes[1][0], thick + 0.2 * away, f"{fine(piece.width, unit)}  face, show side", away, True),
        *_across(heels[0][0], heels[1][0], -0.24 * away, f"{fine(piece.back_width, unit)}  back", away, False),
        *_thickness(piece, unit, away),
        *_angles(piece, toes, heels, away),
    ]
    title = f"Section of {number}, {piece.name} of {piece.unit}, {scale.name}"
    bevels = " and ".join(degrees(edge.angle) for edge in piece.edges if edge.angle)
    told = f"face {fine(piece.width, unit)}, back {fine(piece.back_width, unit)}, bevel {bevels} from square"
    low = min(heels[0][0], 0.0) - 0.62 * away
    high = max(heels[1][0], wide) + (1.45 if piece.edges[1].angle else 0.9) * away
    high = max(high, reach(items, scale) + 0.05 * away)
    return Sheet(title, told, scale, low, -AROUND * away, high, thick + AROUND * away, tuple(items))


def _outline(piece: Piece) -> tuple[tuple[Point, Point], tuple[Point, Point]]:
    """Both corners of the face, and both of the back."""
    wide, thick = float(piece.width), float(piece.thickness)
    drops = [thick * math.tan(math.radians(float(edge.angle))) for edge in piece.edges]
    return ((0.0, thick), (wide, thick)), ((drops[0], 0.0), (wide - drops[1], 0.0))


def _across(left: float, right: float, y: float, words: str, away: float, above: bool) -> Iterator[Item]:
    tick = 0.05 * away
    yield Line(((left, y), (right, y)), Pen.HAIR)
    for x in (left, right):
        yield Line(((x, y - tick), (x, y + tick)), Pen.FINE)
    shift = 0.07 if above else -0.17
    yield Text(((left + right) / 2, y + shift * away), words, 9.5, Anchor.MIDDLE, bold=True)


def _thickness(piece: Piece, unit: Unit, away: float) -> Iterator[Item]:
    toes, heels = _outline(piece)
    clear = 0.85 if piece.edges[1].angle else 0.3  # beyond the words at a bevel
    x, thick = max(toes[1][0], heels[1][0]) + clear * away, float(piece.thickness)
    yield Line(((x, 0.0), (x, thick)), Pen.HAIR)
    for y in (0.0, thick):
        yield Line(((x - 0.05 * away, y), (x + 0.05 * away, y)), Pen.FINE)
    yield Text((x + 0.08 * away, thick / 2 - 0.045 * away), fine(piece.thickness, unit), 9.5)


def _angles(piece: Piece, toes: Sequence[Point], heels: Sequence[Point], away: float) -> Iterator[Item]:
    """At each bevel the square it is measured from, its angle, and which corner is heel and which toe."""
    for i, edge in enumerate(piece.edges):
        if not edge.angle:
            continue
        out = -1 if i == 0 else 1
        long, short = (toes[i], heels[i]) if edge.angle > 0 else (heels[i], toes[i])
        yield Line((long, (long[0], short[1])), Pen.HAIR, dashed=True)
        anchor = Anchor.END if out < 0 else Anchor.START
        at_face = edge.angle > 0
        toe_y = long[1] + (0.03 if at_face else -0.12) * away
        heel_y = short[1] + (-0.12 if at_face else 0.03) * away
        yield Text((long[0] + out * 0.06 * away, toe_y), "toe", 8.5, anchor)
        yield Text((long[0] + out * 0.06 * away, heel_y), "heel", 8.5, anchor)
        middle = (long[1] + short[1]) / 2 - 0.045 * away
        where = (long[0] + out * 0.08 * away, middle)
        yield Text(where, degrees(edge.angle), 10.5, anchor, bold=True)


def corner_sheets(shop: Shop) -> list[Sheet]:
    """Every corner that narrow strips turn, seen from above, as the pieces go together."""
    frame = [p for p in shop.pieces if p.role is PieceRole.STRIP and p.name == PieceRole.STRIP.value]
    return [_corner(piece, shop.scheme.unit) for piece in frame if piece.edges[0].angle > 0]


def _corner(strip: Piece, unit: Unit) -> Sheet:
    bevel, thick = math.radians(float(strip.edges[0].angle)), float(strip.thickness)
    turn = 2 * bevel
    scale = Scale("full size", 1.0)
    at, way = complex(-SHOWN_FLAT, 0), complex(1, 0)
    widths = [SHOWN_FLAT, *([float(strip.width)] * strip.count), SHOWN_FLAT]
    items: list[Item] = []
    drop = thick * math.tan(bevel)
    for i, wide in enumerate(widths):
        back = (0.0 if i == 0 else drop, wide if i == len(widths) - 1 else wide - drop)
        corners = [at, at + way * wide, at + way * complex(back[1], -thick), at + way * complex(back[0], -thick)]
        items.append(Line(tuple((c.real, c.imag) for c in (*corners, corners[0])), Pen.MEDIUM))
        if 0 < i < len(widths) - 1:
            middle = at + way * complex(wide / 2, 0.16)
            face = Text((middle.real, middle.imag), f"face {fine(strip.width, unit)}", 9.5, bold=True)
            heel = at + way * complex(wide / 2, -thick - 0.14)
            items += [face, Text((heel.real, heel.imag), f"heel {fine(strip.back_width, unit)}", 9, Anchor.END)]
        at, way = at + way * wide, way * cmath.rect(1.0, -turn)
    joints = strip.count + 1
    items.append(Text((-SHOWN_FLAT, 0.14), "left end stile, show side", 9))
    words = f"{joints} joints, {2 * joints} bevels of {degrees(strip.edges[0].angle)} each"
    low = min(p[1] for item in items if isinstance(item, Line) for p in item.points) - 0.3
    items.append(Text((-SHOWN_FLAT, low + 0.35), words, 9.5, bold=True))
    right = max(p[0] for item in items if isinstance(item, Line) for p in item.points) + 1.2
    right = max(right, reach(items, scale) + 0.05)
    title = f"Corner of {strip.unit} from above, {scale.name}: {words}"
    return Sheet(title, "", scale, -SHOWN_FLAT - 0.1, low, right, 0.5, tuple(items))
