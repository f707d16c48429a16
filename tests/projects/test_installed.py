"""The wheel as somebody installs it: all that pages need is in it, and its command runs from any folder."""

import os
import re
import signal
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
import requests

ROOT = Path(__file__).resolve().parents[2]
COMMAND = "import sys; sys.argv[0] = 'fettlebook'; from projects.command_line import main; main()"


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """Built from the tree, without what it would be installed with."""
    pytest.importorskip("hatchling", reason="hatchling is not installed")
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    (built,) = folder.glob("*.whl")
    return built


def test_it_holds_every_template_style_and_row_to_begin_with_and_no_test(wheel):
    names = set(zipfile.ZipFile(wheel).namelist())
    templates = {f"projects/shipped/{path.relative_to(ROOT)}" for path in (ROOT / "templates").rglob("*.html")}
    styles = {str(path.relative_to(ROOT)) for path in (ROOT / "projects" / "static").rglob("*") if path.is_file()}
    assert templates | styles <= names
    assert {f"projects/shipped/fixtures/{name}.json" for name in ("library", "demo", "demo-costs")} <= names
    assert not [name for name in names if name.startswith(("tests", ".data", "fixtures"))]
    (entry,) = [name for name in names if name.endswith("entry_points.txt")]
    assert "fettlebook = projects.command_line:main" in zipfile.ZipFile(wheel).read(entry).decode()


@pytest.mark.skipif(sys.platform == "win32", reason="a console's Ctrl-C cannot be sent to one process there")
def test_it_serves_a_first_start_from_any_folder_and_keeps_its_data_at_home(wheel, tmp_path):
    for folder in ("installed", "home", "elsewhere"):
        (tmp_path / folder).mkdir()
    zipfile.ZipFile(wheel).extractall(tmp_path / "installed")
    environment = {
        name: value for name, value in os.environ.items() if not name.startswith(("FETTLE", "DATABASE", "DJANGO"))
    }
    environment |= {"HOME": str(tmp_path / "home"), "PYTHONPATH": str(tmp_path / "installed"), "PYTHONUNBUFFERED": "1"}
    run = [sys.executable, "-c", COMMAND, "serve", "--port", "0"]
    with subprocess.Popen(
        run, cwd=tmp_path / "elsewhere", env=environment, stdout=subprocess.PIPE, text=True
    ) as server:
        try:
            address = next(line.split()[1] for line in server.stdout if line.startswith("Fettlebook: "))
            browser = requests.Session()
            page = browser.get(address, timeout=60)
            assert "Begin a workshop" in page.text
            style = re.search(r'href="(/static/projects/site[^"]*\.css)"', page.text)[1]
            assert browser.get(re.match(r"http://[^/]+", address)[0] + style, timeout=60).status_code == 200
            workshop = {"name": "Hollow Lane", "where": "52, -1"}
            person = {
                "first_name": "Ida",
                "username": "ida",
                "password1": "grit and iron",
                "password2": "grit and iron",
            }
            sent = {**workshop, **person, "units": "metric", "currency": "GBP"}
            sent["csrfmiddlewaretoken"] = browser.cookies["csrftoken"]
            assert "Day sheet" in browser.post(address, data=sent, timeout=60).text
        finally:
            server.send_signal(signal.SIGINT)
    assert (tmp_path / "home" / ".fettlebook" / "fettlebook.sqlite3").exists()
    assert not list((tmp_path / "elsewhere").iterdir())
