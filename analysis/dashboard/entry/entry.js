// The desk: what both faces share. It keeps the texts, writes the journal,
// sends what is not acknowledged, and takes in what Python says.

const SEND_AFTER_MS = 600;
const WHOLE_RUN_AFTER_MS = 900;
const SPOKEN_AFTER_MS = 1500;
const ANSWER_MS = 400;
const APART_MS = 500;
const SMALL = "(pointer: coarse), (max-width: 640px)";
const STATES = {
  offline: { kept: "no connection - keep typing, it is kept on this device", writing: "no connection - keep typing",
    refused: "no connection - keep typing, it is kept as long as this page stays open" },
  waiting: { kept: "on this device, not yet sent", writing: "not yet sent", refused: "not yet sent - keep this page open" },
  saved: { kept: "saved", writing: "saved", refused: "saved" },
};
const NOT_KEPT = "This browser keeps no readings (storage blocked or full): leave this page open until it says 'saved'.";
const READABLE = /^\s*(\d+[.,]?\d*|[.,]\d+|x)?\s*$/;

function make(tag, className, text) {
  const element = document.createElement(tag);
  if (className) element.className = className;
  if (text) element.textContent = text;
  return element;
}

function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

function kindOf(text) {
  if (text.trim() === "") return "empty";
  if (text.trim() === "x") return "none";
  return READABLE.test(text) ? "filled" : "bad";
}

// How a walk stands, in words: 'every can has a reading' only where that is so.
function stateOf(texts) {
  const count = (kind) => texts.filter((text) => kindOf(text) === kind).length;
  const some = (number, one, more) => (number ? [`${number} ${number === 1 ? one : more}`] : []);
  const parts = [...some(count("empty"), "can is still empty", "cans are still empty"),
    ...some(count("bad"), "is not understood", "are not understood"),
    ...some(count("none"), "has no reading", "have no reading")];
  return parts.length ? parts.join(", ") : "every can has a reading";
}

function notUnderstood(text) {
  return `'${text.trim().slice(0, 30)}' is not a number; it is kept as typed. Correct it, or type x for no reading.`;
}

class Desk {
  constructor(root, data) {
    this.root = root;
    this.shelf = new Shelf();
    this.journal = new Journal(this.shelf, data.draft, () => this.found(), () => this.tellState());
    this.draft = data.draft;
    this.editing = { can: null, seen: 0, text: null };
    this.cans = [];
    this.byKey = new Map();
    this.values = {};
    this.odd = {};
    this.revision = 0;
    this.tries = 0;
    this.sent = 0;
    this.sentAt = 0;
    this.due = false;
    this.outside = 0;
    this.online = isConnected();
    this.working = false;
    this.spoken = "";
    this.element = make("div", "entry");
    this.makeBar();
    root.append(this.element);
    this.listen();
  }

  makeBar() {
    this.progress = make("span", "progress");
    this.status = make("span", "status");
    this.status.setAttribute("aria-hidden", "true");
    this.aloud = make("span", "aloud");
    this.aloud.setAttribute("role", "status");
    const faces = make("div", "faces");
    faces.setAttribute("role", "group");
    faces.setAttribute("aria-label", "Way of entering");
    this.switches = ["Keypad", "Table"].map((name) => {
      const button = make("button", "", name);
      button.type = "button";
      button.addEventListener("click", () => this.choose(name.toLowerCase()));
      faces.append(button);
      return button;
    });
    const bar = make("div", "bar");
    const words = make("div", "words");
    words.append(this.progress, this.status);
    bar.append(words, faces);
    this.limits = make("p", "limits");
    this.note = make("p", "note");
    this.element.append(bar, this.limits, this.note, this.aloud);
  }

  // -- start and end ----------------------------------------------------

