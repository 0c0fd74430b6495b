"""Everything that is settled before the first burst is sent."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from motelake.rehearsal.chance import FloatArray
from motelake.rehearsal.crew import Fleet, put_up
from motelake.rehearsal.depot_fair import imagine_depot_fair
from motelake.rehearsal.glasshouse import imagine_glasshouse
from motelake.rehearsal.incidents import Casting, Incident
from motelake.rehearsal.outages import place_outages, place_power_cuts, place_restarts
from motelake.rehearsal.places import trace, with_cupboards
from motelake.rehearsal.plan import Plan
from motelake.rehearsal.power import Boots, run_boots
from motelake.rehearsal.sensing import Instruments
from motelake.rehearsal.venue import Scene

SCENES: Mapping[str, Callable[[Plan], Scene]] = {
    "depot_fair": imagine_depot_fair,
    "glasshouse": imagine_glasshouse,
}


@dataclass(frozen=True)
class Story:
    """A plan worked out: the place, the fleet, what befalls it, and when each mote runs."""

    plan: Plan
    scene: Scene
    fleet: Fleet
    incidents: tuple[Incident, ...]
    boots: Boots
    tools: Instruments


def settle(plan: Plan) -> Story:
    """The scene, the fleet, what will happen to it, and when each mote runs."""
    scene = SCENES[plan.scene](plan)
    fleet = put_up(plan, scene)
    outages = place_outages(plan, scene, fleet)
    cuts = place_power_cuts(plan, scene, fleet)
    fates = Casting(plan, scene, fleet).cast_all()
    restarts = place_restarts(plan, scene, fleet, outages)
    incidents = (*fates, *outages, *cuts, *restarts)
    scene = replace(scene, world=without_lamps(scene, cuts))
    whereabouts = trace(scene, fleet, fates)
    names = [measure.measure for measure in scene.measures]
    carries = np.array([[name in mote.kit for name in names] for mote in fleet.motes])
    tools = Instruments(
        scene,
        fleet,
        whereabouts,
        with_cupboards(scene, whereabouts),
        carries,
        plan.burst_period_s or scene.burst_period_s,
    )
    return Story(plan, scene, fleet, incidents, run_boots(plan, scene, fleet, incidents), tools)


def without_lamps(scene: Scene, cuts: Sequence[Incident]) -> dict[str, FloatArray]:
    """The world with the lamps out where and while the mains is."""
    world = dict(scene.world)
    for name in [measure.measure for measure in scene.measures if measure.role == "light"]:
        course = world[name].copy()
        for cut in cuts:
            dark = slice(int(cut.from_s // 60), int(cut.to_s // 60) + 1)
            # More than lamps can give is daylight, and stays.
            course[cut.row, dark] *= np.where(course[cut.row, dark] < 1000, 0.03, 1.0)
        world[name] = course
    return world
