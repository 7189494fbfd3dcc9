// Streamlit opens a 'Connection error' dialog some seconds after the connection
// drops; it takes the focus and would swallow what is being typed. The guard
// closes it, gives the focus back, and passes on keys and taps that fell on it.

const GRACE_MS = 1500;

function connectionDialog() {
  for (const dialog of document.querySelectorAll('[role="dialog"]')) {
    if (/Connection error/.test(dialog.textContent)) return dialog;
  }
  return null;
}

class Guard {
  constructor(desk) {
    this.desk = desk;
    this.until = 0;
    this.timers = new Set();
    this.onKey = (event) => this.passKey(event);
    this.onPointer = (event) => this.passPointer(event);
    this.observer = new MutationObserver(() => this.look());
    this.observer.observe(document.body, {
      childList: true, subtree: true, attributes: true,
      attributeFilter: ["data-test-connection-state"],
    });
    window.addEventListener("keydown", this.onKey, true);
    window.addEventListener("pointerdown", this.onPointer, true);
  }

  close() {
    this.observer.disconnect();
    window.removeEventListener("keydown", this.onKey, true);
    window.removeEventListener("pointerdown", this.onPointer, true);
    this.timers.forEach(clearTimeout);
    this.timers.clear();
  }

  later(ms, action) {
    const timer = setTimeout(() => {
      this.timers.delete(timer);
      action();
    }, ms);
    this.timers.add(timer);
  }

  stands() {
    return connectionDialog() !== null || Date.now() < this.until;
  }

  look() {
    this.desk.connection(isConnected());
    const dialog = connectionDialog();
    if (!dialog || !this.desk.element.isConnected) return;
    this.until = Date.now() + GRACE_MS;
    const button = dialog.querySelector('button[aria-label="Close"], button');
    if (button) button.click();
    for (const ms of [60, 400]) this.later(ms, () => this.desk.takeFocusBack());
  }

  passKey(event) {
    if (!this.desk.working || !this.stands() || this.desk.hasFocus()) return;
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (!this.desk.face.passedKey(event.key)) return;
    event.preventDefault();
    event.stopPropagation();
  }

  passPointer(event) {
    if (!event.composedPath().includes(this.desk.element)) this.desk.pressedOutside();
    if (!connectionDialog() || !this.desk.face.passedPoint) return;
    if (!this.desk.face.passedPoint(event.clientX, event.clientY)) return;
    event.preventDefault();
    event.stopPropagation();
  }
}
