"""Files of facts by API."""

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from core.models import User
from plots.models import Day, Plot, PropertySeries
from tests.core.world import World

pytestmark = pytest.mark.django_db

GOOD = b"name,property,acres\nStrip,Hill,1.5\n"
MIXED = b"name,property,acres\nStrip,Hill,1.5\nBad,Nowhere,2\nWorse,Hill,-1\n"


def send(world: World, data: bytes, name: str = "plots.csv", asker: str = "manager", **more: Any) -> Any:
    body = {"file": SimpleUploadedFile(name, data), **more}
    return world.clients[asker].post("/api/imports/", body, format="multipart")


def test_good_file_is_stored_and_counted(world: World) -> None:
    first, again = send(world, GOOD), send(world, GOOD)
    assert (first.status_code, first.json()) == (
        200,
        {
            "stored": 1,
            "new": 1,
            "changed": 0,
            "same": 0,
            "summary": "1 new, 0 changed, 0 as before.",
            "refused": [],
            "notes": [],
        },
    )
    assert (again.json()["stored"], again.json()["summary"]) == (0, "0 new, 0 changed, 1 as before.")
    assert Plot.objects.get(name="Strip").holding == world.home.holding


def test_one_refused_row_stores_nothing_and_every_one_is_listed(world: World) -> None:
    answer = send(world, MIXED)
    assert (answer.status_code, answer["Content-Type"]) == (422, "application/problem+json")
    assert answer.json()["detail"] == "2 refused. Nothing was stored."
    assert answer.json()["facts"]["refused"] == [
        {
            "line": "Line 3",
            "reason": "No property 'Nowhere' is in this holding",
            "cure": "Add it first, or correct the name.",
        },
        {"line": "Line 4", "reason": "acres is -1", "cure": "Give acres above 0."},
    ]
    assert not Plot.objects.filter(name="Strip").exists()


def test_good_rows_are_kept_when_asked(world: World) -> None:
    answer = send(world, MIXED, keep_good="true")
    assert (answer.status_code, answer.json()["stored"]) == (200, 1)
    assert [row["line"] for row in answer.json()["refused"]] == ["Line 3", "Line 4"]
    assert Plot.objects.filter(name="Strip").exists()


def test_a_file_without_one_good_row_is_a_problem_even_then(world: World) -> None:
    assert send(world, b"name,property,acres\nBad,Nowhere,2\n", keep_good="true").status_code == 422
    assert send(world, b"", kind="plots", keep_good="true").status_code == 422


def test_weather_goes_to_the_series_of_the_property(world: World) -> None:
    land = world.home.things["property"]
    answer = send(world, b"date,high_f\n2026-05-09,71\n", "barn.csv", property=land.pk)
    assert answer.status_code == 200
    assert Day.objects.get(date="2026-05-09").series == PropertySeries.objects.get(property=land).series


def test_kind_that_name_and_columns_do_not_tell_is_asked_for(world: World) -> None:
    answer = send(world, b"width,height\n1,2\n", "things.csv")
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (400, "#/kind")
    assert "people, machines" in answer.json()["detail"]


@pytest.mark.parametrize(
    ("field", "value"), [("kind", "tractors"), ("keep_good", "perhaps"), ("zone", "Mars/Base"), ("colour", "red")]
)
def test_wrong_field_is_refused_by_name(field: str, value: str, world: World) -> None:
    answer = send(world, GOOD, **{field: value})
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (400, f"#/{field}")


@pytest.mark.parametrize("value", ["x", "-1", "9" * 30, "1.5"])
def test_property_that_is_no_id_is_refused(value: str, world: World) -> None:
    assert send(world, GOOD, property=value).status_code in (400, 404)
    assert not Plot.objects.filter(name="Strip").exists()


def test_choice_that_a_form_leaves_empty_is_none(world: World) -> None:
    assert send(world, GOOD, property="").status_code == 200


def test_form_without_a_file_is_refused(world: World) -> None:
    answer = world.clients["manager"].post("/api/imports/", {"kind": "plots"}, format="multipart")
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (400, "#/file")


def test_too_large_a_form_is_refused_before_it_is_read(world: World) -> None:
    answer = send(world, b"x" * 10_200_000)
    assert (answer.status_code, answer["Content-Type"]) == (413, "application/problem+json")


@pytest.mark.parametrize("asker", ["helper", "viewer", "read_token", "report_token"])
def test_managers_alone_import(asker: str, world: World) -> None:
    assert send(world, GOOD, asker=asker).status_code == 403
    assert not Plot.objects.filter(name="Strip").exists()


HOSTILE_FORMS = {
    "no boundary": (b"--x\r\n", "multipart/form-data"),
    "cut off": (b'--x\r\nContent-Disposition: form-data; name="file"; filename="a.csv"\r\n\r\nname', "x"),
    "many fields": (
        b"".join(b'--x\r\nContent-Disposition: form-data; name="f%d"\r\n\r\n1\r\n' % n for n in range(1_500))
        + b"--x--\r\n",
        "x",
    ),
    "many files": (
        b"".join(
            b'--x\r\nContent-Disposition: form-data; name="f%d"; filename="a%d"\r\n\r\n1\r\n' % (n, n)
            for n in range(150)
        )
        + b"--x--\r\n",
        "x",
    ),
}


@pytest.mark.parametrize("what", sorted(HOSTILE_FORMS))
@pytest.mark.parametrize("signed_in", [False, True])
def test_hostile_form_is_refused_in_plain_words(what: str, signed_in: bool, world: World) -> None:
    data, kind = HOSTILE_FORMS[what]
    client: Any = world.clients["manager"]
    if signed_in:
        person = world.home.manager
        person.user = User.objects.create(email="manager@example.org")
        person.save()
        client = Client(raise_request_exception=False, enforce_csrf_checks=True)
        client.force_login(person.user, backend="django.contrib.auth.backends.ModelBackend")
    kind = kind if "/" in kind else f"multipart/form-data; boundary={kind}"
    answer = client.post("/api/imports/", data, content_type=kind)
    assert answer.status_code in ((400, 403) if signed_in else (400,))
    assert answer["Content-Type"] == "application/problem+json"
