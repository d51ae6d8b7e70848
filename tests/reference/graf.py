"""Matches of two photographs of a painted wall by OpenCV's SIFT, and the published homography between them."""

import json
import sys
from xml.etree import ElementTree

import cv2
import numpy as np

question = json.load(sys.stdin)
folder = question["folder"]
pictures = [cv2.imread(f"{folder}/{name}.png", cv2.IMREAD_GRAYSCALE) for name in ("graf1", "graf3")]
if any(picture is None for picture in pictures):
    raise RuntimeError(f"{folder}: graf1.png or graf3.png is missing; install the package opencv-doc")
# The file's form is older than what this OpenCV reads.
numbers = ElementTree.parse(f"{folder}/H1to3p.xml").find("H13/data").text.split()
published = np.array(numbers, dtype=float).reshape(3, 3)

sift = cv2.SIFT_create()
(near, first), (far, second) = (sift.detectAndCompute(picture, None) for picture in pictures)
matches = cv2.BFMatcher(cv2.NORM_L2).knnMatch(first, second, k=2)
good = [a for a, b in matches if a.distance < 0.7 * b.distance]
pairs = np.array([[*near[m.queryIdx].pt, *far[m.trainIdx].pt] for m in good])
cv2.setRNGSeed(1)
_, inside = cv2.findHomography(pairs[:, :2], pairs[:, 2:], cv2.RANSAC, 1.5)
kept = pairs[inside.ravel() == 1]

# One match for each cell of a grid of 80 px, so that no corner of the wall has all the say.
cells = {}
for pair in kept:
    cells.setdefault((int(pair[0]) // 80, int(pair[1]) // 80), pair)
json.dump(
    {"pairs": [pair.tolist() for _, pair in sorted(cells.items())], "published": published.tolist()}, sys.stdout
)
