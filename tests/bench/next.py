"""Bench of the next list: `/api/next/` of 20 jobs with names, signed in by token, beside two views that one might write
in its place. Equal jobs in equal order are asserted first.

minimal: a plain view, one hand-written query, its rows as they are. To be fair to the list, it asks for the token as
the API does (header, kind, role, the note of its use) and sees what is given to the asker's crews, for a view without
these would answer another question. To be fair to the view, it stays outside the API's framework and asks only for what
is open or under way: no hours, needs, company, sentences, cautions or versions, and nothing that opens within the week.
nested: a ModelViewSet with a ModelSerializer for each table, as plain as the framework's guide has it; no hours, no
sentences, no cautions.

CPU is this process's own, through the WSGI handler with all middleware: the best of many short turns, taken in
alternation, since other work on the machine slows whoever is at it. Ours keeps what it rendered of a row while the row
reads the same, the other two keep nothing; so its first answers are timed as well, with all of that forgotten before
each request. Latency and throughput are those of granian as `serve` starts it, asked by two connections at once.
"""

from __future__ import annotations

import http.client
import os
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import time as wall
from datetime import timedelta
from io import BytesIO
from typing import Any

import orjson
from django.conf import settings
from django.core import signals
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections, connection, reset_queries
from django.db.models import Q
from django.http import Http404, HttpRequest, HttpResponse
from django.test.utils import CaptureQueriesContext, override_settings
from django.urls import include, path
from rest_framework import serializers, viewsets
from rest_framework.exceptions import APIException
from rest_framework.response import Response
from rest_framework.routers import SimpleRouter

from core.api.authentication import TokenAuthentication, person_behind
from core.api.permissions import WORKERS, check_token
from core.api.rendering import dump
from core.errors import NotAllowed
from core.management.commands.serve import commands
from core.models import Certificate, FreeTime, Holding, Person, Skill
from core.services.tokens import make_token
from jobs.api.told import forget
from jobs.models import Assignment, Branch, Job, Need, Reckoning, Season, Sequence
from plots.models import Contract, Machine, Material, Plot, Property, QuietTime
from tests.bench import holdings
from tests.bench.timing import Say
from tests.bench.walk_stored import NOW, fill, weather

LISTED = 20
SIZES = [1_200]
ROUNDS = 60
SLICE_S = 0.03
"""Seconds of a way's turn in a round, at least one request."""
ASKED, LONGEST_S = 400, 4.0
"""Requests to the real server of each way, and seconds after which a slow one is asked no more."""

WAYS = {"minimal": "/bench/minimal/", "nested": "/bench/jobs/", "ours": "/api/next/"}
WORK = ("till", "mow", "spray", "plant", "walk")

MINIMAL = """
SELECT j.id AS job, j.title, j.operation, j.instruction, j.duration_min, j.acres, j.version, p.id AS plot,
  p.name AS plot_name, o.id AS property, o.name AS property_name, o.latitude, o.longitude, o.access_notes,
  s.id AS season, s.label, q.key, b.name AS branch, r.state, r.earliest_start, r.latest_start, r.last_chance, r.look_by,
  r.slack_min, r.critical, r.acres_left
FROM jobs_job j JOIN jobs_reckoning r ON r.job_id = j.id JOIN plots_plot p ON p.id = j.plot_id
JOIN plots_property o ON o.id = p.property_id LEFT JOIN jobs_season s ON s.id = j.season_id
LEFT JOIN jobs_sequence q ON q.id = s.sequence_id LEFT JOIN jobs_branch b ON b.id = j.branch_id
WHERE r.holding_id = %s AND r.state IN ('open', 'under_way') AND (
  NOT EXISTS (SELECT 1 FROM jobs_assignment a WHERE a.job_id = j.id AND a.state = 'active')
  OR EXISTS (SELECT 1 FROM jobs_assignment a WHERE a.job_id = j.id AND a.state = 'active' AND (
    a.person_id = %s OR a.crew_id IN (SELECT m.crew_id FROM core_crewmember m WHERE m.person_id = %s))))
ORDER BY r.latest_start, r.slack_min, r.earliest_start, j.id
"""


