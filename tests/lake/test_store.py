"""The store: what a lake's objects are, wherever they lie."""

import errno
import io
import threading
from pathlib import Path
from typing import Any, ClassVar
from uuid import uuid4

import pytest
from fsspec.implementations.memory import MemoryFileSystem

from motelake.errors import InputError, StoreError
from motelake.lake.faults import is_refused_as_existing
from motelake.lake.store import Lake


@pytest.fixture(params=["folder", "memory"])
def lake(request: pytest.FixtureRequest, tmp_path: Path) -> Lake:
    lake = Lake.at(str(tmp_path / "lake") if request.param == "folder" else f"memory://{uuid4().hex}")
    lake.write("campaign.toml", b"")
    return lake


def test_an_object_is_read_as_it_was_written(lake: Lake) -> None:
    lake.write("raw/a/b.jsonl", b"one")
    lake.write("raw/a/b.jsonl", b"two")
    assert lake.read("raw/a/b.jsonl") == b"two"
    with lake.open_stream("raw/a/b.jsonl") as stream:
        assert stream.read(2) + stream.read() == b"two"
    assert lake.exists("raw/a/b.jsonl")
    assert not lake.exists("raw/a")
    assert [info.size for info in lake.list("raw")] == [3]


def test_a_missing_object_is_told_from_a_fault(lake: Lake) -> None:
    with pytest.raises(FileNotFoundError):
        lake.read("raw/none.jsonl")
    with pytest.raises(FileNotFoundError):
        lake.open_stream("raw/none.jsonl")
    assert lake.read_many(["raw/none.jsonl", "campaign.toml"]) == {"campaign.toml": b""}
    assert lake.read_many(["raw/none.jsonl"]) == {}
    lake.remove("raw/none.jsonl")


def test_a_listing_is_sorted_and_passes_over_what_is_not_delivered_yet(lake: Lake) -> None:
    for name in (
        "z.jsonl",
        "a/z.jsonl",
        ".hidden",
        "a/.b/c.jsonl",
        "up.jsonl.part",
        "up.jsonl.tmp",
        "empty.jsonl",
    ):
        lake.write(f"raw/{name}", b"" if name == "empty.jsonl" else b"1")
    assert [info.name for info in lake.list("raw")] == ["raw/a/z.jsonl", "raw/empty.jsonl", "raw/z.jsonl"]
    assert lake.list("nothing") == []


def test_a_folder_named_like_a_file_is_a_folder(tmp_path: Path) -> None:
    lake = Lake.at(str(tmp_path))
    (tmp_path / "raw" / "x.jsonl").mkdir(parents=True)
    lake.write("raw/x.jsonl/y.jsonl", b"1")
    assert [info.name for info in lake.list("raw")] == ["raw/x.jsonl/y.jsonl"]


def test_of_many_creators_one_wins(lake: Lake) -> None:
    won: list[int] = []

    def try_to_create(number: int) -> None:
        try:
            lake.create("manifests/1.json", str(number).encode())
            won.append(number)
        except FileExistsError:
            return

    threads = [threading.Thread(target=try_to_create, args=(number,)) for number in range(16)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [str(number).encode() for number in won] == [lake.read("manifests/1.json")]


def test_nothing_is_left_beside_what_was_written(tmp_path: Path) -> None:
    lake = Lake.at(str(tmp_path))
    lake.write("a", b"1")
    lake.create("b", b"1")
    with pytest.raises(FileExistsError):
        lake.create("b", b"2")
    (tmp_path / "local").write_bytes(b"3")
    lake.put_file(tmp_path / "local", "c")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a", "b", "c", "local"]


def test_a_local_file_is_put_and_fetched(lake: Lake, tmp_path: Path) -> None:
    (tmp_path / "local").write_bytes(b"bytes")
    lake.put_file(tmp_path / "local", "staged/x.parquet")
    assert lake.fetch("staged/x.parquet", tmp_path).read_bytes() == b"bytes"


def test_readers_of_one_object_do_not_share_a_cursor(lake: Lake) -> None:
    lake.write("raw/a", b"abc")
    with lake.open_stream("raw/a") as one, lake.open_stream("raw/a") as other:
        assert (one.read(1), other.read(2), one.read()) == (b"a", b"ab", b"bc")


@pytest.mark.parametrize("name", ["../secret", "/etc/passwd", "raw/../../x", ""])
def test_a_name_cannot_leave_the_lake(lake: Lake, name: str) -> None:
    with pytest.raises(InputError, match="no name in a lake"):
        lake.read(name)


@pytest.mark.parametrize("url", ["{}/none", "memory://none", "nowhere://x"])
def test_where_there_is_no_lake_it_says_so(url: str, tmp_path: Path) -> None:
    with pytest.raises(InputError):
        Lake.open(url.format(tmp_path))


def test_a_folder_without_a_campaign_is_no_lake(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"holds no campaign\.toml"):
        Lake.open(str(tmp_path))


def test_a_url_is_shown_without_its_secrets() -> None:
    lake = Lake.at("memory://someone@lake/x?token=secret")
    assert "secret" not in lake.url


def test_a_url_with_a_password_is_refused_and_not_repeated() -> None:
    with pytest.raises(InputError, match="Take it out") as refusal:
        Lake.at("s3://someone:secret@lake/x")
    assert "secret" not in str(refusal.value)


@pytest.mark.parametrize("deed", ["read", "write", "create", "list", "open_stream", "exists"])
def test_a_fault_of_the_store_names_lake_object_and_cause(deed: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_arguments: Any, **_options: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    lake = Lake.at(f"memory://{uuid4().hex}")
    for method in ("cat_file", "pipe_file", "find", "info", "open"):
        monkeypatch.setattr(MemoryFileSystem, method, fail)
    data = [b"1"] if deed in ("write", "create") else []
    with pytest.raises(StoreError, match=r"raw/a in memory://.* failed: .*No space left.*make room"):
        getattr(lake, deed)("raw/a", *data)


def test_a_fault_in_the_middle_of_a_stream_is_a_fault_of_the_store(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Failing(io.BytesIO):
        def read(self, size: int | None = -1) -> bytes:
            raise TimeoutError("no answer")

    lake = Lake.at(str(tmp_path))
    monkeypatch.setattr(lake.filesystem, "open", lambda *_: Failing())
    with lake.open_stream("raw/a") as stream, pytest.raises(StoreError, match="no answer"):
        stream.read()


@pytest.mark.parametrize("code", ["PreconditionFailed", "ConditionalRequestConflict"])
def test_a_conditional_write_that_a_store_refused_is_told_by_its_reply(code: str) -> None:
    """Replies of S3 and of two servers that speak it, as botocore hands them on (observed)."""

    class ReplyError(Exception):
        response: ClassVar = {"Error": {"Code": code}}

    refused = OSError(errno.EINVAL, "Invalid argument")
    refused.__cause__ = ReplyError()
    assert is_refused_as_existing(refused)
    assert not is_refused_as_existing(OSError(errno.EINVAL, "Invalid argument"))
