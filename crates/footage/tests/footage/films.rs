//! Films of every kind, made by the ffmpeg command, each frame with its own number drawn in large blocks.

use std::path::Path;
use std::process::Command;

/// Width of a picture, px.
pub const WIDTH: usize = 96;
/// Height of a picture, px.
pub const HEIGHT: usize = 64;
/// Frames that are drawn. Some films leave out a few.
pub const FRAMES: usize = 300;
/// Side of a block, px.
const BLOCK_PX: usize = 16;
/// Blocks in a row; the number fills two rows, low bits first.
const BLOCKS_IN_ROW: usize = WIDTH / BLOCK_PX;

/// A film with what is special about it.
#[derive(Debug, Clone, Copy)]
pub struct FilmCase {
    /// Footage as it is named to a reader, below the folder of films.
    pub footage: &'static str,
    /// What is special.
    pub what: &'static str,
    /// How ffmpeg makes it.
    make: Make,
}

#[derive(Debug, Clone, Copy)]
enum Make {
    /// From the drawn pictures of 8 bits.
    Grey8(&'static [&'static str]),
    /// From the drawn pictures of 16 bits.
    Grey16(&'static [&'static str]),
    /// From another film.
    From(&'static [&'static str]),
    /// The first 70 % of the bytes of another film.
    Cut(&'static str),
}

const X264: &str = "libx264";
const BOTH_WAYS: [&str; 8] = ["-c:v", X264, "-bf", "3", "-g", "50", "-pix_fmt", "yuv420p"];

/// All films. Later ones are made from earlier ones.
pub const CASES: [FilmCase; 26] = [
    case("intra-mjpeg.avi", "MJPEG, every frame by itself", Make::Grey8(&["-c:v", "mjpeg", "-q:v", "2"])),
    case("both.mp4", "H.264, references both ways", Make::Grey8(&BOTH_WAYS)),
    case("both.mkv", "the same in Matroska", Make::From(&["-i", "both.mp4", "-c", "copy"])),
    case("both.ts", "the same as transport stream", Make::From(&["-i", "both.mp4", "-c", "copy"])),
    case("both.avi", "H.264 in AVI, no stamps of presentation", Make::Grey8(&BOTH_WAYS)),
    case(
        "open.mkv",
        "H.264, open groups",
        Make::Grey8(&[
            "-c:v",
            X264,
            "-bf",
            "3",
            "-g",
            "24",
            "-x264-params",
            "open-gop=1:scenecut=0",
            "-pix_fmt",
            "yuv420p",
        ]),
    ),
    case("open.mp4", "open groups in MP4", Make::From(&["-i", "open.mkv", "-c", "copy"])),
    case(
        "refresh.mkv",
        "H.264, refreshed in columns, one key frame",
        Make::Grey8(&["-c:v", X264, "-g", "40", "-x264-params", "intra-refresh=1", "-pix_fmt", "yuv420p"]),
    ),
    case(
        "single.mp4",
        "H.264, every frame by itself",
        Make::Grey8(&["-c:v", X264, "-g", "1", "-pix_fmt", "yuv420p"]),
    ),
    case(
        "varying.mkv",
        "varying rate, frames left out",
        Make::Grey8(&[
            "-vf",
            "select='not(eq(mod(n,7),3))',settb=1/1000,setpts='N*41+mod(N*N,17)'",
            "-fps_mode",
            "passthrough",
            "-enc_time_base",
            "1/1000",
            "-c:v",
            X264,
            "-bf",
            "2",
            "-g",
            "30",
            "-pix_fmt",
            "yuv420p",
        ]),
    ),
    case(
        "edit.mp4",
        "edit list hides the first pictures",
        Make::From(&["-ss", "1.3", "-i", "both.mp4", "-c", "copy"]),
    ),
    case(
        "offset.mkv",
        "first stamp far from zero",
        Make::From(&["-i", "both.mp4", "-c", "copy", "-output_ts_offset", "73.5"]),
    ),
    case(
        "turned.mp4",
        "to be turned for viewing",
        Make::From(&["-i", "both.mp4", "-c", "copy", "-metadata:s:v", "rotate=90"]),
    ),
    case("grey8.mkv", "FFV1, 8 bits", Make::Grey8(&["-c:v", "ffv1", "-g", "1", "-pix_fmt", "gray"])),
    case("grey10.mkv", "FFV1, 10 bits", Make::Grey16(&["-c:v", "ffv1", "-g", "1", "-pix_fmt", "gray10le"])),
    case("grey12.mkv", "FFV1, 12 bits", Make::Grey16(&["-c:v", "ffv1", "-g", "1", "-pix_fmt", "gray12le"])),
    case("grey16.mkv", "FFV1, 16 bits", Make::Grey16(&["-c:v", "ffv1", "-g", "1", "-pix_fmt", "gray16le"])),
    case(
        "chained.mkv",
        "FFV1, frames that need others",
        Make::Grey8(&["-c:v", "ffv1", "-g", "25", "-pix_fmt", "gray"]),
    ),
    case(
        "limited.mp4",
        "limited range",
        Make::Grey8(&["-c:v", X264, "-bf", "2", "-g", "30", "-pix_fmt", "yuv420p", "-color_range", "tv"]),
    ),
    case(
        "full.mp4",
        "full range",
        Make::Grey8(&["-c:v", X264, "-bf", "2", "-g", "30", "-pix_fmt", "yuvj420p"]),
    ),
    case("cut.mkv", "tail cut off", Make::Cut("both.mkv")),
    case("bare.h264", "no time stamps at all", Make::From(&["-i", "open.mkv", "-c", "copy"])),
    case(
        "hevc.mp4",
        "HEVC, open groups",
        Make::Grey8(&[
            "-c:v",
            "libx265",
            "-g",
            "30",
            "-x265-params",
            "log-level=none",
            "-pix_fmt",
            "yuv420p",
        ]),
    ),
    case(
        "mpeg4.avi",
        "MPEG-4 in AVI, references both ways",
        Make::Grey8(&["-c:v", "mpeg4", "-bf", "2", "-q:v", "2"]),
    ),
    case(
        "mpeg2.mkv",
        "MPEG-2, references both ways",
        Make::Grey8(&["-c:v", "mpeg2video", "-bf", "2", "-g", "15", "-q:v", "2", "-pix_fmt", "yuv420p"]),
    ),
    case("stills/%06d.png", "stills", Make::Grey8(&["-pix_fmt", "gray", "-start_number", "0"])),
];

