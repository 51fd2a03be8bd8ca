"""Settings, all by environment. Nobody imports this module; other rooms are named here only by strings.

READYGROUND_DATA folder of database, broker files and secrets (default .data) · _SECRET · _BASE_URL · _HOSTS ·
_SMTP_URL · _MAIL_FROM · _CONTACT · _PUSH_KEY · _TOKEN_DAYS · _WEBHOOK_ALLOW · _PRODUCTION; DATABASE_URL and REDIS_URL
for the grown-up way to run.
"""

import os
import secrets
from contextlib import suppress
from pathlib import Path

import environ
from django.core.exceptions import ImproperlyConfigured

KNOWN = {
    "DATA",
    "SECRET",
    "BASE_URL",
    "HOSTS",
    "SMTP_URL",
    "MAIL_FROM",
    "CONTACT",
    "PUSH_KEY",
    "TOKEN_DAYS",
    "WEBHOOK_ALLOW",
    "PRODUCTION",
}
_unknown = sorted(k for k in os.environ if k.startswith("READYGROUND_") and k[len("READYGROUND_") :] not in KNOWN)
if _unknown:
    _known = ", ".join("READYGROUND_" + k for k in sorted(KNOWN))
    raise ImproperlyConfigured(f"Unknown setting {', '.join(_unknown)}. Known: {_known}.")

env = environ.Env()
ROOT = Path(__file__).resolve().parent.parent
DATA = Path(env.str("READYGROUND_DATA", default=str(ROOT / ".data"))).resolve()
DATA.mkdir(parents=True, exist_ok=True, mode=0o700)  # people and addresses are in it
os.umask(0o077)  # and in whatever else the program writes
FIXTURES = ROOT / "fixtures"

PRODUCTION = env.bool("READYGROUND_PRODUCTION", default=False)
DEBUG = False


def _kept_secret() -> str:
    """The secret of the data folder, made once; a lost race reads the winner's."""
    path = DATA / "secret"
    try:
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as handle:
            handle.write(secrets.token_urlsafe(48))
    except FileExistsError:
        pass
    kept = path.read_text().strip()
    return kept or secrets.token_urlsafe(48)


SECRET_KEY = env.str("READYGROUND_SECRET", default="") or _kept_secret()
BASE_URL = env.str("READYGROUND_BASE_URL", default="http://127.0.0.1:8000")
ALLOWED_HOSTS = env.list("READYGROUND_HOSTS", default=["127.0.0.1", "localhost", "[::1]", "testserver"])

INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "rest_framework",
    "django_filters",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "drf_standardized_errors",
    "axes",
    "csp",
    "core",
    "plots",
    "jobs",
]

MIDDLEWARE = [
    "core.middleware.PolicyMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "core.middleware.PersonMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "csp.middleware.CSPMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "core.urls"
WSGI_APPLICATION = "core.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
        },
    }
]

_SQLITE = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 20,
    "init_command": (
        "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;PRAGMA foreign_keys=ON;PRAGMA recursive_triggers=ON;"
        "PRAGMA journal_size_limit=67108864;"
    ),
}
DATABASES = {"default": env.db_url("DATABASE_URL", default=f"sqlite:///{DATA / 'readyground.sqlite3'}")}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["OPTIONS"] = _SQLITE
    for _file in DATA.glob("readyground.sqlite3*"):  # made before the mask above
        with suppress(OSError):
            _file.chmod(0o600)
