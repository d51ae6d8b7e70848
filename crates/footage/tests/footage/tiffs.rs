//! TIFF: every depth, order and size of offset; pages as frames; what cannot be measured refused in words.

use crate::pictures::{ffmpeg, read_all};
use crate::tiff_bytes::{Page, STYLES, Style, pack_bits, packed};
use filmgauge_footage::{
    FaultKind, FieldOrder, FootageError, FrameTableBuilder, LumaPath, RandomOptions, RandomReader,
    ReadOptions, index_footage, open, read_still,
};
use filmgauge_quantities::{FrameNumber, GreyImage};
use std::path::Path;

const SIZE: (usize, usize) = (5, 3);

/// Levels that use the whole depth.
fn levels(bits: u32, shift: usize) -> Vec<u16> {
    let full = (1_u32 << bits) - 1;
    (0..SIZE.0 * SIZE.1).map(|at| ((at + shift) as u32 * 40_503 % (full + 1)) as u16).collect()
}

fn page(bits: u32, samples: &[u16], style: Style) -> Page {
    let strip = if bits == 16 { style.words(samples) } else { packed(SIZE.0, bits, samples) };
    Page::grey(SIZE.0 as u32, SIZE.1 as u32, bits, strip)
}

fn image(bits: u8, levels: &[u16]) -> GreyImage {
    if bits == 8 {
        return GreyImage::from_u8(SIZE.0, SIZE.1, levels.iter().map(|&level| level as u8).collect())
            .unwrap();
    }
    GreyImage::from_u16(SIZE.0, SIZE.1, bits, levels.to_vec()).unwrap()
}

fn write(base: &Path, name: &str, style: Style, pages: &[Page]) {
    std::fs::write(base.join(name), style.file(pages)).unwrap();
}

fn refusal(base: &Path, name: &str) -> FootageError {
    open(base, name, &ReadOptions::default()).unwrap_err()
}

#[test]
fn every_depth_order_and_offset_size_gives_the_samples_as_stored() {
    let folder = tempfile::tempdir().unwrap();
    for style in STYLES {
        for bits in [1, 2, 4, 8, 10, 12, 14, 16] {
            let samples = levels(bits, 0);
            let plain = page(bits, &samples, style);
            let row_bytes = plain.strip.len() / SIZE.1;
            let squeezed =
                Page { strip: pack_bits(&plain.strip, row_bytes), ..plain.clone() }.with(259, 32_773);
            for page in [plain, squeezed] {
                write(folder.path(), "t.tif", style, std::slice::from_ref(&page));
                let found = read_still(&folder.path().join("t.tif")).unwrap();
                assert_eq!(found, image(bits as u8, &samples), "{style:?}, {bits} bits");
                // 0 for white: the same samples, turned over within their depth.
                write(folder.path(), "w.tif", style, &[page.with(262, 0)]);
                let turned: Vec<u16> =
                    samples.iter().map(|level| ((1_u32 << bits) - 1) as u16 - level).collect();
                let reader = open(folder.path(), "w.tif", &ReadOptions::default()).unwrap();
                assert_eq!(reader.info().luma, LumaPath::GreyInverted);
                let found = read_still(&folder.path().join("w.tif")).unwrap();
                assert_eq!(found, image(bits as u8, &turned), "{style:?}, {bits} bits, white is zero");
            }
        }
    }
}

#[test]
fn sixteen_bit_words_are_twelve_bits_when_the_header_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let samples = levels(12, 0);
    for (tag, style) in [(281, STYLES[0]), (281, STYLES[3]), (341, STYLES[1])] {
        write(folder.path(), "t.tif", style, &[page(16, &samples, style).with(tag, 4095)]);
        assert_eq!(read_still(&folder.path().join("t.tif")).unwrap(), image(12, &samples));
    }
    // The greatest sample that occurs is no depth.
    write(folder.path(), "t.tif", STYLES[0], &[page(16, &samples, STYLES[0]).with(281, 3001)]);
    assert_eq!(read_still(&folder.path().join("t.tif")).unwrap(), image(16, &samples));
}

