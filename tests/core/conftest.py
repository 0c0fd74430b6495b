"""The Depot Fair in a few rows."""

import pytest
from hypothesis import settings

# A busy machine may take long over a single example, and that is no failure.
settings.register_profile("patient", deadline=None)
settings.load_profile("patient")

_FILES = {
    "campaign.toml": """\
title = "Depot Fair"
time_zone = "Europe/Lisbon"
starts_at = 2031-05-09T04:00:00Z
ends_at = 2031-05-11T00:00:00Z
burst_period_s = 20
[levels]
pit = 0.0
track = 3.1
[baseline]
from = "05:00"
to = "07:00"
[open]
from = "09:00"
to = "21:00"
[limits]
reject_share = 0.3
""",
    "register/motes.csv": """\
mote,network,kit,level,zone,x_m,y_m,power,installed_at,removed_at,note
M1,north,temperature+sound,pit,wheel_pit,1.5,2,battery,2031-05-08T10:00:00Z,,under the bench
M2,north,temperature,track,hall,,,mains,,2031-05-11T00:00:00+01:00,
M3,,sound,,,,,,,,
""",
    "register/gateways.csv": """\
gateway,network,level,zone,x_m,y_m,hidden_at,note
G1,north,track,hall,4,5,behind the stove,
""",
    "register/zones.csv": """\
zone,level,title,kind,area_m2,x_m,y_m
wheel_pit,pit,Wheel pit,pit,80,,
hall,track,Track hall,hall,600.5,10,20
""",
    "register/measures.csv": """\
measure,title,unit,kind,role,span_low,span_high,usual_low,usual_high,max_step,flat_after_min
temperature,Air temperature,Cel,level,temperature,-40,85,5,40,2,
sound,Sound level,dB,decibel,sound,30,130,,,,60
""",
    "register/placements.csv": """\
mote,from_at,level,zone,x_m,y_m,how,note
M1,2031-05-09T12:00:00Z,track,hall,3,4,moved,
M1,2031-05-10T12:00:00Z,,,,,removed,
""",
    "programme/programme.csv": """\
event,title,kind,zone,starts_at,ends_at
E1,"Seeds, dry and true",talk,hall,2031-05-09T10:00:00+01:00,2031-05-09T11:00:00+01:00
E2,Lights out,,,2031-05-09T19:00:00Z,2031-05-09T19:05:00Z
E3,Loom and anvil,show,hall+wheel_pit,2031-05-10T10:00:00Z,2031-05-10T12:00:00Z
""",
    "context/streams.csv": """\
stream,title,unit,kind,max_age_min
weather,Air outside,Cel,level,60
remarks,,,,
""",
    "context/weather.csv": """\
at,value,zone,note
2031-05-09T10:00:00Z,12.5,,
2031-05-09T11:00:00Z,13,,clouds
""",
    "context/remarks.csv": """\
at,value,zone,note
2031-05-09T19:01:00Z,,hall,the lights went out
""",
}


@pytest.fixture(scope="session")
def depot() -> dict[str, bytes]:
    """The files of a campaign without a mistake; a test makes its own from them."""
    return {name: text.encode() for name, text in _FILES.items()}
