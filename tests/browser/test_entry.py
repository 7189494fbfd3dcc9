"""Entry of readings in a real browser: typing, pasting, tapping, looks."""

import time

import pytest
from entry_help import CONTRAST, LAPTOP, PHONE, box, cell, eventually, focused, saved, snake, tap
from evenfall.entry.drafts.drafts import Change

pytestmark = pytest.mark.browser


# -- laptop ---------------------------------------------------------------


def test_sixty_values_at_full_speed_are_all_right(opened, drafts):
    page = opened(rows=6, columns=10)
    wanted = {can: f"{20 + 0.5 * i:.1f}".replace(".", ".,"[i % 2]) for i, can in enumerate(snake(6, 10))}
    cell(page, "r1c1").click()
    started = time.monotonic()
    for text in wanted.values():
        page.keyboard.type(text)
        page.keyboard.press("Enter")
    print(f"60 values typed in {time.monotonic() - started:.2f} s")
    eventually(lambda: drafts.values(page.draft), wanted)
    saved(page)
    print(f"and on disk, acknowledged after {time.monotonic() - started:.2f} s")
    assert page.locator(".progress").inner_text() == "60 of 60"
    assert "every can has a reading" in page.locator(".table .end").inner_text()


def test_a_value_is_on_disk_at_once_and_an_unfinished_one_soon(opened, drafts):
    page = opened()
    cell(page, "r1c1").click()
    page.keyboard.type("31")
    pressed = time.monotonic()
    page.keyboard.press("Enter")
    eventually(lambda: drafts.values(page.draft), {"r1c1": "31"})
    print(f"{1000 * (time.monotonic() - pressed):.0f} ms from Enter to the disk")
    page.keyboard.type("28")
    eventually(lambda: drafts.values(page.draft), {"r1c1": "31", "r1c2": "28"})
    assert focused(page) == "r1c2"
    saved(page)
    page.keyboard.type("5")
    assert cell(page, "r1c2").input_value() == "285"
    cell(page, "r3c3").click()
    eventually(lambda: drafts.values(page.draft)["r1c2"], "285")


def test_enter_follows_the_walk_and_arrows_the_layout(opened):
    page = opened(rows=3, columns=4)
    cell(page, "r1c1").click()
    seen = []
    for _ in range(12):
        seen.append(focused(page))
        page.keyboard.press("Enter")
    assert seen == snake(3, 4)
    assert focused(page) is None
    page.keyboard.type("9")
    assert page.locator(".progress").inner_text() == "0 of 12"
    assert page.locator(".table .end").inner_text().endswith("Row 1, can 1; Row 1, can 2; Row 1, can 3 and 9 more.")
    cell(page, "r1c4").click()
    steps = (
        "Enter r2c4, Shift+Enter r1c4, ArrowDown r2c4, ArrowLeft r2c3, ArrowDown r3c3, ArrowDown r3c3, ArrowRight r3c4"
    )
    for key, can in [step.split() for step in f"{steps}, ArrowUp r2c4".split(", ")]:
        page.keyboard.press(key)
        assert focused(page) == can
    page.keyboard.type("123")
    page.keyboard.press("ArrowLeft")
    page.keyboard.type("x")
    assert focused(page) == "r2c4" and cell(page, "r2c4").input_value() == "12x3"


def test_a_pasted_block_fills_from_the_focused_cell(opened, drafts):
    page = opened(rows=3, columns=4)
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    cell(page, "r2c4").click()
    page.keyboard.type("77")
    page.evaluate("navigator.clipboard.writeText('31\\t28,5\\tX\\r\\n\\t12a\\t5\\r\\n')")
    cell(page, "r2c3").click()
    page.keyboard.press("Control+V")
    wanted = {"r2c3": "31", "r2c4": "28,5", "r3c4": "12a"}
    eventually(lambda: drafts.values(page.draft), wanted)
    assert {can: cell(page, can).input_value() for can in wanted} == wanted
    assert page.locator(".note").inner_text() == "2 pasted values did not fit and went nowhere."
    page.evaluate("navigator.clipboard.writeText('6\\n7\\n8')")
    cell(page, "r1c1").click()
    page.keyboard.press("Control+V")
    eventually(lambda: drafts.values(page.draft), {**wanted, "r1c1": "6", "r2c1": "7", "r3c1": "8"})


def test_a_text_that_is_no_number_is_kept_and_marked(opened, drafts):
    page = opened()
    cell(page, "r1c1").click()
    texts = ["12a", "-", "1,2,3", "<b>1</b>", "rc", "31", ".5", "12,", "x", "0"]
    for text in texts:
        page.keyboard.type(text)
        page.keyboard.press("Enter")
    cans = snake(6, 8)[: len(texts)]
    eventually(lambda: drafts.values(page.draft), dict(zip(cans, texts, strict=True)))
    bad = [can for can in cans if cell(page, can).get_attribute("aria-invalid") == "true"]
    assert bad == cans[:5]
    assert page.locator(".progress").inner_text() == "5 of 48, 5 not understood"
    looks = "e => { const s = getComputedStyle(e); return [s.borderStyle, s.backgroundImage.includes('gradient')]; }"
    assert cell(page, cans[0]).evaluate(looks) == ["dashed", True]
    assert cell(page, cans[5]).evaluate(looks) == ["solid", False]
    assert cell(page, cans[8]).get_attribute("class") == "none"
    assert cell(page, cans[8]).get_attribute("aria-label").endswith("no reading")
    cell(page, cans[0]).click()
    assert page.locator(".note").inner_text().startswith("'12a' is not a number; it is kept as typed.")
    assert page.locator('[role="dialog"]').count() == 0
    page.reload()
    page.wait_for_selector(".table")
    assert cell(page, "r1c4").input_value() == "<b>1</b>"


