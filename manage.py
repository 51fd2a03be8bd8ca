#!/usr/bin/env python
"""Entry point of every command: `python manage.py help` lists them."""

import os
import sys

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "core.settings")
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import execute_from_command_line

    try:
        execute_from_command_line(sys.argv)
        sys.stdout.flush()
    except ImproperlyConfigured as error:
        sys.exit(f"Nothing was started. {error}")
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # else the end of the run stumbles over it again
        sys.stderr.write("Nobody reads on, so the rest was not printed.\n")
        sys.exit(1)
