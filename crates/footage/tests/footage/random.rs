//! Any frame of any film, fetched out of order: the same picture as in the reading from start to end, number and all.

use crate::films::{CASES, FRAMES, FilmCase, make_all, number_drawn};
use filmgauge_footage::{
    Frame, FrameIndex, FrameRecord, RandomOptions, RandomReader, ReadAhead, ReadOptions, index_footage,
};
use filmgauge_quantities::FrameNumber;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

const READS: usize = 500;

fn indexed(base: &Path, case: &FilmCase) -> FrameIndex {
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
        let began = std::time::Instant::now();
        for threads in [1, 3] {
            let read = ReadOptions { threads, ..ReadOptions::default() };
            let options = RandomOptions { read, cache_bytes: 1 << 20, ..RandomOptions::default() };
            let mut reader = RandomReader::open(base, &case.pattern(), Arc::clone(&index), &options).unwrap();
            for number in scattered(index.len()).take(READS) {
                let frame = reader.frame(FrameNumber(u32::try_from(number).unwrap())).unwrap();
                let record = FrameRecord::of(&frame);
                assert_eq!(record.hash, index.frames[number].hash, "{}, frame {number}", case.what);
                assert_eq!(record.stamp, index.frames[number].stamp, "{}, frame {number}", case.what);
                assert_eq!(number_of(&frame), numbers[number], "{}, frame {number}", case.what);
                assert!(reader.kept_bytes() <= 1 << 20);
            }
        }
        println!("{:>8.2} s  {}", began.elapsed().as_secs_f64(), case.footage);
    }
}
