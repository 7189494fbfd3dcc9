"""Records for the tests of the store."""

from evenfall.record.file import parse_record

from ..conftest import GRID


def record_text_of(name="t-1", member="HB", first=10, tunnel="T1", **keys):
    """Text of a small record; `first` is the reading of its first can, and a comment shows that the text is kept."""
    told = "".join(f"{key} = {value}\n" for key, value in keys.items())
    head = f'[test]\nid = "{name}"\nmember = "{member}"\ntunnel = "{tunnel}"\n{told}' if name else (
        f'[test]\nmember = "{member}"\ntunnel = "{tunnel}"\n{told}')
    return "# as it was typed\n" + GRID.replace("[test]\n", head).replace("[[10,", f"[[{first},")


def entry(name="t-1", **keys):
    """A record and its text."""
    text = record_text_of(name, **keys)
    return parse_record(text), text
