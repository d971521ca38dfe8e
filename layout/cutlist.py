"""The cut list: from the frames of a plan to pieces, each with its end cuts and bevels.

All that is read of how a run ends is read in `ending`.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from itertools import pairwise
from typing import NamedTuple

from capture.errors import PlainError
from layout.bevels import SQUARE, Corner, shown
from layout.ends import RunEnd, Stop
from layout.frames import Frame, Member, Panel
from layout.pieces import NARROW_RIP, SQUARE_CUT, CutKind, Edge, EndCut, Grain, Piece, PieceRole
from layout.scheme import Scheme
from layout.stock import Material

USUAL_RADIUS = Fraction(3, 4)  # inches, of a bullnose that nobody measured; common practice, no source
HALF_SQUARE = SQUARE / 2


class JointError(PlainError, ValueError):
    """A piece longer than its stock, with no place for a joint."""


@dataclass(frozen=True)
class Ending:
    """One end of a run as the shop needs it; inches and degrees."""

    beyond: Fraction = Fraction(0)  # how much wider than its shown face the end stile is cut; below 0 narrower
    bevel: Fraction = Fraction(0)  # of the end stile's edge
    corner: Corner | None = None  # an outside corner to be turned
    inset: Fraction = Fraction(0)  # how far in from the wall's own corner the shown face starts; below 0 past it
    mitre: Fraction = HALF_SQUARE  # of the cap at an inside corner: half of what the walls turn
    first: bool = True  # of the two walls at an inside corner
    returned: bool = False  # an open end: the cap returns to the wall
    loose: bool = False  # the end stile is fitted last
    notes: tuple[str, ...] = ()


def ending(end: RunEnd, scheme: Scheme) -> Ending:
    """What the shop needs to know of a run's end."""
    stile = Ending(end.beyond, end.bevel)
    if end.stop is Stop.INSIDE_CORNER:
        notes = (
            (f"{scheme.show(end.hidden)} of its width is hidden behind the next wall's frame",) if end.hidden else ()
        )
        return replace(stile, inset=scheme.build_up, first=bool(end.hidden), notes=notes)
    if end.turn:
        behind = scheme.build_up - scheme.thickness
        corner = Corner(180 - end.turn.angle, scheme.thickness, end.turn.joints + 1, end.turn.radius, behind)
        return replace(stile, corner=corner, inset=Fraction(0) if end.turn.radius else -end.turn.toe)
    if end.casing is not None and not end.filler:
        return replace(stile, beyond=end.beyond - scheme.filler, loose=True, notes=(_narrow_note(scheme),))
    return replace(stile, returned=end.stop is Stop.OPEN)


def _narrow_note(scheme: Scheme) -> str:
    return f"cut {scheme.show(scheme.filler)} narrow and pushed tight to the casing"


def pieces_of(
    frames: Sequence[Frame], scheme: Scheme, *, longest: Fraction | None = None, sheet_grain: Grain = Grain.EITHER
) -> tuple[Piece, ...]:
    """The cut list of frames that go up together, equal pieces of one unit on one row.

    Parameters
    ----------
    frames
        In room order, left to right on each wall: a bullnose between two of them is counted once.
    scheme
        The sizes wanted.
    longest
        Length that the longest board gives; what is longer is joined over a stile. None joins nothing.
    sheet_grain
        Which way the grain of panel sheets runs, their length being up.

    Returns
    -------
    tuple of Piece
        Unit by unit: stiles, rails, base, cap, fillers, sheets, moulding, strips.

    Raises
    ------
    JointError
        A piece is longer than the stock and no stile stands where a joint could hide.
    """
    pieces: list[Piece] = []
    for i, frame in enumerate(frames):
        unit = _Unit(frame, scheme, longest, sheet_grain)
        shared = len(frames) > 1 and frames[i - 1].run.right_end.stop is Stop.BULLNOSE
        pieces += unit.pieces(("right",) if shared else ("left", "right"))
    return tuple(_grouped(pieces))


def _grouped(pieces: Sequence[Piece]) -> Iterator[Piece]:
    """Pieces that differ only in where they go on one row, with the caution that a narrow one asks for."""
    places: dict[Piece, list[str]] = {}
    for piece in pieces:
        places.setdefault(replace(piece, places=()), []).extend(piece.places)
    for piece, names in places.items():
        cautions = (*piece.cautions, NARROW_RIP) if piece.narrow else piece.cautions
        yield replace(piece, places=tuple(names), cautions=cautions)


