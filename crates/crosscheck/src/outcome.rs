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
    /// Senses another axis, or is another channel, than it is said to.
    WrongAxis,
    /// Cut off at the end of its range.
    Clipping,
    /// Its zero moved during the test, as a shock to the sensor or its amplifier does.
    BaselineStep,
    /// Samples are lost: the record stands still for a stretch.
    Dropout,
    /// Filtered otherwise than its code says.
    FilterClass,
    /// Its mount rings: the record swings where the body does not.
    Ringing,
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
            Self::WrongAxis => "wrong axis",
            Self::Clipping => "clipping",
            Self::BaselineStep => "baseline step",
            Self::Dropout => "dropout",
            Self::FilterClass => "filter class",
            Self::Ringing => "ringing mount",
        }
    }

    /// What to look at on the rig. Common practice, no source.
    #[must_use]
    pub fn look_at(self) -> &'static str {
        match self {
            Self::Gain => {
                "sensitivity on the calibration sheet, amplifier gain, excitation voltage; then the film's scale"
            }
            Self::Offset => "zero before the test, bridge balance, tilt of the mount",
            Self::Polarity => "mounting direction and wiring of the sensor",
            Self::Delay => "trigger of the recorder, filter delay, time zero of film and recorder",
            Self::WrongAxis => "plugs and channel list: which cable goes to which channel",
            Self::Clipping => "range of sensor and amplifier against the peak of this test",
            Self::BaselineStep => "sensor and cable after the test: shock, loose plug, damaged element",
            Self::Dropout => "plugs, cable and recorder for lost contact",
            Self::FilterClass => {
                "filter settings of the recorder and of the export, and the code's last character"
            }
            Self::Ringing => "bracket and glue of the sensor: the mount must be stiff and light",
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
    /// How large it is, where a number says it: gain; offset or moved zero, m/s²; lag, s; speed lost in cut off or missing
    /// samples, m/s; 1 / ω² of a ringing mount, s².
    pub size: Option<Measured>,
    /// By how much the Bayesian information criterion falls when the fault is allowed for; 0 where the record alone shows it.
    pub bic_gain: f64,
}

/// One explanation of what film and channel show, beside the others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Explanation {
    /// The single fault; `None` for a sound channel.
    pub fault: Option<Fault>,
    /// Its Bayesian information criterion less that of the best explanation; 0 for the best.
    pub bic_above_best: f64,
    /// Residual over its expected spread with this explanation.
    pub agreement: f64,
}

/// Film against one channel.
#[derive(Debug, Clone, PartialEq)]
pub struct Crosscheck {
    /// Channel's reading divided by the film's, 1 for a sound sensor; `None` with too little motion. Where the channel
    /// follows the other axis, gain, offset and lag hold for that axis.
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
    /// Every single explanation that was tried, likeliest first.
    pub explanations: Vec<Explanation>,
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
