"""Reads a film with OpenCV and follows points by pyramidal Lucas-Kanade, as the peer for the speed of following."""

import json
import sys
import time

import cv2
import numpy


def followed(film, points, window):
    """Seconds and frames of reading to grey and following all points from frame to frame."""
    capture = cv2.VideoCapture(film)
    begin = time.perf_counter()
    n_frames = 0
    before = None
    places = numpy.array(points, numpy.float32).reshape(-1, 1, 2)
    while True:
        found, picture = capture.read()
        if not found:
            break
        grey = cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY)
        if before is not None:
            places, _, _ = cv2.calcOpticalFlowPyrLK(before, grey, places, None, winSize=(window, window))
        before = grey
        n_frames += 1
    return {"seconds": time.perf_counter() - begin, "frames": n_frames}


def main():
    question = json.load(sys.stdin)
    runs = [followed(question["film"], question["points"], question["window"]) for _ in range(question["runs"])]
    print(json.dumps(min(runs, key=lambda run: run["seconds"])))


main()
