//! Stills cut short or changed at random: never a panic, and a cut one never passes for whole.

use crate::pictures::{ffmpeg, numbered};
use crate::tiff_bytes::{Page, STYLES, pack_bits, packed};
use filmgauge_footage::{ReadOptions, open, write_png};
use std::path::Path;

/// One small still of each kind, as bytes.
fn stills(base: &Path) -> Vec<(&'static str, Vec<u8>)> {
    write_png(&base.join("a.png"), &numbered(5, 12).view()).unwrap();
    for name in ["b.jpg", "c.bmp", "d.tif", "e.ppm"] {
        let layout = if name == "b.jpg" { "yuvj422p" } else { "rgb24" };
        let card = ["-f", "lavfi", "-i", "testsrc2=s=48x32:d=0.04:r=25", "-update", "1"];
        ffmpeg(base, &[&card[..], &["-pix_fmt", layout, name]].concat());
    }
    let mut made: Vec<(&str, Vec<u8>)> = ["a.png", "b.jpg", "c.bmp", "d.tif", "e.ppm"]
        .into_iter()
        .map(|name| (name, std::fs::read(base.join(name)).unwrap()))
        .collect();
    let samples: Vec<u16> = (0..16 * 12).map(|at| at * 21 % 4096).collect();
    let rows = packed(16, 12, &samples);
    let page = Page::grey(16, 12, 12, pack_bits(&rows, 24)).with(259, 32_773);
    made.push(("f.tif", STYLES[3].file(&[page.clone(), page])));
    made.push(("g.pgm", [&b"P2 8 6 1000\n"[..], "17 900 ".repeat(24).as_bytes()].concat()));
    made
}

/// Frames that could be read, and whether the end was reached.
fn read_through(base: &Path, name: &str) -> (usize, bool) {
    let options = ReadOptions { most_pixels: 100_000, threads: 1, ..ReadOptions::default() };
    let Ok(mut reader) = open(base, name, &options) else { return (0, false) };
    let mut n = 0;
    while n < 100 {
        match reader.next_frame() {
            Ok(Some(_)) => n += 1,
            Ok(None) => return (n, true),
            Err(_) => return (n, false),
        }
    }
    (n, false)
}

#[test]
fn a_still_cut_short_never_passes_for_a_whole_one() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    for (name, bytes) in stills(base) {
        std::fs::write(base.join(name), &bytes).unwrap();
        let (whole, ended) = read_through(base, name);
        assert!(ended && whole >= 1, "{name}");
        // What may follow the last sample: check sums, line ends, and in a TIFF nothing that is needed.
        let spare = if name == "a.png" { 16 } else { 4 };
        let step = (bytes.len() / 150).max(1);
        for n in (0..bytes.len() - spare).step_by(step) {
            std::fs::write(base.join(name), &bytes[..n]).unwrap();
            let (frames, ended) = read_through(base, name);
            assert!(!(ended && frames >= whole), "{name} cut to {n} of {} bytes", bytes.len());
        }
    }
}

#[test]
fn changed_bytes_never_panic() {
    let folder = tempfile::tempdir().unwrap();
    let base = folder.path();
    let mut state = 0x9E37_79B9_7F4A_7C15_u64;
    let mut random = |below: usize| {
        // Xorshift (Marsaglia, Journal of Statistical Software 8(14), 2003).
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 33) as usize % below
    };
    for (name, bytes) in stills(base) {
        for _ in 0..400 {
            let mut changed = bytes.clone();
            for _ in 0..1 + random(4) {
                // Headers matter most: half of the changes go to the first or last 200 bytes.
                let at = match random(4) {
                    0 => random(bytes.len().min(200)),
                    1 => bytes.len() - 1 - random(bytes.len().min(200)),
                    _ => random(bytes.len()),
                };
                changed[at] = [0, 1, 0x7F, 0x80, 0xFF, random(256) as u8][random(6)];
            }
            std::fs::write(base.join(name), &changed).unwrap();
            read_through(base, name);
        }
    }
}