  listen() {
    this.small = window.matchMedia(SMALL);
    this.undo = [];
    const on = (target, name, action) => {
      target.addEventListener(name, action);
      this.undo.push(() => target.removeEventListener(name, action));
    };
    on(this.small, "change", () => this.show(this.wanted()));
    for (const name of ["online", "pageshow", "focus"]) on(window, name, () => this.send());
    on(document, "visibilitychange", () => this.send());
    on(window, "storage", (event) => {
      if (!event.key || !event.key.startsWith(this.journal.prefix)) return;
      if (event.newValue === null) this.journal.gone(event.key, event.oldValue);
      this.journal.reread();
      this.refresh();
    });
    on(window, "beforeunload", (event) => {
      if (this.journal.waiting && this.keeping() === "refused" && !this.shelf.lasting) event.preventDefault();
    });
    // Streamlit listens for single letters on the page.
    for (const name of ["keydown", "keypress", "keyup"]) {
      this.element.addEventListener(name, (event) => event.stopPropagation());
    }
    this.element.addEventListener("focusin", () => { this.working = true; });
    this.element.addEventListener("focusout", (event) => {
      if (!event.relatedTarget || this.root.contains(event.relatedTarget) || this.guard.stands()) return;
      this.working = false;
    });
    this.guard = new Guard(this);
    this.again = setInterval(() => this.tick(), AGAIN_AFTER_MS);
  }

  close() {
    this.closed = true;
    this.undo.forEach((action) => action());
    this.guard.close();
    this.journal.chest.close();
    if (this.face) this.face.close();
    clearInterval(this.again);
    clearTimeout(this.timer);
    clearTimeout(this.wholeRun);
    clearTimeout(this.speech);
    this.element.remove();
  }

  // -- faces ------------------------------------------------------------

  wanted() {
    const chosen = this.shelf.get(NAME + "face");
    return chosen === "keypad" || chosen === "table" ? chosen : this.small.matches ? "keypad" : "table";
  }

  choose(name) {
    this.shelf.set(NAME + "face", name);
    this.show(name);
    this.face.focus();
  }

  show(name, anew = false) {
    if (this.face && this.shown === name && !anew) return;
    const [here, focused] = [this.editing.can, this.hasFocus()];
    if (this.face) {
      this.leave();
      this.face.close();
      this.face.element.remove();
    }
    this.shown = name;
    this.face = name === "keypad" ? new Keypad(this) : new Table(this);
    if (here && this.can(here) && name === "keypad") this.face.goTo(here);
    this.element.insertBefore(this.face.element, this.note);
    this.switches.forEach((button) => button.setAttribute("aria-pressed", String(button.textContent.toLowerCase() === name)));
    this.refresh();
    if (anew && focused) {
      if (name === "table") this.face.field = this.face.inputs.get(here) || null;
      this.face.focus();
    }
  }

  hint(text) {
    const odd = Object.values(this.odd);
    say(this.note, text || (odd.length ? odd[odd.length - 1] : ""));
  }

  // Why a can should be read again; '' where it should not.
  doubt(can) {
    return Object.hasOwn(this.odd, can) ? this.odd[can] : "";
  }

  hasFocus() {
    return this.root.activeElement !== null && this.element.contains(this.root.activeElement);
  }

  takeFocusBack() {
    if (!this.closed && this.working && !this.hasFocus()) this.face.focus();
  }

  // -- texts ------------------------------------------------------------

  can(key) {
    return this.byKey.get(key);
  }

  text(can) {
    const entry = this.journal.get(can);
    if (entry) return entry.text;
    if (this.isTyping(can)) return this.editing.text;
    return Object.hasOwn(this.values, can) ? this.values[can] : "";
  }

  isTyping(can) {
    return this.editing.can === can && this.editing.text !== null;
  }

  begin(can) {
    if (this.editing.can !== can) this.editing = { can, seen: this.revision, text: null };
  }

  type(can, text) {
    const own = this.editing.can === can;
    if (own) this.editing.text = text;
    const waiting = this.journal.get(can);
    const seen = waiting ? waiting.seen : own ? this.editing.seen : this.revision;
    this.journal.put(can, text, seen);
    if (!this.timer) this.timer = setTimeout(() => this.send(), SEND_AFTER_MS);
    this.tell();
  }

  commit() {
    this.send(true);
  }

  leave() {
    this.editing = { can: null, seen: this.revision, text: null };
    this.send(true);
  }

  // Streamlit puts updates of one moment into one run, of our fragment alone, and a button of the page
  // that is clicked in that moment goes unheard. So what is unsent goes when the finger or mouse comes
  // down, well before the click, and nothing is sent again until the click is through.
  pressedOutside() {
    this.outside = Date.now();
    this.sentAt = 0;
    this.send(true);
  }

  // What a browser that died left behind comes out of the chest a moment after the page is there.
  found() {
    if (this.closed) return;
    if (this.face && this.face.seat) this.face.seat();
    this.refresh();
    this.send();
  }

  // -- sending ----------------------------------------------------------

