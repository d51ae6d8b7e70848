//! Every occupant figure from one set of records, each with its uncertainty by Monte Carlo (JCGM 101).
//!
//! Each source of doubt is drawn by itself, so that the shares stand in the budget and add in quadrature.

use crate::draws::Draws;
use crate::failure::{above_zero, all_finite};
use crate::means::means;
use crate::{
    FlailOptions, FlailSpace, HeadOptions, OccupantFailure, SeverityRule, YawingRecord,
    flail_from_acceleration, head_impact, severity_index,
};

/// Settings of [`occupant_figures`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FigureOptions {
    /// Free distances and ridedown.
    pub flail: FlailOptions,
    /// The free head.
    pub head: HeadOptions,
    /// Smoothing of the severity index.
    pub severity: SeverityRule,
    /// Draws for each source of doubt; 16 or more.
    pub n_draws: usize,
    /// Seed of the draws.
    pub seed: u64,
}

impl Default for FigureOptions {
    fn default() -> Self {
        Self {
            flail: FlailOptions::default(),
            head: HeadOptions::default(),
            severity: SeverityRule::LowPass { corner_hz: 13.0 },
            n_draws: 200,
            seed: 1,
        }
    }
}

impl FigureOptions {
    /// Whether all settings are in their ranges.
    ///
    /// # Errors
    /// [`OccupantFailure::Settings`] naming the first that is not.
    pub fn check(&self) -> Result<(), OccupantFailure> {
        self.flail.check()?;
        self.head.check()?;
        if let SeverityRule::LowPass { corner_hz } = self.severity {
            above_zero("corner_hz (Hz)", corner_hz)?;
        }
        #[expect(clippy::cast_precision_loss, reason = "shown only")]
        let n_draws = self.n_draws as f64;
        if self.n_draws < 16 {
            Err(OccupantFailure::Settings { name: "n_draws", value: n_draws })
        } else {
            Ok(())
        }
    }
}

/// One record at the centre of gravity, filtered to class 180, its zero taken out.
#[derive(Debug, Clone, PartialEq)]
pub struct SevereAxis {
    /// Samples: m/s², forward, left or up; rad/s for yaw, nose left.
    pub values: Vec<f64>,
    /// Standard uncertainty of its zero, same unit.
    pub zero_u: f64,
    /// Relative standard uncertainty of its calibration.
    pub calibration_u: f64,
    /// Its noise: quiet samples before contact, zero taken out; may be empty.
    pub noise: Vec<f64>,
}

/// The vehicle at its centre of gravity, all records on one even time base.
#[derive(Debug, Clone, PartialEq)]
pub struct SevereRecord {
    /// Time of the first sample, s.
    pub start_s: f64,
    /// Between samples, s.
    pub step_s: f64,
    /// Contact and its standard uncertainty, s.
    pub contact_s: (f64, f64),
    /// Forward.
    pub x: SevereAxis,
    /// To the left.
    pub y: Option<SevereAxis>,
    /// Up.
    pub z: Option<SevereAxis>,
    /// Yaw rate.
    pub yaw: Option<SevereAxis>,
}

/// One figure. A figure that the records cannot give has a reason.
#[derive(Debug, Clone, PartialEq)]
pub struct OccupantFigure {
    /// Name, as in the list of findings.
    pub name: &'static str,
    /// SI unit.
    pub unit: &'static str,
    /// The value, and the share of each source of doubt in its standard uncertainty.
    pub value: Result<DoubtedValue, String>,
}

