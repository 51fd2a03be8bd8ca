"""What the deployment check asks of the settings beside the framework's own."""

from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, register


@register(Tags.security, deploy=True)
def no_open_gateways(**kwargs: Any) -> list[CheckMessage]:
    """In production no gateway is reached past the rules: in the open, on any port, in one's own network."""
    if settings.PRODUCTION and settings.WEBHOOK_ALLOW:
        return [
            Error(
                "READYGROUND_WEBHOOK_ALLOW names gateways that are reached without the checks of addresses.",
                hint="Leave it empty in production and reach the gateway by https on port 443.",
                id="readyground.E001",
            )
        ]
    return []
