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
    """Set `request.person`: the only membership, or the chosen one of several, else None.

    `request.clock_line` is the sentence that every page shows where the holding's clock stands, else empty."""

    def __init__(self, get_response: Callable[[PersonRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: PersonRequest) -> HttpResponse:
        request.person = self._person(request)
        request.clock_line = standing(request.person.holding) if request.person else ""
        return self.get_response(request)

    @staticmethod
    def _person(request: HttpRequest) -> Person | None:
        if settings.SESSION_COOKIE_NAME not in request.COOKIES:
            return None
        persons = persons_of(request)
        if len(persons) == 1:
            return persons[0]
        chosen = request.session.get(CHOICE)
        return next((person for person in persons if person.pk == chosen), None)
