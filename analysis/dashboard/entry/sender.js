// On a page without the entry: sends what was typed on this device and is not yet known to be stored. The server
// answers as it answers the entry, can by can. Where nothing waits it reads the shelves once and is still.

class Sender {
  constructor(root, draft) {
    this.root = root;
    this.draft = draft;
    this.sent = 0;
    this.journal = new Journal(new Shelf(), draft, () => this.send(), () => {});
    // another tab, or this one before it slept, may have left something
    this.back = () => this.send();
    for (const name of ["online", "pageshow", "focus"]) window.addEventListener(name, this.back);
  }

  close() {
    this.closed = true;
    clearTimeout(this.timer);
    for (const name of ["online", "pageshow", "focus"]) window.removeEventListener(name, this.back);
    this.journal.chest.close();
  }

  gone() {
    return !this.root.host || !this.root.host.isConnected;
  }

  send() {
    clearTimeout(this.timer);
    if (this.closed || !this.journal.ready) return;
    if (this.gone()) {
      this.close();
      return;
    }
    const pending = this.journal.pending().slice(0, MOST_AT_ONCE);
    if (!pending.length) return;
    if (isConnected()) {
      this.sent = pending[pending.length - 1].number;
      this.emit("changes", { draft: this.draft, device: this.journal.device, changes: pending });
    }
    this.timer = setTimeout(this.back, AGAIN_AFTER_MS);
  }

  receive(component) {
    this.emit = component.setStateValue;
    this.journal.acknowledge(component.data.stored, {});
    if (this.journal.pending().some((entry) => entry.number > this.sent)) this.send();
  }
}

const SENDERS = new WeakMap();

export default function (component) {
  const { data, parentElement: root } = component;
  let sender = SENDERS.get(root);
  if (!sender || sender.closed || sender.draft !== data.draft) {
    if (sender) sender.close();
    sender = new Sender(root, data.draft);
    SENDERS.set(root, sender);
  }
  sender.receive(component);
  return () => {
    if (sender.gone()) sender.close();
  };
}
