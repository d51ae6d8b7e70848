"""Noise and gain of derivative estimates from scipy's Savitzky-Golay coefficients."""

import json
import sys

import numpy as np
from scipy import signal

question = json.load(sys.stdin)
step_s = question["step_s"]
noise, gain = [], []
for m in question["half_widths"]:
    slope = signal.savgol_coeffs(2 * m + 1, 2, deriv=1, delta=step_s, use="dot")
    noise.append(np.sqrt(np.sum(slope**2)))
    for frequency_hz in question["frequencies_hz"]:
        w = 2 * np.pi * frequency_hz
        # Slope of sin(w t) at t = 0, where the true slope is w.
        gain.append(slope @ np.sin(w * step_s * np.arange(-m, m + 1)) / w)
second = signal.savgol_coeffs(3, 2, deriv=2, delta=step_s)
json.dump({"noise": noise, "gain": gain, "second_difference": np.sqrt(np.sum(second**2))}, sys.stdout, default=float)
