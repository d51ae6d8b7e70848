//! Bodies and crush lines of one evaluation: layout, poses, smooth curves.

use super::deforming::deforming;
use super::depth::{Beside, Depth};
use super::evaluate::{BodyState, Contact, CrushState, Inputs, Kept, Sample, Track, mean_travel};
use super::image_marks::step_cov;
use crate::document::Role;
use filmgauge_motion::{
    BodyMotionOptions, BodyTracks, Figure, MotionFailure, NoiseSource, PlaneMark, Pose, SmoothOptions,
    Smoothed, TargetTrack, bearing,
};
use filmgauge_quantities::{BodyId, PixelPoint, PlanePoint, Speed, TargetId, Uncertain};

/// Builds the bodies and crush lines of one evaluation, keeping what it chose and what failed.
pub(super) struct Build<'a> {
    pub(super) inputs: &'a Inputs<'a>,
    pub(super) metres_per_px: f64,
    pub(super) onset: Option<Contact>,
    pub(super) kept: Kept,
    pub(super) troubles: Vec<(String, String)>,
}

impl Build<'_> {
    pub(super) fn bodies(&mut self, tracks: &[Track], times_s: &[f64]) -> Vec<BodyState> {
        let mut states = Vec::new();
        for body in &self.inputs.plan.bodies {
            let rigid: Vec<&Track> =
                tracks.iter().filter(|track| track.body == body.id && !track.deforms).collect();
            if rigid.is_empty() {
                continue;
            }
            match self.body(body, &rigid, times_s) {
                Ok(state) => states.push(state),
                Err(failure) => self.troubles.push((body.id.to_string(), failure.to_string())),
            }
        }
        states
    }

    fn body(
        &mut self,
        body: &crate::plan::BodyPlan,
        rigid: &[&Track],
        times_s: &[f64],
    ) -> Result<BodyState, MotionFailure> {
        let tracks = BodyTracks {
            body: body.id.clone(),
            times_s: times_s.to_vec(),
            targets: rigid
                .iter()
                .map(|track| TargetTrack { id: track.id.clone(), marks: track.marks.clone() })
                .collect(),
        };
        let (tracks, left_out) = self.without_deforming(tracks)?;
        let stay = |track: &&&Track| !left_out.contains(&track.id);
        let rigid: Vec<&Track> = rigid.iter().filter(stay).copied().collect();
        let rigid = rigid.as_slice();
        let mut layout = filmgauge_motion::layout(&tracks, self.kept.quiet.clone())?;
        if let Some((angle_rad, u_rad)) = self.heading(rigid, times_s) {
            layout = layout.with_attitude(angle_rad, u_rad);
        }
        let cg = body.cg_from.as_ref().and_then(|(target, step)| {
            let index = rigid.iter().position(|track| track.id == *target)?;
            Some(layout.places[index]? + *step)
        });
        // The c.g. of an overhead view would need a step to the side, which the dossier does not hold.
        let cg = cg.filter(|_| self.inputs.camera.view == filmgauge_quantities::ViewPlane::Side);
        if let Some(cg) = cg {
            for place in layout.places.iter_mut().flatten() {
                *place = *place - cg;
            }
        }
        let name = |axis: &str| format!("{} {axis}", body.id);
        let options = BodyMotionOptions {
            pose: self.inputs.options.pose,
            x: self.smooth_options(&name("x")),
            z: self.smooth_options(&name("z")),
            angle: self.smooth_options(&name("angle")),
        };
        let mut poses = filmgauge_motion::poses(&tracks, &layout, &options.pose)?;
        self.add_step_doubt(&mut poses, rigid);
        // Crush and residuals are told on the unfolded body; its motion along the path is where it truly lies.
        let folded = self.folded(&body.id, times_s, &poses);
        let along = folded.iter().map(|pose| pose.as_ref().map(|pose| (pose.x_m, pose.cov[0][0]))).collect();
        let mut motion = filmgauge_motion::smooth_body(&tracks, &layout, folded, &options)?;
        motion.poses = poses;
        for (axis, curve) in
            [("x", Some(&motion.x)), ("z", Some(&motion.z)), ("angle", motion.angle.as_ref())]
        {
            if let Some(curve) = curve {
                self.keep(name(axis), curve);
            }
        }
        let rigidity = filmgauge_motion::rigidity(&tracks, &layout, &motion.poses, 0..times_s.len());
        Ok(BodyState {
            id: body.id.clone(),
            role: body.role,
            point: if cg.is_some() { "c.g." } else { "mean of its targets" },
            motion,
            along,
            places: rigid
                .iter()
                .zip(&layout.places)
                .filter_map(|(track, place)| Some((track.id.clone(), (*place)?)))
                .collect(),
            level_u_rad: layout.level_u_rad.unwrap_or(0.0),
            unrigid_share: rigidity.share_over_99.unwrap_or(0.0),
            left_out,
        })
    }

    /// Direction of a body's run-up seen from above against the path, rad, with its standard uncertainty: a vehicle that runs
    /// up points where it runs (common practice, no source). `None` for a body at rest.
    fn heading(&self, rigid: &[&Track], times_s: &[f64]) -> Option<(f64, f64)> {
        let is_overhead = self.inputs.camera.view == filmgauge_quantities::ViewPlane::Overhead;
        let (from_s, to_s) = (*times_s.first()?, *times_s.get(self.kept.quiet.end.checked_sub(1)?)?);
        let speed = |across: bool| {
            let travel = mean_travel(rigid, times_s.len(), across);
            filmgauge_motion::run_up_speed(times_s, &travel, from_s, to_s, NoiseSource::Stated).ok()
        };
        let (along, across) =
            if is_overhead { (speed(false)?.speed, speed(true)?.speed) } else { return None };
        // Its x axis lies with the path's, whichever way it runs.
        let sign = along.value.as_m_s().signum();
        let figure =
            |speed: Uncertain<Speed>| Figure { value: sign * speed.value.as_m_s(), u: speed.u.as_m_s() };
        let (along, across) = (figure(along), figure(across));
        let found = bearing(along, across).filter(|_| along.value.hypot(across.value) > RUNNING_M_S)?;
        Some((found.value, found.u))
    }

    /// The tracks without targets that deform, and which those are: as a first evaluation chose, where there was one. From
    /// above a pitching body is no rigid picture, and none is chosen.
    fn without_deforming(
        &mut self,
        tracks: BodyTracks,
    ) -> Result<(BodyTracks, Vec<TargetId>), MotionFailure> {
        let name = tracks.body.to_string();
        let is_side = self.inputs.camera.view == filmgauge_quantities::ViewPlane::Side;
        let left_out = match self.inputs.kept {
            Some(kept) => kept.left_out.get(&name).cloned().unwrap_or_default(),
            None if is_side => deforming(&tracks, &self.kept.quiet, &self.inputs.options.pose)?,
            None => Vec::new(),
        };
        let mut tracks = tracks;
        tracks.targets.retain(|target| !left_out.contains(&target.id));
        self.kept.left_out.insert(name, left_out.clone());
        Ok((tracks, left_out))
    }

    /// Poses where they lie, for a body that another camera sees turn.
    fn folded(&self, body: &BodyId, times_s: &[f64], poses: &[Option<Pose>]) -> Vec<Option<Pose>> {
        let Some(depth) = self.inputs.depth_of(body) else { return poses.to_vec() };
        let fold = |(pose, &time_s): (&Option<Pose>, &f64)| {
            pose.as_ref().map(|pose| depth.at(time_s).folded_pose(pose))
        };
        poses.iter().zip(times_s).map(fold).collect()
    }

    /// A frame's step is common to all marks in it: its doubt is the pose's, not each mark's.
    fn add_step_doubt(&self, poses: &mut [Option<Pose>], rigid: &[&Track]) {
        let scale = self.metres_per_px;
        for (frame, pose) in poses.iter_mut().enumerate() {
            let Some(pose) = pose else { continue };
            let Some(step) = step_cov(self.inputs, frame, image_middle(self.inputs, rigid, frame)) else {
                continue;
            };
            pose.cov[0][0] += scale * scale * step.xx;
            pose.cov[1][1] += scale * scale * step.yy;
        }
    }

    pub(super) fn crush(
        &mut self,
        tracks: &[Track],
        times_s: &[f64],
        bodies: &[BodyState],
    ) -> Vec<CrushState> {
        let (mut states, turn) = (Vec::new(), self.turn(bodies));
        for line in &self.inputs.plan.crush {
            let Some(track) = tracks.iter().find(|track| track.id == line.target) else { continue };
            let Some(body) = bodies.iter().find(|body| body.id == line.body) else { continue };
            match self.crush_line(&line.id, track, body, times_s, turn) {
                Ok(state) => states.push(state),
                Err(failure) => self.troubles.push((line.id.clone(), failure.to_string())),
            }
        }
        states
    }

    fn crush_line(
        &mut self,
        id: &str,
        track: &Track,
        body: &BodyState,
        times_s: &[f64],
        turn: Option<(f64, f64)>,
    ) -> Result<CrushState, MotionFailure> {
        let places: Vec<Sample> = track
            .marks
            .iter()
            .zip(&body.motion.poses)
            .map(|(mark, pose)| place_in_body(mark, pose))
            .collect();
        let (mut sum, mut weight) = (0.0, 0.0);
        for (place_m, variance) in places[self.kept.quiet.clone()].iter().flatten() {
            sum += place_m / variance;
            weight += 1.0 / variance;
        }
        if weight == 0.0 {
            return Err(MotionFailure::TooFewMarks { what: "crush before contact", found: 0, needed: 1 });
        }
        let rest_m = sum / weight;
        let depths: Vec<Sample> = places
            .iter()
            .map(|place| place.map(|(place_m, variance)| (rest_m - place_m, variance)))
            .collect();
        let depth = self.inputs.depth_of(&body.id);
        let nose_x = |(mark, &time_s): (&Option<PlaneMark>, &f64)| {
            let mark = mark.as_ref()?;
            let folded =
                |(depth, beside): (&Depth, Beside)| depth.at(time_s).with(beside).folded_x(mark.point.x_m);
            let x_m = depth.zip(track.beside).map_or(mark.point.x_m, folded);
            Some((x_m, mark.cov.xx))
        };
        let nose: Vec<Sample> = track.marks.iter().zip(times_s).map(nose_x).collect();
        Ok(CrushState {
            id: id.to_owned(),
            depth: self.smooth(format!("{id} depth"), times_s, &depths, turn)?,
            nose_x: self.smooth(format!("{id} nose"), times_s, &nose, turn)?,
            ahead_m: self.ahead_m(rest_m, depth, track, body),
            body: body.id.clone(),
        })
    }

    /// How far ahead of its body's point a target lies at contact along the path, that stands `rest_m` ahead along the body.
    fn ahead_m(&self, rest_m: f64, depth: Option<&Depth>, track: &Track, body: &BodyState) -> f64 {
        let ahead = depth.zip(self.onset).and_then(|(depth, contact)| {
            let frame = body.motion.times_s.partition_point(|&time_s| time_s < contact.time_s);
            let unfolded_m = body.motion.poses.get(frame)?.as_ref()?.x_m;
            let target = depth.at(contact.time_s).with(track.beside?);
            Some(target.folded_x(unfolded_m + rest_m) - depth.at(contact.time_s).folded_x(unfolded_m))
        });
        ahead.unwrap_or(rest_m)
    }

    /// When crush turns from growing to being given back: at the instant of one speed, with its doubt, s.
    fn turn(&self, bodies: &[BodyState]) -> Option<(f64, f64)> {
        let with = |role| bodies.iter().find(|body| body.role == role);
        let (striking, struck) = (with(Role::Striking)?, with(Role::Struck)?);
        let common =
            filmgauge_motion::common_speed(&striking.motion.x, &struck.motion.x, self.onset?.time_s)?;
        Some((common.time.value.as_s(), common.time.u.as_s().max(LEAST_TURN_U_S)))
    }

    /// A curve of what is crushed.
    fn smooth(
        &mut self,
        name: String,
        times_s: &[f64],
        samples: &[Sample],
        turn: Option<(f64, f64)>,
    ) -> Result<Smoothed, MotionFailure> {
        let options = SmoothOptions { shared_s: turn.into_iter().collect(), ..self.smooth_options(&name) };
        let smoothed = filmgauge_motion::smooth(times_s, samples, &options)?;
        self.keep(name, &smoothed);
        Ok(smoothed)
    }

    /// Settings of a curve: as a first evaluation chose them, where there was one.
    fn smooth_options(&self, name: &str) -> SmoothOptions {
        let kept = self.inputs.kept.and_then(|kept| kept.smoothness.get(name));
        SmoothOptions {
            smoothness: kept.cloned().unwrap_or_else(|| self.inputs.options.smooth.smoothness.clone()),
            onsets_s: self.onset.iter().map(|contact| contact.time_s).collect(),
            onset_u_s: self.onset.map_or(0.0, |contact| contact.u_s),
            ..self.inputs.options.smooth.clone()
        }
    }

    fn keep(&mut self, name: String, curve: &Smoothed) {
        self.kept.smoothness.insert(name, curve.smoothness());
    }
}

