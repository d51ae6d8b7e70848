//! Tests of the plane of motion: scale, parallax, axes and round trips.

use super::*;
use filmgauge_quantities::Uncertain;

fn board(length_m: f64, n_px: f64, u_px: f64, u_length_mm: f64) -> Board {
    Board {
        from: PixelPoint::new(240.0, 650.0),
        to: PixelPoint::new(240.0 + n_px, 650.0),
        length: Uncertain::new(Length::from_m(length_m), Length::from_mm(u_length_mm)),
        reading_u_px: u_px,
        distance: Some(Uncertain::new(Length::from_m(15.0), Length::from_m(0.05))),
    }
}

fn map(board: &Board) -> PlaneMap {
    of_board(board, None).unwrap()
}

fn of_board(board: &Board, lens: Option<&Lens>) -> Result<PlaneMap, GeometryError> {
    PlaneMap::of_board(ViewPlane::Side, board, &[], lens, PixelPoint::new(640.0, 360.0))
}

fn near(offset_m: f64) -> PlaneOf {
    Length::from_m(offset_m).into()
}

fn lens() -> Lens {
    Lens { k1: -0.12, k2: 0.03, p1: 1e-3, p2: -5e-4, fy_px: 1996.0, ..Lens::pinhole(2000.0, 650.0, 350.0) }
}

#[test]
fn scale_and_its_doubt() {
    // Computed from s = L / N and (u(s)/s)² = (u(L)/L)² + 2 (u_px/N)².
    for (length_m, n_px, u_px, u_mm, s_mm, percent) in [
        (2.0, 800.0, 0.3, 1.0, 2.5, 0.072_886_9),
        (1.0, 200.0, 0.5, 1.0, 5.0, 0.367_423),
        (3.0, 1500.0, 0.2, 2.0, 2.0, 0.069_282_0),
    ] {
        let map = map(&board(length_m, n_px, u_px, u_mm));
        assert!((map.metres_per_px() * 1e3 - s_mm).abs() < 1e-12);
        assert!((map.scale_relative_u() * 100.0 - percent).abs() < 5e-7, "{}", map.scale_relative_u());
    }
}

#[test]
fn a_nearer_plane_is_scaled_down() {
    // Computed from apparent / true = D / (D - d): a target 0.9 m nearer at 15 m reads 6.383 % too much.
    let map = map(&board(2.0, 800.0, 0.3, 1.0));
    let cov = PixelCov::round(0.1);
    let at = |x: f64, d_m: f64| map.plane_from_image(PixelPoint::new(x, 400.0), &cov, near(d_m)).unwrap();
    let near = at(900.0, 0.9).0.x_m - at(700.0, 0.9).0.x_m;
    let board_plane = at(900.0, 0.0).0.x_m - at(700.0, 0.0).0.x_m;
    assert!((board_plane / near - 1.063_829_787).abs() < 1e-9);
    assert!((at(700.0, 0.9).1.xx.sqrt() - 0.1 * 0.0025 * 0.94).abs() < 1e-15);
}

#[test]
fn z_points_up_in_both_directions_of_travel() {
    let rightwards = board(2.0, 800.0, 0.3, 1.0);
    let leftwards = Board { from: rightwards.to, to: rightwards.from, ..rightwards };
    let above = PixelPoint::new(640.0, 300.0);
    for board in [rightwards, leftwards] {
        let side = map(&board).plane_from_image(above, &PixelCov::default(), near(0.0)).unwrap().0;
        assert!((side.z_m - 0.875).abs() < 1e-12 && (side.x_m - 1.0).abs() < 1e-12);
    }
    let overhead =
        PlaneMap::of_board(ViewPlane::Overhead, &leftwards, &[], None, PixelPoint::new(640.0, 360.0))
            .unwrap();
    let left = overhead.plane_from_image(above, &PixelCov::default(), near(0.0)).unwrap().0;
    assert!((left.z_m + 0.875).abs() < 1e-12, "right of a vehicle that travels to the left of the picture");
}

#[test]
fn an_offset_needs_a_distance() {
    let board = Board { distance: None, ..board(2.0, 800.0, 0.3, 1.0) };
    let point = PixelPoint::new(700.0, 400.0);
    let blind = map(&board).plane_from_image(point, &PixelCov::default(), near(0.5)).unwrap_err();
    assert!(matches!(blind, GeometryError::DistanceUnknown { .. }));
    let lens = Lens::pinhole(6000.0, 640.0, 360.0);
    let seen = of_board(&board, Some(&lens)).unwrap();
    assert!((seen.distance_m().unwrap() - 15.0).abs() < 1e-9);
    let behind = seen.plane_from_image(point, &PixelCov::default(), near(15.0)).unwrap_err();
    assert!(matches!(behind, GeometryError::OffsetReachesCamera { .. }));
}

#[test]
fn boards_that_give_no_scale_are_refused() {
    let good = board(2.0, 800.0, 0.3, 1.0);
    let zero = Uncertain::new(Length::from_m(0.0), Length::from_m(0.0));
    for bad in [
        Board { length: zero, ..good },
        Board { to: good.from, ..good },
        Board { reading_u_px: -1.0, ..good },
        Board { distance: Some(zero), ..good },
        Board { from: PixelPoint::new(f64::NAN, 0.0), ..good },
    ] {
        assert!(of_board(&bad, None).is_err());
    }
}

proptest::proptest! {
    #[test]
    fn image_from_plane_inverts_plane_from_image(x in 100.0_f64..1200.0, y in 50.0_f64..650.0, d in -1.0_f64..1.0) {
        let map = of_board(&board(2.0, 800.0, 0.3, 1.0), Some(&lens())).unwrap();
        let offset = near(d);
        let (plane, _) = map.plane_from_image(PixelPoint::new(x, y), &PixelCov::default(), offset).unwrap();
        proptest::prop_assert!(map.image_from_plane(plane, offset).unwrap().distance(PixelPoint::new(x, y)) < 1e-8);
    }

    #[test]
    fn covariance_agrees_with_differences(x in 100.0_f64..1200.0, y in 50.0_f64..650.0) {
        let map = of_board(&board(2.0, 800.0, 0.3, 1.0), Some(&lens())).unwrap();
        let cov = PixelCov { xx: 1.0, xy: 0.0, yy: 0.0 };
        let at = |dx: f64| map.plane_from_image(PixelPoint::new(x + dx, y), &cov, near(0.8)).unwrap();
        let slope = (at(1e-3).0 - at(-1e-3).0).x_m / 2e-3;
        proptest::prop_assert!((at(0.0).1.xx.sqrt() - slope.abs()).abs() < 1e-9);
    }
}
