//! One body's targets together: its pose in a frame by consensus, who contradicts it, and where it puts the rest.

use super::options::FollowOptions;
use super::similarity::Similarity;
use filmgauge_quantities::{BodyId, PixelPoint};
use std::f64::consts::PI;

/// How much of a rigid target's offset from the pose is taken over from one frame: lens distortion moves it slowly.
const OFFSET_GAIN: f64 = 0.3;

/// One member of a body.
#[derive(Debug, Clone)]
pub(super) struct Member {
    /// Index of the target among all starts.
    pub(super) target: usize,
    /// Whether it is in the crush zone: it then neither guides nor judges.
    pub(super) deforms: bool,
    /// Place in the layout, once seen; follows slow changes.
    pub(super) place: Option<PixelPoint>,
}

/// A body and what is known of its layout. Layout axes are the picture's in the frame that first showed two members.
#[derive(Debug, Clone)]
pub(super) struct Body {
    pub(super) id: BodyId,
    pub(super) members: Vec<Member>,
    last_scale: f64,
    last_angle_rad: f64,
    /// Frames since the last pose.
    n_unposed: u32,
    /// Whether the last frame had a pose.
    pub(super) is_posed: bool,
}

/// What one member did in a frame before its body is asked.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sight {
    pub(super) centre: PixelPoint,
    /// Distance from the member's own prediction, standard deviations.
    pub(super) jump_sigmas: f64,
    /// Whether its identity is sure, or still to be confirmed.
    pub(super) is_firm: bool,
}

/// Verdict of a body on a frame.
pub(super) struct Verdict {
    /// Pose of the layout; `None` when fewer than two members agree.
    pub(super) pose: Option<Similarity>,
    /// Members (by position in [`Body::members`]) that contradict the others, with the distance in px.
    pub(super) outliers: Vec<(usize, f64)>,
    /// Members that agree.
    pub(super) agreeing: Vec<usize>,
    /// Whether the pose is beyond doubt: one of those that agree is sure, or three agree.
    pub(super) is_firm: bool,
}

impl Verdict {
    fn none() -> Self {
        Self { pose: None, outliers: Vec::new(), agreeing: Vec::new(), is_firm: false }
    }

    fn agreed(pose: Similarity, seen: &[(usize, Sight)]) -> Self {
        Self {
            pose: Some(pose),
            outliers: Vec::new(),
            agreeing: seen.iter().map(|(member, _)| *member).collect(),
            is_firm: seen.len() >= SURE || seen.iter().any(|(_, sight)| sight.is_firm),
        }
    }
}

/// So many members that agree need no confirmation.
pub(super) const SURE: usize = 3;

/// Greatest turn of a body from one pose to the next, rad, and what each frame without a pose adds.
const GREATEST_TURN_RAD: (f64, f64) = (0.3, 0.02);

impl Body {
    pub(super) fn new(id: BodyId) -> Self {
        Self { id, members: Vec::new(), last_scale: 1.0, last_angle_rad: 0.0, n_unposed: 0, is_posed: false }
    }

    pub(super) fn add(&mut self, target: usize, deforms: bool) {
        self.members.push(Member { target, deforms, place: None });
    }

    /// Where the pose puts a member; `None` while it has not been seen.
    pub(super) fn expected(&self, member: usize, pose: &Similarity) -> Option<PixelPoint> {
        self.members[member].place.map(|place| pose.map(place))
    }

    /// The pose that most rigid members agree on. The first frame with two members sets the layout.
    pub(super) fn judge(&mut self, sights: &[Option<Sight>], options: &FollowOptions) -> Verdict {
        let placed = |member: &&Member| !member.deforms && member.place.is_some();
        if self.members.iter().filter(placed).count() < 2 {
            return self.begin(sights);
        }
        let seen: Vec<(usize, PixelPoint, Sight)> = self
            .members
            .iter()
            .zip(sights)
            .enumerate()
            .filter(|(_, (member, _))| !member.deforms)
            .filter_map(|(k, (member, sight))| Some((k, member.place?, (*sight)?)))
            .collect();
        if seen.len() == 2 {
            return self.judge_two(&seen, options);
        }
        let Some(agreeing) = consensus(&seen, |pose| self.is_plausible(pose, options), options) else {
            return Verdict::none();
        };
        let pairs: Vec<_> = agreeing.iter().map(|&i| (seen[i].1, seen[i].2.centre)).collect();
        let Some(pose) = Similarity::fit(&pairs) else { return Verdict::none() };
        let others = seen.iter().enumerate().filter(|(i, _)| !agreeing.contains(i));
        let outliers =
            others.map(|(_, (k, place, sight))| (*k, pose.map(*place).distance(sight.centre))).collect();
        let agreeing: Vec<_> = agreeing.iter().map(|&i| (seen[i].0, seen[i].2)).collect();
        Verdict { outliers, ..Verdict::agreed(pose, &agreeing) }
    }

    /// Size and turn may not change too much.
    pub(super) fn is_plausible(&self, pose: &Similarity, options: &FollowOptions) -> bool {
        let turned = pose.angle_rad() - self.last_angle_rad;
        let turned = (turned + PI).rem_euclid(2.0 * PI) - PI;
        let (most_rad, more_rad) = GREATEST_TURN_RAD;
        (pose.scale() - 1.0).abs() <= options.greatest_scale_change
            && turned.abs() <= most_rad + more_rad * f64::from(self.n_unposed)
    }

