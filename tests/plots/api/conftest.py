"""What the tests of this folder share."""

from tests.core.api_clients import world

__all__ = ["world"]
