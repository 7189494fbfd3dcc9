"""What is printed reaches a terminal as text: signs that would steer it are written out."""

from __future__ import annotations

import re

# Control characters save tab and line feed (C0, DEL, C1), overrides of the direction of writing, separators of lines.
_STEERING = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069]")


def written_out(text: str) -> str:
    r"""Write signs that steer a terminal as ``\u001b``, which JSON and TOML read as the same sign."""
    return _STEERING.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


class Plain:
    """A stream for people: everything that is written to it is written out; `under` is the stream itself."""

    def __init__(self, under) -> None:
        self.under = under

    def write(self, text: str) -> int:
        """Write a text; gives the number of its signs."""
        self.under.write(written_out(text))
        return len(text)

    def writelines(self, lines) -> None:
        """Write several texts."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str):
        return getattr(self.under, name)
