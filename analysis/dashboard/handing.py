"""Files for the phone or computer in the person's hand.

Streamlit serves a file that is handed over under an address, ``/media/...``, to whoever knows it: no log-in is asked
for (1.67, own measurement). With accounts the file therefore has no address; it comes over the page's own connection,
which knows who is logged in, and the page makes a file of it.
"""

from __future__ import annotations

import base64
import secrets
from collections.abc import Callable
from functools import lru_cache

import streamlit as st

from . import accounts

# A component is called again whenever its page is drawn; each file is handed over once.
_GIVE = """
const given = new Set();
export default function ({ data }) {
  if (!data || given.has(data.number)) return;
  given.add(data.number);
  const bytes = Uint8Array.from(atob(data.base64), (sign) => sign.charCodeAt(0));
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([bytes], { type: data.kind }));
  link.download = data.name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}
"""


def file_button(label: str, make: Callable[[], bytes], name: str, kind: str, key: str, *, main: bool = False) -> None:
    """A button that hands a file over."""
    look = "primary" if main else "secondary"
    if not accounts.accounts_on():
        st.download_button(label, make, name, kind, key=key, on_click="ignore", type=look)
    elif st.button(label, key=key, type=look):
        _giver()(key=f"{key}_given", data={"name": name, "kind": kind, "base64": base64.b64encode(make()).decode(),
                                           "number": secrets.token_hex(8)})


@lru_cache(maxsize=1)
def _giver():
    return st.components.v2.component("evenfall_file", js=_GIVE)
