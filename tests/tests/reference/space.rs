//! Homographies, camera poses and points in space against OpenCV on the same points, against a published homography, and
//! whether their 95 % intervals hold the truth.

use crate::python::ask;
use anyhow::{Context, Result, ensure};
use filmgauge_geometry::{HomographyOptions, PlaneControl, homography};
use filmgauge_quantities::{PixelCov, PixelPoint, PlaneCov, PlanePoint};
use filmgauge_tests::accuracy::geometry::draws::Tally;
use filmgauge_tests::accuracy::geometry::offsets::{OFFSET_S, SPEED_M_S, offset_row};
use filmgauge_tests::accuracy::geometry::peers::{EVEN, PeerRow, UNEVEN, homographies, points, poses, turns};
use filmgauge_tests::accuracy::geometry::planes::{CASES, plane_row};
use serde_json::json;

/// Draws of a share inside 95 %.
const N_DRAWS: u64 = 400;

#[expect(clippy::print_stdout, reason = "the figures that the accuracy page states")]
fn told(what: &str, row: &PeerRow) {
    println!(
        "{what}: {:.4} mm, u {:.4} mm, {:.1} % inside; peers {:?}, apart {:?}",
        row.ours.rms * 1e3,
        row.ours.stated * 1e3,
        row.ours.inside * 100.0,
        row.peers,
        row.apart
    );
}

#[expect(clippy::print_stdout, reason = "the figures that the accuracy page states")]
fn holds(what: &str, tally: &Tally) -> Result<()> {
    println!("{what}: {tally:?}");
    ensure!((0.93..=0.97).contains(&tally.inside), "{what}: {:.1} % inside", tally.inside * 100.0);
    Ok(())
}

fn apart(row: &PeerRow, name: &str) -> Result<f64> {
    Ok(row.apart.iter().find(|(peer, _)| *peer == name).context("no such peer")?.1)
}

/// With marks that are all alike and an exact survey, `findHomography` and `solvePnP(ITERATIVE)` seek the same least sum of
/// squares: what is apart is where their steps stop, a thousandth of the error. SQPNP and IPPE minimise errors in space or of
/// the plane's slopes, and `triangulatePoints` an algebraic error: theirs are other optima, no nearer to the truth.
#[test]
fn the_same_marks_give_what_opencv_gives() -> Result<()> {
    let plane = homographies(100, EVEN)?;
    told("homography", &plane);
    ensure!(apart(&plane, "findHomography")? < 5e-3 * plane.ours.rms, "{plane:?}");
    for is_planar in [true, false] {
        let row = poses(100, is_planar, EVEN)?;
        told(if is_planar { "pose, plane" } else { "pose, space" }, &row);
        ensure!(apart(&row, "iterative")? < 5e-3 * row.ours.rms, "{row:?}");
        for (name, rms) in &row.peers {
            ensure!(row.ours.rms < 1.1 * rms, "{name}: {row:?}");
        }
    }
    let row = points(100, EVEN, false)?;
    told("point", &row);
    ensure!(apart(&row, "triangulatePoints")? < 3.0 * row.ours.rms, "{row:?}");
    ensure!(row.ours.rms <= 1.02 * row.peers[0].1, "{row:?}");
    Ok(())
}

/// Weights by the covariance of marks and survey: nearer to the truth than any peer that takes none.
#[test]
fn uneven_marks_are_weighed() -> Result<()> {
    for (what, row) in [
        ("homography", homographies(N_DRAWS, UNEVEN)?),
        ("pose, plane", poses(N_DRAWS, true, UNEVEN)?),
        ("pose, space", poses(N_DRAWS, false, UNEVEN)?),
    ] {
        told(what, &row);
        for (name, rms) in &row.peers {
            ensure!(row.ours.rms < *rms, "{what}, {name}: {row:?}");
        }
        holds(what, &row.ours)?;
    }
    Ok(())
}

