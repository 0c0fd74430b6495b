"""A small campaign in a warehouse in memory, its page, and a browser to look at it with."""

import os
import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import duckdb
import pytest
from playwright.sync_api import Browser, sync_playwright

from motelake.config import read_config
from motelake.engine import open_engine
from motelake.lake.store import Lake
from motelake.library import Library, read_library, statements, table_statements
from motelake.page.answers import Ask
from motelake.page.drawings import drawings
from motelake.page.hall import hall_html
from motelake.page.markup import page_html
from motelake.page.scene import Scene
from motelake.page.story import tell
from motelake.rehearsal import Plan, rehearse
from motelake.steps import campaign
from motelake.steps.check import check
from motelake.steps.load import load
from motelake.steps.page import HALL_FILE, PAGE_FILE, Asker, see
from motelake.steps.publish import publish
from motelake.steps.stage import stage

MADE_AT = datetime(2031, 5, 11, 1, tzinfo=UTC)

CHROMIUM = os.environ.get("MOTELAKE_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
]  # fmt: skip

REGISTER = """
insert into campaign values
    ('Depot Fair', 'Europe/Lisbon', '2031-05-08 23:00Z', '2031-05-10 23:00Z', 30, 100,
        '05:00', '07:00', '09:00', '21:00');
insert into level values ('track', 0), ('gallery', 4);
insert into zone values
    ('hall', 'track', 'Track hall', 'hall', 600, 4, 4),
    ('swap', 'track', 'Seed swap tables', 'exchange', 200, 12, 4),
    ('talks', 'gallery', 'Talks in the signal room', 'talk', 100, 4, 4);
insert into measure values
    ('footsteps', 'Footsteps felt in the floor', 'count', 'count', 'crowd', 0, 2000, null, null, null, null),
    ('sound', 'Sound level', 'dB', 'decibel', 'sound', 20, 125, null, null, null, null),
    ('temperature', 'Air temperature', 'Cel', 'level', 'temperature', -40, 85, null, null, null, null);
insert into mote
    select 'M' || number, if(zone = 'talks', 'N02', 'N01'), 'footsteps+sound+temperature', level, zone,
        null, null,
        'mains', timestamptz '2031-05-08 22:00Z', null, null, null
    from (select row_number() over (order by zone, copy) as number, * from zone, range(2) as copies(copy));
insert into mote_place
    select mote, '2031-05-08 22:00Z', '2031-05-11 01:00Z', zone, level from mote;
insert into gateway values
    ('G01', 'N01', 'track', 'hall', null, null, null, null),
    ('G02', 'N02', 'gallery', 'talks', null, null, null, null);
insert into programme_event values
    ('E1', 'The big seed swap', 'exchange', 'swap', '2031-05-09 10:00Z', '2031-05-09 11:00Z'),
    ('E2', 'Late swap', 'exchange', 'swap', '2031-05-10 15:00Z', '2031-05-10 16:00Z'),
    ('E3', 'Soil you can hear', 'talk', 'talks', '2031-05-09 14:00Z', '2031-05-09 15:00Z'),
    ('E4', 'Opening bell', 'announcement', null, '2031-05-09 08:00Z', '2031-05-09 08:10Z');
insert into context_stream values ('outdoors', 'Temperature at the mast', 'Cel', 'level', 30);
insert into context_point
    select 'outdoors', t, 10 + 5 * sin(epoch(t) / 13751), null, null from (
        select unnest(generate_series(
            timestamptz '2031-05-08 23:00Z', timestamptz '2031-05-10 23:00Z', interval 10 minute)) as t
    );
insert into raw_object values ('raw/a.jsonl', 1, 'x', 1, 'loaded', 100, 90, 0, 10, 0, null),
    ('raw/b.jsonl', 1, 'y', 1, 'held', 50, 0, 0, 50, 0, 'too many rejects');
"""

# People come from nine to nine and to the events; sound and warmth follow them.
HEARD = """
create temp table hush as
    select m.mote, m.zone, m.level, t.minute_at, hash(m.mote, t.minute_at) % 1000 / 1000.0 as chance,
        case when hour(t.minute_at) between 8 and 19 then 6.0 else 0.1 end
        + 30 * (e.event is not null)::integer as crowd
    from mote m
    cross join (
        select unnest(generate_series(
            timestamptz '2031-05-08 23:00Z', timestamptz '2031-05-10 22:59Z', interval 1 minute)) as minute_at
    ) t
    left join programme_event e
        on e.zone = m.zone and t.minute_at >= e.starts_at and t.minute_at < e.ends_at
    where not (m.mote = 'M6' and t.minute_at > '2031-05-10 12:00Z');
insert into mote_minute
    select mote, zone, measure, minute_at, 2, 0, 60, value, value, value
    from (
        select *, 'footsteps' as measure, round(crowd * (0.6 + 0.8 * chance)) as value from hush
        union all
        select *, 'sound', 35 + 3 * ln(1 + crowd) + 2 * chance from hush
        union all
        select *, 'temperature', 18 + crowd / 20 + chance / 5 from hush
    );
insert into zone_minute
    select mm.zone, z.level, mm.measure, mm.minute_at, count(*), 2, 4,
        case when mm.measure = 'footsteps' then sum(value) else avg(value) end
    from mote_minute mm join zone z using (zone)
    group by mm.zone, z.level, mm.measure, mm.minute_at;
insert into mote_reference
    select mote, measure, timestamptz '2031-05-08 22:00Z', median(value)
    from mote_minute group by mote, measure;
insert into burst
    select row_number() over (), mote, 0, row_number() over (partition by mote order by minute_at), 'G01',
        minute_at,
        minute_at, 'fitted', 0, -60, 3.0, 1
    from (select distinct mote, minute_at from mote_minute
        union all select distinct mote, minute_at + interval 30 seconds from mote_minute);
"""