class _LongEnd(NamedTuple):
    """One end of a piece that runs along the wall: where its long point lies, and its cut."""

    at: Fraction
    cut: EndCut


_ORDER = (
    PieceRole.END_STILE, PieceRole.STILE, PieceRole.TOP_RAIL, PieceRole.MIDDLE_RAIL, PieceRole.BOTTOM_RAIL,
    PieceRole.BASE, PieceRole.CAP, PieceRole.FILLER,
)  # fmt: skip


@dataclass(frozen=True)
class _Unit:
    """The pieces of one frame."""

    frame: Frame
    scheme: Scheme
    longest: Fraction | None
    sheet_grain: Grain

    @property
    def name(self) -> str:
        return self.frame.run.name

    @property
    def ends(self) -> dict[str, Ending]:
        run = self.frame.run
        return {"left": ending(run.left_end, self.scheme), "right": ending(run.right_end, self.scheme)}

    @property
    def centres(self) -> list[Fraction]:
        """Of the stiles between the end ones: where joints and seams hide."""
        return [(stile.rect.left + stile.rect.right) / 2 for stile in self.frame.stiles[1:-1]]

    def pieces(self, corners: Sequence[str]) -> Iterator[Piece]:
        """All of them, the strips of a bullnose at the corners named."""
        for member in sorted(self.frame.members, key=lambda member: _ORDER.index(PieceRole(member.role.value))):
            yield from self._member(member, PieceRole(member.role.value))
        if self.scheme.panel == "sheet":
            yield from self._sheets()
        for panel in self.frame.panels:
            yield from self._mouldings(panel)
        for side in corners:
            corner = self.ends[side].corner
            if corner and corner.pieces > 2:
                yield from self._strips(side, corner)

    def _member(self, member: Member, role: PieceRole) -> Iterator[Piece]:
        if role is PieceRole.END_STILE:
            yield self._end_stile(self._upright(member, role), at_left=member.rect.left == self.frame.run.left)
        elif role is PieceRole.STILE:
            yield self._upright(member, role)
        elif role is PieceRole.FILLER:
            filler = self._upright(member, role)
            width = filler.width - self.scheme.filler
            yield replace(filler, width=width, loose=True, notes=(_narrow_note(self.scheme),))
        elif role is PieceRole.CAP:
            yield from self._cap(member)
        else:
            yield from self._level(member, role)

    def _upright(self, member: Member, role: PieceRole) -> Piece:
        rect = member.rect
        return Piece(role.value, role, self.name, (member.name,), rect.height, rect.width, member.thickness)

    def _end_stile(self, stile: Piece, at_left: bool) -> Piece:
        end = self.ends["left" if at_left else "right"]
        plain, bevelled = Edge(), Edge(end.bevel)
        edges = (bevelled, plain) if at_left else (plain, bevelled)
        return replace(stile, width=stile.width + end.beyond, edges=edges, loose=end.loose, notes=end.notes)

    def _level(self, member: Member, role: PieceRole) -> Iterator[Piece]:
        """Rails between the end stiles; a base from corner to corner."""
        rect = member.rect
        whole = Piece(role.value, role, self.name, (member.name,), rect.width, rect.height, member.thickness)
        if role is not PieceRole.BASE:
            yield from self._lengths(whole, _LongEnd(rect.left, SQUARE_CUT), _LongEnd(rect.right, SQUARE_CUT))
            return
        left, right = (_base_end(self.ends[side], member.thickness) for side in ("left", "right"))
        left, right = _LongEnd(rect.left - left.at, left.cut), _LongEnd(rect.right + right.at, right.cut)
        yield from self._lengths(whole, left, right, scarf=EndCut(CutKind.BEVEL, HALF_SQUARE, "face"))

    def _cap(self, member: Member) -> Iterator[Piece]:
        """From the wall outwards: mitred at corners, returned at an open end."""
        depth, name, rect = self._depth(member), member.name.split()[0], member.rect
        whole = Piece(name, PieceRole.CAP, self.name, (member.name,), rect.width, depth, rect.height)
        overhang = depth - self.scheme.build_up
        left, right = (_cap_end(self.ends[side], depth, overhang) for side in ("left", "right"))
        left, right = _LongEnd(rect.left - left.at, left.cut), _LongEnd(rect.right + right.at, right.cut)
        yield from self._lengths(whole, left, right, scarf=EndCut(CutKind.BEVEL, HALF_SQUARE, "top"))
        for side, end in self.ends.items():
            if end.returned:
                yield _return(whole, f"{member.name}, {side} end")

    def _depth(self, cap: Member) -> Fraction:
        """From the wall to the cap's front edge."""
        return cap.thickness + self.scheme.build_up - self.scheme.thickness

    def _lengths(self, whole: Piece, left: _LongEnd, right: _LongEnd, scarf: EndCut = SQUARE_CUT) -> Iterator[Piece]:
        """A piece in as many lengths as it takes, joined on the centres of stiles, square or by a scarf."""
        spans = self._spans(whole, left.at, right.at)
        for i, (start, stop) in enumerate(spans, 1):
            cuts = (
                left.cut if start == left.at else self._joint(scarf, start),
                (right.cut if stop == right.at else self._joint(scarf, stop)),
            )
            # A scarf at 45° reaches half the thickness past the joint on one side and stops as far short on the other.
            joints = (start != left.at) + (stop != right.at)
            length = stop - start + (joints * whole.thickness / 2 if scarf.angle else 0)
            places = whole.places if len(spans) == 1 else (f"{whole.places[0]}, length {i} of {len(spans)}",)
            yield replace(whole, length=length, ends=cuts, places=places)

    def _joint(self, cut: EndCut, x: Fraction) -> EndCut:
        stile = next(stile for stile in self.frame.stiles if stile.rect.left < x < stile.rect.right)
        return replace(cut, note=f"joined over {stile.name}")

    def _spans(self, whole: Piece, left: Fraction, right: Fraction) -> list[tuple[Fraction, Fraction]]:
        at = [left, *(x for x in self.centres if left < x < right), right]
        limit = right - left if self.longest is None else self.longest
        if right - left > limit and whole.role in (PieceRole.CAP, PieceRole.BASE):
            limit -= whole.thickness  # the scarfs at both ends of a length
        widest = max(b - a for a, b in pairwise(at))
        if widest > limit and right - left > limit:
            raise JointError(
                f"The {whole.name} of “{self.name}” is {self.scheme.show(right - left)} long, and two places for a "
                f"joint lie {self.scheme.show(widest)} apart, {self.scheme.show(widest - limit)} more than the longest "
                f"board gives ({self.scheme.show(limit)}); take longer stock or narrower panels."
            )
        return _fewest(at, limit)

    def _sheets(self) -> Iterator[Piece]:
        """Sheets behind the frame, a panel each, from wall to wall; every seam on the centre of a stile."""
        stiles = self.frame.stiles
        low, high = min(stile.rect.bottom for stile in stiles), max(stile.rect.top for stile in stiles)
        inward = {side: max(Fraction(0), end.inset) for side, end in self.ends.items()}
        edges = [stiles[0].rect.left - inward["left"], *self.centres, stiles[-1].rect.right + inward["right"]]
        for panel, (left, right) in zip(self.frame.panels, pairwise(edges), strict=False):  # an upper tier is covered
            role, place = PieceRole.SHEET, f"behind {panel.name}"
            size = high - low, right - left, self.scheme.panel_thickness
            yield Piece(role.value, role, self.name, (place,), *size, grain=self.sheet_grain, material=Material.SHEET)

    def _mouldings(self, panel: Panel) -> Iterator[Piece]:
        """Four to a panel, mitred, long points on the outer edge."""
        mitre = EndCut(CutKind.MITRE, HALF_SQUARE, "outer edge")
        role = PieceRole.MOULDING
        for member in panel.mouldings:
            width, length = sorted((member.rect.width, member.rect.height))
            size = length, width, member.thickness
            yield Piece(role.value, role, self.name, (member.name,), *size, (mitre, mitre), material=Material.MOULDING)

    def _strips(self, side: str, corner: Corner) -> Iterator[Piece]:
        """The narrow strips round a bullnose: of the frame, as high as the end stile, of the base, and of the cap."""
        stile = self.frame.stiles[0 if side == "left" else -1]
        yield self._strip(PieceRole.STRIP, side, stile.rect.height, corner)
        for member in self.frame.members:
            role = PieceRole(member.role.value)
            if role is PieceRole.BASE:
                base = replace(corner, thickness=member.thickness, behind=Fraction(0))
                yield self._strip(role, side, member.rect.height, base)
            elif role is PieceRole.CAP:
                yield self._cap_strip(side, replace(corner, thickness=self._depth(member), behind=Fraction(0)), member)

    def _strip(self, role: PieceRole, side: str, height: Fraction, corner: Corner) -> Piece:
        edge, face = Edge(corner.bevel), shown(corner.face)
        of, name = ("", role.value) if role is PieceRole.STRIP else (f"{role} ", f"{role} {PieceRole.STRIP}")
        places = tuple(f"{side} corner, {of}strip {i}" for i in range(1, corner.pieces - 1))
        told = (f"{shown(corner.heel)} at the heel, {face} on the show side", *corner.notes)
        size = height, face.length, corner.thickness
        return Piece(name, PieceRole.STRIP, self.name, places, *size, edges=(edge, edge), loose=True, notes=told)

    def _cap_strip(self, side: str, level: Corner, cap: Member) -> Piece:
        front, mitre = shown(level.face), EndCut(CutKind.MITRE, level.bevel, "front")
        told = (f"{front} along the front, {shown(level.heel)} at the wall",)
        places = tuple(f"{cap.name}, {side} corner, {i}" for i in range(1, level.pieces - 1))
        name, size = f"{cap.name.split()[0]} at the corner", (front.length, level.thickness, cap.rect.height)
        return Piece(name, PieceRole.CAP, self.name, places, *size, (mitre, mitre), notes=told)


