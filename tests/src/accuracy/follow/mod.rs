//! Following, held against painted films with exact truth: dust, flash, glare, crossings, plates, leaps, targets that
//! leave and return. Each film is drawn in memory from its seed; the truth is the place each target was painted at.

mod coded;
mod film;
mod painter;
mod scenario;
mod score;

pub use coded::{PICTURE_U_PX, coded};
pub(crate) use film::grainy;
pub(crate) use painter::{Canvas, Disc};
pub use scenario::{Kind, Scenario};
pub use score::Score;

use filmgauge_quantities::{BodyId, FrameNumber, TargetId, TargetKind};
use filmgauge_targets::{FollowOptions, Follower, Outcome, TargetStart};
use rayon::prelude::*;
use std::fmt::Write;

/// Follows the film of one seed and kind, and scores every mark.
///
/// # Errors
/// When the follower refuses the starts, which are those of the film itself.
pub fn rehearsal(kind: Kind, seed: u64) -> anyhow::Result<Score> {
    let scenario = Scenario::drawn(kind, seed);
    Ok(Score::of(&scenario, &outcomes(&scenario)?))
}

/// What the follower makes of a film.
///
/// # Errors
/// As [`rehearsal`].
pub fn outcomes(scenario: &Scenario) -> anyhow::Result<Vec<Vec<Outcome>>> {
    let mut follower = Follower::new(starts(scenario)?, FollowOptions::default())?;
    for frame in 0..scenario.n_frames {
        let image = film::frame(scenario, frame)?;
        follower.step(FrameNumber(frame), &image.view(), false);
    }
    Ok(follower.finish())
}

fn starts(scenario: &Scenario) -> anyhow::Result<Vec<TargetStart>> {
    let start = |(k, target): (usize, &scenario::Target)| {
        let place = scenario.place(k, 0);
        Ok(TargetStart {
            id: TargetId::new(&format!("T{k}"))?,
            body: target.body.map(BodyId::new).transpose()?,
            kind: TargetKind::Quadrant,
            start_frame: FrameNumber(0),
            start: place.moved(0.7, -0.6),
            radius_px: scenario::RADIUS_PX,
            deforms: false,
        })
    };
    scenario.targets.iter().enumerate().map(start).collect()
}

/// Scores of every kind, `n_each` films a kind.
///
/// # Errors
/// As [`rehearsal`].
pub fn scores(n_each: u64) -> anyhow::Result<Vec<(Kind, Score)>> {
    Kind::ALL
        .into_iter()
        .map(|kind| {
            let each: anyhow::Result<Vec<Score>> =
                (0..n_each).into_par_iter().map(|seed| rehearsal(kind, seed)).collect();
            Ok((kind, each?.into_iter().fold(Score::default(), |all, one| all.with(&one))))
        })
        .collect()
}

/// The section on following of `docs/accuracy.md`.
///
/// # Errors
/// As [`rehearsal`].
pub fn page(n_each: u64) -> anyhow::Result<String> {
    let scores = scores(n_each)?;
    let mut text = format!(
        "## Following\n\n{} painted films, {n_each} of each kind, 24 to 90 frames, targets of {:.0} px radius, noise 2.5 grey. \
         A mark is wrong when it is more than 1 px from the truth; a swap is a mark on another target. \
         \"Outside\" are marks whose squared distance from the truth is above 30 of their own covariance.\n\n\
         | film | clear marks made | RMS error, px | inside 95 % | wrong | wrong, trust > 0.5 | outside, trust > 0.5 | swaps | hidden, inferred \
         | inferred RMS, px | inferred inside 95 % |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
        n_each * Kind::ALL.len() as u64,
        scenario::RADIUS_PX
    );
    let all = scores.iter().fold(Score::default(), |all, (_, one)| all.with(one));
    for (title, score) in scores.iter().map(|(kind, score)| (kind.title(), score)).chain([("all", &all)]) {
        let _ = writeln!(text, "| {title} | {} |", score.cells().join(" | "));
    }
    Ok(text + "\n" + &coded::table(n_each)?)
}
