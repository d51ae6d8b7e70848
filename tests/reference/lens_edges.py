"""Straightens points of edges with OpenCV's camera model and tells how far they are from their own straight lines."""

import json
import sys

import cv2
import numpy as np

question = json.load(sys.stdin)
(fx, fy), (cx, cy) = question["focal"], question["centre"]
camera = np.array([[fx, 0.0, cx], [0.0, fy, cy], [0.0, 0.0, 1.0]])
terms = np.array(question["terms"])
rounds = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 2000, 1e-13)


def rms(points):
    """Root mean square distance from the line with the least squares of distances."""
    away = points - points.mean(axis=0)
    return float(np.linalg.svd(away, compute_uv=False)[1] / np.sqrt(len(points)))


before, after = [], []
for edge in question["edges"]:
    stored = np.array(edge, float)
    straight = cv2.undistortPoints(stored[:, None, :], camera, terms, None, None, camera, rounds).reshape(-1, 2)
    before.append(rms(stored))
    after.append(rms(straight))
json.dump({"before": before, "after": after}, sys.stdout)
