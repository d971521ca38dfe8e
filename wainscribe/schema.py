"""The published schema of each JSON answer (JSON Schema, draft 2020-12): what another program may count on.

Lengths of a plan are exact fractions of an inch in text; what was measured or estimated is a number. A key may be
added in a later version; none is taken away or changes its meaning within version 1 of the job file.
"""

from collections.abc import Callable
from typing import Any

from layout.ends import Stop
from layout.frames import Role
from layout.packing import Objective
from layout.pieces import CutKind, Grain, PieceRole
from layout.remedies import Way
from layout.scheme import Preference
from layout.stock import Material
from layout.verdicts import Verdict
from wainscribe.described import described
from wainscribe.job import Job

DRAFT = "https://json-schema.org/draft/2020-12/schema"
Schema = dict[str, Any]

TEXT: Schema = {"type": "string"}
NUMBER: Schema = {"type": "number"}
WHOLE: Schema = {"type": "integer", "minimum": 0}
YES_NO: Schema = {"type": "boolean"}
EXACT: Schema = {"type": "string", "pattern": "^-?[0-9]+(/[1-9][0-9]*)?$", "description": "inches or degrees, exact"}


def _record(**fields: Schema) -> Schema:
    """An object with just these keys."""
    return {"type": "object", "properties": fields, "required": list(fields), "additionalProperties": False}


def _listed(items: Schema) -> Schema:
    return {"type": "array", "items": items}


def _maybe(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "null"}]}


def _pair(items: Schema) -> Schema:
    return {"type": "array", "items": items, "minItems": 2, "maxItems": 2}


def _by_name(values: Schema) -> Schema:
    return {"type": "object", "additionalProperties": values}


def _one_of(kind: Any) -> Schema:
    return {"enum": [one.value for one in kind]}


TEXTS = _listed(TEXT)
_REMEDY = _record(
    kind=_one_of(Way), sentence=TEXT, window=_maybe(_pair(EXACT)), move=_maybe(EXACT), warnings=TEXTS,
    boxes_moved=WHOLE, conflicts_left=WHOLE, panels=_maybe({"type": "array"}), panel_width=_maybe(_listed(EXACT)),
    pieces={"type": "integer"}, shift=_maybe(_record(stile=TEXT, by=EXACT)),
)  # fmt: skip
_TURN = _record(angle=EXACT, strips=WHOLE, radius=EXACT, bevel=EXACT, strip_heel=EXACT, strip_face=EXACT)
_END = _record(
    stop=_one_of(Stop), stile_beyond_its_face=EXACT, hidden=EXACT, filler=EXACT, bevel=EXACT, relief=EXACT,
    scribe=EXACT, joint=_maybe(TEXT), turn=_maybe(_TURN),
)  # fmt: skip
_MEMBER = _record(name=TEXT, role=_one_of(Role), left=EXACT, right=EXACT, bottom=EXACT, top=EXACT)
_RUN = _record(
    name=TEXT, left=EXACT, right=EXACT, bottom=EXACT, top=EXACT, panels=WHOLE, panel_width=EXACT,
    nudges=_listed(EXACT), ends=_pair(_END), members=_listed(_MEMBER),
    stiles=_listed(_record(name=TEXT, left=EXACT, right=EXACT)), notes=TEXTS,
)  # fmt: skip
_VERDICT = _record(
    feature=TEXT, verdict=_one_of(Verdict), in_the_way=YES_NO, decided=YES_NO,
    against=_maybe(TEXT), clearance=_maybe(NUMBER), sd=_maybe(NUMBER),
    probability=_maybe(NUMBER), sentence=TEXT, tape_this=_maybe(TEXT), also=TEXTS, remedies=_listed(_REMEDY),
)  # fmt: skip
_CHOICE = _record(
    panels=_by_name(WHOLE),
    values=_by_name(TEXT),
    runner_up=_maybe({"$ref": "#/$defs/choice"}),
    lost_by=_maybe(_one_of(Preference)),
    instead=_maybe({"$ref": "#/$defs/choice"}),
    proven=YES_NO,
    gap=_maybe(_record(preference=_one_of(Preference), at_most=TEXT)),
)
_PLANNED_WALL = _record(
    name=TEXT, refused=TEXT, runs=_listed(_RUN), verdicts=_listed(_VERDICT), notes=TEXTS, assumed=TEXTS,
    joints=_listed(_record(member=TEXT, stile=TEXT, at=EXACT)),
)  # fmt: skip
PLAN = _record(walls=_listed(_PLANNED_WALL), choices=_listed({"$ref": "#/$defs/choice"})) | {
    "$defs": {"choice": _CHOICE}
}

