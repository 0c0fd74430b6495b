"""Writing into a local folder so that a reader sees a whole file or none."""

import io
import os
import re
import secrets
import shutil
from datetime import UTC, datetime
from pathlib import Path
from typing import BinaryIO

from motelake.errors import StoreError

_ASIDE = re.compile(r"\..+\.\d+-[0-9a-f]{8}\.part")


def write(target: Path, source: BinaryIO) -> None:
    """Puts what source holds in place of whatever was there."""
    aside = _write_aside(target, source)
    aside.replace(target)


def create(target: Path, data: bytes) -> None:
    """Puts data where there was nothing; FileExistsError for all but one of several writers."""
    aside = _write_aside(target, io.BytesIO(data))
    try:
        # A hard link is refused where the name is taken, and never shows half a file.
        os.link(aside, target)
    except FileExistsError:
        raise FileExistsError(target) from None
    except OSError as error:
        raise StoreError(
            f"{target} cannot be created: {error}. The file system of a lake must know hard links."
        ) from error
    finally:
        aside.unlink(missing_ok=True)


def left_aside(top: Path, until: datetime) -> list[Path]:
    """What writers below top began, did not end and last touched at until or before, in order."""
    return sorted(
        file
        for file in top.rglob(".*.part")
        if _ASIDE.fullmatch(file.name) and datetime.fromtimestamp(file.stat().st_mtime, UTC) <= until
    )


def _write_aside(target: Path, source: BinaryIO) -> Path:
    target.parent.mkdir(parents=True, exist_ok=True)
    # Hidden and unfinished by its name, so that no listing shows what a crash leaves behind.
    aside = target.with_name(f".{target.name}.{os.getpid()}-{secrets.token_hex(4)}.part")
    try:
        with aside.open("wb") as stream:
            shutil.copyfileobj(source, stream, 1 << 20)
            stream.flush()
            # A manifest must not outlive a power cut that its data did not.
            os.fsync(stream.fileno())
    except BaseException:
        aside.unlink(missing_ok=True)
        raise
    return aside
