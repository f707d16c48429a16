"""What the README and DEVELOPERS promise is there, and what is there is in them."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


def text_of(name):
    return (ROOT / name).read_text(encoding="utf-8")


def commands():
    """Our own management commands, by the files that hold them."""
    return sorted(
        path.stem
        for package in ("finishing", "projects")
        for path in (ROOT / package / "management" / "commands").glob("[!_]*.py")
    )


def environment():
    """Every name that the settings read from the environment."""
    return sorted(set(re.findall(r'env_(?:text|flag|list)\("(\w+)"', text_of("projects/settings.py"))))


@pytest.mark.parametrize("last", ["python manage.py demo", "pytest"])
def test_each_of_the_readme_s_two_commands_ends_as_promised(last):
    blocks = re.findall(r"```[a-z]*\n(.*?)```", text_of("README.md"), re.DOTALL)
    assert any(block.strip().splitlines()[-1].endswith(last) for block in blocks)


def test_the_readme_installs_what_its_tests_need():
    assert re.search(r"pip install -e ['\"]?\.\[test\]", text_of("README.md"))


@pytest.mark.parametrize("command", commands())
def test_every_command_is_told(command):
    assert f"manage.py {command}" in text_of("README.md") + text_of("DEVELOPERS.md")


@pytest.mark.parametrize("name", environment())
def test_every_setting_of_the_environment_is_told(name):
    assert name in text_of("README.md") + text_of("DEVELOPERS.md")


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_every_path_that_a_document_names_is_there(document):
    """A path in backquotes with a slash in it, unless it is made at a start (.data) or stands for many (<…>, …)."""
    named = re.findall(r"`([\w./-]+/[\w./-]*)`", text_of(document))
    missing = [path for path in named if not path.startswith((".data", "/")) and not (ROOT / path).exists()]
    assert not missing


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_every_picture_that_a_document_shows_is_there(document):
    for path in re.findall(r"!\[[^\]]*\]\((?!https?:)([^)]+)\)", text_of(document)):
        assert (ROOT / path).exists(), path


def test_the_dependencies_each_say_their_reason():
    block = text_of("pyproject.toml").split("dependencies = [")[1].split("[tool.")[0]
    wanted = [line for line in block.splitlines() if line.strip().startswith('"')]
    assert len(wanted) > 10
    assert not [line for line in wanted if "#" not in line]
