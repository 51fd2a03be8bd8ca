"""What every route answers to everybody: the table behind the matrix. A route without a row here fails the matrix.

Another room adds its rows to `ROWS` by its own module (see `tests/jobs/api/matrix.py`) and its things by `grow`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from tests.core.world import Side

Body = Callable[[Side], Mapping[str, Any]]

ALL = frozenset({"manager", "helper", "viewer"})
WORKERS = frozenset({"manager", "helper"})
MANAGERS = frozenset({"manager"})
ROLE_OF = {
    "stranger": "manager",
    "other_crew": "helper",
    "helper": "helper",
    "viewer": "viewer",
    "manager": "manager",
    "read_token": "manager",
    "report_token": "helper",
}
NOBODY = ("anonymous", "revoked", "expired")
GOOD = {"GET": 200, "HEAD": 200, "POST": 201, "PUT": 200, "PATCH": 200, "DELETE": 204}


def _nothing(side: Side) -> Mapping[str, Any]:
    return {}


@dataclass(frozen=True)
class Row:
    """One route.

    methods     roles that each method lets through; a method not named is answered 405
    thing       name of the thing in `Side.things` that the route shows or lists, "" if it is about no row
    url         arguments of the address for a thing of a side; none for a list
    body        per method, the body for a side
    crossing    methods whose body names ids, so that those of another holding are not found
    hidden      askers of the holding for whom the thing does not exist
    report      methods that a report-only token reaches
    shared      the thing belongs to no holding
    answers     statuses of success that differ from the usual ones
    anybody     no sign-in is asked
    quiet       methods that change no fact the walk reads; every other write wakes it
    sends       how the body is written: "json", or "multipart" for a form with a file
    """

    methods: Mapping[str, frozenset[str]]
    thing: str = ""
    url: Callable[[Side], Mapping[str, Any]] = _nothing
    body: Mapping[str, Body] = field(default_factory=dict)
    crossing: frozenset[str] = frozenset()
    hidden: frozenset[str] = frozenset()
    report: frozenset[str] = frozenset()
    shared: bool = False
    answers: Mapping[str, int] = field(default_factory=dict)
    anybody: bool = False
    quiet: frozenset[str] = frozenset()
    sends: str = "json"

    @property
    def detail(self) -> bool:
        return self.url is not _nothing

    def expected(self, method: str, asker: str, away: bool) -> set[int]:
        """Statuses that are right when `asker` uses `method` on the thing, or with the ids, of home or of away."""
        asked = "GET" if method == "HEAD" else method
        if self.anybody:
            return {self.answers.get(asked, 200)} if asked in self.methods else {405}
        if asker in NOBODY:
            return {401}
        if asker == "report_token" and asked not in self.report:
            return {403}
        if asker == "read_token" and asked not in ("GET", "OPTIONS"):
            return {403}
        role = ROLE_OF[asker]
        if asked not in self.methods:
            return {405} if role == "manager" else {403, 405}
        if role not in self.methods[asked]:
            return {403}
        foreign = not self.shared and (asker == "stranger") != away
        if (self.detail or asked in self.crossing) and foreign:
            return {404}
        if self.detail and self.thing and asker in self.hidden:
            return {404}
        return {self.answers.get(asked, GOOD[asked])}


def by_id(thing: str) -> Callable[[Side], Mapping[str, Any]]:
    return lambda side: {"pk": side.id(thing)}


def fact(
    thing: str,
    new: Body,
    change: Mapping[str, Any],
    *,
    reads: frozenset[str] = ALL,
    crosses: bool = True,
    hidden: frozenset[str] = frozenset(),
    quiet: frozenset[str] = frozenset(),
) -> dict[str, Row]:
    """The two routes of a fact that managers write."""
    return {
        f"{thing}-list": Row(
            {"GET": reads, "POST": MANAGERS},
            thing,
            body={"POST": new},
            crossing=frozenset({"POST"} if crosses else ()),
            hidden=hidden,
            quiet=quiet,
        ),
        f"{thing}-detail": Row(
            {"GET": reads, "PATCH": MANAGERS, "DELETE": MANAGERS},
            thing,
            by_id(thing),
            body={"PATCH": lambda side: change},
            hidden=hidden,
            quiet=quiet,
        ),
    }


def looked_at(
    thing: str, *, reads: frozenset[str] = ALL, hidden: frozenset[str] = frozenset(), shared: bool = False
) -> dict[str, Row]:
    """The two routes of something nobody writes here."""
    return {
        f"{thing}-list": Row({"GET": reads}, thing, hidden=hidden, shared=shared),
        f"{thing}-detail": Row({"GET": reads}, thing, by_id(thing), hidden=hidden, shared=shared),
    }


OTHERS = frozenset({"other_crew", "viewer"})
"""Those of the holding who see nothing of what is the helper's own."""

