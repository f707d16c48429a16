"""The drawing of the house, in a form that runs."""

import subprocess
import sys
from pathlib import Path

import pytest
from importlinter.api import read_configuration
from importlinter.cli import lint_imports

ROOT = Path(__file__).resolve().parent.parent
CONTRACTS = [contract["id"] for contract in read_configuration(str(ROOT / "pyproject.toml"))["contracts_options"]]

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
