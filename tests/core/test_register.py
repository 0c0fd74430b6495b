from datetime import UTC, datetime

import pytest

from motelake.core.campaign import read_campaign
from motelake.core.register import Gateway, Measure, Mote, Placement, Zone
from motelake.errors import CampaignError

Files = dict[str, bytes]


def test_a_row_becomes_a_record_with_the_columns_of_its_file(depot: Files) -> None:
    register = read_campaign(depot).register
    installed_at = datetime(2031, 5, 8, 10, tzinfo=UTC)
    assert register.motes[0] == Mote(
        "M1", "north", "temperature+sound", "pit", "wheel_pit", 1.5, 2.0, "battery", installed_at, None,
        "under the bench", None,
    )  # fmt: skip
    assert register.motes[0].measures == ("temperature", "sound")
    assert register.motes[2] == Mote(
        "M3", None, "sound", None, None, None, None, None, None, None, None, None
    )
    assert register.gateways == (Gateway("G1", "north", "track", "hall", 4.0, 5.0, "behind the stove", None),)
    assert register.zones[1] == Zone("hall", "track", "Track hall", "hall", 600.5, 10.0, 20.0)
    assert register.measures[1] == Measure(
        "sound", "Sound level", "dB", "decibel", "sound", 30.0, 130.0, None, None, None, 60.0
    )
    moved_at = datetime(2031, 5, 9, 12, tzinfo=UTC)
    assert register.placements[0] == Placement("M1", moved_at, "track", "hall", 3.0, 4.0, "moved", None)


def test_a_mote_may_have_a_period_of_its_own(depot: Files) -> None:
    motes = depot["register/motes.csv"].replace(b",note\n", b",note,burst_period_s\n", 1)
    motes = (
        motes.replace(b"bench\n", b"bench,60\n")
        .replace(b"01:00,\n", b"01:00,,\n")
        .replace(b",,,\n", b",,,,\n")
    )
    register = read_campaign(depot | {"register/motes.csv": motes}).register
    assert [mote.burst_period_s for mote in register.motes] == [60.0, None, None]


MOTES, GATEWAYS, ZONES = "register/motes.csv", "register/gateways.csv", "register/zones.csv"
MEASURES, PLACEMENTS = "register/measures.csv", "register/placements.csv"


