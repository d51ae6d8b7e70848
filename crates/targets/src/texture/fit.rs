//! The search for a patch to a small part of a pixel: inverse-compositional Gauss-Newton on the zero-mean normalised
//! squared difference. The patch's own columns never change, so a round costs one interpolation and a few sums.

use super::columns::{Columns, Sums};
use super::failure::TextureFailure;
use super::ground::Ground;
use super::mask::Mask;
use super::options::{Interpolation, MatchOptions, Warp};
use super::outline::{around, coef_map, in_picture, left_picture, outline};
use super::place::{PatchShape, TexturePlace};
use super::sample::{cubic, quintic};
use super::template::Texture;
use super::weigh::weigh;
use crate::blemish::BlemishMask;
use filmgauge_quantities::{GreyView, PixelCov, PixelPoint};
use nalgebra::Vector6;
use std::borrow::Cow;

/// The shortest way a round is believed to leave, as a share of the round's own step.
const LEAST_LEFT: f64 = 0.02;

/// Once a step is shorter than this, px, the choice of good pixels stays: a pixel at the edge of a bad one must not
/// come and go for ever.
const CHOICE_SETTLES_PX: f64 = 0.05;

/// A patch found in a frame.
#[derive(Debug, Clone, PartialEq)]
pub struct TextureMatch {
    /// Where the patch's centre is.
    pub centre: PixelPoint,
    /// How the patch is turned, grown and slanted against its template.
    pub shape: PatchShape,
    /// Covariance of the centre, from normal matrix and residual, the template's noise included.
    pub cov: PixelCov,
    /// The part of `cov` that comes from the template's noise: the same error in every frame matched with it, so it
    /// drops out of motion between them.
    pub template_cov: PixelCov,
    /// Likeness: zero-mean normalised correlation, -1 to 1.
    pub zncc: f64,
    /// Rounds of the search.
    pub iterations: u32,
    /// Noise of one pixel from the residual, grey levels, not below the floor.
    pub noise: f64,
    /// Contrast of the frame over that of the template.
    pub gain: f64,
    /// Share of the patch left out as saturated or hidden, 0 to 1.
    pub masked_share: f64,
    /// What was left of the way when the search ended, px, by the last two steps.
    pub left_px: f64,
}

impl TextureMatch {
    /// Centre and shape, as a guess for another frame.
    #[must_use]
    pub fn place(&self) -> TexturePlace {
        TexturePlace { centre: self.centre, shape: self.shape }
    }
}

/// Finds the patch near `guess`, which should be right to about half the size of its details (a pixel or two).
///
/// # Errors
/// [`TextureFailure`] says why there is no match to be had here.
pub fn match_texture(
    view: &GreyView,
    guess: &TexturePlace,
    texture: &Texture,
    options: &MatchOptions,
) -> Result<TextureMatch, TextureFailure> {
    match_texture_masked(view, guess, texture, None, options)
}

/// As [`match_texture`], leaving out the picture's pixels that `hidden` marks.
///
/// # Errors
/// As [`match_texture`].
pub fn match_texture_masked(
    view: &GreyView,
    guess: &TexturePlace,
    texture: &Texture,
    hidden: Option<&BlemishMask>,
    options: &MatchOptions,
) -> Result<TextureMatch, TextureFailure> {
    if !guess.is_sound() {
        return Err(TextureFailure::Guess);
    }
    let mut search = Search::new(view, guess, texture, hidden)?;
    let mut before = f64::INFINITY;
    for iteration in 1..=options.most_iterations {
        let round = search.round(before >= CHOICE_SETTLES_PX)?;
        search.take(&round, options)?;
        let ratio = round.step_px / before;
        let left_px = if ratio < 1.0 {
            let ratio = ratio.max(LEAST_LEFT);
            round.step_px * ratio / (1.0 - ratio)
        } else {
            f64::INFINITY
        };
        if round.step_px < options.stop_px || (iteration > 1 && left_px < options.stop_px) {
            let settled = Settled { iterations: iteration, left_px: left_px.min(round.step_px) };
            return weigh(&search, &round, &settled, options);
        }
        before = round.step_px;
    }
    Err(TextureFailure::NotSettled { iterations: options.most_iterations, step_px: before })
}

/// How the search ended.
pub(super) struct Settled {
    pub(super) iterations: u32,
    pub(super) left_px: f64,
}

/// One round: what the picture said at a place, and the step that follows.
pub(super) struct Round {
    pub(super) sums: Sums,
    /// Contrast of the picture over that of the template.
    pub(super) gain: f64,
    step: Vector6<f64>,
    /// Root mean square way of the patch's points, px.
    step_px: f64,
}

/// A search under way.
pub(super) struct Search<'a> {
    view: &'a GreyView<'a>,
    pub(super) texture: &'a Texture,
    hidden: Option<&'a BlemishMask>,
    guess: TexturePlace,
    pub(super) place: TexturePlace,
    pub(super) ground: Ground,
    mask: Option<Mask>,
    keep: Vec<bool>,
    pub(super) columns: Cow<'a, Columns>,
    values: Vec<f32>,
}