    /// Two members can only contradict each other by their distance: the one further from its own prediction is wrong.
    fn judge_two(&self, seen: &[(usize, PixelPoint, Sight)], options: &FollowOptions) -> Verdict {
        let pairs: Vec<_> = seen.iter().map(|(_, place, sight)| (*place, sight.centre)).collect();
        let Some(pose) = Similarity::fit(&pairs) else {
            return Verdict::none();
        };
        let baseline = seen[0].1.distance(seen[1].1);
        let stretch = (pose.scale() - self.last_scale).abs() * baseline;
        if stretch <= options.body_tolerance_px && self.is_plausible(&pose, options) {
            return Verdict::agreed(pose, &[(seen[0].0, seen[0].2), (seen[1].0, seen[1].2)]);
        }
        let wrong = if seen[1].2.jump_sigmas >= seen[0].2.jump_sigmas { seen[1].0 } else { seen[0].0 };
        Verdict { outliers: vec![(wrong, stretch)], ..Verdict::none() }
    }

    fn begin(&mut self, sights: &[Option<Sight>]) -> Verdict {
        let rigid: Vec<(usize, Sight)> = self
            .members
            .iter()
            .zip(sights)
            .enumerate()
            .filter(|(_, (member, _))| !member.deforms)
            .filter_map(|(k, (_, sight))| Some((k, (*sight)?)))
            .collect();
        if rigid.len() < 2 || !rigid.iter().all(|(_, sight)| sight.is_firm) {
            return Verdict::none();
        }
        for (member, sight) in self.members.iter_mut().zip(sights) {
            member.place = sight.map(|sight| sight.centre);
        }
        Verdict::agreed(Similarity::SAME, &rigid)
    }

    /// Takes over what the frame's final marks say about the layout.
    pub(super) fn learn(&mut self, pose: Option<Similarity>, centres: &[Option<PixelPoint>]) {
        self.is_posed = pose.is_some();
        self.n_unposed = if pose.is_some() { 0 } else { self.n_unposed.saturating_add(1) };
        let Some(pose) = pose else { return };
        self.last_scale = pose.scale();
        self.last_angle_rad = pose.angle_rad();
        for (member, centre) in self.members.iter_mut().zip(centres) {
            let Some(here) = centre.map(|centre| pose.unmap(centre)) else { continue };
            let gain = if member.deforms { 1.0 } else { OFFSET_GAIN };
            member.place = Some(
                member
                    .place
                    .map_or(here, |place| place.moved(gain * (here.x - place.x), gain * (here.y - place.y))),
            );
        }
    }
}

/// The largest set of members that one similarity explains, from every pair in turn; ties go to the set that
/// strays least from its own predictions. Positions in `seen`; `None` when no pair is plausible.
fn consensus(
    seen: &[(usize, PixelPoint, Sight)],
    is_plausible: impl Fn(&Similarity) -> bool,
    options: &FollowOptions,
) -> Option<Vec<usize>> {
    let mut best: Option<(Vec<usize>, f64)> = None;
    for i in 0..seen.len() {
        for j in i + 1..seen.len() {
            let pair = [(seen[i].1, seen[i].2.centre), (seen[j].1, seen[j].2.centre)];
            let Some(pose) = Similarity::fit(&pair).filter(&is_plausible) else {
                continue;
            };
            let agrees = |k: &usize| {
                let (_, place, sight) = &seen[*k];
                pose.map(*place).distance(sight.centre) <= options.body_tolerance_px
            };
            let set: Vec<usize> = (0..seen.len()).filter(agrees).collect();
            let straying = set.iter().map(|&k| seen[k].2.jump_sigmas.powi(2)).sum::<f64>();
            let is_better = best.as_ref().is_none_or(|(known, stray)| {
                set.len() > known.len() || (set.len() == known.len() && straying < *stray)
            });
            if is_better {
                best = Some((set, straying));
            }
        }
    }
    best.map(|(set, _)| set)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sights(centres: &[(f64, f64)]) -> Vec<Option<Sight>> {
        let sight =
            |&(x, y): &(f64, f64)| Sight { centre: PixelPoint::new(x, y), jump_sigmas: 1.0, is_firm: true };
        centres.iter().map(|centre| Some(sight(centre))).collect()
    }

    fn body(n: usize) -> Body {
        let mut body = Body::new(BodyId::new("car").unwrap());
        (0..n).for_each(|k| body.add(k, false));
        body
    }

    #[test]
    fn the_odd_one_out_of_four_is_named() {
        let mut body = body(4);
        let options = FollowOptions::default();
        let first = [(0.0, 0.0), (100.0, 0.0), (100.0, 50.0), (0.0, 50.0)];
        let pose = body.judge(&sights(&first), &options).pose;
        body.learn(pose, &first.map(|(x, y)| Some(PixelPoint::new(x, y))));
        let verdict = body.judge(&sights(&[(5.0, 1.0), (105.0, 1.0), (105.0, 57.0), (5.0, 51.0)]), &options);
        assert_eq!(verdict.outliers.len(), 1);
        assert_eq!(verdict.outliers[0].0, 2);
        assert!((verdict.outliers[0].1 - 6.0).abs() < 1e-6);
        let expected = body.expected(2, &verdict.pose.unwrap()).unwrap();
        assert!(expected.distance(PixelPoint::new(105.0, 51.0)) < 1e-6);
    }

    #[test]
    fn of_two_that_disagree_the_one_that_jumped_goes() {
        let mut body = body(2);
        let options = FollowOptions::default();
        let first = [(0.0, 0.0), (100.0, 0.0)];
        let pose = body.judge(&sights(&first), &options).pose;
        body.learn(pose, &first.map(|(x, y)| Some(PixelPoint::new(x, y))));
        let mut later = sights(&[(2.0, 0.0), (106.0, 0.0)]);
        if let Some(sight) = &mut later[1] {
            sight.jump_sigmas = 4.0;
        }
        let verdict = body.judge(&later, &options);
        assert!(verdict.pose.is_none() && verdict.outliers[0].0 == 1);
    }
}