/// 400 draws of 3 coordinates or turns each; a true 95 % lies within 93 to 97 % but for one time in a thousand and more, the
/// three being akin.
#[test]
fn intervals_of_poses_and_points_hold_the_truth() -> Result<()> {
    for is_planar in [true, false] {
        holds("turns", &turns(N_DRAWS, is_planar, UNEVEN)?)?;
        holds("places of the camera", &poses(N_DRAWS, is_planar, EVEN)?.ours)?;
    }
    holds("points, poses known", &points(N_DRAWS, EVEN, false)?.ours)?;
    holds("points, poses found", &points(N_DRAWS, UNEVEN, true)?.ours)
}

/// Offsets, inclinations and slants: what the plane takes out, and that its budget is true. The mean of the raw reading is
/// computed from D / (D - d) for the first planes.
#[test]
fn planes_take_out_offset_inclination_and_slant() -> Result<()> {
    for case in &CASES {
        let row = plane_row(case, N_DRAWS)?;
        println!("{case:?}: before {:+.1} mm", row.before * 1e3);
        holds("travel", &row.after)?;
        if case.inclination_deg == 0.0 && case.slant_deg == 0.0 {
            let expected = 3.0 * (case.distance_m / (case.distance_m - case.offset_m) - 1.0);
            ensure!((row.before - expected).abs() < 1e-3, "{} against {expected}", row.before);
        }
    }
    Ok(())
}

/// Raguse & Heipke 2006 report tenfold accuracy from an asynchronism taken as an unknown, at 0.8 ms and 7 m/s. Here 0.8 ms at
/// 15 m/s shift a camera by 12 mm before braking.
#[test]
fn a_time_offset_is_taken_out() -> Result<()> {
    let row = offset_row(N_DRAWS, None)?;
    println!("{row:?}");
    ensure!(row.offset.rms < 0.02 * OFFSET_S, "{row:?}");
    ensure!(row.before_m > 0.2 * OFFSET_S * SPEED_M_S && row.after.rms < 0.1 * row.before_m, "{row:?}");
    holds("offset", &row.offset)?;
    holds("places", &row.after)
}

/// Published: the homography between two photographs of a painted wall, H1to3p.xml of Debian's package opencv-doc. OpenCV's SIFT
/// finds the same spots in both; 2 px is what the published matrix and those spots agree to.
#[test]
fn a_published_homography_comes_back() -> Result<()> {
    let answer = ask("graf.py", &json!({ "folder": "/usr/share/doc/opencv-doc/examples/data" }))?;
    let pairs: Vec<[f64; 4]> = serde_json::from_value(answer["pairs"].clone())?;
    let published: [[f64; 3]; 3] = serde_json::from_value(answer["published"].clone())?;
    // Hundredths of a pixel stand for millimetres: any unit will do.
    let plane = |x: f64, y: f64| PlanePoint::new(x * 0.01, y * 0.01);
    let controls: Vec<PlaneControl> = pairs
        .iter()
        .enumerate()
        .map(|(i, &[x, y, u, v])| PlaneControl {
            id: format!("S{i}"),
            at: plane(x, y),
            at_cov: PlaneCov::default(),
            seen: PixelPoint::new(u, v),
            seen_cov: PixelCov::round(1.0),
        })
        .collect();
    let found = homography(&controls, &HomographyOptions::default())?;
    ensure!(controls.len() >= 20, "only {} spots", controls.len());
    let mut worst = 0.0_f64;
    for [x, y, ..] in &pairs {
        let [a, b, c] = published.map(|row| row[0] * x + row[1] * y + row[2]);
        let ours = found.image_of(plane(*x, *y)).context("before the camera")?;
        worst = worst.max(ours.distance(PixelPoint::new(a / c, b / c)));
    }
    println!("{} spots, residual {:.2} px, greatest difference {worst:.2} px", controls.len(), found.rms_px);
    ensure!(worst < 2.0, "{worst} px apart");
    Ok(())
}
