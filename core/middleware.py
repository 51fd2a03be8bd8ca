"""Who is asking: the person of the holding that a signed-in user works in."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from core.clock import standing
from core.models import HoldingState, Person

CHOICE = "person_id"
"""Session key of the membership a user with several chose."""


POLICIES = {
    "Permissions-Policy": ", ".join(
        f"{power}=()" for power in ("camera", "geolocation", "gyroscope", "microphone", "payment", "serial", "usb")
    ),
    "Cross-Origin-Resource-Policy": "same-origin",
}
"""What no page of ours uses, and no page of others may."""


class PolicyMiddleware:
    """Headers of every answer, files and errors too, that the framework has none for."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        answer = self.get_response(request)
        for name, value in POLICIES.items():
            answer.headers.setdefault(name, value)
        return answer


class PersonRequest(HttpRequest):
    """A request that went through `PersonMiddleware`."""

    person: Person | None
    several: bool
    clock_line: str


def persons_of(request: HttpRequest) -> list[Person]:
    """The active memberships of the signed-in user in active holdings, by id; nobody signed in has none."""
    if not request.user.is_authenticated:
        return []
    return list(
        Person.objects.filter(user=request.user, active=True, holding__state=HoldingState.ACTIVE)
        .select_related("holding")
        .order_by("id")
    )


class PersonMiddleware:
    """Set `request.person`: the only membership, or the chosen one of several, else None; `request.several` says
    whether there are several to choose among.

    `request.clock_line` is the sentence that every page shows where the holding's clock stands, else empty."""

    def __init__(self, get_response: Callable[[PersonRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: PersonRequest) -> HttpResponse:
        persons = persons_of(request) if settings.SESSION_COOKIE_NAME in request.COOKIES else []
        request.person, request.several = self._person(request, persons), len(persons) > 1
        request.clock_line = standing(request.person.holding) if request.person else ""
        return self.get_response(request)

    @staticmethod
    def _person(request: HttpRequest, persons: list[Person]) -> Person | None:
        if len(persons) < 2:
            return persons[0] if persons else None
        chosen = request.session.get(CHOICE)
        return next((person for person in persons if person.pk == chosen), None)
