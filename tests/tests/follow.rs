//! Following must carry every target through dust, flash, glare, crossings, plates and leaps without a wrong mark that it
//! trusts; hidden targets must lie inside their bands. The full table is in `docs/accuracy.md`.

use anyhow::{Result, ensure};
use filmgauge_tests::accuracy::follow::{Kind, Score, coded, scores};

/// Films of each kind.
const N_EACH: u64 = 2;

#[test]
fn light_films_come_back_with_their_truth() -> Result<()> {
    let scores = scores(N_EACH)?;
    for (kind, score) in &scores {
        println!("{}: {score:?}", kind.title());
        ensure!(score.swaps == 0, "{}: {} swaps", kind.title(), score.swaps);
        ensure!(score.wrong_trusted == 0, "{}: {} wrong marks trusted", kind.title(), score.wrong_trusted);
        ensure!(score.outside_trusted == 0, "{}: {} marks outside", kind.title(), score.outside_trusted);
        let least = if *kind == Kind::Alone { 0.7 } else { 0.95 };
        ensure!(
            score.made as f64 >= least * score.clear as f64,
            "{}: {} of {} clear marks made",
            kind.title(),
            score.made,
            score.clear
        );
    }
    let all = scores.iter().fold(Score::default(), |all, (_, one)| all.with(one));
    let share = all.inferred_inside as f64 / all.inferred as f64;
    ensure!(all.inferred > 200 && share > 0.88, "{} inferred, {share:.3} inside", all.inferred);
    Ok(())
}

#[test]
fn coding_with_loss_takes_no_marks_away() -> Result<()> {
    for (crf, keyint) in [(20, 60), (23, 1)] {
        let score = coded(0, crf, keyint)?;
        println!("crf {crf}, key frame each {keyint}: {score:?}");
        ensure!(score.made * 1000 >= 995 * score.clear, "{} of {} clear marks made", score.made, score.clear);
        ensure!(score.inside * 100 >= 90 * score.found, "{} of {} inside", score.inside, score.found);
        ensure!(score.outside_trusted + score.wrong_trusted == 0, "{score:?}");
    }
    Ok(())
}