CORE: dict[str, Row] = {
    "schema": Row({"GET": ALL}, anybody=True),
    "api-docs": Row({"GET": ALL}, anybody=True),
    "health": Row({"GET": ALL}, anybody=True),
    "me": Row({"GET": ALL}),
    "holding": Row({"GET": ALL, "PATCH": MANAGERS}, body={"PATCH": lambda side: {"name": "New name"}}),
    **fact("person", lambda side: {"name": "Newcomer"}, {"name": "Renamed"}, crosses=False),
    "person-invitation": Row(
        {"POST": MANAGERS}, "person", by_id("person"), body={"POST": lambda side: {}}, quiet=frozenset({"POST"})
    ),
    **fact(
        "way",
        lambda side: {"person": side.helper.pk, "kind": "mail", "address": "new@example.org"},
        {"daily_limit": 3},
        reads=MANAGERS,
    ),
    "way-key": Row({"POST": MANAGERS}, "way", by_id("way"), answers={"POST": 200}, quiet=frozenset({"POST"})),
    **fact(
        "free-time",
        lambda side: {"person": side.helper.pk, "weekday": 6, "starts": "08:00", "ends": "10:00"},
        {"ends": "11:00"},
        hidden=OTHERS,
    ),
    **fact(
        "free-exception",
        lambda side: {"person": side.helper.pk, "day": "2026-05-01", "starts": "08:00", "ends": "10:00"},
        {"free": True},
        hidden=OTHERS,
    ),
    **fact("skill", lambda side: {"name": "planter"}, {"name": "chain saw"}, crosses=False),
    **fact(
        "certificate",
        lambda side: {"person": side.helper.pk, "skill": side.id("skill"), "valid_from": "2026-05-01"},
        {"number": "77"},
        hidden=OTHERS,
    ),
    **fact("crew", lambda side: {"name": "Third crew", "members": [side.helper.pk]}, {"name": "Renamed"}),
    "token-list": Row(
        {"GET": ALL, "POST": ALL},
        "token",
        hidden=OTHERS,
        body={"POST": lambda side: {"days": 5}},
        quiet=frozenset({"POST"}),
    ),
    "token-detail": Row(
        {"GET": ALL, "DELETE": ALL}, "token", by_id("token"), hidden=OTHERS, quiet=frozenset({"DELETE"})
    ),
    **looked_at("event", reads=MANAGERS),
    **looked_at("notice", hidden=OTHERS),
    "notice-send-again": Row(
        {"POST": MANAGERS}, "notice", by_id("notice"), answers={"POST": 200}, quiet=frozenset({"POST"})
    ),
}

