//! PNG, PNM, BMP and JPEG: levels and depth as written, whatever the name says; the broken ones refused.

use crate::pictures::{ffmpeg, read_all};
use filmgauge_footage::{FootageError, LumaPath, ReadOptions, open, read_still};
use filmgauge_quantities::{GreyImage, GreyPixels};
use std::path::Path;

fn png_of(bits: u8, colour: png::ColorType, bytes: &[u8], palette: &[u8]) -> Vec<u8> {
    let mut file = Vec::new();
    let mut encoder = png::Encoder::new(&mut file, 5, 2);
    encoder.set_color(colour);
    encoder.set_depth(png::BitDepth::from_u8(bits).unwrap());
    if !palette.is_empty() {
        encoder.set_palette(palette.to_vec());
    }
    encoder.write_header().unwrap().write_image_data(bytes).unwrap();
    file
}

fn still(base: &Path, name: &str, bytes: &[u8]) -> GreyImage {
    std::fs::write(base.join(name), bytes).unwrap();
    read_still(&base.join(name)).unwrap()
}

fn refusal(base: &Path, name: &str, bytes: &[u8]) -> FootageError {
    std::fs::write(base.join(name), bytes).unwrap();
    open(base, name, &ReadOptions::default()).unwrap_err()
}

fn levels(picture: &GreyImage) -> Vec<u16> {
    match picture.view().pixels() {
        GreyPixels::Eight(samples) => samples.iter().map(|&level| level.into()).collect(),
        GreyPixels::Sixteen(samples) => samples.to_vec(),
    }
}

#[test]
fn narrow_png_samples_are_not_stretched() {
    let folder = tempfile::tempdir().unwrap();
    for (bits, bytes, expected) in [
        (1, vec![0b1010_0000, 0b0111_1000], vec![1, 0, 1, 0, 0, 0, 1, 1, 1, 1]),
        (2, vec![0b0001_1011, 0b0100_0000, 0xFF, 0], vec![0, 1, 2, 3, 1, 3, 3, 3, 3, 0]),
        (4, vec![0x01, 0x7E, 0xF0, 0xFE, 0xDC, 0xB0], vec![0, 1, 7, 14, 15, 15, 14, 13, 12, 11]),
    ] {
        let picture = still(folder.path(), "n.png", &png_of(bits, png::ColorType::Grayscale, &bytes, &[]));
        assert_eq!(picture.view().bits(), bits);
        assert_eq!(levels(&picture), expected, "{bits} bits");
    }
    // A palette of greys: the grey behind each number.
    let greys: Vec<u8> = [7, 70, 170, 250].iter().flat_map(|&grey| [grey; 3]).collect();
    let png = png_of(2, png::ColorType::Indexed, &[0b0001_1011, 0, 0xFF, 0xC0], &greys);
    let picture = still(folder.path(), "p.png", &png);
    assert_eq!(levels(&picture), [7, 70, 170, 250, 7, 250, 250, 250, 250, 250]);
}

#[test]
fn portable_maps_of_every_kind_keep_levels_and_depth() {
    let folder = tempfile::tempdir().unwrap();
    let deep = [&b"P5 2 2 4095\n"[..], &[0x00, 0x01, 0x0F, 0xFF, 0x0A, 0xBC, 0x01, 0x00]].concat();
    let arbitrary = b"P7\nWIDTH 2\nHEIGHT 1\n# lab\nDEPTH 2\nMAXVAL 255\nTUPLTYPE GRAYSCALE_ALPHA\nENDHDR\n\x05\xFF\x06\x00";
    let cases: [(&[u8], u8, &[u16], LumaPath); 9] = [
        (b"P1\n# notes\n3 2\n101\n0 1 0", 1, &[0, 1, 0, 1, 0, 1], LumaPath::GreyInverted),
        (b"P4 3 2\n\xA0\x40", 1, &[0, 1, 0, 1, 0, 1], LumaPath::GreyInverted),
        (b"P2 2 2 1000\n0 1000\n#x\n7 999", 10, &[0, 1000, 7, 999], LumaPath::GreyAsStored),
        (b"P2 2 1 255 3 200", 8, &[3, 200], LumaPath::GreyAsStored),
        (b"P5 2 1 100\n\x64\x00", 7, &[100, 0], LumaPath::GreyAsStored),
        (&deep, 12, &[1, 4095, 0xABC, 256], LumaPath::GreyAsStored),
        (b"P3 1 1 1000 1000 0 500", 10, &[356], LumaPath::WeightedColour),
        (b"P6 2 1 255\n\xFF\x00\x00\x0A\x14\x1E", 8, &[76, 18], LumaPath::WeightedColour),
        (arbitrary, 8, &[5, 6], LumaPath::GreyAsStored),
    ];
    for (bytes, bits, expected, luma) in cases {
        let picture = still(folder.path(), "map.pnm", bytes);
        let text = String::from_utf8_lossy(bytes);
        assert_eq!((picture.view().bits(), levels(&picture).as_slice()), (bits, expected), "{text}");
        let reader = open(folder.path(), "map.pnm", &ReadOptions::default()).unwrap();
        assert_eq!(reader.info().luma, luma, "{text}");
    }
    std::fs::write(
        folder.path().join("film.pgm"),
        b"P5 2 1 255\n\x01\x02P5 2 1 255\n\x03\x04\nP5 2 1 255\n\x05\x06",
    )
    .unwrap();
    let frames = read_all(folder.path(), "film.pgm", 1);
    let all: Vec<u16> = frames.iter().flat_map(|frame| levels(&frame.picture)).collect();
    assert_eq!(all, [1, 2, 3, 4, 5, 6]);
}

