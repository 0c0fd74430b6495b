from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motelake.core.calendars import read_calendars
from motelake.core.campaign import read_campaign
from motelake.core.instants import format_instant
from motelake.core.problems import Problems
from motelake.core.programme import ProgrammeEvent
from motelake.errors import CampaignError

Files = dict[str, bytes]
_FILE = "programme/fair.ics"


def calendar(*entries: str) -> bytes:
    """A calendar of entries given as lines; the first entry begins in line 4."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//depot fair//EN"]
    for entry in entries:
        lines += ["BEGIN:VEVENT", "DTSTAMP:20310101T000000Z", *entry.split("\n"), "END:VEVENT"]
    return "\r\n".join([*lines, "END:VCALENDAR", ""]).encode()


def read(content: bytes) -> tuple[list[ProgrammeEvent], list[str]]:
    problems = Problems()
    window = datetime(2031, 5, 9, 4, tzinfo=UTC), datetime(2031, 5, 11, tzinfo=UTC)
    events = read_calendars({_FILE: content}, ZoneInfo("Europe/Lisbon"), *window, problems)
    return [found.event for found in events], problems.sentences()


_TALK = "UID:talk\nDTSTART:20310509T090000Z\nDURATION:PT1H"


def test_properties_become_the_columns_of_an_event() -> None:
    entry = _TALK + "\nSUMMARY:Seeds\\, dry\\n and true\nLOCATION:hall + wheel_pit\nCATEGORIES:talk,seeds"
    assert read(calendar(entry)) == (
        [
            ProgrammeEvent(
                "talk", "Seeds, dry and true", "talk", "hall+wheel_pit",
                datetime(2031, 5, 9, 9, tzinfo=UTC), datetime(2031, 5, 9, 10, tzinfo=UTC),
            )
        ],
        [],
    )  # fmt: skip


def test_instances_of_a_recurring_entry_are_told_apart_by_their_start() -> None:
    events, _ = read(calendar(_TALK + "\nRRULE:FREQ=DAILY;COUNT=2"))
    assert [event.event for event in events] == ["talk:20310509T090000Z", "talk:20310510T090000Z"]


def test_a_moved_instance_takes_the_place_of_the_planned_one() -> None:
    moved = "UID:talk\nRECURRENCE-ID:20310510T090000Z\nDTSTART:20310510T110000Z\nDURATION:PT30M"
    events, _ = read(calendar(_TALK + "\nRRULE:FREQ=DAILY;COUNT=2", moved))
    assert [(event.event, format_instant(event.ends_at)) for event in events] == [
        ("talk:20310509T090000Z", "2031-05-09T10:00:00Z"),
        ("talk:20310510T110000Z", "2031-05-10T11:30:00Z"),
    ]


def test_a_cancelled_instance_and_a_cancelled_entry_are_left_out() -> None:
    cancelled = (
        "UID:talk\nRECURRENCE-ID:20310510T090000Z\nDTSTART:20310510T090000Z\nDURATION:PT1H\nSTATUS:CANCELLED"
    )
    other = _TALK.replace("talk", "other") + "\nSTATUS:cancelled"
    events, problems = read(calendar(_TALK + "\nRRULE:FREQ=DAILY;COUNT=2", cancelled, other))
    assert ([event.event for event in events], problems) == (["talk:20310509T090000Z"], [])


def test_only_entries_that_touch_the_campaign_are_events() -> None:
    before = "UID:before\nDTSTART:20310509T030000Z\nDTEND:20310509T040000Z"
    over = "UID:over\nDTSTART:20310501T000000Z\nDTEND:20310509T040001Z"
    after = "UID:after\nDTSTART:20310511T000000Z\nDURATION:PT1H"
    events, problems = read(calendar(before, over, after, _TALK + "\nRRULE:FREQ=DAILY"))
    assert [event.event for event in events] == ["over", "talk:20310509T090000Z", "talk:20310510T090000Z"]
    assert problems == []


def test_a_day_without_times_lasts_from_midnight_to_midnight_of_the_campaign() -> None:
    # RFC 5545, section 3.6.1: a DTSTART that is a date, without DTEND or DURATION, lasts one day.
    events, _ = read(calendar("UID:fair\nDTSTART;VALUE=DATE:20310509"))
    assert [(format_instant(event.starts_at), format_instant(event.ends_at)) for event in events] == [
        ("2031-05-08T23:00:00Z", "2031-05-09T23:00:00Z")
    ]


_IN_DEPOT = "UID:talk\nDTSTART;TZID=Depot:20310509T120000\nDURATION:PT1H"


def test_a_zone_that_the_calendar_defines_itself_is_used() -> None:
    # RFC 5545, section 3.6.5: VTIMEZONE.
    zone = (
        "BEGIN:VTIMEZONE\r\nTZID:Depot\r\nBEGIN:STANDARD\r\nDTSTART:19700101T000000\r\n"
        "TZOFFSETFROM:+0500\r\nTZOFFSETTO:+0500\r\nEND:STANDARD\r\nEND:VTIMEZONE\r\n"
    )
    events, problems = read(calendar(_IN_DEPOT).replace(b"BEGIN:VEVENT", zone.encode() + b"BEGIN:VEVENT"))
    assert ([format_instant(event.starts_at) for event in events], problems) == (["2031-05-09T07:00:00Z"], [])


def test_a_zone_of_one_calendar_is_unknown_to_the_next() -> None:
    test_a_zone_that_the_calendar_defines_itself_is_used()
    assert "'Depot' is no known time zone" in read(calendar(_IN_DEPOT))[1][0]


def test_the_duration_of_an_alarm_is_not_that_of_the_event() -> None:
    alarm = "BEGIN:VALARM\nACTION:AUDIO\nTRIGGER:-PT15M\nREPEAT:2\nDURATION:P1D\nEND:VALARM"
    events, problems = read(calendar(f"{_TALK}\n{alarm}"))
    assert ([format_instant(event.ends_at) for event in events], problems) == (["2031-05-09T10:00:00Z"], [])


def test_folded_lines_are_one_line() -> None:
    # RFC 5545, section 3.1: a line break followed by a space is taken out.
    events, problems = read(calendar("UID:ta\n lk\nDTSTART:20310509T090000Z\nDURA\n TION:PT\n\t1H"))
    assert ([(event.event, event.ends_at.hour) for event in events], problems) == ([("talk", 10)], [])


def test_a_uid_that_is_no_name_becomes_one_and_two_such_stay_apart() -> None:
    entries = [_TALK.replace("UID:talk", f"UID:{uid}") for uid in ("a@b", "a b", "a" * 300, "ö", "{7}")]
    events, problems = read(calendar(*entries))
    names = [event.event for event in events]
    assert problems == []
    assert len(set(names)) == len(entries)
    assert all(len(name) <= 47 for name in names)
    assert names[0].startswith("a-b-")


@pytest.mark.parametrize(
    ("entry", "mistake"),
    [
        ("UID:x\nDTSTART:2031059T1\nDURATION:PT1H", "row 4, column DTSTART: cannot be read"),
        ("UID:x\nDTSTART:20310509T090000Z\nDURATION:1H", "row 4, column DURATION: cannot be read"),
        ("UID:x\nDTSTART:20310509T090000Z\nDURATION:-PT1H", "row 4, column DURATION: is not after DTSTART"),
        ("UID:x\nDTSTART:20310509T090000Z", "row 4, column DTEND: is missing, and DURATION too"),
        (
            "UID:x\nDTSTART:20310509T090000Z\nDTEND:20310509T080000Z",
            "row 4, column DTEND: is not after DTSTART",
        ),
        (
            "UID:x\nDTSTART:20310509T090000Z\nDTEND;VALUE=DATE:20310510",
            "row 4, column DTEND: one of start and end",
        ),
        (_TALK + "\nDTEND:20310509T100000Z", "row 4, column DTEND: stands beside DURATION"),
        ("UID:x\nDURATION:PT1H", "row 4, column DTSTART: is missing"),
        ("DTSTART:20310509T090000Z\nDURATION:PT1H", "row 4, column UID: is missing"),
        (_TALK + "\nDTSTART:20310509T090000Z", "row 4, column DTSTART: stands there twice"),
        (
            "UID:x\nDTSTART;TZID=Depot:20310509T090000\nDURATION:PT1H",
            "row 4, column DTSTART: 'Depot' is no known",
        ),
        (_TALK + "\nRRULE:FREQ=NEVER", "row 4, column RRULE: cannot be read"),
        (_TALK + "\nRRULE:FREQ=SECONDLY", "row 4, column RRULE: repeats within the hour"),
        (_TALK + "\nRRULE:FREQ=DAILY;INTERVAL=0", "row 4, column RRULE: has INTERVAL or COUNT below 1"),
        (_TALK + "\nRDATE;VALUE=PERIOD:20310510T090000Z/PT3H", "row 4, column RDATE: lists periods"),
        (_TALK + "\nLOCATION:great hall", "row 4, column LOCATION: 'great hall' is no name"),
        (_TALK + "\nSUMMARY:a\x07b", "row 4, column SUMMARY: 'a\\x07b' holds a control character"),
    ],
)
def test_a_mistake_in_an_entry_is_told_by_its_row_and_property(entry: str, mistake: str) -> None:
    told = read(calendar(entry))[1]
    assert any(line.startswith(f"{_FILE}, {mistake}") for line in told), told


@pytest.mark.parametrize(
    ("content", "mistake"),
    [
        (b"", "holds no calendar"),
        (b"hello\r\n", "is no iCalendar file"),
        (calendar(_TALK).replace(b"END:VEVENT", b"END:VCALENDAR"), "row 9: END:VCALENDAR ends nothing"),
        (calendar(_TALK).replace(b"END:VCALENDAR", b""), "BEGIN:VCALENDAR never ends"),
        (calendar(_TALK).replace(b"talk", b"\xff"), "row 6: is not UTF-8"),
    ],
)
def test_a_file_that_is_no_calendar_is_told(content: bytes, mistake: str) -> None:
    assert len(read(content)[1]) == 1
    assert mistake in read(content)[1][0]


def test_calendars_and_programme_csv_make_one_programme(depot: Files) -> None:
    programme = read_campaign(depot | {_FILE: calendar(_TALK + "\nLOCATION:hall")}).programme
    assert [event.event for event in programme] == ["E1", "E2", "E3", "talk"]


@pytest.mark.parametrize(
    ("entry", "mistake"),
    [
        (_TALK.replace("talk", "E1"), "row 4, column UID: 'E1' is already in programme/programme.csv"),
        (
            _TALK + "\nLOCATION:hal",
            "row 4, column LOCATION: 'hal' is no zone of register/zones.csv; did you mean 'hall'",
        ),
        (_TALK + "\nRRULE:FREQ=DAILY\nLOCATION:hal", "row 4, column LOCATION: 'hal' is no zone"),
    ],
)
def test_what_contradicts_the_register_or_the_programme_is_told_once(
    depot: Files, entry: str, mistake: str
) -> None:
    with pytest.raises(CampaignError) as raised:
        read_campaign(depot | {_FILE: calendar(entry)})
    assert [line.startswith(f"{_FILE}, {mistake}") for line in raised.value.problems] == [True]


_LINES = st.sampled_from(
    [
        "UID:a",
        "DTSTART:20310509T090000Z",
        "DTSTART;VALUE=DATE:20310509",
        "DTSTART;TZID=Nowhere:20310509T090000",
        "DTEND:20310509T110000",
        "DTEND;VALUE=DATE:20310511",
        "DURATION:PT1H",
        "DURATION:P",
        "DURATION:P1W",
        "RRULE:FREQ=DAILY;COUNT=3",
        "RRULE:FREQ=WEEKLY;BYDAY=XX",
        "RRULE:COUNT=3",
        "RDATE:20310510T090000Z",
        "RDATE;VALUE=DATE:20310510",
        "EXDATE:20310509T090000Z",
        "RECURRENCE-ID:20310509T090000Z",
        "RECURRENCE-ID;RANGE=THISANDFUTURE:20310510T090000Z",
        "CATEGORIES:",
        "CATEGORIES:a,b",
        "SUMMARY;LANGUAGE=en:x",
        "LOCATION:hall",
        "STATUS:CANCELLED",
        "SEQUENCE:x",
        "BEGIN:VALARM",
        "END:VALARM",
        "X-MOTELAKE-ROW:none",
        "X-MOTELAKE-LASTS:1",
        ";:=",
    ]
)


@settings(max_examples=300)
@given(st.lists(st.lists(_LINES, max_size=8), max_size=3))
def test_any_entries_give_events_or_mistakes_and_never_another_error(entries: list[list[str]]) -> None:
    events, problems = read(calendar(*("\n".join(["UID:c", *lines]) for lines in entries)))
    assert all(event.starts_at < event.ends_at for event in events)
    assert all(line.startswith(_FILE) for line in problems)
