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
    row.get_by_text("Only a part, or something stopped it").click()
    row.get_by_label("Acres done (empty: all of it)").fill("0.6")
    row.get_by_label("What stopped it").select_option("wind")
    row.get_by_role("button", name="Could not").click()
    told = row_of(page, *grass).inner_text()
    assert "1.2 ac left" in told
    assert "Could not be done on Thu 7 May: wind." in told

    row_of(page, *grass).get_by_role("button", name="Done").click()
    assert row_of(page, *grass).count() == 0
    job = job_called(*grass)
    assert [r.kind for r in Report.objects.filter(job=job).order_by("id")] == ["start", "could_not", "done"]
    assert Reckoning.objects.get(job=job).state == "done"


def test_could_not_without_a_reason_is_refused_and_nothing_is_stored(opened: Open) -> None:
    page = opened("ben@example.org")
    before = Report.objects.count()
    row_of(page, "Grass spray in the clover", "Orchard Clover").get_by_role("button", name="Could not").click()
    assert "Say what stopped it. Nothing was stored." in page.inner_text("main")
    assert Report.objects.count() == before


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
    boxes = [button.bounding_box() for button in page.locator("form.report > .inline button").all()]
    assert boxes
    assert all(box is not None and box["width"] >= 48 and box["height"] >= 48 for box in boxes)
    first = page.locator("form.report button[value=start]").first
    first.focus()
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert "Stored. Thank you." in page.inner_text("main")
