"""What the reports of all steps have in common."""

from abc import ABC, abstractmethod
from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True)
class Report(ABC):
    """What a step did, or found."""

    @property
    @abstractmethod
    def needs_attention(self) -> bool:
        """True where a person is needed."""

    def to_dict(self) -> dict[str, Any]:
        """The report for programs."""
        return asdict(self) | {"needs_attention": self.needs_attention}
