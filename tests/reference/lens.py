"""Distorts ideal pixels and undistorts stored pixels with OpenCV's camera model."""

import json
import sys

import cv2
import numpy as np

question = json.load(sys.stdin)
(fx, fy), (cx, cy) = question["focal"], question["centre"]
camera = np.array([[fx, 0.0, cx], [0.0, fy, cy], [0.0, 0.0, 1.0]])
terms = np.array(question["terms"])
ideal = np.array(question["ideal"], float)
stored = np.array(question["stored"], float)

rays = np.column_stack([(ideal[:, 0] - cx) / fx, (ideal[:, 1] - cy) / fy, np.ones(len(ideal))])
distorted, _ = cv2.projectPoints(rays, np.zeros(3), np.zeros(3), camera, terms)

# The default stops after five rounds of a fixed-point iteration: not enough for a reference.
rounds = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 2000, 1e-13)
undistorted = cv2.undistortPoints(stored[:, None, :], camera, terms, None, None, camera, rounds)

json.dump({"distorted": distorted.reshape(-1, 2).tolist(), "undistorted": undistorted.reshape(-1, 2).tolist()}, sys.stdout)