const fn case(footage: &'static str, what: &'static str, make: Make) -> FilmCase {
    FilmCase { footage, what, make }
}

impl FilmCase {
    /// Footage as a reader takes it.
    pub fn pattern(&self) -> String {
        self.footage.replace("%06d", "*")
    }
}

/// Makes all films in `folder`; the reason in words when ffmpeg fails.
pub fn make_all(folder: &Path) -> Result<(), String> {
    draw(folder)?;
    CASES.iter().try_for_each(|case| make(folder, case))
}

/// Makes some of the films, named by their footage, with those that they are made from.
pub fn make_only(folder: &Path, footage: &[&str]) -> Result<(), String> {
    draw(folder)?;
    CASES.iter().filter(|case| footage.contains(&case.footage)).try_for_each(|case| make(folder, case))
}

/// The number drawn into a picture whose level at a place is `level`, given the level between dark and light.
pub fn number_drawn(level: impl Fn(usize, usize) -> f32, between: f32) -> usize {
    (0..2 * BLOCKS_IN_ROW)
        .filter(|block| {
            let (column, row) = (block % BLOCKS_IN_ROW, block / BLOCKS_IN_ROW);
            level(column * BLOCK_PX + BLOCK_PX / 2, row * BLOCK_PX + BLOCK_PX / 2) > between
        })
        .map(|block| 1 << block)
        .sum()
}

/// Writes the drawn pictures as raw samples of 8 and of 16 bits.
fn draw(folder: &Path) -> Result<(), String> {
    let (mut grey8, mut grey16) = (Vec::new(), Vec::new());
    for number in 0..FRAMES {
        for at in 0..WIDTH * HEIGHT {
            let level = level_of(number, at % WIDTH, at / WIDTH);
            grey8.push(level.to_be_bytes()[0]);
            grey16.extend(level.to_le_bytes());
        }
    }
    let write = |name: &str, bytes: &[u8]| {
        std::fs::write(folder.join(name), bytes).map_err(|error| error.to_string())
    };
    write("drawn8.raw", &grey8)?;
    write("drawn16.raw", &grey16)?;
    std::fs::create_dir_all(folder.join("stills")).map_err(|error| error.to_string())
}

/// The number above, a texture that moves below.
fn level_of(number: usize, x: usize, y: usize) -> u16 {
    if y < 2 * BLOCK_PX {
        let block = x / BLOCK_PX + BLOCKS_IN_ROW * (y / BLOCK_PX);
        return if number >> block & 1 == 1 { 56_000 } else { 9_000 };
    }
    let wave = ((x + 2 * number) * 977 + y * 3571 + (x * y % 13) * 2111) % 30_000;
    u16::try_from(12_000 + wave).unwrap_or(u16::MAX)
}

fn make(folder: &Path, case: &FilmCase) -> Result<(), String> {
    let raw = |layout, name| ["-f", "rawvideo", "-s", "96x64", "-r", "25", "-pix_fmt", layout, "-i", name];
    match case.make {
        Make::Grey8(how) => ffmpeg(folder, &[&raw("gray", "drawn8.raw")[..], how, &[case.footage]].concat()),
        Make::Grey16(how) => {
            ffmpeg(folder, &[&raw("gray16le", "drawn16.raw")[..], how, &[case.footage]].concat())
        }
        Make::From(how) => ffmpeg(folder, &[how, &[case.footage]].concat()),
        Make::Cut(whole) => {
            let bytes = std::fs::read(folder.join(whole)).map_err(|error| error.to_string())?;
            std::fs::write(folder.join(case.footage), &bytes[..bytes.len() * 7 / 10])
                .map_err(|error| error.to_string())
        }
    }
}

fn ffmpeg(folder: &Path, arguments: &[&str]) -> Result<(), String> {
    let done = Command::new("ffmpeg")
        .current_dir(folder)
        .args(["-nostdin", "-v", "error", "-y"])
        .args(arguments)
        .output()
        .map_err(|error| format!("ffmpeg does not start ({error}): install the package ffmpeg"))?;
    if done.status.success() {
        return Ok(());
    }
    Err(format!("ffmpeg {arguments:?}: {}", String::from_utf8_lossy(&done.stderr)))
}