/// A crush zone turns with the whole body to within this, s: sound passes a metre of steel in a fifth of it.
const LEAST_TURN_U_S: f64 = 0.001;

/// A body slower than this before contact does not run up, m/s.
const RUNNING_M_S: f64 = 0.5;

/// Middle of a body's marks in a frame's picture.
fn image_middle(inputs: &Inputs<'_>, rigid: &[&Track], frame: usize) -> PixelPoint {
    let targets = inputs.camera.targets.iter().zip(&inputs.film.outcomes);
    let (mut x, mut y, mut n) = (0.0, 0.0, 0.0_f64);
    for (target, outcomes) in targets {
        if let (true, Some(mark)) =
            (rigid.iter().any(|track| track.id == target.id), outcomes[frame].measured())
        {
            x += mark.centre.x;
            y += mark.centre.y;
            n += 1.0;
        }
    }
    PixelPoint::new(x / n.max(1.0), y / n.max(1.0))
}

/// Place of a mark along its body's x axis, with the variance of mark and pose.
fn place_in_body(mark: &Option<PlaneMark>, pose: &Option<Pose>) -> Sample {
    let (mark, pose) = (mark.as_ref()?, pose.as_ref()?);
    let angle_rad = pose.angle_rad?;
    let step = PlanePoint::new(mark.point.x_m - pose.x_m, mark.point.z_m - pose.z_m);
    let in_body = step.turned(-angle_rad);
    let (sin, cos) = angle_rad.sin_cos();
    let along = |xx: f64, xz: f64, zz: f64| cos * cos * xx + 2.0 * cos * sin * xz + sin * sin * zz;
    let of_mark = along(mark.cov.xx, mark.cov.xz, mark.cov.zz);
    // The pose enters as -(cos, sin, -z'): its third term is the turn's lever arm.
    let row = [-cos, -sin, in_body.z_m];
    let mut of_pose = 0.0;
    for (i, a) in row.iter().enumerate() {
        for (j, b) in row.iter().enumerate() {
            of_pose += a * b * pose.cov[i][j];
        }
    }
    Some((in_body.x_m, of_mark + of_pose))
}
