"""`next`, `progress`, `walk` and `import` at the terminal."""

import json
import uuid
from datetime import UTC, date, datetime, time
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from core.models import FreeTime, Graph, Holding, Person, Role
from core.services.facts import touch
from jobs.models import Assignment, Job, Need, NeedKind, Prerequisite, Reckoning, Report, Sheet
from jobs.services.walking import walk_holding
from plots.models import Day, Machine, Plot, Property, PropertySeries, Series

pytestmark = pytest.mark.django_db

THURSDAY = datetime(2026, 4, 16, 23, 30, tzinfo=UTC)
CLOCK = "Cold Spring. The clock of this holding stands at Thu 16 Apr 2026, 18:30."


@pytest.fixture
def land(holding_factory: Any, person_factory: Any) -> Holding:
    """Two properties, a mowing that is open, a tilling that a spray waits for, and Ada, free on Saturday morning."""
    holding: Holding = holding_factory(name="Cold Spring", key="cold-spring", clock_at=THURSDAY)
    ada = person_factory(holding, Role.MANAGER, name="Ada")
    person_factory(holding, Role.VIEWER, name="Guest")
    FreeTime.objects.create(holding=holding, person=ada, weekday=5, starts=time(7), ends=time(12))
    here = {"holding": holding, "zone": "America/Chicago", "longitude": -91.0}
    north = Property.objects.create(**here, name="North", latitude=40.0, access_notes="Gate by the oak.")
    south = Property.objects.create(**here, name="South", latitude=40.1)
    ridge = Plot.objects.create(holding=holding, property=north, name="Ridge", acres_typed=2.0)
    flat = Plot.objects.create(holding=holding, property=south, name="Flat", acres_typed=3.0)
    Machine.objects.create(holding=holding, name="Old mower", kind="mower")

    def job(plot: Plot, title: str, operation: str, minutes: int, **fields: Any) -> Job:
        made = Job.objects.create(
            **{"holding": holding, "plot": plot, "title": title, "operation": operation, "duration_min": minutes}
            | {"acres": plot.acres, "first_day": date(2026, 4, 1), "last_day": date(2026, 4, 30)}
            | fields
        )
        Job.objects.filter(pk=made.pk).update(component=made.pk)
        return made

    mowing = job(ridge, "Mow the ridge", "mow", 90)
    Need.objects.create(holding=holding, job=mowing, kind=NeedKind.MACHINE, name="mower")
    Assignment.objects.create(holding=holding, job=mowing, person=ada, day=date(2026, 4, 18))
    Sheet.objects.create(holding=holding, job=mowing, check_in_minutes=60, contact="The manager, by phone")
    tilling = job(flat, "Till the flat", "till", 240)
    spraying = job(flat, "Spray the flat", "spray", 60, last_day=date(2026, 5, 10))
    Job.objects.filter(pk=spraying.pk).update(component=tilling.pk)
    Prerequisite.objects.create(
        holding=holding, predecessor=tilling, successor=spraying, relation="FS", min_amount=0, min_unit="days"
    )
    walk_holding(holding.pk)
    return holding


def run(name: str, *args: str) -> str:
    out = StringIO()
    call_command(name, *args, stdout=out)
    return out.getvalue()


def refused(name: str, *args: str) -> tuple[str, str]:
    """(what it printed, its last word); its exit code is 1."""
    out = StringIO()
    with pytest.raises(CommandError) as caught:
        call_command(name, *args, stdout=out)
    assert caught.value.returncode == 1
    return out.getvalue(), str(caught.value)


# next


