//! From film to steadied marks: holes located, steps fitted, marks of a woven film brought back, each within its doubt.

#![expect(clippy::unwrap_used, reason = "a test that cannot set itself up has failed")]

use filmgauge_geometry::{FixedMark, SteadyOptions, SteadyRow, steady_from_image, steady_table};
use filmgauge_proving::{ClockFilm, ScanFlaws, WeaveSetup, clock_film, clock_scene};
use filmgauge_quantities::PixelPoint;
use filmgauge_targets::{
    BlemishOptions, EdgeBox, EdgeOptions, LocateOptions, blemishes, locate, locate_perforation,
};

fn woven(seed: u64, scan: Option<ScanFlaws>) -> ClockFilm {
    let mut scene = clock_scene(seed, 1);
    let camera = &mut scene.cameras[0];
    camera.weave = Some(WeaveSetup { shift_sd_px: 0.7, turn_sd_deg: 0.05 });
    camera.scan = scan;
    camera.perforations.iter_mut().for_each(|hole| hole.size_px = [12.4, 22.6]);
    clock_film(&scene, 0).unwrap()
}

fn holes(film: &ClockFilm) -> Vec<Vec<Option<FixedMark>>> {
    let options = EdgeOptions { search_px: 2.5, corner_px: 1.5, reach_px: 3.0, ..EdgeOptions::default() };
    let read = |frame: &filmgauge_quantities::GreyImage, left: f64| {
        let near = EdgeBox { left, right: left + 12.4, top: 39.3, bottom: 61.9 };
        let hole = locate_perforation(&frame.view(), &near, &options).ok()?;
        Some(FixedMark { point: hole.centre, cov: hole.cov })
    };
    film.frames.iter().map(|frame| [5.2, 141.9].map(|left| read(frame, left)).to_vec()).collect()
}

/// How far the marks of a ground target wander over the film, px, as read and as steadied; and how often the steadied
/// mark lies within the 95 % region that its covariance states.
struct Wander {
    read_px: f64,
    steadied_px: f64,
    n: usize,
    held: usize,
}

fn wander(film: &ClockFilm) -> Wander {
    let marks = holes(film);
    let (steps, _) = steady_table(&marks[0], &marks, &SteadyOptions::default());
    let mut wander = Wander { read_px: 0.0, steadied_px: 0.0, n: 0, held: 0 };
    for target in ["G1", "G2"] {
        let truth = |frame: usize| {
            let mark = film.marks.iter().find(|mark| {
                mark.target == target && usize::try_from(mark.frame).unwrap() == frame && mark.visible
            });
            mark.map(|mark| (PixelPoint::new(mark.x_px, mark.y_px), mark.radius_px))
        };
        let Some((home, _)) = truth(0) else { continue };
        for (frame, step) in steps.iter().enumerate().skip(1) {
            let (Some((near, radius)), Ok(step)) = (truth(frame), step) else { continue };
            let Ok(found) = locate(&film.frames[frame].view(), near, radius, &LocateOptions::default())
            else {
                continue;
            };
            let (at, cov) = steady_from_image(found.centre, &found.cov, step).unwrap();
            wander.read_px += found.centre.distance(home).powi(2);
            wander.steadied_px += at.distance(home).powi(2);
            wander.held += usize::from(cov.mahalanobis2(at.x - home.x, at.y - home.y).unwrap() < 5.991);
            wander.n += 1;
        }
    }
    wander
}

#[test]
fn marks_of_a_woven_film_come_back_within_their_doubt() {
    let mut sum = Wander { read_px: 0.0, steadied_px: 0.0, n: 0, held: 0 };
    for seed in 1..=5 {
        let one = wander(&woven(seed, None));
        sum.read_px += one.read_px;
        sum.steadied_px += one.steadied_px;
        (sum.n, sum.held) = (sum.n + one.n, sum.held + one.held);
    }
    let n = f64::from(u32::try_from(sum.n).unwrap());
    let (read, steadied) = ((sum.read_px / n).sqrt(), (sum.steadied_px / n).sqrt());
    let share = f64::from(u32::try_from(sum.held).unwrap()) / n;
    println!(
        "{} marks: wander {read:.3} px as read, {steadied:.4} px steadied; {share:.3} within 95 %",
        sum.n
    );
    assert!(read > 0.5 && steadied < 0.05, "{read} {steadied}");
    assert!((0.90..=0.99).contains(&share), "{share}");
}

#[test]
fn the_table_of_steps_is_the_truth_within_its_doubt() {
    let film = woven(31, None);
    let marks = holes(&film);
    let (_, rows): (_, Vec<SteadyRow>) = steady_table(&marks[0], &marks, &SteadyOptions::default());
    let turn_0 = film.truth.frames[0].weave_turn_rad;
    let mut n = 0;
    for (row, truth) in rows.iter().zip(&film.truth.frames) {
        let (Some(turn), Some(u)) = (row.turn_rad, row.u_turn_rad) else { continue };
        assert!((turn - (truth.weave_turn_rad - turn_0)).abs() < 4.5 * u, "frame {}", row.frame);
        n += 1;
    }
    assert!(n >= rows.len() * 9 / 10, "{n} of {}", rows.len());
}

#[test]
fn specks_of_a_scan_are_marked() {
    let scan = ScanFlaws { specks: 6, speck_radius_px: [1.5, 3.0], flaw_grey: 235.0, ..ScanFlaws::default() };
    let mut scene = clock_scene(6, 1);
    scene.cameras[0].scan = Some(scan);
    let film = clock_film(&scene, 0).unwrap();
    let (mut seen, mut all) = (0, 0);
    // The region between the holes and below the moving target stands still.
    for k in 1..film.frames.len() - 1 {
        let patch = |frame: usize| film.frames[frame].view().patch(42, 56, 78, 36).unwrap();
        let mask = blemishes(&patch(k - 1), &patch(k), &patch(k + 1), &BlemishOptions::default()).unwrap();
        for flaw in &film.truth.frames[k].flaws {
            let filmgauge_proving::Flaw::Speck { at, .. } = flaw else { continue };
            let (x, y) = (at.x - 42.0, at.y - 56.0);
            if (3.0..75.0).contains(&x) && (3.0..33.0).contains(&y) {
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "inside the patch"
                )]
                let index = y.round() as usize * 78 + x.round() as usize;
                all += 1;
                seen += usize::from(mask.marked[index]);
            }
        }
    }
    assert!(all > 40 && seen * 100 >= all * 97, "{seen} of {all}");
}
