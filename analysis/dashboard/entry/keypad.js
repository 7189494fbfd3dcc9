// The face for a phone: one can at a time, big keys, a small plan of the walk.

const LONGEST_TAPPED = 7;
const CLICK_AFTER_POINTER_MS = 700;

class Keypad {
  constructor(desk) {
    this.desk = desk;
    this.fresh = true;
    this.touched = false;
    this.at = this.firstEmpty();
    this.handled = 0;
    this.element = make("section", "keypad");
    this.element.tabIndex = -1;
    this.element.setAttribute("aria-label", "Keypad");
    this.label = make("div", "label");
    this.label.setAttribute("aria-live", "polite");
    this.name = make("b", "name");
    this.place = make("span", "place");
    this.label.append(this.name, this.place);
    this.box = make("div", "value");
    this.shown = make("output", "shown");
    this.unit = make("span", "unit");
    this.box.append(this.shown, this.unit);
    this.element.append(this.label, this.box, this.makePlan(), this.makePad());
    this.element.addEventListener("keydown", (event) => this.typed(event));
    this.begin();
  }

  close() {}

  focus() {
    this.element.focus({ preventScroll: true });
  }

  get can() {
    return this.desk.cans[this.at] || null;
  }

  firstEmpty() {
    const found = this.desk.cans.findIndex((can) => this.desk.text(can.key) === "");
    return found < 0 ? 0 : found;
  }

  // -- keys -------------------------------------------------------------

  makePad() {
    const pad = make("div", "pad");
    pad.setAttribute("role", "group");
    pad.setAttribute("aria-label", "Keys");
    const point = this.desk.decimal;
    const keys = [
      ["7"], ["8"], ["9"], ["Delete", "delete", "⌫"],
      ["4"], ["5"], ["6"], ["No reading", "none", "No reading"],
      ["1"], ["2"], ["3"],
      ["Decimal", "point", point], ["0"], ["Back", "back", "Back"],
      ["Next", "next", "Next"],
    ];
    for (const [name, kind, face] of keys) {
      const button = make("button", "key " + (kind || "digit"), face || name);
      button.type = "button";
      button.dataset.key = name;
      if (name === "Delete") button.setAttribute("aria-label", "Delete the last digit");
      if (name === "Decimal") button.setAttribute("aria-label", "Decimal " + (point === "," ? "comma" : "point"));
      pad.append(button);
    }
    pad.addEventListener("pointerdown", (event) => {
      const button = event.target.closest("button");
      if (!button || event.button > 0) return;
      event.preventDefault();
      this.handled = Date.now();
      this.press(button.dataset.key);
      this.element.focus({ preventScroll: true });
    });
    // Keyboards, screen readers and switches click without a pointer.
    pad.addEventListener("click", (event) => {
      const button = event.target.closest("button");
      if (button && Date.now() - this.handled > CLICK_AFTER_POINTER_MS) this.press(button.dataset.key);
    });
    this.pad = pad;
    return pad;
  }

  passedPoint(x, y) {
    for (const button of this.pad.children) {
      const box = button.getBoundingClientRect();
      if (x < box.left || x > box.right || y < box.top || y > box.bottom) continue;
      this.handled = Date.now();
      this.press(button.dataset.key);
      return true;
    }
    return false;
  }

  typed(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const onKey = event.target.closest && event.target.closest("button");
    if (onKey && (event.key === "Enter" || event.key === " ")) return;
    if (this.passedKey(event.key)) event.preventDefault();
  }

  passedKey(key) {
    const named = { Enter: "Next", Backspace: "Delete", ".": "Decimal", ",": "Decimal", x: "No reading",
      ArrowRight: "Next", ArrowLeft: "Back" }[key];
    if (!named && !/^[0-9]$/.test(key)) return false;
    this.press(named || key);
    return true;
  }

  // To the first empty can, unless somebody has begun.
  seat() {
    if (!this.touched) this.go(this.firstEmpty());
  }

  press(key) {
    this.touched = true;
    if (key === "Next") this.go(this.at < this.desk.cans.length ? this.at + 1 : this.firstEmpty());
    else if (key === "Back") this.go(Math.max(0, this.at - 1));
    else if (this.can) this.write(key);
    this.refresh();
  }

  write(key) {
    const before = this.desk.text(this.can.key);
    const kept = this.fresh || before === "x" ? "" : before;
    if (key === "No reading") {
      this.desk.type(this.can.key, "x");
      this.go(this.at + 1);
    } else if (key === "Delete") {
      this.change(before === "x" ? "" : before.slice(0, -1));
    } else if (key === "Decimal") {
      if (!/[.,]/.test(kept)) this.change((kept || "0") + this.desk.decimal);
    } else if (kept.length < LONGEST_TAPPED) {
      this.change(kept + key);
    }
  }

