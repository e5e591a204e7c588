"""Settings. What differs from one installation to the next comes from the environment; the rest stands here."""

from __future__ import annotations

import os
import secrets
from contextlib import suppress
from importlib.util import find_spec
from pathlib import Path

import dj_database_url
from csp.constants import NONE, SELF

BASE_DIR = Path(__file__).resolve().parent.parent.parent
VAR = Path(os.environ.get("FACEWRIGHT_VAR", BASE_DIR / "var"))


def private_key() -> str:
    """Return the secret key from the environment, else one made once and kept readable to its owner alone."""
    if given := os.environ.get("SECRET_KEY"):
        return given
    kept = VAR / "secret_key"
    if not kept.exists():
        VAR.mkdir(parents=True, exist_ok=True)
        made = VAR / f"secret_key.{os.getpid()}"
        with os.fdopen(os.open(made, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as out:
            out.write(secrets.token_urlsafe(60))
        with suppress(FileExistsError):  # two processes may start at once: the first one's key is everybody's
            os.link(made, kept)
        made.unlink()
    return kept.read_text()


def flag(name: str, default: bool = False) -> bool:
    """Return whether the environment variable says yes."""
    return os.environ.get(name, str(default)).lower() in ("1", "true", "yes", "on")


DEBUG = flag("DEBUG")
SECRET_KEY = private_key()
ALLOWED_HOSTS = os.environ.get("ALLOWED_HOSTS", "localhost,127.0.0.1,[::1]").split(",")
CSRF_TRUSTED_ORIGINS = [origin for origin in os.environ.get("CSRF_TRUSTED_ORIGINS", "").split(",") if origin]

# On a network the product is served over https, else tablets refuse cookies and camera; plain http is for loopback.
HTTPS = flag("HTTPS")
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = HTTPS
SECURE_HSTS_SECONDS = 31_536_000 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = HTTPS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if HTTPS else None

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "django_filters",
    "django_htmx",
    "template_partials.apps.SimpleAppConfig",
    "csp",
    "shop.ledger",
    "shop.people",
    "shop.errands",
    "shop.paper",
    "shop.tooling",
    "shop.press",
    "shop.quality",
    "shop.watch",
    "shop.bench",
    "shop.boards",
    "shop.pages",
    "shop.site",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "shop.pages.middleware.SignInFirstMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "csp.middleware.CSPMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "shop.pages.middleware.PersonalMiddleware",
]
ROOT_URLCONF = "shop.site.urls"
WSGI_APPLICATION = "shop.site.wsgi.application"
AUTH_USER_MODEL = "people.Person"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign-in"
CSRF_FAILURE_VIEW = "shop.pages.middleware.csrf_failure"
SESSION_COOKIE_AGE = 12 * 3600
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]

DATABASES = {"default": dj_database_url.config(default=f"sqlite:///{VAR / 'facewright.sqlite3'}", conn_max_age=60)}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    Path(str(DATABASES["default"]["NAME"])).parent.mkdir(parents=True, exist_ok=True)
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA recursive_triggers=ON;",
    }

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "OPTIONS": {
            "loaders": [
                (
                    "template_partials.loader.Loader",
                    [("django.template.loaders.cached.Loader", [
                        "django.template.loaders.filesystem.Loader",
                        "django.template.loaders.app_directories.Loader",
                    ])],
                )
            ],
            "builtins": ["template_partials.templatetags.partials", "shop.people.templatetags.wording"],
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "shop.pages.middleware.navigation",
            ],
        },
    }
]

LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English"), ("de", "Deutsch"), ("es", "Español")]
LOCALE_PATHS = [BASE_DIR / "shop" / "site" / "locale"]
TIME_ZONE = "UTC"
USE_TZ = True

# The charts, the paper and the pages share one font of open licence; it comes with its own package.
FONT_DIR = Path(str(find_spec("font_source_sans_pro").submodule_search_locations[0])) / "files"  # type: ignore[union-attr,index]
STATIC_URL = "static/"
STATIC_ROOT = VAR / "static"
STATIC_ROOT.mkdir(parents=True, exist_ok=True)  # empty unless collected; without it the file server complains
STATICFILES_DIRS = [BASE_DIR / "shop" / "site" / "static", ("font", FONT_DIR)]
WHITENOISE_USE_FINDERS = True
MEDIA_ROOT = VAR / "files"
FILE_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5000

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
    }
}

# Background work: the row is the job. A broker, where there is one, only wakes a worker sooner.
BROKER_URL = os.environ.get("BROKER_URL", "")
CELERY_BROKER_URL = BROKER_URL or None
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_TIMEZONE = "UTC"
CELERY_BROKER_TRANSPORT_OPTIONS = {"socket_connect_timeout": 1, "socket_timeout": 2, "max_retries": 0}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": os.environ.get("LOG_LEVEL", "WARNING")},
}
