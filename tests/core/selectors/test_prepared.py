"""Prepared queries give what the queryset they are written as gives, with other values at every run."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time

import pytest
from django.db import connection, models
from django.db.models import OuterRef
from django.test.utils import CaptureQueriesContext
from pytest_django import DjangoAssertNumQueries

from core.models import FreeException, FreeTime, Graph, Holding, Person
from core.selectors.prepared import MOST, Given, Prepared, among, listed

pytestmark = pytest.mark.django_db
NOON = datetime(2026, 4, 2, 17, tzinfo=UTC)

_IN_ZONE = Prepared(
    lambda order: (
        Holding.objects.filter(
            zone=Given("zone", models.CharField()), clock_at__lte=Given("now", models.DateTimeField())
        )
        .order_by(order)
        .values_list("name", "clock_at")
    )
)
_NAMES = Prepared(lambda: Holding.objects.filter(among("id", "ids")).order_by("id").values_list("id", "name"))


def test_each_run_reads_with_its_own_values(holding_factory: Callable[..., Holding]) -> None:
    holding_factory(name="A", zone="America/Chicago", clock_at=NOON)
    holding_factory(name="B", zone="America/Chicago", clock_at=NOON)
    holding_factory(name="C", zone="America/Denver", clock_at=NOON)
    assert _IN_ZONE.rows("name", zone="America/Chicago", now=NOON) == [("A", NOON), ("B", NOON)]
    assert _IN_ZONE.rows("-name", zone="America/Chicago", now=NOON) == [("B", NOON), ("A", NOON)]
    assert _IN_ZONE.rows("name", zone="America/Denver", now=NOON) == [("C", NOON)]
    assert _IN_ZONE.rows("name", zone="America/Denver", now=datetime(2026, 4, 2, 16, tzinfo=UTC)) == []


def test_instants_are_aware_and_days_hours_and_truths_are_themselves(helper_person: Person, holding: Holding) -> None:
    FreeException.objects.create(
        holding=holding, person=helper_person, day=date(2026, 4, 4), starts=time(8, 30), ends=time(12), free=False
    )
    columns = ("day", "starts", "ends", "free")
    free = Prepared(lambda: FreeException.objects.filter(day=Given("day", models.DateField())).values_list(*columns))
    assert free.rows(day=date(2026, 4, 4)) == [(date(2026, 4, 4), time(8, 30), time(12), False)]
    Graph.objects.filter(holding=holding).update(walked_at=NOON)
    walked = Prepared(lambda: Graph.objects.filter(pk=Given("pk")).values_list("walked_at", "wake_at"))
    assert walked.rows(pk=holding.pk) == [(NOON, None)]


def test_raw_rows_are_read_one_by_one_into_the_same(holding_factory: Callable[..., Holding]) -> None:
    for name in ("A", "B"):
        holding_factory(name=name, clock_at=NOON)
    asked = {"zone": Holding.objects.first().zone, "now": NOON}  # type: ignore[union-attr]
    raw = list(_IN_ZONE.raw("name", **asked))
    assert [_IN_ZONE.read(row, "name") for row in raw] == _IN_ZONE.rows("name", **asked)


def test_a_list_is_sent_in_bounded_parts_and_an_empty_one_not_at_all(
    holding: Holding, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_num_queries(0):
        assert _NAMES.rows(ids=[]) == []
    with django_assert_num_queries(1):
        assert _NAMES.rows(ids=[holding.pk]) == [(holding.pk, "Home holding")]
    with django_assert_num_queries(3):
        assert _NAMES.rows(ids=[holding.pk, *range(10**6, 10**6 + 2 * MOST)]) == [(holding.pk, "Home holding")]


def test_sql_is_compiled_once(holding: Holding, helper_person: Person) -> None:
    built = []

    def build() -> models.QuerySet[FreeTime, tuple[int]]:
        built.append(1)
        return FreeTime.objects.filter(person_id=Given("person")).values_list("weekday")

    week = Prepared(build)
    FreeTime.objects.create(holding=holding, person=helper_person, weekday=5, starts=time(8), ends=time(12))
    assert [week.rows(person=pk) for pk in (helper_person.pk, 987_654, helper_person.pk)] == [[(5,)], [], [(5,)]]
    assert len(built) == 1


def test_constant_words_and_numbers_stand_in_the_sql_and_given_ones_do_not(holding: Holding) -> None:
    named = Holding.objects.filter(units="us", zone=Given("zone", models.CharField()), check_in_minutes=None)
    found = Prepared(lambda: named.filter(name='O\'Hara 100% "land"').values_list("id"))
    with CaptureQueriesContext(connection) as asked:
        assert found.rows(zone=holding.zone) == []
        Holding.objects.filter(pk=holding.pk).update(name='O\'Hara 100% "land"')
        assert found.rows(zone=holding.zone) == [(holding.pk,)]
    given, constant = found._of(()).params.values()
    assert (given.name, constant) == ("zone", 'O\'Hara 100% "land"')
    assert len(asked) == 3
    assert found._of(()).sql.count("'us'") == 1


def test_rows_of_another_table_come_along_as_one_list(
    holding: Holding, helper_person: Person, manager: Person, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    times = FreeTime.objects.filter(person_id=OuterRef("pk"), weekday__lt=Given("before"))
    week = Prepared(
        lambda: (
            Person.objects.filter(among("id", "people"))
            .order_by("id")
            .values_list("id", listed(times, "id", "weekday", "starts", "person__name"))
        )
    )
    one, two = (
        FreeTime.objects.create(holding=holding, person=helper_person, weekday=day, starts=time(8), ends=time(12))
        for day in (4, 5)
    )
    people = sorted([helper_person.pk, manager.pk])
    week.rows(people=people, before=6)  # the first run asks the database whether it knows JSON
    with django_assert_num_queries(1):
        found = dict(week.rows(people=people, before=6))
    assert sorted(found[helper_person.pk]) == [
        [row.pk, day, "08:00:00", helper_person.name] for row, day in ((one, 4), (two, 5))
    ]
    assert not found[manager.pk]
    assert dict(week.rows(people=people, before=5))[helper_person.pk] == [[one.pk, 4, "08:00:00", helper_person.name]]
