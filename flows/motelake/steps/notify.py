"""Telling somebody outside of alarms that opened or closed."""

import json
import shlex
import subprocess

from motelake.errors import InputError, SurroundingsError
from motelake.steps.watch import WatchReport

PATIENCE_S = 30.0


def notify(hook: str, report: WatchReport) -> None:
    """Gives the news of a report to a hook: a command (JSON on its standard input) or a URL (POST of JSON).

    Raises SurroundingsError where it fails: the next look tells again. InputError where it is no command.
    """
    news = {"looked_at": report.to_dict()["looked_at"], "alarms": [alarm.to_dict() for alarm in report.news]}
    if hook.startswith(("http://", "https://")):
        _post(hook, news)
    else:
        _call(hook, json.dumps(news))


def _post(url: str, news: dict[str, object]) -> None:
    import httpx

    try:
        httpx.post(url, json=news, timeout=PATIENCE_S).raise_for_status()
    except httpx.HTTPStatusError as error:
        raise SurroundingsError(
            f"The hook answered {error.response.status_code}; it is told again."
        ) from error
    except httpx.HTTPError as error:
        # The URL of a hook often is its secret, so it is not repeated.
        raise SurroundingsError(
            f"The hook does not answer ({type(error).__name__}); it is told again."
        ) from error


def _call(command: str, news: str) -> None:
    try:
        words = shlex.split(command)
        done = subprocess.run(
            words, input=news, text=True, stdout=subprocess.DEVNULL, timeout=PATIENCE_S, check=False
        )
    except (ValueError, OSError) as error:
        raise InputError(f"The hook {command!r} cannot be run: {error}.") from error
    except subprocess.TimeoutExpired as error:
        raise SurroundingsError(
            f"The hook {command!r} took longer than {PATIENCE_S:g} seconds; it is told again."
        ) from error
    if done.returncode != 0:
        raise SurroundingsError(
            f"The hook {command!r} ended with exit code {done.returncode}; it is told again."
        )
