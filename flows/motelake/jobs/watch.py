"""One look of the watch as a Prefect flow; each alarm that opens or closes is an event of Prefect too."""

from prefect import flow
from prefect.events import emit_event

from motelake.config import read_config
from motelake.core.alarms import Alarm
from motelake.jobs.listening import say
from motelake.lake.store import Lake
from motelake.steps.campaign import read
from motelake.steps.notify import notify
from motelake.steps.watch import WatchReport
from motelake.steps.watch import watch as watch_step


@flow(name="motelake-watch", persist_result=False)
def watch(lake: str | None = None, hook: str | None = None) -> WatchReport:
    """Looks once at a lake; what is not named comes from MOTELAKE_*. hook: a command or URL told of news."""
    config = read_config(lake)
    place = Lake.open(config.lake)

    def tell(report: WatchReport) -> None:
        if hook and report.news:
            notify(hook, report)
        for alarm in report.news:
            _emit(place.url, alarm)

    return watch_step(place, read(place), config, say, tell=tell)


def _emit(lake: str, alarm: Alarm) -> None:
    emit_event(
        event=f"motelake.alarm.{alarm.state}",
        resource={
            "prefect.resource.id": f"motelake.alarm.{alarm.kind}.{alarm.subject}",
            "prefect.resource.name": f"{alarm.kind} {alarm.subject}",
            "motelake.lake": lake,
        },
        payload=alarm.to_dict(),
    )