  change(text) {
    this.fresh = false;
    this.desk.type(this.can.key, text);
  }

  go(at) {
    this.desk.leave();
    this.at = at;
    this.begin();
  }

  begin() {
    this.fresh = true;
    if (this.can) this.desk.begin(this.can.key);
  }

  goTo(can) {
    const at = this.desk.cans.findIndex((one) => one.key === can);
    this.touched = true;
    if (at >= 0) this.go(at);
  }

  // -- plan -------------------------------------------------------------

  makePlan() {
    const cans = this.desk.cans;
    const [rows, across] = [cans.map((can) => can.y), cans.map((can) => can.x)].map((places) => {
      const different = new Set(places.map((place) => place.toFixed(3))).size;
      return Math.max(2, Math.min(different, 2 * Math.ceil(Math.sqrt(cans.length))));
    });
    this.plan = make("div", "plan");
    this.plan.setAttribute("aria-hidden", "true");
    this.plan.style.setProperty("--plan-height", Math.min(140, Math.max(56, rows * 19)) + "px");
    this.plan.style.setProperty("--dot-width", Math.min(9, 66 / across) + "%");
    this.plan.style.setProperty("--dot-height", Math.min(20, 58 / rows) + "%");
    const walk = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    walk.setAttribute("viewBox", "0 0 100 100");
    walk.setAttribute("preserveAspectRatio", "none");
    const line = document.createElementNS("http://www.w3.org/2000/svg", "polyline");
    const [xs, ys] = [spread(cans.map((can) => can.x)), spread(cans.map((can) => 1 - can.y), 9)];  // the inlet end is below, as on the map
    line.setAttribute("points", cans.map((_, i) => `${xs[i]},${ys[i]}`).join(" "));
    walk.append(line);
    this.plan.append(walk);
    this.dots = cans.map((can, i) => {
      const dot = make("i");
      dot.style.left = xs[i] + "%";
      dot.style.top = ys[i] + "%";
      this.plan.append(dot);
      return dot;
    });
    this.plan.addEventListener("click", (event) => this.tapPlan(event, xs, ys));
    const framed = make("div", "framed");
    framed.append(this.plan, make("div", "inlet", "inlet end"));
    return framed;
  }

  tapPlan(event, xs, ys) {
    const box = this.plan.getBoundingClientRect();
    const away = xs.map((x, i) => Math.hypot(event.clientX - box.left - box.width * x / 100,
      event.clientY - box.top - box.height * ys[i] / 100));
    this.touched = true;
    this.go(away.indexOf(Math.min(...away)));
    this.refresh();
  }

  // -- looks ------------------------------------------------------------

  refresh() {
    const texts = this.desk.cans.map((can) => this.desk.text(can.key));
    texts.forEach((text, i) => {
      const odd = this.desk.doubt(this.desk.cans[i].key) ? " odd" : "";
      this.dots[i].className = kindOf(text) + odd + (i === this.at ? " here" : "");
    });
    if (this.can) this.showCan(texts[this.at]);
    else this.showEnd(texts);
  }

  showCan(text) {
    const [name, ...rest] = this.can.label.split(" - ");
    say(this.name, name);
    say(this.place, rest.join(" - "));
    say(this.shown, text === "x" ? "no reading" : text);
    say(this.unit, text === "x" ? "" : this.desk.unit);
    this.box.className = "value " + kindOf(text) + (this.fresh ? " fresh" : "");
    this.box.setAttribute("aria-invalid", String(kindOf(text) === "bad"));
    this.desk.hint(kindOf(text) === "bad" ? notUnderstood(text) : this.desk.doubt(this.can.key));
  }

  showEnd(texts) {
    const left = texts.some((text) => kindOf(text) === "empty");
    const told = stateOf(texts);
    say(this.name, "End of the walk");
    say(this.place, told + (left ? "; Next goes to the first empty one" : ""));
    say(this.shown, "");
    say(this.unit, "");
    this.box.className = "value end";
    this.desk.hint("");
  }
}

// Shares of the floor [0..1] as percent of the plan, the outermost cans `edge` percent inside it.
function spread(shares, edge = 6) {
  const [least, most] = [Math.min(...shares), Math.max(...shares)];
  return shares.map((share) => (most > least ? edge + (100 - 2 * edge) * (share - least) / (most - least) : 50));
}
