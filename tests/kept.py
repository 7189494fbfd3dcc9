"""What takes long is worked out once for the same input, where tests only look at how it is shown."""

import hashlib
import pickle
from collections import OrderedDict
from functools import wraps
from importlib import import_module
from io import BytesIO

from evenfall.pattern.rivals import Rival

MOST = 200  # results that a worker keeps
# What is asked again and again of the same samples; each of these gives the same for the same input.
DEAR = {"estimate_floor": ("pattern.whole_floor", "causes.explained", "causes.gather"),
        "rivals_of": ("pattern.rivals", "causes.explained"), "find_fixes": ("changes.fixes.search",),
        "find_causes": ("causes.finding",), "judge_patch": ("cans.patches",)}
_results = OrderedDict()


class Key(pickle.Pickler):
    """What was given, as bytes; of an explanation what tells it from others, for it has functions in it."""

    def reducer_override(self, given):
        if isinstance(given, Rival):
            return tuple, ((given.kind, given.setup.at, given.evidence),)
        return NotImplemented


def key_of(plain):
    """The same for the same input."""
    made = BytesIO()
    Key(made).dump(plain)
    return hashlib.sha256(made.getvalue()).digest()


def kept(function):
    """The same function, which remembers; a callable among what it is given only hears of its progress."""
    @wraps(function)
    def ask(*given, **named):
        plain = [item for item in given if not callable(item)], {
            name: item for name, item in named.items() if not callable(item)}
        key = function.__name__, key_of(plain)
        if key not in _results:
            _results[key] = function(*given, **named)
            if len(_results) > MOST:
                _results.popitem(last=False)
        _results.move_to_end(key)
        return _results[key]

    return ask


def keep_results(monkeypatch):
    """Let the library remember until the end of a test; what it remembers lasts as long as the worker."""
    for name, places in DEAR.items():
        function = kept(getattr(import_module(f"evenfall.{places[0]}"), name))
        for place in places:
            monkeypatch.setattr(import_module(f"evenfall.{place}"), name, function)