/// A value, and the share of each source of doubt in its standard uncertainty, by name.
pub type DoubtedValue = (f64, Vec<(&'static str, f64)>);

/// Sources of doubt, in the order of the budget.
const SOURCES: [&str; 4] = ["zero offset", "contact time", "sensor noise", "sensor calibration"];

/// Flail space, theoretical head impact, severity index and means, each as far as the records reach.
///
/// Left, up and yaw are taken as 0 where there is no record; figures that would rest on that are left out: sideways figures
/// without a sideways record.
///
/// # Errors
/// [`OccupantFailure`] for settings, records of different lengths or too short, and samples that are no numbers.
pub fn occupant_figures(
    record: &SevereRecord,
    options: &FigureOptions,
) -> Result<Vec<OccupantFigure>, OccupantFailure> {
    options.check()?;
    check(record)?;
    let stated = computed(&Moved::stated(record), options)?;
    let mut draws = Draws::new(options.seed);
    gathered(stated, &SOURCES, options.n_draws, |source| {
        doubtful(record, source).then(|| computed(&Moved::drawn(record, source, &mut draws), options))
    })
}

/// The same figures where whole motions can be drawn, as from film: `drawn` gives a motion with one source of doubt drawn, by its place
/// in `sources`, with standard normal numbers. What a record says of its own zero, noise and calibration does not count.
///
/// # Errors
/// As [`occupant_figures`], for the stated motion and every drawn one.
pub fn figures_by_draws(
    stated: &SevereRecord,
    sources: &[&'static str],
    mut drawn: impl FnMut(usize, &mut dyn FnMut() -> f64) -> SevereRecord,
    options: &FigureOptions,
) -> Result<Vec<OccupantFigure>, OccupantFailure> {
    options.check()?;
    check(stated)?;
    let mut draws = Draws::new(options.seed);
    gathered(computed(&Moved::stated(stated), options)?, sources, options.n_draws, |source| {
        let other = drawn(source, &mut || draws.normal());
        Some(check(&other).and_then(|()| computed(&Moved::stated(&other), options)))
    })
}

/// Figures with the root mean square of what each source's draws move; `other` is `None` for a source without doubt.
fn gathered(
    stated: Vec<Row>,
    sources: &[&'static str],
    n_draws: usize,
    mut other: impl FnMut(usize) -> Option<Result<Vec<Row>, OccupantFailure>>,
) -> Result<Vec<OccupantFigure>, OccupantFailure> {
    let mut squares = vec![vec![0.0; sources.len()]; stated.len()];
    let mut counts = squares.clone();
    for source in 0..sources.len() {
        for _ in 0..n_draws {
            let Some(other) = other(source).transpose()? else { break };
            for (at, (figure, moved)) in stated.iter().zip(&other).enumerate() {
                if let (Ok(value), Ok(other)) = (&figure.2, &moved.2) {
                    squares[at][source] += (other - value).powi(2);
                    counts[at][source] += 1.0;
                }
            }
        }
    }
    let figures = stated.into_iter().enumerate().map(|(at, (name, unit, value))| OccupantFigure {
        name,
        unit,
        value: value.map(|value| {
            let share = |source: usize| (squares[at][source] / counts[at][source]).sqrt();
            let known = (0..sources.len()).filter(|&source| counts[at][source] > 0.0);
            (value, known.map(|source| (sources[source], share(source))).collect())
        }),
    });
    Ok(figures.collect())
}

fn check(record: &SevereRecord) -> Result<(), OccupantFailure> {
    above_zero("step_s (s)", record.step_s)?;
    let (contact_s, contact_u_s) = record.contact_s;
    all_finite("start, contact and its uncertainty", &[record.start_s, contact_s, contact_u_s])?;
    let expected = record.x.values.len();
    for (what, axis) in axes(record) {
        if axis.values.len() != expected {
            return Err(OccupantFailure::Lengths { what, found: axis.values.len(), expected });
        }
        all_finite(what, &axis.values)?;
        all_finite(what, &axis.noise)?;
        all_finite(what, &[axis.zero_u, axis.calibration_u])?;
    }
    Ok(())
}

fn axes(record: &SevereRecord) -> impl Iterator<Item = (&'static str, &SevereAxis)> {
    let more = [("acceleration y", &record.y), ("acceleration z", &record.z), ("yaw rate", &record.yaw)];
    std::iter::once(("acceleration x", &record.x))
        .chain(more.into_iter().filter_map(|(what, axis)| Some((what, axis.as_ref()?))))
}

fn doubtful(record: &SevereRecord, source: usize) -> bool {
    let any = |doubt: fn(&SevereAxis) -> bool| axes(record).any(|(_, axis)| doubt(axis));
    match source {
        0 => any(|axis| axis.zero_u > 0.0),
        1 => record.contact_s.1 > 0.0,
        2 => any(|axis| axis.noise.len() > 1),
        _ => any(|axis| axis.calibration_u > 0.0),
    }
}

/// The records with one source of doubt drawn, and the contact that goes with them.
struct Moved {
    step_s: f64,
    /// Time of the first sample after contact, s.
    from_contact_s: f64,
    contact_s: f64,
    x: Vec<f64>,
    y: Option<Vec<f64>>,
    z: Option<Vec<f64>>,
    yaw: Option<Vec<f64>>,
}

impl Moved {
    fn stated(record: &SevereRecord) -> Self {
        Self::by(record, record.contact_s.0, |axis| axis.values.clone())
    }

    fn drawn(record: &SevereRecord, source: usize, draws: &mut Draws) -> Self {
        let (contact_s, contact_u_s) = record.contact_s;
        match source {
            0 => Self::by(record, contact_s, |axis| {
                let zero = axis.zero_u * draws.normal();
                axis.values.iter().map(|value| value + zero).collect()
            }),
            1 => Self::by(record, contact_s + contact_u_s * draws.normal(), |axis| axis.values.clone()),
            2 => Self::by(record, contact_s, |axis| {
                let n = axis.noise.len();
                if n == 0 {
                    return axis.values.clone();
                }
                // The quiet stretch from a drawn place on, round and round: the noise as it is, with its own colour.
                let (first, sign) = (draws.below(n), draws.normal().signum());
                let noise = (0..).map(|i: usize| sign * axis.noise[(first + i) % n]);
                axis.values.iter().zip(noise).map(|(value, noise)| value + noise).collect()
            }),
            _ => Self::by(record, contact_s, |axis| {
                let factor = 1.0 + axis.calibration_u * draws.normal();
                axis.values.iter().map(|value| factor * value).collect()
            }),
        }
    }

    fn by(record: &SevereRecord, contact_s: f64, mut of: impl FnMut(&SevereAxis) -> Vec<f64>) -> Self {
        Self {
            step_s: record.step_s,
            from_contact_s: record.start_s - contact_s,
            contact_s,
            x: of(&record.x),
            y: record.y.as_ref().map(&mut of),
            z: record.z.as_ref().map(&mut of),
            yaw: record.yaw.as_ref().map(&mut of),
        }
    }

    /// Samples from contact on, moved between samples by straight lines so that the first belongs to contact.
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a float cast saturates, and the record's length bounds it"
    )]
    fn after(&self, values: &[f64], sign: f64) -> Vec<f64> {
        let place = (-self.from_contact_s / self.step_s).max(0.0);
        let first = place as usize;
        let share = place - first as f64;
        let from = values.get(first..).unwrap_or_default();
        from.windows(2).map(|pair| sign * (pair[0] + share * (pair[1] - pair[0]))).collect()
    }
}

/// Name, unit and value or reason.
type Row = (&'static str, &'static str, Result<f64, String>);

fn computed(moved: &Moved, options: &FigureOptions) -> Result<Vec<Row>, OccupantFailure> {
    let mut rows = flail_rows(moved, options)?;
    rows.extend(head_rows(moved, options)?);
    rows.push(severity_row(moved, options));
    for (width_s, names) in [(0.010, MEANS_10), (0.050, MEANS_50)] {
        rows.extend(mean_rows(moved, width_s, names));
    }
    Ok(rows)
}

fn flail_rows(moved: &Moved, options: &FigureOptions) -> Result<Vec<Row>, OccupantFailure> {
    let x = moved.after(&moved.x, -1.0);
    let y = moved.y.as_ref().map(|y| moved.after(y, -1.0));
    let flail = |x: &[f64], y: Option<&[f64]>| {
        flail_from_acceleration(moved.contact_s, moved.step_s, x, y, &options.flail)
    };
    let both = flail(&x, y.as_deref())?;
    let not_reached = || "the occupant does not reach the interior within the record".to_owned();
    let short = || "the record ends before a full window after the impact".to_owned();
    let mut rows = vec![
        ("occupant_impact_velocity", "m/s", Ok(both.impact_velocity_x_m_s)),
        ("occupant_impact_time", "s", both.impact_time_s.ok_or_else(not_reached)),
        ("ridedown_acceleration", "m/s2", both.ridedown_x_m_s2.ok_or_else(short)),
    ];
    if let Some(y) = y {
        let to_left = |value: Option<f64>| value.map(|value| -value);
        rows.push((
            "occupant_impact_velocity_sideways",
            "m/s",
            both.impact_velocity_y_m_s.ok_or_else(not_reached),
        ));
        rows.push((
            "ridedown_acceleration_sideways",
            "m/s2",
            to_left(both.ridedown_y_m_s2).ok_or_else(short),
        ));
        let alone = alone(&flail(&x, None)?, &flail(&vec![0.0; y.len()], Some(&y))?);
        rows.extend(alone);
    }
    Ok(rows)
}

/// Each axis by itself, as some older analyses have it: the other axis does not end the flight.
fn alone(x: &FlailSpace, y: &FlailSpace) -> [Row; 2] {
    let sideways = y.impact_velocity_y_m_s.ok_or_else(|| "no sideways record".to_owned());
    [
        ("occupant_impact_velocity_alone", "m/s", Ok(x.impact_velocity_x_m_s)),
        ("occupant_impact_velocity_sideways_alone", "m/s", sideways),
    ]
}

fn head_rows(moved: &Moved, options: &FigureOptions) -> Result<Vec<Row>, OccupantFailure> {
    let x = moved.after(&moved.x, 1.0);
    let none = vec![0.0; x.len()];
    let of = |axis: &Option<Vec<f64>>| axis.as_ref().map_or_else(|| none.clone(), |a| moved.after(a, 1.0));
    let (y, yaw) = (of(&moved.y), of(&moved.yaw));
    let record = YawingRecord { step_s: moved.step_s, ax_m_s2: &x, ay_m_s2: &y, yaw_rad_s: &yaw };
    let strike = head_impact(&record, &options.head)?;
    let why = || "the head does not strike within the record".to_owned();
    let phd = strike.and_then(|strike| strike.phd_g);
    let short = || "the record ends before a full window after the strike".to_owned();
    Ok(vec![
        ("head_impact_velocity", "m/s", strike.map(|strike| strike.thiv_m_s).ok_or_else(why)),
        ("head_impact_time", "s", strike.map(|strike| moved.contact_s + strike.flight_s).ok_or_else(why)),
        (
            "head_deceleration",
            "m/s2",
            phd.map(|g| g * filmgauge_quantities::STANDARD_GRAVITY_M_S2).ok_or_else(short),
        ),
    ])
}

fn severity_row(moved: &Moved, options: &FigureOptions) -> Row {
    let none = vec![0.0; moved.x.len()];
    let of = |axis: &'_ Option<Vec<f64>>| axis.clone().unwrap_or_else(|| none.clone());
    let (y, z) = (of(&moved.y), of(&moved.z));
    let index = severity_index(moved.step_s, [&moved.x, &y, &z], options.severity);
    ("severity_index", "1", index.map(|index| index.asi).map_err(|failure| failure.to_string()))
}

const MEANS_10: [&str; 3] = ["mean_10ms", "mean_10ms_sideways", "mean_10ms_upright"];
const MEANS_50: [&str; 3] = ["mean_50ms", "mean_50ms_sideways", "mean_50ms_upright"];

/// The mean over a gliding window that is greatest in size, with its sign: forward, left, up.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a float cast saturates; a record shorter than this has no mean"
)]
fn mean_rows(moved: &Moved, width_s: f64, names: [&'static str; 3]) -> Vec<Row> {
    let width = (width_s / moved.step_s).round().max(1.0) as usize;
    let axes = [Some(&moved.x), moved.y.as_ref(), moved.z.as_ref()];
    axes.into_iter()
        .zip(names)
        .filter_map(|(axis, name)| {
            let greatest =
                means(&moved.after(axis?, 1.0), width).into_iter().max_by(|a, b| a.abs().total_cmp(&b.abs()));
            Some((name, "m/s2", greatest.ok_or_else(|| "the record is shorter than the mean".to_owned())))
        })
        .collect()
}

#[cfg(test)]
mod tests;
