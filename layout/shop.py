"""All that the shop needs of a plan at once: pieces, running dimensions, order of work, take-off, boards to buy."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil

from capture.errors import PlainError
from capture.lengths import Unit, nearest
from capture.measured import Measured, Source
from capture.record import TRAITS
from layout.boards import buy
from layout.cutlist import pieces_of
from layout.frames import Frame, Role, spoken
from layout.joints import Longest, rail_joints
from layout.packing import Packing, Saw
from layout.pieces import Piece, PieceRole
from layout.plan import Plan, WallPlan
from layout.scheme import Scheme
from layout.setout import BOXES_FIRST, Running, order_of_work, running_dimensions
from layout.stock import Material, Stock, TakeOff, take_off
from layout.yard import Yard

SECONDS = 5.0  # for each material that shares stock; then the gap is told
LEVEL = (PieceRole.TOP_RAIL, PieceRole.MIDDLE_RAIL, PieceRole.BOTTOM_RAIL, PieceRole.BASE, PieceRole.CAP)
STILES = (PieceRole.END_STILE, PieceRole.STILE)
SEEN = (Source.PHOTO, Source.USUAL)  # measured by nobody's tape
NEAR = 1.5  # inches: a run's shown end stops a build-up short of the corner or the casing it rests on
_STRIPES = (Role.BASE, Role.BOTTOM_RAIL, Role.MIDDLE_RAIL, Role.TOP_RAIL, Role.CAP)


@dataclass(frozen=True)
class HeightMark:
    """A level edge of a unit, inches above the finished floor."""

    name: str
    at: Fraction
    shown: Fraction


@dataclass(frozen=True)
class SetOut:
    """How one run of a wall is set out."""

    wall: str
    left: Fraction  # where it starts, in wall inches
    running: Running
    heights: tuple[HeightMark, ...]

    @property
    def name(self) -> str:
        """The run's name."""
        return self.running.unit


@dataclass(frozen=True)
class Refusal:
    """A wall of which nothing can be cut, and why."""

    wall: str
    sentence: str


@dataclass(frozen=True)
class RoomOrder:
    """The order of work in one room."""

    walls: tuple[str, ...]
    steps: tuple[str, ...]


@dataclass(frozen=True)
class Fixing:
    """Something to have at hand that is counted and not measured."""

    name: str
    count: int
    note: str = ""


@dataclass(frozen=True)
class Shop:
    """What goes to the shop; inches, lengths in whole steps of the tape."""

    scheme: Scheme
    saw: Saw
    pieces: tuple[Piece, ...]
    set_out: tuple[SetOut, ...]
    orders: tuple[RoomOrder, ...]
    take_off: tuple[TakeOff, ...]
    packings: tuple[Packing, ...]
    refused: tuple[Refusal, ...] = ()
    short: tuple[str, ...] = ()  # why some pieces cannot be cut from what the yard has
    taken: tuple[str, ...] = ()  # what was taken for granted of the yard
    fixings: tuple[Fixing, ...] = ()
    untaped: tuple[str, ...] = ()  # what rests on photos alone and is to be taped before anything is cut

    @property
    def amiss(self) -> tuple[str, ...]:
        """What could not be told, a sentence each."""
        return (*(refusal.sentence for refusal in self.refused), *self.short)


def shop_of(
    plan: Plan, yard: Yard | None = None, rooms: Sequence[Sequence[str]] = (), seconds: float = SECONDS
) -> Shop:
    """Gather what the shop needs.

    Parameters
    ----------
    plan
        Of one room or of several.
    yard
        What the yard has and how the shop saws; None is what is usual.
    rooms
        Names of the walls of each room, in room order; none given, all walls stand in one.
    seconds
        For each packing, about when to stop and tell the gap.

    Returns
    -------
    Shop
        A wall that cannot be cut leaves the others whole, and a material that the yard has not leaves the others too;
        both are told in it.
    """
    yard, scheme = yard or Yard(), plan.scheme
    wanted = rooms or [[wall.name for wall in plan.walls]]
    cuts = [_Room.of([plan.wall(name) for name in names], scheme, yard) for names in wanted if names]
    pieces = tuple(piece for room in cuts for piece in room.pieces)
    stocks, taken = yard.stock_for(pieces, scheme.unit)
    packings, short = _bought(pieces, stocks, yard, scheme.unit, seconds)
    return Shop(
        scheme,
        yard.saw,
        pieces,
        tuple(_set_out(wall.name, frame, scheme.step) for room in cuts for wall in room.walls for frame in wall.frames),
        tuple(room.order(scheme) for room in cuts if room.walls),
        take_off(pieces, yard.waste),
        packings,
        tuple(refusal for room in cuts for refusal in room.refused),
        short,
        taken,
        tuple(_fixings(pieces)),
        tuple(sentence for room in cuts for wall in room.walls for sentence in _untaped(wall, scheme)),
    )


