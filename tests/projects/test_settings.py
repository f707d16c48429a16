"""The environment is read once, and a wrong word in it stops the start instead of meaning something else."""

import os
import subprocess
import sys

import pytest
from django.core.exceptions import ImproperlyConfigured

from projects.settings import BASE, env_flag, env_list, kept_secret


@pytest.mark.parametrize(("text", "means"), [("1", True), ("yes", True), ("TRUE", True), ("0", False), ("no", False)])
def test_a_flag_is_read(monkeypatch, text, means):
    monkeypatch.setenv("BEHIND_TLS", text)
    assert env_flag("BEHIND_TLS") is means


@pytest.mark.parametrize("text", ["", "maybe", "2"])
def test_a_flag_that_is_neither_stops_the_start(monkeypatch, text):
    monkeypatch.setenv("BEHIND_TLS", text)
    with pytest.raises(ImproperlyConfigured, match="BEHIND_TLS must be 1 or 0"):
        env_flag("BEHIND_TLS")


def test_a_flag_not_given_is_its_default(monkeypatch):
    monkeypatch.delenv("BEHIND_TLS", raising=False)
    assert env_flag("BEHIND_TLS", default=True) is True


def test_a_list_forgives_spaces_and_a_last_comma(monkeypatch):
    monkeypatch.setenv("ALLOWED_HOSTS", "shop.example, 10.0.0.5 ,")
    assert env_list("ALLOWED_HOSTS") == ["shop.example", "10.0.0.5"]


def test_the_secret_is_made_once_and_only_its_owner_reads_it(tmp_path):
    path = tmp_path / "data" / "secret_key"
    secret = kept_secret(path)
    assert len(secret) > 50
    assert kept_secret(path) == secret
    if sys.platform != "win32":
        assert path.stat().st_mode & 0o077 == 0


def settings_in(folder, *, code, **environment):
    """What a fresh process says of its settings."""
    environment = {**os.environ, "FETTLEBOOK_DATA": str(folder), **environment}
    run = [sys.executable, "-c", f"from projects import settings\n{code}"]
    return subprocess.run(run, cwd=BASE, env=environment, capture_output=True, text=True, check=False)


def test_sqlite_waits_for_a_writer_takes_its_lock_at_once_and_keeps_foreign_keys(tmp_path):
    said = settings_in(tmp_path, code="print(settings.DATABASES['default'])", DATABASE_URL="").stdout
    assert "fettlebook.sqlite3" in said
    for wanted in (
        "'timeout': 20",
        "'transaction_mode': 'IMMEDIATE'",
        "journal_mode=WAL",
        "synchronous=FULL",
        "foreign_keys=ON",
    ):
        assert wanted in said


def test_database_url_chooses_postgresql(tmp_path):
    code = "print(settings.DATABASES['default']['ENGINE'])"
    said = settings_in(tmp_path, code=code, DATABASE_URL="postgres://hand@localhost/fettlebook").stdout
    assert said.strip() == "django.db.backends.postgresql"


def test_debug_is_off_unless_asked_for(tmp_path):
    environment = {"DEBUG": "0"}
    assert settings_in(tmp_path, code="print(settings.DEBUG)", **environment).stdout.strip() == "False"


def test_a_wrong_flag_ends_the_start_with_its_name(tmp_path):
    ended = settings_in(tmp_path, code="pass", DEBUG="perhaps")
    assert ended.returncode != 0
    assert "DEBUG must be 1 or 0" in ended.stderr


def checked(folder, **environment):
    """What Django says of a deployment with these settings."""
    environment = {**os.environ, "FETTLEBOOK_DATA": str(folder), "DEBUG": "0", **environment}
    environment.pop("DJANGO_ALLOW_ASYNC_UNSAFE", None)  # the browser tests of this process set it
    run = [sys.executable, "manage.py", "check", "--deploy"]
    ended = subprocess.run(run, cwd=BASE, env=environment, capture_output=True, text=True, check=False)
    return ended.stdout + ended.stderr


def test_behind_tls_a_deployment_has_nothing_to_be_mended(tmp_path):
    assert "no issues" in checked(tmp_path, BEHIND_TLS="1")


def test_behind_tls_a_page_asked_for_in_the_open_is_sent_on_and_stays_there(tmp_path):
    code = (
        "import django; from django.test import Client\n"
        "import os; os.environ['DJANGO_SETTINGS_MODULE'] = 'projects.settings'; django.setup()\n"
        "open_, safe = Client().get('/sources/', headers={'host': 'localhost'}),"
        " Client().get('/static/projects/site.css', headers={'host': 'localhost', 'x-forwarded-proto': 'https'})\n"
        "print(open_.status_code, open_['Location'], safe.status_code, safe['Strict-Transport-Security'])"
    )
    said = settings_in(tmp_path, code=code, BEHIND_TLS="1", DATABASE_URL="").stdout.strip()
    assert said == "301 https://localhost/sources/ 200 max-age=31536000"