def test_next_says_what_where_when_start_by_bring_who_and_cautions_then_what_is_held_and_why(land: Holding) -> None:
    lines = run("next").splitlines()
    assert lines[:4] == [CLOCK, "", "Next for Ada", "------------"]
    at = lines.index("2. Mow the ridge, Ridge, North. Open.")
    assert lines[at + 1 : at + 8] == [
        "   Free, whether fit is not known: Sat 18 Apr 07:00 to 12:00. No forecast: in",
        "   which hours it may go is not known. So no hours are offered: look at sky,",
        "   ground and label yourself before you go.",
        "   Start by Thu 30 Apr. Takes 1 h 30 for 2.0 ac. Way in: Gate by the oak.",
        "   Bring: mower.",
        "   Given to you for Sat 18 Apr.",
        "   Care, machine: Rollover frame up, belt on, guards in place, no riders.",
    ]
    held = lines.index("Held, and why")
    assert lines[held + 2 : held + 7] == [
        "- Spray the flat, Flat, South. Held.",
        "    Waits for: Till the flat, Flat.",
        "    Start by Sun 10 May.",
        "    Care: pesticide, machine, lone work.",
        "Nothing here is permission: label, local code and licensed practice decide.",
    ]
    assert any(line.startswith("On machine: The machine's manual and local law decide") for line in lines)
    assert max(len(line) for line in lines) <= 80
    assert "Guest" not in "".join(lines)


def jobs_in(told: str) -> list[str]:
    """The titles of the next jobs, in order."""
    upper = told.partition("Held, and why")[0].splitlines()
    return [line.partition(". ")[2].partition(",")[0] for line in upper if line[:1].isdigit()]


@pytest.mark.parametrize(
    ("asked", "titles"),
    [
        ([], ["Till the flat", "Mow the ridge"]),
        (["--hours", "2"], ["Mow the ridge"]),
        (["--property", "south"], ["Till the flat"]),
        (["--machine", "mower"], ["Till the flat", "Mow the ridge"]),
        (["--machine", "spreader"], ["Till the flat"]),
        (["--on", "2026-04-18"], ["Till the flat", "Mow the ridge"]),
        (["--on", "2026-04-17"], []),
        (["--person", "ada", "--holding", "cold-spring"], ["Till the flat", "Mow the ridge"]),
        (["--person", "Guest"], []),
    ],
)
def test_next_is_narrowed_by_hours_place_machine_and_day(asked: list[str], titles: list[str], land: Holding) -> None:
    assert jobs_in(run("next", *asked)) == titles


def test_a_day_without_listed_hours_narrows_by_dates_and_says_so(land: Holding) -> None:
    FreeTime.objects.all().delete()
    told = run("next", "--on", "2026-04-30")
    assert "Next for Ada on Thu 30 Apr" in told
    assert "No free hours of Ada are listed: this is what may go by its dates" in told
    assert jobs_in(told) == ["Till the flat", "Mow the ridge"]
    late = run("next", "--on", "2026-05-01")
    assert (jobs_in(late), "Nothing of the next jobs may go on that day." in late) == ([], True)


def test_next_as_data_carries_the_same_answers(land: Holding) -> None:
    told = json.loads(run("next", "--json"))
    (ada,) = told["people"]
    assert (ada["name"], [job["title"] for job in ada["jobs"]]) == ("Ada", ["Till the flat", "Mow the ridge"])
    assert [(job["title"], job["holds"][0]["kind"]) for job in told["held"]] == [("Spray the flat", "predecessor")]
    assert told["now"] == "2026-04-16T23:30:00Z"
    assert told["clock_sentence"] in CLOCK
    assert ada["jobs"][1]["cautions"][0]["decides"]


def test_list_that_is_behind_the_facts_says_so(land: Holding) -> None:
    before = run("next")
    call_command("import", str(EXAMPLES / "people.csv"), stdout=StringIO())
    assert "Run `manage.py walk`" not in before
    assert "The last changes are not in these lists yet. Run `manage.py walk`." in run("next", "--person", "Ada")
    assert "Run `manage.py walk`" in run("progress")
    run("walk")
    assert "Run `manage.py walk`" not in run("next", "--person", "Ada")


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (["--person", "Nobody"], "Nobody here is called 'Nobody'. Known: Ada, Guest."),
        (["--property", "West"], "No property is called 'West'. Known: North, South."),
        (["--hours", "0"], "Error: argument --hours: Give hours above 0 and at most 24."),
        (["--hours", "two"], "Error: argument --hours: Give hours above 0 and at most 24."),
        (["--on", "2026-13-40"], "Error: argument --on: There is no day 2026-13-40. Give one like 2026-05-09."),
        (["--holding", "elsewhere"], "No holding has the key or id 'elsewhere'. Name one by --holding: cold-spring"),
    ],
)
def test_what_is_not_there_is_said_with_what_is(asked: list[str], words: str, land: Holding) -> None:
    assert refused("next", *asked)[1].startswith(words)


