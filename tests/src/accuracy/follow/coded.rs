//! The plain films coded with loss and read back: how many marks are made, and whether their ellipses hold with the doubt
//! that a dossier takes for any such film.

use super::{Kind, Scenario, Score, film, starts};
use anyhow::Result;
use filmgauge_footage::{Encoding, ReadOptions, Writer, open};
use filmgauge_targets::{FollowOptions, Follower, LocateOptions};
use std::fmt::Write;

/// What coding adds to a mark, px, as a dossier takes it for any film coded with loss.
pub const PICTURE_U_PX: f64 = 0.04;

/// Quality and distance of key frames of each row.
const CODINGS: [(u8, u32); 7] = [(12, 60), (18, 60), (20, 60), (23, 60), (28, 60), (18, 1), (23, 1)];

/// Follows the plain film of a seed, coded in H.264.
///
/// # Errors
/// When the film cannot be written or read.
pub fn coded(seed: u64, crf: u8, keyint: u32) -> Result<Score> {
    let scenario = Scenario::drawn(Kind::Plain, seed);
    let folder = tempfile::tempdir()?;
    let name = "coded.mkv";
    let (width, height) = scenario.size;
    let encoding = Encoding::H264 { crf, keyint };
    let mut writer = Writer::create(&folder.path().join(name), width, height, 8, encoding, 30)?;
    for frame in 0..scenario.n_frames {
        writer.put(&film::frame(&scenario, frame)?.view())?;
    }
    writer.finish()?;
    let locate = LocateOptions { picture_u_px: PICTURE_U_PX, ..LocateOptions::default() };
    let options = FollowOptions { locate, ..FollowOptions::default() };
    let mut follower = Follower::new(starts(&scenario)?, options)?;
    let mut reader = open(folder.path(), name, &ReadOptions::default())?;
    while let Some(frame) = reader.next_frame()? {
        follower.step(frame.number, &frame.picture.view(), frame.damaged);
    }
    Ok(Score::of(&scenario, &follower.finish()))
}

/// One row for each coding.
pub(super) fn table(n_each: u64) -> Result<String> {
    let mut text = format!(
        "The first film of the table above in H.264, read back; each mark with {PICTURE_U_PX} px for what coding adds.\n\n\
         | crf, frames to a key frame | clear marks made | RMS error, px | inside 95 % | wrong | wrong, trust > 0.5 | \
         outside, trust > 0.5 | swaps |\n| --- | --- | --- | --- | --- | --- | --- | --- |\n"
    );
    for (crf, keyint) in CODINGS {
        let scores: Result<Vec<Score>> = (0..n_each).map(|seed| coded(seed, crf, keyint)).collect();
        let score = scores?.iter().fold(Score::default(), |all, one| all.with(one));
        let _ = writeln!(text, "| {crf}, {keyint} | {} |", score.cells()[..7].join(" | "));
    }
    Ok(text)
}
