"""`manage.py invite` prints a link that works once; a name that is not one person is refused with a sentence."""

from io import StringIO

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.test import Client

from core.models import Holding, Invitation, Person

pytestmark = pytest.mark.django_db


def invited(holding: str, person: str) -> str:
    out = StringIO()
    call_command("invite", holding=holding, person=person, stdout=out)
    return out.getvalue().strip()


@pytest.mark.parametrize("named", ["oak", "Oak land"])
def test_the_link_opens_the_invitation(named: str, holding: Holding) -> None:
    Holding.objects.filter(pk=holding.pk).update(key="oak", name="Oak land")
    ben = Person.objects.create(holding=holding, name="Ben")
    link = invited(named, "Ben")
    assert Client().get(link.removeprefix(settings.BASE_URL)).status_code == 200
    assert Invitation.objects.get().person == ben


@pytest.mark.parametrize("person", ["Nobody", "Manager of other"])
def test_a_name_of_nobody_in_the_holding_is_refused(person: str, holding: Holding, other_manager: Person) -> None:
    with pytest.raises(CommandError, match="names nobody in 'Home holding'"):
        invited("Home holding", person)


def test_who_signs_in_already_is_not_invited(manager: Person) -> None:
    with pytest.raises(CommandError, match="signs in already"):
        invited("Home holding", "Manager of home")
