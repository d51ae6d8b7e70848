//! The frame index as a file, and footage that is not the one it was made from.

use crate::films::{CASES, FilmCase, make_only};
use crate::pictures::{ffmpeg, write};
use crate::random::indexed;
use filmgauge_footage::{
    Encoding, FootageError, FrameIndex, RandomOptions, RandomReader, ReadOptions, StampSteps, index_footage,
    nearly_repeated, survey,
};
use filmgauge_quantities::FrameNumber;
use std::path::Path;
use std::sync::Arc;

fn case(footage: &str) -> &'static FilmCase {
    CASES.iter().find(|case| case.footage == footage).unwrap()
}

fn reopened(
    base: &Path,
    footage: &str,
    index: &FrameIndex,
    whole_check: bool,
) -> Result<RandomReader, FootageError> {
    let options = RandomOptions { whole_check, ..RandomOptions::default() };
    RandomReader::open(base, footage, Arc::new(index.clone()), &options)
}

#[test]
fn an_index_is_read_as_it_was_written() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    make_only(base, &["both.mp4", "open.mkv", "bare.h264", "edit.mp4", "cut.mkv", "both.mkv", "grey12.mkv"])
        .unwrap();
    for footage in ["both.mp4", "bare.h264", "edit.mp4", "cut.mkv", "grey12.mkv"] {
        let index = indexed(base, case(footage));
        index.write(&base.join("frames.index")).unwrap();
        assert_eq!(FrameIndex::read(&base.join("frames.index")).unwrap(), index, "{footage}");
    }
    assert!(indexed(base, case("edit.mp4")).head.hidden > 0);
    assert!(!base.join(".frames.index.partial").exists());
    let text = std::fs::read_to_string(base.join("frames.index")).unwrap();
    for (wrong, line) in [
        (text.replace("index 1", "index 9"), 1),
        (text.replace("\"bits\":12", "\"bits\":x"), 2),
        (text.replace("mean_level", "mean"), 3),
        (text.replacen("\n5,", "\n6,", 1), 9),
        (text[..text.len() / 2].rsplit_once('\n').unwrap().0.to_owned(), 0),
        (String::new(), 1),
    ] {
        std::fs::write(base.join("wrong.index"), &wrong).unwrap();
        let error = FrameIndex::read(&base.join("wrong.index")).unwrap_err();
        assert!(
            matches!(&error, FootageError::BadIndex { line: at, .. } if line == 0 || *at == line),
            "{error}"
        );
    }
}

#[test]
fn an_index_of_other_footage_is_refused_and_a_wrong_frame_never_given() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    write(&base.join("a.mkv"), 40, 8, Encoding::Ffv1);
    let (_, index) = index_footage(base, "a.mkv", &ReadOptions::default(), &mut |_| true).unwrap();
    assert!(reopened(base, "a.mkv", &index, true).is_ok());
    write(&base.join("b.mkv"), 41, 8, Encoding::Ffv1);
    let error = reopened(base, "b.mkv", &index, false).unwrap_err();
    assert!(error.to_string().contains("b.mkv") && error.to_string().contains("survey"), "{error}");
    // As long as before, but with other samples: the hash of the content tells.
    let mut bytes = std::fs::read(base.join("a.mkv")).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle..middle + 8].fill(0x5A);
    std::fs::write(base.join("a.mkv"), &bytes).unwrap();
    assert!(matches!(reopened(base, "a.mkv", &index, true).unwrap_err(), FootageError::OtherFootage { .. }));
    // Without that check each frame is still proved: the changed one is an error.
    let mut reader = reopened(base, "a.mkv", &index, false).unwrap();
    let outcomes: Vec<bool> = (0..40).map(|n| reader.frame(FrameNumber(n)).is_ok()).collect();
    assert!(outcomes.iter().filter(|is_given| !**is_given).count() == 1, "{outcomes:?}");
}

#[test]
fn damaged_films_are_read_again_as_they_were_or_not_at_all() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    write(&base.join("hurt.mkv"), 60, 8, Encoding::H264 { crf: 10, keyint: 20 });
    let mut bytes = std::fs::read(base.join("hurt.mkv")).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle..middle + 24].fill(0xA5);
    std::fs::write(base.join("hurt.mkv"), &bytes).unwrap();
    let read = ReadOptions { threads: 1, ..ReadOptions::default() };
    let (_, index) = index_footage(base, "hurt.mkv", &read, &mut |_| true).unwrap();
    assert!(!index.head.sound);
    let mut reader = reopened(base, "hurt.mkv", &index, true).unwrap();
    for n in (0..u32::try_from(index.len()).unwrap()).rev() {
        // Whatever is given was compared with the index; the reading that made it can always be repeated.
        assert_eq!(reader.frame(FrameNumber(n)).unwrap().damaged, index.frames[n as usize].damaged);
    }
}

#[test]
fn steps_of_time_tell_dropped_frames_and_small_changes_repeated_ones() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    make_only(base, &["both.mp4", "varying.mkv"]).unwrap();
    let survey_of = |footage: &str| survey(base, footage, &ReadOptions::default(), &mut |_| true).unwrap();
    let steady = StampSteps::of(&survey_of("both.mp4").frames);
    assert_eq!((steady.histogram.len(), steady.n_dropped()), (1, 0), "{steady:?}");
    assert!(StampSteps::of(&survey_of("varying.mkv").frames).histogram.len() > 5);
    let drop = "select='not(between(n,17,18))'";
    let noisy = "testsrc2=s=64x48:d=2,noise=alls=20:allf=t";
    ffmpeg(
        base,
        &["-f", "lavfi", "-i", noisy, "-vf", drop, "-fps_mode", "passthrough", "-c:v", "ffv1", "d.mkv"],
    );
    let dropped = StampSteps::of(&survey_of("d.mkv").frames);
    assert_eq!(dropped.dropped, [(FrameNumber(17), 2)]);
    // Frame 20 is frame 19 once more, and coding with loss makes the two differ a little.
    let again = "loop=loop=1:size=1:start=19,setpts=N/25/TB";
    let coding = ["-c:v", "libx264", "-crf", "20", "-bf", "0", "-pix_fmt", "yuv420p"];
    ffmpeg(base, &[&["-f", "lavfi", "-i", noisy, "-vf", again][..], &coding, &["r.mkv"]].concat());
    let repeated = survey_of("r.mkv");
    let exact = repeated.frames.windows(2).any(|pair| pair[0].hash == pair[1].hash);
    let nearly = nearly_repeated(&repeated.frames);
    assert!(exact || nearly == [FrameNumber(20)], "{nearly:?}");
}
