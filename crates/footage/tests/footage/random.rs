//! Any frame of any film, fetched out of order: the same picture as in the reading from start to end, number and all.

use crate::films::{CASES, FRAMES, FilmCase, make_all, make_only, number_drawn};
use filmgauge_footage::{
    Frame, FrameIndex, FrameRecord, RandomOptions, RandomReader, ReadAhead, ReadOptions, frames,
    index_footage,
};
use filmgauge_quantities::FrameNumber;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

const READS: usize = 500;

pub fn indexed(base: &Path, case: &FilmCase) -> FrameIndex {
    let options = ReadOptions { threads: 1, ..ReadOptions::default() };
    index_footage(base, &case.pattern(), &options, &mut |_| true).unwrap().1
}

fn number_of(frame: &Frame) -> usize {
    let view = frame.picture.view();
    number_drawn(|x, y| view.get(x, y).unwrap(), view.full_scale() * 0.5)
}

/// Numbers drawn, in order, as a reading from start to end finds them.
fn numbers_in_order(base: &Path, case: &FilmCase) -> Vec<usize> {
    let mut reader = filmgauge_footage::open(base, &case.pattern(), &ReadOptions::default()).unwrap();
    std::iter::from_fn(|| reader.next_frame().unwrap()).map(|frame| number_of(&frame)).collect()
}

/// Frame numbers all over the footage, the same in every run.
fn scattered(n_frames: usize) -> impl Iterator<Item = usize> {
    let mut state = 12_345_u64;
    std::iter::repeat_with(move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(state >> 33).unwrap() % n_frames
    })
}

#[test]
fn any_frame_of_any_film_is_the_one_of_the_reading_in_order() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    make_all(base).unwrap();
    for case in &CASES {
        let index = Arc::new(indexed(base, case));
        let numbers = numbers_in_order(base, case);
        assert_eq!(numbers.len(), index.len(), "{}", case.what);
        assert!(index.len() > FRAMES / 2, "{}: {} frames", case.what, index.len());
        for (threads, n_reads) in [(1, READS), (3, READS / 10)] {
            let read = ReadOptions { threads, ..ReadOptions::default() };
            let options = RandomOptions { read, cache_bytes: 1 << 20, ..RandomOptions::default() };
            let mut reader = RandomReader::open(base, &case.pattern(), Arc::clone(&index), &options).unwrap();
            for number in scattered(index.len()).take(n_reads) {
                let frame = reader.frame(FrameNumber(u32::try_from(number).unwrap())).unwrap();
                let record = FrameRecord::of(&frame);
                assert_eq!(record.hash, index.frames[number].hash, "{}, frame {number}", case.what);
                assert_eq!(record.stamp, index.frames[number].stamp, "{}, frame {number}", case.what);
                assert_eq!(number_of(&frame), numbers[number], "{}, frame {number}", case.what);
                assert!(reader.kept_bytes() <= 1 << 20);
            }
        }
        let options = ReadOptions { threads: 3, ..ReadOptions::default() };
        let mut several = frames(base, &case.pattern(), Some(&index), &options).unwrap();
        for record in &index.frames {
            let frame = several.next_frame().unwrap().unwrap();
            let read = FrameRecord { change: record.change, ..FrameRecord::of(&frame) };
            assert_eq!(&read, record, "{}, several threads", case.what);
        }
        assert!(several.next_frame().unwrap().is_none());
    }
}

fn opened(base: &Path, footage: &str, cache_bytes: usize) -> RandomReader {
    let case = CASES.iter().find(|case| case.footage == footage).unwrap();
    let options = RandomOptions { cache_bytes, ..RandomOptions::default() };
    RandomReader::open(base, footage, Arc::new(indexed(base, case)), &options).unwrap()
}

#[test]
fn stepping_back_through_a_long_group_decodes_it_about_once() {
    let folder = tempfile::tempdir().unwrap();
    make_only(folder.path(), &["both.mp4"]).unwrap();
    let mut reader = opened(folder.path(), "both.mp4", 64 << 20);
    for number in (0..300).rev() {
        let frame = reader.frame(FrameNumber(number)).unwrap();
        assert_eq!(number_of(&frame), usize::try_from(number).unwrap());
    }
    assert!(reader.frame(FrameNumber(300)).unwrap_err().to_string().contains("has 300"));
}

#[test]
fn the_latest_request_wins_and_neighbours_are_fetched_ahead() {
    let folder = tempfile::tempdir().unwrap();
    make_only(folder.path(), &["both.mp4"]).unwrap();
    let ahead = ReadAhead::new(opened(folder.path(), "both.mp4", 64 << 20));
    assert!(ahead.latest().is_none());
    for number in [10, 280, 40, 199, 7, 120] {
        ahead.request(FrameNumber(number));
    }
    assert!(ahead.wait(Duration::from_secs(20)));
    assert_eq!(ahead.latest().unwrap().number, FrameNumber(120));
    for number in (90..120).rev() {
        ahead.request(FrameNumber(number));
        assert!(ahead.wait(Duration::from_secs(20)));
        assert_eq!(number_of(&ahead.latest().unwrap()), usize::try_from(number).unwrap());
    }
    ahead.cancel();
    ahead.request(FrameNumber(5000));
    assert!(ahead.wait(Duration::from_secs(20)));
    assert_eq!(ahead.latest().unwrap().number, FrameNumber(299));
    assert!(ahead.take_error().is_none());
}
