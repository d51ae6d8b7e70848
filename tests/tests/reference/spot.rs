//! Corners of chessboard photographs (Debian package opencv-doc) against OpenCV's findChessboardCorners, cornerSubPix.

use anyhow::{Result, ensure};
use filmgauge_tests::accuracy::spot::agreement;

/// Tolerances are those of two methods on real photographs, whose truth nobody knows: common practice, no source.
#[test]
fn corners_of_a_chessboard_are_found_where_opencv_finds_them() -> Result<()> {
    let names = ["left01.jpg", "left06.jpg", "right03.jpg"].map(str::to_owned);
    let sum = agreement(&names)?;
    ensure!(sum.n_pictures == 3 && sum.n_theirs == 3 * 54, "{sum:?}");
    ensure!(100 * sum.n_both >= 98 * sum.n_theirs, "{sum:?}");
    ensure!(sum.rms_px.is_some_and(|rms| rms < 0.15), "{sum:?}");
    Ok(())
}
