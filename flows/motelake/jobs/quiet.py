"""Prefect without telemetry, look-ups on the network and log lines on a person's terminal.

To be called before Prefect is imported. Whatever somebody set themselves is left as it is.
"""

import os
from collections.abc import Mapping

TELEMETRY = {
    # The SDK's usage statistics, the server's, and its spans.
    "DO_NOT_TRACK": "1",
    "PREFECT_SERVER_ANALYTICS_ENABLED": "false",
    "PREFECT_CLOUD_ENABLE_ORCHESTRATION_TELEMETRY": "false",
}
# Prefect keeps its logs with the run; what a person must know, motelake says itself.
SWITCHES = TELEMETRY | {"PREFECT_LOGGING_HANDLERS_CONSOLE_LEVEL": "CRITICAL"}

# Prefect's own log on the console as JSON lines, for a process that keeps a schedule.
JSON_LINES = {"PREFECT_LOGGING_HANDLERS_CONSOLE_FORMATTER": "json"}


def quieten_prefect(switches: Mapping[str, str] = SWITCHES) -> None:
    """Sets the switches that are not set yet in this process's environment."""
    for name, value in switches.items():
        os.environ.setdefault(name, value)
