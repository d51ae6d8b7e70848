"""OpenCV on one frame: ms for HoughCircles and for cornerHarris with its peaks, best of some runs.

Reads a raw 8-bit frame's path and size, and how often to run.
"""

import json
import sys
import time

import cv2
import numpy as np

question = json.load(sys.stdin)
width, height = question["size"]
grey = np.fromfile(question["frame"], np.uint8).reshape(height, width)
cv2.setNumThreads(question["threads"])


def circles():
    cv2.HoughCircles(grey, cv2.HOUGH_GRADIENT, 1.5, 12, param1=100, param2=40, minRadius=6, maxRadius=80)


def corners():
    strength = cv2.cornerHarris(grey, 5, 3, 0.04)
    np.argwhere((strength == cv2.dilate(strength, None)) & (strength > 0.01 * strength.max()))


def best(work):
    times = []
    for _ in range(question["runs"]):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return 1000 * min(times)


json.dump({"circles": best(circles), "corners": best(corners)}, sys.stdout)
