//! Further known lengths beside the board: some share in its scale, others are kept out of it as a check.

use crate::{Calibration, GeometryError, PlaneMap, PlaneOf};
use filmgauge_quantities::{Length, PixelCov, PixelPoint, PlanePoint, Uncertain};

/// A length that was measured on the spot and is seen in the picture.
#[derive(Debug, Clone, PartialEq)]
pub struct KnownLength {
    /// What it is.
    pub name: String,
    /// One end, stored px.
    pub from: PixelPoint,
    /// The other end, stored px.
    pub to: PixelPoint,
    /// Distance between the ends.
    pub length: Uncertain<Length>,
    /// Standard uncertainty of reading one end along one axis, px.
    pub reading_u_px: f64,
    /// What it is for.
    pub role: LengthRole,
}

/// What a known length is for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LengthRole {
    /// Shares in the scale; lies in the board's plane.
    Fit,
    /// Kept out of the scale and held against it; lies in the plane given.
    Check(PlaneOf),
}

/// One doubtful input of a known length.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LengthDoubt {
    /// The length.
    Length,
    /// Column of `from`.
    FromX,
    /// Row of `from`.
    FromY,
    /// Column of `to`.
    ToX,
    /// Row of `to`.
    ToY,
}

impl LengthDoubt {
    /// All of them, in a fixed order.
    pub const ALL: [Self; 5] = [Self::Length, Self::FromX, Self::FromY, Self::ToX, Self::ToY];
}

/// A known length beside what the plane map makes of it.
#[derive(Debug, Clone, PartialEq)]
pub struct LengthCheck {
    /// Its name.
    pub name: String,
    /// Whether it shares in the scale.
    pub is_in_fit: bool,
    /// As stated, m.
    pub stated_m: f64,
    /// As measured in the picture, m.
    pub measured_m: f64,
    /// Measured less stated, m.
    pub residual_m: f64,
    /// Standard uncertainty of the residual, m: from the length itself, the reading of its ends, and the calibration.
    pub u_m: f64,
    /// Residual over its uncertainty; `None` where nothing is doubtful.
    pub ratio: Option<f64>,
}

impl KnownLength {
    /// The length with one input larger by so many standard uncertainties.
    #[must_use]
    pub fn perturbed(&self, doubt: LengthDoubt, times: f64) -> Self {
        let mut changed = self.clone();
        match doubt {
            LengthDoubt::Length => changed.length.value = changed.length.value + changed.length.u * times,
            LengthDoubt::FromX => changed.from.x += changed.reading_u_px * times,
            LengthDoubt::FromY => changed.from.y += changed.reading_u_px * times,
            LengthDoubt::ToX => changed.to.x += changed.reading_u_px * times,
            LengthDoubt::ToY => changed.to.y += changed.reading_u_px * times,
        }
        changed
    }

    /// Checks that it can be used.
    ///
    /// # Errors
    /// [`GeometryError::Board`] for a length that is not positive, ends less than a pixel apart, or a number that is none.
    pub fn check(&self) -> Result<(), GeometryError> {
        let fault = |why: String| Err(GeometryError::Board { why });
        let (length_m, u_m) = (self.length.value.as_m(), self.length.u.as_m());
        let ends = [self.from.x, self.from.y, self.to.x, self.to.y];
        if !ends.iter().all(|end| end.is_finite()) {
            return fault(format!("an end of {} is not a point of the picture", self.name));
        }
        if !(length_m.is_finite() && length_m > 0.0 && u_m.is_finite()) {
            return fault(format!("{} is given as {length_m} m", self.name));
        }
        if !(self.reading_u_px.is_finite() && self.reading_u_px >= 0.0) {
            return fault(format!(
                "the reading uncertainty of {} is given as {} px",
                self.name, self.reading_u_px
            ));
        }
        if self.from.distance(self.to) < 1.0 {
            return fault(format!("the ends of {} are less than 1 px apart", self.name));
        }
        Ok(())
    }

    fn plane(&self) -> PlaneOf {
        match self.role {
            LengthRole::Fit => PlaneOf::default(),
            LengthRole::Check(plane) => plane,
        }
    }

    /// The length by a plane map, m.
    fn measured_m(&self, map: &PlaneMap) -> Result<f64, GeometryError> {
        let at = |end| -> Result<PlanePoint, GeometryError> {
            Ok(map.plane_from_image(end, &PixelCov::default(), self.plane())?.0)
        };
        let along = at(self.to)? - at(self.from)?;
        Ok(along.x_m.hypot(along.z_m))
    }
}

/// The scale by the board and all lengths that share in it, each weighed by its own doubt, and its relative standard
/// uncertainty; `None` where none shares in it.
pub(crate) fn weighed_scale(
    board_scale: f64,
    board_relative_u: f64,
    lengths: &[KnownLength],
    square_from_image: impl Fn(PixelPoint) -> Result<[f64; 2], GeometryError>,
) -> Result<Option<(f64, f64)>, GeometryError> {
    // A length without any doubt counts as good to a thousand-millionth.
    let weight = |relative_u: f64| relative_u.max(1e-9).powi(-2);
    let (mut sum, mut weights) = (board_scale * weight(board_relative_u), weight(board_relative_u));
    let mut any = false;
    for known in lengths.iter().filter(|known| known.role == LengthRole::Fit) {
        known.check()?;
        let (from, to) = (square_from_image(known.from)?, square_from_image(known.to)?);
        let n_px = (to[0] - from[0]).hypot(to[1] - from[1]);
        let length = known.length.u.as_m() / known.length.value.as_m();
        let relative_u = length.hypot(std::f64::consts::SQRT_2 * known.reading_u_px / n_px);
        sum += known.length.value.as_m() / n_px * weight(relative_u);
        weights += weight(relative_u);
        any = true;
    }
    Ok(any.then(|| (sum / weights, weights.sqrt().recip())))
}

impl Calibration {
    /// Every known length beside what the calibration makes of it, in the order given.
    ///
    /// The doubt of a residual is found by moving every input by its standard uncertainty, one at a time (JCGM 100, 5.1.3): what
    /// a length of the fit shares with the scale is taken into account.
    ///
    /// # Errors
    /// As [`PlaneMap::new`] and [`PlaneMap::plane_from_image`], and for a length that cannot be used.
    pub fn length_checks(&self) -> Result<Vec<LengthCheck>, GeometryError> {
        (0..self.lengths.len()).map(|index| self.length_check(index)).collect()
    }

    fn length_check(&self, index: usize) -> Result<LengthCheck, GeometryError> {
        let known = &self.lengths[index];
        known.check()?;
        let residual = |state: &Self| -> Result<f64, GeometryError> {
            let known = &state.lengths[index];
            Ok(known.measured_m(&PlaneMap::new(state)?)? - known.length.value.as_m())
        };
        let residual_m = residual(self)?;
        let mut square = 0.0;
        for source in self.doubts() {
            square += (residual(&self.perturbed(&source))? - residual_m).powi(2);
        }
        if known.role != LengthRole::Fit {
            for doubt in LengthDoubt::ALL {
                let mut state = self.clone();
                state.lengths[index] = known.perturbed(doubt, 1.0);
                square += (residual(&state)? - residual_m).powi(2);
            }
        }
        let (stated_m, u_m) = (known.length.value.as_m(), square.sqrt());
        Ok(LengthCheck {
            name: known.name.clone(),
            is_in_fit: known.role == LengthRole::Fit,
            stated_m,
            measured_m: stated_m + residual_m,
            residual_m,
            u_m,
            ratio: (u_m > 0.0).then(|| residual_m / u_m),
        })
    }
}
