//! Pictures of the rehearsal, frame by frame, each independent of the others.

mod background;
mod canvas;
mod coverage;
mod film_marks;
mod finish;
mod haze;
mod pattern;
mod spread;
mod sprite;
mod stamp;
mod texture;

pub(crate) use haze::{Haze, is_occluded};

use crate::ProvingError;
use crate::clock::FrameClock;
use crate::drawn::Drawn;
use crate::dynamics::{Instant, Truth};
use crate::flaws;
use crate::placing::Placed;
use crate::scene::{BodyName, CameraSetup, Paint, Scene, TargetPaint};
use crate::view::{View, check_field, size};
use canvas::Canvas;
use filmgauge_quantities::GreyImage;
use spread::Spread;
use sprite::Sprite;
use stamp::{Tones, stamp};

/// Rows of a body that are laid over as of one instant under a rolling shutter; targets are exact.
const ROWS_AT_ONCE: usize = 4;

/// Makes the pictures of one camera. Frames may be asked for in any order and from any thread.
#[derive(Debug)]
pub struct Renderer<'a> {
    scene: &'a Scene,
    truth: &'a Truth,
    camera: &'a CameraSetup,
    camera_index: usize,
    view: View,
    clock: FrameClock,
    spread: Spread,
    rays: Vec<[f32; 2]>,
    background: Canvas,
    sprites: Vec<Sprite>,
    targets: Vec<&'a TargetPaint>,
}

impl<'a> Renderer<'a> {
    /// Prepares one camera: rays of all pixels, background and paint are made once.
    ///
    /// # Errors
    /// [`ProvingError::NoCamera`]; [`ProvingError::Lens`] when the lens folds back inside the picture.
    pub fn new(scene: &'a Scene, truth: &'a Truth, camera_index: usize) -> Result<Self, ProvingError> {
        let camera = scene.camera(camera_index)?;
        let view = View::new(scene, camera);
        check_field(&view, camera)?;
        let rays = background::rays(&view, camera)?;
        let spread = Spread::new(camera.picture.spread_px, camera.picture.subpixels);
        let drawn = Drawn::new(scene, camera, camera_index);
        let background = background::background(camera, &view, &drawn, &spread, &rays);
        Ok(Self {
            scene,
            truth,
            camera,
            camera_index,
            sprites: sprites(scene, camera, &view),
            targets: scene.targets_of(&camera.id).collect(),
            clock: FrameClock::new(scene, camera, camera_index),
            view,
            spread,
            rays,
            background,
        })
    }

    /// Frames of this camera.
    #[must_use]
    pub fn n_frames(&self) -> u32 {
        self.clock.n_frames
    }

    /// True mid-exposure of a frame, of its first row where rows differ, seconds from time zero.
    #[must_use]
    pub fn time_s(&self, frame: u32) -> f64 {
        self.clock.mid_s(frame)
    }

    /// One frame as the camera stores it: with noise, in the scene's bits.
    #[must_use]
    pub fn frame(&self, frame: u32) -> GreyImage {
        let canvas = self.painted(frame);
        let exposure = self.clock.exposure(frame);
        finish::stored(&canvas, &self.camera.picture, self.scene.seed, self.camera_index as u64, exposure)
    }

    /// One frame without noise and without rounding, in stored grey levels, row after row.
    #[must_use]
    pub fn noise_free(&self, frame: u32) -> Vec<f32> {
        let scale = finish::stored_per_grey(self.camera.picture.bits);
        let full = 255.0 * scale;
        self.painted(frame).grey.iter().map(|grey| (grey * scale).clamp(0.0, full)).collect()
    }

    /// One frame in grey levels of 8 bits, before noise and clipping: one exposure, or two fields woven together.
    fn painted(&self, frame: u32) -> Canvas {
        let exposure = self.clock.exposure(frame);
        let of_camera = (self.scene, self.camera, self.camera_index);
        let scenery = Scenery::new(self, self.view.of_exposure(of_camera, exposure, self.clock.mid_s(frame)));
        let number = f64::from(exposure);
        let mut canvas = self.exposed(&scenery, number);
        if let Some(order) = self.camera.fields {
            let late = self.exposed(&scenery, number + 0.5);
            let width = canvas.width;
            let second = 1 - order.first_row();
            for row in (second..canvas.height).step_by(2) {
                let line = row * width..(row + 1) * width;
                canvas.grey[line.clone()].copy_from_slice(&late.grey[line]);
            }
        }
        if let Some(scan) = self.camera.scan {
            let flaws = flaws::flaws(self.scene, self.camera, self.camera_index, exposure);
            film_marks::flaws(&mut canvas, &flaws, scan.flaw_grey);
        }
        canvas
    }

