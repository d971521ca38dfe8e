"""The cut list: from the frames of a plan to pieces, each with its end cuts and bevels."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from capture.lengths import nearest
from layout.bevels import Corner, inside, shown, wedge
from layout.ends import RunEnd, Stop
from layout.frames import Frame, Member, Panel, Rect, Role
from layout.joints import (
    HALF_SQUARE,
    SCARFED,
    JointError,
    Longest,
    check_stiles,
    depth_of,
    lengths_of,
    long_ends,
    scarf,
    stile_at,
)
from layout.pieces import NARROW_RIP, SQUARE_CUT, CutKind, Edge, EndCut, Grain, Piece, PieceRole
from layout.scheme import Scheme
from layout.stock import Material

__all__ = ["JointError", "pieces_of"]


def pieces_of(
    frames: Sequence[Frame], scheme: Scheme, *, longest: Longest = None, sheet_grain: Grain = Grain.EITHER
) -> tuple[Piece, ...]:
    """The cut list of frames that go up together, equal pieces of one unit on one row.

    Parameters
    ----------
    frames
        In room order, left to right on each wall: a bullnose between two of them is counted once.
    scheme
        The sizes wanted.
    longest
        Length that the longest board gives, of all or by role; what is longer is joined over a stile. None takes the
        scheme's
        `stock_length`, and joins nothing where it has none.
    sheet_grain
        Which way the grain of panel sheets runs, their length being up.

    Returns
    -------
    tuple of Piece
        Unit by unit: stiles, rails, base, cap, fillers, sheets, moulding, strips.

    Raises
    ------
    JointError
        A piece is longer than the stock, and is a stile or no stile stands where a joint could hide.
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


_ORDER = (
    PieceRole.END_STILE, PieceRole.STILE, PieceRole.TOP_RAIL, PieceRole.MIDDLE_RAIL, PieceRole.BOTTOM_RAIL,
    PieceRole.BASE, PieceRole.CAP, PieceRole.FILLER,
)  # fmt: skip


