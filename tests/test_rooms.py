"""The drawing of the house, in a form that runs."""

import ast
import re
import subprocess
import sys
from collections import defaultdict
from fnmatch import fnmatch
from pathlib import Path

import pytest
from importlinter.api import read_configuration
from importlinter.cli import lint_imports

ROOT = Path(__file__).resolve().parent.parent
OPTIONS = {one["id"]: one for one in read_configuration(str(ROOT / "pyproject.toml"))["contracts_options"]}
CONTRACTS = list(OPTIONS)
TEMPLATES = ROOT / "templates"
ALL_TEMPLATES = sorted(path.relative_to(TEMPLATES).as_posix() for path in TEMPLATES.rglob("*.html"))

OUR_OWN = ("finishing", "projects")

# Imports every module of the science in a process where Django is not to be had, and prints how many there were.
WITHOUT_DJANGO = """
import importlib, pkgutil, sys
sys.modules["django"] = None
import finishing.science
names = [module.name for module in pkgutil.walk_packages(finishing.science.__path__, "finishing.science.")]
for name in names:
    importlib.import_module(name)
print(len(names))
"""


@pytest.mark.parametrize("contract", CONTRACTS)
def test_every_file_uses_only_rooms_further_down(contract, capsys, monkeypatch):
    monkeypatch.chdir(ROOT)
    broken = lint_imports(config_filename="pyproject.toml", limit_to_contracts=(contract,), no_cache=True, no_logo=True)
    assert not broken, capsys.readouterr().out


def test_the_science_stands_without_django():
    run = [sys.executable, "-c", WITHOUT_DJANGO]
    ended = subprocess.run(run, cwd=ROOT, capture_output=True, text=True, check=False)
    assert ended.returncode == 0, ended.stderr
    files = (ROOT / "finishing" / "science").rglob("*.py")
    assert int(ended.stdout) == len(list(files)) - 1  # the science's own __init__ is imported first


@pytest.fixture(scope="module")
def trees():
    """Every file of our own code as it is parsed, by its path; migrations have names of their own."""
    files = [path for package in OUR_OWN for path in sorted((ROOT / package).rglob("*.py"))]
    return {
        str(path.relative_to(ROOT)): ast.parse(path.read_text(encoding="utf-8"))
        for path in files
        if "migrations" not in path.parts
    }


def test_the_name_of_a_class_stands_once(trees):
    homes = defaultdict(list)
    for path, tree in trees.items():
        for statement in tree.body:
            if isinstance(statement, ast.ClassDef) and statement.name != "Command":  # Django asks for that name
                homes[statement.name].append(path)
    assert not {name: paths for name, paths in homes.items() if len(paths) > 1}


def test_no_function_imports_our_own_code(trees):
    """But in apps.py, which Django reads before there are models."""
    functions = [
        (path, node)
        for path, tree in trees.items()
        if Path(path).name != "apps.py"
        for node in ast.walk(tree)
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef))
    ]
    assert not [
        f"{path}:{node.lineno}" for path, function in functions for node in ast.walk(function) if imports_our_own(node)
    ]


def imports_our_own(node):
    if isinstance(node, ast.Import):
        names = [alias.name for alias in node.names]
    elif isinstance(node, ast.ImportFrom):
        names = [OUR_OWN[0] if node.level else node.module]
    else:
        return False
    return any(name.split(".")[0] in OUR_OWN for name in names)


def test_there_are_no_rooms_without_a_subject():
    assert not [path for name in ("utils.py", "services.py", "helpers.py") for path in ROOT.glob(f"[!.]*/**/{name}")]


def test_the_front_door_shows_only_what_belongs_there():
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode:
        pytest.skip("not a git clone")
    visible = {path.split("/")[0] for path in listed.stdout.split() if not path.startswith(".")}
    assert visible <= {
        *("README.md", "DEVELOPERS.md", "LICENSE", "manage.py", "pyproject.toml"),
        *("projects", "finishing", "templates", "tests", "fixtures"),
    }


# a template as code and other templates name it; what is filled in by an f-string may be anything
NAMED = re.compile(r"""["']((?:[\w/]|\{[^{}]*\})+\.html)""")
REMARK = re.compile(r"{% comment %}.*?{% endcomment %}", re.DOTALL)


def named_in(path):
    text = REMARK.sub("", path.read_text(encoding="utf-8"))
    return {re.sub(r"\{[^{}]*\}", "*", name) for name in NAMED.findall(text)}


def code():
    return [path for package in ("finishing", "projects") for path in (ROOT / package).rglob("*.py")]


def floors():
    """The floors from the top down, as ("projects", "day"); what stands side by side shares a number."""
    storeys = [(package, layer) for package in ("projects", "finishing") for layer in OPTIONS[package]["layers"]]
    return {
        (package, floor): number
        for number, (package, layer) in enumerate(storeys)
        for floor in layer.strip("()").split(" | ")
    }


def test_a_template_lies_where_its_view_does():
    """templates/<package>/<floor>/<view>/; the view that has the floor's own name needs no folder of its own."""
    lost = []
    for template in ALL_TEMPLATES:
        package, *folders = Path(template).parts[:-1] or ("",)
        if folders:
            room = ROOT.joinpath(package, folders[0])
            views = {path.stem for path in (room / "views").glob("*.py")}
            lost += [] if room.is_dir() and set(folders[1:]) <= views else [template]
        elif package:
            lost.append(template)
    assert not lost


def test_a_view_renders_only_templates_of_its_own():
    lost = []
    for path in code():
        package, floor, *room = path.relative_to(ROOT).with_suffix("").parts
        if room[:1] == ["views"]:
            own = Path(package, floor, *({room[-1]} - {"views", floor}))
            lost += [f"{path.relative_to(ROOT)}: {name}" for name in named_in(path) if Path(name).parent != own]
    assert not lost


def test_a_template_takes_in_only_what_stands_on_its_floor_or_below():
    at, lost = floors(), []
    for template in ALL_TEMPLATES:
        here = Path(template).parts[:2]
        for taken in named_in(TEMPLATES / template):
            there = Path(taken).parts[:2]
            if len(Path(taken).parts) > 2 and here != there and at[there] <= at.get(here, 99):
                lost.append(f"{template}: {taken}")
    assert not lost


def test_every_template_is_named_somewhere():
    """But for those that Django looks for by the number of what went wrong."""
    named = set().union(*map(named_in, (*code(), *TEMPLATES.rglob("*.html"))))
    left = [name for name in ALL_TEMPLATES if not any(fnmatch(name, pattern) for pattern in named)]
    assert [name for name in left if not re.fullmatch(r"[45]\d\d(_csrf)?\.html", name)] == []