    /// What one exposure gathers; `number` counts exposures, halves are second fields.
    fn exposed(&self, scenery: &Scenery, number: f64) -> Canvas {
        let (view, rays) = (scenery.view(self), scenery.rays(self));
        let mid_s = self.clock.exposed_s(number);
        let mut canvas = scenery.background(self).clone();
        self.lay_bodies(&mut canvas, view, rays, mid_s);
        self.stamp_targets(&mut canvas, view, mid_s);
        let haze = Haze::new(self.scene, &self.camera.id, self.truth, mid_s);
        finish::occluders(&mut canvas, self.scene, self.camera, view, rays);
        finish::dust(&mut canvas, &haze, view, rays);
        finish::flash(&mut canvas, self.scene, self.camera, view, mid_s);
        film_marks::lamp(&mut canvas, self.camera, view, &self.clock, number);
        if let Some(level) = flaws::level(self.scene, self.camera, self.camera_index, whole(number)) {
            film_marks::level(&mut canvas, level);
        }
        film_marks::perforations(&mut canvas, &self.camera.perforations, view, self.camera.picture.spread_px);
        canvas
    }

    /// Bodies as they are when their rows are exposed.
    fn lay_bodies(&self, canvas: &mut Canvas, view: &View, rays: &[[f32; 2]], mid_s: f64) {
        let height = canvas.height;
        let band = if self.clock.row_time_s > 0.0 { ROWS_AT_ONCE } else { height };
        for first in (0..height).step_by(band) {
            let rows = first..(first + band).min(height);
            let row = if band == height { 0.0 } else { 0.5 * size(rows.start + rows.end - 1) };
            let now = self.truth.at(mid_s + row * self.clock.row_time_s);
            for sprite in &self.sprites {
                sprite.lay_over(canvas, rows.clone(), rays, view, &now);
            }
        }
    }

    fn stamp_targets(&self, canvas: &mut Canvas, view: &View, mid_s: f64) {
        let times_s = self.sub_instants(mid_s);
        let instants: Vec<Instant> = times_s.iter().map(|&t_s| self.truth.at(t_s)).collect();
        for target in &self.targets {
            // What stands on the ground does not move within the exposure.
            let n_moving = if target.body == BodyName::Ground { 1 } else { instants.len() };
            let placed: Vec<Placed> = if self.clock.row_time_s > 0.0 {
                let rolling = |&t_s| Placed::rolling(view, target, self.truth, t_s, self.clock.row_time_s);
                times_s[..n_moving].iter().map(rolling).collect()
            } else {
                instants[..n_moving].iter().map(|now| Placed::target(view, target, now)).collect()
            };
            stamp(canvas, &self.spread, target.kind, &placed, tones(self.camera));
        }
    }

    /// Midpoints of equal parts of the exposure.
    fn sub_instants(&self, mid_s: f64) -> Vec<f64> {
        let n = self.camera.picture.instants;
        (0..n).map(|k| mid_s + self.clock.exposure_s * ((size(k) + 0.5) / size(n) - 0.5)).collect()
    }
}

/// View, rays and background of one frame where its picture weaves or shakes; those of the camera where it does not.
struct Scenery {
    moved: Option<(View, Vec<[f32; 2]>, Canvas)>,
}

impl Scenery {
    fn new(renderer: &Renderer, view: Option<View>) -> Self {
        let moved = view.map(|view| {
            let camera = renderer.camera;
            let rays = background::woven_rays(&view, camera, &renderer.rays);
            let drawn = Drawn::new(renderer.scene, camera, renderer.camera_index);
            let background = background::background(camera, &view, &drawn, &renderer.spread, &rays);
            (view, rays, background)
        });
        Self { moved }
    }

    fn view<'a>(&'a self, renderer: &'a Renderer) -> &'a View {
        self.moved.as_ref().map_or(&renderer.view, |(view, _, _)| view)
    }

    fn rays<'a>(&'a self, renderer: &'a Renderer) -> &'a [[f32; 2]] {
        self.moved.as_ref().map_or(&renderer.rays, |(_, rays, _)| rays)
    }

    fn background<'a>(&'a self, renderer: &'a Renderer) -> &'a Canvas {
        self.moved.as_ref().map_or(&renderer.background, |(_, _, background)| background)
    }
}

/// The exposure that a number, halves included, belongs to.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "exposures are counted in 32 bits"
)]
fn whole(number: f64) -> u32 {
    number as u32
}

#[expect(clippy::cast_possible_truncation, reason = "grey levels")]
fn tones(camera: &CameraSetup) -> Tones {
    Tones { light: camera.picture.light_grey as f32, dark: camera.picture.dark_grey as f32 }
}

/// One sprite per body, in the order in which the bodies are first painted.
fn sprites(scene: &Scene, camera: &CameraSetup, view: &View) -> Vec<Sprite> {
    let mut order: Vec<BodyName> = Vec::new();
    for paint in scene.paints.iter().filter(|paint| paint.camera == camera.id) {
        if !order.contains(&paint.body) {
            order.push(paint.body);
        }
    }
    order
        .into_iter()
        .filter_map(|body| {
            let of_body: Vec<&Paint> =
                scene.paints.iter().filter(|paint| paint.camera == camera.id && paint.body == body).collect();
            let offset_m = of_body.first()?.plane_offset_m;
            // The texture belongs to the bodies, not to the draw: it stays when the seed changes.
            Sprite::new(&of_body, view.metres_per_px(offset_m), 0x51_7e00 + body as u64)
        })
        .collect()
}
