"""The file broker of the embedded way to run, with whole messages only.

The transport that comes with the messaging library writes a message file in place, so a reader can meet half a
message and stop its worker. Here a message is written beside its place and renamed into it.
"""

import os
import uuid
from pathlib import Path
from time import monotonic
from typing import Any

from kombu.transport import TRANSPORT_ALIASES, filesystem
from kombu.utils.json import dumps


class Channel(filesystem.Channel):
    def _put(self, queue: str, payload: Any, **kwargs: Any) -> None:
        name = f"{int(monotonic() * 1000):015d}_{uuid.uuid4()}.{queue}.msg"
        folder = Path(self.data_folder_out)
        part = folder / f".{name}.part"
        with part.open("wb") as handle:
            handle.write(dumps(payload).encode())
            handle.flush()
            os.fsync(handle.fileno())
        part.replace(folder / name)


class Transport(filesystem.Transport):
    Channel = Channel


def register() -> None:
    """Make `safefs://` known to the messaging library."""
    TRANSPORT_ALIASES["safefs"] = "core.broker:Transport"
