"""A lake in an S3-compatible store: a real server, started by infra/store, that checks signatures."""

import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

import pytest

from motelake.errors import InputError, StoreError, StoreRefusedError
from motelake.lake import object_store
from motelake.lake.store import PROBE_FILE, Lake


def test_objects_are_written_read_listed_fetched_and_removed(store_lake: Lake, tmp_path: Path) -> None:
    lake = store_lake
    assert not lake.exists("raw/a.jsonl")
    lake.write("raw/a.jsonl", b"one")
    lake.write("raw/a.jsonl", b"two")
    lake.write("raw/b/c.jsonl", b"")
    lake.write("rawness/d.jsonl", b"1")
    assert lake.read("raw/a.jsonl") == b"two"
    assert lake.read_many(["raw/a.jsonl", "raw/none"]) == {"raw/a.jsonl": b"two"}
    with lake.open_stream("raw/a.jsonl") as stream:
        assert stream.read(2) + stream.read() == b"two"
    assert [info.name for info in lake.list("raw")] == ["raw/a.jsonl", "raw/b/c.jsonl"]
    assert [info.size for info in lake.list("raw")] == [3, 0]
    assert lake.list("decisions") == []
    assert lake.fetch("raw/a.jsonl", tmp_path).read_bytes() == b"two"
    (tmp_path / "big").write_bytes(b"x" * 60_000_000)
    lake.put_file(tmp_path / "big", "staged/big")
    assert [info.size for info in lake.list("staged")] == [60_000_000]
    lake.remove("staged/big")
    lake.remove("staged/big")
    for name in ("staged/big", "none"):
        with pytest.raises(FileNotFoundError):
            lake.read(name)


def test_the_mark_of_a_folder_is_no_object(store_lake: Lake) -> None:
    """Tools that show stores as folders leave empty objects; the name ends in a slash (observed)."""
    store_lake.write("raw/a/b.jsonl", b"1")
    store_lake.filesystem.call_s3("put_object", Bucket="lake", Key=f"{store_lake.root[5:]}/raw/c/", Body=b"")
    store_lake.write("raw/d", b"")
    assert [info.name for info in store_lake.list("raw")] == ["raw/a/b.jsonl"]


def test_of_many_creators_one_wins(store_lake: Lake) -> None:
    won: list[int] = []

    def try_to_create(number: int) -> None:
        try:
            store_lake.create("manifests/1.json", str(number).encode())
            won.append(number)
        except FileExistsError:
            return

    threads = [threading.Thread(target=try_to_create, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [str(number).encode() for number in won] == [store_lake.read("manifests/1.json")]
    assert store_lake.creates_exclusively()


class Forgetful:
    """A store that ignores conditions, as some do: it creates over what is there."""

    protocol = "s3"

    def __init__(self, filesystem: Any) -> None:
        self._filesystem = filesystem

    def __getattr__(self, name: str) -> Any:
        return getattr(self._filesystem, name)

    def pipe_file(self, path: str, data: bytes, mode: str = "overwrite") -> None:
        self._filesystem.pipe_file(path, data)


def test_a_store_without_conditional_writes_is_found_out_and_looked_at_first(store_lake: Lake) -> None:
    lake = Lake(store_lake.url, store_lake.root, Forgetful(store_lake.filesystem), is_local=False)
    assert not lake.creates_exclusively()
    lake.create("manifests/1.json", b"first")
    with pytest.raises(FileExistsError):
        lake.create("manifests/1.json", b"second")
    assert lake.read("manifests/1.json") == b"first"


def test_a_store_is_asked_once_whether_it_knows_conditions(
    store_lake: Lake, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    put = store_lake.filesystem.pipe_file

    def pipe_file(path: str, *given: Any, **named: Any) -> Any:
        asked.append(path)
        return put(path, *given, **named)

    monkeypatch.setattr(store_lake.filesystem, "pipe_file", pipe_file)
    for number in range(3):
        store_lake.create(f"manifests/{number}.json", b"1")
    assert sum(path.endswith(PROBE_FILE) for path in asked) == 2, "it was not there before"
    object_store.creates_exclusively.cache_clear()
    store_lake.create("manifests/3.json", b"1")
    assert sum(path.endswith(PROBE_FILE) for path in asked) == 3, "another process finds it there"


FAULTS = {
    "wrong secret": ({"AWS_SECRET_ACCESS_KEY": "wrong"}, StoreRefusedError, "did not accept the credentials"),
    "unknown key": ({"AWS_ACCESS_KEY_ID": "nobody"}, StoreRefusedError, "did not accept the credentials"),
    "no keys": (
        {"AWS_ACCESS_KEY_ID": None, "AWS_SECRET_ACCESS_KEY": None},
        StoreRefusedError,
        "set AWS_ACCESS_KEY_ID",
    ),
    "store down": ({"AWS_ENDPOINT_URL_S3": "http://127.0.0.1:1"}, StoreError, "see that the store runs"),
}


@pytest.fixture
def elsewhere(
    store: str, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The environment of the store with something wrong in it."""
    # Keys that somebody keeps in a file must not stand in for those that a test takes away.
    monkeypatch.setenv("AWS_SHARED_CREDENTIALS_FILE", str(tmp_path / "none"))
    monkeypatch.setenv("AWS_EC2_METADATA_DISABLED", "true")
    for name, value in request.param.items():
        if value is None:
            monkeypatch.delenv(name)
        else:
            monkeypatch.setenv(name, value)


@pytest.mark.parametrize(
    ("elsewhere", "kind", "words"), FAULTS.values(), ids=list(FAULTS), indirect=["elsewhere"]
)
def test_a_call_that_the_store_cannot_answer_ends_soon_in_a_sentence(
    elsewhere: None, kind: type[StoreError], words: str
) -> None:
    began = time.monotonic()
    command = [str(Path(sys.executable).with_name("motelake")), "status", "s3://lake/fair"]
    answer = subprocess.run(command, capture_output=True, text=True, check=False, timeout=100)
    assert answer.returncode == 3, answer.stderr
    assert time.monotonic() - began < 60
    assert words in answer.stderr
    assert "campaign.toml in s3://lake/fair" in answer.stderr
    assert "Traceback" not in answer.stderr
    assert "4711" not in answer.stderr + answer.stdout
    assert kind.is_worth_a_retry is (kind is StoreError)


def test_a_bucket_that_is_missing_is_named(store: str) -> None:
    with pytest.raises(InputError, match="the store has no bucket 'attic'"):
        Lake.open("s3://attic/fair")


def test_a_place_without_a_campaign_is_no_lake(store_lake: Lake) -> None:
    with pytest.raises(InputError, match=r"holds no campaign\.toml"):
        Lake.open(store_lake.url)


def test_without_the_library_of_stores_it_says_what_to_install() -> None:
    script = (
        "import sys; sys.modules['s3fs'] = None\n"
        "from motelake.cli import main; main(['status', 's3://lake/fair'])"
    )
    answer = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert answer.returncode == 2
    assert "pip install 'motelake[s3]'" in answer.stderr
    assert "Traceback" not in answer.stderr
