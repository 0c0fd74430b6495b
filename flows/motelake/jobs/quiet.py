"""Prefect without telemetry, look-ups on the network and log lines on a person's terminal.

It reads its settings when it is imported, so a wrong one is told here. To be called before that. Whatever
somebody set themselves is left as it is.
"""

import os
from collections.abc import Mapping
from importlib import import_module

from pydantic import ValidationError

from motelake.errors import InputError

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
    """Sets the switches that are not set yet in this process's environment.

    Raises InputError where Prefect does not accept what somebody set for it.
    """
    for name, value in switches.items():
        os.environ.setdefault(name, value)
    try:
        import_module("prefect.context")
    except ValidationError as error:
        wrong = error.errors()[0]
        name = "_".join(str(part) for part in wrong["loc"]).upper()
        raise InputError(
            f"Prefect does not accept {wrong['input']!r} for a setting that ends in {name}: {wrong['msg']}. "
            "Correct it in the environment (PREFECT_...) or in Prefect's profile."
        ) from error
