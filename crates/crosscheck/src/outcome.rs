//! What a crosscheck yields.

/// A value with one standard uncertainty, in the same unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// Best estimate.
    pub value: f64,
    /// One standard uncertainty.
    pub u: f64,
}

/// What may be wrong with a channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// Reads too much or too little in proportion.
    Gain,
    /// Reads a constant too much.
    Offset,
    /// Mounted or wired the wrong way round.
    Polarity,
    /// Late or early against the film.
    Delay,
}

impl Fault {
    /// The word used in files and on screen.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Gain => "gain",
            Self::Offset => "offset",
            Self::Polarity => "polarity",
            Self::Delay => "delay",
        }
    }
}

/// A fault that the evidence points to.
#[derive(Debug, Clone, PartialEq)]
pub struct Suspected {
    /// The fault.
    pub fault: Fault,
    /// The numbers behind it, in words.
    pub evidence: String,
    /// By how much the Bayesian information criterion falls when the fault is allowed for; above 0.
    pub bic_gain: f64,
}

/// Film against one channel.
#[derive(Debug, Clone, PartialEq)]
pub struct Crosscheck {
    /// Channel's reading divided by the film's, 1 for a sound sensor; `None` with too little motion.
    pub gain: Option<Measured>,
    /// Constant added by the channel, m/s².
    pub offset_m_s2: Measured,
    /// Channel later than film, s; `None` with too little motion.
    pub lag_s: Option<Measured>,
    /// Root mean square of film minus fitted channel, in displacement, m.
    pub residual_rms_m: f64,
    /// Residual over its expected spread, √(χ²/degrees of freedom): about 1 when film and channel agree.
    pub agreement: f64,
    /// In words.
    pub verdict: String,
    /// Strongest evidence first; empty for a sound channel.
    pub suspected: Vec<Suspected>,
    /// Time of the first frame used, s.
    pub used_from_s: f64,
    /// Time of the last frame used, s.
    pub used_to_s: f64,
    /// Frames used.
    pub n_samples: usize,
    /// Correlation of film and integrated channel, both without start, start speed and offset; negative for a
    /// reversed channel.
    pub correlation: f64,
}
