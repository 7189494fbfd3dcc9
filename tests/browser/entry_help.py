"""What the browser tests of the entry share: waiting, tapping, and scripts for the page."""

import time
from pathlib import Path

PAGE = Path(__file__).with_name("entry_page.py")
PATIENCE = 120  # [s] that a test waits for what must come; beside other work a page takes many times its usual time
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
LAPTOP = {"viewport": {"width": 1280, "height": 800}}

# Counts what is left behind on the page: timers, observers and listeners of window and document.
COUNTING = """
(() => {
  const left = { intervals: new Set(), observers: new Set(), listeners: [] };
  const [set, clear] = [setInterval, clearInterval];
  window.setInterval = (...a) => { const id = set(...a); left.intervals.add(id); return id; };
  window.clearInterval = (id) => { left.intervals.delete(id); clear(id); };
  const { observe, disconnect } = MutationObserver.prototype;
  MutationObserver.prototype.observe = function (target, options) {
    if (target === document.body) left.observers.add(this);
    return observe.call(this, target, options);
  };
  MutationObserver.prototype.disconnect = function () { left.observers.delete(this); return disconnect.call(this); };
  const names = ['storage', 'online', 'pageshow', 'focus', 'visibilitychange', 'keydown', 'pointerdown'];
  for (const target of [window, document]) {
    const { addEventListener: add, removeEventListener: remove } = target;
    target.addEventListener = function (name, action, options) {
      if (names.includes(name)) left.listeners.push([target, name, action]);
      return add.call(target, name, action, options);
    };
    target.removeEventListener = function (name, action, options) {
      left.listeners = left.listeners.filter((one) => one[0] !== target || one[1] !== name || one[2] !== action);
      return remove.call(target, name, action, options);
    };
  }
  window.countLeft = () => [left.intervals.size, left.observers.size, left.listeners.length];
})();
"""

# Counts the dialogs that Streamlit opened, also those that are closed at once.
DIALOGS = """
window.dialogs = 0;
new MutationObserver((changes) => changes.forEach((change) => change.addedNodes.forEach((node) => {
  if (/Connection error/.test(node.textContent)) window.dialogs += 1;
}))).observe(document, { childList: true, subtree: true });
"""

# Contrast of each element's text with what is behind it, as WCAG 2.2 defines it.
CONTRAST = """(elements) => {
  const options = { willReadFrequently: true };
  const paint = document.createElement('canvas').getContext('2d', options);
  const rgb = (colour, under) => {
    for (const fill of [`rgb(${under})`, colour]) { paint.fillStyle = fill; paint.fillRect(0, 0, 1, 1); }
    return [...paint.getImageData(0, 0, 1, 1).data].slice(0, 3);
  };
  const linear = (v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
  const light = (c) => [0.2126, 0.7152, 0.0722].reduce((sum, share, i) => sum + share * linear(c[i] / 255), 0);
  return elements.map((element) => {
    const chain = [];
    for (let e = element; e; e = e.parentElement || (e.getRootNode().host ?? null)) chain.unshift(e);
    let under = [255, 255, 255];
    for (const e of chain) under = rgb(getComputedStyle(e).backgroundColor, under);
    const pair = [light(rgb(getComputedStyle(element).color, under)), light(under)].sort((a, b) => b - a);
    return [element.className || element.tagName, (pair[0] + 0.05) / (pair[1] + 0.05)];
  });
}"""


def eventually(get, wanted, timeout=PATIENCE):
    """Wait until `get()` is `wanted`; the last answer is in the failure."""
    end = time.monotonic() + timeout
    while (found := get()) != wanted and time.monotonic() < end:
        time.sleep(0.05)
    assert found == wanted, f"{found!r} instead of {wanted!r}"


def steady(get, still=0.4, timeout=PATIENCE):
    """What `get()` gives once it has stayed the same for a while: style, places and charts come one after another."""
    end = time.monotonic() + timeout
    found, since = get(), time.monotonic()
    while time.monotonic() - since < still and time.monotonic() < end:
        time.sleep(0.05)
        if (now := get()) != found:
            found, since = now, time.monotonic()
    return found


def box(found, timeout=PATIENCE):
    """Where something lies, once it has its place: while a page is made, what is there may have none yet."""
    end = time.monotonic() + timeout
    while (lies := found.bounding_box()) is None and time.monotonic() < end:
        time.sleep(0.05)
    assert lies is not None, f"{found} has no place on the page"
    return lies


def snake(rows, columns):
    """Keys in walking order."""
    return [f"r{i + 1}c{j + 1}" for i in range(rows) for j in (range(columns) if i % 2 == 0 else range(columns)[::-1])]


def cell(page, can):
    """A can's input in the table."""
    return page.locator(f'.table input[data-can="{can}"]')


def focused(page):
    """Key of the can that has the focus, or None."""
    return page.locator(".entry").evaluate("entry => entry.getRootNode().activeElement?.dataset.can ?? null")


def tap(page, keys):
    """Tap keys of the keypad: digits, '.', and N (Next), B (Back), D (Delete), X (No reading)."""
    names = {"N": "Next", "B": "Back", "D": "Delete", "X": "No reading", ".": "Decimal"}
    for key in keys:
        page.locator(f'.pad [data-key="{names.get(key, key)}"]').tap()


def saved(page, timeout=1000 * PATIENCE):
    """Wait until the entry says so."""
    page.wait_for_selector('.entry .status[data-state="saved"]', timeout=timeout)
