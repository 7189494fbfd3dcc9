// What was typed on this device and is not yet known to be stored: one item of
// localStorage for each can, written at every keystroke, removed when the server
// has acknowledged its number. All tabs of a browser share it.

const NAME = "evenfall:entry:";

function randomId() {
  const bytes = crypto.getRandomValues(new Uint8Array(10));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

// localStorage, and a plain map for what it does not take (private window, no room).
class Shelf {
  constructor() {
    this.loose = new Map();
    this.lasting = true;
  }

  get(key) {
    if (this.loose.has(key)) return this.loose.get(key);
    try {
      return localStorage.getItem(key);
    } catch (fault) {
      return null;
    }
  }

  set(key, text) {
    try {
      localStorage.setItem(key, text);
      this.loose.delete(key);
    } catch (fault) {
      this.loose.set(key, text);
      this.lasting = false;
    }
  }

  remove(key) {
    this.loose.delete(key);
    try {
      localStorage.removeItem(key);
    } catch (fault) {
      this.lasting = false;
    }
  }

  keys(prefix) {
    const found = new Set([...this.loose.keys()]);
    try {
      for (let i = 0; i < localStorage.length; i++) found.add(localStorage.key(i));
    } catch (fault) {
      this.lasting = false;
    }
    return [...found].filter((key) => key.startsWith(prefix));
  }
}

class Journal {
  constructor(shelf, draft) {
    this.shelf = shelf;
    this.prefix = NAME + draft + ":";
    this.device = shelf.get(NAME + "device");
    if (!/^[0-9a-f]{20}$/.test(this.device || "")) {
      this.device = randomId();
      shelf.set(NAME + "device", this.device);
    }
    this.reread();
  }

  // `known` mirrors the shelf, which another tab may have written to.
  reread() {
    this.known = new Map();
    for (const key of this.shelf.keys(this.prefix)) {
      const entry = this.read(key);
      if (entry) this.known.set(key.slice(this.prefix.length), entry);
    }
  }

  // Growing on this device even where its clock is put back.
  number() {
    const last = Number(this.shelf.get(NAME + "number")) || 0;
    const next = Math.max(Date.now(), last + 1);
    this.shelf.set(NAME + "number", String(next));
    return next;
  }

  put(can, text, seen) {
    const entry = { text, seen, number: this.number() };
    this.known.set(can, entry);
    this.shelf.set(this.prefix + can, JSON.stringify(entry));
  }

  get(can) {
    return this.known.get(can) || null;
  }

  get waiting() {
    return this.known.size;
  }

  read(key) {
    try {
      const entry = JSON.parse(this.shelf.get(key));
      const sound = entry && typeof entry.text === "string" && Number.isSafeInteger(entry.number);
      return sound ? entry : null;
    } catch (fault) {
      return null;
    }
  }

  // Everything of this browser, oldest first, also what another tab has just written.
  pending() {
    this.reread();
    return [...this.known].map(([can, entry]) => ({ can, ...entry })).sort((one, other) => one.number - other.number);
  }

  acknowledge(number) {
    for (const { can, number: own } of this.pending()) {
      if (own > number) continue;
      this.known.delete(can);
      this.shelf.remove(this.prefix + can);
    }
  }
}
