"""A browser of our own that can be killed with -9, and what its two shelves hold."""

import http.server
import os
import signal
import threading
import time
from functools import partial
from importlib.resources import files
from pathlib import Path

from entry_help import PATIENCE

# A name that is not this machine's own: an address like a phone's in the tunnel, which browsers trust less.
HOST = "tunnel.test"

# Both shelves and the journal as the entry has them, with one field: Enter goes on to the next can.
SHELF_PAGE = """<!doctype html><meta charset="utf-8"><title>Shelves</title><input autofocus>
<script>
%s
let can = 1;
const field = document.querySelector("input");
const show = () => { document.title = journal.ready ? (journal.kept ? "kept" : "writing") : "opening"; };
const journal = new Journal(new Shelf(), "0123456789abcdef", show, show);
field.addEventListener("input", () => {
  journal.put(`p${can}`, field.value, 0);
  show();
});
field.addEventListener("keydown", (event) => {
  if (event.key !== "Enter") return;
  can += 1;
  field.value = "";
});
</script>"""

# Keys and texts of one draft in localStorage and in IndexedDB.
SHELVES = """async (prefix) => {
  const short = (key) => key.slice(prefix.length);
  const local = {}, firm = {};
  for (const key of Object.keys(localStorage).filter((one) => one.startsWith(prefix))) {
    local[short(key)] = JSON.parse(localStorage.getItem(key)).text;
  }
  const base = await new Promise((done, fail) => {
    const asked = indexedDB.open("evenfall", 1);
    asked.onsuccess = () => done(asked.result);
    asked.onerror = fail;
  });
  const store = base.transaction("entries").objectStore("entries");
  const range = IDBKeyRange.bound(prefix, prefix + "\\uffff");
  const [keys, entries] = [store.getAllKeys(range), store.getAll(range)];
  await new Promise((done) => { store.transaction.oncomplete = done; });
  base.close();
  keys.result.forEach((key, i) => { firm[short(key)] = entries.result[i].text; });
  return [local, firm];
}"""


class Killable:
    """One Chromium on a profile that outlives it."""

    def __init__(self, chromium, profile):
        self.chromium, self.profile = chromium, str(profile)
        self.context = None

    def start(self, **kind):
        """Start it (again, on the same profile) and hand back its page."""
        self.context = self.chromium(f"--host-resolver-rules=MAP {HOST} 127.0.0.1", profile=self.profile, **kind)
        self.context.set_default_timeout(1000 * PATIENCE)
        return self.context.pages[0]

    def _processes(self):
        wanted = f"--user-data-dir={self.profile}".encode()
        for entry in Path("/proc").iterdir():
            try:
                if entry.name.isdigit() and wanted in (entry / "cmdline").read_bytes().split(b"\0"):
                    yield int(entry.name)
            except OSError:
                continue

    def kill(self):
        """kill -9 to the whole process group."""
        groups = {os.getpgid(process) for process in self._processes()}
        assert groups and os.getpgid(0) not in groups
        for group in groups:
            os.killpg(group, signal.SIGKILL)
        end = time.monotonic() + 10
        while list(self._processes()) and time.monotonic() < end:
            time.sleep(0.01)
        self.close()

    def close(self):
        """End it, as far as it still runs."""
        if self.context:
            try:
                self.context.close()
            except Exception:  # noqa: BLE001 - it is dead, in whatever words the driver says so
                pass
        self.context = None


def shelf_page(folder):
    """Write the page of the shelves alone into a folder."""
    here = files("evenfall.dashboard.entry")
    script = "\n".join(here.joinpath(part).read_text("utf-8") for part in ("shelves.js", "journal.js"))
    page = Path(folder) / "shelves.html"
    page.write_text(SHELF_PAGE % script, "utf-8")
    return page


class FileServer:
    """Serves a folder; can be away for a while."""

    def __init__(self, folder):
        self.folder, self.port = folder, 0
        self.start()

    def start(self):
        """Start it (again, on the same port)."""
        class Quiet(http.server.SimpleHTTPRequestHandler):
            def log_message(self, *words):
                pass

        self.server = http.server.ThreadingHTTPServer(
            ("127.0.0.1", self.port), partial(Quiet, directory=str(self.folder)))
        self.port = self.server.server_address[1]
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def stop(self):
        """End it."""
        self.server.shutdown()
        self.server.server_close()


def type_cans(page, texts, seconds):
    """Type one text each `seconds`, each with Enter; hands back the moment of the last key."""
    due = time.monotonic()
    for text in texts:
        page.keyboard.type(text)
        page.keyboard.press("Enter")
        last = time.monotonic()
        due += seconds
        if text is not texts[-1]:
            page.wait_for_timeout(max(0.0, 1000 * (due - time.monotonic())))
    return last
