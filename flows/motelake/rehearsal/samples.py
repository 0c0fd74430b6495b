"""The plans of the lakes in sample_lake/."""

from collections.abc import Mapping

from motelake.rehearsal.plan import Faults, Plan

SAMPLES: Mapping[str, Plan] = {
    "depot_fair": Plan(motes=40, days=2, seed=31, burst_period_s=30, compression_level=9),
    "glasshouse": Plan(
        scene="glasshouse",
        motes=10,
        days=2,
        seed=7,
        compression_level=9,
        faults=Faults(restarts_per_day=1, gateway_deaths=0, garbage_objects=0, redelivered_objects=0),
    ),
}
