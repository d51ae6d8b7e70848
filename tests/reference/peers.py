"""Locates quadrant targets with OpenCV: corner refinement, template matching, optical flow."""

import json
import sys

import cv2
import numpy as np

question = json.load(sys.stdin)
side = question["side"]
grey = np.array(question["grey"], np.uint8).reshape(side, side)
template = np.array(question["template"], np.uint8).reshape(side, side)
starts = np.array(question["starts"])
ROUNDS = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 100, 1e-4)


def cut(picture, x, y, reach):
    return np.ascontiguousarray(picture[y - reach : y + reach + 1, x - reach : x + reach + 1])


def corner_refined():
    points = starts.astype(np.float32)[:, None, :].copy()
    return cv2.cornerSubPix(grey, points, (8, 8), (-1, -1), ROUNDS).reshape(-1, 2)


def peak(left, middle, right):
    """Top of the parabola through three neighbours, in samples from the middle one."""
    return 0.5 * (left - right) / (left - 2 * middle + right)


def matched(x, y):
    pattern = cut(template, x, y, 20)
    score = cv2.matchTemplate(cut(grey, x, y, 24), pattern, cv2.TM_CCOEFF_NORMED)
    row, column = np.unravel_index(np.argmax(score), score.shape)
    row, column = np.clip([row, column], 1, np.array(score.shape) - 2)
    dx = peak(*score[row, column - 1 : column + 2])
    dy = peak(*score[row - 1 : row + 2, column])
    return [x + column - 4 + dx, y + row - 4 + dy]


def flowed(x, y):
    reach = 28
    start = np.array([[[reach, reach]]], np.float32)
    before, now = cut(template, x, y, reach), cut(grey, x, y, reach)
    found, _, _ = cv2.calcOpticalFlowPyrLK(before, now, start, None, winSize=(37, 37), maxLevel=1, criteria=ROUNDS)
    return [x - reach + float(found[0, 0, 0]), y - reach + float(found[0, 0, 1])]


places = [(int(x), int(y)) for x, y in starts]
answer = {
    "cornerSubPix": corner_refined().astype(float).tolist(),
    "matchTemplate + parabola": [matched(x, y) for x, y in places],
    "calcOpticalFlowPyrLK": [flowed(x, y) for x, y in places],
}
json.dump(answer, sys.stdout, default=float)
