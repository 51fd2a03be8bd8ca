"""`manage.py token`: a key for a script, shown once."""

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from core.errors import Refused
from core.models import Person, TokenKind
from core.services.tokens import make_token


class Command(BaseCommand):
    help = "Make a token for a person's script and print its secret; it is not shown again."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("person", help="name or mail address of the person")
        parser.add_argument("--holding", help="key or name of the holding, where the name stands in several")
        parser.add_argument("--kind", choices=TokenKind.values, default=TokenKind.FULL)
        longest = settings.TOKEN_DAYS
        parser.add_argument("--days", type=int, default=longest, help=f"valid for so many days, at most {longest}")

    def handle(self, *args: Any, **options: Any) -> None:
        wanted = options["person"]
        found = Person.objects.filter(active=True).select_related("holding").order_by("id")
        found = found.filter(user__email=wanted.lower()) if "@" in wanted else found.filter(name=wanted)
        if options["holding"]:
            named = options["holding"]
            found = found.filter(holding__name=named) | found.filter(holding__key=named)
        people = list(found)
        if len(people) != 1:
            several = ", ".join(f"{p.name} of {p.holding.name}" for p in people) or "nobody"
            raise CommandError(f"'{wanted}' names {several}. Name one person; --holding tells which holding.")
        try:
            _, secret = make_token(person=people[0], kind=options["kind"], name="made by command", days=options["days"])
        except Refused as error:
            raise CommandError(error.sentence) from error
        self.stdout.write(secret)
