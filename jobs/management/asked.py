"""What several commands ask for: a holding, somebody in it, a property, a plot."""

from __future__ import annotations

from argparse import ArgumentParser

from django.core.management.base import CommandError

from core.models import Graph, Holding, HoldingState, Person, Role
from plots.models import Plot, Property


def add_holding(parser: ArgumentParser) -> None:
    parser.add_argument("--holding", metavar="KEY|ID", help="may be left out where there is only one")


def holding_asked(asked: str | None) -> Holding:
    """The holding of this key or id, or the only one there is.

    Raises:
        CommandError: there is none, or several and none is named.
    """
    holdings = list(Holding.objects.filter(state=HoldingState.ACTIVE).order_by("id"))
    fitting = [each for each in holdings if asked is None or asked in (each.key, str(each.pk))]
    if len(fitting) == 1:
        return fitting[0]
    if not holdings:
        raise CommandError("There is no holding yet. Make one by `manage.py begin`, or look at `manage.py demo`.")
    known = ", ".join(f"{each.key or each.pk} ({each.name})" for each in holdings)
    said = "Name the holding" if asked is None else f"No holding has the key or id '{asked}'. Name one"
    raise CommandError(f"{said} by --holding: {known}.")


def manager_of(holding: Holding) -> Person:
    """The holding's first active manager, who sees everything in it.

    Raises:
        CommandError: there is none.
    """
    person = Person.objects.filter(holding=holding, role=Role.MANAGER, active=True).order_by("id").first()
    if person is None:
        raise CommandError(f"{holding.name} has no active manager. Make one by `manage.py begin` or in the admin.")
    return person


def people_asked(holding: Holding, name: str | None) -> list[Person]:
    """The person of this name, whatever its letter case, or without one everybody who works.

    Raises:
        CommandError: nobody has the name.
    """
    people = list(Person.objects.filter(holding=holding, active=True).order_by("id"))
    if name is None:
        return [person for person in people if person.role != Role.VIEWER]
    found = [person for person in people if person.name.casefold() == name.casefold()]
    if not found:
        raise CommandError(f"Nobody here is called '{name}'. Known: {', '.join(person.name for person in people)}.")
    return found[:1]


def property_asked(holding: Holding, name: str | None) -> Property | None:
    """The property of this name, whatever its letter case; None for None.

    Raises:
        CommandError: no property has the name.
    """
    if name is None:
        return None
    places = list(Property.objects.filter(holding=holding).order_by("id"))
    found = next((place for place in places if place.name.casefold() == name.casefold()), None)
    if found is None:
        known = ", ".join(place.name for place in places) or "none yet"
        raise CommandError(f"No property is called '{name}'. Known: {known}.")
    return found


def plot_asked(name: str | None, place: str | None) -> Plot:
    """The one plot of this name, on the property of that name where one is given.

    Raises:
        CommandError: none or several have the name.
    """
    plots = Plot.objects.filter(name=name or "").select_related("property", "holding").order_by("id")
    found = list(plots.filter(property__name=place) if place else plots)
    if len(found) != 1:
        several = ", ".join(f"{plot.name} on {plot.property.name}" for plot in found) or "no plot"
        raise CommandError(f"'{name or ''}' names {several}. Give --plot and --property of one plot.")
    return found[0]


def not_walked(holding: Holding) -> list[str]:
    """A line where the stored answers are behind the facts."""
    graph = Graph.objects.get(holding=holding)
    if graph.facts_version == graph.walked_version:
        return []
    return ["The last changes are not in these lists yet. Run `manage.py walk`."]
