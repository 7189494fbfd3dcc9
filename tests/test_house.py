"""The house's own rules: what may import what, what a docstring promises, how large a room may be."""

import ast
import inspect
import re
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

from .conftest import ROOT

PACKAGE = ROOT / "analysis"
# One room per step of the job, one behind the other; a room imports only from those before it.
STAIR = ["units", "reference", "record", "entry", "cans", "hydraulics", "pattern", "causes", "changes", "watering",
         "planning", "result", "store", "compare", "figures", "paper", "cli", "dashboard"]
ORDER = {room: number for number, room in enumerate(STAIR)}
FILES = sorted(PACKAGE.rglob("*.py"))


def room_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imported(path: Path):
    """Rooms of the package that a file imports, and outside modules."""
    package = ("evenfall", *path.relative_to(PACKAGE).parts[:-1])
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else ()
            full = ".".join([*base, *([node.module] if node.module else [])])
            if full == "evenfall":
                for name in node.names:
                    yield f"evenfall.{name.name}"
            else:
                yield full
        elif isinstance(node, ast.Import):
            yield from (name.name for name in node.names)


def test_every_room_has_its_place():
    assert {room_of(path) for path in FILES} - {"__init__"} == set(ORDER)


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_rooms_import_only_from_those_before_them(path):
    own = room_of(path)
    if own == "__init__":
        return
    for module in imported(path):
        if not module.startswith("evenfall."):
            continue
        other = module.split(".")[1]
        if other not in (own, "__version__"):
            assert ORDER[other] < ORDER[own], f"{own} imports {other}"


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_only_the_faces_know_streamlit_and_plotly(path):
    for module in imported(path):
        top = module.split(".")[0]
        assert top != "streamlit" or room_of(path) == "dashboard"
        assert top != "plotly" or room_of(path) in ("dashboard", "figures")


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_room_is_too_large(path):
    assert len(path.read_text("utf-8").splitlines()) <= 410


def test_no_line_is_too_long():
    long = [f"{path.name}:{number}" for path in [*FILES, *Path(__file__).parent.rglob("*.py")]
            for number, line in enumerate(path.read_text("utf-8").splitlines(), 1) if len(line) > 120]
    assert long == []


@pytest.mark.parametrize("modules", [
    "evenfall", "evenfall.result.assessment, evenfall.record.file, evenfall.result.text"])
def test_importing_the_library_loads_no_face(modules):
    code = (f"import sys, {modules}\n"
            "print([name for name in ('streamlit', 'plotly', 'pandas', 'sqlalchemy') if name in sys.modules])")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120)
    assert done.stdout.strip() == "[]", done.stderr


def public_things():
    for path in FILES:
        if "rooms" in path.parts or path.name == "app.py":
            continue
        name = ".".join(["evenfall", *path.relative_to(PACKAGE).with_suffix("").parts]).removesuffix(".__init__")
        module = import_module(name)
        for label, thing in vars(module).items():
            if label.startswith("_") or getattr(thing, "__module__", None) != name:
                continue
            if inspect.isclass(thing) or inspect.isfunction(thing) or hasattr(thing, "__wrapped__"):
                yield pytest.param(thing, id=f"{name}.{label}")


@pytest.mark.parametrize("thing", list(public_things()))
def test_the_docstring_is_a_contract(thing):
    text = inspect.getdoc(thing) or ""
    assert text, "a docstring is missing"
    if inspect.isclass(thing):
        return
    for name, parameter in inspect.signature(thing).parameters.items():
        if name.startswith("_"):
            continue
        star = {parameter.VAR_KEYWORD: r"\*\*", parameter.VAR_POSITIONAL: r"\*"}.get(parameter.kind, "")
        line = re.search(rf"^(?:\w+, )*{star}{name}(?:, \w+)*(?: :.*)?$", text, re.M)
        assert line, f"parameter {name} is not described"
        if parameter.annotation in ("float", "np.ndarray", float):
            assert "[" in line[0] or "of bool" in line[0], f"parameter {name} has no unit in square brackets"
    returns = inspect.signature(thing).return_annotation
    if returns not in (None, "None", inspect.Signature.empty, "NoReturn"):
        assert "Returns\n-------" in text or "Yields\n------" in text, "what it returns is not described"
    if returns in ("float", "np.ndarray", float):
        section = text[text.index("Returns\n-------") :]
        assert "[" in section or "of bool" in section, "the return has no unit in square brackets"


def test_dataclasses_of_results_say_the_unit_of_every_field():
    from dataclasses import fields, is_dataclass

    for path in FILES:
        if room_of(path) not in ("results", "catch", "odd_cans", "uniformity", "surface", "dry_spots", "patches",
                                 "summaries", "compare"):
            continue
        module = import_module(f"analysis.{room_of(path)}")
        for thing in vars(module).values():
            if not (is_dataclass(thing) and isinstance(thing, type) and thing.__module__ == module.__name__):
                continue
            assert thing.__dataclass_params__.frozen, thing
            text = inspect.getdoc(thing)
            for item in fields(thing):
                line = re.search(rf"^(?:\w+, )*{item.name}(?:, \w+)* :(.*)$", text, re.M)
                assert line, f"{thing.__name__}.{item.name} is not described"
                if item.type.startswith(("float", "np.ndarray")) and item.name not in (
                        "row", "column", "state", "inside"):
                    assert "[" in line[1] or "unit of the figure" in text, f"{thing.__name__}.{item.name} has no unit"


def test_nothing_stands_beside_the_agreed_top_level():
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True)
    if tracked.returncode:
        pytest.skip("not a git checkout")
    top = {line.split("/")[0] for line in tracked.stdout.splitlines()}
    assert {name for name in top if not name.startswith(".")} <= {
        "README.md", "DEVELOPERS.md", "pyproject.toml", "streamlit_app.py", "analysis", "tests", "sample_tests"}


def test_every_import_is_declared():
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    declared = {re.match(r"[\w-]+", item)[0].replace("-", "_")
                for item in project["dependencies"]}
    used = {module.split(".")[0] for path in FILES for module in imported(path)} - {"evenfall"}
    outside = {name for name in used if name not in sys.stdlib_module_names}
    declared = declared - {"uharfbuzz", "fpdf2"} | {"fpdf"}  # fpdf2 is imported as fpdf, and shapes text with uharfbuzz
    assert outside == declared, "a dependency that nothing imports"


def test_the_two_places_of_the_dashboard_settings_agree():
    import tomllib

    from evenfall.cli.app import settings_of

    config = tomllib.loads((ROOT / ".streamlit" / "config.toml").read_text("utf-8"))
    flat = {}
    for section, keys in config.items():
        for key, value in keys.items():
            inner = value if isinstance(value, dict) else {"": value}
            flat |= {".".join(part for part in (section, key, last) if part): item for last, item in inner.items()}
    ours = settings_of(port=8501, share=False, browser=True)
    for key, value in flat.items():
        assert str(ours[key]).casefold() == str(value).casefold(), key
