"""Weighted straight line and parabola by numpy.polyfit, with covariance in both conventions."""

import json
import sys

import numpy as np

t, y, variance = np.array(json.load(sys.stdin)["marks"]).T
weights = variance**-0.5
t = t - t.mean()
answer = {}
for key, scaling in [("stated", "unscaled"), ("residuals", True)]:
    line, line_cov = np.polyfit(t, y, 1, w=weights, cov=scaling)
    # Time in units of half the interval keeps the parabola well conditioned.
    half = 0.5 * (t[-1] - t[0])
    parabola, parabola_cov = np.polyfit((t - 0.5 * (t[0] + t[-1])) / half, y, 2, w=weights, cov=scaling)
    answer[key] = [
        line[0],
        line_cov[0, 0] ** 0.5,
        line[1],
        line_cov[1, 1] ** 0.5,
        2 * parabola[0] / half**2,
        2 * parabola_cov[0, 0] ** 0.5 / half**2,
    ]
    answer["chi2"] = float(np.sum(((y - np.polyval(line, t)) * weights) ** 2))
json.dump(answer, sys.stdout)