#[test]
fn every_page_is_a_frame_and_previews_are_none() {
    let folder = tempfile::tempdir().unwrap();
    for style in STYLES {
        for bits in [8, 12] {
            let mut pages: Vec<Page> = (0..40).map(|n| page(bits, &levels(bits, n), style)).collect();
            let preview = Page::grey(2, 1, 8, vec![1, 2]).with(254, 1);
            pages.insert(7, preview.clone());
            pages.insert(0, preview);
            write(folder.path(), "film.tif", style, &pages);
            let frames = read_all(folder.path(), "film.tif", 1);
            assert_eq!(frames.len(), 40);
            for (n, frame) in frames.iter().enumerate() {
                assert_eq!(frame.picture, image(bits as u8, &levels(bits, n)), "{style:?}, page {n}");
            }
            let reader = open(folder.path(), "film.tif", &ReadOptions::default()).unwrap();
            assert_eq!(reader.info().declared_frames, Some(40));
            let mut table = FrameTableBuilder::new(reader.info());
            frames.iter().for_each(|frame| table.push(frame));
            let kinds: Vec<FaultKind> = table.finish().faults.iter().map(|fault| fault.kind).collect();
            assert_eq!(kinds, [FaultKind::NoStamps]);
        }
    }
    // Files of several pages follow one another.
    for (file, first) in [("part-1.tif", 0), ("part-2.tif", 3)] {
        let pages: Vec<Page> = (first..first + 3).map(|n| page(8, &levels(8, n), STYLES[0])).collect();
        write(folder.path(), file, STYLES[0], &pages);
    }
    let frames = read_all(folder.path(), "part-*.tif", 1);
    let expected: Vec<GreyImage> = (0..6).map(|n| image(8, &levels(8, n))).collect();
    assert!(frames.iter().map(|frame| &frame.picture).eq(&expected));
}

#[test]
fn any_page_is_had_again_also_as_fields() {
    let folder = tempfile::tempdir().unwrap();
    for (file, first) in [("part-1.tif", 0), ("part-2.tif", 3)] {
        let pages: Vec<Page> = (first..first + 3).map(|n| page(12, &levels(12, n), STYLES[0])).collect();
        write(folder.path(), file, STYLES[0], &pages);
    }
    for fields in [None, Some(FieldOrder::BottomFirst)] {
        for (footage, pages) in [("part-2.tif", 3), ("part-*.tif", 6)] {
            let options = ReadOptions { fields, ..ReadOptions::default() };
            let index = index_footage(folder.path(), footage, &options, &mut |_| true).unwrap().1;
            let mut reader = open(folder.path(), footage, &options).unwrap();
            let mut expected = Vec::new();
            while let Some(frame) = reader.next_frame().unwrap() {
                expected.push(frame.picture);
            }
            assert_eq!(expected.len(), if fields.is_some() { 2 * pages } else { pages });
            let mut random =
                RandomReader::open(folder.path(), footage, index.into(), &RandomOptions::default()).unwrap();
            for n in [2, 0, 1, expected.len() - 1, 0] {
                assert_eq!(
                    random.frame(FrameNumber(n as u32)).unwrap().picture,
                    expected[n],
                    "{footage}, {n}"
                );
            }
        }
    }
}

#[test]
fn pages_of_another_size_are_named() {
    let folder = tempfile::tempdir().unwrap();
    let odd = Page::grey(3, 2, 8, vec![9; 6]);
    let pages = [page(8, &levels(8, 0), STYLES[0]), page(8, &levels(8, 1), STYLES[0]), odd];
    write(folder.path(), "film.tif", STYLES[0], &pages);
    let mut reader = open(folder.path(), "film.tif", &ReadOptions::default()).unwrap();
    assert!(reader.next_frame().unwrap().is_some() && reader.next_frame().unwrap().is_some());
    let error = reader.next_frame().unwrap_err();
    assert!(matches!(error, FootageError::SizeChanged { frame: FrameNumber(2), .. }), "{error}");
    assert!(error.to_string().contains("3 x 2 px") && error.to_string().contains("film.tif"), "{error}");
}