PLOTS: dict[str, Row] = {
    **fact(
        "property", lambda side: {"name": "Dale", "latitude": 40.2, "longitude": -91.0}, {"floods": True}, crosses=False
    ),
    **fact(
        "plot",
        lambda side: {"name": "Bottom", "property": side.id("property"), "acres_typed": 1.5},
        {"texture": "silt loam"},
    ),
    **fact("consent", lambda side: {"property": side.id("property"), "whose": "the office"}, {"note": "by phone"}),
    **fact(
        "tell-first",
        lambda side: {"property": side.id("property"), "name": "Hives", "role": "beekeeper", "reach": "the creek gate"},
        {"lead_hours": 48},
        reads=MANAGERS,
    ),
    **fact(
        "quiet-time",
        lambda side: {
            "property": side.id("property"),
            "plot": side.id("plot"),
            "first_day": "2026-11-01",
            "last_day": "2026-11-15",
            "reason": "season",
        },
        {"reason": "guests"},
    ),
    **fact(
        "contract",
        lambda side: {
            "property": side.id("property"),
            "practice": "grass",
            "first_day": "2026-01-01",
            "last_day": "2030-12-31",
        },
        {"cap_acres": 3.0},
    ),
    **fact("soil-test", lambda side: {"plot": side.id("plot"), "on": "2026-06-01", "ph": 6.4}, {"ph": 5.9}),
    **fact(
        "crew-property",
        lambda side: {"crew": side.id("second_crew"), "property": side.id("property")},
        {},
    ),
    **fact(
        "machine",
        lambda side: {"name": "Drill", "kind": "planter", "at_property": side.id("property")},
        {"state": "down"},
    ),
    **fact("material", lambda side: {"name": "Rye", "kind": "seed", "unit": "lb"}, {"lead_days": 9}, crosses=False),
    **fact("label", lambda side: {"material": side.id("new_material"), "entry_hours": 30.0}, {"rain_fast_hours": 3.0}),
    **fact(
        "label-active",
        lambda side: {"label": side.id("label"), "active": "2,4-D", "per_unit": 3.8, "unit": "lb ae"},
        {"season_most_per_acre": 5.0},
    ),
    **fact(
        "plant-back",
        lambda side: {"label": side.id("label"), "crop": "", "days": 300.0, "after_rain_in": 1.5},
        {"days": 280.0},
    ),
    **fact(
        "own-limit",
        lambda side: {"quantity": "wind_mph", "most": 8.0, "machine": side.id("machine")},
        {"most": 7.0},
    ),
    **fact("lot", lambda side: {"material": side.id("material"), "number": "L2"}, {"note": "treated"}),
    **fact(
        "stock-move",
        lambda side: {"material": side.id("material"), "quantity": -5, "at": "2026-04-02T12:00:00Z"},
        {"note": "counted"},
    ),
    **looked_at("crop", shared=True),
    **looked_at("source", shared=True),
    **fact("series", lambda side: {"place": "pond"}, {"name": "At the pond"}, crosses=False, quiet=frozenset({"POST"})),
    **fact("day", lambda side: {"series": side.id("series"), "date": "2026-04-02", "high_f": 60.0}, {"high_f": 70.0}),
    **fact("hour", lambda side: {"series": side.id("series"), "at": "2026-04-02T12:00:00Z"}, {"temp_f": 50.0}),
    **fact(
        "property-series",
        lambda side: {"property": side.id("new_property"), "rank": 1, "series": side.id("series")},
        {"rank": 3},
    ),
    **fact(
        "property-gauge",
        lambda side: {"property": side.id("new_property"), "site": "03304050", "level_ft": 12.5},
        {"margin_ft": 2.0},
    ),
    "calculator-list": Row({"GET": ALL}, report=frozenset({"GET"})),
    "calculator-detail": Row(
        {"GET": ALL, "POST": ALL},
        url=lambda side: {"key": "machine-hours"},
        body={"POST": lambda side: {"width": "7 ft", "speed": 4, "acres": 2.5}},
        report=frozenset({"GET", "POST"}),
        shared=True,
        answers={"POST": 200},
        quiet=frozenset({"POST"}),
    ),
    "import": Row(
        {"POST": MANAGERS},
        body={
            "POST": lambda side: {
                "file": SimpleUploadedFile("plots.csv", b"name,property,acres\nStrip,Hill,1.5\n"),
                "property": side.id("property"),
            }
        },
        crossing=frozenset({"POST"}),
        answers={"POST": 200},
        sends="multipart",
    ),
}


Form = Callable[[Side], Mapping[str, Any]]


@dataclass(frozen=True)
class Page:
    """One page with a session. `roles` of the holding get `inside`, the others 403, nobody is sent to the sign-in.

    form      what is posted, made for the asker's own side; without one the page is looked at
    url       arguments of the address for a thing of a side; with them another holding's thing is 404
    hidden    askers of the holding for whom the thing does not exist
    inside    the status for those let through
    answers   statuses of single askers that differ
    anybody   the status for nobody, where the page is for such
    """

    roles: frozenset[str] = ALL
    form: Form | None = None
    url: Callable[[Side], Mapping[str, Any]] = _nothing
    hidden: frozenset[str] = frozenset()
    inside: int = 200
    answers: Mapping[str, int] = field(default_factory=dict)
    anybody: int | None = None

    def expected(self, asker: str, role: str) -> int:
        """The right status for somebody signed in who asks for the thing of home."""
        if role not in self.roles:
            return 403
        if self.url is not _nothing and self.anybody is None and (asker == "stranger" or asker in self.hidden):
            return 404
        return self.answers.get(asker, self.inside)


CORE_PAGES: dict[str, Page] = {
    "sign-in": Page(anybody=200, inside=302),
    "sign-out": Page(anybody=405, inside=405),
    "invitation": Page(url=lambda side: {"secret": "none-such"}, anybody=404, inside=404),
    "stop-way": Page(url=lambda side: {"signed": "none-such"}, anybody=404, inside=404),
    "choose-holding": Page(inside=302),
}
