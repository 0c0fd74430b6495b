"""Prints how long the main job takes motelake, bare DuckDB, Polars and pandas, side by side.

The jobs take turns on the same files, each in a process of its own; the table gives medians and the spread
from the quickest to the slowest round. Answers are compared before any time is shown. See DEVELOPERS.md.
"""

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from shutil import copytree, rmtree
from statistics import median
from typing import Any

import views
from increment import copy_lake, time_increments
from yardstick import yardstick

HERE = Path(__file__).parent
JOBS = ("floor", "motelake", "polars", "pandas")
PACKAGES = ("motelake", "duckdb", "pyarrow", "polars", "pandas", "numpy")


@dataclass(frozen=True)
class Ran:
    """One process from start to end, its children included."""

    cpu_s: float
    wall_s: float
    peak_mb: float
    output: str


def main() -> int:
    """Runs the rounds and prints the table; 1 where answers differ by more than they may."""
    options = read_options()
    if options.increment:
        time_runs([lake.resolve() for lake in options.increment], options.rounds)
        return 0
    if options.views:
        return time_views(options.views.resolve(), options.named, options.rounds)
    cache = options.cache / f"{options.motes}x{options.days}"
    make_lake(cache, options.motes, options.days)
    plan = tomllib.loads((cache / "campaign.toml").read_text(encoding="utf-8"))
    times = [plan["starts_at"].isoformat(), plan["ends_at"].isoformat()]
    rounds: dict[str, list[Ran]] = {job: [] for job in options.jobs}
    for number in range(options.rounds):
        for job in options.jobs:
            rounds[job].append(run_job(job, cache, times))
            print(f"round {number + 1}: {job} {rounds[job][-1].cpu_s:.1f} CPU s", file=sys.stderr)
    told = {job: [json.loads(ran.output) for ran in runs] for job, runs in rounds.items()}
    differences = compare({job: one[0]["answers"] for job, one in told.items()})
    for line in (*machine(cache), *differences, "", *table(rounds, told), *start_up(cache, options)):
        print(line)
    return int(any(line.startswith("DIFFERS") for line in differences))


