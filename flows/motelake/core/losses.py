"""How long a mote may be unheard by chance, told from the bursts that a fleet loses every day.

Bursts are lost in runs: where one was lost the next is likelier to be lost than it would be alone. A run is
taken to go on with the same chance after each loss (geometric), which is estimated from the runs seen.
"""

import math
from dataclasses import dataclass

RUN_AT_MOST = 10
"""A run is followed no further, so that a mote that went silent tells nothing about chance."""

PERIODS_AT_MOST = 1000


@dataclass(frozen=True)
class Losses:
    """Counts over a fleet: bursts sent, runs of lost ones, losses that followed a loss, runs that ended."""

    bursts: int = 0
    runs: int = 0
    carried: int = 0
    ended: int = 0

    def seen(self, missed: int) -> "Losses":
        """The counts with one burst more that was heard, before which so many were missed."""
        if missed == 0:
            return Losses(self.bursts + 1, self.runs, self.carried, self.ended)
        followed = min(missed, RUN_AT_MOST)
        return Losses(
            self.bursts + missed + 1,
            self.runs + 1,
            self.carried + followed - 1,
            self.ended + (missed < RUN_AT_MOST),
        )

    @property
    def begins(self) -> float:
        """Chance that a burst begins a run of lost ones; never quite 0."""
        return (self.runs + 1) / (self.bursts + 20)

    @property
    def goes_on(self) -> float:
        """Chance that a run goes on: of a geometric run cut at RUN_AT_MOST, and 1/4 before any was seen."""
        return min(0.95, (self.carried + 1) / (self.carried + self.ended + 4))

    def periods_by_chance(self, motes: int, groups: int, bursts_per_day: float, per_day: float) -> int:
        """For how many periods a group of motes may be silent together by chance.

        With a longer silence, groups of this size would fall silent by chance less than per_day times a day
        in all. Motes are taken to lose bursts independently of each other.
        """
        begins, goes_on = self.begins, self.goes_on
        # How often one of them reaches n periods, times how likely the others are in such a run just then.
        reach = math.log(begins) - math.log(goes_on)
        linger = reach - math.log(1 - goes_on)
        fixed = math.log(motes * bursts_per_day * groups / per_day) + reach + (motes - 1) * linger
        periods = fixed / (-math.log(goes_on) * motes)
        return max(1, min(PERIODS_AT_MOST, math.ceil(periods)))
