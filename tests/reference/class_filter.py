"""Filters a record as scipy would to the class's corner, and finds half-power frequencies."""

import json
import sys

import numpy as np
from scipy import optimize, signal

question = json.load(sys.stdin)
rate_hz, class_hz = question["rate_hz"], question["class_hz"]
values = np.array(question["values"])
b, a = signal.butter(2, 2.0775 * class_hz, fs=rate_hz)
forward = signal.lfilter(b, a, values)
from_rest = signal.lfilter(b, a, forward[::-1])[::-1]
mirrored = signal.filtfilt(b, a, values, padtype="odd", padlen=question["n_padded"])


def half_power_hz(gain):
    """Where the amplitude of both passes together is 1/sqrt(2)."""
    return optimize.brentq(lambda f: gain(f) - np.sqrt(0.5), 0.5 * class_hz, 3 * class_hz)


def designed(f):
    return abs(signal.freqz(b, a, worN=[f], fs=rate_hz)[1][0]) ** 2


answer = {
    "coefficients": [*b, *a[1:]],
    "from_rest": from_rest.tolist(),
    "mirrored": mirrored.tolist(),
    "designed_half_hz": half_power_hz(designed),
}
if "response" in question:
    response = np.array(question["response"])
    at = np.arange(len(response)) / rate_hz
    answer["response_half_hz"] = half_power_hz(lambda f: abs(np.sum(response * np.exp(-2j * np.pi * f * at))))
json.dump(answer, sys.stdout)