_PIECE = _record(
    number=WHOLE, name=TEXT, role=_one_of(PieceRole), run=TEXT, count=WHOLE, places=TEXTS, length=EXACT,
    short_point=EXACT, width=EXACT, back_width=EXACT, thickness=EXACT,
    ends=_pair(_record(kind=_one_of(CutKind), angle=EXACT, long_side=TEXT, note=TEXT)), edges=_pair(EXACT),
    grain=_one_of(Grain), material=_one_of(Material), loose=YES_NO, notes=TEXTS, cautions=TEXTS,
)  # fmt: skip
_STILE = _record(name=TEXT, left=EXACT, right=EXACT, shown_left=EXACT, shown_right=EXACT)
_SET_OUT = _record(
    wall=TEXT,
    run=TEXT,
    starts=EXACT,
    stiles=_listed(_STILE),
    heights=_listed(_record(name=TEXT, at=EXACT, shown=EXACT)),
)
_CUT = _record(piece=WHOLE, place=TEXT, at=EXACT, length=EXACT, width=EXACT)
_BOARD = _record(
    stock=TEXT, thickness=EXACT, width=EXACT, length=EXACT, across=YES_NO,
    lanes=_listed(_record(at=EXACT, width=EXACT, left=EXACT, cuts=_listed(_CUT))),
)  # fmt: skip
CUTS = _record(
    unit={"enum": ["in", "mm"]},
    pieces=_listed(_PIECE),
    set_out=_listed(_SET_OUT),
    order_of_work=_listed(_record(walls=TEXTS, steps=TEXTS)),
    take_off=_listed(
        _record(
            material=_one_of(Material),
            thickness=EXACT,
            width=_maybe(EXACT),
            count=WHOLE,
            lineal_feet=NUMBER,
            square_feet=NUMBER,
            counted_as=_maybe(_pair(EXACT)),
            board_feet=NUMBER,
            waste=NUMBER,
        )
    ),
    hardware=_listed(_record(name=TEXT, count=WHOLE, note=TEXT)),
    packings=_listed(
        _record(
            material=_one_of(Material),
            least=_one_of(Objective),
            amount=NUMBER,
            at_least=NUMBER,
            proven=YES_NO,
            told=TEXT,
            boards=_listed(_BOARD),
            offcuts=_listed(_record(stock=TEXT, length=EXACT, width=EXACT)),
        )
    ),
    refused=_listed(_record(wall=TEXT, sentence=TEXT)),
    short=TEXTS,
    taken_for_granted=TEXTS,
    tape_first=TEXTS,
)

_ESTIMATE = _record(value=NUMBER, sd=NUMBER)
_MEASURED = _record(value=NUMBER, sd=NUMBER, source=TEXT)
_FINDING = _record(code=TEXT, place=TEXT, sentence=TEXT, remedy=TEXT, grade=TEXT)
_SIDES = {side: _MEASURED for side in ("left", "right", "bottom", "top", "stool", "apron")}
_FEATURE = {
    "type": "object", "properties": {"name": TEXT, "kind": TEXT, **_SIDES}, "required": ["name", "kind"],
    "additionalProperties": False,
}  # fmt: skip
_PHOTO = _record(
    name=TEXT, size=_pair(WHOLE), lens=_by_name(_ESTIMATE), stood_at=_listed(NUMBER), corner_sd_px=NUMBER,
    cards=_listed(WHOLE),
)  # fmt: skip
_SOLVED = _record(
    wall=TEXT, converged=YES_NO, stopped=TEXT, level=_maybe(TEXT), width=_maybe(_MEASURED), photos=_listed(_PHOTO),
    cards=_listed(_record(number=WHOLE, x=_ESTIMATE, y=_ESTIMATE, angle_degrees=_ESTIMATE)),
    printed_scale=_listed(_ESTIMATE), features=_listed(_FEATURE),
    observations=_listed(_record(what=TEXT, count=WHOLE, rms_over_sd=NUMBER, redundancy=NUMBER)),
    findings=_listed(_FINDING),
)  # fmt: skip
SOLVE = _record(walls=_listed(_SOLVED))
_STEP = _record(wall=TEXT, what=TEXT, settles=TEXTS, about=TEXT, before=NUMBER, after=NUMBER)
NEXT = _record(first=TEXT, also=TEXTS, steps=_listed(_STEP))
LOCATE = _record(
    points=_listed(_record(name=TEXT, x=NUMBER, y=NUMBER, sd_x=NUMBER, sd_y=NUMBER)),
    covariance=_listed(_listed(NUMBER)),
)

_OF: dict[str, tuple[str, Callable[[], Schema]]] = {
    "job": ("job.json", Job.model_json_schema),
    "solve": ("what “solve --json” answers", lambda: SOLVE),
    "next": ("what “next --json” answers", lambda: NEXT),
    "locate": ("what “locate --json” answers", lambda: LOCATE),
    "plan": ("plan.json, and what “plan --json” answers", lambda: PLAN),
    "cuts": ("cuts.json, and what “cuts --json” answers", lambda: CUTS),
}
NAMES = tuple(_OF)


def schema_of(name: str) -> Schema:
    """The schema of one of `NAMES`."""
    title, made = _OF[name]
    return {"$schema": DRAFT, **({"title": title} if name != "job" else {}), **described(name, made())}
