//! Test pictures that carry their own number as a pattern of blocks, so that a test can read which frame it got.

use filmgauge_quantities::{FrameNumber, GreyImage, GreyView};
use std::path::Path;
use std::process::Command;

/// Side of a block, px.
const BLOCK_PX: usize = 16;
/// Blocks in a picture: the bits of a number.
const N_BITS: usize = 16;
/// Width of a test picture, px: odd, so that rows do not fill a stride.
pub const WIDTH: usize = BLOCK_PX * N_BITS + 3;
/// Height of a test picture, px.
pub const HEIGHT: usize = 37;

/// A picture of `bits` bits whose upper half shows `number`, over a texture that moves and is different in each.
pub fn numbered(number: usize, bits: u8) -> GreyImage {
    let full = (1_usize << bits) - 1;
    let level = |x: usize, y: usize| {
        let block = x / BLOCK_PX;
        if y < HEIGHT / 2 {
            let lit = block < N_BITS && number >> block & 1 == 1;
            if lit { full * 7 / 10 } else { full * 2 / 10 }
        } else {
            ((x + 3 * number) * 31 + y * 17 + (x * y) % 23) % (full + 1)
        }
    };
    let levels = (0..HEIGHT).flat_map(|y| (0..WIDTH).map(move |x| (x, y))).map(|(x, y)| level(x, y));
    if bits <= 8 {
        GreyImage::from_u8(WIDTH, HEIGHT, levels.map(|level| u8::try_from(level).unwrap()).collect()).unwrap()
    } else {
        let samples = levels.map(|level| u16::try_from(level).unwrap()).collect();
        GreyImage::from_u16(WIDTH, HEIGHT, bits, samples).unwrap()
    }
}

/// The number that a picture shows.
pub fn number_in(picture: &GreyView<'_>) -> usize {
    let threshold = picture.full_scale() * 0.45;
    (0..N_BITS)
        .filter(|block| picture.get(block * BLOCK_PX + BLOCK_PX / 2, HEIGHT / 4).unwrap() > threshold)
        .map(|block| 1 << block)
        .sum()
}

/// Writes `n` numbered pictures.
pub fn write(path: &Path, n: usize, bits: u8, encoding: filmgauge_footage::Encoding) {
    let mut writer = filmgauge_footage::Writer::create(path, WIDTH, HEIGHT, bits, encoding, 25).unwrap();
    for number in 0..n {
        writer.put(&numbered(number, bits).view()).unwrap();
    }
    writer.finish().unwrap();
}

/// Reads footage through, checking that each frame's count equals the number it shows.
pub fn read_all(base: &Path, footage: &str, threads: usize) -> Vec<filmgauge_footage::Frame> {
    let options = filmgauge_footage::ReadOptions { threads, ..Default::default() };
    let mut reader = filmgauge_footage::open(base, footage, &options).unwrap();
    let mut frames = Vec::new();
    while let Some(frame) = reader.next_frame().unwrap() {
        assert_eq!(frame.number, FrameNumber(u32::try_from(frames.len()).unwrap()));
        frames.push(frame);
    }
    assert!(reader.next_frame().unwrap().is_none(), "the end stays the end");
    frames
}

/// Runs the ffmpeg command, which the tests need; a failure is a failure of the test.
pub fn ffmpeg(folder: &Path, arguments: &[&str]) {
    let done = Command::new("ffmpeg")
        .current_dir(folder)
        .args(["-nostdin", "-v", "error", "-y"])
        .args(arguments)
        .output()
        .expect("the tests need the ffmpeg command: install the package ffmpeg");
    assert!(done.status.success(), "ffmpeg {arguments:?}: {}", String::from_utf8_lossy(&done.stderr));
}
