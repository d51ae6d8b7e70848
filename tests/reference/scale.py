"""Draws board, distance and plane offset and scales a travel with each draw."""

import json
import sys

import numpy as np

question = json.load(sys.stdin)
random = np.random.default_rng(question["seed"])
n, u_px = question["n_draws"], question["reading_u_px"]
start = np.array(question["from_px"]) + random.normal(0, u_px, (n, 2))
end = np.array(question["to_px"]) + random.normal(0, u_px, (n, 2))
length, distance, offset = (random.normal(*question[key], n) for key in ("length_m", "distance_m", "offset_m"))

along = end - start
n_px = np.hypot(*along.T)
scale = length / n_px
correction = 1 - offset / distance
# The board's direction is the path's: a level stretch of the picture counts by its cosine.
columns = question["ends_px"][1] - question["ends_px"][0]
travel = columns * along[:, 0] / n_px * scale * correction
json.dump(
    {
        "scale_relative_u": scale.std() / scale.mean(),
        "correction_u": correction.std(),
        "travel_m": travel.mean(),
        "travel_u_m": travel.std(),
    },
    sys.stdout,
)
