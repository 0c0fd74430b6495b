"""The objects of a lake under any fsspec URL: a folder, memory://, s3:// and so on."""

import io
import secrets
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any, BinaryIO, cast

from motelake.core.manifests import ObjectInfo
from motelake.errors import InputError
from motelake.lake import folder, object_store
from motelake.lake.faults import NamingStream, naming
from motelake.lake.object_store import protocols

if TYPE_CHECKING:
    import duckdb

CAMPAIGN_FILE = "campaign.toml"
# What copying tools call a file that is still on its way.
UNFINISHED_ENDINGS = (".part", ".partial", ".filepart", ".tmp", ".crdownload", "~")
# What a store without a folder's hard links is asked with whether it refuses to create what is there.
PROBE_FILE = "manifests/probe.txt"


@dataclass(frozen=True)
class Lake:
    """One lake: names are relative to its root and written with slashes.

    Every storage fault becomes a StoreError that names the lake, the object and the cause.
    """

    url: str
    root: str
    filesystem: Any
    is_local: bool

    @classmethod
    def open(cls, url: str, **storage_options: Any) -> "Lake":
        """The lake at url (a folder or an fsspec URL).

        Raises InputError where there is no lake: no such root, or no campaign.toml in it.
        """
        lake = cls.at(url, **storage_options)
        if lake.is_local and not Path(lake.root).is_dir():
            raise InputError(
                f"There is no lake at {lake.url}: no such folder. Give the folder that holds campaign.toml."
            )
        if not lake.exists(CAMPAIGN_FILE):
            lake._refuse_missing_bucket()
            raise InputError(
                f"There is no lake at {lake.url}: it holds no {CAMPAIGN_FILE}. "
                "Give the folder or URL that holds one, or make a lake with 'motelake rehearse'."
            )
        return lake

    @classmethod
    def at(cls, url: str, **storage_options: Any) -> "Lake":
        """The place of a lake, without asking whether there is one yet."""
        import fsspec

        if "://" not in url:
            url = str(Path(url).expanduser().absolute())
        object_store.refuse_secrets(url)
        shown = object_store.without_secrets(url)
        options = object_store.S3_OPTIONS | storage_options if object_store.is_s3(url) else storage_options
        try:
            filesystem, root = fsspec.core.url_to_fs(url, **options)
        except ImportError as error:
            how = "pip install 'motelake[s3]'" if object_store.is_s3(url) else str(error)
            raise InputError(f"{shown} needs a library that is not installed: {how}.") from error
        except ValueError as error:
            raise InputError(f"{shown} is no place for a lake: {error}") from error
        object_store.bound_waiting(filesystem)
        is_local = "file" in protocols(filesystem)
        return cls(str(root) if is_local else shown.rstrip("/"), str(root).rstrip("/"), filesystem, is_local)

    # -- reading -----------------------------------------------------------------------------------

    def read(self, name: str) -> bytes:
        """The bytes of one object; FileNotFoundError where there is none."""
        with naming("Reading", name, self.url):
            options = object_store.reading_options(self.filesystem)
            return cast(bytes, self.filesystem.cat_file(self._path(name), **options))

    def read_many(self, names: Iterable[str]) -> dict[str, bytes]:
        """The bytes of several objects, asked for at once where the store can; those missing are left out."""
        paths = {self._path(name): name for name in names}
        if not paths:
            return {}
        with naming("Reading", f"{len(paths)} objects", self.url):
            options = object_store.reading_options(self.filesystem)
            answers = self.filesystem.cat(list(paths), on_error="return", **options)
        if isinstance(answers, bytes):
            answers = {next(iter(paths)): answers}
        found = {}
        for path, name in paths.items():
            answer = answers.get(path)
            if isinstance(answer, bytes):
                found[name] = answer
            elif answer is not None and not isinstance(answer, FileNotFoundError):
                # Asked for alone, so that the error names the object it is about.
                found[name] = self.read(name)
        return found

    def open_stream(self, name: str) -> BinaryIO:
        """A readable stream over one object; FileNotFoundError where there is none."""
        if "memory" in protocols(self.filesystem):
            # fsspec hands every reader of a memory object the same cursor.
            return io.BytesIO(self.read(name))
        with naming("Reading", name, self.url):
            stream = cast(BinaryIO, self.filesystem.open(self._path(name), "rb"))
        return cast(BinaryIO, NamingStream(stream, name, self.url))

    def fetch(self, name: str, work_folder: Path) -> Path:
        """A local file with the bytes of one object: itself in a local lake, else a copy in work_folder."""
        if self.is_local:
            return self.local_path(name)
        target = work_folder / f"{secrets.token_hex(8)}-{PurePosixPath(name).name}"
        with naming("Reading", name, self.url):
            self.filesystem.get_file(self._path(name), str(target))
        return target

    def exists(self, name: str) -> bool:
        """True where the object is there."""
        with naming("Looking for", name, self.url):
            # fsspec's isfile is false as well where the store does not answer or refuses to.
            try:
                return bool(self.filesystem.info(self._path(name))["type"] == "file")
            except FileNotFoundError:
                return False

    def modified_at(self, name: str) -> datetime | None:
        """When an object was written last, by the store's clock (UTC); None where the store does not tell."""
        with naming("Looking at", name, self.url):
            try:
                at = self.filesystem.modified(self._path(name))
            except NotImplementedError:
                return None
        return cast(datetime, at if at.tzinfo else at.replace(tzinfo=UTC)).astimezone(UTC)

    def list(self, prefix: str) -> list[ObjectInfo]:
        """All objects below a folder of the lake, sorted by name.

        Hidden and unfinished files (a part of the name that starts with a dot, an ending such as .part)
        and the empty markers that object stores keep for folders are left out.
        """
        top = self._path(prefix)
        with naming("Listing", prefix, self.url):
            self.filesystem.invalidate_cache()
            # A folder that may not be read must be an error, not an empty folder.
            options = {"on_error": "raise"} if self.is_local else {}
            try:
                entries: Mapping[str, Mapping[str, Any]] = self.filesystem.find(top, detail=True, **options)
            except FileNotFoundError:
                entries = {}
        found = []
        for path, entry in entries.items():
            name = str(path)[len(self.root) :].lstrip("/")
            if entry.get("type", "file") == "file" and not _is_passed_over(name):
                info = _info(name, entry)
                is_marker = info.size == 0 and "." not in PurePosixPath(name).name
                if self.is_local or not is_marker:
                    found.append(info)
        return sorted(found, key=lambda info: info.name)

    # -- writing -----------------------------------------------------------------------------------

    def write(self, name: str, data: bytes) -> None:
        """Puts one object in place of whatever was there; a reader sees the old bytes or the new."""
        with naming("Writing", name, self.url):
            if self.is_local:
                folder.write(self.local_path(name), io.BytesIO(data))
            else:
                self.filesystem.pipe_file(self._path(name), data)

    def put_file(self, local: Path, name: str) -> None:
        """Puts a local file into the lake under name, as write does."""
        with naming("Writing", name, self.url):
            if self.is_local:
                with local.open("rb") as stream:
                    folder.write(self.local_path(name), stream)
            else:
                self.filesystem.put_file(str(local), self._path(name))

    def create(self, name: str, data: bytes) -> None:
        """Puts one object where there was none: of several writers one wins.

        Raises FileExistsError for the others. The object appears whole or not at all.
        """
        with naming("Creating", name, self.url):
            if self.is_local:
                folder.create(self.local_path(name), data)
                return
            probe = self._path(PROBE_FILE)
            object_store.create(self.filesystem, self._path(name), data, probe)

    def creates_exclusively(self) -> bool:
        """True where of several processes that create one object only one can win.

        Where it is false, one process at a time may stage into the lake.
        """
        if self.is_local:
            return True
        with naming("Creating", PROBE_FILE, self.url):
            return object_store.creates_exclusively(self.filesystem, self._path(PROBE_FILE))

    def remove(self, name: str) -> None:
        """Takes one object away; nothing happens where there is none."""
        with naming("Removing", name, self.url):
            try:
                self.filesystem.rm_file(self._path(name))
            except FileNotFoundError:
                return

    def sweep(self, prefix: str, until: datetime) -> int:
        """Takes away what writers to a folder of the lake left half written by then; returns how many files.

        Only a local lake shows such files at all.
        """
        if not self.is_local:
            return 0
        with naming("Sweeping", prefix, self.url):
            left = folder.left_aside(self.local_path(prefix), until)
            for file in left:
                file.unlink(missing_ok=True)
        return len(left)

    # -- for the engine ----------------------------------------------------------------------------

    def local_path(self, name: str) -> Path:
        """Where an object of a local lake lies."""
        if not self.is_local:
            raise InputError(f"{self.url} is no local folder.")
        return Path(self._path(name))

    def engine_path(self, name: str) -> str:
        """What DuckDB reads an object by: an absolute path, or a URL once the lake is attached."""
        path = self._path(name)
        return path if self.is_local else str(self.filesystem.unstrip_protocol(path))

    def attach(self, engine: "duckdb.DuckDBPyConnection") -> None:
        """Lets a DuckDB connection read by engine_path what never changes; a local lake needs nothing."""
        if not self.is_local and not engine.filesystem_is_registered(protocols(self.filesystem)[0]):
            engine.register_filesystem(object_store.remembering(self.filesystem))

    def _refuse_missing_bucket(self) -> None:
        if object_store.is_s3(self.url):
            bucket = self.root.partition("/")[0]
            with naming("Looking for", f"the bucket {bucket}", self.url):
                try:
                    self.filesystem.info(bucket)
                except FileNotFoundError:
                    raise InputError(
                        f"There is no lake at {self.url}: the store has no bucket {bucket!r}. Make it, or "
                        "correct the URL or AWS_ENDPOINT_URL_S3."
                    ) from None

    def _path(self, name: str) -> str:
        parts = PurePosixPath(name).parts
        if not parts or ".." in parts or name.startswith("/"):
            raise InputError(f"{name!r} is no name in a lake.")
        return f"{self.root}/{'/'.join(parts)}"


def _info(name: str, entry: Mapping[str, Any]) -> ObjectInfo:
    etag = entry.get("ETag") or entry.get("etag")
    return ObjectInfo(name, int(entry.get("size") or 0), str(etag).strip('"') if etag else None)


def _is_passed_over(name: str) -> bool:
    return name.endswith(UNFINISHED_ENDINGS) or any(part.startswith(".") for part in name.split("/"))
