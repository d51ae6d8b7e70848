//! One camera's view: world points to stored pixels through the true lens, and pixels to rays.

use crate::ProvingError;
use crate::dynamics::{BodyInstant, Instant};
use crate::scene::{BodyName, CameraSetup, Scene, TargetPaint};
use crate::swing::Swing;
use crate::weave::Weave;
use filmgauge_geometry::Lens;
use filmgauge_quantities::{PixelPoint, ViewPlane};

/// A point before a camera: along the path, along its second axis, and from the board plane towards the camera, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Sighted {
    pub x_m: f64,
    pub second_m: f64,
    pub offset_m: f64,
}

/// The true geometry of one camera.
#[derive(Debug, Clone)]
pub(crate) struct View {
    lens: Lens,
    distance_m: f64,
    axis_m: [f64; 2],
    roll: (f64, f64),
    plane: ViewPlane,
    plane_height_m: f64,
    car_cg_height_m: f64,
    truck_cg_height_m: f64,
    nose_m: f64,
    zone_m: f64,
    cushion_m: f64,
    truck_rear_m: f64,
    weave: Option<Weave>,
    swing: Option<Swing>,
}

impl View {
    pub(crate) fn new(scene: &Scene, camera: &CameraSetup) -> Self {
        Self {
            lens: camera.lens,
            distance_m: camera.distance_m,
            axis_m: camera.axis_m,
            roll: camera.roll_deg.to_radians().sin_cos(),
            plane: camera.view,
            plane_height_m: camera.plane_height_m,
            car_cg_height_m: scene.car.cg_height_m,
            truck_cg_height_m: scene.truck.cg_height_m,
            nose_m: scene.car.nose_m,
            zone_m: scene.front.as_ref().map_or(0.0, |front| front.zone_m),
            cushion_m: scene.cushion.length_m,
            truck_rear_m: scene.cushion.length_m - scene.truck.cg_x_m,
            weave: None,
            swing: None,
        }
    }

    /// The same view with the picture lying otherwise in the stored frame, seen by a camera that has swung.
    pub(crate) fn moved(&self, weave: Option<Weave>, swing: Option<Swing>) -> Self {
        Self { weave, swing, ..self.clone() }
    }

    /// The view of one exposure, `None` where it is that of the camera at rest.
    pub(crate) fn of_exposure(
        &self,
        (scene, camera, index): (&Scene, &CameraSetup, usize),
        exposure: u32,
        mid_s: f64,
    ) -> Option<Self> {
        let weave = Weave::drawn(scene, camera, index, exposure);
        let swing = Swing::at(scene, camera, index, mid_s);
        (weave.is_some() || swing.is_some()).then(|| self.moved(weave, swing))
    }

    /// Where a stored pixel's ray met the film of the camera at rest.
    pub(crate) fn film_at_rest(&self, pixel: PixelPoint) -> PixelPoint {
        match (self.swing, self.ray(pixel)) {
            (Some(_), Ok(ray)) => self.moved(None, None).film_from_ray(ray),
            _ => self.film_from_stored(pixel),
        }
    }

    /// Where a place on the film lies in the stored frame.
    pub(crate) fn stored_from_film(&self, film: PixelPoint) -> PixelPoint {
        self.weave.map_or(film, |weave| weave.stored_from_film(film))
    }

    /// Where a stored pixel lies on the film.
    pub(crate) fn film_from_stored(&self, pixel: PixelPoint) -> PixelPoint {
        self.weave.map_or(pixel, |weave| weave.film_from_stored(pixel))
    }

    /// Stored pixel of a point.
    pub(crate) fn pixel(&self, point: Sighted) -> PixelPoint {
        let depth = self.distance_m - point.offset_m;
        let right = (point.x_m - self.axis_m[0]) / depth;
        let up = (point.second_m - self.axis_m[1]) / depth;
        self.stored_from_film(self.film_from_ray([right, up]))
    }

    /// Where a ray meets the film.
    fn film_from_ray(&self, ray: [f64; 2]) -> PixelPoint {
        let [right, up] = self.swing.map_or(ray, |swing| swing.seen(ray));
        let (sin, cos) = self.roll;
        let ideal = PixelPoint::new(
            self.lens.cx_px + self.lens.fx_px * (right * cos - up * sin),
            self.lens.cy_px - self.lens.fy_px * (right * sin + up * cos),
        );
        self.lens.distort(ideal)
    }

    /// Slopes of the ray through a stored pixel: metres right and up of the axis per metre of depth.
    pub(crate) fn ray(&self, pixel: PixelPoint) -> Result<[f64; 2], filmgauge_geometry::GeometryError> {
        let ideal = self.lens.undistort(self.film_from_stored(pixel))?;
        let a = (ideal.x - self.lens.cx_px) / self.lens.fx_px;
        let b = (self.lens.cy_px - ideal.y) / self.lens.fy_px;
        let (sin, cos) = self.roll;
        let seen = [a * cos + b * sin, b * cos - a * sin];
        Ok(self.swing.map_or(seen, |swing| swing.at_rest(seen)))
    }