def joined(plan: Plan, yard: Yard | None = None, rooms: Sequence[Sequence[str]] = ()) -> Plan:
    """The plan with its joints, which are those of the cut list; parameters as for `shop_of`.

    A wall that cannot be cut from what the yard has says so in its notes.
    """
    yard, scheme = yard or Yard(), plan.scheme
    known: dict[str, WallPlan] = {}
    for names in rooms or [[wall.name for wall in plan.walls]]:
        room = _Room.of([plan.wall(name) for name in names], scheme, yard)
        for wall in room.walls:
            joints = (joint for frame in wall.frames for joint in rail_joints(frame, scheme, room.longest))
            known[wall.name] = replace(wall, joints=tuple(joints))
        for refusal in room.refused:
            wall = plan.wall(refusal.wall)
            why = () if wall.refused else (f"cannot be cut as planned: {refusal.sentence}",)
            known[wall.name] = replace(wall, notes=(*wall.notes, *why))
    return replace(plan, walls=tuple(known.get(wall.name, wall) for wall in plan.walls))


@dataclass(frozen=True)
class _Room:
    """The walls of a room that can be cut, and their pieces."""

    walls: tuple[WallPlan, ...]
    pieces: tuple[Piece, ...]
    refused: tuple[Refusal, ...]
    longest: Longest  # what its members can be cut from in one length

    @classmethod
    def of(cls, walls: Sequence[WallPlan], scheme: Scheme, yard: Yard) -> "_Room":
        refused = [Refusal(wall.name, wall.refused) for wall in walls if wall.refused]
        sound = [wall for wall in walls if not wall.refused]

        for wall in list(sound):
            try:
                _pieces([wall], scheme, yard, _longest([wall], scheme, yard))
            except PlainError as error:
                refused.append(Refusal(wall.name, error.told(scheme.unit)))
                sound.remove(wall)
        longest = _longest(sound, scheme, yard)
        return cls(tuple(sound), _pieces(sound, scheme, yard, longest), tuple(refused), longest)

    def order(self, scheme: Scheme) -> RoomOrder:
        frames = _frames(self.walls)
        steps = order_of_work(frames, self.pieces, scheme) if frames else ()
        wired = any(TRAITS[feature.kind].wired for wall in self.walls for feature in wall.survey.features)
        if steps:
            steps = (*((BOXES_FIRST,) if wired else ()), *_fitted_round(self.walls), *steps)
        return RoomOrder(tuple(wall.name for wall in self.walls), steps)


def _fitted_round(walls: Sequence[WallPlan]) -> Iterator[str]:
    """What is decided to stay where a member or moulding comes: the shop leaves it whole, the crew fits it."""
    told = [
        f"{spoken(one.against)} round {one.feature} on {wall.name}"
        for wall in walls
        for one in wall.conflicts
        if one.feature in wall.stays and one.likeliest.conflict
    ]
    if told:
        yield f"Fit round what stays, by tape from the thing itself: {'; '.join(told)}."


def _frames(walls: Sequence[WallPlan]) -> list[Frame]:
    return [frame for wall in walls for frame in wall.frames]


def _pieces(walls: Sequence[WallPlan], scheme: Scheme, yard: Yard, longest: Longest) -> tuple[Piece, ...]:
    """The pieces of some walls, joined where the longest board that fits does not reach; as the saw is set."""
    pieces = pieces_of(_frames(walls), scheme, longest=longest, sheet_grain=yard.sheet_grain)
    return tuple(piece.sawn(scheme.step) for piece in pieces)


def _longest(walls: Sequence[WallPlan], scheme: Scheme, yard: Yard) -> dict[Role, Fraction]:
    """What the longest board gives for members of each role; what no board is wide enough for has no limit here.

    Level members of a role are alike on all walls. Stiles are not, and none is joined: the longest for any counts.
    """
    whole = [p for p in pieces_of(_frames(walls), scheme, sheet_grain=yard.sheet_grain) if p.role in (*LEVEL, *STILES)]
    stocks, _ = yard.stock_for(whole)
    found: dict[Role, Fraction] = {}
    for piece in whole:
        reach = max((yard.saw.usable(stock)[0] for stock in _sources(piece, stocks)), default=Fraction(0))
        if reach > 0:
            role = Role(piece.role.value)
            found[role] = max(reach, found.get(role, reach))
    return {role: min(reach, scheme.stock_length or reach) for role, reach in found.items()}