def test_of_several_holdings_one_is_named(land: Holding, other_holding: Holding) -> None:
    told = refused("next")[1]
    assert told == f"Name the holding by --holding: cold-spring (Cold Spring), {other_holding.pk} (Other holding)."
    assert jobs_in(run("next", "--holding", str(land.pk))) == ["Till the flat", "Mow the ridge"]


@pytest.mark.django_db
def test_without_a_holding_the_way_to_one_is_said() -> None:
    for name in ("next", "progress"):
        assert "Make one by `manage.py begin`" in refused(name)[1]
    assert run("walk") == "There is no holding yet.\n"


# progress


def test_progress_counts_jobs_and_acres_by_what_is_asked(land: Holding) -> None:
    told = run("progress").splitlines()
    assert told[0] == CLOCK
    assert [line.split() for line in told[5:]] == [
        ["North", "0/1", "0.0", "2.0", "1", "0", "0", "0", "14", "d"],
        ["South", "0/2", "0.0", "6.0", "1", "0", "1", "0", "14", "d"],
    ]
    assert [line.split()[0] for line in run("progress", "--by", "plot").splitlines()[5:]] == ["Flat", "Ridge"]
    assert [line.split()[:3] for line in run("progress", "--by", "sequence").splitlines()[5:]] == [
        ["single", "jobs", "0/3"]
    ]


def test_progress_of_a_metric_holding_is_in_hectares(land: Holding) -> None:
    Holding.objects.filter(pk=land.pk).update(units="metric")
    told = run("progress").splitlines()
    assert "ha done" in told[4]
    assert [line.split()[3] for line in told[5:]] == ["0.8", "2.4"]  # 2 and 6 acres of 0.40468564224 ha


# walk


def test_walk_tells_what_it_reckoned_and_is_still_when_nothing_changed(land: Holding) -> None:
    assert run("walk").splitlines() == [CLOCK, "0 jobs reckoned, 0 changed; 0 reminders written, 0 taken back."]
    assert run("walk", "--whole").splitlines()[1].startswith("3 jobs reckoned, 0 changed;")
    Reckoning.objects.filter(job__title="Mow the ridge").delete()
    assert run("walk", "--whole").splitlines()[1].startswith("3 jobs reckoned, 1 changed;")


def test_check_finds_every_stored_difference_and_stores_nothing(land: Holding) -> None:
    assert run("walk", "--check").splitlines() == [CLOCK, "3 jobs reckoned anew, 0 differ from what is stored."]
    mowing = Reckoning.objects.get(job__title="Mow the ridge")
    Reckoning.objects.filter(pk=mowing.pk).update(state="held", slack_min=1)
    Reckoning.objects.filter(job__title="Till the flat").delete()
    told, last = refused("walk", "--check")
    assert f"- Job {mowing.pk}, Mow the ridge: state, slack_min" in told
    assert "Till the flat: state, earliest_start" in told
    assert "3 jobs reckoned anew, 2 differ from what is stored." in told
    assert last == "2 stored reckonings differ. Run `manage.py walk --whole`."
    assert Reckoning.objects.get(pk=mowing.pk).slack_min == 1
    run("walk", "--whole")
    assert "0 differ" in run("walk", "--check")


