"""The file broker of the embedded way to run, with whole messages only.

The transport that comes with the messaging library writes its files in place, so a reader can meet half a message, or
half a list of queues, and stop its worker. Here a file is written beside its place and renamed into it.
"""

import os
import uuid
from pathlib import Path
from time import monotonic
from typing import Any

from kombu.transport import TRANSPORT_ALIASES, filesystem
from kombu.transport.filesystem import LOCK_EX, exchange_queue_t, lock, unlock  # type: ignore[attr-defined]
from kombu.utils.json import dumps


def _write_whole(path: Path, content: str) -> None:
    part = path.with_name(f".{path.name}.{uuid.uuid4()}.part")
    with part.open("wb") as handle:
        handle.write(content.encode())
        handle.flush()
        os.fsync(handle.fileno())
    part.replace(path)


class Channel(filesystem.Channel):
    def _put(self, queue: str, payload: Any, **kwargs: Any) -> None:  # type: ignore[override]
        name = f"{int(monotonic() * 1000):015d}_{uuid.uuid4()}.{queue}.msg"
        _write_whole(Path(self.data_folder_out) / name, dumps(payload))

    def _queue_bind(self, exchange: str, routing_key: str | None, pattern: str | None, queue: str | None) -> None:
        bound = exchange_queue_t(routing_key or "", pattern or "", queue or "")
        path: Path = self._exchange_file(exchange)  # type: ignore[attr-defined]
        with path.with_suffix(".lock").open("w") as one_at_a_time:
            lock(one_at_a_time, LOCK_EX)
            try:
                known = self.get_table(exchange)
                if bound not in known:
                    _write_whole(path, dumps([bound, *known]))
            finally:
                unlock(one_at_a_time)


class Transport(filesystem.Transport):
    Channel = Channel


def register() -> None:
    """Make `safefs://` known to the messaging library."""
    TRANSPORT_ALIASES["safefs"] = "core.broker:Transport"