impl<'a> Search<'a> {
    fn new(
        view: &'a GreyView<'a>,
        guess: &TexturePlace,
        texture: &'a Texture,
        hidden: Option<&'a BlemishMask>,
    ) -> Result<Self, TextureFailure> {
        let ground = around(view, guess, texture)?;
        let mask = Mask::new(view, &ground, hidden, &texture.options);
        Ok(Self {
            view,
            texture,
            hidden,
            guess: *guess,
            place: *guess,
            ground,
            mask,
            keep: Vec::new(),
            columns: Cow::Borrowed(&texture.columns),
            values: vec![0.0; texture.columns.u.len()],
        })
    }

    /// Evaluates the picture at the present place.
    fn round(&mut self, choosing: bool) -> Result<Round, TextureFailure> {
        self.cover()?;
        if choosing {
            self.choose()?;
        }
        self.values.resize(self.columns.u.len(), 0.0);
        let map = coef_map(&self.place, &self.ground);
        let offsets = (&self.columns.u[..], &self.columns.v[..]);
        match self.texture.options.interpolation {
            Interpolation::Cubic => {
                cubic(&self.ground.coefs, self.ground.stride, offsets, &map, &mut self.values);
            }
            Interpolation::Quintic => {
                quintic(&self.ground.coefs, self.ground.stride, offsets, &map, &mut self.values);
            }
        }
        let sums = self.columns.sums(&mut self.values);
        let gain = sums.along_level / self.columns.level_length;
        if gain.is_nan() || gain <= 1e-3 {
            let zncc = sums.along_level / sums.centred.max(1e-9).sqrt();
            return Err(TextureFailure::Unlike { zncc, least: 0.0 });
        }
        let step = self.columns.inverse * sums.rhs / gain;
        let shape: f64 = step.iter().skip(2).map(|entry| entry * entry).sum();
        // Mean square of an offset is a third of the rim's.
        let step_px = (step[0] * step[0] + step[1] * step[1] + shape / 3.0).sqrt();
        Ok(Round { sums, gain, step, step_px })
    }

    /// Takes the step of a round.
    fn take(&mut self, round: &Round, options: &MatchOptions) -> Result<(), TextureFailure> {
        let shape = warped(self.texture.options.warp, &round.step, self.columns.reach);
        let place = self.place.before(round.step[0], round.step[1], &shape).filter(TexturePlace::is_sound);
        let moved_px = |place: &TexturePlace| place.centre.distance(self.guess.centre);
        let Some(place) = place else {
            return Err(TextureFailure::Diverged { moved_px: moved_px(&self.place) });
        };
        if moved_px(&place) > options.greatest_move_px {
            return Err(TextureFailure::Diverged { moved_px: moved_px(&place) });
        }
        self.place = place;
        Ok(())
    }

    /// Splines the picture anew where the patch has moved beyond what was splined.
    fn cover(&mut self) -> Result<(), TextureFailure> {
        let spline = self.texture.options.interpolation;
        let (low, high) = outline(&self.place, self.texture);
        let (left, right) = (spline.left() as f64 + 1.0, spline.n_taps() as f64 / 2.0 + 1.0);
        let (x0, y0) = (self.ground.left as f64, self.ground.top as f64);
        let holds = low.x - x0 >= left
            && low.y - y0 >= left
            && high.x - x0 <= self.ground.width as f64 - 1.0 - right
            && high.y - y0 <= self.ground.height as f64 - 1.0 - right;
        if !in_picture(self.view, low, high) {
            return Err(left_picture(&self.place));
        }
        if !holds {
            self.ground = around(self.view, &self.place, self.texture)?;
            self.mask = Mask::new(self.view, &self.ground, self.hidden, &self.texture.options);
        }
        Ok(())
    }

    /// Leaves out the points that fall on bad pixels; the columns are made anew only when the choice has changed.
    fn choose(&mut self) -> Result<(), TextureFailure> {
        let Some(mask) = &self.mask else {
            return Ok(());
        };
        let keep = mask.keep(&self.ground, &self.texture.points, &self.place);
        if keep == self.keep {
            return Ok(());
        }
        let kept = keep.iter().filter(|keep| **keep).count();
        let share = 1.0 - kept as f64 / keep.len() as f64;
        let options = &self.texture.options;
        if share > options.greatest_masked_share {
            return Err(TextureFailure::Masked { share });
        }
        let points = self.texture.points.kept(&keep);
        let columns = Columns::new(&points, options)
            .filter(|columns| columns.dof() >= 8.0)
            .ok_or(TextureFailure::Masked { share })?;
        self.keep = keep;
        self.columns = Cow::Owned(columns);
        Ok(())
    }

    pub(super) fn masked_share(&self) -> f64 {
        1.0 - self.columns.n_points as f64 / (self.texture.size.width * self.texture.size.height) as f64
    }
}

/// The small warp of the patch that a step means.
fn warped(warp: Warp, step: &Vector6<f64>, reach: f64) -> PatchShape {
    let [a, b, c, d] = [step[2] / reach, step[3] / reach, step[4] / reach, step[5] / reach];
    match warp {
        Warp::Translation => PatchShape::default(),
        Warp::Similarity => PatchShape { xx: 1.0 + a, xy: -b, yx: b, yy: 1.0 + a },
        Warp::Affine => PatchShape { xx: 1.0 + a, xy: b, yx: c, yy: 1.0 + d },
    }
}
