"""What stands behind the ``=`` of a change, from text to a value."""

from __future__ import annotations

from collections.abc import Callable

from ..units.quantity import parse
from .errors import ChangeError

MOST_LINES_TRIED = 12


def one_of(key: str, *words: str) -> Callable[[str], str]:
    """Read one of a few words.

    Parameters
    ----------
    key : str
        Of the change, for the message.
    *words : str
        That are allowed.

    Returns
    -------
    callable
        (text) -> the word.
    """
    def read(text: str) -> str:
        if text not in words:
            raise ChangeError(f"received {key}={text}, expected {' or '.join(words)}, correct it")
        return text

    return read


def size(key: str, dimension: str) -> Callable[[str], float]:
    """Read a quantity above zero.

    Parameters
    ----------
    key : str
        Of the change, for the message.
    dimension : str
        A key of `units.TABLE`.

    Returns
    -------
    callable
        (text) -> its SI value.
    """
    def read(text: str) -> float:
        found = parse(text, dimension).si
        if not found > 0:
            raise ChangeError(f"received {key}={text}, expected more than zero, correct it")
        return found

    return read


def count(text: str) -> int:
    """Read a number of lines.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    int [1]
    """
    if not text.isdigit() or not 1 <= int(text) <= MOST_LINES_TRIED:
        raise ChangeError(f"received lines={text}, expected a whole number from 1 to {MOST_LINES_TRIED}, correct it")
    return int(text)


def places(text: str) -> list[float]:
    """Read places with commas between them.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    list of float [m]
        Rising.
    """
    return sorted(parse(part.strip(), "length").si for part in text.split(","))


def flow_range(text: str) -> tuple[str, str]:
    """Read two flows.

    Parameters
    ----------
    text : str
        Such as ``150 to 2700 L/h``.

    Returns
    -------
    low, high : str
        Each with its unit.
    """
    low, mark, high = text.partition(" to ")
    if not mark:
        raise ChangeError(f"received regulator_range={text}, expected two flows such as 150 to 2700 L/h, correct it")
    unit = high.strip().lstrip("0123456789., ")
    low = low.strip() if not low.strip().replace(".", "").replace(",", "").isdigit() else f"{low.strip()} {unit}"
    if parse(low, "flow").si >= parse(high, "flow").si:
        raise ChangeError(f"received regulator_range={text}, expected the smaller flow first, turn them round")
    return low, high.strip()


def heads(text: str) -> str | list[tuple[str, int]]:
    """Read heads by their lines and numbers.

    Parameters
    ----------
    text : str
        Such as ``left:7, right:22``, ``left:all`` for a whole line, or ``suspects``.

    Returns
    -------
    str or list of (line, number)
        The word itself, or the heads; number 0 for a line as a whole.
    """
    if text == "suspects":
        return text
    found = []
    for part in text.split(","):
        line, mark, number = part.strip().rpartition(":")
        whole = number.strip() == "all"
        if not mark or not (whole or number.strip().isdigit()):
            raise ChangeError(f"received mend={text}, expected heads such as left:7, right:22, a whole line such as "
                              "left:all, or suspects, correct it")
        found.append((line.strip(), 0 if whole else int(number)))
    return found