  // All that is not acknowledged, oldest first. `once`: only if there is something newer than what was
  // sent, and after the answer to what is on its way, so that fast typing does not pile up runs.
  send(once = false) {
    clearTimeout(this.timer);
    this.timer = null;
    if (this.closed || !this.emit || !this.journal.ready) return;
    const pending = this.journal.pending();
    const newest = pending.length ? pending[pending.length - 1].number : 0;
    if (pending.length && this.online && !(once && newest <= this.sent)) {
      const away = once && pending[0].number <= this.sent && Date.now() - this.sentAt < ANSWER_MS;
      if (away) {
        this.timer = setTimeout(() => this.send(), ANSWER_MS);
        this.due = true;
      } else {
        this.due = false;
        this.sent = newest;
        this.sentAt = Date.now();
        this.emit("changes", { draft: this.draft, device: this.journal.device, changes: pending.slice(0, MOST_AT_ONCE) });
      }
    }
    this.tell();
  }

  tick() {
    if (!this.root.host || !this.root.host.isConnected) {
      this.close();
      return;
    }
    this.connection(isConnected());
    this.journal.chest.tend();
    if (!this.journal.waiting) {
      this.tries = 0;
      return;
    }
    if (Date.now() - this.outside < APART_MS) return;
    this.send();
    if (this.online && ++this.tries % 2 === 0) askForWholeRun();
    this.tell();
  }

  connection(online) {
    if (online === this.online) return;
    this.online = online;
    if (online) {
      this.send();
      clearTimeout(this.wholeRun);
      this.wholeRun = setTimeout(() => {
        if (this.online && this.journal.waiting) askForWholeRun();
      }, WHOLE_RUN_AFTER_MS);
    }
    this.tell();
  }

  // -- what Python says -------------------------------------------------

  receive(component) {
    const { data, setStateValue } = component;
    this.emit = setStateValue;
    const before = this.journal.waiting;
    this.values = data.values;
    this.odd = data.odd || {};
    this.revision = data.revision;
    this.journal.acknowledge(data.stored || {}, data.acknowledged);
    if (this.editing.text === null) this.editing.seen = this.revision;
    if (this.journal.waiting < before) this.tries = 0;
    const form = JSON.stringify([data.cans, data.decimal, data.unit]);
    if (form !== this.form) {
      this.form = form;
      this.cans = data.cans.map(([key, row, column, label, x, y]) => ({ key, row, column, label, x, y }));
      this.byKey = new Map(this.cans.map((can) => [can.key, can]));
      this.decimal = data.decimal;
      this.unit = data.unit;
      this.show(this.wanted(), true);
      this.send();
    } else {
      this.refresh();
    }
    if (this.due && this.journal.waiting < before) this.send(true);
  }

  // -- looks ------------------------------------------------------------

  refresh() {
    if (this.closed || !this.face) return;
    this.face.refresh();
    this.tell();
  }

  tell() {
    const kinds = this.cans.map((can) => kindOf(this.text(can.key)));
    const filled = kinds.filter((kind) => kind === "filled" || kind === "none").length;
    const bad = kinds.filter((kind) => kind === "bad").length;
    say(this.progress, `${filled} of ${kinds.length}` + (bad ? `, ${bad} not understood` : ""));
    this.tellState();
  }

  // Whether what waits is on disk: 'kept' is said when it is, not before.
  keeping() {
    return this.journal.kept ? "kept" : this.journal.chest.refused ? "refused" : "writing";
  }

  tellState() {
    const keeping = this.keeping();
    const state = !this.online ? "offline" : this.journal.waiting ? "waiting" : "saved";
    say(this.status, STATES[state][keeping]);
    this.status.dataset.state = state;
    this.status.dataset.keeping = keeping;
    say(this.limits, keeping === "refused" ? NOT_KEPT : "");
    clearTimeout(this.speech);
    this.speech = setTimeout(() => say(this.aloud, this.status.textContent), SPOKEN_AFTER_MS);
  }
}

const DESKS = new WeakMap();

export default function (component) {
  const { data, parentElement: root } = component;
  let desk = DESKS.get(root);
  if (!desk || desk.closed || desk.draft !== data.draft) {
    if (desk) desk.close();
    desk = new Desk(root, data);
    DESKS.set(root, desk);
  }
  desk.receive(component);
  // Streamlit also calls this for a call that was overtaken, while the desk stands: only an element
  // that has left the page is put away (now, or at the next tick).
  return () => {
    if (!root.host || !root.host.isConnected) desk.close();
  };
}
