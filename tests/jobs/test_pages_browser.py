"""The two pages in a real Chromium: a helper reports, a manager gives work, at phone and desk size, light and dark."""

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.test import Client
from playwright.sync_api import Browser, Page, sync_playwright

from core.models import Holding
from jobs.models import Assignment, Job, Reckoning, Report
from jobs.services.demo import PASSWORD, build_demo
from jobs.services.walking import walk_holding

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE, DESK = {"width": 390, "height": 844}, {"width": 1280, "height": 900}
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-sync",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"  # the driver runs a loop in this thread; the database is not in it
    with sync_playwright() as playwright:
        path = shutil.which("chromium") or shutil.which("chromium-browser")
        running = playwright.chromium.launch(executable_path=path, args=QUIET)
        yield running
        running.close()
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@pytest.fixture
def demo() -> Holding:
    holding = build_demo()
    walk_holding(holding.pk)
    return holding


Open = Callable[..., Page]


@pytest.fixture
def opened(browser: Browser, live_server: Any, demo: Holding) -> Iterator[Open]:
    """Open a page as somebody: `opened("ben@example.org", "/", PHONE)`; no request may leave the host."""
    contexts = []

    def make(mail: str, path: str = "/", size: dict[str, int] = PHONE, scheme: Any = "light") -> Page:
        context = browser.new_context(viewport=size, color_scheme=scheme)  # type: ignore[arg-type]
        contexts.append(context)
        page = context.new_page()
        page.on("request", lambda request: strangers.append(request.url) if "localhost" not in request.url else None)
        page.on("console", lambda line: complaints.append(line.text) if line.type == "error" else None)
        page.goto(f"{live_server.url}/sign-in/")
        page.get_by_label("Mail").fill(mail)
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.goto(f"{live_server.url}{path}")
        return page

    strangers: list[str] = []
    complaints: list[str] = []
    yield make
    for context in contexts:
        context.close()
    assert strangers == []
    assert complaints == []


def job_called(title: str, plot: str) -> Job:
    return Job.objects.get(title=title, plot__name=plot)


def row_of(page: Page, title: str, plot: str) -> Any:
    return page.locator("li.job", has_text=title).filter(has_text=plot).first


def test_a_helper_starts_does_a_part_and_says_what_stopped_it(opened: Open) -> None:
    page = opened("ben@example.org")
    assert "The clock of this holding stands at Thu 7 May 2026, 18:30" in page.inner_text("body")
    grass = ("Grass spray in the clover", "Orchard Clover")
    row_of(page, *grass).get_by_role("button", name="Start").click()
    assert "under way" in row_of(page, *grass).inner_text()

    row = row_of(page, *grass)
    row.get_by_text("Could not", exact=True).click()
    row.get_by_text("First add acres done, or a note").click()
    row.get_by_label("Acres done before that (empty: none)").fill("0.6")
    row.get_by_role("button", name="Wind").click()
    told = row_of(page, *grass).inner_text()
    assert "1.2 ac left" in told
    assert "Could not be done on Thu 7 May: wind." in told

    row_of(page, *grass).get_by_role("button", name="Done").click()
    assert row_of(page, *grass).count() == 0
    job = job_called(*grass)
    assert [r.kind for r in Report.objects.filter(job=job).order_by("id")] == ["start", "could_not", "done"]
    assert Reckoning.objects.get(job=job).state == "done"


def test_could_not_asks_for_the_reason_before_anything_is_sent(opened: Open) -> None:
    page = opened("ben@example.org")
    before = Report.objects.count()
    row = row_of(page, "Grass spray in the clover", "Orchard Clover")
    assert not row.get_by_role("button", name="Wet ground").is_visible()
    row.get_by_text("Could not", exact=True).click()
    assert Report.objects.count() == before
    row.get_by_role("button", name="Wet ground").click()
    told = Report.objects.latest("id")
    assert (Report.objects.count(), told.kind, told.reason) == (before + 1, "could_not", "wet")


def test_a_check_asks_how_it_came_out_and_one_tap_answers(opened: Open) -> None:
    page = opened("ben@example.org")
    row = row_of(page, "Did the residual get its rain?", "Long Bench")
    row.get_by_text("Done", exact=True).click()
    row.get_by_role("button", name="Failed").click()
    told = Report.objects.latest("id")
    assert (told.kind, told.outcome) == ("done", "failed")


def test_only_a_part_is_reported_with_its_acres_alone(opened: Open) -> None:
    page = opened("ben@example.org")
    row = row_of(page, "Grass spray in the clover", "Orchard Clover")
    row.get_by_text("Only a part, or left out on purpose").click()
    row.get_by_role("button", name="This part is done").click()
    assert row.get_by_label("Acres done", exact=True).evaluate("field => field.validity.valueMissing")
    row.get_by_label("Acres done", exact=True).fill("0.8")
    row.get_by_role("button", name="This part is done").click()
    assert "1.0 ac left" in row_of(page, "Grass spray in the clover", "Orchard Clover").inner_text()


def test_a_page_sent_twice_is_one_report(opened: Open, demo: Holding, client: Client, live_server: Any) -> None:
    page = opened("ben@example.org")
    row = row_of(page, "Is the corn up?", "Long Bench")
    stamp = row.locator("input[name=client_id]").first.get_attribute("value")
    row.get_by_role("button", name="Start").click()
    page.evaluate(
        """async (stamp) => {
            const form = new FormData(document.querySelector("form.report"));
            form.set("client_id", stamp); form.set("kind", "start");
            await fetch(document.querySelector("form.report").action, {method: "POST", body: form});
        }""",
        stamp,
    )
    assert Report.objects.filter(client_id=stamp).count() == 1


