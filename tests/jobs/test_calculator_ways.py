"""A calculator gives the same figures by API, on its page and in a job's sheet; what is absurd gets the range."""

import re
from typing import Any

import pytest
from django.test import Client

from core.models import Person, User
from jobs.models import Job, Need
from plots.agronomy.calculators import Calculator
from plots.models import Machine, Material, Plot, Property
from plots.reference import shelf
from tests.farm import Farm
from tests.plots.agronomy.told import TOLD

pytestmark = pytest.mark.django_db


def signed_in(farm: Farm) -> Client:
    user = User.objects.create_user("boss@example.org")
    Person.objects.filter(pk=farm.people["Manager"]).update(user=user)
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def flat(told: dict[str, Any]) -> dict[str, str]:
    found = {}
    for name, value in told.items():
        if isinstance(value, list):
            found |= {f"{name}.{n}.{key}": str(one) for n, line in enumerate(value) for key, one in line.items()}
        else:
            found[name] = str(value)
    return found


def figures_on(page: str) -> dict[str, str]:
    return dict(re.findall(r'data-figure="([^"]+)">([^<]*)<', page))


def test_every_calculator_is_told_of_here() -> None:
    assert set(TOLD) == set(shelf().calculators)


def test_api_and_page_give_the_same_figures_for_every_calculator() -> None:
    farm = Farm("2027-05-01 08:00")
    client = signed_in(farm)
    for key, told in TOLD.items():
        answer = farm.manager.post(f"/api/calculators/{key}/", told, format="json")
        assert answer.status_code == 200, (key, answer.content)
        by_api = {one["key"]: one["text"] for one in answer.json()["figures"]}
        page = client.get(f"/calculators/{key}/", flat(told)).content.decode()
        assert figures_on(page) == by_api, key
        assert by_api


def test_a_jobs_sheet_is_filled_in_and_gives_the_figure_of_the_api_and_the_page() -> None:
    farm = Farm("2027-05-01 08:00")
    client = signed_in(farm)
    here = {"holding": farm.holding}
    land = Property.objects.create(**here, name="Creek", latitude=40, longitude=-91, zone="America/Chicago")
    plot = Plot.objects.create(**here, property=land, name="Strip", acres_typed=5.0)
    figures = {"width_ft": 20, "speed_mph": 5, "efficiency": 0.6, "tank_gal": 50, "gallons_per_acre": 15}
    Machine.objects.create(**here, name="Boom", kind="sprayer", row_in=20, **figures)
    herbicide = Material.objects.create(**here, name="Herbicide", kind="herbicide", unit="qt")
    job = Job.objects.create(**here, plot=plot, operation="spray", title="Spray", duration_min=60, acres=5.0)
    Need.objects.create(**here, job=job, kind="material", name="herbicide", material=herbicide, rate_per_acre=1.5)
    sheet = {one["calculator"]: one for one in farm.get(f"jobs/{job.pk}/calculators")["calculators"]}
    page = client.get(f"/jobs/{job.pk}/amounts/").content.decode()
    shown = figures_on(page)
    for key in ("machine-hours", "sprayer-tanks"):
        given = sheet[key]["given"]
        by_api = farm.post(f"calculators/{key}", status=200, **given)
        assert sheet[key]["answer"]["figures"] == by_api["figures"]
        for one in by_api["figures"]:
            assert shown[one["key"]] == one["text"]
    tanks = {one["key"]: one["text"] for one in sheet["sprayer-tanks"]["answer"]["figures"]}
    assert (tanks["loads"], tanks["products.0.total"]) == ("2", "7.5 qt")
    assert sheet["sprayer-tanks"]["origins"]["tank"] == "Boom"
    assert sheet["sprayer-output"]["answer"] is None
    assert "flow" in sheet["sprayer-output"]["missing"]


@pytest.mark.parametrize(
    ("key", "entry", "value", "says"),
    [
        ("machine-hours", "speed", 0, "0 mph makes no sense. Sensible is 0.5 to 20 mph."),
        ("machine-hours", "acres", -3, "-3 ac makes no sense. Sensible is 0.01 to 5,000 ac."),
        ("machine-hours", "width", "3 gal", "cannot be in gal. Give it in ft"),
        ("seed", "germination", 400, "400 % makes no sense. Sensible is 1 to 100 %."),
        ("sprayer-tanks", "output", "fast", "is no number. Give 1 to 200 gal/ac."),
        ("planter", "colour", "red", "is not asked for here."),
    ],
)
def test_what_is_absurd_gets_the_sensible_range_by_api_and_page(key: str, entry: str, value: Any, says: str) -> None:
    farm = Farm("2027-05-01 08:00")
    told = {**TOLD[key], entry: value}
    answer = farm.manager.post(f"/api/calculators/{key}/", told, format="json")
    assert answer.status_code == 400
    (error,) = answer.json()["errors"]
    assert error["pointer"] == f"#/{entry}"
    assert says in error["detail"]
    if entry == "colour":
        return
    page = signed_in(farm).get(f"/calculators/{key}/", flat(told)).content.decode()
    assert says in page
    assert not figures_on(page)


def test_every_calculator_names_sources_and_ranges() -> None:
    one: Calculator
    for one in shelf().calculators.values():
        assert one.sources
        assert one.entries
        assert one.operations
