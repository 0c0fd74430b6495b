"""How a job tells what each part of it cost: one line of JSON at its end."""

import json
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any


class Parts:
    """CPU seconds of all threads and wall seconds of each part of a job."""

    def __init__(self) -> None:
        self.parts: dict[str, dict[str, float]] = {}

    @contextmanager
    def part(self, name: str) -> Iterator[None]:
        """Measures what is done inside."""
        cpu, wall = time.process_time(), time.perf_counter()
        yield
        self.parts[name] = {"cpu_s": time.process_time() - cpu, "wall_s": time.perf_counter() - wall}

    def tell(self, answers: dict[str, Any]) -> None:
        """Prints the parts and what came out."""
        print(json.dumps({"parts": self.parts, "answers": answers}))
