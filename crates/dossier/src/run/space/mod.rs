//! Cameras joined in space: their clocks' offsets, bodies with yaw, pitch and roll, with every doubt of pose, lens and clock.

mod answer;
mod body;
mod instant;
mod told;

use super::budget::Budgeted;
use super::evaluate::{Doubt, Inputs};
use crate::plan::SpacePlan;
pub(crate) use told::failed;

use answer::Moved;
use body::{Bodies, Smoothing, SpaceBody, View, bodies};
use filmgauge_geometry::{BundleOptions, CameraMark, DoubtSource, SpaceTrack, bundle};
use filmgauge_motion::{SmoothOptions, Smoothness};
use filmgauge_quantities::{BodyId, Seconds, Uncertain};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::ops::Range;

/// Knots of a path, in frames of the slowest camera.
const KNOT_FRAMES: f64 = 3.0;

/// What the cameras tell together.
pub(crate) struct Space<'a> {
    cameras: Vec<&'a Budgeted<'a>>,
    targets: Vec<String>,
    /// What each camera's clock reads more than the first one's.
    offsets: Vec<Uncertain<Seconds>>,
    /// Factor of the bundle's residuals over their doubt.
    bundle_factor: f64,
    bodies: Vec<SpaceBody>,
    troubles: Vec<(String, String)>,
    moved: Moved,
}

/// One doubtful input of one camera.
enum SpaceDoubt {
    Camera(usize, Doubt),
    Offset(usize),
}

/// The whole of it; `Err` says why there is nothing.
pub(crate) fn space<'a>(plan: &SpacePlan, all: &'a [Budgeted<'a>]) -> Result<Space<'a>, String> {
    let cameras: Vec<&Budgeted<'_>> = plan.cameras.iter().map(|&place| &all[place]).collect();
    let targets = plan.targets.clone();
    let inputs: Vec<Inputs<'_>> = cameras.iter().map(|camera| camera.inputs.clone()).collect();
    let (offsets, bundle_factor) = offsets(&inputs, &targets)?;
    let stated_s: Vec<f64> = offsets.iter().map(|offset| offset.value.as_s()).collect();
    let job = Job { first: cameras[0], of_body: by_body(&inputs, &targets) };
    let Bodies { found: bodies, troubles } = job.bodies(&inputs, &stated_s, None)?;
    let kept = kept(&bodies);
    let mut moved = Moved::of(&bodies);
    let doubts = doubts(&cameras, &offsets);
    // A few at a time: curves of a long film weigh much. They are summed in the order of the doubts.
    for few in doubts.chunks(8) {
        let answers = few.par_iter().map(|doubt| {
            let (mut inputs, mut offsets_s) = (inputs.clone(), stated_s.clone());
            match doubt {
                SpaceDoubt::Camera(camera, doubt) => inputs[*camera] = inputs[*camera].moved(doubt, 1.0),
                SpaceDoubt::Offset(camera) => offsets_s[*camera] += offsets[*camera].u.as_s(),
            }
            job.bodies(&inputs, &offsets_s, Some(&kept)).map(|bodies| bodies.found)
        });
        let answers: Vec<Vec<SpaceBody>> = answers.collect::<Result<_, String>>()?;
        for (doubt, answer) in few.iter().zip(&answers) {
            moved.add(label(&cameras, doubt), &bodies, answer, job.contact_s());
        }
    }
    Ok(Space { cameras, targets, offsets, bundle_factor, bodies, troubles, moved })
}

/// What stays the same while inputs are moved.
struct Job<'a> {
    first: &'a Budgeted<'a>,
    of_body: BTreeMap<BodyId, Vec<String>>,
}

impl Job<'_> {
    fn contact_s(&self) -> f64 {
        self.first.motion.contact_s()
    }

    fn quiet(&self) -> Range<usize> {
        self.first.motion.kept.quiet.clone()
    }

    fn bodies(
        &self,
        inputs: &[Inputs<'_>],
        offsets_s: &[f64],
        kept: Option<&BTreeMap<String, Smoothness>>,
    ) -> Result<Bodies, String> {
        let views = inputs.iter().zip(offsets_s).map(|(inputs, &offset_s)| View::of(inputs, offset_s));
        let views: Vec<View> = views.collect::<Result<_, _>>()?;
        let contact = self.first.motion.contact.as_ref().ok();
        let options = SmoothOptions {
            onsets_s: contact.iter().map(|contact| contact.time_s).collect(),
            onset_u_s: contact.map_or(0.0, |contact| contact.u_s),
            ..self.first.inputs.options.smooth.clone()
        };
        let smoothing = Smoothing { options: &options, kept };
        Ok(bodies(&views, &self.first.inputs.plan.bodies, &self.of_body, &self.quiet(), &smoothing))
    }
}

