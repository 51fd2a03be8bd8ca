"""Sign-in, sign-out, invitations, the stop of a way and the choice of a holding."""

from typing import Any

from django import forms
from django.conf import settings
from django.contrib.auth import login
from django.contrib.auth.decorators import login_required
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from core.delivery.signing import stopped_by
from core.errors import NotFound, Refused
from core.middleware import CHOICE, persons_of
from core.models import User
from core.services import invitations
from core.services.ways import GONE, stop_way, way_to_stop


class SignInForm(AuthenticationForm):
    """Mail and password. Addresses are stored and counted in small letters."""

    username = forms.EmailField(label="Mail", widget=forms.EmailInput(attrs={"autocomplete": "username"}))
    error_messages = {
        "invalid_login": "Mail and password do not belong together. Check both; five misses close this for 15 minutes.",
        "inactive": "This sign-in is closed. Ask the manager.",
    }

    def clean_username(self) -> str:
        return str(self.cleaned_data["username"]).lower()


@method_decorator(never_cache, name="dispatch")
class SignIn(LoginView):
    template_name = "core/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """One try at a time for an address: a miss is counted before the next try may look at the password.

        An address that nobody has takes no turn: there is nothing to guess, and where the whole database is one lock,
        strangers who guess without end would hold up every report."""
        address = request.POST.get("username", "").replace("\0", "")  # PostgreSQL takes none; the form refuses it
        tried = User.objects.filter(email__iexact=address.strip())
        if not tried.exists():
            return super().post(request, *args, **kwargs)
        with transaction.atomic():
            list(tried.select_for_update().values_list("pk"))
            return super().post(request, *args, **kwargs)


def locked_out(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
    """The answer after too many misses, called by the sign-in guard."""
    context = {
        "heading": "Closed for a while",
        "sentence": "Five misses from here with this address. Try again 15 minutes after the last one.",
    }
    return render(request, "core/message.html", context, status=429)


class JoinForm(forms.Form):
    """What a new user gives: an address to sign in with and a password."""

    email = forms.EmailField(label="Mail", widget=forms.EmailInput(attrs={"autocomplete": "username"}))
    password = forms.CharField(
        label="Password, 10 characters or more",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )


@never_cache
@require_http_methods(["GET", "POST"])
def invitation(request: HttpRequest, secret: str) -> HttpResponse:
    """Show an invitation; a POST uses it up. Looking at it (a mail program's preview) does not."""
    try:
        row = invitations.read(secret=secret)
    except NotFound as error:
        return render(
            request, "core/message.html", {"heading": "No invitation", "sentence": error.sentence}, status=404
        )
    user = request.user if isinstance(request.user, User) else None
    form = JoinForm(request.POST or None)
    refused = ""
    if request.method == "POST" and (user or form.is_valid()):
        try:
            if user:
                person = invitations.accept(secret=secret, user=user)
            else:
                person = invitations.join(secret=secret, **form.cleaned_data)
                login(request, person.user, backend="django.contrib.auth.backends.ModelBackend")
            request.session[CHOICE] = person.pk
            return redirect(settings.LOGIN_REDIRECT_URL)
        except Refused as error:
            if error.field in form.fields and not user:
                form.add_error(error.field, error.sentence)
            else:
                refused = error.sentence
    context = {"form": None if user else form, "invitation": row, "refused": refused}
    return render(request, "core/invitation.html", context, status=400 if request.method == "POST" else 200)


@csrf_exempt  # a mail program posts it (RFC 8058) and has no session; the signed address is what allows it
@never_cache
@require_http_methods(["GET", "POST"])
def stop(request: HttpRequest, signed: str) -> HttpResponse:
    """Show what a signed address of a message stops; only a POST stops it. Without sign-in and without redirect."""
    found = stopped_by(signed)
    try:
        if found is None:
            raise NotFound(GONE)
        way = way_to_stop(way_id=found[0], mark=found[1])
    except NotFound as error:
        context = {"heading": "Nothing to stop", "sentence": error.sentence}
        return render(request, "core/message.html", context, status=404)
    if request.method == "GET":
        return render(request, "core/stop.html", {"kind": way.get_kind_display()})
    stop_way(way=way, now=timezone.now())
    sentence = "Nothing more will go to the address this came to. A manager can list it again."
    return render(request, "core/message.html", {"heading": "Stopped", "sentence": sentence})


@never_cache
@login_required
@require_http_methods(["GET", "POST"])
def choose_holding(request: HttpRequest) -> HttpResponse:
    """Choose among the holdings one belongs to; the choice lasts for the session."""
    persons = persons_of(request)
    asked = request.POST.get("next") or request.GET.get("next") or ""
    safe = url_has_allowed_host_and_scheme(asked, {request.get_host()}, require_https=request.is_secure())
    after = asked if safe else settings.LOGIN_REDIRECT_URL
    if request.method == "POST":
        chosen = next((person for person in persons if str(person.pk) == request.POST.get("person")), None)
        if chosen is not None:
            request.session[CHOICE] = chosen.pk
            return redirect(after)
    elif len(persons) == 1:
        return redirect(after)
    if not persons:
        context = {
            "heading": "No holding yet",
            "sentence": "You belong to no holding. Ask its manager for an invitation.",
        }
        return render(request, "core/message.html", context, status=403)
    status = 404 if request.method == "POST" else 200
    return render(request, "core/choose_holding.html", {"persons": persons, "next": after}, status=status)
