"""The one settings file. The environment is read through typed helpers that fail loudly."""

import os
import secrets
from pathlib import Path

import dj_database_url
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

from projects.command_line import ABOVE as BASE
from projects.command_line import COMMAND, SHIPPED, usual_data

__all__ = ["BASE", "COMMAND", "SHIPPED"]


def env_text(name: str, default: str = "") -> str:
    return os.environ.get(name, default).strip()


def env_flag(name: str, default: bool = False) -> bool:
    text = env_text(name, "1" if default else "0").lower()
    if text not in {"0", "1", "true", "false", "yes", "no"}:
        raise ImproperlyConfigured(f"{name} must be 1 or 0, not {text!r}")
    return text in {"1", "true", "yes"}


def env_list(name: str, default: str = "") -> list[str]:
    return [part.strip() for part in env_text(name, default).split(",") if part.strip()]


def kept_secret(path: Path) -> str:
    """A secret made once and kept beside the database, so that sessions outlive a restart."""
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch(mode=0o600)
        path.write_text(secrets.token_urlsafe(50), encoding="utf-8")
    return path.read_text(encoding="utf-8").strip()


DATA = Path(env_text("FETTLEBOOK_DATA") or usual_data())
SECRET_KEY = env_text("SECRET_KEY") or kept_secret(DATA / "secret_key")
DEBUG = env_flag("DEBUG")
ALLOWED_HOSTS = env_list("ALLOWED_HOSTS", "localhost,127.0.0.1,[::1]")
CSRF_TRUSTED_ORIGINS = env_list("CSRF_TRUSTED_ORIGINS")
SITE_ADDRESS = env_text("SITE_ADDRESS").rstrip(
    "/"
)  # for tags and mails, where a workshop names none; serve knows its own

INSTALLED_APPS = [
    "projects",
    "finishing",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_tasks",
    "django_tasks_db",
    "django_htmx",
    "template_partials",
    "csp",
    "django.forms",  # the templates of its widgets
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "finishing.site.compression.PageCompression",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "finishing.workshops.access.DeviceMiddleware",
    "finishing.workshops.access.WorkshopMiddleware",
    "finishing.workshops.actions.audit.AuditMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "projects.site.outbox.OutboxMiddleware",  # the innermost: what the others add to an answer stays with it
]

ROOT_URLCONF = "projects.urls"
WSGI_APPLICATION = "projects.wsgi.application"
AUTH_USER_MODEL = "finishing.User"
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "day-sheet"
LOGOUT_REDIRECT_URL = "sign-in"
SILENCED_SYSTEM_CHECKS = [
    "fields.W161",  # work begins at eight: a fixed time of day is meant
    "security.W005",  # our name's neighbours below the same domain are not ours to bind to https
    "security.W021",  # nor to be listed in browsers
]
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [SHIPPED / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "finishing.workshops.access.own_parts",
            ],
            "builtins": [
                *(
                    f"finishing.site.templatetags.{name}"
                    for name in ("quantities", "sources", "clock", "reasons", "terms", "drawn")
                ),
                *(f"projects.site.templatetags.{name}" for name in ("money", "plans")),
                "projects.work.words",
                "template_partials.templatetags.partials",  # as Django 6 has them
            ],
            "libraries": {name: f"projects.site.templatetags.{name}" for name in ("costs", "sections")},
        },
    }
]

FORM_RENDERER = "finishing.site.rendering.FormRenderer"

DATABASES = {
    "default": dj_database_url.parse(
        env_text("DATABASE_URL") or f"sqlite:///{(DATA / 'fettlebook.sqlite3').as_posix()}"
    )
}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["ENGINE"] = "finishing.site.sqlite3"
    DATABASES["default"]["OPTIONS"] = {
        "timeout": 20,  # seconds a writer waits for another before it gives up
        "transaction_mode": "IMMEDIATE",  # take the write lock at once, so no transaction fails half-way
        # FULL: what was acknowledged outlives a pulled plug; replaced rows meet the log's guard too
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;"
        " PRAGMA recursive_triggers=ON;",
    }

PASSWORD_HASHERS = [
    "finishing.workshops.hashing.SmallArgon2",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",  # of accounts made before; made anew when they sign in
]
PASSWORD_RESET_TIMEOUT = 60 * 60 * 24  # a link for a new password
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in ("MinimumLengthValidator", "CommonPasswordValidator", "NumericPasswordValidator")
]

# Plans are made beside the pages by a worker that serve and demo start; what waits is kept in the same database.
TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}

LANGUAGE_CODE = "en-gb"
USE_I18N = False
TIME_ZONE = "UTC"
USE_TZ = True

STATIC_URL = "static/"
BACKUPS = Path(env_text("FETTLEBOOK_BACKUPS") or DATA / "backups")
RESTORES_FROM_PAGE = False  # the command that serves the pages can close them meanwhile, and says so
MEDIA_ROOT = DATA / "media"  # never served as it is: photos pass through a view that checks who asks
STATIC_ROOT = DATA / "static"  # collected by serve and demo as they start
STATIC_ROOT.mkdir(parents=True, exist_ok=True)
STORAGES: dict[str, dict[str, object]] = {
    "default": {"BACKEND": "projects.site.whole_files.WholeFiles"},
    "staticfiles": {"BACKEND": "projects.site.static_files.HashedStaticFiles"},
}
WHITENOISE_USE_FINDERS = True  # what is not collected is served from where it lies
WHITENOISE_KEEP_ONLY_HASHED_FILES = True

# No inline script or style anywhere, and nothing from another host: the workshop's internet may be down.
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "object-src": [NONE],
        "base-uri": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    }
}
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_AGE = 60 * 60 * 24 * 60  # two months: a phone in the yard stays signed in
BEHIND_TLS = env_flag("BEHIND_TLS")
TLS_FOLDER = DATA / "tls"  # the workshop's own certificate authority, made by serve --tls
TLS_PORT = 0  # where serve speaks TLS, if it does
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = BEHIND_TLS
if BEHIND_TLS:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_REDIRECT_EXEMPT = [r"^healthy/$"]  # asked by the proxy itself
    SECURE_HSTS_SECONDS = 60 * 60 * 24 * 365

DATA_UPLOAD_MAX_MEMORY_SIZE = 10 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5000
STRANGER_MOST_BYTES = 1024 * 1024  # of one request by somebody who is not signed in
MEMBER_MOST_BYTES = 200 * 1024 * 1024
PHOTO_MOST_BYTES = 20 * 1024 * 1024
PHOTO_MOST_PIXELS = 80_000_000

WEATHER_USER_AGENT = env_text("WEATHER_USER_AGENT", "Fettlebook/0.1 (self-hosted workshop log)")

# Where several machines serve, photos and papers lie in a store that speaks S3; keys come from its usual environment.
S3_BUCKET = env_text("S3_BUCKET")
if S3_BUCKET:
    STORAGES["default"] = {
        "BACKEND": "storages.backends.s3.S3Storage",
        "OPTIONS": {
            "bucket_name": S3_BUCKET,
            "endpoint_url": env_text("S3_ENDPOINT") or None,
            "file_overwrite": False,
        },
    }

LOG_FORMAT = env_text("LOG_FORMAT", "plain")
if LOG_FORMAT not in {"plain", "json"}:
    raise ImproperlyConfigured(f"LOG_FORMAT must be plain or json, not {LOG_FORMAT!r}")
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "%(message)s"}, "json": {"()": "projects.site.logs.JsonLines"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": LOG_FORMAT}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