LONG = "long " * 60
HOSTILE = {
    "Depot Fair": "<script>window.isHurt=1</script>\"'& \u202eriaF",
    "Track hall": f"</text></svg><img src=x onerror=window.isHurt=1>{LONG}",
    "The big seed swap": '\u202e<b>paws"\' onload="window.isHurt=1" \u05d0\u05d1 $x$ {{x}} ${1}',
    "Sound level": "\u0000\u001b[31mSound</title><script>window.isHurt=1</script>",
}


@pytest.fixture(scope="session")
def library() -> Library:
    return read_library()


@pytest.fixture(scope="session")
def empty_warehouse(library: Library) -> Iterator[Callable[[str], duckdb.DuckDBPyConnection]]:
    """Opens warehouses that hold what a script puts into them."""
    opened: list[duckdb.DuckDBPyConnection] = []

    def fill(script: str) -> duckdb.DuckDBPyConnection:
        engine = open_engine(threads=2)
        opened.append(engine)
        for statement in [*table_statements(library), *statements(library)]:
            engine.execute(statement)
        engine.execute(script)
        return engine

    yield fill
    for engine in opened:
        engine.close()


class Told:
    """A campaign as its page needs it."""

    def __init__(self, engine: duckdb.DuckDBPyConnection, library: Library) -> None:
        self.scene: Scene = see(engine, "snapshot-of-a-test", MADE_AT)
        asker = Asker(engine, library)
        self.ask: Ask = asker
        with drawings(self.scene) as pictures:
            self.story = tell([self.ask], self.scene, pictures.begin)
            self.page = page_html(self.story, self.scene, pictures)
            self.hall = hall_html(self.story, self.scene, pictures)
            self.failures = pictures.failures()
        self.asked = {view for view, _ in asker.asked}


@pytest.fixture
def told(
    empty_warehouse: Callable[[str], duckdb.DuckDBPyConnection], library: Library
) -> Callable[[str], Told]:
    """Tells the story of a campaign that a script puts into a warehouse."""
    return lambda script: Told(empty_warehouse(script), library)


@pytest.fixture(scope="session")
def fair_told(empty_warehouse: Callable[[str], duckdb.DuckDBPyConnection], library: Library) -> Told:
    """The small fair, two days old."""
    return Told(empty_warehouse(REGISTER + HEARD), library)


@pytest.fixture(scope="session")
def hostile_told(empty_warehouse: Callable[[str], duckdb.DuckDBPyConnection], library: Library) -> Told:
    """The same fair with names that try to be more than names."""
    script = REGISTER
    for name, hostile in HOSTILE.items():
        assert f"'{name}'" in script
        script = script.replace(f"'{name}'", "'" + hostile.replace("'", "''").replace("\0", "") + "'")
    return Told(empty_warehouse(script + HEARD), library)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium without a window and without a network."""
    if CHROMIUM is None:
        pytest.skip("There is no Chromium: apt-get install chromium, or name one in MOTELAKE_CHROMIUM.")
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def rehearsed(tmp_path_factory: pytest.TempPathFactory) -> Lake:
    """A day of 40 motes as they are rehearsed, faults and all, published with its page."""
    folder = tmp_path_factory.mktemp("rehearsed") / "fair"
    rehearse(folder, plan=Plan(motes=40, days=1, seed=911, burst_period_s=60))
    lake = Lake.open(str(folder))
    config = read_config(lake.url, environment={})
    for step in (stage, check, load):
        step(lake, campaign.read(lake), config, lambda _: None)
    report = publish(lake, config, lambda _: None, refresh=())
    assert report.page_failures == ()
    return lake


@pytest.fixture(scope="session")
def pages(
    fair_told: Told, hostile_told: Told, rehearsed: Lake, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Path]:
    """The pages of both fairs and of the rehearsed one as files."""
    folder = tmp_path_factory.mktemp("pages")
    texts = {
        "page": fair_told.page,
        "hall": fair_told.hall,
        "hostile page": hostile_told.page,
        "hostile hall": hostile_told.hall,
        "rehearsed page": rehearsed.read(PAGE_FILE).decode(),
        "rehearsed hall": rehearsed.read(HALL_FILE).decode(),
    }
    files = {}
    for name, text in texts.items():
        files[name] = folder / f"{name.replace(' ', '_')}.html"
        files[name].write_text(text, encoding="utf-8")
    return files
