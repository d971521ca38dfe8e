"""Turning an outside corner: bevels, the narrow strips round a bullnose, and where the flats stop.

The heel of a bevelled edge is its short point, at the back of the piece; the toe its long point, on the show side. So
round an outside corner a piece is narrower at the heel, and a strip's width means nothing until it is said which.

Angles are exact degrees. A tangent is irrational but at 0 and 45° (Niven's theorem): lengths made with one are held to
some 16 digits and never lie just half-way between two marks of a tape; `shown` rounds them and tells by how much.
"""

import cmath
import math
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from capture.lengths import MM, SizesError, Unit, nearest, show_length

SQUARE = Fraction(90)  # degrees
FINE = Fraction(1, 64)  # inches; strips are narrow and want a finer mark than 1/16


class CornerError(SizesError, ValueError):
    """A corner that cannot be turned as told."""


def turn_of(included: Fraction) -> Fraction:
    """How far the walls turn at an outside corner, from the angle between them as a bevel gauge reads it; degrees.

    The two are easily taken for one another: a bay corner that reads 135° between its walls turns 45°.
    """
    return 180 - included


def bevel(turn: Fraction, pieces: int) -> Fraction:
    """What each meeting edge is bevelled from square, degrees, with `pieces` in all, the two flats included.

    There are pieces - 1 joints, and each turns the same share of the corner between two equal bevels.
    """
    return turn / (2 * (pieces - 1))


_EXACT = {Fraction(0): Fraction(0), Fraction(45): Fraction(1)}


def tangent(degrees: Fraction) -> Fraction:
    """The tangent of an angle: exact at 0 and 45°, else to double precision."""
    return _EXACT[degrees] if degrees in _EXACT else Fraction(math.tan(math.radians(degrees)))


def times_tangent(length: Fraction, degrees: Fraction) -> Fraction:
    """A length by the tangent of an angle, as a plan takes it: exact where the tangent is, else to 1/64 in."""
    product = length * tangent(degrees)
    return product if degrees in _EXACT else nearest(product, FINE)


def inside(off: Fraction, angle: Fraction) -> Fraction:
    """How far from an inside corner two planes meet, each `off` inches in front of its wall; along either wall.

    Parameters
    ----------
    off
        Inches.
    angle
        Between the two walls, degrees.

    Returns
    -------
    Fraction
        off / tan(angle / 2), inches; plane geometry.
    """
    return times_tangent(off, SQUARE - angle / 2)


def wedge(thickness: Fraction, angle: Fraction) -> Fraction:
    """How far from an acute inside corner a square end must stop so that its front clears the other wall, inches."""
    return times_tangent(thickness, SQUARE - angle) if angle < SQUARE else Fraction(0)


class Shown(NamedTuple):
    """A length as a tape can show it."""

    length: Fraction
    more: Fraction  # than the true length; below 0 less

    def told(self, unit: Unit = Unit.INCH) -> str:
        """For the eye: ``1 1/4" (0.0074 over)``, or ``31.8 mm (0.19 mm over)``."""
        more = f"{abs(float(self.more / MM)):.2f} mm" if unit is Unit.MM else f"{abs(float(self.more)):.4f}"
        told = fine(self.length, unit)
        return f"{told} ({more} {'over' if self.more > 0 else 'under'})" if self.more else told


def fine(length: Fraction, unit: Unit) -> str:
    """A width to 1/64 in or a tenth of a millimetre: narrow strips want a finer mark."""
    if unit is Unit.MM:
        return f"{float(length / MM):.1f} mm".replace(".0 mm", " mm")
    return show_length(length, unit, FINE)


def shown(length: Fraction, step: Fraction = FINE) -> Shown:
    """A length rounded to the step, and what the rounding did."""
    rounded = nearest(length, step)
    return Shown(rounded, rounded - length)


