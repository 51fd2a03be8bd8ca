"""`manage.py begin`: the first holding with its manager, on an empty or a running database."""

from argparse import ArgumentParser
from getpass import getpass
from typing import Any
from zoneinfo import available_timezones

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.core.validators import validate_email
from django.db import connection, transaction

from core.models import Graph, Holding, Person, Role, User, Way, WayKind
from core.services.facts import ALL, touch


class Command(BaseCommand):
    help = "Make a holding and its manager, who signs in with a mail address and a password."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--holding", help="name of the holding")
        parser.add_argument("--name", help="the manager's name")
        parser.add_argument("--mail", help="the manager's mail address, used to sign in")
        parser.add_argument("--password", help="asked for if not given")
        parser.add_argument("--zone", default="America/Chicago", help="time zone, like America/Chicago")

    def handle(self, *args: Any, **options: Any) -> None:
        if connection.vendor == "sqlite":
            call_command("migrate", verbosity=0)
        try:
            name = options["holding"] or input("Name of the holding: ").strip()
            person = options["name"] or input("Your name: ").strip()
            mail = (options["mail"] or input("Your mail address: ")).strip().lower()
            password = options["password"] or getpass("A password of at least 10 characters: ")
        except EOFError as error:
            raise CommandError(
                "Nobody is at a terminal to answer. Give --holding, --name, --mail and --password. Nothing was stored."
            ) from error
        try:
            validate_email(mail)
            validate_password(password)
        except ValidationError as error:
            raise CommandError(" ".join(error.messages) + " Nothing was stored.") from error
        if options["zone"] not in available_timezones():
            raise CommandError(
                f"There is no time zone '{options['zone']}'. Give one like America/New_York. Nothing was stored."
            )
        if not name or not person:
            raise CommandError("The holding and you need a name. Nothing was stored.")
        if User.objects.filter(email=mail).exists():
            raise CommandError(f"{mail} signs in already. Nothing was stored.")
        with transaction.atomic():
            holding = Holding.objects.create(name=name, zone=options["zone"])
            Graph.objects.create(holding=holding)
            user = User.objects.create_superuser(mail, password)
            manager = Person.objects.create(holding=holding, user=user, name=person, role=Role.MANAGER)
            Way.objects.create(holding=holding, person=manager, kind=WayKind.FILE, address=mail)
            touch(holding.pk, [ALL])
        self.stdout.write(f"{name} stands. Sign in as {mail} after `python manage.py serve`.")
        self.stdout.write(
            f"Its days and hours are those of {holding.zone}. Is it elsewhere? Change the zone of the holding under"
            " /admin/, or give --zone to `begin`."
        )
