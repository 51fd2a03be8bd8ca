"""Which pages a person may open, and from where they ask."""

from collections.abc import Callable
from functools import wraps
from ipaddress import ip_address
from typing import Any
from urllib.parse import urlencode

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from core.middleware import PersonRequest

View = Callable[..., HttpResponse]


def client_ip(request: HttpRequest) -> str:
    """The address that misses at the sign-in are counted by.

    In production a proxy stands before us and writes it into X-Real-IP, whatever a visitor sent; without a proxy, or
    where it says none, it is whoever is connected."""
    said = request.headers.get("X-Real-IP", "").strip() if settings.PRODUCTION else ""
    try:
        return str(ip_address(said))
    except ValueError:
        return str(request.META.get("REMOTE_ADDR", ""))


def person_required(*roles: str) -> Callable[[View], View]:
    """A page for a person of a holding, of one of `roles` if any are given: `@person_required("manager")`.

    Nobody signed in goes to the sign-in page, somebody with several holdings chooses one first, anybody else is told
    what is missing (status 403). Inside the view `request.person` is never None."""

    def wrap(view: View) -> View:
        @wraps(view)
        def checked(request: PersonRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if not request.user.is_authenticated:
                return redirect_to_login(request.get_full_path())
            if request.person is None:
                back = request.get_full_path() if request.method == "GET" else "/"
                return redirect(f"{reverse('choose-holding')}?{urlencode({'next': back})}")
            if roles and request.person.role not in roles:
                sentence = f"This page is for: {', '.join(roles)}. You are {request.person.role} in this holding."
                return render(request, "core/message.html", {"heading": "Not yours", "sentence": sentence}, status=403)
            return view(request, *args, **kwargs)

        return checked

    return wrap
