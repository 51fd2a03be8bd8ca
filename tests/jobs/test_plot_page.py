"""The page of a plot and the page of a job's chance: the same figures as the API, in words."""

from __future__ import annotations

from html import unescape

import pytest
from django.test import Client

from core.models import Person, User
from tests.jobs.api.test_growth import Corn, Place

pytestmark = pytest.mark.django_db


def browser_of(place: Place) -> Client:
    manager = Person.objects.get(holding=place.farm.holding, role="manager")
    manager.user = User.objects.create_user("boss@example.org", "a long enough word")
    manager.save()
    client = Client()
    client.force_login(manager.user)
    return client


def text_of(client: Client, url: str, **asked: str) -> str:
    answer = client.get(url, asked)
    assert answer.status_code == 200
    return unescape(answer.content.decode())


def test_the_plots_page_says_what_grows_and_weighs_a_stand_by_every_table() -> None:
    corn = Corn()
    corn.farm.at("2027-05-20 08:00")
    client, url = browser_of(corn), f"/plots/{corn.plot}/"
    page = text_of(client, url)
    for path in ("growth", "degree-days", "chance", "replant"):
        assert corn.farm.get(f"plots/{corn.plot}/{path}")["sentence"] in page, path
    assert "Source: Corn emergence at 100 to 120" in page
    weighed = text_of(client, url, stand="20000")
    told = corn.farm.get(f"plots/{corn.plot}/replant", stand=20_000)
    assert len(told["tables"]) == 5
    for table in told["tables"]:
        assert table["sentence"] in weighed
    for option in told["options"]:
        assert option["sentence"] in weighed
    assert "Give plants an acre from 0 to 400,000" in text_of(client, url, stand="-3")
    assert "Give plants an acre from 0 to 400,000" in text_of(client, url, stand="many")


def test_a_jobs_chance_has_a_page_that_the_jobs_page_names() -> None:
    place = Place()
    job = place.job("till", deadline="2027-05-20")
    told = place.asked(f"jobs/{job}/chance")
    client = browser_of(place)
    page = text_of(client, f"/jobs/{job}/chance/")
    assert told["sentence"] in page
    front = text_of(client, f"/jobs/{job}/")
    assert f"/jobs/{job}/chance/" in front
    assert f"/plots/{place.plot}/" in front
