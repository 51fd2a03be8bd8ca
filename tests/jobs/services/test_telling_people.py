"""Who hears what and by which ways, and in which words."""

from collections.abc import Callable
from datetime import date, time

from core.models import Certificate, Crew, CrewMember, Holding, Notice, NoticeState, Person, Skill, Way
from core.services.evening import fold_due
from core.services.rows import save_row
from jobs.models import Job, Need, Observation, Prerequisite, Reckoning
from jobs.services.assigning import assign_job, end_assignment
from jobs.services.links import add_link
from jobs.services.single import change_job
from jobs.services.walking import walk_holding
from plots.models import Material, Plot, StockMove
from tests.jobs.services.telling import NOON, JobFactory, at, clock, held, holding, mail, report, told

__all__ = ["holding", "mail"]


def test_a_person_with_two_addresses_gets_both_and_a_stopped_one_nothing(
    holding: Holding, manager: Person, job_factory: JobFactory
) -> None:
    common = {"holding": holding, "person": manager, "kind": "mail"}
    second = Way.objects.create(**common, address="second@example.org")
    Way.objects.create(**common, address="stopped@example.org", stopped_at=NOON)
    job_factory(holding, "Mow")
    walk_holding(holding.pk)
    assert set(Notice.objects.values_list("way", flat=True)) == {manager.ways.order_by("id")[0].pk, second.pk}


def test_a_viewer_hears_nothing(
    holding: Holding, viewer: Person, manager: Person, job_factory: JobFactory, plot_factory: Callable[..., Plot]
) -> None:
    Way.objects.create(holding=holding, person=viewer, kind="mail", address="viewer@example.org")
    crew = Crew.objects.create(holding=holding, name="All")
    CrewMember.objects.create(holding=holding, crew=crew, person=viewer)
    job = job_factory(holding, "Mow", last_day=date(2027, 5, 8))
    assign_job(holding_id=holding.pk, job_id=job.pk, by=manager, crew_id=crew.pk, day=date(2027, 5, 7))
    walk_holding(holding.pk)
    clock(holding, "2027-05-09 00:00")
    assert not Notice.objects.filter(person=viewer).exists()


def test_whoever_gives_a_job_to_themselves_is_not_told(
    holding: Holding, manager: Person, job_factory: JobFactory
) -> None:
    job = held(job_factory, holding, manager)
    assign_job(holding_id=holding.pk, job_id=job.pk, by=manager, person_id=manager.pk)
    walk_holding(holding.pk)
    assert told("assigned") == []


def test_taken_away_before_it_was_sent_says_nothing_and_after_it_says_so_once(
    holding: Holding, manager: Person, helper_person: Person, job_factory: JobFactory
) -> None:
    job = held(job_factory, holding, manager)
    common = {"holding_id": holding.pk, "job_id": job.pk, "by": manager, "person_id": helper_person.pk}
    unsent = assign_job(**common)
    walk_holding(holding.pk)
    end_assignment(assignment=unsent, by=manager, now=NOON)
    walk_holding(holding.pk)
    assert told("assigned") == [("helper", "assigned", NoticeState.WITHDRAWN)]
    sent = assign_job(**common)
    walk_holding(holding.pk)
    Notice.objects.filter(kind="assigned", state=NoticeState.QUEUED).update(state=NoticeState.SENT)
    end_assignment(assignment=sent, by=manager, now=NOON)
    assert [walk_holding(holding.pk).notices, walk_holding(holding.pk, whole=True).notices] == [1, 0]
    last = Notice.objects.filter(kind="assigned").order_by("-id")[0]
    assert last.payload["item"]["news"] == "Taken back: it is not yours any more."


def test_an_assigned_day_comes_with_an_event_in_utc(
    holding: Holding, manager: Person, helper_person: Person, job_factory: JobFactory
) -> None:
    job = held(job_factory, holding, manager, "Spray", operation="spray")
    hours = {"day": date(2027, 5, 8), "starts": time(9), "ends": time(11)}
    skill = Skill.objects.create(holding=holding, name="pesticide applicator")
    Certificate.objects.create(holding=holding, person=helper_person, skill=skill, valid_from=date(2027, 1, 1))
    row = assign_job(holding_id=holding.pk, job_id=job.pk, by=manager, person_id=helper_person.pk, **hours)
    walk_holding(holding.pk)
    (event,) = Notice.objects.get(kind="assigned").payload["events"]
    assert (event["uid"], event["start"], event["end"]) == (
        f"assignment-{row.pk}",
        "2027-05-08T14:00:00+00:00",
        "2027-05-08T16:00:00+00:00",
    )
    assert "The label is the law" in event["description"]


