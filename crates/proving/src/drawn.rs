//! What is drawn once per rehearsal: true values that differ from the stated ones, and readings that differ from the
//! true ones, each by an error of the stated size.

use crate::random::Stream;
use crate::scene::{BodyName, CameraSetup, Scene};
use filmgauge_geometry::{Lens, LensFile};
use filmgauge_quantities::PixelPoint;

/// The draws of one camera.
#[derive(Debug, Clone)]
pub(crate) struct Drawn {
    /// True length of the board, m.
    pub board_length_m: f64,
    /// Stated distance of the board, m.
    pub stated_distance_m: f64,
    /// Reading errors of the board's ends, px: from x, from y, to x, to y.
    pub reading_px: [f64; 4],
    /// Errors of the stated plane offsets, m: car, truck, ground.
    pub offset_m: [f64; 3],
    /// The lens as the analyst's file has it.
    pub stated_lens: LensFile,
}

impl Drawn {
    pub(crate) fn new(scene: &Scene, camera: &CameraSetup, index: usize) -> Self {
        let mut stream = Stream::new(scene.seed, "survey", index as u64, 0);
        let board_length_m = camera.board.length_m + stream.normal(camera.board.length_u_m);
        let stated_distance_m = camera.distance_m + stream.normal(camera.distance_u_m);
        let reading_px = [(); 4].map(|()| stream.normal(camera.board.reading_u_px));
        let offset_m = camera.offset_u_m.map(|u| stream.normal(u));
        Self {
            board_length_m,
            stated_distance_m,
            reading_px,
            offset_m,
            stated_lens: stated_lens(camera, &mut stream),
        }
    }

    /// Places of the board's end marks in the board plane, m.
    pub(crate) fn board_ends_m(&self, camera: &CameraSetup) -> [[f64; 2]; 2] {
        let [x, second] = camera.board.from_m;
        [[x, second], [x + self.board_length_m, second]]
    }

    /// The ends as the analyst read them, from their true pixels.
    pub(crate) fn read_ends(&self, ends: [PixelPoint; 2]) -> [PixelPoint; 2] {
        let error = self.reading_px;
        [ends[0].moved(error[0], error[1]), ends[1].moved(error[2], error[3])]
    }

    /// Error of a body's stated plane offset, m.
    pub(crate) fn offset_error_m(&self, body: BodyName) -> f64 {
        offset_index(body).map_or(0.0, |index| self.offset_m[index])
    }
}

/// Where a body's plane offset is found in a list of car, truck, ground.
pub(crate) fn offset_index(body: BodyName) -> Option<usize> {
    match body {
        BodyName::Car => Some(0),
        BodyName::Truck => Some(1),
        BodyName::Ground => Some(2),
        BodyName::Cushion => None,
    }
}

fn stated_lens(camera: &CameraSetup, stream: &mut Stream) -> LensFile {
    let (lens, u) = (camera.lens, camera.lens_u);
    let lens = Lens {
        fx_px: lens.fx_px + stream.normal(u.focal_px),
        fy_px: lens.fy_px + stream.normal(u.focal_px),
        cx_px: lens.cx_px + stream.normal(u.centre_px),
        cy_px: lens.cy_px + stream.normal(u.centre_px),
        k1: lens.k1 + stream.normal(u.k1),
        k2: lens.k2 + stream.normal(u.k2),
        ..lens
    };
    let size = [camera.width_px, camera.height_px].map(u32::try_from);
    let u = [u.focal_px, u.focal_px, u.centre_px, u.centre_px, u.k1, u.k2, 0.0, 0.0, 0.0];
    let size_px = if let [Ok(width), Ok(height)] = size { Some((width, height)) } else { None };
    LensFile::of(lens, u, size_px)
}
