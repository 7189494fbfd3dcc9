// The face for a laptop: a real input for each can, laid out by row; free
// points are a list. Enter follows the walk, arrows follow the layout.

class Table {
  constructor(desk) {
    this.desk = desk;
    this.fresh = false;
    this.field = null;
    this.told = "";
    this.inputs = new Map();
    this.shown = new Map();
    this.rows = this.layRows();
    this.element = make("section", "table");
    this.element.setAttribute("aria-label", "Table of readings");
    this.scroller = make("div", "scroller");
    if (this.rows) this.makeRows();
    else this.makeList();
    this.end = make("p", "end");
    this.end.tabIndex = -1;
    this.element.append(this.scroller, this.end);
    this.element.addEventListener("input", (event) => this.onInput(event));
    this.element.addEventListener("keydown", (event) => this.onKey(event));
    this.element.addEventListener("focusin", (event) => this.onFocus(event));
    this.element.addEventListener("focusout", (event) => this.onLeave(event));
    this.element.addEventListener("paste", (event) => this.onPaste(event));
  }

  close() {}

  focus() {
    const input = this.field || this.inputs.get(this.firstEmpty());
    if (input) input.focus();
  }

  firstEmpty() {
    const cans = this.desk.cans;
    return (cans.find((can) => this.desk.text(can.key) === "") || cans[0] || {}).key;
  }

  // -- layout -----------------------------------------------------------

  // Rows from first to last, each in order of its columns; null for free points.
  layRows() {
    const cans = this.desk.cans;
    if (!cans.some((can) => can.row)) return null;
    const rows = new Map();
    for (const can of cans) rows.set(can.row, [...(rows.get(can.row) || []), can]);
    return [...rows.entries()].sort((one, other) => one[0] - other[0])
      .map(([, row]) => row.sort((one, other) => one.column - other.column));
  }

  // How far each row starts from the leftmost one, in half cells.
  offsets() {
    const steps = this.rows.flatMap((row) => row.slice(1).map((can, i) => can.x - row[i].x)).filter((step) => step > 0);
    const step = steps.sort((one, other) => one - other)[Math.floor(steps.length / 2)] || 1;
    const starts = this.rows.map((row) => row[0].x);
    const least = Math.min(...starts);
    return starts.map((start) => Math.min(6, Math.max(0, Math.round(2 * (start - least) / step))));
  }

  makeRows() {
    const offsets = this.offsets();
    const halves = Math.max(...this.rows.map((row, i) => 2 * row.length + offsets[i]));
    this.scroller.style.setProperty("--halves", halves);
    if (offsets.every((offset) => offset === 0)) this.scroller.append(this.makeHeader(halves / 2));
    const order = new Map(this.desk.cans.map((can, i) => [can.key, i]));
    this.rows.forEach((row, i) => {
      const line = make("div", "row");
      line.setAttribute("role", "group");
      const head = make("span", "head", "Row " + row[0].row);
      line.setAttribute("aria-label", head.textContent);
      const back = row.length > 1 && order.get(row[0].key) > order.get(row[1].key);
      const arrow = make("span", "way", back ? "←" : "→");
      arrow.setAttribute("aria-hidden", "true");
      head.append(arrow);
      line.append(head);
      row.forEach((can, j) => {
        const input = this.makeInput(can);
        input.style.gridColumn = `${2 + offsets[i] + 2 * j} / span 2`;
        line.append(input);
      });
      this.scroller.append(line);
    });
  }

  makeHeader(columns) {
    const line = make("div", "row numbers");
    line.setAttribute("aria-hidden", "true");
    line.append(make("span", "head", ""));
    for (let j = 0; j < columns; j++) {
      const cell = make("span", "number", String(j + 1));
      cell.style.gridColumn = `${2 + 2 * j} / span 2`;
      line.append(cell);
    }
    return line;
  }

  makeList() {
    this.scroller.classList.add("list");
    for (const can of this.desk.cans) {
      const line = make("label", "place-line");
      const [name, ...rest] = can.label.split(" - ");
      const words = make("span", "words");
      words.append(make("b", "", name), make("span", "", rest.join(" - ")));
      line.append(words, this.makeInput(can));
      this.scroller.append(line);
    }
  }

  makeInput(can) {
    const input = make("input");
    Object.assign(input, { type: "text", inputMode: "decimal", enterKeyHint: "next", autocomplete: "off",
      autocapitalize: "off", spellcheck: false, maxLength: 400 });
    input.dataset.can = can.key;
    this.inputs.set(can.key, input);
    return input;
  }

  // -- typing -----------------------------------------------------------

  onInput(event) {
    this.fresh = false;
    this.write(event.target);
  }

  write(input) {
    this.told = "";
    if (input.value.trim() === "X") input.value = "x";
    this.desk.type(input.dataset.can, input.value);
    this.dress(input);
  }

  onFocus(event) {
    if (!event.target.dataset.can) return;
    this.field = event.target;
    this.told = "";
    this.desk.begin(this.field.dataset.can);
    this.dress(this.field);
  }

  onLeave(event) {
    if (event.target.dataset.can) this.desk.leave();
  }

  go(input) {
    if (!input) return;
    input.focus();
    input.select();
    this.fresh = true;
  }

  // From `input` along the walk; past its end the focus rests below the table.
  step(input, by) {
    const cans = this.desk.cans;
    const to = cans.findIndex((can) => can.key === input.dataset.can) + by;
    if (to < 0) return;
    if (to < cans.length) {
      this.go(this.inputs.get(cans[to].key));
      return;
    }
    this.field = null;
    this.showEnd();
    this.end.focus();
  }

