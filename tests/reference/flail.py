"""Flail-space figures from splines of first order and their antiderivatives."""

import json
import sys

import numpy as np
from scipy import interpolate, optimize

question = json.load(sys.stdin)
window_s = question["window_s"]
at = np.arange(len(question["ax"])) * question["step_s"]
speeds, strikes = [], []
for key, distance_m in [("ax", question["forward_m"]), ("ay", question["lateral_m"])]:
    line = interpolate.make_interp_spline(at, question[key], k=1)
    speed, travel = line.antiderivative(1), line.antiderivative(2)
    speeds.append(speed)
    beyond = np.flatnonzero(np.abs(travel(at)) >= distance_m)
    if len(beyond):
        bracket = at[beyond[0] - 1], at[beyond[0]]
        strikes.append(optimize.brentq(lambda t: abs(travel(t)) - distance_m, *bracket, xtol=1e-15))
time_s = min(strikes)
answer = {"time_s": time_s, "x_m_s": float(speeds[0](time_s)), "y_m_s": float(speeds[1](time_s))}
# Windows start anywhere: a grid forty times finer than the record.
starts = np.append(np.arange(time_s, at[-1] - window_s, question["step_s"] / 40), at[-1] - window_s)
for key, speed in zip(["ridedown_x_m_s2", "ridedown_y_m_s2"], speeds):
    means = (speed(starts + window_s) - speed(starts)) / window_s
    answer[key] = means[np.argmax(np.abs(means))]
json.dump(answer, sys.stdout, default=float)