def test_a_helper_finds_what_fits_two_hours_here(opened: Open) -> None:
    page = opened("ines@example.org")
    page.get_by_text("I am here, with so many hours").click()
    page.get_by_label("Property").select_option(label="Quarry Lane")
    page.get_by_label("Hours").fill("2")
    page.get_by_role("button", name="Show what fits").click()
    text = page.inner_text("ol.jobs")
    assert "Walk the clover" in text
    assert "Cane Bottom" not in text


def test_a_manager_gives_work_by_hand_and_nobody_gets_two_jobs_at_one_time(opened: Open) -> None:
    page = opened("ruth@example.org", "/by-property/", DESK)
    for title, plot in (("Walk the clover", "Scale House Clover"), ("Hang warning signs", "River fence")):
        row = row_of(page, title, plot)
        row.get_by_text("Give it to somebody").click()
        row.get_by_label("To").select_option(label="Ines Marsh")
        row.get_by_label("Day").fill("2026-05-09")
        row.get_by_label("From").fill("13:00")
        row.get_by_label("Until").fill("14:00")
        row.get_by_role("button", name="Give").click()
    assert "Nothing was stored." in page.inner_text("main")
    given = Assignment.objects.filter(person__name="Ines Marsh", starts="13:00")
    assert [row.job.title for row in given] == ["Walk the clover"]
    row = row_of(page, "Walk the clover", "Scale House Clover")
    assert "Ines Marsh, Sat 9 May 13:00 to 14:00" in row.inner_text()
    row.get_by_text("Give it to somebody").click()
    row.get_by_role("button", name="Take it back from Ines Marsh").click()
    assert "Ines Marsh" not in row_of(page, "Walk the clover", "Scale House Clover").locator("p").all_inner_texts()


def test_a_viewer_looks_and_has_no_buttons(opened: Open) -> None:
    page = opened("otto@example.org", "/", DESK)
    assert page.url.endswith("/by-property/")
    assert page.get_by_role("button", name="Done").count() == 0
    assert page.get_by_text("Give it to somebody").count() == 0


def test_one_job_says_what_holds_it_and_where_that_comes_from(opened: Open) -> None:
    fence = job_called("Fence the corn", "Long Bench")
    page = opened("ruth@example.org", f"/jobs/{fence.pk}/")
    text = page.inner_text("main")
    assert "Waits until the crop is up; a look closes it, no clock does." in text
    assert "Source:" in text
    page.get_by_role("button", name="Seen today").click()
    page.goto(page.url.split("?")[0].replace("/by-property/", f"/jobs/{fence.pk}/"))
    assert Reckoning.objects.get(job=fence).state == "open"


def test_pictures_of_pages_without_a_finding(opened: Open, tmp_path: Path) -> None:
    folder = Path(os.environ.get("PICTURES", tmp_path))
    folder.mkdir(parents=True, exist_ok=True)
    fence = job_called("Fence the corn", "Long Bench")
    for name, path in (("next", "/"), ("work", "/by-property/"), ("job", f"/jobs/{fence.pk}/")):
        for size in (PHONE, DESK):
            for scheme in ("light", "dark"):
                page = opened("ruth@example.org", path, size, scheme)
                assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
                if (size, scheme) in ((PHONE, "light"), (DESK, "dark")):
                    found = Axe().run(page)
                    assert [violation["id"] for violation in found.response["violations"]] == []
                picture = folder / f"{name}-{size['width']}-{scheme}.png"
                page.screenshot(path=picture, full_page=True)
                assert picture.stat().st_size > 5_000


def test_report_buttons_are_large_enough_for_gloves_and_reached_by_keyboard(opened: Open) -> None:
    page = opened("ben@example.org")
    boxes = [
        button.bounding_box() for button in page.locator(".reach:visible button:visible, .tap:visible > summary").all()
    ]
    assert len(boxes) > 6
    assert all(box is not None and box["width"] >= 48 and box["height"] >= 48 for box in boxes)
    links = [link.bounding_box() for link in page.locator("header a:visible, summary:visible, .far:visible").all()]
    assert all(box is not None and box["height"] >= 48 for box in links)
    first_job = page.locator("li.job").first.locator(".reach")
    tops = [first_job.locator(f":scope > :nth-child({n})").bounding_box() for n in (1, 2, 3)]
    assert len({round(box["y"]) for box in tops if box is not None}) == 1, "the three taps stand in one row"
    first = page.locator("form.report button[value=start]").first
    first.focus()
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert "Stored. Thank you." in page.inner_text("main")


def test_the_head_leaves_most_of_a_phone_to_the_work(opened: Open) -> None:
    page = opened("ben@example.org")
    head = page.locator("header").bounding_box()
    assert head is not None
    assert head["height"] <= PHONE["height"] / 5
    assert page.get_by_text("Other holding").count() == 0, "a link that leads nowhere with one holding"


def test_what_can_hurt_is_told_on_the_card_and_wholly_on_the_page_of_the_job(opened: Open) -> None:
    page = opened("ben@example.org")
    row = row_of(page, "End the cereal before corn", "Hollow Rye")
    assert "Care, pesticide. Read the label of this container before mixing" in row.inner_text()
    row.get_by_role("link", name="End the cereal before corn").first.click()
    shown = page.inner_text("main")
    assert "Keep water for eyes and hands at the sprayer" in shown
    assert "The label is the law" in shown


def test_a_held_job_offers_no_start_and_takes_a_report_behind_a_tap(opened: Open) -> None:
    fence = job_called("Fence the corn", "Long Bench")
    page = opened("ruth@example.org", f"/jobs/{fence.pk}/")
    assert page.get_by_role("button", name="Start").count() == 0
    page.get_by_text("It was done or begun all the same").click()
    assert page.get_by_role("button", name="Start").is_visible()
