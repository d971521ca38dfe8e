"""DXF read back by ezdxf: no audit error, and every place as the plan has it."""

from dataclasses import replace
from io import StringIO

import ezdxf
import pytest

from capture.lengths import Unit
from capture.record import EndKind
from capture.survey import WallSurvey
from layout.frames import Role
from layout.plan import WallPlan
from layout.scheme import Pin
from report.dxf import LAYERS, existing_dxf, planned_dxf
from tests.test_layout_shop import own_room
from tests.test_report_wall import SCHEME, made_up_plan, made_up_survey

HOSTILE = '<b>&"^M^J %%u \\U+0041 \u202e\u0645\u0631\u062d\u0628\u0627\u202c \U0001f600 \x07' + "w" * 500
NEAR = 1e-9  # drawing units: a Fraction as a double, written with 16 digits


def read(text: str):
    document = ezdxf.read(StringIO(text))
    auditor = document.audit()
    assert (auditor.errors, auditor.fixes) == ([], [])
    return document


def boxes(document, layer: str) -> list[tuple[float, ...]]:
    found = []
    for line in document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]'):
        points = [tuple(point) for point in line.get_points("xy")]
        assert line.closed
        assert len(points) == 4
        found.append((*map(min, zip(*points, strict=True)), *map(max, zip(*points, strict=True))))
    return sorted(found)


@pytest.mark.parametrize(("unit", "code", "factor"), [(Unit.INCH, 1, 1.0), (Unit.MM, 4, 25.4)])
def test_members_stand_where_the_plan_has_them(unit, code, factor):
    # $INSUNITS: 1 inches, 4 millimetres (Autodesk DXF reference, header section); 25.4 mm to the inch by definition.
    plan = made_up_plan()
    document = read(planned_dxf(plan, unit))
    assert document.header["$INSUNITS"] == code
    assert document.dxfversion == "AC1024"  # R2010
    stiles = [m.rect for f in plan.frames for m in f.members if m.role in (Role.STILE, Role.END_STILE)]
    wanted = sorted(tuple(float(v) * factor for v in (r.left, r.bottom, r.right, r.top)) for r in stiles)
    assert boxes(document, "stile") == [pytest.approx(box, abs=NEAR * factor) for box in wanted]
    panels = sorted(
        tuple(float(v) * factor for v in (p.opening.left, p.opening.bottom, p.opening.right, p.opening.top))
        for f in plan.frames for p in f.panels
    )  # fmt: skip
    assert boxes(document, "panel") == [pytest.approx(box, abs=NEAR * factor) for box in panels]


def test_layers_are_named_as_the_trade_speaks_and_nothing_lies_elsewhere():
    document = read(planned_dxf(made_up_plan()))
    used = {entity.dxf.layer for entity in document.modelspace()}
    assert used <= set(LAYERS)
    assert used >= {"wall", "stile", "rail", "panel", "moulding", "plate", "register", "window", "dimension", "words"}


def test_running_dimensions_measure_the_stile_edges():
    plan = made_up_plan()
    document = read(planned_dxf(plan))
    edges = {float(e) for f in plan.frames for s in f.stiles for e in (s.rect.left, s.rect.right)}
    across = {round(d.dxf.defpoint2.x, 9) for d in document.modelspace().query("DIMENSION") if d.dxf.dimtype & 64}
    assert {round(edge, 9) for edge in edges} <= across


def test_what_stands_there_is_drawn_where_it_was_measured():
    survey = made_up_survey()
    document = read(existing_dxf(survey))
    plates = [f for f in survey.features if f.kind.value in ("receptacle", "switch")]
    wanted = sorted((f.left.value, f.bottom.value, f.right.value, f.top.value) for f in plates)
    assert boxes(document, "plate") == [pytest.approx(box, abs=NEAR) for box in wanted]


@pytest.mark.parametrize(("unit", "factor"), [(Unit.INCH, 1.0), (Unit.MM, 25.4)])
def test_a_box_that_is_decided_to_move_is_drawn_where_it_goes_and_dashed_where_it_stands(unit, factor):
    plan = made_up_plan(scheme=SCHEME.model_copy(update={"pins": {"receptacle 2": Pin.MOVE}}))
    document, box = read(planned_dxf(plan, unit)), plan.survey.feature("receptacle 2")
    at, half = float(plan.wanted["receptacle 2"]), (box.right.value - box.left.value) / 2
    assert abs(at - box.across.value) > 1
    now = [edge.value * factor for edge in (box.left, box.bottom, box.right, box.top)]
    there = [(at - half) * factor, now[1], (at + half) * factor, now[3]]
    assert boxes(document, "moved from") == [pytest.approx(now, abs=NEAR * factor)]
    assert document.layers.get("moved from").dxf.linetype == "DASHED"
    assert pytest.approx(there, abs=NEAR * factor) in [list(found) for found in boxes(document, "plate")]
    assert pytest.approx(now, abs=NEAR * factor) not in [list(found) for found in boxes(document, "plate")]
    assert any("NEW" in text.dxf.text for text in document.modelspace().query("TEXT"))
    assert (
        boxes(read(planned_dxf(made_up_plan())), "moved from")
        == boxes(read(existing_dxf(plan.survey)), "moved from")
        == []
    )


def test_two_tiers_a_ledge_a_base_and_a_filler_each_have_their_layer():
    document = read(planned_dxf(own_room().walls[0]))
    assert all(boxes(document, layer) for layer in ("base", "cap", "filler", "rail", "stile", "moulding"))


@pytest.mark.parametrize("draw", [existing_dxf, lambda survey: planned_dxf(made_up_plan(survey))])
def test_any_name_gives_a_sound_file(draw):
    text = draw(made_up_survey(HOSTILE))
    words = [entity.dxf.text for entity in read(text).modelspace().query("TEXT")]
    assert any(word.startswith('<b>&"') for word in words)
    assert all(len(word) <= 200 and "^" not in word and "%%" not in word for word in words)


def test_a_wall_with_nothing_on_it_and_nothing_planned():
    bare = WallSurvey("bare", EndKind.OPEN, EndKind.OPEN, None, ())
    read(existing_dxf(bare))
    read(planned_dxf(replace(made_up_plan(), survey=bare, frames=(), runs=())))
    assert isinstance(made_up_plan(), WallPlan)