def minimal(request: HttpRequest) -> HttpResponse:
    """The least that answers the question."""
    try:
        found = TokenAuthentication().authenticate(request)
        if found is None:
            return HttpResponse(status=401)
        check_token(found[1], request.method, frozenset({"GET"}))
    except (APIException, Http404, NotAllowed):
        return HttpResponse(status=403)
    person = found[1].person
    if person.role not in WORKERS:
        return HttpResponse(status=403)
    with connection.cursor() as cursor:
        cursor.execute(MINIMAL, [person.holding_id, person.pk, person.pk])
        names = [column[0] for column in cursor.description]
        rows = [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]
    return HttpResponse(dump({"jobs": rows}), content_type="application/json")


def _serializer(of: Any, **nested: Any) -> Any:
    meta = type("Meta", (), {"model": of, "fields": "__all__"})
    return type(f"Plain{of.__name__}Serializer", (serializers.ModelSerializer,), {**nested, "Meta": meta})


PlainJobSerializer = _serializer(
    Job,
    plot=_serializer(Plot, property=_serializer(Property)())(),
    season=_serializer(Season, sequence=_serializer(Sequence, document=None)())(),
    branch=_serializer(Branch)(),
    reckoning=_serializer(Reckoning)(),
    needs=_serializer(Need, machine=_serializer(Machine)(), material=_serializer(Material)())(many=True),
    assignments=_serializer(Assignment, person=_serializer(Person)())(many=True),
)


