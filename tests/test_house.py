"""The house's own rules: what may import what, what a docstring promises, how large a room may be."""

import ast
import inspect
import re
import subprocess
import sys
from dataclasses import fields, is_dataclass
from importlib import import_module
from pathlib import Path

import pytest

from .conftest import ROOT

PACKAGE = ROOT / "analysis"
# One room per step of the job, one behind the other; a room imports only from those before it.
STAIR = ["units", "reference", "record", "disk", "entry", "cans", "hydraulics", "pattern", "causes", "changes",
         "watering", "planning", "result", "store", "compare", "figures", "paper", "api", "cli",
         "dashboard"]
ORDER = {room: number for number, room in enumerate(STAIR)}
# The rooms of the maths, where a docstring describes every parameter and return with its unit.
CONTRACTS = ["units", "reference", "record", "cans", "hydraulics", "pattern", "causes", "changes", "watering",
             "planning", "result", "api"]
# Rooms whose dataclasses are results: frozen, with a documented unit for every field.
RESULTS = ["cans", "changes", "watering", "planning", "result", "compare"]
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


def test_rooms_import_only_from_those_before_them():
    wrong = []
    for path in FILES:
        own = room_of(path)
        others = {module.split(".")[1] for module in imported(path) if module.startswith("evenfall.")}
        wrong += [f"{path.relative_to(PACKAGE)} imports {other}" for other in others - {own, "__version__"}
                  if own != "__init__" and ORDER[other] >= ORDER[own]]
    assert wrong == []


# The rooms that take a site: places and hardware are resolved there, once.
TAKE_A_SITE = ["cans", "hydraulics", "pattern", "causes", "changes", "watering", "planning"]
OF_PLACES = {"line_named", "lines_named"}  # words


def geometry_of_a_record(path: Path):
    """Where a file takes a record, or works places and hardware out of one."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            last = node.module.split(".")[-2:]
            named = {name.name for name in node.names}
            if last == ["record", "model"] and "Record" in named:
                yield "imports Record"
            if last == ["record", "places"] and named - OF_PLACES:
                yield f"imports {', '.join(sorted(named - OF_PLACES))}"
        if isinstance(node, ast.Attribute) and node.attr in ("lines", "heads", "floor", "cans"):
            inner = node.value
            if "record" in (getattr(inner, "attr", None), getattr(inner, "id", None)):
                yield f"line {node.lineno} asks the record for its {node.attr}"


def test_rooms_behind_the_record_take_a_site():
    wrong = {str(path.relative_to(PACKAGE)): found for path in FILES
             if room_of(path) in TAKE_A_SITE and (found := list(geometry_of_a_record(path)))}
    assert wrong == {}


def test_only_the_faces_know_streamlit_and_plotly():
    may = {"streamlit": ("dashboard",), "plotly": ("dashboard", "figures")}
    wrong = [f"{path.relative_to(PACKAGE)} imports {module}" for path in FILES for module in imported(path)
             if room_of(path) not in may.get(module.split(".")[0], (room_of(path),))]
    assert wrong == []


def test_no_file_is_too_large():
    long = {str(path.relative_to(PACKAGE)): lines for path in FILES
            if (lines := len(path.read_text("utf-8").splitlines())) > 410}
    assert long == {}


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


def modules():
    """Each file of the package as a module, with its room; pages and the script that starts them are no modules."""
    for path in FILES:
        if "rooms" not in path.parts and path.name not in ("app.py", "door.py"):
            name = ".".join(["evenfall", *path.relative_to(PACKAGE).with_suffix("").parts]).removesuffix(".__init__")
            yield room_of(path), import_module(name)


def public_things():
    """Room, name and thing of each public class and function."""
    for room, module in modules():
        for label, thing in vars(module).items():
            if label.startswith("_") or getattr(thing, "__module__", None) != module.__name__:
                continue
            if inspect.isclass(thing) or inspect.isfunction(thing) or hasattr(thing, "__wrapped__"):
                yield room, f"{module.__name__}.{label}", thing


def test_everything_public_has_a_docstring():
    assert [name for _, name, thing in public_things() if not inspect.getdoc(thing)] == []


def missing_in_contract(function):
    """What the docstring of a function leaves unsaid of its parameters and its return."""
    text, signature = inspect.getdoc(function) or "", inspect.signature(function)
    numbers = ("float", "np.ndarray", "Array", float)
    for name, parameter in signature.parameters.items():
        if name.startswith("_"):
            continue
        star = {parameter.VAR_KEYWORD: r"\*\*", parameter.VAR_POSITIONAL: r"\*"}.get(parameter.kind, "")
        line = re.search(rf"^(?:\w+, )*{star}{name}(?:, \w+)*(?: :.*)?$", text, re.M)
        if not line:
            yield f"parameter {name} is not described"
        elif parameter.annotation in numbers and not ("[" in line[0] or "of bool" in line[0]):
            yield f"parameter {name} has no unit in square brackets"
    _, heading, section = text.partition("Returns\n-------")
    if signature.return_annotation not in (None, "None", inspect.Signature.empty, "NoReturn"):
        if not heading and "Yields\n------" not in text:
            yield "what it returns is not described"
        elif signature.return_annotation in numbers and not ("[" in section or "of bool" in section):
            yield "the return has no unit in square brackets"


def test_the_docstring_of_the_maths_is_a_contract():
    assert [f"{name}: {what}" for room, name, thing in public_things()
            if room in CONTRACTS and not inspect.isclass(thing) for what in missing_in_contract(thing)] == []


UNITLESS = ("row", "column", "state", "inside")


def missing_in_dataclass(thing):
    """What keeps a dataclass from being a result that cannot change and says the unit of every field."""
    text = inspect.getdoc(thing) or ""
    if not thing.__dataclass_params__.frozen:
        yield "is not frozen"
    for item in fields(thing):
        line = re.search(rf"^(?:\w+, )*{item.name}(?:, \w+)* :(.*)$", text, re.M)
        if not line and thing.__module__.split(".")[1] not in CONTRACTS:  # there the unit may stand beside the field
            line = re.search(rf"(?m)^(?:    # .*\n)*    {item.name}: .*$", inspect.getsource(thing))
            line = line and ("", line[0])
        if not line:
            yield f"{item.name} is not described"
        elif item.type.startswith(("float", "np.ndarray", "Array")) and item.name not in UNITLESS:
            if "[" not in line[1] and "unit of the figure" not in text:
                yield f"{item.name} has no unit"


def test_dataclasses_of_results_say_the_unit_of_every_field():
    checked = [(name, thing) for room, name, thing in public_things()
               if is_dataclass(thing) and (room in RESULTS or name.startswith("evenfall.store.summaries."))]
    assert len(checked) > 30
    assert [f"{name}: {what}" for name, thing in checked for what in missing_in_dataclass(thing)] == []


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


def test_one_class_has_a_name():
    names = {}
    for path in FILES:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                names.setdefault(node.name, []).append(str(path.relative_to(PACKAGE)))
    assert {name: found for name, found in names.items() if len(found) > 1} == {}
