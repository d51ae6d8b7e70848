//! Joint choice for a whole body: each target may be at any of several places, and one pose must explain most of them.

use super::body::Body;
use super::options::FollowOptions;
use super::similarity::Similarity;
use filmgauge_quantities::PixelPoint;

/// Poses this far apart, px, are different answers.
const OTHER_ANSWER_PX: f64 = 3.0;

/// A pose and who agrees with it.
#[derive(Debug, Clone)]
struct Answer {
    pose: Similarity,
    /// Member and number of its place.
    who: Vec<(usize, usize)>,
    /// Sum of the ways from where they were expected, px.
    way_px: f64,
}

impl Body {
    /// The pose that most rigid members agree on when each may be at any of several places, and who is where: member and
    /// number of its place. `expected` are the members' own predictions: of equal answers the nearer is taken, unless
    /// both are far. `None` when fewer than two agree or two answers are equally good.
    pub(super) fn choose(
        &self,
        places: &[Vec<PixelPoint>],
        expected: &[Option<PixelPoint>],
        options: &FollowOptions,
    ) -> Option<(Similarity, Vec<(usize, usize)>)> {
        let rigid: Vec<(usize, PixelPoint)> = (0..self.members.len())
            .filter(|&k| !self.members[k].deforms)
            .filter_map(|k| Some((k, self.members[k].place?)))
            .collect();
        let mut answers: Vec<Answer> = Vec::new();
        for (at, &(i, from_i)) in rigid.iter().enumerate() {
            for &(j, from_j) in &rigid[at + 1..] {
                for &to_i in &places[i] {
                    for &to_j in &places[j] {
                        let pose = Similarity::fit(&[(from_i, to_i), (from_j, to_j)]);
                        let Some(pose) = pose.filter(|pose| self.is_plausible(pose, options)) else {
                            continue;
                        };
                        answers.push(answer(&pose, &rigid, places, expected, options));
                    }
                }
            }
        }
        let most = answers.iter().map(|answer| answer.who.len()).max()?;
        answers.retain(|answer| answer.who.len() == most && most > 1);
        answers.sort_by(|a, b| a.way_px.total_cmp(&b.way_px));
        let Answer { pose, who, way_px } = answers.first()?.clone();
        let middle = rigid.first()?.1;
        let other = answers[1..]
            .iter()
            .find(|other| other.pose.map(middle).distance(pose.map(middle)) > OTHER_ANSWER_PX);
        // As many agree elsewhere: only a clearly shorter way decides.
        if other.is_some_and(|other| other.way_px < 3.0 * way_px) {
            return None;
        }
        let pairs: Vec<_> =
            who.iter().filter_map(|&(k, n)| Some((self.members[k].place?, places[k][n]))).collect();
        Some((Similarity::fit(&pairs)?, who))
    }
}

/// Who agrees with a pose, each at its nearest place within the tolerance, and the sum of their ways from where they were
/// expected.
fn answer(
    pose: &Similarity,
    rigid: &[(usize, PixelPoint)],
    places: &[Vec<PixelPoint>],
    expected: &[Option<PixelPoint>],
    options: &FollowOptions,
) -> Answer {
    let mut way_px = 0.0;
    let who = rigid
        .iter()
        .filter_map(|&(k, place)| {
            let there = pose.map(place);
            let near = |n: &usize| places[k][*n].distance(there);
            let n = (0..places[k].len()).min_by(|a, b| near(a).total_cmp(&near(b)))?;
            (near(&n) <= options.body_tolerance_px).then_some((k, n))
        })
        .inspect(|&(k, n)| way_px += expected[k].map_or(0.0, |place| place.distance(places[k][n])))
        .collect();
    Answer { pose: *pose, who, way_px }
}

#[cfg(test)]
mod tests {
    use super::super::body::Sight;
    use super::*;
    use filmgauge_quantities::BodyId;

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
    fn of_many_places_those_that_fit_the_body_are_taken() {
        let mut body = body(4);
        let options = FollowOptions::default();
        let first = [(0.0, 0.0), (60.0, 5.0), (110.0, 50.0), (0.0, 50.0)];
        let at = first.map(|(x, y)| Some(PixelPoint::new(x, y)));
        let pose = body.judge(&sights(&first), &options).pose;
        body.learn(pose, &at);
        // All moved by (60, 0): every target also lies near where another one was.
        let now: Vec<PixelPoint> = first.iter().map(|(x, y)| PixelPoint::new(x + 60.0, *y)).collect();
        let places = vec![now.clone(); 4];
        let (pose, who) = body.choose(&places, &at, &options).unwrap();
        assert_eq!(who, [(0, 0), (1, 1), (2, 2), (3, 3)]);
        assert!(pose.map(PixelPoint::new(0.0, 0.0)).distance(now[0]) < 1e-6);
    }
}
