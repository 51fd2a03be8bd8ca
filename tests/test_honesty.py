"""Checks that keep the whole honest: what changes a fact changes the answers, and what is wrong changes nothing."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from threading import Thread
from typing import Any

import pytest
from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connections, transaction

from core.models import Graph, Holding, HoldingState, Person
from core.services.facts import ALL, touch
from jobs.models import Job, Observation, Reckoning, Report
from jobs.printing import print_held, print_next
from jobs.selectors.next import held_jobs, next_jobs
from jobs.services.demo import build_demo
from jobs.services.reports import NewReport, store_report
from jobs.services.sequences import load_shipped
from jobs.services.walking import walk_holding
from plots.models import Plot, StockMove
from tests.farm import Farm

pytestmark = pytest.mark.django_db


# what changes a fact changes the answers


def days_file(high_of_the_twelfth: int) -> SimpleUploadedFile:
    """Eleven days of (high + low) / 2 - 50 = 15 degree days; on 12 May as many as the high gives."""
    lines = ["date,high_f,low_f,rain_in"]
    for day in range(9, 20):
        lines.append(f"2027-05-{day:02d},{high_of_the_twelfth if day == 12 else 75},55,0")
    return SimpleUploadedFile("days.csv", "\n".join(lines).encode())


def test_one_imported_high_temperature_moves_the_date_of_the_fence() -> None:
    """100 degree days at 15 a day come on the seventh day, Sat 15 May (105). With a high of 57 instead of 75 on the
    twelfth that day gives 6, the seventh day ends at 96, and they come a day later. Beans: 130 on the ninth day (135);
    then 126 on the ninth and 141 on the tenth."""
    farm = Farm("2027-05-19 20:00")
    land = farm.place("Creek farm")
    corn_plot, bean_plot = (
        farm.post("plots", name=name, property=land, acres_typed=2.0)["id"] for name in ("Corn", "Beans")
    )
    corn, beans = farm.apply("corn", corn_plot, 2027), farm.apply("soybean", bean_plot, 2027)
    farm.done(corn["plant"], "2027-05-08 15:00")
    farm.done(beans["plant"], "2027-05-08 15:00")

    def dates(high: int) -> tuple[str, str]:
        form = {"file": days_file(high), "kind": "days", "property": land}
        answer = farm.manager.post("/api/imports/", form, format="multipart")
        assert answer.status_code == 200, answer.content
        walk_holding(farm.holding.pk)
        holds = {hold["kind"]: hold for hold in farm.why(corn["fence"])["holds"]}
        due = datetime.fromtimestamp(holds["look"]["inputs"]["due"] * 60, UTC).isoformat()
        return farm.local(due), farm.local(farm.why(beans["fence"])["latest_finish"])

    assert dates(75) == ("Sun 16 May 00:00", "Mon 17 May 23:59")
    assert dates(57) == ("Mon 17 May 00:00", "Tue 18 May 23:59")


def test_a_deadline_three_jobs_behind_moves_a_latest_start() -> None:
    """Clear, mow, spray, sow: 60 minutes each, two days between any two. Finished by 20 June, local midnight after it:
    sow by 23:00, and each before it two days and an hour sooner. Three days sooner moves all of them three days."""
    farm = Farm("2027-05-01 08:00")
    land = farm.place("Creek farm")
    plot = farm.post("plots", name="Strip", property=land, acres_typed=1.0)["id"]
    row = [
        farm.post("jobs", plot=plot, operation=name, title=name.capitalize(), duration_min=60)["id"]
        for name in ("clear", "mow", "spray", "sow")
    ]
    for before, after in pairwise(row):
        farm.post("prerequisites", predecessor=before, successor=after, min_amount=2, min_unit="days")
    farm.at("2027-05-01 08:01")
    assert [farm.job(pk)["latest_start"] for pk in row] == [None] * 4
    farm.patch(f"jobs/{row[3]}", deadline="2027-06-20")
    farm.at("2027-05-01 08:02")
    assert [farm.local(farm.job(pk)["latest_start"]) for pk in row] == [
        "Mon 14 Jun 20:00", "Wed 16 Jun 21:00", "Fri 18 Jun 22:00", "Sun 20 Jun 23:00",
    ]  # fmt: skip
    farm.patch(f"jobs/{row[3]}", deadline="2027-06-17")
    farm.at("2027-05-01 08:03")
    assert farm.local(farm.job(row[0])["latest_start"]) == "Fri 11 Jun 20:00"
    assert farm.job(row[0])["start_by"] == "2027-06-11"


def printed(holding: Holding) -> str:
    """The lists of everybody and what else is held, as the demo prints them."""
    assert holding.clock_at is not None
    people = list(Person.objects.filter(holding=holding).exclude(role="viewer").order_by("id"))
    lines: list[str] = []
    for person in people:
        found = next_jobs(holding=holding, person=person, now=holding.clock_at)
        lines += print_next(found, holding=holding, person=person.name)
    boss = next(person for person in people if person.role == "manager")
    lines += print_held(held_jobs(holding=holding, person=boss, now=holding.clock_at), holding=holding)
    return "\n".join(lines)


def test_one_report_less_changes_the_printed_lists_of_the_demo() -> None:
    """Reports of an open holding cannot be deleted, so the holding is closed for a moment."""
    load_shipped()
    holding = build_demo()
    walk_holding(holding.pk)
    whole = printed(holding)
    walk_holding(holding.pk, whole=True)
    assert printed(holding) == whole, "the same facts print the same lists"
    waited_for = Report.objects.filter(holding=holding, kind="done", corrects=None, job__season__isnull=False)
    report = waited_for.order_by("-happened_at", "-id").first()
    assert report is not None
    assert report.job is not None
    title = report.job.title
    with transaction.atomic():
        Holding.objects.filter(pk=holding.pk).update(state=HoldingState.CLOSED)
        Observation.objects.filter(report=report).delete()
        StockMove.objects.filter(report_id=report.pk).delete()
        Report.objects.filter(pk=report.pk).delete()
        Holding.objects.filter(pk=holding.pk).update(state=HoldingState.ACTIVE)
        touch(holding.pk, [ALL])
    walk_holding(holding.pk)
    without = printed(holding)
    assert without != whole
    assert without.count(title) > whole.count(title), f"{title} is to be done again"


# what is wrong changes nothing


@dataclass(frozen=True)
class Wrong:
    """A request that is refused: its status and words that its answer must have, which say what to do."""

    name: str
    path: str
    body: Callable[[Any], dict[str, Any]]
    status: int
    says: tuple[str, ...]
    as_helper: bool = False


def report(**more: Any) -> Callable[[Any], dict[str, Any]]:
    """A report on the planting, with something wrong in it."""

    def body(land: Any) -> dict[str, Any]:
        standard = {"client_id": str(uuid.uuid4()), "kind": "done", "happened_at": "2027-05-08T15:00:00-05:00"}
        return standard | {"job": land.corn["plant"]} | more

    return body


def file(name: str, text: str, kind: str) -> Callable[[Any], dict[str, Any]]:
    return lambda land: {
        "file": SimpleUploadedFile(name, text.encode()), "kind": kind, "property": land.place,
    }  # fmt: skip


SWAPPED = (
    '{"type": "Feature", "properties": {"name": "Field"}, "geometry": {"type": "Polygon", "coordinates":'
    " [[[40.0, -91.0], [40.0, -90.998], [40.002, -90.998], [40.002, -91.0], [40.0, -91.0]]]}}"
)
CROSSED = (
    '{"type": "Feature", "properties": {"name": "Field"}, "geometry": {"type": "Polygon", "coordinates":'
    " [[[-91.0, 40.0], [-90.998, 40.002], [-90.998, 40.0], [-91.0, 40.002], [-91.0, 40.0]]]}}"
)
ENTITY = '<?xml version="1.0"?><!DOCTYPE k [<!ENTITY e SYSTEM "file:///etc/hostname">]><kml>&e;</kml>'

WRONG = (
    Wrong(
        "negative acres", "plots", lambda x: {"name": "A", "property": x.place, "acres_typed": -1}, 400, ("above 0",)
    ),
    Wrong("no acres at all", "plots", lambda x: {"name": "A", "property": x.place}, 400, ("acres above 0", "polygon")),
    Wrong("a word for a number", "plots", lambda x: {"name": "A", "property": x.place, "acres_typed": "many"}, 400, ()),
    Wrong("a field that is none", "plots", lambda x: {"name": "A", "property": x.place, "akres": 2}, 400, ("akres",)),
    Wrong("latitude 140", "properties", lambda x: {"name": "A", "latitude": 140, "longitude": 0}, 400, ("-90 and 90",)),
    Wrong(
        "a name twice", "properties", lambda x: {"name": "Creek", "latitude": 40, "longitude": -91}, 400, ("already",)
    ),
    Wrong("a link to itself", "prerequisites", lambda x: x.tie("plant", "plant"), 422, ("before itself",)),
    Wrong("a circle", "prerequisites", lambda x: x.tie("fence", "till"), 409, ("Till the seedbed", "Plant corn")),
    Wrong(
        "a maximum below the minimum",
        "prerequisites",
        lambda x: x.tie("till", "store_fence") | {"max_amount": 1, "max_unit": "days"},
        409,
        ("contradict", "Change one"),
    ),
    Wrong(
        "waits that contradict",
        "prerequisites",
        lambda x: x.tie("till", "residual") | {"min_amount": 30},
        409,
        ("contradict", "Change one"),
    ),
    Wrong(
        "a unit that is none",
        "prerequisites",
        lambda x: x.tie("till", "fence") | {"min_unit": "weeks"},
        400,
        ("weeks",),
    ),
    Wrong(
        "quiet days backwards",
        "quiet-times",
        lambda x: x.quiet("2027-05-09", "2027-05-01"),
        400,
        ("before they start",),
    ),
    Wrong("30 February", "quiet-times", lambda x: x.quiet("2027-02-30", "2027-03-01"), 400, ("date",)),
    Wrong(
        "a certificate that ends first",
        "certificates",
        lambda x: {"person": x.person, "skill": x.skill, "valid_from": "2027-05-02", "valid_to": "2027-05-01"},
        400,
        ("before",),
    ),
    Wrong("an unknown state", "machines", lambda x: {"name": "M", "kind": "mower", "state": "tired"}, 400, ("tired",)),
    Wrong("a low above the high", "days", lambda x: x.day(50, 70), 400, ("low",)),
    Wrong(
        "an operation that is none", "jobs", lambda x: x.single(operation="knit"), 400, ("no field operation", "mow")
    ),
    Wrong("a job of ten years", "jobs", lambda x: x.single(duration_min=5_000_000), 400, ("a year",)),
    Wrong("a report of no kind", "reports", report(kind="perhaps"), 400, ("perhaps",)),
    Wrong("more acres than there are", "reports", report(acres=99), 422, ("Give acres",)),
    Wrong("no acres done", "reports", report(acres=0), 400, ("above 0",)),
    Wrong(
        "an outcome of another job",
        "reports",
        lambda x: report(job=x.corn["stand_count"], outcome="up")(x),
        422,
        ("good, thin, failed",),
    ),
    Wrong(
        "a count without outcome", "reports", lambda x: report(job=x.corn["stand_count"])(x), 422, ("how it came out",)
    ),
    Wrong("a report on nobody's job", "reports", report(job=987_654_321), 404, ("not in the holding",)),
    Wrong("a day without zone", "reports", report(happened_at="2027-05-08T15:00:00"), 400, ("offset",)),
    Wrong("a withdrawal of nothing", "reports", report(kind="withdrawn"), 422, ("which report",)),
    Wrong("a report without id", "reports", report(client_id="mine"), 400, ("UUID",)),
    Wrong(
        "a year of no season",
        "seasons/roll-over",
        lambda x: {"from_year": 2011, "to_year": 2012},
        422,
        ("Nothing was applied",),
    ),
    Wrong(
        "a roll-over onto itself",
        "seasons/roll-over",
        lambda x: {"from_year": 2027, "to_year": 2027},
        400,
        ("another year",),
    ),
    Wrong(
        "no order may be set aside",
        "overrides",
        lambda x: {"job": x.corn["fence"], "rule": "predecessor", "reason": "x"},
        400,
        ("predecessor",),
    ),
    Wrong(
        "somebody and a crew",
        "assignments",
        lambda x: {"job": x.corn["till"], "person": x.person, "crew": x.crew},
        400,
        ("one",),
    ),
    Wrong("a plot that swaps its axes", "imports", file("a.geojson", SWAPPED, "geojson"), 422, ("swapped",)),
    Wrong("a plot that crosses itself", "imports", file("a.geojson", CROSSED, "geojson"), 422, ("cross",)),
    Wrong("a file with entities", "imports", file("a.kml", ENTITY, "kml"), 422, ("entit",)),
    Wrong("a file of nothing", "imports", file("a.csv", "", "days"), 422, ("empty",)),
    Wrong(
        "a good row and a bad one",
        "imports",
        file("d.csv", "date,high_f,low_f\n2027-05-01,70,50\n2027-05-02,40,60\n", "days"),
        422,
        ("Line 3", "low"),
    ),
    Wrong(
        "a helper who manages", "machines", lambda x: {"name": "M", "kind": "mower"}, 403, ("manager",), as_helper=True
    ),
)


@dataclass
class Land:
    """What the wrong requests are about."""

    farm: Farm
    place: int
    plot: int
    series: int
    person: int
    crew: int
    skill: int
    corn: dict[str, int]
    helper: Any

    def tie(self, before: str, after: str) -> dict[str, Any]:
        ends = {"predecessor": self.corn[before], "successor": self.corn[after]}
        return ends | {"min_amount": 2, "min_unit": "days"}

    def quiet(self, first: str, last: str) -> dict[str, Any]:
        return {"property": self.place, "first_day": first, "last_day": last, "reason": "hunting"}

    def day(self, high: float, low: float) -> dict[str, Any]:
        return {"series": self.series, "date": "2027-05-01", "high_f": high, "low_f": low}

    def single(self, **more: Any) -> dict[str, Any]:
        return {"plot": self.plot, "operation": "mow", "title": "Mow", "duration_min": 60} | more


def land_of(farm: Farm) -> Land:
    place = farm.place("Creek")
    plot = farm.post("plots", name="Corn", property=place, acres_typed=2.0)["id"]
    person = farm.post("people", name="Sam")["id"]
    crew = farm.post("crews", name="Crew of Sam", members=[person])["id"]
    skill = farm.post("skills", name="saw")["id"]
    helper = farm.helper("Ada")
    return Land(farm, place, plot, farm.gauge(place), person, crew, skill, farm.apply("corn", plot, 2027), helper)


def everything() -> dict[str, int]:
    """How many rows each table has, and the version of the facts."""
    rooms = {"core", "plots", "jobs"}
    counts = {m._meta.label: m._default_manager.count() for m in apps.get_models() if m._meta.app_label in rooms}
    return counts | {"version": sum(Graph.objects.values_list("facts_version", flat=True))}


def test_a_wrong_request_says_what_to_do_and_stores_nothing() -> None:
    land = land_of(Farm("2027-05-08 18:00"))
    wrong = []
    for case in WRONG:
        before = everything()
        script = land.helper if case.as_helper else land.farm.manager
        sends = "multipart" if case.path == "imports" else "json"
        answer = script.post(f"/api/{case.path}/", case.body(land), format=sends)
        told = answer.content.decode()
        missing = [words for words in case.says if words.lower() not in told.lower()]
        problem = answer.headers["Content-Type"].startswith("application/problem+json")
        if answer.status_code != case.status or missing or everything() != before or not problem:
            changed = {name: count for name, count in everything().items() if before[name] != count}
            wrong.append(f"{case.name}: {answer.status_code} {told[:400]} {missing or ''} {changed or ''}")
    assert not wrong, "\n".join(wrong)


# several at once


@pytest.mark.django_db(transaction=True)
def test_no_reckoning_is_older_than_the_facts_it_claims(
    holding: Holding, manager: Person, plot_factory: Callable[..., Plot], job_factory: Callable[..., Job]
) -> None:
    """Two walk without end, one reports one start after the other, one reads: whatever it reads in one transaction,
    every report up to `walked_version` is in the reckonings."""
    jobs = [job_factory(holding, f"Work {number}") for number in range(25)]
    walk_holding(holding.pk)
    versions: dict[int, int] = {}
    faults: list[str] = []
    over = False

    def reports() -> None:
        nonlocal over
        try:
            for job in jobs:
                now = datetime(2027, 5, 8, 15, tzinfo=UTC)
                new = NewReport(client_id=uuid.uuid4(), kind="start", happened_at=now, job=job.pk)
                versions[job.pk] = store_report(person=manager, new=new, now=now)["facts_version"]
        finally:
            over = True

    def walks() -> None:
        while not over:
            walk_holding(holding.pk)

    def reads() -> None:
        seen = 0
        while not over or seen == 0:
            known = dict(versions)
            with transaction.atomic():
                walked = Graph.objects.select_for_update(no_key=True).get(pk=holding.pk).walked_version
                states = dict(Reckoning.objects.filter(holding=holding).values_list("job_id", "state"))
            seen += 1
            late = [pk for pk, version in known.items() if version <= walked and states[pk] != "under_way"]
            if late:
                faults.append(f"walked to {walked}, but {late} of {known} are not in it")

    def alone(work: Callable[[], None]) -> None:
        try:
            work()
        except Exception as error:
            faults.append(repr(error))
        finally:
            connections.close_all()

    threads = [Thread(target=alone, args=(work,)) for work in (reports, walks, walks, reads)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(120)
    assert faults == []
    assert len(versions) == len(jobs)
    walk_holding(holding.pk)
    graph = Graph.objects.get(pk=holding.pk)
    assert graph.walked_version == graph.facts_version == max(versions.values())
    assert set(Reckoning.objects.filter(holding=holding).values_list("state", flat=True)) == {"under_way"}
