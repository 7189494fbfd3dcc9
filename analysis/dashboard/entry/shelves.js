// Two shelves on this device for what must not be lost. What stands on either is { text, seen, number };
// of two with one key the higher number is the newer.

function isSound(entry) {
  return Boolean(entry) && typeof entry.text === "string" && Number.isSafeInteger(entry.number);
}

// localStorage, and a plain map for what it does not take (storage blocked, no room). All tabs of a browser see it
// at once, but the browser writes it to disk when it sees fit: Chromium 5 s after a change at the soonest, and then
// once a minute. A browser that dies takes along what came since.
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

  read(key) {
    try {
      const entry = JSON.parse(this.get(key));
      return isSound(entry) ? entry : null;
    } catch (fault) {
      return null;
    }
  }
}

const CHEST = "evenfall";
const ENTRIES = "entries";
const OPENED_WITHIN_MS = 1500;

// IndexedDB, where a transaction with durability "strict" is done when it is on disk. One is on its way at a time;
// what comes meanwhile goes together into the next, so that a slow disk falls behind by two of them and no more.
class Chest {
  // `opened` is called with every answer, true where it is open; `told` when what is surely kept may have changed.
  constructor(opened, told) {
    this.opened = opened;
    this.told = told;
    this.base = null;
    this.refused = false;
    this.due = new Map();
    this.away = new Map();
    this.open();
  }

  // Everything that was put is on disk.
  get keeps() {
    const writes = (batch) => [...batch.values()].some((entry) => !entry.gone);
    return this.base !== null && !this.refused && !writes(this.due) && !writes(this.away);
  }

  open() {
    if (this.opening || this.closed) return;
    this.opening = true;
    const answer = (base) => {
      clearTimeout(this.patience);
      this.opening = false;
      if (this.closed) {
        if (base) base.close();
        return;
      }
      this.base = base;
      this.refused = base === null;
      this.opened(base !== null);
      this.told();
      if (base) this.flush();
    };
    // a browser may leave the question open for long
    this.patience = setTimeout(() => {
      this.refuse(true);
      this.opened(false);
    }, OPENED_WITHIN_MS);
    try {
      const asked = indexedDB.open(CHEST, 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore(ENTRIES);
      asked.onerror = (event) => {
        event.preventDefault();
        answer(null);
      };
      asked.onsuccess = () => {
        const base = asked.result;
        base.onversionchange = () => this.leave(base);
        base.onclose = () => this.leave(base);
        answer(base);
      };
    } catch (fault) {
      queueMicrotask(() => answer(null));
    }
  }

  // The browser took the base away (its files were cleared, its process died): `tend` opens it anew.
  leave(base) {
    base.close();
    if (this.base === base) this.base = null;
    this.told();
  }

  refuse(refused) {
    this.refused = refused;
    this.told();
  }

  close() {
    this.closed = true;
    this.told = () => {};
    clearTimeout(this.patience);
    this.flush();
    if (this.base && !this.away.size) this.base.close();
  }

  // What stands under keys that begin with `prefix`, a map of key to entry; empty where the chest is refused.
  rows(prefix) {
    return new Promise((done) => {
      try {
        const store = this.base.transaction(ENTRIES).objectStore(ENTRIES);
        const range = IDBKeyRange.bound(prefix, prefix + "\uffff");
        const [keys, entries] = [store.getAllKeys(range), store.getAll(range)];
        store.transaction.oncomplete = () => {
          done(new Map(keys.result.map((key, i) => [key, entries.result[i]]).filter(([, entry]) => isSound(entry))));
        };
        store.transaction.onabort = () => done(new Map());
      } catch (fault) {
        done(new Map());
      }
    });
  }

  put(key, entry) {
    this.due.set(key, entry);
    this.flush();
  }

  // Takes out what is not newer than `number`.
  drop(key, number) {
    const due = this.due.get(key);
    if (due && !due.gone && due.number > number) return;
    this.due.set(key, { gone: true, number });
    this.flush();
  }

  // To be called now and then: what was refused is tried again.
  tend() {
    if (this.base) this.flush();
    else this.open();
  }

  flush() {
    if (this.away.size || !this.due.size) return;
    if (!this.base) {
      this.open();
      return;
    }
    this.away = this.due;
    this.due = new Map();
    const { base } = this;
    try {
      const transaction = base.transaction(ENTRIES, "readwrite", { durability: "strict" });
      transaction.oncomplete = () => this.written(base);
      transaction.onabort = () => this.failed();
      const store = transaction.objectStore(ENTRIES);
      for (const [key, entry] of this.away) settle(store, key, entry);
    } catch (fault) {
      this.failed();
      this.leave(base);
    }
  }

  written(base) {
    this.away = new Map();
    this.refuse(false);
    this.flush();
    if (this.closed && !this.away.size) base.close();
  }

  // It is tried again with the next write, or by `tend`.
  failed() {
    this.due = new Map([...this.away, ...this.due]);
    this.away = new Map();
    this.refuse(true);
  }
}

// Another tab may have put something newer, which stays.
function settle(store, key, entry) {
  const asked = store.get(key);
  asked.onsuccess = () => {
    const there = isSound(asked.result) ? asked.result.number : 0;
    if (entry.gone && there <= entry.number) store.delete(key);
    else if (!entry.gone && there < entry.number) store.put(entry, key);
  };
}
