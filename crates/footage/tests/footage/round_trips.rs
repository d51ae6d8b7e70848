//! What is written is read back: every coding, every kind of still, every depth, to the last frame.

use crate::pictures::{HEIGHT, WIDTH, number_in, numbered, read_all, write};
use filmgauge_footage::{Encoding, FootageError, LumaPath, ReadOptions, Writer, open, read_still, write_png};
use image::{DynamicImage, ImageBuffer, ImageFormat, Luma, Rgb};
use std::path::Path;

fn assert_lossless(file: &str, footage: &str, bits: u8, encoding: Encoding) {
    let folder = tempfile::tempdir().unwrap();
    write(&folder.path().join(file), 12, bits, encoding);
    let frames = read_all(folder.path(), footage, 2);
    assert_eq!(frames.len(), 12, "{file} {bits} bits");
    for (number, frame) in frames.iter().enumerate() {
        assert_eq!(frame.picture, numbered(number, bits), "{file} {bits} bits, frame {number}");
        assert!(!frame.damaged);
    }
}

#[test]
fn ffv1_gives_back_every_level() {
    for bits in [8, 9, 10, 12, 16] {
        assert_lossless("side.mkv", "side.mkv", bits, Encoding::Ffv1);
    }
    assert_lossless("side.avi", "side.avi", 8, Encoding::Ffv1);
}

#[test]
fn lossless_h264_gives_back_every_level() {
    for bits in [8, 10] {
        for file in ["side.mkv", "side.mp4", "side.mov"] {
            assert_lossless(file, file, bits, Encoding::LosslessH264);
        }
    }
}

#[test]
fn png_sequences_give_back_every_level() {
    for bits in [8, 10, 12, 14, 16] {
        assert_lossless("side", "side/*.png", bits, Encoding::PngSequence);
    }
}

#[test]
fn h264_with_references_both_ways_is_read_to_its_last_frame() {
    let folder = tempfile::tempdir().unwrap();
    let encoding = Encoding::H264 { crf: 18, keyint: 30 };
    write(&folder.path().join("side.mkv"), 101, 8, encoding);
    for threads in [1, 2, 7] {
        let frames = read_all(folder.path(), "side.mkv", threads);
        assert_eq!(frames.len(), 101);
        for (number, frame) in frames.iter().enumerate() {
            assert_eq!(number_in(&frame.picture.view()), number, "{threads} threads");
        }
        assert!(frames[0].key && frames.iter().filter(|frame| frame.key).count() < 101);
    }
}

#[test]
fn pictures_do_not_depend_on_the_number_of_threads() {
    let folder = tempfile::tempdir().unwrap();
    write(&folder.path().join("side.mp4"), 40, 8, Encoding::H264 { crf: 28, keyint: 250 });
    let one = read_all(folder.path(), "side.mp4", 1);
    assert_eq!(one, read_all(folder.path(), "side.mp4", 2));
    assert_eq!(one, read_all(folder.path(), "side.mp4", 7));
}

#[test]
fn the_same_pictures_give_the_same_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let h264 = Encoding::H264 { crf: 20, keyint: 12 };
    for (first, second, encoding) in [
        ("a.mkv", "b.mkv", Encoding::Ffv1),
        ("a.mp4", "b.mp4", h264),
        ("a.mkv", "b.mkv", h264),
        ("a.mov", "b.mov", Encoding::LosslessH264),
    ] {
        write(&folder.path().join(first), 30, 8, encoding);
        write(&folder.path().join(second), 30, 8, encoding);
        let bytes = |name: &str| std::fs::read(folder.path().join(name)).unwrap();
        assert!(bytes(first) == bytes(second), "{first} and {second} differ: {encoding:?}");
    }
}

#[test]
fn stamps_follow_the_playback_rate_and_are_no_film_speed() {
    let folder = tempfile::tempdir().unwrap();
    write(&folder.path().join("side.mp4"), 10, 8, Encoding::LosslessH264);
    let reader = open(folder.path(), "side.mp4", &ReadOptions::default()).unwrap();
    assert_eq!(reader.info().container_rate, Some(25.0));
    assert_eq!(reader.info().declared_frames, Some(10));
    assert_eq!(reader.info().full_range, Some(true));
    assert_eq!(reader.info().luma, LumaPath::LumaPlane);
    let frames = read_all(folder.path(), "side.mp4", 1);
    let last_s = frames[9].stamp.unwrap().as_s() - frames[0].stamp.unwrap().as_s();
    assert!((last_s - 9.0 / 25.0).abs() < 1e-9, "{last_s}");
}

fn grey_8(number: usize) -> DynamicImage {
    let picture = numbered(number, 8);
    let at = |x: u32, y: u32| picture.view().get(x as usize, y as usize).unwrap();
    DynamicImage::ImageLuma8(ImageBuffer::from_fn(WIDTH as u32, HEIGHT as u32, |x, y| Luma([at(x, y) as u8])))
}

fn grey_16(number: usize) -> DynamicImage {
    let picture = numbered(number, 16);
    let at = |x: u32, y: u32| picture.view().get(x as usize, y as usize).unwrap();
    DynamicImage::ImageLuma16(ImageBuffer::from_fn(WIDTH as u32, HEIGHT as u32, |x, y| {
        Luma([at(x, y) as u16])
    }))
}

fn save(folder: &Path, name: &str, image: &DynamicImage) {
    image.save(folder.join(name)).unwrap();
}