  showEnd() {
    const empty = this.desk.cans.filter((can) => this.desk.text(can.key) === "");
    const named = empty.slice(0, 3).map((can) => can.label.split(" - ")[0]).join("; ");
    say(this.end, empty.length === 0
      ? `That was the last can; ${stateOf(this.desk.cans.map((can) => this.desk.text(can.key)))}.`
      : `That was the last can. Still empty: ${named}${empty.length > 3 ? ` and ${empty.length - 3} more` : ""}.`);
  }

  onKey(event) {
    const input = event.target;
    if (!input.dataset.can || event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    if (event.key === "Enter") {
      event.preventDefault();
      this.desk.commit();
      this.step(input, event.shiftKey ? -1 : 1);
      return;
    }
    if (event.shiftKey) return;
    const near = this.neighbour(input, event.key);
    if (!near) return;
    event.preventDefault();
    this.go(near);
  }

  // The input an arrow leads to; sideways only from the edge of the text or when all of it is selected.
  neighbour(input, key) {
    const { selectionStart: from, selectionEnd: to, value } = input;
    const whole = from === 0 && to === value.length;
    const [up, down] = [key === "ArrowUp", key === "ArrowDown"];
    if (!this.rows) {
      const at = this.desk.cans.findIndex((can) => can.key === input.dataset.can) + (down ? 1 : up ? -1 : NaN);
      return this.desk.cans[at] ? this.inputs.get(this.desk.cans[at].key) : null;
    }
    const [i, j] = this.place(input);
    let can = null;
    if (up || down) can = nearest(this.rows[i + (down ? 1 : -1)], this.rows[i][j].x);
    else if (key === "ArrowLeft" && (whole || to === 0)) can = this.rows[i][j - 1];
    else if (key === "ArrowRight" && (whole || from === value.length)) can = this.rows[i][j + 1];
    return can ? this.inputs.get(can.key) : null;
  }

  place(input) {
    const i = this.rows.findIndex((row) => row.some((can) => can.key === input.dataset.can));
    return [i, this.rows[i].findIndex((can) => can.key === input.dataset.can)];
  }

  // A key that fell on the dialog, for the field that had the focus.
  passedKey(key) {
    const input = this.field;
    if (!input || !input.isConnected) return false;
    if (key === "Enter") {
      this.desk.commit();
      this.step(input, 1);
    } else if (key === "Backspace") {
      input.value = this.fresh ? "" : input.value.slice(0, -1);
    } else if (key.length === 1) {
      input.value = (this.fresh ? "" : input.value) + key;
    } else {
      return false;
    }
    if (key !== "Enter") {
      this.fresh = false;
      this.write(input);
    }
    return true;
  }

  // -- paste ------------------------------------------------------------

  // A block of cells fills from the focused one; its blank cells leave what is there.
  onPaste(event) {
    const input = event.target;
    const text = event.clipboardData ? event.clipboardData.getData("text/plain") : "";
    if (!input.dataset.can || !/[\t\n\r]/.test(text.trim())) return;
    event.preventDefault();
    const block = text.replace(/\r\n?/g, "\n").replace(/\n+$/, "").split("\n").map((line) => line.split("\t"));
    const targets = this.rows ? this.blockTargets(input, block) : this.listTargets(input, block);
    let outside = 0;
    for (const [can, cell] of targets) {
      const value = cell.trim().slice(0, 400);
      if (value === "") continue;
      if (can) this.desk.type(can.key, value === "X" ? "x" : value);
      else outside += 1;
    }
    this.desk.commit();
    this.told = outside === 0 ? "" : `${outside} pasted ${outside === 1 ? "value" : "values"} did not fit and went nowhere.`;
    this.refresh(true);
  }

  blockTargets(input, block) {
    const [i, j] = this.place(input);
    return block.flatMap((line, down) => line.map((cell, right) => [(this.rows[i + down] || [])[j + right], cell]));
  }

  listTargets(input, block) {
    const at = this.desk.cans.findIndex((can) => can.key === input.dataset.can);
    return block.flat().map((cell, i) => [this.desk.cans[at + i], cell]);
  }

  // -- looks ------------------------------------------------------------

  refresh(pasted = false) {
    for (const [can, input] of this.inputs) {
      const text = this.desk.text(can);
      const typing = input === this.field && this.desk.isTyping(can) && !pasted;
      if (this.shown.get(can) === text + this.desk.doubt(can) || typing) continue;
      const selected = this.desk.root.activeElement === input;
      input.value = text;
      if (selected) input.select();
      this.dress(input);
    }
    if (pasted && this.field) this.dress(this.field);
    if (this.end.textContent) this.showEnd();
  }

  dress(input) {
    const odd = this.desk.doubt(input.dataset.can);
    this.shown.set(input.dataset.can, input.value + odd);
    const kind = kindOf(input.value);
    const name = kind + (odd ? " odd" : "");
    if (input.className !== name) input.className = name;
    const can = this.desk.can(input.dataset.can);
    const label = can.label + (kind === "none" ? ", no reading" : kind === "bad" ? ", not understood" : "")
      + (odd ? ", to be read again" : "");
    if (input.getAttribute("aria-label") !== label) input.setAttribute("aria-label", label);
    input.setAttribute("aria-invalid", String(kind === "bad"));
    if (input === this.field && input === this.desk.root.activeElement) {
      this.desk.hint(this.told || (kind === "bad" ? notUnderstood(input.value) : odd || can.label));
    }
  }
}

function nearest(row, x) {
  if (!row) return null;
  return row.reduce((best, can) => (Math.abs(can.x - x) < Math.abs(best.x - x) ? can : best));
}
