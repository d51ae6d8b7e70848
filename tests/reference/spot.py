"""OpenCV on photographs of a chessboard: findChessboardCorners, then cornerSubPix.

Reads the paths of pictures and the board's inner corners; answers each picture's corners, null where it found no board.
"""

import json
import sys

import cv2

question = json.load(sys.stdin)
ROUNDS = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 100, 1e-5)


def corners(path):
    grey = cv2.imread(path, cv2.IMREAD_GRAYSCALE)
    found, places = cv2.findChessboardCorners(grey, tuple(question["board"]))
    if not found:
        return None
    return cv2.cornerSubPix(grey, places, (5, 5), (-1, -1), ROUNDS).reshape(-1, 2).astype(float).tolist()


json.dump([corners(path) for path in question["pictures"]], sys.stdout)