@dataclass(frozen=True)
class Corner:
    """An outside corner and the pieces that turn it.

    Parameters
    ----------
    turn
        Degrees between the directions of the two walls; 90 is a square corner. See `turn_of`.
    thickness
        Of the pieces, inches.
    pieces
        In all, the two flats included: 2 is a mitre, 3 has one narrow strip.
    radius
        Of the round; 0 is a sharp corner.
    behind
        From the wall to the back of the pieces, where they lie on a sheet; inches.
    strip
        Width of each narrow strip at its heel; None lays the strips tangent to the round, or as far off it as the flats
        lie off the wall.

    Raises
    ------
    CornerError
        What was told cannot be.

    Notes
    -----
    The backs of all pieces are tangent to a circle of radius r = strip / (2 tan h), h being the bevel, and so are the
    two flats: its centre lies on the bisector of the corner like the round's. Laid tangent r is the round's own
    radius. A narrower strip leaves a gap, a wider one must be hollowed. Plane geometry.
    """

    turn: Fraction
    thickness: Fraction
    pieces: int = 2
    radius: Fraction = Fraction(0)
    behind: Fraction = Fraction(0)
    strip: Fraction | None = None

    def __post_init__(self) -> None:
        if not 0 < self.turn < 180:
            raise CornerError(
                f"An outside corner turns more than 0° and less than 180°, not {show_degrees(self.turn)}; "
                "read it between the two walls and take it from 180."
            )
        if self.pieces < 2:
            raise CornerError(f"A corner is turned by 2 pieces or more, the two flats included, not {self.pieces}.")
        if self.thickness <= 0 or self.radius < 0 or self.behind < 0:
            raise CornerError(
                lambda show: (
                    f"A corner needs a thickness above nothing and a radius of nothing or more, not "
                    f"{show(self.thickness)} and {show(self.radius)}."
                )
            )
        if self.pieces > 2:
            self._check_strip()

    def _check_strip(self) -> None:
        if self.heel <= 0:
            raise CornerError(
                lambda show: (
                    f"A strip {show(self.heel)} wide at its heel cannot be held; "
                    "mitre a sharp corner, or tell how wide the strip is to be."
                )
            )
        if self.hollow >= self.thickness:
            raise CornerError(
                lambda show: (
                    f"A strip {show(self.heel, step=FINE)} wide at its heel must be hollowed "
                    f"{show(self.hollow, step=FINE)} to clear the corner, and it is "
                    f"{show(self.thickness)} thick; take a narrower strip."
                )
            )

    @classmethod
    def flat_to_flat(cls, width: Fraction, turn: Fraction, thickness: Fraction, pieces: int = 3) -> "Corner":
        """A bullnose known by the straight distance between the two lines where its round begins, inches."""
        if width <= 0:
            raise CornerError(lambda show: f"From flat to flat is {show(width)}; measure straight across the round.")
        return cls(turn, thickness, pieces, radius=width / 2 / Fraction(math.sin(math.radians(turn / 2))))

    def at_stop_lines(self) -> "Corner":
        """The same corner with strips so wide that the flats' backs end where the round begins."""
        half = tangent(self.turn / 2)
        circle = (self.radius + self.behind) * half / (half - tangent(self.bevel))
        return replace(self, strip=2 * circle * tangent(self.bevel))

    @property
    def bevel(self) -> Fraction:
        """What each meeting edge is bevelled from square, degrees."""
        return bevel(self.turn, self.pieces)

    @property
    def heel(self) -> Fraction:
        """Width of each narrow strip at its back, inches."""
        return 2 * (self.radius + self.behind) * tangent(self.bevel) if self.strip is None else self.strip

    @property
    def face(self) -> Fraction:
        """Width of each narrow strip on the show side, inches."""
        return self.heel + 2 * self.drop

    @property
    def drop(self) -> Fraction:
        """How far the heel of a bevelled edge lies behind its toe, inches."""
        return self.thickness * tangent(self.bevel)

    @property
    def _circle(self) -> Fraction:
        """Radius of the circle to which all backs are tangent."""
        return self.heel / 2 / tangent(self.bevel)

    @property
    def back_past(self) -> Fraction:
        """How far the back of each flat runs past the line where the round begins, inches; below 0 it stops short."""
        half = tangent(self.turn / 2)
        return (self.radius + self.behind) * half - self._circle * (half - tangent(self.bevel))

    @property
    def face_past(self) -> Fraction:
        """How far the face of each flat reaches past that line: its long point, inches."""
        return self.back_past + self.drop

    @property
    def reach(self) -> Fraction:
        """`face_past` as a plan takes it: exact at a square mitre, else to 1/64 in."""
        return self.face_past if self.bevel in _EXACT else nearest(self.face_past, FINE)

    @property
    def short_of_corner(self) -> Fraction:
        """How far the back of each flat stops short of where the two walls would meet; below 0 it runs past, inches."""
        return self.radius * tangent(self.turn / 2) - self.back_past

    @property
    def _joints(self) -> list[complex]:
        """Where the backs meet, from the round's centre, the corner straight ahead."""
        centre = float(self.radius + self.behind - self._circle) / math.cos(math.radians(self.turn / 2))
        reach = float(self._circle) / math.cos(math.radians(self.bevel))
        leans = [math.radians(self.turn / 2 - self.bevel * (2 * i + 1)) for i in range(self.pieces - 1)]
        return [centre + cmath.rect(reach, lean) for lean in leans]

    @property
    def _clear(self) -> Fraction:
        """From the round to the nearest back of a strip, inches; below 0 it would dig in."""
        away = min(_from_origin(a, b) for a, b in pairwise(self._joints))
        return nearest(Fraction(away) - self.radius, Fraction(1, 10**9))  # a strip laid tangent touches

    @property
    def gap(self) -> Fraction:
        """Least gap between the narrow strips and the round, inches."""
        return max(Fraction(0), self._clear) if self.pieces > 2 else self.void

    @property
    def hollow(self) -> Fraction:
        """How deep the back of a strip must be hollowed to clear the round, inches."""
        return max(Fraction(0), -self._clear) if self.pieces > 2 else Fraction(0)

    @property
    def void(self) -> Fraction:
        """The widest hole behind a joint, from the round to where two backs meet, inches."""
        return Fraction(max(abs(joint) for joint in self._joints)) - self.radius

    def opening(self, cut_for: Fraction) -> Fraction:
        """How wide each joint opens at heel or toe when its bevels are cut for another turn; inches.

        Two equal slants of the thickness part like a pair of dividers.
        """
        off = math.radians(abs(self.turn - cut_for) / (self.pieces - 1))
        slant = float(self.thickness) / math.cos(math.radians(bevel(cut_for, self.pieces)))
        return Fraction(2 * slant * math.sin(off / 2))

    def notes(self, unit: Unit = Unit.INCH) -> tuple[str, ...]:
        """What to look at before cutting."""
        told = []
        if self.turn > 100:
            told.append(
                f"a turn of {show_degrees(self.turn)} leaves {show_degrees(180 - self.turn)} between the walls: if "
                f"{show_degrees(self.turn)} was read between the walls, the turn is {show_degrees(180 - self.turn)}"
            )
        if self.hollow:
            told.append(f"the strip's back must be hollowed {shown(self.hollow).told(unit)} to clear the round")
        return tuple(told)


