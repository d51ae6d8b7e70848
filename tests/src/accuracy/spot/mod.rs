//! Finding held against painted frames: what share is found, as which kind, how well centred, and what else is found.

mod chessboards;
mod frame;

pub use chessboards::{Agreement, agreement};

use anyhow::Result;
use filmgauge_quantities::{GreyImage, TargetKind};
use filmgauge_targets::{CentreBy, Spot, SpotOptions, spot};
use frame::{Truth, frame};
use rayon::prelude::*;
use std::fmt::Write;

const KINDS: [TargetKind; 4] = [TargetKind::Quadrant, TargetKind::Cross, TargetKind::Disc, TargetKind::Ring];
/// Classes of radius, px.
const RADII: [(f64, f64); 4] = [(6.0, 10.0), (10.0, 20.0), (20.0, 40.0), (40.0, 80.0)];
const NOISES: [f64; 2] = [2.0, 5.0];
const FIRST_SEED: u64 = 900;

/// A target and what was found there.
struct Found {
    truth: Truth,
    noise: f64,
    spot: Option<Spot>,
}

/// The section of the page: `n_frames` frames, half of them with each noise.
///
/// # Errors
/// When a frame cannot be made or OpenCV does not answer.
pub fn page(n_frames: u64) -> Result<String> {
    let frames = (0..n_frames)
        .into_par_iter()
        .map(|k| seen(FIRST_SEED + k, NOISES[(k % 2) as usize]))
        .collect::<Result<Vec<_>>>()?;
    let n_false = |noise: f64| {
        let of_noise = frames.iter().filter(move |(seen, _)| seen.iter().any(|found| found.noise == noise));
        let (n, sum) = of_noise.fold((0, 0), |(n, sum), (_, stray)| (n + 1, sum + stray));
        f64::from(sum) / f64::from(n.max(1))
    };
    let stray = NOISES.map(n_false);
    let all: Vec<&Found> = frames.iter().flat_map(|(seen, _)| seen).collect();
    let mut text = format!(
        "## Finding targets in a frame\n\n\
         {n_frames} painted frames of {} x {} px, {} targets of all kinds: any turn, radius 6 to 80 px, slant 0 to 45°, smear up to a \
         third of the radius, dark on light or light on dark, on uneven ground; among strokes as of writing, blobs that fade, \
         stripes, chequered areas and soft circles. Noise 2 and 5 grey, half of the frames each.\n\
         Found: of its kind, within a fifth of its radius (2 px at least). Wrong kind: found there as another. \
         Centre: root mean square along one axis of those found.\n\n",
        frame::SIZE[0],
        frame::SIZE[1],
        all.len(),
    );
    text.push_str("| kind | radius, px | targets | found, % | wrong kind, % | centre RMS, px |\n| --- | --- | --- | --- | --- | --- |\n");
    for kind in KINDS {
        for (low, high) in RADII {
            let is_of_class =
                |found: &&&Found| found.truth.kind == kind && (low..high).contains(&found.truth.radius_px);
            let class: Vec<&Found> = all.iter().filter(is_of_class).copied().collect();
            let _ = writeln!(text, "| {} | {low:.0} to {high:.0} | {}", kind.word(), row(&class));
        }
    }
    text.push_str(
        "\n| what | targets | found, % | wrong kind, % | centre RMS, px |\n| --- | --- | --- | --- | --- |\n",
    );
    for (what, class) in conditions(&all) {
        let _ = writeln!(text, "| {what} | {}", row(&class));
    }
    text.push_str(&doubts(&all));
    let _ = writeln!(
        text,
        "\nFinds where no target is, per frame: {:.2} at noise 2 grey, {:.2} at noise 5 grey.\n",
        stray[0], stray[1]
    );
    text.push_str(&chessboards::table()?);
    Ok(text)
}

/// One painted frame, for other tables.
///
/// # Errors
/// When it cannot be made.
pub fn painted(seed: u64, noise_grey: f64) -> Result<GreyImage> {
    Ok(frame(seed, noise_grey)?.1)
}

fn conditions<'a>(all: &[&'a Found]) -> Vec<(&'static str, Vec<&'a Found>)> {
    let of = |is: &dyn Fn(&Found) -> bool| all.iter().filter(|found| is(found)).copied().collect::<Vec<_>>();
    let slant =
        |low: f64, high: f64| of(&|found: &Found| (low..high).contains(&found.truth.slant_rad.to_degrees()));
    vec![
        ("noise 2 grey", of(&|found| found.noise < 3.0)),
        ("noise 5 grey", of(&|found| found.noise > 3.0)),
        ("slant 0 to 15°", slant(0.0, 15.0)),
        ("slant 15 to 30°", slant(15.0, 30.0)),
        ("slant 30 to 45°", slant(30.0, 45.1)),
        ("smear below 0.1 radii", of(&|found| found.truth.smear_share < 0.1)),
        ("smear 0.1 to 0.2 radii", of(&|found| (0.1..0.2).contains(&found.truth.smear_share))),
        ("smear above 0.2 radii", of(&|found| found.truth.smear_share >= 0.2)),
        ("all", of(&|_| true)),
    ]
}

