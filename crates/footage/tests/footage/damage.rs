//! Footage that is cut short, damaged, irregular: read as far as it goes, its faults located.

use crate::pictures::{ffmpeg, numbered, read_all, write};
use filmgauge_footage::{Encoding, FaultKind, FootageError, ReadOptions, Survey, open, survey, write_png};
use std::path::Path;

fn survey_of(base: &Path, footage: &str, threads: usize) -> Survey {
    let options = ReadOptions { threads, ..ReadOptions::default() };
    survey(base, footage, &options, &mut |_| true).unwrap()
}

fn faults_of(survey: &Survey, kind: FaultKind) -> Vec<Option<u32>> {
    survey.faults.iter().filter(|fault| fault.kind == kind).map(|fault| fault.frame.map(|n| n.0)).collect()
}

#[test]
fn a_film_cut_short_is_read_to_where_it_ends() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    write(&base.join("whole.mkv"), 60, 8, Encoding::Ffv1);
    let whole = std::fs::read(base.join("whole.mkv")).unwrap();
    std::fs::write(base.join("cut.mkv"), &whole[..whole.len() / 2]).unwrap();
    let cut = survey_of(base, "cut.mkv", 2);
    assert!((20..40).contains(&cut.frames.len()), "{}", cut.frames.len());
    assert_eq!(faults_of(&cut, FaultKind::EndsEarly).len(), 1, "{:?}", cut.faults);
    for (number, frame) in read_all(base, "cut.mkv", 2).iter().enumerate().take(cut.frames.len() - 1) {
        assert_eq!(frame.picture, numbered(number, 8));
    }
    assert!(survey_of(base, "whole.mkv", 2).faults.is_empty());
    // An MP4 keeps its index at the end: without it nothing can be read.
    write(&base.join("whole.mp4"), 60, 8, Encoding::LosslessH264);
    let whole = std::fs::read(base.join("whole.mp4")).unwrap();
    std::fs::write(base.join("cut.mp4"), &whole[..whole.len() / 2]).unwrap();
    assert!(matches!(
        open(base, "cut.mp4", &ReadOptions::default()).unwrap_err(),
        FootageError::NotFootage { .. }
    ));
}

#[test]
fn files_cut_at_any_place_never_panic() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    write_png(&base.join("whole.png"), &numbered(1, 12).view()).unwrap();
    write(&base.join("whole.mkv"), 4, 8, Encoding::LosslessH264);
    for name in ["whole.png", "whole.mkv"] {
        let whole = std::fs::read(base.join(name)).unwrap();
        let cut = name.replace("whole", "cut");
        for upto in (1..whole.len()).step_by(whole.len() / 40 + 1) {
            std::fs::write(base.join(&cut), &whole[..upto]).unwrap();
            let _ = survey(base, &cut, &ReadOptions::default(), &mut |_| true);
        }
    }
}

/// Frames shown before a damaged one may be predicted from it; as many as the encoder puts between references.
const REORDER: usize = 3;

/// Survey with `threads` of a copy of a film in which bytes in the middle were overwritten.
fn survey_overwritten(base: &Path, name: &str, threads: usize) -> Survey {
    let mut bytes = std::fs::read(base.join(name)).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle..middle + 24].fill(0xA5);
    std::fs::write(base.join(format!("hurt-{name}")), &bytes).unwrap();
    survey_of(base, &format!("hurt-{name}"), threads)
}

#[test]
fn overwritten_film_data_is_found_and_marked() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    write(&base.join("f.mkv"), 60, 8, Encoding::Ffv1);
    write(&base.join("l.mkv"), 60, 8, Encoding::LosslessH264);
    write(&base.join("h.mkv"), 60, 8, Encoding::H264 { crf: 10, keyint: 20 });
    // H.264 with one decoder thread: with more, marks of reordered pictures may be missing.
    for (name, numbers_of_threads) in [("f.mkv", vec![1, 3]), ("l.mkv", vec![1]), ("h.mkv", vec![1])] {
        let whole = survey_of(base, name, 1);
        for threads in numbers_of_threads {
            let hurt = survey_overwritten(base, name, threads);
            let marked = hurt.frames.iter().filter(|frame| frame.damaged).count();
            let lost = faults_of(&hurt, FaultKind::LostData).len();
            assert!(marked + lost > 0, "{name}, {threads} threads: {:?}", hurt.faults);
            // Damage in the middle of one frame stays among the frames up to the next key frame.
            assert!(marked <= 31, "{name}: {marked} marked");
            let marked_soon =
                |at: usize| hurt.frames[at..].iter().take(1 + REORDER).any(|frame| frame.damaged);
            for (at, before) in whole.frames.iter().enumerate().filter(|(at, _)| !marked_soon(*at)) {
                assert_eq!(hurt.frames[at].hash, before.hash, "{name}, frame {at}: changed but not marked");
            }
        }
    }
}

#[test]
fn repeated_dropped_and_unstamped_frames_are_located() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    write(&base.join("n"), 30, 8, Encoding::PngSequence);
    let number_10_again = numbered(9, 8);
    write_png(&base.join("n/000010.png"), &number_10_again.view()).unwrap();
    let stills = survey_of(base, "n/*.png", 1);
    assert_eq!(faults_of(&stills, FaultKind::RepeatedPicture), [Some(10)]);
    assert_eq!(faults_of(&stills, FaultKind::NoStamps), [None]);
    let drop = ["-i", "n/%06d.png", "-vf", "select='not(between(n,17,18))'", "-fps_mode", "passthrough"];
    ffmpeg(base, &[&drop[..], &["-c:v", "ffv1", "dropped.mkv"]].concat());
    let dropped = survey_of(base, "dropped.mkv", 2);
    assert_eq!(dropped.frames.len(), 28);
    assert_eq!(faults_of(&dropped, FaultKind::UnevenSpacing), [Some(17)], "{:?}", dropped.faults);
    assert_eq!(faults_of(&dropped, FaultKind::RepeatedPicture), [Some(10)]);
}

#[test]
fn fields_pixel_shape_and_turning_are_reported() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    let source = ["-f", "lavfi", "-i", "testsrc2=s=64x48:d=0.4"];
    let x264 = ["-c:v", "libx264", "-pix_fmt", "yuv420p"];
    ffmpeg(base, &[&source[..], &["-vf", "setsar=4/3"], &x264, &["wide.mkv"]].concat());
    ffmpeg(
        base,
        &[&source[..], &["-flags", "+ilme+ildct", "-vf", "setfield=tff"], &x264, &["fields.mkv"]].concat(),
    );
    ffmpeg(base, &[&source[..], &x264, &["upright.mp4"]].concat());
    ffmpeg(base, &["-i", "upright.mp4", "-c", "copy", "-metadata:s:v", "rotate=90", "turned.mp4"]);
    let kinds = |name| {
        let faults = survey_of(base, name, 1).faults;
        faults
            .iter()
            .map(|fault| fault.kind)
            .filter(|kind| *kind != FaultKind::RepeatedPicture)
            .collect::<Vec<_>>()
    };
    assert_eq!(kinds("wide.mkv"), [FaultKind::PixelAspect]);
    assert_eq!(kinds("fields.mkv"), [FaultKind::Interlaced]);
    assert_eq!(kinds("turned.mp4"), [FaultKind::Turned]);
    assert_eq!(kinds("upright.mp4"), []);
}
