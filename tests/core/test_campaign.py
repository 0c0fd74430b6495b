import subprocess
import sys
from dataclasses import fields
from datetime import UTC, datetime, time
from time import perf_counter

import pytest

from motelake.core.campaign import Limits, LocalHours, campaign_parts, read_campaign
from motelake.core.plan_file import _LIMITS
from motelake.errors import CampaignError

Files = dict[str, bytes]


def mistakes_in(files: Files) -> list[str]:
    with pytest.raises(CampaignError) as raised:
        read_campaign(files)
    return raised.value.problems


def changed(files: Files, name: str, old: str, new: str) -> Files:
    assert old.encode() in files[name]
    return files | {name: files[name].replace(old.encode(), new.encode(), 1)}


def test_a_campaign_is_read_from_its_files(depot: Files) -> None:
    campaign = read_campaign(depot)
    assert campaign.title == "Depot Fair"
    assert campaign.time_zone == "Europe/Lisbon"
    assert campaign.starts_at == datetime(2031, 5, 9, 4, tzinfo=UTC)
    assert campaign.burst_period_s == 20
    assert campaign.drift_ppm == 100
    assert campaign.levels == {"pit": 0.0, "track": 3.1}
    assert campaign.baseline == LocalHours(time(5), time(7))
    assert campaign.open_hours == LocalHours(time(9), time(21))
    assert campaign.limits == Limits(reject_share=0.3)
    assert [mote.mote for mote in campaign.register.motes] == ["M1", "M2", "M3"]
    assert [event.event for event in campaign.programme] == ["E1", "E2", "E3"]
    assert [stream.stream for stream in campaign.streams] == ["weather", "remarks"]
    assert len(campaign.context) == 3


def test_only_four_files_must_be_there(depot: Files) -> None:
    needed = ("campaign.toml", "register/motes.csv", "register/zones.csv", "register/measures.csv")
    campaign = read_campaign({name: depot[name] for name in needed})
    assert (campaign.register.gateways, campaign.register.placements, campaign.programme) == ((), (), ())


def test_each_missing_file_is_one_mistake() -> None:
    assert [line.split(":")[0] for line in mistakes_in({})] == [
        "campaign.toml",
        "register/measures.csv",
        "register/motes.csv",
        "register/zones.csv",
    ]