#[test]
fn stills_of_every_kind_are_read_as_stored() {
    for (ending, sixteen) in [("png", true), ("tif", true), ("tiff", true), ("pgm", true), ("bmp", false)] {
        let folder = tempfile::tempdir().unwrap();
        for number in 0..3 {
            save(folder.path(), &format!("cam-{number}.{ending}"), &grey_8(number));
        }
        let frames = read_all(folder.path(), &format!("cam-*.{ending}"), 1);
        assert_eq!(frames.len(), 3);
        for (number, frame) in frames.iter().enumerate() {
            assert_eq!(frame.picture, numbered(number, 8), "{ending}");
            assert!(frame.stamp.is_none() && frame.key);
        }
        if sixteen {
            save(folder.path(), &format!("deep.{ending}"), &grey_16(5));
            assert_eq!(read_still(&folder.path().join(format!("deep.{ending}"))).unwrap(), numbered(5, 16));
        }
    }
}

#[test]
fn jpeg_stills_show_their_number() {
    let folder = tempfile::tempdir().unwrap();
    for number in 998..1001 {
        grey_8(number)
            .save_with_format(folder.path().join(format!("{number}.jpg")), ImageFormat::Jpeg)
            .unwrap();
    }
    let numbers: Vec<usize> =
        read_all(folder.path(), "*.jpg", 1).iter().map(|frame| number_in(&frame.picture.view())).collect();
    assert_eq!(numbers, [998, 999, 1000]);
}

#[test]
fn colour_stills_become_luma_by_stated_weights() {
    let folder = tempfile::tempdir().unwrap();
    let colours = [[255, 0, 0], [0, 255, 0], [0, 0, 255], [77, 77, 77], [255, 255, 255]];
    let image = ImageBuffer::from_fn(5, 1, |x, _| Rgb(colours[x as usize]));
    save(folder.path(), "c.png", &DynamicImage::ImageRgb8(image));
    let reader = open(folder.path(), "c.png", &ReadOptions::default()).unwrap();
    assert_eq!(reader.info().luma, LumaPath::WeightedColour);
    let picture = read_still(&folder.path().join("c.png")).unwrap();
    // Rec. ITU-R BT.601-7, 2.5.1: computed from the stated formula, 255 times 0.299, 0.587 and 0.114.
    let levels: Vec<f32> = (0..5).map(|x| picture.view().get(x, 0).unwrap()).collect();
    assert_eq!(levels, [76.0, 150.0, 29.0, 77.0, 255.0]);
}

#[test]
fn true_depths_of_stills_are_kept() {
    let folder = tempfile::tempdir().unwrap();
    for bits in [9, 10, 12, 14] {
        let path = folder.path().join("deep.png");
        write_png(&path, &numbered(3, bits).view()).unwrap();
        assert_eq!(read_still(&path).unwrap(), numbered(3, bits));
        // The PNG stays one that others can read: its samples fill the upper bits.
        let seen = image::open(&path).unwrap().into_luma16();
        let level = numbered(3, bits).view().get(0, 0).unwrap() as u16;
        assert_eq!(seen.get_pixel(0, 0).0[0], level << (16 - bits));
    }
    for maximal in [1023_u16, 4095, 16_383] {
        let levels = [0, 1, 2, maximal / 3, maximal / 2, maximal - 1, maximal];
        let mut pgm = format!("P5\n{} 1\n{maximal}\n", levels.len()).into_bytes();
        pgm.extend(levels.iter().flat_map(|level| level.to_be_bytes()));
        std::fs::write(folder.path().join("deep.pgm"), pgm).unwrap();
        let picture = read_still(&folder.path().join("deep.pgm")).unwrap();
        assert_eq!(u32::from(picture.view().bits()), maximal.count_ones());
        let back: Vec<u16> = (0..levels.len()).map(|x| picture.view().get(x, 0).unwrap() as u16).collect();
        assert_eq!(back, levels);
    }
}

#[test]
fn footage_in_the_making_leaves_nothing_when_dropped() {
    let folder = tempfile::tempdir().unwrap();
    for (name, encoding) in [("side.mkv", Encoding::Ffv1), ("side", Encoding::PngSequence)] {
        let mut writer = Writer::create(&folder.path().join(name), WIDTH, HEIGHT, 8, encoding, 25).unwrap();
        writer.put(&numbered(0, 8).view()).unwrap();
        drop(writer);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0, "{name}");
    }
}

#[test]
fn writers_refuse_what_they_cannot_hold() {
    let folder = tempfile::tempdir().unwrap();
    let create = |name: &str, width, bits, encoding| {
        Writer::create(&folder.path().join(name), width, HEIGHT, bits, encoding, 25).err().unwrap()
    };
    assert!(matches!(create("a.mkv", WIDTH, 12, Encoding::LosslessH264), FootageError::Settings { .. }));
    assert!(matches!(create("a.mkv", WIDTH, 11, Encoding::Ffv1), FootageError::Settings { .. }));
    assert!(matches!(create("a.mkv", 0, 8, Encoding::Ffv1), FootageError::Settings { .. }));
    assert!(matches!(create("a.mp4", WIDTH, 8, Encoding::Ffv1), FootageError::Write { .. }));
    assert!(matches!(create("a.txt", WIDTH, 8, Encoding::LosslessH264), FootageError::Write { .. }));
    let crf = Encoding::H264 { crf: 60, keyint: 12 };
    assert!(matches!(create("a.mkv", WIDTH, 8, crf), FootageError::Settings { .. }));
    write(&folder.path().join("taken"), 1, 8, Encoding::PngSequence);
    assert!(matches!(create("taken", WIDTH, 8, Encoding::PngSequence), FootageError::Write { .. }));
    let mut writer =
        Writer::create(&folder.path().join("b.mkv"), WIDTH, HEIGHT, 8, Encoding::Ffv1, 25).unwrap();
    let other = numbered(0, 12);
    assert!(matches!(writer.put(&other.view()), Err(FootageError::SizeChanged { .. })));
}