def test_a_job_that_fits_nobodys_hours_is_told_to_the_manager_with_the_reason(
    holding: Holding, manager: Person, helper_person: Person, job_factory: JobFactory
) -> None:
    crew = Crew.objects.create(holding=holding, name="All")
    CrewMember.objects.create(holding=holding, crew=crew, person=helper_person)
    helper_person.free_times.create(holding=holding, weekday=5, starts=time(8), ends=time(9))
    job_factory(holding, "Short", duration_min=60)
    long = job_factory(holding, "Long", duration_min=61)
    walk_holding(holding.pk)
    assert [(row.person.name, row.payload["item"]["what"]) for row in Notice.objects.order_by("id")] == [
        (helper_person.name, "Short, Plot 1"),
        (manager.name, "Long, Plot 1"),
    ]
    assert "Give it to somebody by hand." in Notice.objects.get(job_id=long.pk).payload["lines"][3]


def test_hours_that_come_after_the_last_start_are_no_hours_for_the_job(
    holding: Holding, manager: Person, helper_person: Person, job_factory: JobFactory
) -> None:
    crew = Crew.objects.create(holding=holding, name="All")
    CrewMember.objects.create(holding=holding, crew=crew, person=helper_person)
    helper_person.free_times.create(holding=holding, weekday=5, starts=time(8), ends=time(12))
    today, tomorrow = (job_factory(holding, t, operation="look", last_day=date(2027, 5, day)) for t, day in
                       (("Today", 7), ("Tomorrow", 8)))  # fmt: skip
    walk_holding(holding.pk)
    found = Notice.objects.filter(kind="opened").order_by("job_id").values_list("person__name", "job_id")
    assert list(found) == [(manager.name, today.pk), (helper_person.name, tomorrow.pk)]


def test_one_look_serves_all_jobs_of_a_plot_that_wait_for_it(
    holding: Holding, manager: Person, job_factory: JobFactory
) -> None:
    sow = job_factory(holding, "Sow")
    for title in ("Fence", "Topdress"):
        link = {"predecessor": sow, "successor": job_factory(holding, title), "min_amount": 1, "confirm": "emerged"}
        add_link(link=Prerequisite(holding=holding, **link), by=manager)
    report(manager, sow, "done", "2027-05-06 10:00")
    walk_holding(holding.pk)
    assert told("look") == []
    clock(holding, "2027-05-07 10:00")
    assert told("look") == [("manager", "look", NoticeState.QUEUED)]
    item = Notice.objects.get(kind="look").payload["item"]
    assert item["why"] == ["Waits until the crop is up; a look closes it, no clock does. Look from Fri 7 May on."]
    assert Notice.objects.get(kind="look").payload["jobs"] == [], "a look is not reported as the work done"
    Observation.objects.create(holding=holding, plot=sow.plot, kind="emerged", at=at("2027-05-07 11:00"))
    walk_holding(holding.pk, whole=True)
    assert [state for _, _, state in told("look")] == [NoticeState.WITHDRAWN]


def test_stock_short_of_two_weeks_is_told_to_the_manager_and_withdrawn_by_a_delivery(
    holding: Holding, manager: Person, helper_person: Person, job_factory: JobFactory
) -> None:
    seed = Material.objects.create(holding=holding, name="Seed", kind="seed", unit="lb", lead_days=5)
    save_row(row=StockMove(holding=holding, material=seed, quantity=10.0, at=NOON), by=manager)
    for title in ("Sow north", "Sow south"):
        job = job_factory(holding, title, acres=2.0)
        Need.objects.create(holding=holding, job=job, kind="material", name="seed", material=seed, rate_per_acre=4.0)
    walk_holding(holding.pk)
    assert told("stock") == [("manager", "stock", NoticeState.QUEUED)]
    item = Notice.objects.get(kind="stock").payload["item"]
    assert item["what"] == "Seed runs short"
    assert item["news"].startswith("2 jobs of the next two weeks need 16 lb, 10 are in stock: 6 lb are missing")
    assert item["lines"] == ["Ordering takes 5 days."]
    save_row(row=StockMove(holding=holding, material=seed, quantity=6.0, at=NOON), by=manager)
    walk_holding(holding.pk)
    assert told("stock") == [("manager", "stock", NoticeState.WITHDRAWN)]


