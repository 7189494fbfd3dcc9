"""Mix-ups among many tests: days that cannot be, one tunnel under two names, one test kept twice."""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Sequence
from itertools import permutations

from ..store.kept import Kept, by_tunnel
from .rows import name_of, with_site

OLDEST = 1950      # catch-can tests under a roof are younger; a judgement
LEAST_LETTERS = 4  # of a word in which one letter may be a slip; in a shorter one it may be the name (Tunnel A, B)


def mixups(tests: Sequence[Kept]) -> list[str]:
    """Look for slips that would make a comparison wrong; nothing is changed or left out because of them."""
    tunnels = by_tunnel(tests)
    known = [item for runs in tunnels.values() for item in runs]
    return [*_days(known), *_nameless(tunnels), *_misspelt(tunnels), *_twice(tunnels)]


def _name(kept: Kept) -> str:
    return with_site(kept, name_of(kept))


def _days(known: list[Kept]) -> list[str]:
    """Days after the one on which the test was saved (a day more for clocks elsewhere), and days of long ago."""
    said = []
    for item in known:
        day = item.figures.date
        if not day:
            continue
        saved = item.saved_at[:10]
        if saved and datetime.date.fromisoformat(day) - datetime.date.fromisoformat(saved) > datetime.timedelta(1):
            said.append(f"{item.test} is dated {day}, but was saved on {saved}: while the day stands, it counts as the "
                        "newest test of its tunnel. Correct test.date.")
        elif int(day[:4]) < OLDEST:
            said.append(f"{item.test} is dated {day}: correct test.date if that is a slip.")
    return said


def _nameless(tunnels: dict[tuple[str, ...], list[Kept]]) -> list[str]:
    """Tunnels of one member and name, of which some tests name a site or member and others do not."""
    said = []
    for hidden, what in ((0, "member"), (1, "site")):
        alike = defaultdict(list)
        for key, runs in tunnels.items():
            if len(key) == 3:
                alike[key[:hidden] + key[hidden + 1:]].append((bool(key[hidden]), runs))
        for found in alike.values():
            without = [runs for named, runs in found if not named]
            named = [runs for has, runs in found if has]
            if without and len(named) == 1:
                said.append(f"{_name(without[0][-1])} and {_name(named[0][-1])} count as two tunnels: if they are "
                            f"one, name the {what} in {without[0][-1].test} too (test.{what}).")
    return said


def _misspelt(tunnels: dict[tuple[str, ...], list[Kept]]) -> list[str]:
    """Tunnels whose names are one slip of a letter apart."""
    by_words = {_words(runs[-1]): runs for key, runs in tunnels.items() if len(key) == 3}
    slips = _slips({word for words in by_words for _, word in words})
    said = []
    for words, runs in by_words.items():
        for place, (part, word) in enumerate(words):
            for other in slips.get(word, ()):
                found = by_words.get((*words[:place], (part, other), *words[place + 1:]))
                if found and word < other:  # each pair once
                    one, two = (min(tests, key=lambda item: item.test) for tests in (runs, found))
                    said.append(f"{_name(one)} and {_name(two)} count as two tunnels: if one name is a slip, correct "
                                f"it ({one.test}, {two.test}).")
    return said


def _words(kept: Kept) -> tuple[tuple[int, str], ...]:
    """The words of member, site and tunnel, each with the number of its part."""
    found = kept.figures
    return tuple((part, word) for part, name in enumerate((found.member, found.site, found.tunnel or found.zone))
                 for word in (name or "").casefold().split())


def _slips(words: set[str]) -> dict[str, list[str]]:
    """For each long word those that are one slip apart from it."""
    # With one letter left out, words one slip apart meet (Mor and Fraenkel 1982, 'A hash code method for detecting and
    # correcting spelling errors', from memory): no word is held against every other.
    meet = defaultdict(set)
    for word in words:
        if word.isalpha() and len(word) >= LEAST_LETTERS - 1:  # the other may be a letter longer
            for place in range(len(word) + 1):
                meet[word[:place] + word[place + 1:]].add(word)
    pairs = {pair for alike in meet.values() for pair in permutations(alike, 2)}
    found = defaultdict(list)
    for one, two in sorted(pairs):
        if max(len(one), len(two)) >= LEAST_LETTERS and _one_apart(one, two):
            found[one].append(two)
    return found


def _one_apart(one: str, two: str) -> bool:
    """One letter more, less or another, or two neighbours changed over (Damerau 1964)."""
    if len(one) == len(two):
        off = [place for place, (a, b) in enumerate(zip(one, two, strict=True)) if a != b]
        return len(off) == 1 or (len(off) == 2 and off[1] == off[0] + 1 and one[off[0]] == two[off[1]]
                                 and one[off[1]] == two[off[0]])
    short, long = sorted((one, two), key=len)
    return len(long) == len(short) + 1 and any(long[:place] + long[place + 1:] == short for place in range(len(long)))


def _twice(tunnels: dict[tuple[str, ...], list[Kept]]) -> list[str]:
    """Tests of one tunnel and day with the same readings."""
    said = []
    for runs in tunnels.values():
        alike = defaultdict(list)
        for item in runs:
            found = item.figures
            alike[found.date, found.can_places, found.cu, found.du_low_quarter].append(item.test)
        said += [f"{' and '.join(sorted(tests))} have the same readings of one tunnel and day: if it is one test, take "
                 "one of them off the list." for (day, *_), tests in alike.items() if day and len(tests) > 1]
    return said
