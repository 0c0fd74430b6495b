"""python -m motelake.rehearsal FOLDER: write the two sample lakes, depot_fair and glasshouse, into a folder.

Each sample is a plan kept in samples.py, so anybody can make the same lakes again. The truth is written
beside each lake. For a lake of another size use `motelake rehearse`.
"""

import sys
from pathlib import Path

from motelake.errors import MotelakeError
from motelake.rehearsal.invention import rehearse
from motelake.rehearsal.samples import SAMPLES


def main(arguments: list[str]) -> int:
    """Write every sample lake below the folder named; the exit code."""
    if len(arguments) != 1 or arguments[0].startswith("-"):
        sys.stderr.write(f"{__doc__}\n")
        return 2
    for name, plan in SAMPLES.items():
        try:
            report = rehearse(Path(arguments[0]) / name, plan)
        except MotelakeError as error:
            sys.stderr.write(f"{error}\n")
            return error.exit_code
        size_mb = report.size_bytes / 1e6
        sys.stdout.write(
            f"{report.lake}: {report.lines:,} lines in {report.objects} objects, {size_mb:.1f} MB\n"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
