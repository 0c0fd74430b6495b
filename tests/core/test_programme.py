from datetime import UTC, datetime

import pytest

from motelake.core.campaign import read_campaign
from motelake.core.programme import ProgrammeEvent
from motelake.errors import CampaignError

Files = dict[str, bytes]
_FILE = "programme/programme.csv"


def test_events_have_times_in_utc_and_zones_one_several_or_all(depot: Files) -> None:
    programme = read_campaign(depot).programme
    assert programme[0] == ProgrammeEvent(
        "E1", "Seeds, dry and true", "talk", "hall",
        datetime(2031, 5, 9, 9, tzinfo=UTC), datetime(2031, 5, 9, 10, tzinfo=UTC),
    )  # fmt: skip
    assert [event.zones for event in programme] == [("hall",), (), ("hall", "wheel_pit")]


@pytest.mark.parametrize(
    ("old", "new", "mistake"),
    [
        ("E2", "E1", "row 3, column event: 'E1' is already in row 2"),
        ("hall+wheel_pit", "hall+pit", "row 4, column zone: 'pit' is no zone of register/zones.csv"),
        ("hall+wheel_pit", "hall+hall", "row 4, column zone: 'hall' stands there twice"),
        ("T12:00:00Z", "T10:00:00Z", "row 4, column ends_at: ends_at is not after starts_at"),
        ("2031-05-09T19:05:00Z", "", "row 3, column ends_at: is empty"),
        ("T10:00:00+01:00", "T10:00:00", "row 2, column starts_at: '2031-05-09T10:00:00' has no time zone"),
    ],
)
def test_a_mistake_in_the_programme_is_told_by_row_and_column(
    depot: Files, old: str, new: str, mistake: str
) -> None:
    with pytest.raises(CampaignError) as raised:
        read_campaign(depot | {_FILE: depot[_FILE].replace(old.encode(), new.encode(), 1)})
    assert raised.value.problems[0].startswith(f"{_FILE}, {mistake}")
