"""Times OpenCV's jumps: sets the frame, reads it, turns it grey."""

import json
import sys
import time

import cv2

question = json.load(sys.stdin)
capture = cv2.VideoCapture(question["path"])
times = []
for frame in question["reads"]:
    start = time.perf_counter()
    capture.set(cv2.CAP_PROP_POS_FRAMES, frame)
    good, picture = capture.read()
    if not good:
        sys.exit(f"frame {frame} could not be read")
    cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY)
    times.append(1e3 * (time.perf_counter() - start))
json.dump({"ms": times}, sys.stdout)
