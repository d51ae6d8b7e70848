//! Lens files read, written and refused.

use super::*;

const FILE: &str = "# side camera\n[lens]\nfx_px = 2000\nfy_px = 2001.5\ncx_px = 640.2\ncy_px = 224.9\nk1 = -0.12\n\
                    u_fx_px = 3.0\nu_k1 = 0.002\nwidth_px = 1280\nheight_px = 448\n";

#[test]
fn reads_what_it_writes() {
    let file = LensFile::parse(FILE, "side.toml").unwrap();
    assert_eq!(file.size_px, Some((1280, 448)));
    assert!((file.lens.k1 + 0.12).abs() < 1e-15 && (file.u[4] - 0.002).abs() < 1e-15);
    assert_eq!(LensFile::parse(&file.to_toml(), "again.toml").unwrap(), file);
    assert!((file.perturbed(0, 1.0).fx_px - 2003.0).abs() < 1e-12);
    assert_eq!(file.perturbed(9, 1.0), file.lens);
}

#[test]
fn faults_name_file_and_line() {
    for (from, to, line) in [
        ("k1 = -0.12", "k7 = 1.0", "line 7"),
        ("fx_px = 2000", "fx_px = -2000", "line 3"),
        ("cy_px = 224.9", "cy_px = nan", "line 6"),
        ("u_k1 = 0.002", "u_k1 = -1", "line 9"),
        ("cx_px = 640.2", "cx_px = \"left\"", "line 5"),
        ("[lens]", "[lense]", "line 2"),
    ] {
        let error = LensFile::parse(&FILE.replacen(from, to, 1), "side.toml").unwrap_err().to_string();
        assert!(error.starts_with("side.toml") && error.contains(line), "{error}");
    }
}

fn correlated() -> LensFile {
    let mut correlation = axes::UNCORRELATED;
    for (i, j, value) in [(0, 1, 0.9), (4, 5, -0.95), (5, 6, -0.8), (4, 6, 0.85), (2, 8, 0.3)] {
        correlation[i][j] = value;
        correlation[j][i] = value;
    }
    let u = [0.4, 0.5, 0.3, 0.35, 0.002, 0.01, 0.02, 1e-4, 2e-4];
    let lens = Lens { k1: -0.28, k2: 0.1, k3: -0.02, p1: 1e-3, ..Lens::pinhole(533.0, 342.0, 234.0) };
    LensFile {
        correlation,
        field_radius_px: Some(380.25),
        rms_px: Some(0.16),
        n_views: Some(13),
        ..LensFile::of(lens, u, Some((640, 480)))
    }
}

#[test]
fn correlation_field_and_views_are_kept() {
    let file = correlated();
    assert_eq!(LensFile::parse(&file.to_toml(), "again.toml").unwrap(), file);
}

#[test]
fn moves_along_the_axes_add_up_to_the_covariance() {
    for file in [correlated(), LensFile { correlation: axes::UNCORRELATED, ..correlated() }] {
        let base = terms(&file.lens);
        let moves: Vec<[f64; 9]> = (0..9)
            .map(|axis| {
                let moved = terms(&file.perturbed(axis, 1.0));
                std::array::from_fn(|term| moved[term] - base[term])
            })
            .collect();
        for (i, row) in file.covariance().iter().enumerate() {
            for (j, value) in row.iter().enumerate() {
                let sum: f64 = moves.iter().map(|by| by[i] * by[j]).sum();
                assert!((sum - value).abs() < 1e-6 * file.u[i] * file.u[j], "{i} {j}: {sum} {value}");
            }
        }
    }
}

#[test]
fn the_field_is_a_radius_about_the_principal_point() {
    let file = correlated();
    assert!(
        file.covers(PixelPoint::new(342.0 + 380.0, 234.0))
            && !file.covers(PixelPoint::new(342.0, 234.0 - 381.0))
    );
    assert!(LensFile { field_radius_px: None, ..file }.covers(PixelPoint::new(1e6, 0.0)));
}

#[test]
fn correlations_that_cannot_be_are_refused() {
    let text = correlated().to_toml();
    for (from, to, part) in [
        ("[1.0, 0.9, ", "[1.0, 0.8, ", "symmetric"),
        ("[1.0, 0.9, ", "[1.0, ", "9 rows of 9"),
        ("0.85", "-0.85", "negative eigenvalue"),
        ("0.9", "1.9", "from -1 to 1"),
        ("field_radius_px = 380.25", "field_radius_px = -1", "0 or more"),
    ] {
        let error = LensFile::parse(&text.replace(from, to), "side.toml").unwrap_err().to_string();
        assert!(error.contains(part), "{error}");
    }
}

/// Laid out as OpenCV's calibration writes it, with a list over two lines.
const YAML: &str = "%YAML:1.0\n---\ncalibration_time: \"Sat 28 Nov\"\nnframes: 13\nimage_width: 640\nimage_height: 480\n\
    flags: 2\ncamera_matrix: !!opencv-matrix\n   rows: 3\n   cols: 3\n   dt: d\n   data: [ 5.359e+02, 0., 3.4228e+02, 0.,\n\
    \x20      536.1, 2.3557e+02, 0., 0., 1. ]\ndistortion_coefficients: !!opencv-matrix\n   rows: 5\n   cols: 1\n   dt: d\n\
    \x20  data: [ -0.265, -0.047, 1.8e-03, -3.1e-04, 0.252 ]\navg_reprojection_error: 0.39\n";

#[test]
fn opencv_files_are_told_by_their_content() {
    let file = LensFile::parse(YAML, "left.yml").unwrap();
    let lens = file.lens;
    assert_eq!([lens.fx_px, lens.fy_px, lens.cx_px, lens.cy_px], [535.9, 536.1, 342.28, 235.57]);
    assert_eq!([lens.k1, lens.k2, lens.p1, lens.p2, lens.k3], [-0.265, -0.047, 1.8e-3, -3.1e-4, 0.252]);
    assert_eq!((file.size_px, file.n_views, file.rms_px), (Some((640, 480)), Some(13), Some(0.39)));
    assert_eq!(LensFile::parse(&file.to_opencv_yaml(), "again.yml").unwrap(), file);
}

#[test]
fn opencv_files_with_more_than_this_lens_are_refused() {
    for (from, to, part) in [
        ("rows: 5", "rows: 6", "as many numbers"),
        ("0.252 ]", "0.252, 0.1, 0.0, 0.0 ]", "as many numbers"),
        ("camera_matrix", "M1", "camera_matrix is missing"),
        ("5.359e+02, 0.,", "5.359e+02, 1.,", "fx 0 cx"),
        ("536.1", "nan", "finite numbers"),
        ("536.1", "-536.1", "greater than 0"),
        ("image_width: 640", "image_width: wide", "whole number"),
    ] {
        let error = LensFile::parse(&YAML.replacen(from, to, 1), "left.yml").unwrap_err().to_string();
        assert!(error.starts_with("left.yml, line ") && error.contains(part), "{error}");
    }
    let eight = YAML.replace("rows: 5", "rows: 8").replace("0.252 ]", "0.252, 0.1, 0.0, 0.0 ]");
    let error = LensFile::parse(&eight, "left.yml").unwrap_err().to_string();
    assert!(error.contains("without further terms"), "{error}");
}
