//! Turns what was seen into a mark: how much to trust it, and what speaks against it.

use super::Mark;
use super::attempt::Seen;
use super::options::FollowOptions;
use filmgauge_quantities::MarkState;

/// A test whose share falls below this is named in the reason.
const NAMED_BELOW: f64 = 0.7;

/// Least share that one test leaves: it passed, after all.
const LEAST_SHARE: f64 = 0.2;

/// The mark for a target that passed all tests.
pub(super) fn mark(seen: &Seen, options: &FollowOptions) -> Mark {
    let tests: [(f64, &dyn Fn() -> String); 6] = [
        (share(seen.zncc, options.least_zncc, 0.9), &|| format!("likeness {:.2}", seen.zncc)),
        (share(seen.contrast_ratio, options.least_contrast_ratio, 0.7), &|| {
            format!("contrast {:.0} % of the start's", seen.contrast_ratio * 100.0)
        }),
        (share(seen.widening, options.greatest_widening, 1.3), &|| {
            format!("uneven cover, variance widened {:.1} times", seen.widening)
        }),
        (share(seen.jump_sigmas, options.greatest_jump_sigmas, 3.0), &|| {
            format!("{:.1} standard deviations from where it was expected", seen.jump_sigmas)
        }),
        (share(seen.rival_share, options.greatest_second_share, 0.7), &|| {
            format!("another place alike, {:.0} % as much", seen.rival_share * 100.0)
        }),
        (share(seen.saturated_share, options.locate.greatest_saturated_share, 0.1), &|| {
            format!("{:.0} % saturated", seen.saturated_share * 100.0)
        }),
    ];
    let doubts = seen.doubts.iter().map(|(factor, _)| factor);
    let trust = tests.iter().map(|(share, _)| share).chain(doubts).product();
    let mut reasons: Vec<String> = Vec::new();
    if seen.is_guided {
        reasons.push("found where its body puts it".to_owned());
    }
    reasons.extend(tests.iter().filter(|(share, _)| *share < NAMED_BELOW).map(|(_, words)| words()));
    reasons.extend(seen.doubts.iter().map(|(_, why)| why.clone()));
    Mark {
        centre: seen.centre,
        cov: seen.cov,
        state: MarkState::Found,
        trust,
        reason: reasons.join("; "),
        zncc: Some(seen.zncc),
        ways_apart_px: None,
    }
}

/// 1 at `good` or better, falling to [`LEAST_SHARE`] at `limit`.
fn share(value: f64, limit: f64, good: f64) -> f64 {
    let way = if (good - limit).abs() < 1e-9 { 1.0 } else { (value - limit) / (good - limit) };
    LEAST_SHARE + (1.0 - LEAST_SHARE) * way.clamp(0.0, 1.0)
}