else:
    DATABASES["default"]["CONN_HEALTH_CHECKS"] = True
    DATABASES["default"]["CONN_MAX_AGE"] = 60
    DATABASES["default"].setdefault("OPTIONS", {})["options"] = (
        "-c statement_timeout=60s -c lock_timeout=20s -c idle_in_transaction_session_timeout=60s"
    )
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "core.User"
SILENCED_SYSTEM_CHECKS = [
    "auth.W004",  # the address is unique in small letters, by the constraint user_email_once
    "fields.W161",  # 18:00 is meant as the usual evening; the check takes it for a clock read at start, at that minute
]
AUTHENTICATION_BACKENDS = ["axes.backends.AxesStandaloneBackend", "django.contrib.auth.backends.ModelBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = 0.25
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_CLIENT_IP_CALLABLE = "core.access.client_ip"
AXES_USERNAME_FORM_FIELD = "username"  # of the sign-in form; by default the model's field, which it does not send
AXES_LOCKOUT_CALLABLE = "core.views.locked_out"
AXES_VERBOSE = False
AXES_SENSITIVE_PARAMETERS = ["username", "ip_address"]
TOKEN_DAYS = env.int("READYGROUND_TOKEN_DAYS", default=366)
"""The longest life of a script's token, at most a year."""
if not 1 <= TOKEN_DAYS <= 366:
    raise ImproperlyConfigured("READYGROUND_TOKEN_DAYS is a number of days from 1 to 366.")
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "sign-in"

TIME_ZONE = "UTC"
USE_TZ = True
LANGUAGE_CODE = "en-us"
USE_I18N = False

STATIC_URL = "static/"
STATIC_ROOT = DATA / "static"
STATIC_ROOT.mkdir(exist_ok=True)
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = False
DATA_UPLOAD_MAX_MEMORY_SIZE = 12 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 12 * 1024 * 1024

SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
X_FRAME_OPTIONS = "DENY"
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
if PRODUCTION:
    SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = True
    SECURE_SSL_REDIRECT = True
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_HSTS_SECONDS = 31_536_000
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    SECURE_HSTS_PRELOAD = True
    CSRF_TRUSTED_ORIGINS = [BASE_URL]
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'self'"],
        "script-src": ["'self'"],
        "style-src": ["'self'"],
        "connect-src": ["'self'"],
        "img-src": ["'self'", "data:"],
        "object-src": ["'none'"],
        "base-uri": ["'none'"],
        "frame-ancestors": ["'none'"],
        "form-action": ["'self'"],
    }
}

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "core.api.authentication.TokenAuthentication",
        "core.api.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["core.api.permissions.InHolding"],
    "DEFAULT_RENDERER_CLASSES": ["core.api.rendering.OrjsonRenderer"],
    "DEFAULT_PARSER_CLASSES": ["core.api.parsing.JSONParser"],
    "DEFAULT_PAGINATION_CLASS": "core.api.paging.Pages",
    "DEFAULT_FILTER_BACKENDS": ["core.api.filters.Filters"],
    "DEFAULT_SCHEMA_CLASS": "core.api.schema.Schema",
    "DEFAULT_METADATA_CLASS": None,
    "EXCEPTION_HANDLER": "core.api.errors.handle",
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
    "UNAUTHENTICATED_USER": None,
    "COERCE_DECIMAL_TO_STRING": False,
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Readyground",
    "DESCRIPTION": "What can be done next, where, by whom, with what, in which hours; and what holds the rest.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["core.api.permissions.Anybody"],
    "SERVE_AUTHENTICATION": [],
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "COMPONENT_SPLIT_REQUEST": True,
    "ENFORCE_NON_BLANK_FIELDS": True,
    "SCHEMA_PATH_PREFIX": "/api/",
    "ENUM_NAME_OVERRIDES": {
        "TokenKind": "core.models.TokenKind",
        "Units": "core.models.Units",
        "HoldingState": "core.models.HoldingState",
        "NoticeState": "core.models.NoticeState",
        "NoticeWeight": "core.models.NoticeWeight",
        "Role": "core.models.Role",
        "WayKind": "core.models.WayKind",
        "Tenure": "plots.models.Tenure",
        "PlotKind": "plots.models.PlotKind",
        "QuietKind": "plots.models.QuietKind",
        "MachineState": "plots.models.MachineState",
        "DayKind": "plots.models.DayKind",
        "SkipEffect": "jobs.models.SkipEffect",
        "LinkRelation": "jobs.models.LinkRelation",
        "LagUnit": "jobs.models.LagUnit",
        "NeedKind": "jobs.models.NeedKind",
        "JobState": "jobs.models.JobState",
        "AssignmentState": "jobs.models.AssignmentState",
        "ReportKind": "jobs.models.ReportKind",
    },
}

REDIS_URL = env.str("REDIS_URL", default="")
MAIL_FROM = env.str("READYGROUND_MAIL_FROM", default="readyground@example.org")
SMTP_URL = env.str("READYGROUND_SMTP_URL", default="")
CONTACT = env.str("READYGROUND_CONTACT", default="")
NWS_URL = "https://api.weather.gov"  # a constant: what is fetched is never named by anybody's text
OPEN_METEO_URL = "https://api.open-meteo.com/v1/forecast"  # its free use is non-commercial: see plots/services/weather
USGS_URL = "https://api.waterdata.usgs.gov/ogcapi/v0/collections/continuous/items"
USGS_OLDER_URL = "https://waterservices.usgs.gov/nwis/iv/"
GHCN_URL = "https://www.ncei.noaa.gov/data/global-historical-climatology-network-daily/access"
NORMALS_URL = "https://www.ncei.noaa.gov/data/normals-daily/1991-2020/access"
NWPS_URL = "https://api.water.noaa.gov/nwps/v1/gauges"
DEFAULT_FROM_EMAIL = MAIL_FROM
WEBHOOK_ALLOW = env.list("READYGROUND_WEBHOOK_ALLOW", default=[])
"""host:port of gateways in one's own network, which may be reached without TLS; refused in production."""
if SMTP_URL:
    globals().update(environ.Env.email_url_config(SMTP_URL))
EMAIL_TIMEOUT = 10  # of each step of a mail's way out; the lease of a claimed notice covers a whole one

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"()": "core.logs.Discreet"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {
        "readyground": {"level": "INFO"},
        "django.request": {"level": "ERROR"},
        "django.server": {"handlers": ["console"], "level": "ERROR", "propagate": False},
    },
}
