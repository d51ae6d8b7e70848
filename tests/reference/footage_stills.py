"""Writes stills with OpenCV and tifffile, and says which samples each holds as read back by either of them."""

import json
import sys
from pathlib import Path

import cv2
import numpy as np
import tifffile

question = json.load(sys.stdin)
folder = Path(question["folder"])
random = np.random.default_rng(question["seed"])
WIDTH, HEIGHT = 33, 21
stills = []


def samples(dtype, full):
    return random.integers(0, full + 1, (HEIGHT, WIDTH), dtype=dtype)


def told(name, pages, bits):
    stills.append({"name": name, "bits": bits, "pages": [page.reshape(-1).tolist() for page in pages]})


def by_opencv(name, picture, settings=()):
    """Written and read back by OpenCV, as stored."""
    assert cv2.imwrite(str(folder / name), picture, list(settings))
    back = cv2.imread(str(folder / name), cv2.IMREAD_UNCHANGED)
    assert back.dtype == picture.dtype and (back == picture).all()
    told(name, [back], 8 * picture.itemsize)


def by_tifffile(name, picture, bits, **settings):
    """Written by tifffile, read back by tifffile; grey rises with light."""
    inverted = settings.get("photometric") == "miniswhite"
    tifffile.imwrite(folder / name, picture, **settings)
    back = tifffile.imread(folder / name)
    assert (back == picture).all()
    pages = back if back.ndim == 3 else back[None]
    told(name, [(2**bits - 1) - page.astype(int) if inverted else page for page in pages], bits)


for dtype, full in ((np.uint8, 255), (np.uint16, 65535)):
    bits = 8 * np.dtype(dtype).itemsize
    by_opencv(f"plain{bits}.png", samples(dtype, full))
    by_opencv(f"plain{bits}.pgm", samples(dtype, full))
    for word, code in (("none", 1), ("lzw", 5), ("deflate", 8), ("packbits", 32773)):
        by_opencv(f"{word}{bits}.tif", samples(dtype, full), [cv2.IMWRITE_TIFF_COMPRESSION, code])
    for order, word in (("<", "little"), (">", "big")):
        for big in (False, True):
            settings = {"byteorder": order, "bigtiff": big, "photometric": "minisblack"}
            by_tifffile(f"{word}{bits}-{big}.tif", samples(dtype, full), bits, **settings)
            pages = np.stack([samples(dtype, full) for _ in range(4)])
            by_tifffile(f"{word}{bits}-{big}-pages.tif", pages, bits, **settings)
        by_tifffile(f"{word}{bits}-white.tif", samples(dtype, full), bits, byteorder=order, photometric="miniswhite")
    by_tifffile(f"tiles{bits}.tif", samples(dtype, full), bits, tile=(16, 16), photometric="minisblack")
    by_tifffile(f"zlib{bits}.tif", samples(dtype, full), bits, compression="zlib", photometric="minisblack")
    by_tifffile(f"strips{bits}.tif", samples(dtype, full), bits, rowsperstrip=4, photometric="minisblack")

bmp = np.repeat(samples(np.uint8, 255)[..., None], 3, axis=2)
assert cv2.imwrite(str(folder / "grey.bmp"), bmp)
told("grey.bmp", [cv2.imread(str(folder / "grey.bmp"), cv2.IMREAD_UNCHANGED)[..., 0]], 8)

mosaics = []
for order, code in (("rggb", "BG"), ("grbg", "GB"), ("gbrg", "GR"), ("bggr", "RG")):
    for bits, dtype in ((8, np.uint8), (16, np.uint16)):
        raw = samples(dtype, 2**bits - 1)
        (folder / f"{order}{bits}.raw").write_bytes(raw.tobytes())
        colour = cv2.cvtColor(raw, getattr(cv2, f"COLOR_Bayer{code}2RGB")).astype(float)
        luma = colour @ [0.299, 0.587, 0.114]
        mosaics.append({"order": order, "bits": bits, "width": WIDTH, "height": HEIGHT, "luma": luma.reshape(-1).tolist()})

json.dump({"stills": stills, "mosaics": mosaics}, sys.stdout)