def read_options() -> argparse.Namespace:
    """What was asked for on the command line."""
    parser = argparse.ArgumentParser(prog="infra/bench", description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--motes", type=int, default=500)
    parser.add_argument("--days", type=int, default=1)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--jobs", nargs="+", choices=JOBS, default=JOBS)
    parser.add_argument("--views", type=Path, metavar="LAKE", help="time every view on this published lake")
    parser.add_argument("--named", nargs="+", default=[], metavar="VIEW", help="with --views: these only")
    parser.add_argument(
        "--increment",
        type=Path,
        nargs="+",
        metavar="LAKE",
        help="five more minutes for these published lakes",
    )
    parser.add_argument("--cache", type=Path, default=Path(tempfile.gettempdir()) / "motelake-bench")
    return parser.parse_args()


def make_lake(lake: Path, motes: int, days: int) -> None:
    """A rehearsed lake, made once."""
    if not (lake / "campaign.toml").exists():
        rmtree(lake, ignore_errors=True)
        command = ["rehearse", str(lake), "--motes", str(motes), "--days", str(days), "--seed", "1"]
        subprocess.run([motelake(), *command], check=True, stdout=sys.stderr)


def time_views(lake: Path, named: list[str], rounds: int) -> int:
    """Prints how long each view takes; 1 where one is too slow, or answers not as plain SQL does."""
    lines = [*machine(lake), "", views.titles()]
    print("\n".join(lines))
    failed = False
    for view in views.asked_views(named):
        line = time_view(lake, view, rounds)
        print(line, flush=True)
        failed = failed or "SLOWER" in line or "DIFFERS" in line
    return int(failed)


def time_view(lake: Path, view: str, rounds: int) -> str:
    """The line of one view."""
    plain = views.plain_of(view)
    with tempfile.TemporaryDirectory(prefix="motelake-bench-") as folder:
        answer, plain_answer = Path(folder) / "view.parquet", Path(folder) / "plain.parquet"
        told = views.read_told(run(views.command(lake, view, rounds, answer), HERE).output)
        if plain is None:
            return views.row(view, told, None, [])
        beside = views.read_told(run(views.command(lake, str(plain), rounds, plain_answer), HERE).output)
        keys = views.compared_by(plain)
        said = (views.differences(answer, plain_answer, keys) or ["same"]) if keys else ["less"]
    return views.row(view, told, beside, said)


def time_runs(lakes: list[Path], rounds: int) -> None:
    """Prints what a scheduled run costs in copies of these lakes, each run in a process of its own."""
    with tempfile.TemporaryDirectory(prefix="motelake-bench-", dir=lakes[0].parent) as folder:
        copies = [copy_lake(lake, Path(folder) / str(number)) for number, lake in enumerate(lakes)]
        script = [sys.executable, str(HERE / "run_job.py")]
        print(*machine(lakes[0]), sep="\n")
        for line in time_increments(
            copies, rounds, lambda lake: json.loads(run([*script, str(lake)], HERE).output)["parts"]
        ):
            print(line, flush=True)


def run_job(job: str, lake: Path, times: list[str]) -> Ran:
    """One job in a folder of its own, which is gone afterwards."""
    with tempfile.TemporaryDirectory(dir=lake.parent, prefix=f"{job}-") as folder:
        work = Path(folder)
        (work / "out" / "published").mkdir(parents=True)
        # Hard links: motelake writes beside the raw objects, and never into them.
        copytree(lake, work / "lake", copy_function=os.link)
        script = [sys.executable, str(HERE / f"{job}_job.py")]
        given = {"floor": times, "motelake": ["lake"]}.get(job, ["lake", *times])
        return run([*script, *given], work)


def run(command: list[str], folder: Path) -> Ran:
    """Runs a command to its end and measures it."""
    begun = time.perf_counter()
    with (
        tempfile.TemporaryFile() as output,
        tempfile.TemporaryFile() as said,
        subprocess.Popen(command, cwd=folder, stdout=output, stderr=said) as process,
    ):
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        wall_s = time.perf_counter() - begun
        if process.returncode != 0:
            said.seek(0)
            raise SystemExit(f"{' '.join(command)} ended with {process.returncode}:\n{said.read().decode()}")
        output.seek(0)
        text = output.read().decode()
    # Linux counts in kilobytes, macOS in bytes.
    peak_mb = usage.ru_maxrss / (2**20 if sys.platform == "darwin" else 2**10)
    return Ran(usage.ru_utime + usage.ru_stime, wall_s, peak_mb, text)


def compare(answers: dict[str, dict[str, Any]]) -> list[str]:
    """A line for each count and for the correlation: how far each job is from the first.

    floor, Polars and pandas follow the same definitions and must agree. motelake does more: it finds out when
    a burst was measured, flags motes that go their own way and shares counts out over the minutes they cover.
    So its minutes are others at their edges, and it leaves out more.
    """
    first, *others = answers
    lines = [f"answers of {first}: " + ", ".join(f"{k} {v:,}" for k, v in answers[first].items() if k != "r")]
    for job in others:
        allowed = ALLOWED["motelake" if "motelake" in (first, job) else "plain"]
        for name, most in allowed.items():
            difference = _difference(name, answers[first][name], answers[job][name])
            word = "agrees" if difference <= most else "DIFFERS"
            lines.append(f"{word}: {job} {name} is {difference:.2g} from {first}, {most:g} is allowed")
    return lines


ALLOWED = {
    "plain": {"bursts": 0, "readings": 0, "suspect": 0, "fail": 0, "mote_minutes": 0, "r": 1e-9},
    "motelake": {"bursts": 0.005, "readings": 0.005, "fail": 0.2, "mote_minutes": 0.01, "r": 0.05},
}
"""Relative differences of counts, largest absolute difference of r over all lags."""


def _difference(name: str, one: Any, other: Any) -> float:
    if name == "r":
        return max((abs(float(a) - float(b)) for a, b in zip(one, other, strict=True)), default=0.0)
    return abs(float(other) - float(one)) / max(float(one), 1.0)


def table(rounds: dict[str, list[Ran]], told: dict[str, list[dict[str, Any]]]) -> list[str]:
    """Medians, the spread of the rounds, and how many times the floor that is."""
    base = rounds.get("floor")
    titles = f"{'job':10}{'part':12}{'CPU s':>9}{'spread':>18}{'wall s':>9}{'peak MB':>9}"
    lines = [titles + f"{'x floor CPU':>13}{'wall':>7}"]
    for job, runs in rounds.items():
        lines.append(_row(job, "all", runs, base))
        parts = list(told[job][0].get("parts", {}))
        if "page" in parts:
            of_base = _of_parts(told["floor"], COMPARED) if base else None
            lines.append(_row("", "to publish", _of_parts(told[job], COMPARED), of_base))
        for part in parts:
            is_there = base is not None and part in told["floor"][0]["parts"]
            of_base = _of_parts(told["floor"], [part]) if is_there else None
            lines.append(_row("", part, _of_parts(told[job], [part]), of_base))
    return lines


COMPARED = ("stage", "check", "load", "publish")
"""The parts from raw objects to published tables; a page is more than any other job makes."""


def _of_parts(told: list[dict[str, Any]], parts: Sequence[str]) -> list[Ran]:
    """What these parts cost together, round by round."""
    costs = [[one["parts"][part] for part in parts if part in one["parts"]] for one in told]
    return [
        Ran(sum(cost["cpu_s"] for cost in of), sum(cost["wall_s"] for cost in of), peak_mb=0, output="")
        for of in costs
    ]


def _row(job: str, part: str, runs: list[Ran], base: list[Ran] | None) -> str:
    cpu, wall = median(one.cpu_s for one in runs), median(one.wall_s for one in runs)
    spread = f"{min(one.cpu_s for one in runs):.2f}-{max(one.cpu_s for one in runs):.2f}"
    peak = f"{max(one.peak_mb for one in runs):,.0f}" if runs[0].peak_mb else ""
    ratios = ""
    if base is not None:
        ratios = (
            f"{cpu / median(one.cpu_s for one in base):13.2f}{wall / median(one.wall_s for one in base):7.2f}"
        )
    return f"{job:10}{part:12}{cpu:9.2f}{spread:>18}{wall:9.2f}{peak:>9}{ratios}"


def start_up(lake: Path, options: argparse.Namespace) -> list[str]:
    """Two commands as whole processes, on the small lake of 40 motes that they publish first."""
    # Apart from the lakes that the jobs begin with, which must stay as they were delivered.
    small = options.cache / "start-up"
    make_lake(small, 40, 1)
    if not (small / "published" / "current.json").exists():
        subprocess.run([motelake(), "run", str(small)], check=False, capture_output=True)
    commands = {"--help": ["--help"], "show": ["show", str(small), "fleet.state"]}
    lines = [""]
    for name, arguments in commands.items():
        runs = [run([motelake(), *arguments], lake) for _ in range(max(5, options.rounds))]
        lines.append(_row("motelake", name, runs, None))
    return lines


def machine(lake: Path) -> list[str]:
    """What it was measured on, and how quick that is on this lake."""
    versions = ", ".join(f"{name} {version(name)}" for name in PACKAGES)
    system = f"{platform.platform()}, {os.cpu_count()} cores, Python {platform.python_version()}"
    return [system, versions, yardstick(lake)]


def motelake() -> str:
    """The command beside this Python."""
    return str(Path(sys.executable).with_name("motelake"))


if __name__ == "__main__":
    sys.exit(main())
