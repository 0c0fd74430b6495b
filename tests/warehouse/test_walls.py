"""The walls of the operating system, tried from inside a process of their own."""

import subprocess
import sys
from pathlib import Path

import pytest

TRY = """
import socket, sys
from pathlib import Path
from motelake.warehouse.walls import end_after, forbid_writing, limit_memory

folder = Path(sys.argv[1])
stands = forbid_writing(folder / "scratch", is_network_needed=False)
print(stands)
def tried(deed):
    try:
        deed()
        return True
    except OSError:
        return False
print(tried(lambda: (folder / "scratch" / "new").write_text("x")))
print(tried(lambda: (folder / "part").read_text()))
print(tried(lambda: (folder / "part").write_text("x")))
print(tried(lambda: (folder / "part").unlink()))
print(tried(lambda: (folder / "new").mkdir()))
print(tried(lambda: socket.create_server(("127.0.0.1", 0))))
"""


def _run(program: str, folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", program, str(folder)], capture_output=True, text=True, timeout=30, check=False
    )


def test_a_process_may_read_but_write_nowhere_but_in_its_folder(tmp_path: Path) -> None:
    (tmp_path / "scratch").mkdir()
    (tmp_path / "part").write_text("kept")
    said = _run(TRY, tmp_path).stdout.split()
    if said[0] == "False":
        pytest.skip("this system has no Landlock (Linux 5.13 or later)")
    assert said == ["True", "True", "True", "False", "False", "False", "False"]
    assert (tmp_path / "part").read_text() == "kept"


def test_a_process_ends_itself_when_its_time_is_over(tmp_path: Path) -> None:
    program = "from motelake.warehouse.walls import end_after\nend_after(0.2)\nwhile True: pass"
    assert _run(program, tmp_path).returncode == -14


def test_a_process_gets_no_more_memory_than_allowed(tmp_path: Path) -> None:
    program = (
        "from motelake.warehouse.walls import limit_memory\nlimit_memory(300_000_000)\nbytearray(400_000_000)"
    )
    assert "MemoryError" in _run(program, tmp_path).stderr
