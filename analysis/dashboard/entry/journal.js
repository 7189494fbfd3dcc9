// What was typed on this device and is not yet known to be stored: one item for each can on both shelves, written
// at every keystroke, removed when the server says that it has stored it. All tabs of a browser share them.

const NAME = "evenfall:entry:";

function randomId() {
  const bytes = crypto.getRandomValues(new Uint8Array(10));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

class Journal {
  // `found` is called once, when the chest has shown what it holds or does not open; `told` as the chest calls it.
  constructor(shelf, draft, found, told) {
    this.shelf = shelf;
    this.prefix = NAME + draft + ":";
    this.found = found;
    this.ready = false;
    this.comparing = 0;
    this.last = 0;
    this.highest = {};
    this.known = new Map();
    this.early = new Set();
    this.device = shelf.get(NAME + "device");
    this.reread();
    this.chest = new Chest((open) => (open ? this.compare() : this.begin()), told);
  }

  // Everything that is waiting is on disk.
  get kept() {
    return this.ready && !this.comparing && this.chest.keeps;
  }

  // The newest of both shelves stands on both. A journal of before there was a chest comes into it here.
  async compare() {
    this.comparing += 1; // a chest that was just opened may miss what is known here
    const [names, rows] = await Promise.all([NAME + "device", this.prefix].map((prefix) => this.chest.rows(prefix)));
    const device = names.get(NAME + "device");
    if (device && isDevice(device.text) && !this.ready) this.device = device.text;
    for (const [key, entry] of rows) {
      const can = key.slice(this.prefix.length);
      const own = this.known.get(can);
      this.absorb(can, entry);
      // a clock that was put back: what was typed before the chest was open is newer all the same
      if (this.early && this.early.has(can) && own !== this.known.get(can)) this.put(can, own.text, own.seen);
    }
    this.early = null;
    for (const [can, entry] of this.known) {
      const there = rows.get(this.prefix + can);
      if (!there || there.number < entry.number) this.chest.put(this.prefix + can, entry);
    }
    this.comparing -= 1;
    this.begin();
    this.chest.told();
  }

  // From here on the device has its name, and what is waiting may be sent.
  begin() {
    if (this.ready) return;
    this.ready = true;
    if (!isDevice(this.device)) this.device = randomId();
    this.shelf.set(NAME + "device", this.device);
    this.chest.put(NAME + "device", { text: this.device, seen: 0, number: 1 });
    this.found();
  }

  absorb(can, entry) {
    this.last = Math.max(this.last, entry.number);
    const own = this.known.get(can);
    if (!own || own.number < entry.number) this.known.set(can, entry);
  }

  // Another tab may have written to the shelf.
  reread() {
    for (const key of this.shelf.keys(this.prefix)) {
      const entry = this.shelf.read(key);
      if (entry) this.absorb(key.slice(this.prefix.length), entry);
    }
  }

  // Another tab has had this stored.
  gone(key, text) {
    const can = key.slice(this.prefix.length);
    const own = this.known.get(can);
    try {
      if (own && own.number <= JSON.parse(text).number) this.known.delete(can);
    } catch (fault) {
      // it is sent once more
    }
  }

  // Growing on this device even where its clock is put back.
  number() {
    const last = Math.max(this.last, this.highest[this.device] || 0, Number(this.shelf.get(NAME + "number")) || 0);
    this.last = Math.max(Date.now(), last + 1);
    this.shelf.set(NAME + "number", String(this.last));
    return this.last;
  }

  put(can, text, seen) {
    const entry = { text, seen, number: this.number() };
    this.known.set(can, entry);
    if (this.early) this.early.add(can);
    this.chest.put(this.prefix + can, entry);
    this.shelf.set(this.prefix + can, JSON.stringify(entry));
  }

  get(can) {
    return this.known.get(can) || null;
  }

  get waiting() {
    return this.known.size;
  }

  // Everything of this browser, oldest first, also what another tab has just written.
  pending() {
    this.reread();
    return [...this.known].map(([can, entry]) => ({ can, ...entry })).sort((one, other) => one.number - other.number);
  }

  // `stored` has the number up to which each can is stored; `highest`, of every device the highest in this draft.
  acknowledge(stored, highest) {
    this.highest = highest;
    for (const [can, number] of Object.entries(stored)) {
      const own = this.known.get(can);
      if (!own || own.number > number) continue;
      this.known.delete(can);
      const there = this.shelf.read(this.prefix + can);
      if (!there || there.number <= number) this.shelf.remove(this.prefix + can);
      this.chest.drop(this.prefix + can, number);
    }
  }
}

function isDevice(text) {
  return /^[0-9a-f]{20}$/.test(text || "");
}