class Butt(NamedTuple):
    """Two stiles butted at a square outside corner."""

    past: Fraction  # how far the lapping stile runs past the wall's corner
    lapping: Fraction  # its width
    lapped: Fraction  # width of the other; the edge of the lapping stile makes up its face


def butt(face: Fraction, thickness: Fraction, turn: Fraction = SQUARE, behind: Fraction = Fraction(0)) -> Butt:
    """Widths of two butted stiles of which both walls are to show the same face.

    Parameters
    ----------
    face
        What each wall shows, inches.
    thickness
        Of the stiles.
    turn
        Only a square corner can be butted with square edges.
    behind
        From the wall to the back of the stiles.

    Raises
    ------
    CornerError
        The corner is not square, or the face is no wider than the stile is thick.
    """
    if turn != SQUARE:
        raise CornerError(
            f"A butt joint wants a corner that turns 90°, and this one turns {show_degrees(turn)}, "
            f"{show_degrees(abs(turn - SQUARE))} off; mitre it."
        )
    if face <= thickness:
        raise CornerError(
            lambda show: (
                f"A face of {show(face)} is no wider than the stile is thick ({show(thickness)}), by "
                f"{show(thickness - face)}: nothing would be left of the lapped one; mitre the corner."
            )
        )
    return Butt(past=behind + thickness, lapping=face, lapped=face - thickness)


def _from_origin(a: complex, b: complex) -> float:
    """Distance of the origin from the stretch between two points."""
    share = -(a * (b - a).conjugate()).real / abs(b - a) ** 2
    return abs(a + min(1.0, max(0.0, share)) * (b - a))


def show_degrees(angle: Fraction) -> str:
    """An angle for the eye: ``22.5°``."""
    return f"{float(angle):.5g}°"
