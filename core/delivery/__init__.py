"""Ways a message leaves the house. A sender has one method, `send`, that returns or raises Temporary or Permanent."""

from core.delivery.errors import Permanent, Temporary
from core.delivery.message import Message
from core.delivery.ways import Sender, sender_of

__all__ = ["Message", "Permanent", "Sender", "Temporary", "sender_of"]
