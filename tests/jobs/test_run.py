"""The run as a flow: what its tasks do, when they are tried again, and who hears of it."""

import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from motelake.errors import InputError, LockedError, StoreError
from motelake.lake.store import Lake

if TYPE_CHECKING:
    from tests.jobs.conftest import Place

    from motelake.steps.run import RunReport

pytestmark = pytest.mark.usefixtures("prefect")


def call_run(place: "Place", say: Callable[[str], None] = lambda _: None) -> "RunReport":
    from motelake.jobs.calling import call_flow
    from motelake.jobs.run import run

    return call_flow(lambda: run(place.lake, place.warehouse), say)


def test_a_run_stages_checks_loads_and_publishes(place: "Place") -> None:
    report = call_run(place)
    assert (report.stage.lines_read, report.stage.lines_parsed) == (3, 2)
    assert report.check.objects == 1
    assert (report.load.bursts, report.load.readings) == (2, 2)
    assert report.publish.is_new
    assert not report.needs_attention


def test_a_second_run_does_its_steps_again_instead_of_remembering_the_first(place: "Place") -> None:
    call_run(place)
    more = '{"mote":"M1","seq":3,"received_at":"2031-05-09T07:01:00Z","readings":{"temperature":22}}\n'
    Path(place.lake, "raw/more.jsonl").write_text(more)
    report = call_run(place)
    assert report.stage.objects == 1
    assert report.load.bursts == 3


def test_what_a_run_says_is_heard_by_its_caller_and_kept_by_prefect(place: "Place") -> None:
    from prefect.client.orchestration import get_client

    heard: list[str] = []
    call_run(place, heard.append)
    assert any(sentence.startswith("Staged batch 1") for sentence in heard)
    deadline = time.monotonic() + 20
    kept: set[str] = set()
    with get_client(sync_client=True) as client:
        # Prefect sends logs from a thread of its own, a few seconds late.
        while not set(heard) <= kept and time.monotonic() < deadline:
            kept = {log.message for log in client.read_logs()}
            time.sleep(0.1)
    assert set(heard) <= kept


@pytest.fixture
def no_waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    from motelake.jobs import run

    for task in (run.stage_task, run.check_task, run.load_task, run.publish_task):
        monkeypatch.setattr(task, "retry_delay_seconds", 0)


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> Callable[[Exception, int], list[int]]:
    """Makes listing a lake's raw objects fail so often with an error; the list grows by one a try."""

    def fail(error: Exception, times: int) -> list[int]:
        whole = Lake.list
        tries: list[int] = []

        def listing(lake: Lake, prefix: str) -> object:
            if prefix != "raw":
                return whole(lake, prefix)
            tries.append(len(tries))
            if len(tries) <= times:
                raise error
            return whole(lake, prefix)

        monkeypatch.setattr(Lake, "list", listing)
        return tries

    return fail


@pytest.mark.usefixtures("no_waiting")
def test_a_store_that_fails_twice_is_asked_a_third_time(
    place: "Place", failing: Callable[[Exception, int], list[int]]
) -> None:
    tries = failing(StoreError("the store timed out"), 2)
    assert call_run(place).stage.objects == 1
    assert len(tries) == 3


@pytest.mark.usefixtures("no_waiting")
@pytest.mark.parametrize(
    "error", [InputError("wrong"), LockedError("another process is at work"), ZeroDivisionError("a bug")]
)
def test_what_will_not_be_gone_in_seconds_is_tried_once_and_raised_as_it_is(
    place: "Place", failing: Callable[[Exception, int], list[int]], error: Exception
) -> None:
    tries = failing(error, 9)
    with pytest.raises(type(error)) as raised:
        call_run(place)
    assert raised.value is error
    assert len(tries) == 1


def test_a_lake_that_is_not_there_is_refused_before_any_task_runs(place: "Place", tmp_path: Path) -> None:
    from motelake.jobs.run import run

    with pytest.raises(InputError, match="There is no lake at"):
        run(str(tmp_path / "nowhere"))


def test_a_second_writer_waits_for_the_first_and_is_told_when_it_takes_long(place: "Place") -> None:
    from prefect.client.orchestration import get_client

    from motelake.jobs.writer import only_writer, writer_limit

    lake = Lake.open(place.lake)
    with only_writer(lake, 5):
        began = time.monotonic()
        with pytest.raises(LockedError, match="Another flow has been at work in"), only_writer(lake, 1):
            raise AssertionError("two writers at once")
        assert time.monotonic() - began >= 1
    with only_writer(lake, 5), get_client(sync_client=True) as client:
        limit = client.read_global_concurrency_limit_by_name(writer_limit(lake))
        assert (limit.limit, limit.active_slots) == (1, 1)


def test_a_night_and_an_hour_are_flows_too(place: "Place") -> None:
    from motelake.jobs.calling import call_flow
    from motelake.jobs.care import compact, publish

    call_run(place)
    hourly = call_flow(lambda: publish(place.lake, place.warehouse), lambda _: None)
    assert "fleet.clocks" in hourly.answers_made
    report = call_flow(lambda: compact(place.lake, place.warehouse), lambda _: None)
    assert report.publish.answers_made
    assert not report.needs_attention


def test_the_schedule_lasts_as_long_as_bursts_are_taken_by_the_clocks_of_the_campaign(place: "Place") -> None:
    from motelake.jobs.deployments import deployments
    from motelake.steps.campaign import read

    planned = deployments(place.lake, place.warehouse, read(Lake.open(place.lake)), "small")
    dates = {}
    for one in planned:
        for schedule in one.schedules or ():
            rule: Any = schedule.schedule
            dates[one.flow_name] = list(rule.to_rrule())
    # From 2031-05-09 04:00 to 2031-05-11 00:00 UTC and the two hours in which late bursts are taken.
    assert len(dates["motelake-run"]) == 46 * 12 + 1
    assert len(dates["motelake-watch"]) == 46 * 60 + 1
    assert len(dates["motelake-publish"]) == 46
    nights = [f"{at:%m-%d %H:%M %z}" for at in dates["motelake-compact"]]
    assert nights == ["05-10 03:30 +0100", "05-11 03:30 +0100", "05-12 03:30 +0100"]
    limits = {str(one.flow_name): (one.concurrency_limit, one.concurrency_options) for one in planned}
    assert {limit for limit, _ in limits.values()} == {1}
    late = {name: options.collision_strategy for name, (_, options) in limits.items() if options}
    assert {name.removeprefix("motelake-") for name, how in late.items() if how == "CANCEL_NEW"} == {
        "run", "watch", "publish",
    }  # fmt: skip