#[test]
fn what_cannot_be_measured_is_refused_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let style = STYLES[0];
    let four = |bits: u32| Page::grey(2, 2, bits, vec![0; 64]);
    for (name, page, words) in [
        ("float", four(32).with(339, 3), "floating point"),
        ("signed", four(16).with(339, 2), "below zero"),
        ("long", four(32), "32 bits"),
        ("inks", four(8).with(262, 5).with(277, 4), "CMYK"),
        ("lab", four(8).with(262, 8).with(277, 3), "not read"),
        ("mosaic", four(16).with(262, 32_803), "not read"),
        ("zstd", four(8).with(259, 50_000), "not read"),
        ("twelve", four(12).with(262, 2).with(277, 3), "3 samples a pixel of 12 bits"),
        ("lower", four(1).with(266, 2), "lower end"),
    ] {
        write(folder.path(), name, style, std::slice::from_ref(&page));
        std::fs::rename(folder.path().join(name), folder.path().join(format!("{name}.tif"))).unwrap();
        let error = refusal(folder.path(), &format!("{name}.tif"));
        assert!(matches!(error, FootageError::Unsupported { .. }), "{name}: {error}");
        let text = error.to_string();
        assert!(text.contains(words) && text.contains("save the stills"), "{name}: {text}");
    }
    for style in STYLES {
        write(folder.path(), "giant.tif", style, &[Page::grey(40_000, 30_000, 8, vec![0; 200])]);
        let error = refusal(folder.path(), "giant.tif");
        assert!(matches!(error, FootageError::TooLarge { width: 40_000, height: 30_000, .. }), "{error}");
    }
}

#[test]
fn colour_pages_are_weighted_and_orientation_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let rgb = Page::grey(2, 1, 8, vec![255, 0, 0, 10, 20, 30]).with(262, 2).with(277, 3).with(274, 6);
    write(folder.path(), "t.tif", STYLES[1], &[rgb]);
    let reader = open(folder.path(), "t.tif", &ReadOptions::default()).unwrap();
    assert_eq!((reader.info().luma, reader.info().turn_deg), (LumaPath::WeightedColour, Some(90.0)));
    assert_eq!(reader.faults()[0].kind, FaultKind::Turned);
    let picture = read_still(&folder.path().join("t.tif")).unwrap();
    // 0.299 * 255 = 76.2; 0.299 * 10 + 0.587 * 20 + 0.114 * 30 = 18.15.
    assert_eq!(picture, GreyImage::from_u8(2, 1, vec![76, 18]).unwrap());
}

#[test]
fn a_page_in_jpeg_gives_its_luma_as_stored() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    for (layout, samples, photometric, luma) in [
        ("yuvj420p", 3, 6, LumaPath::LumaPlane),
        ("yuvj444p", 3, 6, LumaPath::LumaPlane),
        ("gray", 1, 1, LumaPath::GreyAsStored),
    ] {
        let card = ["-f", "lavfi", "-i", "testsrc2=s=48x32:d=0.04:r=25", "-update", "1", "-q:v", "2"];
        let layout_made = if layout == "gray" { "yuvj444p" } else { layout };
        ffmpeg(base, &[&card[..], &["-pix_fmt", layout_made, "card.jpg"]].concat());
        if layout == "gray" {
            image::open(base.join("card.jpg")).unwrap().to_luma8().save(base.join("card.jpg")).unwrap();
        }
        let jpeg = std::fs::read(base.join("card.jpg")).unwrap();
        let page = Page::grey(48, 32, 8, jpeg).with(259, 7).with(262, photometric).with(277, samples);
        write(base, "t.tif", STYLES[0], &[page]);
        let reader = open(base, "t.tif", &ReadOptions::default()).unwrap();
        assert_eq!(reader.info().luma, luma, "{layout}");
        let expected = read_still(&base.join("card.jpg")).unwrap();
        assert_eq!(read_still(&base.join("t.tif")).unwrap(), expected, "{layout}");
    }
}
