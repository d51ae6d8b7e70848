//! Interlaced, turned and unevenly timed films, made by ffmpeg: told, kept as stored, and read in fields when asked.

use crate::pictures::{ffmpeg, number_in, write};
use filmgauge_footage::{
    Encoding, FaultKind, FieldOrder, FootageInfo, Frame, ReadOptions, Survey, open, survey, turned_for_view,
};
use filmgauge_quantities::FrameNumber;
use std::path::Path;

/// Pictures numbered 0 to 19, two woven into each frame of `film.mkv`, the even number first in time.
fn write_woven(base: &Path, first: &str) {
    write(&base.join("n"), 20, 8, Encoding::PngSequence);
    let (mode, parity) =
        if first == "top" { ("interleave_top", "tff") } else { ("interleave_bottom", "bff") };
    // 16 frames of 37 rows: odd, so that the last row belongs to no pair.
    let weave = format!("tinterlace=mode={mode},format=gray,setfield={parity}");
    let coding = ["-r", "25", "-vf", &weave, "-c:v", "ffv1", "-flags", "+ildct+ilme", "film.mkv"];
    ffmpeg(base, &[&["-framerate", "50", "-i", "n/%06d.png"], &coding[..]].concat());
}

fn read(base: &Path, footage: &str, fields: Option<FieldOrder>) -> (FootageInfo, Vec<Frame>) {
    let options = ReadOptions { threads: 1, fields, ..ReadOptions::default() };
    let mut reader = open(base, footage, &options).unwrap();
    let mut frames = Vec::new();
    while let Some(frame) = reader.next_frame().unwrap() {
        frames.push(frame);
    }
    (reader.info().clone(), frames)
}

fn surveyed(base: &Path, footage: &str, fields: Option<FieldOrder>) -> Survey {
    let options = ReadOptions { threads: 1, fields, ..ReadOptions::default() };
    survey(base, footage, &options, &mut |_| true).unwrap()
}

fn has(survey: &Survey, kind: FaultKind) -> bool {
    survey.faults.iter().any(|fault| fault.kind == kind)
}

#[test]
fn each_field_shows_its_own_instant_in_order() {
    for (first, order) in [("top", FieldOrder::TopFirst), ("bottom", FieldOrder::BottomFirst)] {
        let folder = tempfile::tempdir().unwrap();
        let base = folder.path();
        write_woven(base, first);
        let (whole, frames) = read(base, "film.mkv", None);
        assert_eq!((frames.len(), whole.fields_read), (10, None));
        let height = whole.height;
        for asked in [order, FieldOrder::AsStated] {
            let (info, fields) = read(base, "film.mkv", Some(asked));
            assert_eq!(info.stated_fields, Some(order), "{first}");
            assert_eq!((info.fields_read, info.height), (Some(order), height / 2));
            assert_eq!(fields.len(), 20);
            let times: Vec<f64> = fields.iter().map(|field| field.stamp.unwrap().as_s()).collect();
            for (n, field) in fields.iter().enumerate() {
                assert_eq!(field.number, FrameNumber(n as u32));
                let parity = info.fields_read.unwrap().parity(field.number).unwrap();
                let source = &frames[n / 2].picture;
                for (x, y) in [(0, 0), (5, 3), (200, height / 2 - 1)] {
                    // The row that the field's row is said to come from.
                    let row = parity.frame_row(y as f64) as usize;
                    assert_eq!(field.picture.view().get(x, y), source.view().get(x, row));
                }
                assert!(
                    (times[n] - times[0] - 0.02 * n as f64).abs() < 1e-9,
                    "{first}, field {n}: {}",
                    times[n]
                );
            }
            let numbers: Vec<usize> = fields.iter().map(shown).collect();
            assert_eq!(numbers, (0..20).collect::<Vec<_>>(), "{first}");
        }
        assert!(has(&surveyed(base, "film.mkv", None), FaultKind::Interlaced));
        let in_fields = surveyed(base, "film.mkv", Some(FieldOrder::AsStated));
        assert!(!has(&in_fields, FaultKind::Interlaced) && !has(&in_fields, FaultKind::UnevenSpacing));
    }
}

