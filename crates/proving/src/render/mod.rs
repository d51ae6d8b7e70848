//! Pictures of the rehearsal, frame by frame, each independent of the others.

mod background;
mod canvas;
mod coverage;
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
use crate::placing::Placed;
use crate::scene::{BodyName, CameraSetup, Paint, Scene, TargetPaint};
use crate::view::{View, check_field, size};
use canvas::Canvas;
use filmgauge_quantities::GreyImage;
use spread::Spread;
use sprite::Sprite;
use stamp::{Tones, stamp};

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

    /// True mid-exposure of a frame, seconds from time zero.
    #[must_use]
    pub fn time_s(&self, frame: u32) -> f64 {
        self.clock.mid_s(frame)
    }

    /// One frame as the camera stores it: with noise, in the scene's bits.
    #[must_use]
    pub fn frame(&self, frame: u32) -> GreyImage {
        let canvas = self.painted(frame);
        finish::stored(&canvas, &self.camera.picture, self.scene.seed, self.camera_index as u64, frame)
    }

    /// One frame without noise and without rounding, in stored grey levels, row after row.
    #[must_use]
    pub fn noise_free(&self, frame: u32) -> Vec<f32> {
        let scale = finish::stored_per_grey(self.camera.picture.bits);
        let full = 255.0 * scale;
        self.painted(frame).grey.iter().map(|grey| (grey * scale).clamp(0.0, full)).collect()
    }

    /// One frame in grey levels of 8 bits, before noise and clipping.
    fn painted(&self, frame: u32) -> Canvas {
        let mid_s = self.clock.mid_s(frame);
        let mid = self.truth.at(mid_s);
        let mut canvas = self.background.clone();
        for sprite in &self.sprites {
            sprite.lay_over(&mut canvas, &self.rays, &self.view, &mid);
        }
        let instants = self.sub_instants(mid_s);
        for target in &self.targets {
            // What stands on the ground does not move within the exposure.
            let moving = if target.body == BodyName::Ground { &instants[..1] } else { &instants[..] };
            let placed: Vec<Placed> =
                moving.iter().map(|now| Placed::target(&self.view, target, now)).collect();
            stamp(&mut canvas, &self.spread, target.kind, &placed, tones(self.camera));
        }
        let haze = Haze::new(self.scene, &self.camera.id, self.truth, mid_s);
        finish::occluders(&mut canvas, self.scene, self.camera, &self.view, &self.rays);
        finish::dust(&mut canvas, &haze, &self.view, &self.rays);
        finish::flash(&mut canvas, self.scene, self.camera, &self.view, mid_s);
        canvas
    }

    /// Midpoints of equal parts of the exposure.
    fn sub_instants(&self, mid_s: f64) -> Vec<Instant> {
        let n = self.camera.picture.instants;
        (0..n)
            .map(|k| self.truth.at(mid_s + self.clock.exposure_s * ((size(k) + 0.5) / size(n) - 0.5)))
            .collect()
    }
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
