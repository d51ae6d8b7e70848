//! Sample layouts of films against FFmpeg's own planes: what it repacks without arithmetic must equal what is read here.

use crate::pictures::ffmpeg;
use filmgauge_footage::{FootageInfo, LumaPath, ReadOptions, open};
use filmgauge_quantities::GreyPixels;
use std::path::Path;

/// Odd in both directions, so that chroma is rounded up and rows do not fill their strides.
const SIZE: (usize, usize) = (37, 23);

/// The test card of `-f lavfi` in a layout, as raw film.
fn write_card(base: &Path, layout: &str) {
    let card = format!("testsrc2=s=40x24:d=0.12,format=rgb24,crop={}:{},format={layout}", SIZE.0, SIZE.1);
    // Raw film has no name for grey with transparency of 16 bits; PNG has.
    let coding = if layout == "ya16be" { "png" } else { "rawvideo" };
    ffmpeg(base, &["-f", "lavfi", "-i", &card, "-c:v", coding, "-pix_fmt", layout, "film.nut"]);
}

/// The film's samples as FFmpeg itself gives them in another layout, low byte first where there are two.
fn by_ffmpeg(base: &Path, layout: &str) -> Vec<u16> {
    ffmpeg(base, &["-i", "film.nut", "-f", "rawvideo", "-pix_fmt", layout, "planes.raw"]);
    let bytes = std::fs::read(base.join("planes.raw")).unwrap();
    if layout.ends_with("le") {
        bytes.chunks_exact(2).map(|pair| u16::from_le_bytes([pair[0], pair[1]])).collect()
    } else {
        bytes.into_iter().map(u16::from).collect()
    }
}

/// Every sample of every frame of `film.nut` as read here.
fn read(base: &Path) -> (FootageInfo, Vec<u16>) {
    let mut reader = open(base, "film.nut", &ReadOptions { threads: 1, ..Default::default() }).unwrap();
    let mut levels = Vec::new();
    while let Some(frame) = reader.next_frame().unwrap() {
        let view = frame.picture.view();
        assert_eq!((view.width(), view.height()), SIZE);
        match view.pixels() {
            GreyPixels::Eight(samples) => levels.extend(samples.iter().map(|&level| u16::from(level))),
            GreyPixels::Sixteen(samples) => levels.extend(samples),
        }
    }
    assert_eq!(levels.len(), 3 * SIZE.0 * SIZE.1);
    (reader.info().clone(), levels)
}

/// The first `of` samples out of each `whole` ones, for each frame: its first plane.
fn first_planes(samples: &[u16], frames: usize) -> Vec<u16> {
    samples.chunks(samples.len() / frames).flat_map(|frame| &frame[..SIZE.0 * SIZE.1]).copied().collect()
}

#[test]
fn luma_equals_the_first_plane_of_ffmpegs_planar_form() {
    let folder = tempfile::tempdir().unwrap();
    for (layout, planar, bits) in [
        ("gray", "gray", 8),
        ("gray10be", "gray10le", 10),
        ("gray12le", "gray12le", 12),
        ("gray16be", "gray16le", 16),
        ("ya8", "yuv444p", 8),
        ("ya16be", "gray16le", 16),
        ("yuv420p", "yuv420p", 8),
        ("yuv422p10be", "yuv422p10le", 10),
        ("yuv444p12le", "yuv444p12le", 12),
        ("nv12", "yuv420p", 8),
        ("yuyv422", "yuv422p", 8),
        ("uyvy422", "yuv422p", 8),
    ] {
        write_card(folder.path(), layout);
        let (info, levels) = read(folder.path());
        assert_eq!((info.pixel_format.as_str(), info.bits), (layout, bits));
        // Grey with transparency is repacked as grey alone, exactly.
        let planar = if layout == "ya8" { "gray" } else { planar };
        assert_eq!(levels, first_planes(&by_ffmpeg(folder.path(), planar), 3), "{layout}");
    }
}

#[test]
fn colour_is_weighted_from_ffmpegs_own_planes() {
    let folder = tempfile::tempdir().unwrap();
    for (layout, planar, bits) in [
        ("rgb24", "gbrp", 8),
        ("bgr24", "gbrp", 8),
        ("rgba", "gbrp", 8),
        ("bgra", "gbrp", 8),
        ("argb", "gbrp", 8),
        ("abgr", "gbrp", 8),
        ("bgr0", "gbrp", 8),
        ("gbrp", "gbrp", 8),
        ("gbrp10le", "gbrp10le", 10),
        ("gbrp12be", "gbrp12le", 12),
        ("gbrap", "gbrp", 8),
        ("rgb48le", "gbrp16le", 16),
        ("bgr48be", "gbrp16le", 16),
        ("rgba64le", "gbrp16le", 16),
    ] {
        write_card(folder.path(), layout);
        let (info, levels) = read(folder.path());
        assert_eq!((info.bits, info.luma, info.full_range), (bits, LumaPath::WeightedColour, Some(true)));
        let planes = by_ffmpeg(folder.path(), planar);
        let n = SIZE.0 * SIZE.1;
        let luma = |frame: &[u16], at: usize| {
            let [green, blue, red] = [0, 1, 2].map(|plane| f64::from(frame[plane * n + at]));
            0.299 * red + 0.587 * green + 0.114 * blue
        };
        let expected =
            planes.chunks(3 * n).flat_map(|frame| (0..n).map(move |at| luma(frame, at))).collect::<Vec<_>>();
        for (at, (&level, expected)) in levels.iter().zip(expected).enumerate() {
            assert!((f64::from(level) - expected).abs() < 0.501, "{layout} at {at}: {level}, not {expected}");
        }
    }
}

#[test]
fn bitmaps_rise_with_light_and_range_is_told_not_applied() {
    let folder = tempfile::tempdir().unwrap();
    for (layout, path) in [("monow", LumaPath::GreyInverted), ("monob", LumaPath::GreyAsStored)] {
        write_card(folder.path(), layout);
        let (info, levels) = read(folder.path());
        assert_eq!((info.bits, info.luma), (1, path));
        let grey: Vec<u16> = by_ffmpeg(folder.path(), "gray").into_iter().map(|level| level / 255).collect();
        assert_eq!(levels, grey, "{layout}");
    }
    let card = "testsrc2=s=64x48:d=0.12";
    for (range, expected) in [("tv", false), ("pc", true)] {
        let filter = format!("format=yuv420p,setrange={range}");
        let coding = ["-vf", &filter, "-c:v", "libx264", "-qp", "0", "film.mkv"];
        ffmpeg(folder.path(), &[&["-f", "lavfi", "-i", card], &coding[..]].concat());
        let reader = open(folder.path(), "film.mkv", &ReadOptions::default()).unwrap();
        assert_eq!(reader.info().full_range, Some(expected));
    }
}