def test_rows_of_two_lengths_and_free_points(opened, drafts):
    page = opened(lay="staggered", rows=4, columns=5)
    lengths = page.locator(".table .row").evaluate_all("rows => rows.map(r => r.querySelectorAll('input').length)")
    assert lengths == [5, 4, 5, 4]
    left = [box(cell(page, can))["x"] for can in ("r1c1", "r2c1", "r1c2")]
    assert left[0] < left[1] < left[2]
    cell(page, "r1c5").click()
    page.keyboard.press("Enter")
    assert focused(page) == "r2c4"
    listed = opened(lay="points", rows=1, columns=5)
    cell(listed, "p1").click()
    for text in "12345":
        listed.keyboard.type(text)
        listed.keyboard.press("Enter")
    eventually(lambda: drafts.values(listed.draft), {f"p{i}": str(i) for i in range(1, 6)})


# -- phone ----------------------------------------------------------------


def test_twenty_values_by_taps(opened, drafts):
    page = opened(kind=PHONE, decimal=",", rows=4, columns=5)
    assert page.locator(".name").inner_text() == "Row 1, can 1"
    wanted = {}
    for i, can in enumerate(snake(4, 5)):
        if i in (3, 11):
            tap(page, "X")
            wanted[can] = "x"
        else:
            text = f"{20 + i},5" if i % 3 == 0 else str(i)
            tap(page, text.replace(",", ".") + "N")
            wanted[can] = text
    eventually(lambda: drafts.values(page.draft), wanted)
    saved(page)
    assert page.locator(".progress").inner_text() == "20 of 20"
    assert page.locator(".name").inner_text() == "End of the walk"
    assert page.locator(".plan i.none").count() == 2 and page.locator(".plan i.filled").count() == 18


def test_keypad_keys(opened, drafts):
    page = opened(kind=PHONE)
    shown, name = page.locator(".shown"), page.locator(".name")
    tap(page, "12..5")
    assert shown.inner_text() == "12.5"
    tap(page, "DD7NB")
    assert shown.inner_text() == "127" and name.inner_text() == "Row 1, can 1"
    tap(page, "9")
    assert shown.inner_text() == "9"
    tap(page, "N.5NXB")
    assert shown.inner_text() == "no reading" and name.inner_text() == "Row 1, can 3"
    tap(page, "0")
    assert shown.inner_text() == "0"
    eventually(lambda: drafts.values(page.draft), {"r1c1": "9", "r1c2": "0.5", "r1c3": "0"})
    lies = box(page.locator(".plan i").nth(12))
    page.touchscreen.tap(lies["x"] + lies["width"] / 2, lies["y"] + lies["height"] / 2)
    assert name.inner_text() == "Row 2, can 4"
    page.keyboard.type("7")
    page.keyboard.press("Enter")
    eventually(lambda: drafts.values(page.draft).get("r2c4"), "7")


def test_the_keypad_fits_a_phone(opened):
    page = opened(kind=PHONE)

    def fits():
        boxes = page.locator(".pad button").evaluate_all(
            "keys => keys.map(k => k.getBoundingClientRect()).map(b => [b.width, b.height])")
        following = box(page.locator('.pad [data-key="Next"]'))
        return (len(boxes), min(min(one) for one in boxes) >= 56, following["width"] > 300,
                following["y"] + 64 < 844, box(page.locator(".entry"))["height"] < 700,
                page.evaluate("document.documentElement.scrollWidth") <= 390)

    eventually(fits, (15, True, True, True, True, True))


def test_the_chosen_face_is_kept(opened, drafts):
    page = opened(kind=PHONE)
    tap(page, "12N")
    page.get_by_role("button", name="Table").tap()
    assert page.locator(".table input").count() == 48
    assert cell(page, "r1c1").input_value() == "12"
    page.reload()
    page.wait_for_selector(".table")
    page.get_by_role("button", name="Keypad").tap()
    page.wait_for_selector(".keypad")
    assert page.locator(".name").inner_text() == "Row 1, can 2"


# -- looks ----------------------------------------------------------------


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("kind", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_every_text_has_contrast(opened, drafts, scheme, kind):
    """4.5 to 1, WCAG 2.2 success criterion 1.4.3."""
    draft = drafts.start()
    drafts.put(draft, [Change("r1c1", "31", 1), Change("r1c2", "x", 2), Change("r1c3", "12a", 3)], "earlier")
    page = opened(draft=draft, kind={**kind, "color_scheme": scheme})
    texts = ".progress, .status, .faces button, .note, .name, .place, .shown, .unit, .key, .head, .way, .number, input"
    found = page.locator(texts).evaluate_all(CONTRAST)
    assert len(found) > 15
    assert [pair for pair in found if pair[1] < 4.5] == []
