"""Peak memory of each stage: each runs alone in a fresh process, which has loaded what the stage works on.

The peak is Linux's VmHWM of that process, less that of one that has only imported everything. Python's tracemalloc
does not see what OpenCV takes, and ru_maxrss of a new process starts at the peak of the process that started it.
"""

import pickle
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.benchmarks.stages import STAGES, Inputs

_IMPORTS = "imports"


def peaks_mb(inputs: Inputs) -> dict[str, float]:
    """Return the peak of each stage in MB, what it works on included."""
    with TemporaryDirectory() as folder:
        return dict(_peaks_mb(inputs, Path(folder) / "input"))


def _peaks_mb(inputs: Inputs, file: Path) -> Iterator[tuple[str, float]]:
    imports = _measured(_IMPORTS, file)
    for name, stage in STAGES.items():
        file.write_bytes(pickle.dumps(getattr(inputs, stage.takes)))
        yield name, _measured(name, file) - imports


def _measured(name: str, file: Path) -> float:
    command = [sys.executable, "-m", "tests.benchmarks.memory", name, str(file)]
    return float(subprocess.run(command, check=True, capture_output=True, text=True).stdout)


def _run(name: str, file: Path) -> None:
    """Do the work of one stage and print this process's peak in MB."""
    if name != _IMPORTS:
        with file.open("rb") as data:
            STAGES[name].work(pickle.load(data))  # noqa: S301 - written by the process that started this one
    status = Path("/proc/self/status").read_text(encoding="ascii")
    (peak_kb,) = (line.split()[1] for line in status.splitlines() if line.startswith("VmHWM"))
    print(float(peak_kb) / 1024)  # noqa: T201 - read by the process that started this one


if __name__ == "__main__":
    _run(sys.argv[1], Path(sys.argv[2]))
