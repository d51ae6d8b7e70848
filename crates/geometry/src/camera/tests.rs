//! Tests of posed cameras: round trips, and partial derivatives beside differences.

use super::*;

fn camera() -> PosedCamera {
    let lens = Lens {
        k1: -0.12,
        k2: 0.03,
        p1: 1e-3,
        p2: -5e-4,
        fy_px: 1996.0,
        ..Lens::pinhole(2000.0, 650.0, 350.0)
    };
    let pose =
        CameraPose::looking_at(SpacePoint::new(1.0, 9.0, 1.6), SpacePoint::new(1.4, 0.0, 0.8)).unwrap();
    PosedCamera::exact(lens, pose.moved(&[0.01, -0.02, 0.03, 0.0, 0.0, 0.0]))
}

const PLANE: SpacePlane =
    SpacePlane { through: SpacePoint { x_m: 0.0, y_m: 0.4, z_m: 0.0 }, normal: [0.1, 2.0, -0.05] };

#[test]
fn a_ray_meets_the_plane_where_the_camera_sees_the_pixel() {
    let camera = camera();
    let seen = PixelPoint::new(900.0, 200.0);
    let crossing = camera.ray(seen).unwrap().meets(&PLANE).unwrap();
    assert!(camera.image_of(crossing.at).unwrap().distance(seen) < 1e-8);
    let off = Vector3::from(PLANE.normal).dot(&(vector(crossing.at) - vector(PLANE.through)));
    assert!(off.abs() < 1e-12);
    assert!(camera.image_of(SpacePoint::new(1.0, 30.0, 1.0)).is_none(), "behind the camera");
}

#[test]
fn planes_out_of_reach_are_refused() {
    let ray = camera().ray(PixelPoint::new(900.0, 200.0)).unwrap();
    let behind = SpacePlane { through: SpacePoint::new(0.0, 20.0, 0.0), normal: [0.0, 1.0, 0.0] };
    assert!(ray.meets(&behind).is_err());
    let [x, y, _] = ray.direction;
    assert!(ray.meets(&SpacePlane { through: SpacePoint::default(), normal: [-y, x, 0.0] }).is_err());
    let down = SpacePoint::new(0.0, 0.0, 5.0);
    assert!(CameraPose::looking_at(down, SpacePoint::default()).is_err());
}

#[test]
fn partial_derivatives_agree_with_differences() {
    let (camera, seen) = (camera(), PixelPoint::new(1100.0, 150.0));
    let at = |camera: &PosedCamera, seen: PixelPoint, plane: &SpacePlane| {
        vector(camera.ray(seen).unwrap().meets(plane).unwrap().at)
    };
    let crossing = camera.ray(seen).unwrap().meets(&PLANE).unwrap();
    let close = |up: Vector3<f64>, down: Vector3<f64>, step: f64, slopes: [f64; 3]| {
        let slope = (up - down) / (2.0 * step);
        let away = (slope - Vector3::from(slopes)).norm();
        assert!(away <= 1e-5 * slope.norm() + 1e-9, "{slope} {slopes:?}");
    };
    for k in 0..2 {
        let step = |s: f64| at(&camera, seen.moved(s * f64::from(k == 0), s * f64::from(k == 1)), &PLANE);
        close(step(1e-2), step(-1e-2), 1e-2, crossing.by_pixel.map(|row| row[k]));
    }
    for k in 0..6 {
        let step = |s: f64| {
            let mut by = [0.0; 6];
            by[k] = s;
            at(&PosedCamera { pose: camera.pose.moved(&by), ..camera }, seen, &PLANE)
        };
        close(step(1e-5), step(-1e-5), 1e-5, crossing.by_pose.map(|row| row[k]));
    }
    for (k, size) in [1.0, 1.0, 1.0, 1.0, 1e-3, 1e-3, 1e-3, 1e-4, 1e-4].into_iter().enumerate() {
        let step = |s: f64| {
            let mut lens = camera.lens;
            let terms = [
                &mut lens.fx_px,
                &mut lens.fy_px,
                &mut lens.cx_px,
                &mut lens.cy_px,
                &mut lens.k1,
                &mut lens.k2,
                &mut lens.k3,
                &mut lens.p1,
                &mut lens.p2,
            ];
            for (i, term) in terms.into_iter().enumerate() {
                *term += if i == k { s } else { 0.0 };
            }
            at(&PosedCamera { lens, ..camera }, seen, &PLANE)
        };
        close(step(size), step(-size), size, crossing.by_lens.map(|row| row[k]));
    }
    let n = Vector3::from(PLANE.normal).normalize();
    let shifted = |s: f64| SpacePlane { through: point(vector(PLANE.through) + n * s), ..PLANE };
    close(at(&camera, seen, &shifted(1e-3)), at(&camera, seen, &shifted(-1e-3)), 1e-3, crossing.by_shift);
}