    /// Where a ray meets the plane at an offset: along the path and the second axis, m.
    pub(crate) fn on_plane(&self, ray: [f64; 2], offset_m: f64) -> [f64; 2] {
        let depth = self.distance_m - offset_m;
        [self.axis_m[0] + ray[0] * depth, self.axis_m[1] + ray[1] * depth]
    }

    /// Metres per pixel at an offset, without distortion.
    pub(crate) fn metres_per_px(&self, offset_m: f64) -> f64 {
        (self.distance_m - offset_m) / self.lens.fx_px
    }

    /// Change of a ray's slope per pixel, without distortion.
    pub(crate) fn ray_per_px(&self) -> f64 {
        1.0 / self.lens.fx_px
    }

    /// Where a point that is `local_m` from a target's centre in the target's own plane is at an instant.
    pub(crate) fn sighted(&self, target: &TargetPaint, now: &Instant, local_m: [f64; 2]) -> Sighted {
        let (sin, cos) = target.turn_deg.to_radians().sin_cos();
        let forward = target.at_m[0] + local_m[0] * cos
            - local_m[1] * sin
            - target.crush_share * if target.body == BodyName::Car { now.front_crush_m } else { 0.0 };
        let second = target.at_m[1] + local_m[0] * sin + local_m[1] * cos;
        self.body_point(target.body, now, [forward, second], target.plane_offset_m)
    }

    /// A point given in body axes at an instant; from above, its height with the body level gives the offset.
    pub(crate) fn body_point(&self, body: BodyName, now: &Instant, at_m: [f64; 2], offset_m: f64) -> Sighted {
        let (pose, cg_height_m) = match body {
            BodyName::Car => (now.car, self.car_cg_height_m),
            BodyName::Truck => (now.truck, self.truck_cg_height_m),
            BodyName::Cushion => return self.cushion_point(now, at_m, offset_m),
            BodyName::Ground => return Sighted { x_m: at_m[0], second_m: at_m[1], offset_m },
        };
        // The side camera stands on the right.
        let (sin, cos) = pose.pitch_rad.sin_cos();
        let (left_m, up_m) = match self.plane {
            ViewPlane::Side => (-offset_m, at_m[1]),
            ViewPlane::Overhead => (at_m[1], self.plane_height_m + offset_m - cg_height_m),
        };
        let (ahead_m, up_m) = (at_m[0] * cos - up_m * sin, at_m[0] * sin + up_m * cos);
        let (sin, cos) = pose.yaw_rad.sin_cos();
        let x_m = pose.x_m + ahead_m * cos - left_m * sin;
        let y_m = pose.y_m + ahead_m * sin + left_m * cos;
        match self.plane {
            ViewPlane::Side => Sighted { x_m, second_m: pose.z_m + up_m, offset_m: -y_m },
            ViewPlane::Overhead => {
                Sighted { x_m, second_m: y_m, offset_m: pose.z_m + up_m - self.plane_height_m }
            }
        }
    }

    /// Where a body's paint is at an instant; crush and stroke shorten the paint with its carrier.
    pub(crate) fn paint_frame(&self, body: BodyName, now: &Instant, offset_m: f64) -> PaintFrame {
        let level = PaintFrame {
            origin_m: [0.0, 0.0],
            sin: 0.0,
            cos: 1.0,
            shorter: 1.0,
            offset_m,
            squeeze: Squeezed::None,
        };
        match body {
            BodyName::Ground => level,
            BodyName::Cushion => {
                let rear = now.truck.x_m + self.truck_rear_m;
                let factor = (self.cushion_m / (self.cushion_m - now.cushion_stroke_m)).clamp(1.0, 1e3);
                PaintFrame { origin_m: [rear, 0.0], squeeze: Squeezed::Cushion { factor }, ..level }
            }
            BodyName::Truck => PaintFrame { origin_m: self.origin(&now.truck), ..level },
            BodyName::Car => {
                let (sin, cos) = now.car.pitch_rad.sin_cos();
                let above_cg = self.plane_height_m + offset_m - self.car_cg_height_m;
                let squeeze =
                    Squeezed::Front { nose_m: self.nose_m, zone_m: self.zone_m, crush_m: now.front_crush_m };
                let (yaw_sin, yaw_cos) = now.car.yaw_rad.sin_cos();
                match self.plane {
                    // Paint is flat to the camera: of a turned side only its foreshortening and its middle's depth are drawn.
                    ViewPlane::Side => PaintFrame {
                        origin_m: [now.car.x_m + offset_m * yaw_sin, now.car.z_m],
                        sin,
                        cos,
                        shorter: yaw_cos,
                        offset_m: offset_m * yaw_cos - now.car.y_m,
                        squeeze,
                    },
                    ViewPlane::Overhead => PaintFrame {
                        origin_m: [
                            now.car.x_m - above_cg * sin * yaw_cos,
                            now.car.y_m - above_cg * sin * yaw_sin,
                        ],
                        sin: yaw_sin,
                        cos: yaw_cos,
                        shorter: 1.0,
                        offset_m: offset_m + now.car.z_m - self.car_cg_height_m,
                        squeeze,
                    },
                }
            }
        }
    }

