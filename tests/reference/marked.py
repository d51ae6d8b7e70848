"""Reads marked films with PyAV and OpenCV: the number that each picture shows, and where the ring of its mark is drawn."""

import json
import sys

import av
import cv2
import numpy as np

BLOCK_PX = 16
BLOCKS_IN_ROW = 6


def number_drawn(grey, scale):
    """The number that the blocks show, low bits first; the middle level of each block, so that a drawing hides none."""
    number = 0
    for block in range(2 * BLOCKS_IN_ROW):
        y = block // BLOCKS_IN_ROW * BLOCK_PX * scale
        x = block % BLOCKS_IN_ROW * BLOCK_PX * scale
        if np.median(grey[y : y + BLOCK_PX * scale, x : x + BLOCK_PX * scale]) > 127:
            number |= 1 << block
    return number


def ring(picture, scale):
    """Centre of the ring in pixels of the stored picture, whose pixel centres are whole; None without one. The film is
    grey and a body's axes are blue: what has more red than blue is the ring's amber, however far a coder has bleached it."""
    amber = np.maximum(picture[:, :, 0].astype(float) - picture[:, :, 2] - 30, 0)
    if (amber > 20).sum() < 20:
        return None
    ys, xs = np.mgrid[: amber.shape[0], : amber.shape[1]]
    x = (amber * (xs + 0.5)).sum() / amber.sum()
    y = (amber * (ys + 0.5)).sum() / amber.sum()
    return [x / scale - 0.5, y / scale - 0.5]


def pyav_pictures(path):
    container = av.open(path)
    for frame in container.decode(container.streams.video[0]):
        yield frame.to_ndarray(format="rgb24")


def opencv_pictures(path):
    capture = cv2.VideoCapture(path)
    good, picture = capture.read()
    while good:
        yield cv2.cvtColor(picture, cv2.COLOR_BGR2RGB)
        good, picture = capture.read()


def read(pictures, left, top, scale, width, height):
    numbers, rings = [], []
    for picture in pictures:
        film = picture[top : top + height * scale, left : left + width * scale]
        numbers.append(number_drawn(film.mean(axis=2), scale))
        rings.append(ring(film, scale))
    return {"numbers": numbers, "rings": rings}


def source_numbers(path):
    return [number_drawn(picture.mean(axis=2), 1) for picture in pyav_pictures(path)]


question = json.load(sys.stdin)
place = (*question["film_at"], *question["film_size"])
json.dump(
    {
        "source": source_numbers(question["source"]),
        "pyav": read(pyav_pictures(question["marked"]), *place),
        "opencv": read(opencv_pictures(question["marked"]), *place),
        "about": dict(av.open(question["marked"]).metadata),
    },
    sys.stdout,
)