/// The number that a field shows: read after doubling its rows.
fn shown(field: &Frame) -> usize {
    let view = field.picture.view();
    let (width, height) = (view.width(), crate::pictures::HEIGHT);
    let row = |y: usize| (y / 2).min(view.height() - 1);
    let level = |at: usize| view.get(at % width, row(at / width)).unwrap() as u8;
    let doubled = (0..width * height).map(level).collect();
    number_in(&filmgauge_quantities::GreyImage::from_u8(width, height, doubled).unwrap().view())
}

#[test]
fn whole_pictures_stay_whole_when_no_fields_are_stated() {
    let folder = tempfile::tempdir().unwrap();
    write(&folder.path().join("film.mkv"), 4, 8, Encoding::Ffv1);
    let (info, frames) = read(folder.path(), "film.mkv", Some(FieldOrder::AsStated));
    assert_eq!((info.stated_fields, info.fields_read, frames.len()), (None, None, 4));
}

#[test]
fn turning_is_told_and_pictures_stay_as_stored() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    let card = "testsrc2=s=64x48:d=0.2:r=25";
    ffmpeg(base, &["-f", "lavfi", "-i", card, "-c:v", "libx264", "-pix_fmt", "yuv420p", "up.mp4"]);
    let (upright, stored) = read(base, "up.mp4", None);
    assert_eq!(upright.turn_deg.unwrap_or(0.0), 0.0);
    // The tag by which this ffmpeg sets the matrix counts the other way round.
    for (tag, turn) in [("270", 90.0), ("180", 180.0), ("90", 270.0)] {
        ffmpeg(
            base,
            &["-i", "up.mp4", "-c", "copy", "-metadata:s:v", &format!("rotate={tag}"), "turned.mp4"],
        );
        let (info, frames) = read(base, "turned.mp4", None);
        let turn_deg = info.turn_deg.unwrap();
        assert!((turn_deg - turn).abs() < 1e-3, "{turn}: {turn_deg}");
        assert_eq!((info.width, info.height, info.mirrored), (64, 48, false));
        assert!(frames.iter().map(|frame| &frame.picture).eq(stored.iter().map(|frame| &frame.picture)));
        assert!(has(&surveyed(base, "turned.mp4", None), FaultKind::Turned));
        // What ffmpeg itself shows: it turns pictures on their way out.
        ffmpeg(
            base,
            &["-i", "turned.mp4", "-frames:v", "1", "-f", "rawvideo", "-pix_fmt", "yuv420p", "shown.raw"],
        );
        let shown = std::fs::read(base.join("shown.raw")).unwrap();
        let viewed = turned_for_view(&frames[0].picture.view(), turn_deg, false).unwrap();
        let filmgauge_quantities::GreyPixels::Eight(samples) = viewed.view().pixels() else {
            panic!("8 bits")
        };
        assert_eq!(samples, &shown[..64 * 48], "{turn}");
    }
}

#[test]
fn stamps_stay_as_they_are_from_a_late_start_at_a_varying_rate() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    write(&base.join("n"), 8, 8, Encoding::PngSequence);
    // Stamps 3, 4, 6, 9, 13 … hundredths of a second after 2 s.
    let uneven = "settb=1/1000,setpts='2000+10*(3+N*(N+1)/2)'";
    let coding = [
        "-vsync",
        "passthrough",
        "-copyts",
        "-enc_time_base",
        "1/1000",
        "-c:v",
        "ffv1",
        "-pix_fmt",
        "gray",
        "film.mkv",
    ];
    ffmpeg(base, &[&["-i", "n/%06d.png", "-vf", uneven], &coding[..]].concat());
    let (_, frames) = read(base, "film.mkv", None);
    let times: Vec<f64> = frames.iter().map(|frame| frame.stamp.unwrap().as_s()).collect();
    for (n, time) in times.iter().enumerate() {
        let expected = 2.0 + 0.01 * (3 + n * (n + 1) / 2) as f64;
        assert!((time - expected).abs() < 1e-9, "frame {n} at {time}, not {expected}");
    }
    assert!(has(&surveyed(base, "film.mkv", None), FaultKind::UnevenSpacing));
}
