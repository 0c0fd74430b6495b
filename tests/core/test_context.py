from datetime import UTC, datetime

import pytest

from motelake.core.campaign import read_campaign
from motelake.core.context import ContextPoint, ContextStream
from motelake.errors import CampaignError

Files = dict[str, bytes]
STREAMS, WEATHER, REMARKS = "context/streams.csv", "context/weather.csv", "context/remarks.csv"


def test_streams_and_points_are_read(depot: Files) -> None:
    campaign = read_campaign(depot)
    assert campaign.streams == (
        ContextStream("weather", "Air outside", "Cel", "level", 60.0),
        ContextStream("remarks", None, None, None, None),
    )
    assert campaign.context == (
        ContextPoint("remarks", datetime(2031, 5, 9, 19, 1, tzinfo=UTC), None, "hall", "the lights went out"),
        ContextPoint("weather", datetime(2031, 5, 9, 10, tzinfo=UTC), 12.5, None, None),
        ContextPoint("weather", datetime(2031, 5, 9, 11, tzinfo=UTC), 13.0, None, "clouds"),
    )


def test_a_listed_stream_needs_no_file_yet(depot: Files) -> None:
    files = {name: content for name, content in depot.items() if name != WEATHER}
    assert [stream.stream for stream in read_campaign(files).streams] == ["weather", "remarks"]


@pytest.mark.parametrize(
    ("file", "old", "new", "mistake"),
    [
        (
            STREAMS,
            "weather",
            "wether",
            f"{WEATHER}: 'weather' is no stream of {STREAMS}; did you mean 'wether'?",
        ),
        (STREAMS, "remarks", "weather", f"{STREAMS}, row 3, column stream: 'weather' is already in row 2"),
        (
            STREAMS,
            "level,60",
            ",60",
            f"{WEATHER}, row 2, column value: a value, but {STREAMS} gives the stream no",
        ),
        (STREAMS, "level,60", "heat,60", f"{STREAMS}, row 2, column kind: 'heat' is none of level, decibel"),
        (STREAMS, "level,60", "level,-60", f"{STREAMS}, row 2, column max_age_min: '-60' is not above zero"),
        (WEATHER, "12.5", "mild", f"{WEATHER}, row 2, column value: 'mild' is no number"),
        (WEATHER, "12.5", "", f"{WEATHER}, row 2, column value: neither value nor note is filled in"),
        (
            WEATHER,
            "T11",
            "T10",
            f"{WEATHER}, row 3, column value: a second value for the time and zone of row 2",
        ),
        (REMARKS, "hall", "hal", f"{REMARKS}, row 2, column zone: 'hal' is no zone of register/zones.csv"),
        (REMARKS, "19:01:00Z", "19:01", f"{REMARKS}, row 2, column at: '2031-05-09T19:01' has no time zone"),
    ],
)
def test_a_mistake_in_the_context_is_told_where_it_stands(
    depot: Files, file: str, old: str, new: str, mistake: str
) -> None:
    with pytest.raises(CampaignError) as raised:
        read_campaign(depot | {file: depot[file].replace(old.encode(), new.encode(), 1)})
    told = raised.value.problems
    assert any(line.startswith(mistake) for line in told), told


def test_a_stream_without_a_list_of_streams_is_one_mistake(depot: Files) -> None:
    with pytest.raises(CampaignError) as raised:
        read_campaign({name: content for name, content in depot.items() if name not in (STREAMS, REMARKS)})
    assert raised.value.problems == [
        f"{WEATHER}: 'weather' is no stream of {STREAMS}; add it there, or correct the name"
    ]