def _sources(piece: Piece, stocks: Sequence[Stock]) -> list[Stock]:
    alike = [s for s in stocks if (s.material, s.thickness) == (piece.material, piece.thickness)]
    as_wide = [stock for stock in alike if stock.width == piece.sawn_width]
    return as_wide or [stock for stock in alike if stock.width > piece.sawn_width]


def _bought(
    pieces: Sequence[Piece], stocks: Sequence[Stock], yard: Yard, unit: Unit, seconds: float
) -> tuple[tuple[Packing, ...], tuple[str, ...]]:
    """The boards of every material and thickness, and a sentence for each that cannot be had."""
    packings: list[Packing] = []
    short: list[str] = []
    for material, thickness in dict.fromkeys((piece.material, piece.thickness) for piece in pieces):
        group = [_ripped(p, stocks, unit) for p in pieces if (p.material, p.thickness) == (material, thickness)]
        try:
            packings += buy(group, stocks, yard.saw, yard.least, seconds)
        except PlainError as error:
            short.append(error.told(unit))
    packings.sort(key=lambda packing: list(Material).index(packing.material))
    return tuple(packings), tuple(dict.fromkeys(short))


def _ripped(piece: Piece, stocks: Sequence[Stock], unit: Unit) -> Piece:
    """In millimetres a width that no board has goes up to the next half of one, so that all sizes share a step."""
    if unit is Unit.INCH or piece.material is Material.SHEET or any(s.width == piece.sawn_width for s in stocks):
        return piece
    half = Fraction(5, 254)
    return replace(piece, width=ceil(piece.width / half) * half)


def _set_out(wall: str, frame: Frame, step: Fraction) -> SetOut:
    return SetOut(wall, frame.run.left, running_dimensions(frame, step), tuple(_heights(frame, step)))


def _heights(frame: Frame, step: Fraction) -> Iterator[HeightMark]:
    """Both edges of everything level, from the floor up; what stands on what shares a line."""
    at: dict[Fraction, list[str]] = {}
    for member in sorted(frame.members, key=lambda member: member.rect.bottom):
        if member.role in _STRIPES:
            name = member.name.removesuffix(frame.run.part).strip()
            at.setdefault(member.rect.bottom, []).append(f"under {name}")
            at.setdefault(member.rect.top, []).append(f"top of {name}")
    for height, names in sorted(at.items()):
        if height > 0:
            yield HeightMark(", ".join(dict.fromkeys(names)), height, nearest(height, step))


def _fixings(pieces: Sequence[Piece]) -> Iterator[Fixing]:
    """Joints of the frame and mitres of the moulding; two screws a joint is common practice, no source."""
    count = {role: sum(piece.count for piece in pieces if piece.role is role) for role in PieceRole}
    rails = sum(count[role] for role in (PieceRole.TOP_RAIL, PieceRole.MIDDLE_RAIL, PieceRole.BOTTOM_RAIL))
    joints = 2 * (rails + count[PieceRole.STILE])
    if joints:
        yield Fixing("joints of rails and stiles", joints, "glued and screwed, or as the shop joins frames")
        yield Fixing("pocket screws", 2 * joints, "two a joint, common practice; length by the thickness of the frame")
    if count[PieceRole.MOULDING]:
        yield Fixing("mitred corners of moulding", count[PieceRole.MOULDING], "glued and pinned")
    if count[PieceRole.STRIP]:
        yield Fixing("corner strips", count[PieceRole.STRIP], "glued on both edges, taped till dry")


def _untaped(wall: WallPlan, scheme: Scheme) -> Iterator[str]:
    """The ends of runs that nobody taped; where one run ends as the next begins, that place once."""
    ends: dict[Fraction, list[str]] = {}
    for run in wall.runs:
        for side, at in (("left", run.left), ("right", run.right)):
            ends.setdefault(at, []).append(f"the {side} end of {run.name}")
    for at, names in ends.items():
        if (by := _seen_only(wall, at)) is not None:
            where = f"{scheme.show(at)} from the wall's left end, {scheme.show_spread(by.spread)} by photo"
            yield f"{' and '.join(names)}, {where}"


def _seen_only(wall: WallPlan, at: Fraction) -> Measured | None:
    """What the end of a run rests on, where that was never taped; None where it was, or is the wall's left end."""
    survey = wall.survey
    ends = [feature.left for feature in survey.features] + [feature.right for feature in survey.features]
    near = [m for m in (*ends, survey.width) if m is not None and abs(m.value - float(at)) < NEAR]
    if abs(at) < NEAR or not near:
        return None
    # A wall end seen in photos and the taped width are one place: either tells that it was taped.
    nearest = min(near, key=lambda m: (round(abs(m.value - float(at)), 6), m.source in SEEN))
    return nearest if nearest.source in SEEN else None