    fn origin(&self, pose: &BodyInstant) -> [f64; 2] {
        match self.plane {
            ViewPlane::Side => [pose.x_m, pose.z_m],
            ViewPlane::Overhead => [pose.x_m, 0.0],
        }
    }

    fn cushion_point(&self, now: &Instant, at_m: [f64; 2], offset_m: f64) -> Sighted {
        let left = 1.0 - now.cushion_stroke_m / self.cushion_m;
        let x_m = now.truck.x_m + self.truck_rear_m + at_m[0] * left;
        Sighted { x_m, second_m: at_m[1], offset_m }
    }
}

/// Where a body's paint is in one frame.
#[derive(Debug, Clone, Copy)]
pub(crate) struct PaintFrame {
    pub origin_m: [f64; 2],
    pub sin: f64,
    pub cos: f64,
    /// Foreshortening along the path.
    pub shorter: f64,
    pub offset_m: f64,
    squeeze: Squeezed,
}

#[derive(Debug, Clone, Copy)]
enum Squeezed {
    None,
    Front { nose_m: f64, zone_m: f64, crush_m: f64 },
    Cushion { factor: f64 },
}

impl PaintFrame {
    /// Plane to body axes.
    pub(crate) fn body_axes(&self, at_m: [f64; 2]) -> [f64; 2] {
        let (dx, ds) = ((at_m[0] - self.origin_m[0]) / self.shorter, at_m[1] - self.origin_m[1]);
        [dx * self.cos + ds * self.sin, ds * self.cos - dx * self.sin]
    }

    /// Where the paint now at a place was before the body shortened.
    pub(crate) fn undone(&self, at_m: [f64; 2]) -> [f64; 2] {
        match self.squeeze {
            Squeezed::None => at_m,
            Squeezed::Cushion { factor } => [at_m[0] * factor, at_m[1]],
            Squeezed::Front { nose_m, zone_m, crush_m } => {
                let zone_start = nose_m - zone_m;
                let into = at_m[0] - zone_start;
                if into <= 0.0 || crush_m <= 0.0 || zone_m - crush_m < 0.05 * zone_m {
                    at_m
                } else {
                    [zone_start + into * zone_m / (zone_m - crush_m), at_m[1]]
                }
            }
        }
    }

    /// The inverse of `undone`.
    pub(crate) fn done(&self, at_m: [f64; 2]) -> [f64; 2] {
        match self.squeeze {
            Squeezed::None => at_m,
            Squeezed::Cushion { factor } => [at_m[0] / factor, at_m[1]],
            Squeezed::Front { nose_m, zone_m, crush_m } => {
                let zone_start = nose_m - zone_m;
                let into = at_m[0] - zone_start;
                if into <= 0.0 || crush_m <= 0.0 || zone_m - crush_m < 0.05 * zone_m {
                    at_m
                } else {
                    [zone_start + into * (zone_m - crush_m) / zone_m, at_m[1]]
                }
            }
        }
    }

    /// Body to plane axes.
    pub(crate) fn plane_axes(&self, at_m: [f64; 2]) -> [f64; 2] {
        [
            self.origin_m[0] + (at_m[0] * self.cos - at_m[1] * self.sin) * self.shorter,
            self.origin_m[1] + at_m[0] * self.sin + at_m[1] * self.cos,
        ]
    }
}

/// The lens inverts everywhere in the picture.
pub(crate) fn check_field(view: &View, camera: &CameraSetup) -> Result<(), ProvingError> {
    let (right, bottom) = (size(camera.width_px) - 1.0, size(camera.height_px) - 1.0);
    for (x, y) in [(0.0, 0.0), (right, 0.0), (0.0, bottom), (right, bottom)] {
        view.ray(PixelPoint::new(x, y))
            .map_err(|source| ProvingError::Lens { camera: camera.id.clone(), source })?;
    }
    Ok(())
}

/// A picture's size as a number; checked scenes stay below 8192.
#[expect(clippy::cast_precision_loss, reason = "picture sizes are far below 2^53")]
pub(crate) fn size(n: usize) -> f64 {
    n as f64
}
