"""`manage.py invite`: the link by which a person comes to sign in, shown once."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core.errors import Refused
from core.models import Person
from core.services.invitations import invite, link_of


class Command(BaseCommand):
    help = "Invite a person of a holding and print the link: good once, for seven days. An older one ends."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--holding", required=True, help="key or name of the holding")
        parser.add_argument("--person", required=True, help="name of the person, as it stands in the holding")

    def handle(self, *args: Any, **options: Any) -> None:
        holding, name = options["holding"], options["person"]
        people = Person.objects.filter(name=name, active=True)
        found = list(people.filter(holding__key=holding) or people.filter(holding__name=holding))
        if len(found) != 1:
            count = "nobody" if not found else f"{len(found)} people"
            raise CommandError(f"'{name}' names {count} in '{holding}'. Give holding and person as they are listed.")
        try:
            secret = invite(person=found[0], by=None)
        except Refused as error:
            raise CommandError(error.sentence) from error
        self.stdout.write(link_of(secret))
