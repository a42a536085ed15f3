"""Settings, all of them by the environment. DEVELOPERS.md lists the names.

SHOPSERV_ENV is `production` unless it says `demo` or `test`: what nobody has set up must not be lax by accident.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import Any

import environ
from django.core.exceptions import ImproperlyConfigured
from django.core.management.utils import get_random_secret_key

from shopserv.common.logs import logging_config

BASE_DIR = Path(__file__).resolve().parent.parent
env = environ.Env()

SHOPSERV_ENV = env.str("SHOPSERV_ENV", "production")
if SHOPSERV_ENV not in ("production", "demo", "test"):
    raise ImproperlyConfigured(f"SHOPSERV_ENV is {SHOPSERV_ENV!r}; it may be production, demo or test.")
IN_PRODUCTION, IN_DEMO, IN_TEST = (name == SHOPSERV_ENV for name in ("production", "demo", "test"))

VAR_DIR = Path(env.str("VAR_DIR", str(BASE_DIR / "var")))
VAR_DIR.mkdir(parents=True, exist_ok=True)

# Secrets and switches


def secret_key() -> str:
    """The key that signs sessions: from the environment or a file named there; the demonstration makes its own."""
    if IN_TEST:
        return "only the tests sign with this, and it is long enough for that"
    if name := env.str("SECRET_KEY_FILE", ""):
        return Path(name).read_text("utf-8").strip()
    if IN_DEMO and not env.str("SECRET_KEY", ""):
        path = VAR_DIR / "secret_key"
        if not path.exists():
            path.touch(mode=0o600)
            path.write_text(get_random_secret_key(), "utf-8")
        return path.read_text("utf-8")
    return env.str("SECRET_KEY", "")


SECRET_KEY = secret_key()
SECRET_KEY_FALLBACKS = env.list("SECRET_KEY_FALLBACKS", default=[])
DEBUG = env.bool("DEBUG", False)
HTTPS = env.bool("HTTPS", IN_PRODUCTION)
BEHIND_PROXY = env.bool("BEHIND_PROXY", False)
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=[] if IN_PRODUCTION else ["127.0.0.1", "localhost", "testserver"])
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[])
SITE_URL = env.str("SITE_URL", "" if IN_PRODUCTION else f"http://127.0.0.1:{env.int('PORT', 8000)}")

if IN_PRODUCTION:
    if len(SECRET_KEY) < 50:
        raise ImproperlyConfigured(
            "shopserv does not start: SECRET_KEY is missing or shorter than 50 characters. Set it in the environment, "
            "or name a file that holds it in SECRET_KEY_FILE. `openssl rand -base64 48` makes one."
        )
    if DEBUG:
        raise ImproperlyConfigured(
            "shopserv does not start: DEBUG is on in production, and its error pages would show the shop's data. "
            "Take DEBUG out of the environment."
        )
    if not ALLOWED_HOSTS or "*" in ALLOWED_HOSTS:
        raise ImproperlyConfigured(
            "shopserv does not start: ALLOWED_HOSTS must name the host names of the shop's address, comma between them."
        )

# Applications

AUTH_USER_MODEL = "shop.Staff"
INSTALLED_APPS = [
    "shopserv.common",
    "shopserv.shop",
    "shopserv.papers",
    "shopserv.outbox",
    "shopserv.catalog",
    "shopserv.registry",
    "shopserv.logbook",
    "shopserv.reminders",
    "shopserv.jobs",
    "shopserv.billing",
    "shopserv.web",
    "shopserv.demo",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_htmx",
    "csp",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "shopserv.web.headers.HeadersMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "csp.middleware.CSPMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "shopserv.web.middleware.ActorMiddleware",
]
ROOT_URLCONF = "shopserv.urls"
WSGI_APPLICATION = "shopserv.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "shopserv.web.nav.page",
            ]
        },
    }
]

# Databases

SQLITE_OPTIONS = {
    "timeout": 10,
    "transaction_mode": "IMMEDIATE",  # DEFERRED answers "database is locked" at once when a read turns into a write
    "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON",  # NORMAL loses commits
}


def postgres_options(in_test: bool) -> dict[str, Any]:
    """Pool and time limits of a connection to PostgreSQL."""
    limits = {
        "lock_timeout": "10s" if in_test else "2s",
        "statement_timeout": env.str("STATEMENT_TIMEOUT", "15s"),
        "idle_in_transaction_session_timeout": "30s",
    }
    return {
        "pool": {"min_size": 1, "max_size": env.int("POOL_SIZE", 20 if in_test else 8), "timeout": 10},
        "options": " ".join(f"-c {name}={value}" for name, value in limits.items()),
    }


def database() -> dict[str, Any]:
    """The one database: SQLite in `var/` unless DATABASE_URL names another."""
    found: dict[str, Any] = env.db("DATABASE_URL", default=f"sqlite:///{VAR_DIR / 'shopserv.sqlite3'}")
    if IN_TEST:  # tests/both_engines.py sets it; a name of its own lets two runs stand side by side
        found = env.db("TEST_DATABASE_URL", default="sqlite://:memory:")
    if found["ENGINE"] == "django.db.backends.sqlite3":
        name = Path(tempfile.gettempdir()) / f"shopserv-test-{os.getpid()}.sqlite3"
        return found | {"OPTIONS": SQLITE_OPTIONS, "TEST": {"NAME": str(name)}}
    return found | {
        "CONN_MAX_AGE": 0,  # the pool keeps them
        "CONN_HEALTH_CHECKS": True,
        "OPTIONS": found.get("OPTIONS", {}) | postgres_options(IN_TEST),
        "TEST": {"NAME": f"shopserv_test_{os.getpid()}"},
    }


DATABASES = {"default": database()}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# Signing in

AUTHENTICATION_BACKENDS = ["shopserv.web.people.StaffBackend"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
if IN_TEST:
    PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]  # a test signs in a thousand times
AUTH_PASSWORD_VALIDATORS = [
    # NIST SP 800-63B-4 section 3.1.1.2: 15 characters where the password is the only factor, no composition rules
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 15}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "sign_in"
CSRF_FAILURE_VIEW = "shopserv.web.faults.csrf_failed"
SECURITY_CONTACT = env.str("SECURITY_CONTACT", "security@example.com")
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign_in"
SESSION_COOKIE_AGE = 7 * 24 * 3600
SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = ("__Host-session", "__Host-csrf") if HTTPS else ("session", "csrf")
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = HTTPS
SESSION_COOKIE_HTTPONLY = CSRF_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"

# What every answer carries

SECURE_SSL_REDIRECT = HTTPS and not IN_TEST
SECURE_REDIRECT_EXEMPT = [r"^healthz$", r"^readyz$"]  # asked from inside, without TLS
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = HTTPS
SECURE_REFERRER_POLICY = "same-origin"  # no-referrer would make the browser's own forms fail the CSRF check
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
if BEHIND_PROXY:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'none'"],
        "script-src": ["'self'"],
        "style-src": ["'self'"],
        "img-src": ["'self'", "data:"],
        "font-src": ["'self'"],
        "connect-src": ["'self'"],
        "form-action": ["'self'"],
        "frame-ancestors": ["'none'"],
        "base-uri": ["'none'"],
    }
}

# Static files, files, texts, time, mail

STATIC_URL = "/static/"
STATIC_ROOT = Path(env.str("STATIC_ROOT", str(VAR_DIR / "static")))
STATICFILES_DIRS = [BASE_DIR / "static"]
HASHED = "whitenoise.storage.CompressedManifestStaticFilesStorage"
PLAIN = "django.contrib.staticfiles.storage.StaticFilesStorage"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": PLAIN if IN_TEST else HASHED},
}
WHITENOISE_USE_FINDERS = WHITENOISE_AUTOREFRESH = IN_TEST
MEDIA_ROOT = VAR_DIR / "files"

LANGUAGE_CODE = "en-us"
LANGUAGES = [("en", "English")]  # those with a whole catalog of texts: no page mixes two
LOCALE_PATHS = [BASE_DIR / "locale"]
TIME_ZONE = "UTC"
USE_TZ = True
CLOCK_OFFSET_FILE = str(VAR_DIR / "clock") if IN_DEMO else None
DEMO_PHRASE = "weir lane ropewalk 14"

EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
if IN_PRODUCTION:
    vars().update(env.email("EMAIL_URL", default="smtp://localhost:25"))
else:
    EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    EMAIL_FILE_PATH = str(VAR_DIR / "mail")
DEFAULT_FROM_EMAIL = env.str("DEFAULT_FROM_EMAIL", "shop@localhost")
EMAIL_TIMEOUT = 10

LOGGING = logging_config(env.str("LOG_LEVEL", "ERROR" if IN_TEST else "INFO"))
LOGGING_CONFIG = "logging.config.dictConfig"
