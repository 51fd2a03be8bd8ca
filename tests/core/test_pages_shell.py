"""The page shell: who comes in and how, and what every page keeps to."""

import hashlib
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.test import Client, RequestFactory

from core.access import person_required
from core.clock import standing
from core.errors import NotAllowed, NotFound, Refused
from core.middleware import PersonMiddleware
from core.models import Graph, Holding, Invitation, Person, User
from core.services import invitations
from jobs.sentences import STATES

pytestmark = pytest.mark.django_db

CORE = Path(settings.ROOT) / "core"
CSS = (CORE / "static/core/page.css").read_text()
PASSWORD = "a long clover password"


@pytest.fixture
def user() -> User:
    return User.objects.create_user("ada@example.org", PASSWORD)


@pytest.fixture
def member(user: User, holding: Holding, person_factory: Callable[..., Person]) -> Person:
    return person_factory(holding, "helper", name="Ada", user=user)


def sign_in(client: Client, password: str = PASSWORD, mail: str = "ada@example.org", **more: str) -> HttpResponse:
    return client.post("/sign-in/", {"username": mail, "password": password, **more})


def test_mail_and_password_sign_in_and_the_mails_case_does_not_matter(client: Client, member: Person) -> None:
    answer = sign_in(client, mail="Ada@Example.ORG")
    assert (answer.status_code, answer["Location"]) == (302, "/")
    assert client.session["_auth_user_id"] == str(member.user_id)


def test_a_wrong_password_says_what_to_do(client: Client, member: Person) -> None:
    answer = sign_in(client, "not the password")
    assert answer.status_code == 200
    assert "Mail and password do not belong together." in answer.content.decode()
    assert "_auth_user_id" not in client.session


def test_five_misses_close_the_door_even_for_the_right_password_until_15_minutes_are_over(
    client: Client, member: Person, time_machine: object
) -> None:
    at = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
    time_machine.move_to(at, tick=False)  # type: ignore[attr-defined]
    assert [sign_in(client, "wrong").status_code for _ in range(5)] == [200, 200, 200, 200, 429]
    closed = sign_in(client)
    assert closed.status_code == 429
    assert "Try again 15 minutes after the last one." in closed.content.decode()
    time_machine.move_to(at + timedelta(minutes=14), tick=False)  # type: ignore[attr-defined]
    assert sign_in(client).status_code == 429
    time_machine.move_to(at + timedelta(minutes=30), tick=False)  # type: ignore[attr-defined]
    assert sign_in(client).status_code == 302


def test_misses_with_one_address_close_no_other(client: Client, member: Person) -> None:
    for _ in range(6):
        sign_in(client, "wrong", mail="someone@example.org")
    assert sign_in(client).status_code == 302


def test_sign_in_leads_back_into_this_house_only(client: Client, member: Person) -> None:
    assert sign_in(client, next="/holding/")["Location"] == "/holding/"
    assert sign_in(Client(), next="https://elsewhere.example.org/")["Location"] == "/"


def test_signing_out_takes_a_form_and_not_a_link(client: Client, member: Person) -> None:
    sign_in(client)
    assert client.get("/sign-out/").status_code == 405
    assert "_auth_user_id" in client.session
    assert client.post("/sign-out/")["Location"] == "/sign-in/"
    assert "_auth_user_id" not in client.session


def test_a_form_from_elsewhere_is_refused(member: Person) -> None:
    careful = Client(enforce_csrf_checks=True)
    answer = sign_in(careful)
    assert answer.status_code == 403
    assert "Nothing was stored" in answer.content.decode()


@pytest.fixture
def invited(holding: Holding, manager: Person, person_factory: Callable[..., Person]) -> tuple[Person, str]:
    person = person_factory(holding, "helper", name="Ben")
    return person, invitations.invite(person=person, by=manager)


def test_looking_at_an_invitation_does_not_use_it_up(client: Client, invited: tuple[Person, str]) -> None:
    for _ in range(2):
        page = client.get(f"/invitation/{invited[1]}/")
        assert page.status_code == 200
        assert "expects you as Ben (Helper)" in page.content.decode()


def test_an_invitation_lets_one_person_in_once(client: Client, invited: tuple[Person, str]) -> None:
    person, secret = invited
    form = {"email": "Ben@Example.org", "password": PASSWORD}
    assert client.post(f"/invitation/{secret}/", form)["Location"] == "/"
    person.refresh_from_db()
    assert person.user.email == "ben@example.org"
    assert client.session["_auth_user_id"] == str(person.user_id)
    again = Client().post(f"/invitation/{secret}/", form | {"email": "eve@example.org"})
    assert again.status_code == 404
    assert "Ask the manager for a new one." in again.content.decode()


