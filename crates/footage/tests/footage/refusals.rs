//! What cannot be read is refused with the reason, never with a panic.

use crate::pictures::{ffmpeg, numbered, read_all, write};
use filmgauge_footage::{Encoding, FootageError, ReadOptions, open, survey, write_png};
use filmgauge_quantities::{FrameNumber, GreyImage};
use std::path::Path;

fn error_of(base: &Path, footage: &str) -> FootageError {
    open(base, footage, &ReadOptions::default()).unwrap_err()
}

#[test]
fn what_is_no_footage_is_refused_with_the_reason() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    let text = "Set-up notes for the side camera.\nLens 35 mm.\n".repeat(200);
    for name in ["notes.txt", "notes.mkv", "notes.png", "notes"] {
        std::fs::write(base.join(name), &text).unwrap();
        assert!(matches!(error_of(base, name), FootageError::NotFootage { .. }), "{name}");
    }
    std::fs::write(base.join("list.mkv"), "ffconcat version 1.0\nfile side.mkv\n").unwrap();
    std::fs::write(base.join("list.m3u8"), "#EXTM3U\n#EXTINF:1,\nside.ts\n#EXT-X-ENDLIST\n").unwrap();
    write(&base.join("side.mkv"), 2, 8, Encoding::Ffv1);
    assert!(matches!(error_of(base, "list.mkv"), FootageError::NotFootage { .. }));
    assert!(matches!(error_of(base, "list.m3u8"), FootageError::NotFootage { .. }));
    std::fs::write(base.join("empty.mp4"), b"").unwrap();
    assert!(matches!(error_of(base, "empty.mp4"), FootageError::Empty { .. }));
    std::fs::write(base.join("empty.png"), b"").unwrap();
    assert!(matches!(error_of(base, "empty.png"), FootageError::Empty { .. }));
    assert!(matches!(error_of(base, "gone.mkv"), FootageError::Missing { .. }));
    let message = error_of(base, "notes.mkv").to_string();
    assert!(message.contains("notes.mkv") && message.contains("check"), "{message}");
}

#[test]
fn sound_alone_is_named_as_such() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["sound.mka", "sound.m4a", "sound.wav"] {
        ffmpeg(folder.path(), &["-f", "lavfi", "-i", "sine=d=0.5", name]);
        let error = error_of(folder.path(), name);
        assert!(matches!(&error, FootageError::NoPictures { text, .. } if text.contains("sound")), "{error}");
    }
}

#[test]
fn a_giant_picture_is_refused_before_memory_is_taken() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    // A valid PNG header that claims 60000 x 60000 px, with no picture behind it.
    let mut png = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec();
    png.extend([0, 0, 0xEA, 0x60, 0, 0, 0xEA, 0x60, 8, 0, 0, 0, 0]);
    png.extend(0xD68E_2FE2_u32.to_be_bytes());
    std::fs::write(base.join("giant.png"), &png).unwrap();
    let refused = |error: &FootageError| {
        matches!(error, FootageError::TooLarge { .. } | FootageError::NotFootage { .. })
    };
    assert!(refused(&error_of(base, "giant.png")));
    write(&base.join("side.mkv"), 3, 8, Encoding::Ffv1);
    write_png(&base.join("side.png"), &numbered(0, 8).view()).unwrap();
    let small = ReadOptions { most_pixels: 1000, ..ReadOptions::default() };
    for footage in ["side.mkv", "side.png"] {
        let error = open(base, footage, &small).unwrap_err();
        assert!(matches!(error, FootageError::TooLarge { most_pixels: 1000, .. }), "{error}");
    }
}

#[test]
fn frames_that_change_size_are_named() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    for (name, width) in [("f1.png", 8), ("f2.png", 8), ("f3.png", 9)] {
        let picture = GreyImage::from_u8(width, 4, (0..width * 4).map(|n| n as u8).collect()).unwrap();
        write_png(&base.join(name), &picture.view()).unwrap();
    }
    let error = survey(base, "f*.png", &ReadOptions::default(), &mut |_| true).unwrap_err();
    assert!(matches!(error, FootageError::SizeChanged { frame: FrameNumber(2), .. }), "{error}");
    std::fs::write(base.join("f3.png"), b"\x89PNG\r\n\x1a\nbroken").unwrap();
    let error = survey(base, "f*.png", &ReadOptions::default(), &mut |_| true).unwrap_err();
    assert!(matches!(error, FootageError::Damaged { frame: FrameNumber(2), .. }), "{error}");
    // Two bare streams of different sizes, one behind the other.
    ffmpeg(
        base,
        &["-f", "lavfi", "-i", "testsrc=s=64x48:d=0.4", "-c:v", "libx264", "-pix_fmt", "yuv420p", "a.h264"],
    );
    ffmpeg(
        base,
        &["-f", "lavfi", "-i", "testsrc=s=96x48:d=0.4", "-c:v", "libx264", "-pix_fmt", "yuv420p", "b.h264"],
    );
    let mut joined = std::fs::read(base.join("a.h264")).unwrap();
    joined.extend(std::fs::read(base.join("b.h264")).unwrap());
    std::fs::write(base.join("ab.h264"), joined).unwrap();
    let error = survey(base, "ab.h264", &ReadOptions::default(), &mut |_| true).unwrap_err();
    assert!(matches!(error, FootageError::SizeChanged { frame: FrameNumber(10), .. }), "{error}");
}

#[test]
fn a_survey_stops_when_asked() {
    let folder = tempfile::tempdir().unwrap();
    write(&folder.path().join("side.mkv"), 10, 8, Encoding::Ffv1);
    let options = ReadOptions::default();
    let error = survey(folder.path(), "side.mkv", &options, &mut |number| number.0 < 4).unwrap_err();
    assert!(matches!(error, FootageError::Stopped { frame: FrameNumber(4) }), "{error}");
}

#[test]
fn originals_are_read_without_the_right_to_write() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("side.mkv");
    write(&path, 3, 8, Encoding::Ffv1);
    let mut rights = std::fs::metadata(&path).unwrap().permissions();
    rights.set_readonly(true);
    std::fs::set_permissions(&path, rights).unwrap();
    let before = std::fs::read(&path).unwrap();
    assert_eq!(read_all(folder.path(), "side.mkv", 1).len(), 3);
    assert_eq!(std::fs::read(&path).unwrap(), before);
}
