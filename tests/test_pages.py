"""Drawings in a real browser: Debian's Chromium draws them at the size that they state."""

import shutil

import pytest
from playwright.sync_api import sync_playwright

from layout.plan import plan_walls
from layout.scheme import Scheme
from report.sheets import existing_sheet, planned_sheet
from report.svg import to_svg
from tests.test_layout_room import box, demo_room, taped, wall

CSS_INCH = 96.0  # px: CSS Values and Units Level 4, section 6.2

UPRIGHTS = """
paths => paths.flatMap(path => path.getAttribute("d").split(/(?=M)/).map(part => {
    const line = path.cloneNode();
    line.setAttribute("d", part);
    path.after(line);
    const box = line.getBoundingClientRect();
    line.remove();
    return box;
  }))
  .filter(b => b.width < 1 && b.height > 100).map(b => b.x + b.width / 2)
"""


@pytest.fixture(scope="module")
def page():
    executable = shutil.which("chromium")
    assert executable, "Chromium is missing: make test installs it"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=executable,
            args=["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"],
        )
        yield browser.new_page(viewport={"width": 1440, "height": 900})
        browser.close()


@pytest.mark.parametrize("draw", ["existing", "planned"])
def test_a_drawing_is_to_scale_in_a_browser(page, draw):
    survey = wall(box("receptacle 1", 40, 14), width=taped(120))
    sheet = existing_sheet(survey) if draw == "existing" else planned_sheet(plan_walls([survey], Scheme()).walls[0])
    page.set_content(f'<!DOCTYPE html><body style="margin: 0">{to_svg(sheet)}</body>')
    uprights = page.eval_on_selector_all("path", UPRIGHTS)
    # The wall's two ends are the outermost long upright lines; 120 in at the sheet's scale.
    assert max(uprights) - min(uprights) == pytest.approx(120 * sheet.scale.factor * CSS_INCH, abs=0.5)


def test_a_drawing_has_a_name_that_a_screen_reader_tells(page):
    page.set_content(f"<!DOCTYPE html>{to_svg(existing_sheet(demo_room()[0]))}")
    assert page.get_by_role("img", name="long wall").count() == 1
