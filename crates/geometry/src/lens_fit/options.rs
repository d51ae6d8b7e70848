//! Settings of a lens calibration, and which terms a lens has.

use crate::GeometryError;
use std::fmt;

/// Which distortion terms of a lens are free; the others are 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LensTerms {
    /// How many radial terms: 0 to 3 for none, k1, k1 k2, k1 k2 k3.
    pub n_radial: u8,
    /// Whether p1 and p2 are free.
    pub has_decentring: bool,
}

impl LensTerms {
    /// All that are tried, fewest terms first.
    pub const ALL: [Self; 8] = [
        Self::new(0, false),
        Self::new(1, false),
        Self::new(2, false),
        Self::new(0, true),
        Self::new(3, false),
        Self::new(1, true),
        Self::new(2, true),
        Self::new(3, true),
    ];

    /// So many radial terms, with or without decentring.
    #[must_use]
    pub const fn new(n_radial: u8, has_decentring: bool) -> Self {
        Self { n_radial, has_decentring }
    }

    /// Free terms in the order of [`crate::LENS_TERMS`]; focal lengths and principal point always are.
    #[must_use]
    pub fn free(self) -> [bool; 9] {
        let k = |which: u8| self.n_radial >= which;
        [true, true, true, true, k(1), k(2), k(3), self.has_decentring, self.has_decentring]
    }

    /// How many terms are free, focal lengths and principal point among them.
    #[must_use]
    pub fn n_free(self) -> usize {
        self.free().iter().filter(|is_free| **is_free).count()
    }
}

impl fmt::Display for LensTerms {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let names = ["k1", "k2", "k3"].into_iter().take(usize::from(self.n_radial));
        let names: Vec<&str> = names.chain(self.has_decentring.then_some("p1 p2")).collect();
        f.write_str(if names.is_empty() { "none" } else { "" })?;
        f.write_str(&names.join(" "))
    }
}

/// How the distortion terms come about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TermChoice {
    /// All of [`LensTerms::ALL`] are fitted, and the one with the least Bayesian information criterion is taken (Schwarz
    /// 1978, Annals of Statistics 6:461-464).
    ByEvidence,
    /// These and no others.
    Fixed(LensTerms),
}

/// Settings of [`crate::fit_lens`].
#[derive(Debug, Clone, PartialEq)]
pub struct LensFitOptions {
    /// How the distortion terms come about.
    pub terms: TermChoice,
    /// Residuals count less from this many standard deviations on (Huber's loss); 1.5 to 20. At 3 one corner in ninety of a
    /// normal distribution in the plane is touched.
    pub clip_sd: f64,
    /// A view does not belong when its RMS residual is more than this many times the median view's; 2 to 100.
    pub odd_ratio: f64,
    /// Nor when it is above this, whatever the others, px; above 0.
    pub odd_px: f64,
    /// Fewest views; 3 or more.
    pub fewest_views: usize,
    /// Greatest share of the views that may be left out; 0 to 0.5.
    pub greatest_left_out: f64,
    /// Least greatest angle between the grid's planes in any two views, rad; 0 to 1.
    pub least_turn_rad: f64,
    /// Greatest standard uncertainty of a focal length as a share of it; above 0, up to 1.
    pub greatest_focal_u: f64,
    /// Most rounds of a bundle; 10 or more.
    pub most_rounds: u32,
}

impl Default for LensFitOptions {
    fn default() -> Self {
        Self {
            terms: TermChoice::ByEvidence,
            clip_sd: 3.0,
            odd_ratio: 4.0,
            odd_px: 3.0,
            fewest_views: 3,
            greatest_left_out: 0.34,
            least_turn_rad: 10.0_f64.to_radians(),
            greatest_focal_u: 0.05,
            most_rounds: 200,
        }
    }
}

impl LensFitOptions {
    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`GeometryError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), GeometryError> {
        let n_radial = match self.terms {
            TermChoice::ByEvidence => 0,
            TermChoice::Fixed(terms) => terms.n_radial,
        };
        let above = f64::MIN_POSITIVE;
        for (setting, value, range, rule) in [
            ("terms", f64::from(n_radial), 0.0..=3.0, "there are 0 to 3 radial terms"),
            ("clip_sd", self.clip_sd, 1.5..=20.0, "it must be 1.5 to 20"),
            ("odd_ratio", self.odd_ratio, 2.0..=100.0, "it must be 2 to 100"),
            ("odd_px", self.odd_px, above..=1e6, "it must be above 0 px"),
            ("fewest_views", self.fewest_views as f64, 3.0..=1e6, "it must be 3 or more"),
            ("greatest_left_out", self.greatest_left_out, 0.0..=0.5, "it must be 0 to 0.5"),
            ("least_turn_rad", self.least_turn_rad, 0.0..=1.0, "it must be 0 to 1 rad"),
            ("greatest_focal_u", self.greatest_focal_u, above..=1.0, "it must be above 0, up to 1"),
            ("most_rounds", f64::from(self.most_rounds), 10.0..=1e6, "it must be 10 or more"),
        ] {
            if !range.contains(&value) {
                return Err(GeometryError::Setting { setting, value, rule });
            }
        }
        Ok(())
    }
}