/// Whether centres lie within their stated doubt, and how well radius and axis ratio are told.
fn doubts(all: &[&Found]) -> String {
    let right: Vec<(&Truth, &Spot)> = all
        .iter()
        .filter_map(|found| Some((&found.truth, found.spot.as_ref()?)))
        .filter(|(truth, spot)| truth.kind == spot.kind)
        .collect();
    let mut text = String::from(
        "\nThe 95 % ellipse of a centre holds the truth where its squared distance over its covariance is below 5.991.\n\n\
         | centre by | kind | targets | RMS along an axis, px | inside 95 % |\n| --- | --- | --- | --- | --- |\n",
    );
    for by in [CentreBy::Symmetry, CentreBy::Rim] {
        let of_way = || right.iter().filter(move |(_, spot)| spot.centre_by == by);
        for kind in KINDS {
            text.push_str(&doubt(by, kind.word(), of_way().filter(|(truth, _)| truth.kind == kind)));
        }
        text.push_str(&doubt(by, "all", of_way()));
    }
    text.push_str(
        "\nRadius and axis ratio against their truth, over the targets found.\n\n\
         | radius, px | radius, 95 % within, % | worst, % | axis ratio, 95 % within | worst |\n| --- | --- | --- | --- | --- |\n",
    );
    for (low, high) in RADII {
        let of = || right.iter().filter(|(truth, _)| (low..high).contains(&truth.radius_px));
        let radius = worst(of().map(|(truth, spot)| 100.0 * (spot.radius_px / truth.radius_px - 1.0).abs()));
        let ratio = worst(of().map(|(truth, spot)| (spot.axis_ratio - truth.slant_rad.cos()).abs()));
        let _ = writeln!(
            text,
            "| {low:.0} to {high:.0} | {:.1} | {:.1} | {:.3} | {:.3} |",
            radius.0, radius.1, ratio.0, ratio.1
        );
    }
    text
}

/// A row of the table of doubts; none where there are no targets.
fn doubt<'a>(by: CentreBy, kind: &str, of: impl Iterator<Item = &'a (&'a Truth, &'a Spot)>) -> String {
    let off = of.map(|(truth, spot)| {
        let (dx, dy) = (spot.centre.x - truth.centre.x, spot.centre.y - truth.centre.y);
        (dx * dx + dy * dy, spot.cov.mahalanobis2(dx, dy).is_some_and(|square| square < 5.991))
    });
    let (n, squares, inside) = off.fold((0.0, 0.0, 0.0), |(n, squares, inside), (square, is_inside)| {
        (n + 1.0, squares + square, inside + f64::from(u8::from(is_inside)))
    });
    if n == 0.0 {
        return String::new();
    }
    let rms = (squares / (2.0 * n)).sqrt();
    format!("| {} | {kind} | {n:.0} | {rms:.3} | {:.1} % |\n", by.word(), 100.0 * inside / n)
}

/// What 95 % of the values are below, and the greatest; 0 without any.
fn worst(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    let at = |k: usize| values.get(k).copied().unwrap_or(0.0);
    (at(values.len() * 95 / 100), at(values.len().saturating_sub(1)))
}

fn row(class: &[&Found]) -> String {
    let n = class.len() as f64;
    let kind_of = |found: &&&Found| found.spot.as_ref().map(|spot| spot.kind == found.truth.kind);
    let right: Vec<f64> = class
        .iter()
        .filter(|found| kind_of(found) == Some(true))
        .filter_map(|found| Some(found.spot.as_ref()?.centre.distance(found.truth.centre).powi(2)))
        .collect();
    let wrong = class.iter().filter(|found| kind_of(found) == Some(false)).count() as f64;
    let share = |k: f64| if n > 0.0 { format!("{:.1}", 100.0 * k / n) } else { "none".into() };
    let n_right = right.len() as f64;
    let rms = if right.is_empty() {
        "none".into()
    } else {
        format!("{:.3}", (right.iter().sum::<f64>() / (2.0 * n_right)).sqrt())
    };
    format!("{} | {} | {} | {rms} |", class.len(), share(n_right), share(wrong))
}

/// A frame's targets with what was found, and how many finds are no target.
fn seen(seed: u64, noise: f64) -> Result<(Vec<Found>, u32)> {
    let (truths, image) = frame(seed, noise)?;
    let spots = spot(&image.view(), &SpotOptions::default())?;
    let is_at =
        |spot: &Spot, truth: &Truth| spot.centre.distance(truth.centre) < (0.2 * truth.radius_px).max(2.0);
    let stray = spots.iter().filter(|spot| !truths.iter().any(|truth| is_at(spot, truth))).count();
    let found = truths.into_iter().map(|truth| {
        let there = spots.iter().filter(|spot| is_at(spot, &truth));
        let spot = there.max_by_key(|spot| spot.kind == truth.kind).cloned();
        Found { truth, noise, spot }
    });
    Ok((found.collect(), u32::try_from(stray)?))
}