def test_walk_over_one_component_stores_what_the_whole_walk_does(land: Holding) -> None:
    """Two lags in degree days on two properties: numbers that one walk gives its curves do not reach what is stored."""
    (till, spray), mow = Job.objects.filter(plot__name="Flat").order_by("id"), Job.objects.get(plot__name="Ridge")
    ada = Person.objects.get(name="Ada")
    second = Job.objects.create(
        holding=land, plot=mow.plot, title="Look", operation="look", duration_min=15, component=mow.component
    )
    for number, (tail, head) in enumerate([(mow, second), (till, spray)]):
        place = tail.plot.property
        series = Series.objects.create(owner=land, source="typed", place=f"gauge-{number}")
        PropertySeries.objects.create(holding=land, property=place, rank=1, series=series)
        for day in range(1, 16):
            Day.objects.create(series=series, date=date(2026, 4, day), high_f=70, low_f=50)
        lag = {"min_amount": 300, "min_unit": "degree_days", "degree_days": "86/50"}
        Prerequisite.objects.update_or_create(holding=land, predecessor=tail, successor=head, defaults=lag)
        report = {"kind": "done", "happened_at": datetime(2026, 4, 3, 15, tzinfo=UTC), "received_at": THURSDAY}
        Report.objects.create(
            holding=land, person=ada, job=tail, plot=tail.plot, client_id=uuid.uuid4(), acres=tail.acres, **report
        )
    run("walk", "--whole")
    stored = list(Reckoning.objects.order_by("pk").values("pk", "holds", "state", "earliest_start"))
    assert [row["state"] for row in stored].count("held") == 2
    touch(land.pk, [f"job:{spray.pk}"])
    assert run("walk").splitlines()[1].startswith("2 jobs reckoned, 0 changed;")
    assert "0 differ" in run("walk", "--check")


# import


EXAMPLES = Path(__file__).parents[2] / "fixtures" / "imports"


def written(folder: Path, name: str, text: str) -> str:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_import_says_what_it_stored_and_0_new_the_second_time(land: Holding) -> None:
    path = str(EXAMPLES / "people.csv")
    assert run("import", path).splitlines() == [CLOCK, "Read as people. 3 new, 0 changed, 0 as before."]
    assert run("import", path).splitlines() == [CLOCK, "Read as people. 0 new, 0 changed, 3 as before."]


def test_import_lists_every_refused_row_and_stores_nothing_unless_the_good_ones_are_kept(
    land: Holding, tmp_path: Path
) -> None:
    path = written(tmp_path, "more.csv", "name,property,acres\nLane,North,1\nB,West,2\nC,North,-1\n")
    told, last = refused("import", path)
    assert told.splitlines()[1:] == [
        "Read as plots. 2 refused. Nothing was stored.",
        "- Line 3: No property 'West' is in this holding. Add it first, or correct the",
        "  name.",
        "- Line 4: acres is -1. Give acres above 0.",
    ]
    assert last.endswith("or keep its good rows by --keep-good.")
    assert not Plot.objects.filter(name="Lane").exists()
    told, last = refused("import", path, "--keep-good")
    assert told.splitlines()[1] == "Read as plots. 1 new, 0 changed, 0 as before. 2 refused and left out."
    assert last == "Correct the refused rows and import the file again."
    assert Plot.objects.filter(name="Lane").exists()


def test_import_of_weather_wakes_the_walk_of_the_property_that_reads_it(land: Holding) -> None:
    version = Graph.objects.get(holding=land).facts_version
    told = run("import", str(EXAMPLES / "days.csv"), "--property", "north")
    assert "Read as days. 3 new" in told
    assert "North reads the series 'North, typed and imported' now, at rank 1." in " ".join(told.split())
    assert Graph.objects.get(holding=land).facts_version > version


def test_import_takes_the_kind_and_zone_that_are_named(land: Holding, tmp_path: Path) -> None:
    path = written(tmp_path, "log.txt", "time,temp_f\n2026-04-01 12:00,50\n")
    assert "Read as hours. 1 new" in run("import", path, "--kind", "hours", "--zone", "America/Denver")
    assert Series.objects.get().hours.get().at == datetime(2026, 4, 1, 18, tzinfo=UTC)


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("what.csv", "width,height\n1,2\n", "What the file holds is not clear. Give --kind: geojson, "),
        ("absent.csv", None, "absent.csv cannot be read: No such file or directory."),
        ("large.csv", "x" * 10_000_001, "large.csv has more than 10,000,000 bytes."),
    ],
)
def test_file_that_cannot_be_taken_is_refused_with_what_to_do(
    name: str, text: str | None, words: str, land: Holding, tmp_path: Path
) -> None:
    path = str(tmp_path / name) if text is None else written(tmp_path, name, text)
    assert words in refused("import", path)[1]