#[test]
fn jpeg_gives_the_luma_that_is_stored() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    let card = "testsrc2=s=64x48:d=0.04:r=25";
    for (layout, luma) in [("yuvj420p", LumaPath::LumaPlane), ("gray", LumaPath::GreyAsStored)] {
        if layout == "gray" {
            image::open(base.join("card.jpg")).unwrap().to_luma8().save(base.join("card.jpg")).unwrap();
        } else {
            let coding = ["-pix_fmt", layout, "-c:v", "mjpeg", "-q:v", "2", "-f", "image2", "card.jpg"];
            ffmpeg(base, &[&["-f", "lavfi", "-i", card], &coding[..]].concat());
        }
        let reader = open(base, "card.jpg", &ReadOptions::default()).unwrap();
        assert_eq!((reader.info().luma, reader.info().bits), (luma, 8), "{layout}");
        ffmpeg(base, &["-i", "card.jpg", "-f", "rawvideo", "plane.raw"]);
        let stored = &std::fs::read(base.join("plane.raw")).unwrap()[..64 * 48];
        let found = levels(&read_still(&base.join("card.jpg")).unwrap());
        // Two decoders may round the inverse transform differently (Recommendation ITU-T T.81, A.3.3 leaves it open).
        let off = found.iter().zip(stored).map(|(&ours, &theirs)| ours.abs_diff(theirs.into())).max();
        assert!(off <= Some(1), "{layout}: {off:?}");
    }
}

#[test]
fn headers_that_claim_too_much_and_other_contents_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let (w, h) = (40_000_u32, 30_000_u32);
    let png = [
        &b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"[..],
        &w.to_be_bytes(),
        &h.to_be_bytes(),
        &[8, 0, 0, 0, 0, 0, 0, 0, 0],
    ];
    let bmp_start = [&b"BM"[..], &[0; 8], &54_u32.to_le_bytes(), &40_u32.to_le_bytes()].concat();
    let bmp = [&bmp_start[..], &w.to_le_bytes(), &h.to_le_bytes(), &[1, 0, 8, 0], &[0; 900]].concat();
    let frame = [0xFF, 0xC0, 0, 11, 8, 0x75, 0x30, 0x9C, 0x40, 1, 1, 0x11, 0];
    let jpeg = [&[0xFF, 0xD8][..], &frame, &[0xFF, 0xDA, 0, 8, 1, 1, 0, 0, 63, 0], &[0; 50], &[0xFF, 0xD9]];
    for (name, bytes) in [
        ("giant.png", png.concat()),
        ("giant.bmp", bmp),
        ("giant.pgm", b"P5 40000 30000 255\n123".to_vec()),
        ("giant.ppm", b"P3 40000 30000 255\n1 2 3".to_vec()),
        ("giant.jpg", jpeg.concat()),
    ] {
        let error = refusal(folder.path(), name, &bytes);
        assert!(matches!(error, FootageError::TooLarge { width: 40_000, height: 30_000, .. }), "{error}");
    }
    for (name, bytes) in [
        ("notes.png", &b"Side camera, lens 35 mm"[..]),
        ("film.tif", b"II*\0"),
        ("cut.pgm", b"P5 4 4 255\n123"),
        ("cut.pbm", b"P1 4 4 0101"),
        ("above.pgm", b"P5 2 1 100\n\x64\x65"),
        ("letters.pgm", b"P2 2 1 255 3 x"),
        ("after.pgm", b"P5 2 1 0\n\x64\x65"),
        ("none.bmp", b"BM"),
    ] {
        let error = refusal(folder.path(), name, bytes);
        assert!(matches!(error, FootageError::NotFootage { .. }), "{name}: {error}");
    }
    assert!(matches!(refusal(folder.path(), "nothing.png", b""), FootageError::Empty { .. }));
    // Four components marked as inks by the marker segment of application 14.
    let inks = [0xFF, 0xEE, 0, 14, b'A', b'd', b'o', b'b', b'e', 0, 100, 0, 0, 0, 0, 0];
    let table = [&[0xFF, 0xDB, 0, 67, 0][..], &[1; 64]].concat();
    let parts = [1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0, 4, 0x11, 0];
    let frame = [&[0xFF, 0xC0, 0, 20, 8, 0, 8, 0, 8, 4][..], &parts].concat();
    let scan = [0xFF, 0xDA, 0, 14, 4, 1, 0, 2, 0, 3, 0, 4, 0, 0, 63, 0, 0x55, 0xFF, 0xD9];
    let error =
        refusal(folder.path(), "inks.jpg", &[&[0xFF, 0xD8][..], &inks, &table, &frame, &scan].concat());
    assert!(matches!(error, FootageError::Unsupported { .. }), "{error}");
    assert!(error.to_string().contains("printing") && error.to_string().contains("RGB"), "{error}");
}