def test_somebody_who_signs_in_already_joins_by_a_press(
    invited: tuple[Person, str], other_manager: Person, signed_in: Callable[[Person], Client]
) -> None:
    person, secret = invited
    assert signed_in(other_manager).post(f"/invitation/{secret}/").status_code == 302
    person.refresh_from_db()
    assert person.user == other_manager.user


def test_an_address_that_signs_in_already_is_not_taken_over(
    client: Client, invited: tuple[Person, str], user: User
) -> None:
    answer = client.post(f"/invitation/{invited[1]}/", {"email": "ADA@example.org", "password": "another long one"})
    assert answer.status_code == 400
    assert "Sign in with it first" in answer.content.decode()
    user.refresh_from_db()
    assert user.check_password(PASSWORD)
    assert invitations.read(secret=invited[1]).used_at is None


def test_a_weak_password_is_refused_and_the_invitation_stays(client: Client, invited: tuple[Person, str]) -> None:
    answer = client.post(f"/invitation/{invited[1]}/", {"email": "ben@example.org", "password": "short"})
    assert answer.status_code == 400
    assert "too short" in answer.content.decode()
    assert not User.objects.filter(email="ben@example.org").exists()
    assert invitations.read(secret=invited[1]).used_at is None


def test_an_invitation_lasts_seven_days(holding: Holding, person_factory: Callable[..., Person]) -> None:
    made = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
    secret = invitations.invite(person=person_factory(holding), by=None, now=made)
    assert invitations.read(secret=secret, now=made + timedelta(days=7, seconds=-1))
    with pytest.raises(NotFound):
        invitations.read(secret=secret, now=made + timedelta(days=7))


def test_the_secret_is_stored_as_a_hash_only(invited: tuple[Person, str]) -> None:
    row = Invitation.objects.get(person=invited[0])
    assert row.sha256 == hashlib.sha256(invited[1].encode()).hexdigest()
    assert invited[1] not in str(vars(row))


def test_a_new_invitation_ends_the_older_one(manager: Person, invited: tuple[Person, str]) -> None:
    second = invitations.invite(person=invited[0], by=manager)
    assert invitations.read(secret=second)
    with pytest.raises(NotFound):
        invitations.read(secret=invited[1])


def test_only_a_manager_of_the_holding_invites(
    helper_person: Person, other_manager: Person, invited: tuple[Person, str]
) -> None:
    for somebody in (helper_person, other_manager):
        with pytest.raises(NotAllowed):
            invitations.invite(person=invited[0], by=somebody)


def test_whoever_signs_in_already_is_not_invited(manager: Person, member: Person) -> None:
    with pytest.raises(Refused, match="signs in already"):
        invitations.invite(person=member, by=manager)


def test_joining_is_a_changed_fact_and_stands_in_the_log(client: Client, invited: tuple[Person, str]) -> None:
    person, secret = invited
    before = Graph.objects.get(holding=person.holding).facts_version
    client.post(f"/invitation/{secret}/", {"email": "ben@example.org", "password": PASSWORD})
    assert Graph.objects.get(holding=person.holding).facts_version > before


def page(request: HttpRequest) -> HttpResponse:
    return HttpResponse(f"{request.person.name} at {request.person.holding}")


def asked(person_of: User | None, session: dict[str, int] | None = None, *roles: str) -> HttpResponse:
    """The answer of a page that wants a person."""
    request = RequestFactory().get("/somewhere/")
    request.COOKIES[settings.SESSION_COOKIE_NAME] = "x"
    request.session = session or {}
    request.user = person_of or type("Nobody", (), {"is_authenticated": False})()
    return PersonMiddleware(person_required(*roles)(page))(request)


def test_the_only_membership_needs_no_choice(member: Person) -> None:
    assert asked(member.user).content == b"Ada at Home holding"


def test_with_several_holdings_one_is_chosen_first_and_nobody_elses(
    member: Person, other_holding: Holding, other_manager: Person, person_factory: Callable[..., Person]
) -> None:
    second = person_factory(other_holding, "viewer", name="Ada there", user=member.user)
    assert asked(member.user)["Location"] == "/holding/?next=%2Fsomewhere%2F"
    assert asked(member.user, {"person_id": second.pk}).content == b"Ada there at Other holding"
    assert asked(member.user, {"person_id": other_manager.pk}).status_code == 302

    client = Client()
    sign_in(client)
    assert "Ada there" in client.get("/holding/").content.decode()
    assert client.post("/holding/", {"person": other_manager.pk}).status_code == 404
    chosen = client.post("/holding/", {"person": second.pk, "next": "/somewhere/"})
    assert (chosen["Location"], client.session["person_id"]) == ("/somewhere/", second.pk)


