"""Fetches frames out of order with OpenCV and PyAV, and counts those that are not the ones asked for; times a reading."""

import json
import sys
import time

import av
import cv2

BLOCK_PX = 16
BLOCKS_IN_ROW = 6


def number_drawn(grey):
    """The number that the blocks of an 8-bit picture show, low bits first."""
    number = 0
    for block in range(2 * BLOCKS_IN_ROW):
        y = block // BLOCKS_IN_ROW * BLOCK_PX + BLOCK_PX // 2
        x = block % BLOCKS_IN_ROW * BLOCK_PX + BLOCK_PX // 2
        if y < grey.shape[0] and x < grey.shape[1] and grey[y, x] > 127:
            number |= 1 << block
    return number


def opencv_misses(path, reads):
    capture = cv2.VideoCapture(path)
    if not capture.isOpened():
        return None
    capture.set(cv2.CAP_PROP_ORIENTATION_AUTO, 0)
    misses = 0
    for frame, number in reads:
        capture.set(cv2.CAP_PROP_POS_FRAMES, frame)
        good, picture = capture.read()
        misses += not good or number_drawn(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY)) != number
    return misses


def pyav_frame(container, stream, frame):
    """The usual recipe: frame number to time by the average rate, seek back, decode forward to that time."""
    target = int(round(frame / stream.average_rate / stream.time_base)) + (stream.start_time or 0)
    container.seek(target, stream=stream, backward=True)
    half = int(1 / stream.average_rate / stream.time_base / 2)
    for decoded in container.decode(stream):
        if decoded.pts is not None and decoded.pts >= target - half:
            return decoded
    return None


def pyav_misses(path, reads):
    try:
        container = av.open(path)
    except (av.FFmpegError, OSError):
        return None
    stream = container.streams.video[0]
    misses = 0
    for frame, number in reads:
        try:
            decoded = pyav_frame(container, stream, frame)
            misses += decoded is None or number_drawn(decoded.to_ndarray(format="gray")) != number
        except (av.FFmpegError, TypeError, ZeroDivisionError):
            misses += 1
    return misses


def opencv_seconds(path):
    capture = cv2.VideoCapture(path)
    start = time.perf_counter()
    count = 0
    while capture.read()[0]:
        count += 1
    return {"frames": count, "seconds": time.perf_counter() - start}


question = json.load(sys.stdin)
answer = {
    "misses": [
        {"opencv": opencv_misses(case["path"], case["reads"]), "pyav": pyav_misses(case["path"], case["reads"])}
        for case in question.get("cases", [])
    ],
    "timed": [opencv_seconds(path) for path in question.get("timed", [])],
}
json.dump(answer, sys.stdout)