@dataclass(frozen=True)
class _Unit:
    """The pieces of one frame."""

    frame: Frame
    scheme: Scheme
    longest: Longest
    sheet_grain: Grain

    @property
    def name(self) -> str:
        return self.frame.run.name

    @property
    def ends(self) -> dict[str, RunEnd]:
        return {"left": self.frame.run.left_end, "right": self.frame.run.right_end}

    def pieces(self, corners: Sequence[str]) -> Iterator[Piece]:
        """All of them, the strips of a bullnose at the corners named."""
        check_stiles(self.frame, self.scheme, self.longest)
        for member in sorted(self.frame.members, key=lambda member: _ORDER.index(PieceRole(member.role.value))):
            yield from self._member(member, PieceRole(member.role.value))
        if self.frame.sheet:
            yield from self._sheets(self.frame.sheet)
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
            yield replace(filler, width=width, loose=True, notes=(self._narrow_note,))
        elif role is PieceRole.CAP:
            yield from self._cap(member)
        else:
            size = member.rect.width, member.rect.height, member.thickness
            yield from self._lengths(member, Piece(role.value, role, self.name, (member.name,), *size))

    @property
    def _narrow_note(self) -> str:
        return f"cut {self.scheme.show(self.scheme.filler)} narrow and pushed tight to the casing"

    def _upright(self, member: Member, role: PieceRole) -> Piece:
        rect = member.rect
        return Piece(role.value, role, self.name, (member.name,), rect.height, rect.width, member.thickness)

    def _end_stile(self, stile: Piece, at_left: bool) -> Piece:
        end = self.ends["left" if at_left else "right"]
        plain, bevelled = Edge(), Edge(end.edge)
        edges = (bevelled, plain) if at_left else (plain, bevelled)
        notes = tuple(self._stile_notes(end))
        return replace(stile, width=stile.width + end.beyond, edges=edges, loose=end.loose, notes=notes)

    def _stile_notes(self, end: RunEnd) -> Iterator[str]:
        if end.hidden:
            yield f"{self.scheme.show(end.hidden)} of its width is hidden behind the next wall's frame"
        if end.relief:
            yield f"{float(end.relief):.4g}° of its bevel is relief: its face meets the next wall's frame first"
        if end.scribe:
            yield f"{self.scheme.show(end.scribe)} of its width is there to be scribed away"
        if end.loose:
            yield self._narrow_note

    def _cap(self, member: Member) -> Iterator[Piece]:
        """From the wall outwards: mitred at corners, returned at an open end."""
        name, rect = member.name.split()[0], member.rect
        size = rect.width, depth_of(member, self.scheme), rect.height
        whole = Piece(name, PieceRole.CAP, self.name, (member.name,), *size)
        yield from self._lengths(member, whole)
        for side, end in self.ends.items():
            if end.stop is Stop.OPEN:
                yield _return(whole, f"{member.name}, {side} end")

    def _lengths(self, member: Member, whole: Piece) -> Iterator[Piece]:
        """A level member in as many lengths as it takes, joined in line with stiles: square, or by a scarf."""
        (_, left), (_, right) = long_ends(self.frame, member, self.scheme)
        spans = lengths_of(self.frame, member, self.scheme, self.longest)
        scarfed = member.role in SCARFED
        for i, (start, stop) in enumerate(spans, 1):
            at_left, at_right = i == 1, i == len(spans)
            cuts = left if at_left else self._joint(member, start), right if at_right else self._joint(member, stop)
            # A scarf at 45° reaches half the thickness past the joint on one side and stops as far short on the other.
            lap = (2 - at_left - at_right) * scarf(member) / 2 if scarfed else 0
            places = whole.places if len(spans) == 1 else (f"{member.name}, length {i} of {len(spans)}",)
            yield replace(whole, length=stop - start + lap, ends=cuts, places=places)

    def _joint(self, member: Member, x: Fraction) -> EndCut:
        note = f"joined over {stile_at(self.frame, x).name}"
        if member.role not in SCARFED:
            return EndCut(note=note)
        return EndCut(CutKind.BEVEL, HALF_SQUARE, "top" if member.role is Role.CAP else "face", note)

    def _sheets(self, covered: Rect) -> Iterator[Piece]:
        """Sheets behind the frame, a panel each, to the wall's own corners; every seam on the middle of a stile.

        Seams lie whole steps from the left edge, so that the shown widths add up; an even number of them, so that a
        last width half-way between two marks goes to the one to which the whole goes.
        """
        thick, even = self.scheme.panel_thickness, 2 * self.scheme.step
        left, right = (_sheet_past(end, thick) for end in self.ends.values())
        start, stop = covered.left - left, covered.right + right
        edges = [start, *(start + nearest(middle - start, even) for middle in self.frame.middles), stop]
        for panel, (low, high) in zip(self.frame.panels, pairwise(edges), strict=False):  # an upper tier is covered
            role, place = PieceRole.SHEET, f"behind {panel.name}"
            size = covered.height, high - low, thick
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
                level = replace(corner, thickness=depth_of(member, self.scheme), behind=Fraction(0))
                yield self._cap_strip(side, level, member)

    def _strip(self, role: PieceRole, side: str, height: Fraction, corner: Corner) -> Piece:
        edge, face, unit = Edge(corner.bevel), shown(corner.face), self.scheme.unit
        of, name = ("", role.value) if role is PieceRole.STRIP else (f"{role} ", f"{role} {PieceRole.STRIP}")
        places = tuple(f"{side} corner, {of}strip {i}" for i in range(1, corner.pieces - 1))
        told = (f"{shown(corner.heel).told(unit)} at the heel, {face.told(unit)} on the show side", *corner.notes(unit))
        size = height, face.length, corner.thickness
        return Piece(name, PieceRole.STRIP, self.name, places, *size, edges=(edge, edge), loose=True, notes=told)

    def _cap_strip(self, side: str, level: Corner, cap: Member) -> Piece:
        front, mitre, unit = shown(level.face), EndCut(CutKind.MITRE, level.bevel, "front"), self.scheme.unit
        told = (f"{front.told(unit)} along the front, {shown(level.heel).told(unit)} at the wall",)
        places = tuple(f"{cap.name}, {side} corner, {i}" for i in range(1, level.pieces - 1))
        name, size = f"{cap.name.split()[0]} at the corner", (front.length, level.thickness, cap.rect.height)
        return Piece(name, PieceRole.CAP, self.name, places, *size, (mitre, mitre), notes=told)


def _sheet_past(end: RunEnd, thickness: Fraction) -> Fraction:
    """How far past the run's shown end a sheet reaches: to the wall's own corner, or to the face of the first sheet."""
    if end.stop is not Stop.INSIDE_CORNER:
        return end.inset
    if end.first:
        return end.inset - wedge(thickness, end.angle)
    return end.inset - inside(thickness, end.angle) - wedge(thickness, 180 - end.angle)


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
