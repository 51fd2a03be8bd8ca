"""The application that the bench of the next list serves: the program's, with the bench's addresses beside."""

import os

import django
from django.core.handlers.wsgi import WSGIHandler

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "core.settings")
django.setup(set_prefix=False)

from django.conf import settings  # noqa: E402

settings.ROOT_URLCONF = "tests.bench.next"
application = WSGIHandler()
