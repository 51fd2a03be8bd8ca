"""Who may do what. A view names its roles; everything else is refused."""

from typing import Any

from rest_framework.permissions import SAFE_METHODS, BasePermission
from rest_framework.request import Request

from core.errors import NotAllowed
from core.models import HoldingState, Person, Role, Token, TokenKind
from core.services.rows import HOLDING_CLOSED

EVERYBODY = frozenset(Role.values)
MANAGERS = frozenset({Role.MANAGER.value})
WORKERS = frozenset({Role.MANAGER.value, Role.HELPER.value})
NOBODY: frozenset[str] = frozenset()


class Anybody(BasePermission):
    """No sign-in asked: for the schema, its page and health alone."""


class InHolding(BasePermission):
    """A member of a holding whose role and token allow the method.

    The view says so by three attributes, each with a careful default:
    `readers` roles that may look (all), `writers` roles that may change (managers), `report_methods` the methods that a
    report-only token may use (none). `@action(..., writers=WORKERS)` sets them for one action.
    """

    message = "This sign-in belongs to no holding. Ask a manager for an invitation."

    def has_permission(self, request: Request, view: Any) -> bool:
        person: Person | None = getattr(request, "person", None)
        if person is None or request.successful_authenticator is None:
            return False  # the pages' middleware names a person too, before the API has checked anything
        method = request.method or ""
        check_token(request.auth, method, getattr(view, "report_methods", NOBODY))
        looks = method in SAFE_METHODS
        roles = getattr(view, "readers", EVERYBODY) if looks else getattr(view, "writers", MANAGERS)
        if person.role not in roles:
            names = " and ".join(f"{role}s" for role in sorted(roles)) or "nobody"
            raise NotAllowed(f"Only {names} may do this; your role is {person.role}.", role=person.role)
        if not looks and person.holding.state == HoldingState.CLOSED:
            raise NotAllowed(HOLDING_CLOSED)
        return True


def check_token(auth: Any, method: str, report_methods: frozenset[str]) -> None:
    """Raises: NotAllowed: the kind of the token does not reach this method here."""
    if not isinstance(auth, Token) or auth.kind == TokenKind.FULL:
        return
    if auth.kind == TokenKind.READ and method not in SAFE_METHODS:
        raise NotAllowed("This token may only read. Use a full token to change something.", kind=auth.kind)
    if auth.kind == TokenKind.REPORT and (method if method != "HEAD" else "GET") not in report_methods:
        raise NotAllowed("This token may only read next jobs and send reports.", kind=auth.kind)


def is_manager(person: Person) -> bool:
    return person.role == Role.MANAGER
