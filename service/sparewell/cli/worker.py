"""One of several server processes; `sparewell serve --workers` starts them, nobody else does.

Its arguments are the descriptors of the listening socket and of the line to its parent.
"""

from __future__ import annotations

import signal
import socket
import sys

from sparewell.app.declarations import core_declarations
from sparewell.app.factory import create_app
from sparewell.app.log import kept_log
from sparewell.app.server import serve_app
from sparewell.app.workers import ParentLine
from sparewell.cli.local import opened
from sparewell.configuration import BODY_LIMIT, read_configuration
from sparewell.edge.hosts import names_for


def main(listener_descriptor: int, line_descriptor: int, host: str) -> None:
    """Serve until the parent says so, or is gone."""
    # Ctrl-C reaches every process of the terminal; the parent alone decides what follows.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    present = read_configuration()
    line = ParentLine(line_descriptor)
    with (
        kept_log(present.log_level),
        opened(present.database_url) as database,
        socket.socket(fileno=listener_descriptor) as listener,
    ):
        app = create_app(
            database,
            core_declarations(present.skip_plugins),
            host_names=names_for(host, present.allowed_hosts),
            body_limit_bytes=present.limits_bytes[BODY_LIMIT],
            raw_limits_bytes=present.limits_bytes,
        )
        serve_app(
            app,
            listener,
            body_limit_bytes=max(present.limits_bytes.values()),
            on_listening=line.say_ready,
        )


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]), sys.argv[3])