class PlainJobs(viewsets.ModelViewSet):
    """Jobs with all that they name."""

    serializer_class = PlainJobSerializer
    pagination_class = None
    filter_backends = ()

    def get_queryset(self) -> Any:
        person = person_behind(self.request)
        active = Assignment.objects.filter(state="active")
        mine = Q(pk__in=active.filter(person=person).values("job_id")) | ~Q(pk__in=active.values("job_id"))
        jobs = Job.objects.filter(mine, holding=person.holding, reckoning__state__in=("open", "under_way"))
        return jobs.order_by("reckoning__latest_start", "reckoning__slack_min", "reckoning__earliest_start", "id")

    def list(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        return Response({"jobs": [{"job": row["id"], **row} for row in super().list(request).data]})


router = SimpleRouter(use_regex_path=False)
router.register("bench/jobs", PlainJobs, "bench-job")
urlpatterns = [path("bench/minimal/", minimal), *router.urls, path("", include("core.urls"))]


def main(*, sizes: list[int] | None = None, full: bool = False, say: Say = print) -> dict[str, Any]:
    """Rows of each way at each size of the holding, and the shares of the ways beside one another."""
    rows: list[dict[str, Any]] = []
    ratios: dict[str, float] = {}
    equal = True
    series = weather()
    with override_settings(ROOT_URLCONF="tests.bench.next"):
        handler = get_wsgi_application()
        for size in sizes or [*SIZES, *([20_000] if full else [])]:
            secret = lay(size, series)
            asks = {name: Asking(handler, where, secret) for name, where in WAYS.items()}
            with one_connection():
                told = {name: ask.ids() for name, ask in asks.items()}
                same = all(ids == told["minimal"] for ids in told.values()) and len(told["minimal"]) == LISTED
                if not same:
                    say(f"{size} jobs: the lists differ: {told}.")
                equal &= same
                queries = {name: ask.queries() for name, ask in asks.items()}
                cpu = in_turns({**asks, "first": Asking(handler, WAYS["ours"], secret, before=forget)})
            served = through_server(secret)
            for name in WAYS:
                rows.append(
                    {
                        "jobs": size,
                        "way": name,
                        "queries": queries[name],
                        "bytes": len(asks[name].body()),
                        "cpu_ms": round(cpu[name] * 1000, 3),
                        **served[name],
                    }
                )
            by_name = {row["way"]: row for row in rows if row["jobs"] == size}
            for other in ("minimal", "nested"):
                ratios[f"requests by CPU, ours / {other}, {size}"] = round(cpu[other] / cpu["ours"], 2)
                per_s = by_name["ours"]["requests_per_s"] / by_name[other]["requests_per_s"]
                ratios[f"requests by CPU, ours at first / {other}, {size}"] = round(cpu[other] / cpu["first"], 2)
                ratios[f"requests served, ours / {other}, {size}"] = round(per_s, 2)
    return {"rows": rows, "ratios": ratios, "equal": equal}


def lay(size: int, series: Any) -> str:
    """A holding of so many jobs, 20 of them open to its manager with needs, cautions and company; a token's secret."""
    holding = fill(holdings.make(size, size, real=True), f"Next of {size}", series)
    Holding.objects.filter(pk=holding.pk).update(clock_at=NOW)
    manager = Person.objects.get(holding=holding)
    Season.objects.filter(holding=holding).update(sequence=Sequence.objects.order_by("id").first())
    for weekday in (5, 6):
        FreeTime.objects.create(holding=holding, person=manager, weekday=weekday, starts=wall(8), ends=wall(16))
    tractor = Machine.objects.create(holding=holding, name="Tractor", kind="tractor")
    seed = Material.objects.create(holding=holding, name="Seed", kind="seed", unit="lb")
    skill = Skill.objects.create(holding=holding, name="Applicator")
    Certificate.objects.create(holding=holding, person=manager, skill=skill, valid_from=NOW.date())
    place = Property.objects.filter(holding=holding).order_by("id")[0]
    day = NOW.date() + timedelta(days=3)
    QuietTime.objects.create(
        holding=holding, property=place, kind="closed", first_day=day, last_day=day, from_time=wall(8),
        to_time=wall(10), reason="Neighbours",
    )  # fmt: skip
    Contract.objects.create(
        holding=holding, property=place, practice="Grass cover", first_day=NOW.date(), last_day=day,
        closed_from="05-01", closed_to="08-01",
    )  # fmt: skip
    jobs = list(Job.objects.filter(holding=holding, reports__isnull=True, branch__isnull=True).order_by("id"))
    for k, job in enumerate(jobs[:: len(jobs) // LISTED][:LISTED]):
        Job.objects.filter(pk=job.pk).update(
            operation=WORK[k % len(WORK)], title=f"Work {k}", instruction="As usual.", acres=2.5, duration_min=90
        )
        Reckoning.objects.filter(job=job).update(
            state="open",
            acres_left=2.5,
            earliest_start=NOW - timedelta(days=2),
            latest_start=NOW + timedelta(days=40 - k),
            slack_min=(42 - k) * 1440,
        )
        Need.objects.create(holding=holding, job=job, kind="machine", name="tractor", machine=tractor)
        Need.objects.create(holding=holding, job=job, kind="material", name="seed", material=seed, rate_per_acre=10.0)
        if k % 2:
            Assignment.objects.create(holding=holding, job=job, person=manager)
    connection.cursor().execute("ANALYZE")
    return make_token(person=manager)[1]


@contextmanager
def one_connection() -> Iterator[None]:
    """Requests keep the connection, so that opening one counts for no way."""
    for signal in (signals.request_started, signals.request_finished):
        signal.disconnect(close_old_connections)
        signal.disconnect(reset_queries)
    try:
        yield
    finally:
        signals.request_started.connect(reset_queries)
        for signal in (signals.request_started, signals.request_finished):
            signal.connect(close_old_connections)


class Asking:
    """One way of asking, through the WSGI handler."""

    def __init__(
        self,
        handler: Callable[..., Iterable[bytes]],
        where: str,
        secret: str,
        before: Callable[[], object] = lambda: None,
    ) -> None:
        self.handler, self.where, self.secret, self.before = handler, where, secret, before

    def body(self) -> bytes:
        self.before()
        said: list[str] = []
        environ = {
            "REQUEST_METHOD": "GET",
            "PATH_INFO": self.where,
            "QUERY_STRING": "",
            "SERVER_NAME": "127.0.0.1",
            "SERVER_PORT": "8000",
            "SERVER_PROTOCOL": "HTTP/1.1",
            "HTTP_HOST": "127.0.0.1:8000",
            "HTTP_AUTHORIZATION": f"Bearer {self.secret}",
            "HTTP_ACCEPT": "application/json",
            "wsgi.input": BytesIO(),
            "wsgi.errors": sys.stderr,
            "wsgi.url_scheme": "http",
        }
        answer = self.handler(environ, lambda status, headers, fault=None: said.append(status))
        body = b"".join(answer)
        answer.close()  # type: ignore[attr-defined]
        assert said == ["200 OK"], (self.where, said, body)
        return body

    def ids(self) -> list[int]:
        return [job["job"] for job in orjson.loads(self.body())["jobs"]]

    def queries(self) -> int:
        with CaptureQueriesContext(connection) as asked:
            self.body()
        return len(asked)


def in_turns(asks: dict[str, Asking]) -> dict[str, float]:
    """CPU seconds of one request of each way: the best of several turns."""
    best: dict[str, float] = {}
    for _ in range(ROUNDS):
        for name, ask in asks.items():
            count, start = 0, time.process_time()
            while (spent := time.process_time() - start) < SLICE_S:
                ask.body()
                count += 1
            best[name] = min(spent / count, best.get(name, spent))
    return best


def through_server(secret: str) -> dict[str, dict[str, float]]:
    """Requests per second, and milliseconds of the middle and the slowest in a hundred, of each way."""
    with served() as port:
        return {name: _load(port, where, secret) for name, where in WAYS.items()}


@contextmanager
def served() -> Iterator[int]:
    """The web server of `serve` on the bench's database, with the bench's addresses."""
    port = _free_port()
    ((_, command),) = [one for one in commands(web=("127.0.0.1", port), redis=False) if one[0] == "web server"]
    command = [*command[:-1], "tests.bench.next_wsgi:application"]
    at = connection.settings_dict
    if connection.vendor == "sqlite":
        url = f"sqlite:///{at['NAME']}"
    else:
        url = f"postgres://{at['USER']}:{at['PASSWORD']}@{at['HOST']}:{at['PORT']}/{at['NAME']}"
    environment = {**os.environ, "DATABASE_URL": url, "READYGROUND_DATA": str(settings.DATA)}
    server = subprocess.Popen(command, cwd=settings.ROOT, env=environment)
    try:
        until = time.monotonic() + 30
        while True:
            try:
                link = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
                link.request("GET", "/sign-in/")
                link.getresponse().read()
                break
            except OSError:
                if server.poll() is not None or time.monotonic() > until:
                    raise
                time.sleep(0.1)
            finally:
                link.close()
        yield port
    finally:
        server.terminate()
        server.wait(15)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _load(port: int, where: str, secret: str) -> dict[str, float]:
    taken: list[float] = []

    def ask(count: int) -> None:
        link = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        until = time.monotonic() + LONGEST_S
        for _ in range(count):
            if time.monotonic() > until:
                break
            start = time.perf_counter()
            link.request("GET", where, headers={"Authorization": f"Bearer {secret}"})
            answer = link.getresponse()
            answer.read()
            assert answer.status == 200, (where, answer.status)
            taken.append(time.perf_counter() - start)
        link.close()

    ask(20)
    taken.clear()
    both = [threading.Thread(target=ask, args=(ASKED // 2,)) for _ in range(2)]
    start = time.perf_counter()
    for one in both:
        one.start()
    for one in both:
        one.join()
    whole = time.perf_counter() - start
    taken.sort()
    return {
        "requests_per_s": round(len(taken) / whole, 1),
        "p50_ms": round(taken[len(taken) // 2] * 1000, 2),
        "p99_ms": round(taken[len(taken) * 99 // 100] * 1000, 2),
    }
