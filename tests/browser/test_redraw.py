"""From Enter to the redrawn map, in a real browser."""

import numpy as np
import pytest
from conftest import ROOT, idle
from entry_help import LAPTOP, PATIENCE, PHONE, cell, tap
from evenfall.entry.drafts.drafts import Drafts
from evenfall.record.samples import sample_text
from test_main_path import ANDROID, started

from tests.machine import slowness

pytestmark = [pytest.mark.browser, pytest.mark.benchmark]

# Notes when the picture of the map has changed.
WATCH = """() => {
  window.drawn = [];
  let last = null;
  const look = () => {
    const image = document.querySelector('.js-plotly-plot .heatmaplayer image');
    const now = image && (image.getAttribute('href') || image.getAttribute('xlink:href'));
    if (now && now !== last) { last = now; window.drawn.push(performance.now()); }
    requestAnimationFrame(look);
  };
  look();
}"""


@pytest.mark.parametrize("kind", ["laptop", "phone"])
def test_enter_to_redrawn_map(browser, serve, kind):
    server = serve(ROOT / "streamlit_app.py")
    draft = started(Drafts(server.data), sample_text("starved-far-end"))
    device = LAPTOP if kind == "laptop" else {**PHONE, "user_agent": ANDROID}
    context = browser.new_context(bypass_csp=True, **device)  # waiting evaluates a text, which the policy forbids
    context.set_default_timeout(1000 * PATIENCE)
    page = context.new_page()
    page.goto(f"{server.url}/readings?draft={draft}")
    idle(page)
    page.wait_for_selector(".js-plotly-plot .heatmaplayer")
    page.wait_for_timeout(2000)
    page.evaluate(WATCH)
    page.wait_for_timeout(300)
    if kind == "laptop":
        cell(page, "r1c1").click()
    waits = []
    for number in range(24):
        if kind == "laptop":
            page.keyboard.press("Control+a")
            page.keyboard.type(str(40 + number * 3))
        else:
            tap(page, f"{4 + number % 5}{number % 9}")
        page.evaluate("window.drawn = []")
        begin = page.evaluate("performance.now()")
        if kind == "laptop":
            page.keyboard.press("Enter")
        else:
            tap(page, "N")
        page.wait_for_function("window.drawn.length > 0", polling=10)
        waits.append(page.evaluate("window.drawn.at(-1)") - begin)
        page.wait_for_timeout(250)
    slow = slowness()
    context.close()
    server.stop()
    median, high = np.percentile(waits, 50), np.percentile(waits, 95)
    print(f"\n{kind}: Enter to redrawn map, median {median:.0f} ms, ninety-fifth percentile {high:.0f} ms "
          f"(machine {slow:.1f} times slower than the two cores the limits are for)")
    assert median <= 500 * slow and high <= 1000 * slow
