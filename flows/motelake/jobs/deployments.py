"""The deployments of a lake: which flow runs when, for how long, and what happens where it is late."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from prefect.automations import Automation
from prefect.client.orchestration import get_client
from prefect.client.schemas.actions import WorkPoolCreate
from prefect.client.schemas.objects import ConcurrencyLimitConfig, ConcurrencyLimitStrategy, StateType
from prefect.deployments.runner import RunnerDeployment
from prefect.events.actions import ChangeFlowRunState
from prefect.events.schemas.automations import EventTrigger, Posture
from prefect.exceptions import ObjectNotFound
from prefect.flows import Flow
from prefect.schedules import RRule, Schedule
from prefect.types.entrypoint import EntrypointType
from prefect.workers.process import ProcessWorker

from motelake.core.campaign import Campaign
from motelake.jobs.care import compact, publish, rebuild
from motelake.jobs.run import run
from motelake.jobs.watch import watch

RUN_EVERY = timedelta(minutes=5)
WATCH_EVERY = timedelta(minutes=1)
NIGHTLY = "BYHOUR=3;BYMINUTE=30;BYSECOND=0"
# A flow run tells so often that it lives; one that was silent five times as long is dead.
HEARTBEAT_S = 30
DEAD_AFTER_S = 150
CRASHED = "motelake: a run without a heartbeat has crashed"

# A late look or run is worth nothing beside the next one; what was asked for by hand is waited for.
DROP = ConcurrencyLimitConfig(limit=1, collision_strategy=ConcurrencyLimitStrategy.CANCEL_NEW)
QUEUE = ConcurrencyLimitConfig(limit=1, collision_strategy=ConcurrencyLimitStrategy.ENQUEUE)


def deployments(
    lake: str,
    warehouse: str,
    campaign: Campaign,
    name: str,
    *,
    run_every: timedelta = RUN_EVERY,
    hook: str | None = None,
    pool: str | None = None,
) -> list[RunnerDeployment]:
    """The five deployments of a lake, for a work pool or to be served here.

    While the campaign lasts, and as long as late bursts are taken: run, watch, publish once an hour and
    compact at night, by the campaign's clocks; rebuild by hand.
    """
    place = {"lake": lake, "warehouse": warehouse}
    span = campaign.starts_at, campaign.ends_at + timedelta(minutes=campaign.limits.late_min)
    nights = span[0], span[1] + timedelta(days=2)
    plans: Iterator[tuple[Flow[..., Any], dict[str, Any], Schedule | None, ConcurrencyLimitConfig]] = iter(
        (
            (run, place, every(run_every, *span), DROP),
            (watch, {"lake": lake, "hook": hook}, every(WATCH_EVERY, *span), DROP),
            (publish, place, recurring("FREQ=HOURLY;BYMINUTE=2;BYSECOND=30", *span), DROP),
            (compact, place, recurring(f"FREQ=DAILY;{NIGHTLY}", *nights, campaign.time_zone), QUEUE),
            (rebuild, place, None, QUEUE),
        )
    )
    return [
        RunnerDeployment.from_flow(
            flow,
            name,
            schedule=schedule,
            parameters=parameters,
            concurrency_limit=limit,
            tags=["motelake", name],
            description=flow.description,
            work_pool_name=pool,
            entrypoint_type=EntrypointType.MODULE_PATH,
        )
        for flow, parameters, schedule, limit in plans
    ]


def every(period: timedelta, starts_at: datetime, ends_at: datetime) -> Schedule:
    """A schedule from one instant to another, in whole seconds."""
    return recurring(f"FREQ=SECONDLY;INTERVAL={round(period.total_seconds())}", starts_at, ends_at)


def recurring(rule: str, starts_at: datetime, ends_at: datetime, time_zone: str = "UTC") -> Schedule:
    """A schedule by a recurrence rule (RFC 5545, section 3.3.10) from one instant to another."""
    first, last = (f"{at.astimezone(ZoneInfo(time_zone)):%Y%m%dT%H%M%S}" for at in (starts_at, ends_at))
    return RRule(f"DTSTART:{first}\nRRULE:{rule};UNTIL={last}", timezone=time_zone)


def register(planned: list[RunnerDeployment], pool: str) -> list[str]:
    """Tells the configured Prefect server of deployments for a pool of processes, made where it is missing.

    Returns their names. What was registered before under the same names is replaced.
    """
    with get_client(sync_client=True) as client:
        try:
            client.read_work_pool(pool)
        except ObjectNotFound:
            template = ProcessWorker.get_default_base_job_template()
            client.create_work_pool(WorkPoolCreate(name=pool, type="process", base_job_template=template))
    for one in planned:
        one.apply(work_pool_name=pool)
    return [one.full_name for one in planned]


def tell_crashes(dead_after_s: int = DEAD_AFTER_S) -> None:
    """Has the configured server set runs to crashed whose heartbeat stopped, as after kill -9 of a host.

    A worker tells at once of a run whose process ended; nobody else can tell of a run that died with its
    worker.
    """
    beat = "prefect.flow-run.heartbeat"
    ends = {f"prefect.flow-run.{state}" for state in ("Completed", "Failed", "Cancelled", "Crashed")}
    trigger = EventTrigger(
        match={"prefect.resource.id": ["prefect.flow-run.*"]},
        for_each={"prefect.resource.id"},
        after={beat},
        expect={beat, *ends},
        posture=Posture.Proactive,
        threshold=1,
        within=timedelta(seconds=dead_after_s),
    )
    action = ChangeFlowRunState(
        name="Crashed",
        force=False,
        state=StateType.CRASHED,
        message="Its heartbeat stopped: the process or its host is gone.",
    )
    with get_client(sync_client=True) as client:
        known = client.read_automations_by_name(CRASHED)
        # Made anew it would forget the runs it waits for; a worker in a container tells it at every restart.
        if any((one.trigger, one.actions) == (trigger, [action]) for one in known):
            return
        for one in known:
            client.delete_automation(one.id)
    Automation(name=CRASHED, trigger=trigger, actions=[action]).create()
