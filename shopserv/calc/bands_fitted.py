"""Made by scripts/calibrate_forecast.py; not by hand."""

RATE = {
    "usual_mi": 5936.3,
    "prior_count": 0.9896,
    "own_floor": 0.0008172,
    "spread": 0.84207,
}

BELOW = {
    "factor": 0.5813,
    "uneven": 0.24,
    "even": 0.0992,
    "uneven_far": -0.08,
    "unknown": 0.089,
    "few": 0.3859,
    "ahead": -0.1761,
    "short": 0.5841,
    "long": -0.1119,
    "season": 0.2065,
    "season_short": 0.2276,
    "season_far": 0.6164,
    "drawn": 0.0,
}

ABOVE = {
    "factor": 0.2774,
    "uneven": 0.2899,
    "even": 0.2249,
    "uneven_far": 0.2364,
    "unknown": 0.001977,
    "few": 0.1003,
    "ahead": -0.4612,
    "short": -0.2453,
    "long": 0.4392,
    "season": 0.08681,
    "season_short": 0.6381,
    "season_far": 0.3767,
    "drawn": 1.128,
}