@pytest.mark.parametrize(
    ("old", "new", "mistake"),
    [
        ('title = "Depot Fair"', "", "campaign.toml, key title: the key is missing"),
        ('title = "Depot Fair"', 'title = " "', "key title: is no title"),
        (
            'title = "Depot Fair"',
            'titel = "Depot Fair"',
            "key titel: 'titel' is no key here; did you mean 'title'",
        ),
        ("Europe/Lisbon", "Europe/Lissabon", "is no IANA time zone; did you mean 'Europe/Lisbon'?"),
        ("Europe/Lisbon", "../etc/passwd", "key time_zone: '../etc/passwd' is no IANA time zone"),
        ("Europe/Lisbon", "Europe", "key time_zone: 'Europe' is no IANA time zone"),
        ("2031-05-09T04:00:00Z", "2031-05-09T04:00:00", "starts_at: 2031-05-09T04:00:00 has no time zone"),
        ("2031-05-09T04:00:00Z", '"2031-05-09T24:00:00Z"', "starts_at: '2031-05-09T24:00:00Z' has hour 24"),
        ("2031-05-09T04:00:00Z", "2031-05-09", "key starts_at: is no time"),
        ("2031-05-11T00:00:00Z", "2031-05-08T00:00:00Z", "key ends_at: is not after starts_at"),
        ("burst_period_s = 20", "burst_period_s = 0", "key burst_period_s: 0 is not above zero"),
        ("burst_period_s = 20", 'burst_period_s = "20"', "key burst_period_s: is no number"),
        ("burst_period_s = 20", "burst_period_s = true", "key burst_period_s: is no number"),
        ("burst_period_s = 20", "burst_period_s = inf", "key burst_period_s: is no finite number"),
        ("burst_period_s = 20", "burst_period_s = 20\ndrift_ppm = -1", "key drift_ppm: -1 is below zero"),
        ("[levels]", "[levels]\n'a b' = 1", "key levels: 'a b' is no name"),
        ("pit = 0.0", "pit = 'low'", "key levels.pit: is no number"),
        ("[levels]", '[levels]\n"a\\nb" = "low"', "key levels.a\\nb: is no number"),
        ('to = "07:00"\n', "", "key baseline.to: the key is missing; [baseline] needs both from and to"),
        ('from = "09:00"\n', "", "key open.from: the key is missing; [open] needs both from and to"),
        ('"07:00"', '"24:00"', "key baseline.to: is no time of day"),
        ('"07:00"', '"7"', "key baseline.to: is no time of day"),
        ('"07:00"', '"05:00"', "key baseline.to: is the same as from"),
        ('"07:00"', '"04:00"', "key baseline.to: is before from; a baseline lies within one day"),
        ("[open]", "[open]\nuntil = 1", "key open.until: 'until' is no key here"),
        ("reject_share", "reject_shar", "limits.reject_shar: 'reject_shar' is no key here; did you mean"),
        ("= 0.3", "= 30", "key limits.reject_share: 30 is no share; write a number from 0 to 1"),
        ("reject_share = 0.3", "batch_objects = 1.5", "limits.batch_objects: is no whole number from 1 up"),
        ("[limits]", "[limits", "campaign.toml: is no TOML"),
    ],
)
def test_a_mistake_in_the_plan_is_told_by_its_key(depot: Files, old: str, new: str, mistake: str) -> None:
    told = mistakes_in(changed(depot, "campaign.toml", old, new))
    assert any(mistake in line for line in told), told


def test_hours_may_be_toml_times_and_opening_hours_may_pass_midnight(depot: Files) -> None:
    files = changed(depot, "campaign.toml", 'to = "21:00"', "to = 02:30:00")
    assert read_campaign(files).open_hours == LocalHours(time(9), time(2, 30))


def test_a_level_that_is_no_table_is_one_mistake(depot: Files) -> None:
    plan = (
        b'title = "x"\ntime_zone = "UTC"\nstarts_at = 2031-05-09T04:00:00Z\nends_at = 2031-05-11T00:00:00Z\n'
    )
    told = mistakes_in(depot | {"campaign.toml": plan + b"burst_period_s = 20\nlevels = 3\n"})
    assert [line for line in told if line.startswith("campaign.toml")] == [
        "campaign.toml, key levels: is no table; write [levels] on a line of its own and its keys below"
    ]


def test_a_plan_that_is_not_utf_8_is_told_with_its_row(depot: Files) -> None:
    plan = depot["campaign.toml"].replace(b"20\n", b"20 # \xff\n", 1)
    assert mistakes_in(depot | {"campaign.toml": plan}) == [
        "campaign.toml, row 5: is not UTF-8; save the file as UTF-8"
    ]


def test_mistakes_of_all_files_are_told_at_once_in_order_of_file_and_row(depot: Files) -> None:
    files = changed(depot, "campaign.toml", "0.3", "3")
    files = changed(files, "register/motes.csv", "M2,north", "M 2,nord")
    files = changed(files, "programme/programme.csv", ",hall,", ",hal,")
    files = changed(files, "context/weather.csv", "12.5", "12,5")
    assert [line.split(":")[0] for line in mistakes_in(files)] == [
        "campaign.toml, key limits.reject_share",
        "context/weather.csv, row 2",
        "programme/programme.csv, row 2, column zone",
        "register/motes.csv, row 3, column mote",
        "register/motes.csv, row 3, column network",
    ]


