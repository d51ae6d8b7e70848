//! Working copies: equal to the original inside the regions, refused when they were changed.

use crate::pictures::{HEIGHT, WIDTH, write};
use filmgauge_footage::{
    Encoding, FootageError, FrameIndex, ReadOptions, Region, WorkingCopy, index_footage, open, working_copy,
};
use filmgauge_quantities::FrameNumber;
use std::path::Path;
use std::sync::Arc;

fn copied(base: &Path, footage: &str, regions: &[Region]) -> Result<Arc<FrameIndex>, FootageError> {
    let options = ReadOptions::default();
    let index = Arc::new(index_footage(base, footage, &options, &mut |_| true)?.1);
    working_copy(base, footage, &index, regions, &base.join("copy.filmwork"), &options, &mut |_| true)?;
    Ok(index)
}

#[test]
fn regions_of_a_working_copy_equal_the_original() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    write(&base.join("a.mkv"), 30, 8, Encoding::H264 { crf: 10, keyint: 12 });
    write(&base.join("b.mkv"), 30, 12, Encoding::Ffv1);
    let parts = [
        Region { x: 3, y: 5, width: 40, height: 20 },
        Region { x: WIDTH - 9, y: 0, width: 9, height: HEIGHT },
    ];
    let is_in = |x: usize, y: usize, regions: &[Region]| {
        regions.is_empty()
            || regions.iter().any(|r| (r.x..r.x + r.width).contains(&x) && (r.y..r.y + r.height).contains(&y))
    };
    for (footage, regions) in [("a.mkv", &parts[..]), ("b.mkv", &parts[..]), ("b.mkv", &[])] {
        let index = copied(base, footage, regions).unwrap();
        let mut copy = WorkingCopy::open(&base.join("copy.filmwork"), &ReadOptions::default()).unwrap();
        assert_eq!((copy.original(), copy.index()), (&index.head.identity, &*index));
        let mut reader = open(base, footage, &ReadOptions::default()).unwrap();
        while let Some(frame) = reader.next_frame().unwrap() {
            let copied = copy.frame(frame.number).unwrap();
            assert_eq!((copied.stamp, copied.key, copied.place), (frame.stamp, frame.key, frame.place));
            for (x, y) in (0..HEIGHT).flat_map(|y| (0..WIDTH).map(move |x| (x, y))) {
                let expected = if is_in(x, y, regions) { frame.picture.view().get(x, y) } else { Some(0.0) };
                assert_eq!(copied.picture.view().get(x, y), expected, "{footage}, {x}, {y}");
            }
        }
        assert!(matches!(copy.frame(FrameNumber(30)).unwrap_err(), FootageError::NoSuchFrame { .. }));
    }
}

#[test]
fn changed_and_torn_working_copies_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    write(&base.join("a.mkv"), 12, 8, Encoding::Ffv1);
    for region in [Region { x: WIDTH, y: 0, width: 1, height: 1 }, Region { x: 0, y: 0, width: 0, height: 4 }]
    {
        assert!(matches!(copied(base, "a.mkv", &[region]).unwrap_err(), FootageError::Settings { .. }));
    }
    assert!(!base.join("copy.filmwork").exists());
    copied(base, "a.mkv", &[]).unwrap();
    let path = base.join("copy.filmwork");
    let whole = std::fs::read(&path).unwrap();
    for upto in (0..whole.len()).step_by(whole.len() / 30 + 1) {
        std::fs::write(&path, &whole[..upto]).unwrap();
        assert!(WorkingCopy::open(&path, &ReadOptions::default()).is_err(), "{upto}");
    }
    let mut changed = whole.clone();
    changed[whole.len() / 2] ^= 1;
    std::fs::write(&path, &changed).unwrap();
    if let Ok(mut copy) = WorkingCopy::open(&path, &ReadOptions::default()) {
        assert_eq!((0..12).filter(|&n| copy.frame(FrameNumber(n)).is_err()).count(), 1);
    }
}
