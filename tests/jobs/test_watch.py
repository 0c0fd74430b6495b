"""The watch as a flow: each alarm that opens is an event of Prefect."""

from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from tests.jobs.conftest import Place

pytestmark = pytest.mark.usefixtures("prefect")


def test_an_alarm_that_opens_is_an_event_once(place: "Place", monkeypatch: pytest.MonkeyPatch) -> None:
    from prefect.events import Event, emit_event

    from motelake.core.alarms import Condition
    from motelake.jobs.calling import call_flow
    from motelake.jobs.watch import watch

    def one_stands(look: Any) -> list[Condition]:
        return [Condition("delivery", "stalled", look.now, "Nothing is delivered")]

    emitted: list[Event | None] = []
    monkeypatch.setattr("motelake.steps.watch.stalled", one_stands)
    monkeypatch.setattr("motelake.jobs.watch.emit_event", lambda **event: emitted.append(emit_event(**event)))
    said: list[str] = []
    for _ in range(2):
        report = call_flow(lambda: watch(place.lake), said.append)
    assert report.needs_attention
    (event,) = emitted
    assert event is not None, "Prefect took it"
    assert event.event == "motelake.alarm.open"
    assert event.resource.id == "motelake.alarm.delivery.stalled"
    assert event.payload["sentence"] == "Nothing is delivered"
    assert said == ["open: Nothing is delivered."]
