"""Made by scripts/calibrate_forecast.py; not by hand."""

RATE = {
    "usual_mi": 5936.3,
    "prior_count": 0.9896,
    "own_floor": 0.0008172,
    "spread": 0.84207,
}

BELOW = {
    "factor": 0.729,
    "uneven": 0.08473,
    "even": 0.1675,
    "unknown": 0.1651,
    "few": 0.1713,
    "ahead": -0.1582,
    "short": 0.3544,
    "long": -0.1803,
}

ABOVE = {
    "factor": 0.2607,
    "uneven": 0.4749,
    "even": 0.0,
    "unknown": 0.04485,
    "few": 0.2224,
    "ahead": -0.14,
    "short": -0.4069,
    "long": 0.2771,
}