def test_nobody_signed_in_goes_to_the_sign_in_page() -> None:
    assert asked(None)["Location"] == "/sign-in/?next=/somewhere/"


def test_a_page_for_managers_tells_a_helper_so(member: Person) -> None:
    answer = asked(member.user, None, "manager")
    assert answer.status_code == 403
    assert "This page is for: manager. You are helper in this holding." in answer.content.decode()
    assert asked(member.user, None, "manager", "helper").status_code == 200


def test_whoever_left_has_no_holding(client: Client, member: Person) -> None:
    member.active = False
    member.save()
    sign_in(client)
    answer = client.get("/holding/")
    assert answer.status_code == 403
    assert "You belong to no holding." in answer.content.decode()


def test_a_standing_clock_stands_on_every_page(client: Client, holding: Holding, member: Person) -> None:
    sign_in(client)
    sentence = "The clock of this holding stands at Thu 5 Mar 2026, 18:30."
    assert "The clock of this holding" not in client.get("/nowhere/").content.decode()
    holding.clock_at = datetime(2026, 3, 6, 0, 30, tzinfo=UTC)  # 18:30 the day before in Chicago
    holding.save()
    assert standing(holding) == sentence
    assert sentence in client.get("/nowhere/").content.decode()


def shell_pages(client: Client, secret: str) -> list[str]:
    return [client.get(url).content.decode() for url in ("/sign-in/", "/nowhere/", f"/invitation/{secret}/")]


def test_pages_load_nothing_from_elsewhere_and_carry_no_inline_script_or_style(
    client: Client, invited: tuple[Person, str]
) -> None:
    for text in shell_pages(client, invited[1]):
        assert re.findall(r'(?:src|href|action)="(?:https?:)?//', text) == []
        assert re.findall(r"<script(?![^>]* src=)|<style|\sstyle=|\son\w+=|javascript:", text) == []
    for path in [*CORE.glob("static/core/*"), *CORE.glob("templates/**/*.html")]:
        assert re.findall(r"https?://|@import|url\(", path.read_text()) == [], path.name


def test_the_policy_of_contents_allows_this_house_only(client: Client) -> None:
    policy = client.get("/sign-in/")["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert "*" not in policy


def test_a_page_can_be_used_without_eyes_or_mouse(client: Client, invited: tuple[Person, str]) -> None:
    for text in shell_pages(client, invited[1]):
        assert '<html lang="en">' in text
        assert text.index('href="#content"') < text.index('<main id="content"')
        assert text.count("<h1>") == 1
        assert 'name="viewport"' in text
        for name in re.findall(r'<input type="(?!hidden)[^>]* id="(\w+)"', text):
            assert f'<label for="{name}">' in text


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_is_counted_as_the_guideline_does() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)  # the guideline's well-known near miss


def test_ink_and_clay_stand_out_seven_to_one_by_day_and_night() -> None:
    grounds = re.findall(
        r"--paper: (#\w{6}); --ink: (#\w{6}); --soft: (#\w{6}); --rule: (#\w{6}); --clay: (#\w{6})", CSS
    )
    assert len(grounds) == 2
    for paper, ink, soft, rule, clay in grounds:
        assert min(contrast(paper, colour) for colour in (ink, soft, clay)) >= 7
        assert contrast(paper, rule) >= 3


def test_every_state_has_a_hatch_of_its_own_and_a_word_in_the_key() -> None:
    states = STATES  # their words on cards and in sentences
    hatches = [re.search(rf"^\.state-{state} {{ background-image: ([^;]+);", CSS, re.MULTILINE) for state in states]
    assert all(hatches)
    assert len({match.group(1) for match in hatches if match}) == len(states)
    key = render_to_string("core/state_key.html")
    assert [state for state, word in states.items() if f'class="state-{state}"><dt>{word}</dt>' not in key] == []


def test_touch_targets_are_48_px_and_motion_there_is_none() -> None:
    assert "--touch: 48px" in CSS
    assert re.search(r"^button, \.act {[^}]*min-height: var\(--touch\); min-width: var\(--touch\)", CSS, re.MULTILINE)
    assert re.findall(r"animation|transition|@keyframes|box-shadow", CSS) == []
    assert set(re.findall(r"border-radius: ([^;]+);", CSS)) == {"0"}
