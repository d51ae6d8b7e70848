//! What a marked film shows and how it plays.

use crate::MarkedError;

/// Longest trail, frames: longer ones hide the film.
const LONGEST_TRAIL: u32 = 100_000;

/// What a marked film shows and how it plays.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkedOptions {
    /// Camera id; the only camera when left out.
    pub camera: Option<String>,
    /// First frame; the film's first when left out.
    pub from: Option<u32>,
    /// Last frame, itself included; the film's last when left out.
    pub to: Option<u32>,
    /// Plays so many times slower than real time; 25 pictures a second when left out.
    pub slower: Option<f64>,
    /// Names of curves below the film; the first that the results hold when left out, none when empty.
    pub curves: Option<Vec<String>>,
    /// Frames that a trail reaches back, 0 to 100000; 0 draws none.
    pub trail: u32,
    /// Without loss (FFV1), not H.264.
    pub lossless: bool,
    /// Threads; all cores when left out. The film does not depend on it.
    pub threads: Option<usize>,
}

impl Default for MarkedOptions {
    fn default() -> Self {
        let (from, to, slower, curves) = (None, None, None, None);
        Self { camera: None, from, to, slower, curves, trail: 30, lossless: false, threads: None }
    }
}

impl MarkedOptions {
    /// Whether the settings make sense by themselves.
    ///
    /// # Errors
    /// [`MarkedError::Option`] naming the first that does not.
    pub fn check(&self) -> Result<(), MarkedError> {
        let refuse = |text: String| Err(MarkedError::Option(text));
        if let (Some(from), Some(to)) = (self.from, self.to)
            && from > to
        {
            return refuse(format!("frames {from} to {to} are none; the first must not lie after the last"));
        }
        if let Some(slower) = self.slower.filter(|slower| !(slower.is_finite() && *slower > 0.0)) {
            return refuse(format!(
                "{slower} times slower than real time is no speed; give a number above 0, such as 40"
            ));
        }
        if self.trail > LONGEST_TRAIL {
            let trail = self.trail;
            return refuse(format!(
                "a trail of {trail} frames is too long; it reaches back 0 to {LONGEST_TRAIL} frames"
            ));
        }
        Ok(())
    }
}

/// Which frames become stills.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum StillFrames {
    /// Those of events and of the sheet's picture strip.
    #[default]
    Instants,
    /// These.
    Named(Vec<u32>),
}