@pytest.mark.parametrize(
    ("name", "hint"),
    [
        ("register/placement.csv", "did you mean 'register/placements.csv'?"),
        ("programme/events.csv", "programme/programme.csv"),
        ("context/doors/north.csv", "rename it or take it away"),
    ],
)
def test_a_misspelt_file_is_refused_by_name(depot: Files, name: str, hint: str) -> None:
    told = mistakes_in(depot | {name: b""})
    assert any(
        line.startswith(f"{name}: the name of the file says nothing here") and hint in line for line in told
    )


def test_other_files_are_let_be(depot: Files) -> None:
    others = {"register/README.md": b"", "register/.motes.csv.swp": b"\xff", "programme/plan.pdf": b""}
    assert read_campaign(depot | others) == read_campaign(depot)


def test_every_limit_can_be_set_and_unset_limits_have_their_default() -> None:
    assert set(_LIMITS) == {field.name for field in fields(Limits)}


@pytest.mark.parametrize(
    ("name", "old", "new", "part"),
    [
        ("campaign.toml", "", "", None),
        ("campaign.toml", "_s = 20", "_s = 30", "campaign"),
        ("campaign.toml", "0.3", "0.4", "campaign"),
        ("register/motes.csv", "under the bench", "under the table", "motes"),
        ("register/gateways.csv", "stove", "oven", "gateways"),
        ("register/zones.csv", "600.5", "600", "zones"),
        ("register/measures.csv", "-40", "-30", "measures"),
        ("register/placements.csv", "moved", "installed", "placements"),
        ("programme/programme.csv", "Loom", "Wheel", "programme"),
        ("context/weather.csv", "13,", "14,", "context"),
        ("context/streams.csv", "60", "61", "context"),
    ],
)
def test_a_change_shows_in_the_hash_of_its_part_alone(
    depot: Files, name: str, old: str, new: str, part: str | None
) -> None:
    files = depot if part is None else changed(depot, name, old, new)
    before, after = campaign_parts(read_campaign(depot)), campaign_parts(read_campaign(files))
    assert {key for key in before if before[key] != after[key]} == ({part} if part else set())


def test_the_order_of_rows_and_the_way_of_writing_do_not_show_in_the_hashes(depot: Files) -> None:
    header, *rows = depot["register/motes.csv"].decode().splitlines()
    shuffled = "\r\n".join([header, *reversed(rows), "", ""]).replace("10:00:00Z", "11:00:00.000+01:00")
    files = depot | {"register/motes.csv": b"\xef\xbb\xbf" + shuffled.replace("1.5", "1.50").encode()}
    assert campaign_parts(read_campaign(files)) == campaign_parts(read_campaign(depot))


def test_the_order_of_placements_shows_since_the_later_row_wins(depot: Files) -> None:
    header, one, two = depot["register/placements.csv"].decode().splitlines()
    files = depot | {"register/placements.csv": "\n".join([header, two, one]).encode()}
    assert (
        campaign_parts(read_campaign(files))["placements"]
        != campaign_parts(read_campaign(depot))["placements"]
    )


def test_reading_500_motes_and_200_events_is_quick(depot: Files) -> None:
    motes = "".join(f"N{i},north,temperature+sound,pit,wheel_pit,1.5,2,battery,,,\n" for i in range(500))
    events = "".join(f"F{i},t,talk,hall,2031-05-09T10:00:00Z,2031-05-09T11:00:00Z\n" for i in range(200))
    files = depot | {
        "register/motes.csv": depot["register/motes.csv"] + motes.encode(),
        "programme/programme.csv": depot["programme/programme.csv"] + events.encode(),
    }
    took_s = []
    for _ in range(5):
        began = perf_counter()
        read_campaign(files)
        took_s.append(perf_counter() - began)
    assert min(took_s) < 0.05


def test_heavy_libraries_are_loaded_only_where_they_are_needed() -> None:
    code = "import sys, motelake.core.campaign; print(*sys.modules)"
    loaded = subprocess.check_output([sys.executable, "-c", code], text=True).split()
    assert not {"icalendar", "recurring_ical_events", "pandas", "numpy"} & set(loaded)
