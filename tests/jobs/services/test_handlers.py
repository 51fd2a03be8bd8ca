"""Who is sent to spray is of age and trained on that day, or of the owner's family; a crew as each of its members."""

from __future__ import annotations

import pytest

from tests.farm import Farm

pytestmark = pytest.mark.django_db


@pytest.fixture
def farm(db: None) -> Farm:
    farm = Farm("2027-06-07 06:00")
    farm.helper("Ada")
    return farm


def spray(farm: Farm, operation: str = "spray") -> int:
    plot = farm.post("plots", name="Field", property=farm.place("Creek"), acres_typed=4.0)["id"]
    job: int = farm.post("jobs", plot=plot, operation=operation, title="Job", duration_min=60)["id"]
    return job


def certificate(farm: Farm, skill: str, **days: str) -> None:
    pk = farm.post("skills", name=skill)["id"]
    farm.post("certificates", person=farm.people["Ada"], skill=pk, **{"valid_from": "2027-01-01"} | days)


def send(farm: Farm, job: int, status: int, day: str = "2027-06-10") -> str:
    answer = farm.post("assignments", job=job, person=farm.people["Ada"], day=day, status=status)
    return str(answer.get("detail", ""))


def test_what_nobody_wrote_down_is_not_so(farm: Farm) -> None:
    detail = send(farm, spray(farm), 422)
    assert detail == (
        "Ada lacks for spraying on 10 Jun 2027: proof of 18 years, handler training of the last year."
        " Add the certificate, or send another."
    )


def test_training_counts_on_the_day_of_the_work(farm: Farm) -> None:
    job = spray(farm)
    certificate(farm, "18 years")
    certificate(farm, "handler training", valid_to="2027-06-10")
    assert "training" in send(farm, job, 422, day="2027-06-11")
    send(farm, job, 201)


@pytest.mark.parametrize("skill", ["Owner's family", "Pesticide applicator"])
def test_family_and_certified_applicators_are_sent(farm: Farm, skill: str) -> None:
    certificate(farm, skill)
    send(farm, spray(farm), 201)


def test_a_crew_is_as_good_as_its_least(farm: Farm) -> None:
    certificate(farm, "pesticide applicator")
    ben = farm.post("people", name="Ben")["id"]
    crew = farm.post("crews", name="Both", members=[farm.people["Ada"], ben])["id"]
    refused = farm.post("assignments", job=spray(farm), crew=crew, status=422)
    assert refused["detail"].startswith("Ben lacks for spraying")


def test_other_work_asks_for_none_of_it(farm: Farm) -> None:
    send(farm, spray(farm, "till"), 201)
