"""Made by scripts/calibrate_forecast.py; not by hand."""

FIT = {
    "usual_mi": 5936.3,
    "prior_count": 0.9896,
    "own_floor": 0.0008172,
    "past": 4.916,
    "power": 0.77524,
    "spread": 0.84207,
    "below": 0.56818,
    "above": 0.74755,
}