@pytest.mark.parametrize(
    ("file", "old", "new", "mistake"),
    [
        (MOTES, "M2,", "M1,", "row 3, column mote: 'M1' is already in row 2; keep one of the two"),
        (MOTES, "M2,", "M 2,", "row 3, column mote: 'M 2' is no name; a name is 1 to 64 of"),
        (MOTES, "M2,", "M" * 65 + ",", "row 3, column mote: 'MMM"),
        (MOTES, "M2,", "=M2,", "row 3, column mote: '=M2' is no name"),
        (
            MOTES,
            "M2,north",
            "M2,nord",
            "row 3, column network: 'nord' is no network of register/gateways.csv; did",
        ),
        (MOTES, "temperature+sound", "temperature+sond", "row 2, column kit: 'sond' is no measure of"),
        (
            MOTES,
            "temperature+sound",
            "sound+sound",
            "row 2, column kit: 'sound' stands there twice; name it once",
        ),
        (MOTES, "temperature+sound", "sound+", "row 2, column kit: '' is no name of a measure"),
        (MOTES, "temperature+sound", "", "row 2, column kit: is empty; it must be filled in"),
        (
            MOTES,
            "wheel_pit",
            "wheelpit",
            "row 2, column zone: 'wheelpit' is no zone of register/zones.csv; did you",
        ),
        (
            MOTES,
            "pit,wheel_pit",
            "pitt,wheel_pit",
            "row 2, column level: 'pitt' is no level of [levels] in campaign",
        ),
        (
            MOTES,
            "pit,wheel_pit",
            "track,wheel_pit",
            "row 2, column level: 'track', but register/zones.csv has",
        ),
        (MOTES, "1.5", "1.5 m", "row 2, column x_m: '1.5 m' is no number"),
        (
            MOTES,
            "battery",
            "batery",
            "row 2, column power: 'batery' is none of mains, battery; did you mean 'battery'",
        ),
        (
            MOTES,
            "2031-05-08T10:00:00Z",
            "2031-05-08 10:00",
            "row 2, column installed_at: '2031-05-08 10:00' has no",
        ),
        (
            MOTES,
            "10:00:00Z,",
            "10:00:00Z,2031-05-08T10:00:00Z",
            "row 2, column removed_at: removed_at is not after",
        ),
        (GATEWAYS, "G1", "", "row 2, column gateway: is empty"),
        (GATEWAYS, "north", "", "row 2, column network: is empty"),
        (
            GATEWAYS,
            "hall",
            "hell",
            "row 2, column zone: 'hell' is no zone of register/zones.csv; did you mean 'hall'?",
        ),
        (ZONES, "hall,track", "hall,tracks", "row 3, column level: 'tracks' is no level of [levels]"),
        (ZONES, "hall,track", "wheel_pit,track", "row 3, column zone: 'wheel_pit' is already in row 2"),
        (ZONES, "600.5", "0", "row 3, column area_m2: '0' is not above zero"),
        (
            MEASURES,
            "sound,S",
            "Sound,S",
            "row 3, column measure: 'Sound' is no name of a measure; one is 1 to 48 of",
        ),
        (
            MEASURES,
            "decibel",
            "decibels",
            "row 3, column kind: 'decibels' is none of level, decibel, count, ratio",
        ),
        (
            MEASURES,
            "decibel,sound",
            "decibel,noise",
            "row 3, column role: 'noise' is none of crowd, air_pressure",
        ),
        (
            MEASURES,
            "decibel,sound",
            "decibel,temperature",
            "row 3, column role: 'temperature' is already in row 2",
        ),
        (MEASURES, "dB", "", "row 3, column unit: is empty"),
        (
            MEASURES,
            "30,130",
            "130,30",
            "row 3, column span_low: span_low 130 is above span_high 30; swap them",
        ),
        (MEASURES, "5,40", "40,5", "row 2, column usual_low: usual_low 40 is above usual_high 5; swap them"),
        (
            MEASURES,
            "5,40",
            "-41,40",
            "row 2, column span_low: span_low -40 is above usual_low -41; what is usual",
        ),
        (
            MEASURES,
            "5,40",
            "5,86",
            "row 2, column usual_high: usual_high 86 is above span_high 85; what is usual",
        ),
        (MEASURES, ",60", ",0", "row 3, column flat_after_min: '0' is not above zero"),
        (PLACEMENTS, "M1", "M9", "row 2, column mote: 'M9' is no mote of register/motes.csv; did you mean"),
        (PLACEMENTS, "2031-05-09T12:00:00Z", "", "row 2, column from_at: is empty"),
        (PLACEMENTS, "moved", "carried", "row 2, column how: 'carried' is none of planned, installed, moved"),
        (
            PLACEMENTS,
            "track,hall",
            "pit,hall",
            "row 2, column level: 'pit', but register/zones.csv has 'hall' on",
        ),
    ],
)
def test_a_mistake_in_the_register_is_told_by_row_and_column(
    depot: Files, file: str, old: str, new: str, mistake: str
) -> None:
    assert old.encode() in depot[file]
    with pytest.raises(CampaignError) as raised:
        read_campaign(depot | {file: depot[file].replace(old.encode(), new.encode(), 1)})
    told = raised.value.problems
    assert any(line.startswith(f"{file}, {mistake}") for line in told), told


def test_without_gateways_any_network_may_be_named(depot: Files) -> None:
    files = depot | {GATEWAYS: depot[GATEWAYS].splitlines()[0]}
    assert read_campaign(files).register.gateways == ()


def test_a_file_that_cannot_be_read_does_not_make_every_name_of_it_a_mistake(depot: Files) -> None:
    with pytest.raises(CampaignError) as raised:
        read_campaign(depot | {ZONES: depot[ZONES].replace(b"Wheel pit", b'"Wheel pit')})
    assert raised.value.problems == [
        "register/zones.csv, row 2: is no CSV from here on; look at its quotation marks"
    ]