def _fewest(at: Sequence[Fraction], limit: Fraction) -> list[tuple[Fraction, Fraction]]:
    """The fewest spans between places, none over the limit; and of these the ones of which the longest is shortest."""

    @cache
    def best(i: int) -> tuple[int, Fraction, tuple[Fraction, ...]]:
        if i == len(at) - 1:
            return 0, Fraction(0), ()
        options = []
        for j in range(i + 1, len(at)):
            if at[j] - at[i] <= limit and (rest := best(j)):
                options.append((rest[0] + 1, max(rest[1], at[j] - at[i]), (at[j], *rest[2])))
        return min(options)

    return list(pairwise((at[0], *best(0)[2])))


def _cap_end(end: Ending, depth: Fraction, overhang: Fraction) -> _LongEnd:
    """How far past the run's shown end the cap's long point lies."""
    if end.corner:
        level = replace(end.corner, thickness=depth, behind=Fraction(0))
        return _LongEnd(shown(level.face_past + end.inset).length, EndCut(CutKind.MITRE, level.bevel, "front"))
    if end.inset:
        return _LongEnd(end.inset, EndCut(CutKind.MITRE, end.mitre, "back"))
    if end.returned:
        return _LongEnd(overhang, EndCut(CutKind.MITRE, HALF_SQUARE, "front", "returned to the wall"))
    return _LongEnd(Fraction(0), SQUARE_CUT)


def _base_end(end: Ending, thickness: Fraction) -> _LongEnd:
    """How far past the run's shown end the base's long point lies; the second at an inside corner is coped."""
    if end.corner:
        flat = replace(end.corner, thickness=thickness, behind=Fraction(0))
        return _LongEnd(shown(flat.face_past + end.inset).length, EndCut(CutKind.BEVEL, flat.bevel, "face"))
    if end.inset and end.first:
        return _LongEnd(end.inset, SQUARE_CUT)
    if end.inset:
        return _LongEnd(end.inset - thickness, EndCut(CutKind.COPE))
    return _LongEnd(Fraction(0), SQUARE_CUT)


def _return(cap: Piece, place: str) -> Piece:
    """The short end that takes a cap's edge back to the wall."""
    return replace(
        cap,
        name=f"{cap.name} return",
        role=PieceRole.CAP_RETURN,
        places=(place,),
        length=cap.width,
        ends=(EndCut(CutKind.MITRE, HALF_SQUARE, "front"), SQUARE_CUT),
        notes=("cut from the same length as the cap's end, so that its edge runs on; square at the wall",),
    )
