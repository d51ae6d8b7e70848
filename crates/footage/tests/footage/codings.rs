//! Films made by another encoder: luma taken as stored, every frame in its place, whatever coding and container.

use crate::pictures::{ffmpeg, number_in, read_all, write};
use filmgauge_footage::{Encoding, FootageError, LumaPath, ReadOptions, open};

#[test]
fn colour_films_give_their_luma_plane_and_palettes_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    write(&base.join("n"), 20, 8, Encoding::PngSequence);
    for (name, layout, bits) in [
        ("a.mkv", "yuv420p", 8),
        ("b.mkv", "yuv422p", 8),
        ("c.mkv", "yuv444p10le", 10),
        ("d.mkv", "yuv420p12le", 12),
        ("e.mkv", "gray12le", 12),
        ("f.mkv", "gray16le", 16),
    ] {
        ffmpeg(base, &["-i", "n/%06d.png", "-pix_fmt", layout, "-c:v", "ffv1", name]);
        let info = open(base, name, &ReadOptions::default()).unwrap().info().clone();
        assert_eq!((info.bits, info.pixel_format.as_str()), (bits, layout));
        let expected = if layout.starts_with("gray") { LumaPath::GreyAsStored } else { LumaPath::LumaPlane };
        assert_eq!(info.luma, expected);
        let frames = read_all(base, name, 2);
        assert_eq!(frames.len(), 20);
        assert!(frames.iter().enumerate().all(|(n, frame)| number_in(&frame.picture.view()) == n), "{name}");
    }
    for layout in ["pal8", "rgb565le"] {
        ffmpeg(base, &["-i", "n/%06d.png", "-pix_fmt", layout, "-c:v", "rawvideo", "odd.nut"]);
        let error = open(base, "odd.nut", &ReadOptions::default()).unwrap_err();
        assert!(matches!(&error, FootageError::Unsupported { what, .. } if what.contains(layout)), "{error}");
    }
}

#[test]
fn other_containers_and_codings_are_drained_to_the_last_frame() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    write(&base.join("n"), 50, 8, Encoding::PngSequence);
    let cases: [(&str, &[&str]); 7] = [
        ("b.mp4", &["-c:v", "libx264", "-bf", "3", "-pix_fmt", "yuv420p"]),
        (
            "open.mkv",
            &["-c:v", "libx264", "-bf", "3", "-g", "12", "-x264-params", "open-gop=1", "-pix_fmt", "yuv420p"],
        ),
        ("hevc.mkv", &["-c:v", "libx265", "-x265-params", "log-level=none", "-pix_fmt", "yuv420p"]),
        ("m.avi", &["-c:v", "mjpeg", "-q:v", "2"]),
        ("x.avi", &["-c:v", "mpeg4", "-bf", "2", "-q:v", "2"]),
        ("bare.h264", &["-c:v", "libx264", "-bf", "3", "-pix_fmt", "yuv420p"]),
        ("t.ts", &["-c:v", "libx264", "-bf", "3", "-pix_fmt", "yuv420p"]),
    ];
    for (name, coding) in cases {
        let pad = ["-i", "n/%06d.png", "-vf", "pad=260:38"];
        ffmpeg(base, &[&pad[..], coding, &[name]].concat());
        for threads in [1, 3] {
            let numbers: Vec<usize> =
                read_all(base, name, threads).iter().map(|frame| number_in(&frame.picture.view())).collect();
            assert_eq!(numbers, (0..50).collect::<Vec<_>>(), "{name}, {threads} threads");
        }
    }
}