def test_a_window_of_two_forecasts_is_told_and_taken_back(
    holding: Holding, manager: Person, job_factory: JobFactory
) -> None:
    """Typed windows: what the walk writes beside a reckoning, here put there by hand for `tell` alone."""
    from jobs.minutes import instant
    from jobs.selectors.facts import load
    from jobs.services import saving
    from jobs.services.telling import tell

    job = job_factory(holding, "Spray", operation="spray")
    walk_holding(holding.pk)
    starts, ends = (int(at(f"2027-05-08 {hour}:00").timestamp()) // 60 for hour in ("07", "10"))
    issued = int(NOON.timestamp()) // 60

    def forecasts(*told_: dict[str, int]) -> int:
        rows = saving.stored(holding.pk)
        newest, *before = told_
        listed = [{"from": newest["starts"], "to": newest["ends"]}] if "starts" in newest else []
        rows[job.pk]["windows"] = {"issued": newest["issued"], "found": listed}
        rows[job.pk]["windows"] |= {"before": before[0]} if before else {}
        rows[job.pk]["next_window"] = instant(newest.get("starts"))
        done = tell(
            holding=holding,
            loaded=load(holding, NOON),
            rows=rows,
            before=rows,
            changed=[],
            now=NOON,
            components=None,
        )
        return done.written

    window = {"starts": starts, "ends": ends}
    assert forecasts({"issued": issued - 360, **window}) == 0
    assert forecasts({"issued": issued, **window}, {"issued": issued - 360, **window}) == 1
    news = Notice.objects.get(kind="window").payload["item"]["news"]
    assert news == "Hours ahead: Sat 8 May 07:00 to 10:00, as two forecasts say."
    Notice.objects.filter(kind="window").update(state=NoticeState.SENT)
    none = {"issued": issued + 1}
    assert [forecasts(none, {"issued": issued, **window}), forecasts(none, {"issued": issued, **window})] == [1, 0]
    gone = Notice.objects.get(kind="window_gone").payload["item"]["news"]
    assert gone == "The hours of Sat 8 May are gone: the newest forecast has none."


# words


def test_every_hazard_of_the_work_comes_with_its_cautions_and_who_decides(
    holding: Holding, manager: Person, job_factory: JobFactory
) -> None:
    job_factory(holding, "Spray", operation="spray", hazards=["electric_fence"])
    walk_holding(holding.pk)
    lines = Notice.objects.get().payload["lines"]
    for hazard in ("pesticide", "machine", "lone work", "electric fence"):
        assert [line for line in lines if line.startswith(f"Care, {hazard}.")], hazard
    assert "Nothing here is permission: label, local code and licensed practice decide." in lines
    assert lines[1].endswith("Open now, if weather and ground allow.")


def test_what_waits_says_the_newest_dates(holding: Holding, manager: Person, job_factory: JobFactory) -> None:
    job = job_factory(holding, "Mow", last_day=date(2027, 6, 20))
    walk_holding(holding.pk)
    job = Job.objects.get(pk=job.pk)
    job.last_day = date(2027, 6, 10)
    change_job(job=job, by=manager, fields=["last_day"])
    assert walk_holding(holding.pk).notices == 0
    assert "Start by Thu 10 Jun." in Notice.objects.get().payload["item"]["lines"][0]


def test_the_evening_carries_what_the_walk_wrote(holding: Holding, manager: Person, job_factory: JobFactory) -> None:
    job = job_factory(holding, "Mow", last_day=date(2027, 5, 9))
    walk_holding(holding.pk)
    clock(holding, "2027-05-06 18:00")
    assert fold_due(now=NOON) == 1
    message = Notice.objects.get(kind="evening")
    assert message.payload["jobs"] == [job.pk]
    words = "Not begun, and its last day nears. Open now, if weather and ground allow."
    assert message.payload["lines"][1] == f"1. Mow, Plot 1. {words}"
    assert Reckoning.objects.get(pk=job.pk).state == "open"
    assert walk_holding(holding.pk, whole=True).notices == 0
