"""Fault 22, a drill: while reporters write, a backup is taken and restored elsewhere, again and again.

Every report that was acknowledged before a backup began must stand in what was restored from it. The control asks the
same restored database for the reports acknowledged after the backup ended, which it cannot hold: a drill that does not
miss those sees nothing.

    python -m tests.faults.restores fill            (in a place: tables, a holding, a job)
    python -m tests.faults.restores report LEDGER   (in a place: report until killed; ids into the ledger once stored)
"""

import os
import signal
import sys
import time
import uuid
from pathlib import Path
from typing import Any

from tests.faults.ground import ENGINES, shared_postgres
from tests.faults.places import Place, places

REPORTERS = 2
AT_LEAST = 20
"""Reports acknowledged before the first backup and after each, so that there is something to lose and to miss."""


def drills(rounds: int) -> dict[str, Any]:
    """22: so many backups under load on SQLite and on PostgreSQL."""
    told = [drill(rounds, "" if engine == "sqlite" else shared_postgres().url("postgres")) for engine in ENGINES]
    total = {name: sum(one[name] for one in told) for name in told[0]}
    what = f"backups under load restored; {total['acknowledged']} reports acknowledged, {total['meanwhile']} meanwhile"
    control = "reports acknowledged after a backup are missed in what it restores, in every round"
    return {"fault": 22, "what": what, "control": control, **total}


def drill(rounds: int, server: str | None = None) -> dict[str, int]:
    """Counts over the rounds on this server: `lost` and `doubled` must be 0, `control_missed` above 0 in every round.

    `meanwhile` counts the reports acknowledged while backups ran, which shows that they were taken under load."""
    told = {"rounds": 0, "acknowledged": 0, "meanwhile": 0, "lost": 0, "doubled": 0, "control_missed": 0}
    with places(2, tables=True, server=server) as (source, target):
        source.run("-m", "tests.faults.restores", "fill")
        ledger = source.data / "ledger"
        ledger.touch()
        reporters = [source.start("-m", "tests.faults.restores", "report", str(ledger)) for _ in range(REPORTERS)]
        try:
            for number in range(rounds):
                before = _grown(ledger, AT_LEAST)
                file = source.data / f"backup-{number}.zip"
                source.run("manage.py", "backup", str(file))
                meanwhile = _lines(ledger)
                after = _grown(ledger, AT_LEAST)
                target.run("manage.py", "restore", str(file), "--replace")
                stored = _stored(target)
                missed = len(after[len(meanwhile) :]) - len(set(after[len(meanwhile) :]) & set(stored))
                told["rounds"] += 1
                told["acknowledged"] = len(before)
                told["meanwhile"] += len(meanwhile) - len(before)
                told["lost"] += len(set(before) - set(stored))
                told["doubled"] += len(stored) - len(set(stored))
                told["control_missed"] += int(missed > 0)
                file.unlink()
        finally:
            for reporter in reporters:
                os.killpg(reporter.pid, signal.SIGKILL)
                reporter.wait()
    return told


FAULTS = {22: drills}


def _lines(ledger: Path) -> list[str]:
    """Whole lines; the last may be half written."""
    return ledger.read_text().rpartition("\n")[0].split()


def _grown(ledger: Path, by: int) -> list[str]:
    """The ledger once it has grown by so many lines."""
    until, begun = time.monotonic() + 60, len(_lines(ledger))
    while time.monotonic() < until:
        if len(now := _lines(ledger)) >= begun + by:
            return now
        time.sleep(0.02)
    raise AssertionError("the reporters stand still")


def _stored(place: Place) -> list[str]:
    return [str(uuid.UUID(str(client_id))) for (client_id,) in place.rows("SELECT client_id FROM jobs_report")]


def fill() -> None:
    from django.core.management import call_command

    from core.models import Graph, Holding, Person
    from jobs.models import Job
    from plots.models import Plot, Property

    call_command("migrate", verbosity=0)
    holding = Holding.objects.create(name="Drill holding")
    Graph.objects.create(holding=holding)
    Person.objects.create(holding=holding, name="Ada", role="manager")
    land = Property.objects.create(holding=holding, name="Drill property", latitude=39.0, longitude=-95.0)
    plot = Plot.objects.create(holding=holding, property=land, name="Drill plot", acres_typed=2.0)
    job = Job.objects.create(holding=holding, plot=plot, operation="till", title="Till", duration_min=60)
    Job.objects.filter(pk=job.pk).update(component=job.pk)


def report(ledger: Path) -> None:
    from django.utils import timezone

    from core.models import Person
    from jobs.models import Job
    from jobs.services.reports import NewReport, store_report

    person, job = Person.objects.get(name="Ada"), Job.objects.get()
    with ledger.open("a") as acknowledged:
        while True:
            now, client_id = timezone.now(), uuid.uuid4()
            new = NewReport(client_id=client_id, kind="note", happened_at=now, job=job.pk, note="Dry." * 20)
            store_report(person=person, new=new, now=now)
            acknowledged.write(f"{client_id}\n")
            acknowledged.flush()


if __name__ == "__main__":
    import django

    django.setup()
    fill() if sys.argv[1] == "fill" else report(Path(sys.argv[2]))