/// Time offsets of the clocks, from all shared targets at once, with poses that may move within their doubt.
fn offsets(inputs: &[Inputs<'_>], targets: &[String]) -> Result<(Vec<Uncertain<Seconds>>, f64), String> {
    let views: Vec<View> = inputs.iter().map(|inputs| View::of(inputs, 0.0)).collect::<Result<_, _>>()?;
    let eyes: Vec<_> = views.iter().map(|view| view.eye).collect();
    let slowest_s = inputs.iter().map(|inputs| inputs.clock.interval_s()).fold(0.0, f64::max);
    let track = |target: &String| {
        let mut marks = Vec::new();
        for (camera, view) in views.iter().enumerate() {
            let Some(of_target) = view.marks.get(target) else { continue };
            let seen = of_target.iter().zip(&view.times_s);
            marks.extend(seen.filter_map(|(mark, &time_s)| {
                let (seen, cov) = (*mark)?;
                Some(CameraMark { camera, time_s, seen, cov })
            }));
        }
        SpaceTrack { id: target.clone(), marks }
    };
    let tracks: Vec<SpaceTrack> = targets.iter().map(track).collect();
    let options = BundleOptions { knot_s: KNOT_FRAMES * slowest_s, ..BundleOptions::default() };
    let found = bundle(&eyes, &tracks, &options).map_err(|failure| failure.to_string())?;
    Ok((found.offsets, found.cov_factor))
}

/// Shared rigid targets of each body.
fn by_body(inputs: &[Inputs<'_>], targets: &[String]) -> BTreeMap<BodyId, Vec<String>> {
    let mut of_body: BTreeMap<BodyId, Vec<String>> = BTreeMap::new();
    for target in targets {
        let plans = inputs.iter().flat_map(|inputs| &inputs.camera.targets);
        let Some(plan) = plans.filter(|plan| plan.id.as_str() == target).find(|plan| !plan.deforms) else {
            continue;
        };
        of_body.entry(plan.body.clone()).or_default().push(target.clone());
    }
    of_body
}

fn kept(found: &[SpaceBody]) -> BTreeMap<String, Smoothness> {
    let of = |body: &SpaceBody| {
        let id = body.id.clone();
        let curves = body::CURVES.iter().zip(&body.curves);
        let fixed: Vec<_> =
            curves.map(|(name, curve)| (format!("{id} {name}"), curve.smoothness())).collect();
        fixed
    };
    found.iter().flat_map(of).collect()
}

fn doubts(cameras: &[&Budgeted<'_>], offsets: &[Uncertain<Seconds>]) -> Vec<SpaceDoubt> {
    let mut doubts = Vec::new();
    for (index, camera) in cameras.iter().enumerate() {
        let own = camera.inputs.doubts(&camera.motion.contact).into_iter().filter(|doubt| {
            matches!(
                doubt,
                Doubt::Geometry(DoubtSource::Pose(_) | DoubtSource::Lens(_))
                    | Doubt::FilmSpeed
                    | Doubt::RowTime
            )
        });
        doubts.extend(own.map(|doubt| SpaceDoubt::Camera(index, doubt)));
        if offsets[index].u.as_s() > 0.0 {
            doubts.push(SpaceDoubt::Offset(index));
        }
    }
    doubts
}

fn label(cameras: &[&Budgeted<'_>], doubt: &SpaceDoubt) -> String {
    let id = |camera: &usize| &cameras[*camera].inputs.camera.id;
    match doubt {
        SpaceDoubt::Camera(camera, doubt) => format!("{doubt} of {}", id(camera)),
        SpaceDoubt::Offset(camera) => format!("clock of {}", id(camera)),
    }
}
