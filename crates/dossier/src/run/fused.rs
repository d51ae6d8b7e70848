//! Film and the striking body's forward channel as one motion: off unless the dossier asks for it, and always labelled.

use super::budget::Budgeted;
use super::channels::{Record, film_at_sensor};
use super::film_severity::{ALONG_PATH, from_speeds, further};
use super::findings::OCCUPANT_CAUTION;
use super::severity::{Label, doubt_zero};
use crate::document::{AxisEntry, Role};
use crate::load::Dossier;
use crate::options::RunOptions;
use crate::plan::Plan;
use filmgauge_crosscheck::{FuseOptions, Fused, SensedAxis, fuse};
use filmgauge_occupant::{FlailSpace, figures_by_draws, flail_from_motion};
use filmgauge_quantities::COVERAGE_95;
use filmgauge_results::{
    Contribution, CrosscheckResult, Curve, CurveBand, CurvePoint, Evidence, Finding, FindingSource,
};

/// What must be known before a fused figure is used.
const CAUTION: &str = "film and channel no longer check one another in this figure";

/// The fused motion of the striking body, or why there is none.
pub(crate) struct FusedMotion {
    subject: String,
    code: String,
    contact_s: f64,
    contact_u_s: f64,
    zero_u_s: f64,
    camera: String,
    made: Result<Fused, String>,
}

impl FusedMotion {
    /// Fuses where the dossier asks for it and the striking body has a forward channel; `None` otherwise.
    pub(crate) fn of(
        dossier: &Dossier,
        plan: &Plan,
        side: Option<&Budgeted<'_>>,
        (records, checks): (&[Record<'_>], &[CrosscheckResult]),
        options: &RunOptions,
    ) -> Option<Self> {
        let camera = side.filter(|_| dossier.document.test.fused)?;
        let striking = plan.bodies.iter().find(|body| body.role == Role::Striking)?;
        let reach = |record: &Record<'_>| record.plan.at.x_m.hypot(record.plan.at.z_m);
        let (record, check) = records
            .iter()
            .zip(checks)
            .filter(|(record, _)| record.plan.body == striking.id && record.plan.axis == AxisEntry::X)
            .min_by(|(a, _), (b, _)| reach(a).total_cmp(&reach(b)))?;
        let contact = camera.motion.contact.as_ref();
        let made = contact.map_err(Clone::clone).and_then(|_| fused(camera, record, check, options));
        Some(Self {
            subject: striking.id.to_string(),
            code: record.plan.code.clone(),
            contact_s: camera.motion.contact_s(),
            contact_u_s: contact.map_or(0.0, |contact| contact.u_s),
            zero_u_s: camera.motion.clock.zero_u_s,
            camera: camera.inputs.camera.id.to_string(),
            made,
        })
    }

    /// Speed at contact, the flail-space figures, and the other occupant figures.
    pub(crate) fn findings(&self, options: &RunOptions) -> Vec<Finding> {
        let mut all = self.flail_findings(options);
        if let Ok(fused) = &self.made {
            all.extend(self.severity_findings(fused, options));
        }
        doubt_zero(&mut all, self.zero_u_s);
        all
    }

    /// Head impact, severity index and means along the path, by Monte Carlo over the joint errors.
    fn severity_findings(&self, fused: &Fused, options: &RunOptions) -> Vec<Finding> {
        let label = Label {
            source: FindingSource::Fused,
            subject: &self.subject,
            from: format!("from film and channel {} as one motion", self.code),
            evidence: Evidence {
                camera: Some(self.camera.clone()),
                frames: None,
                settings: format!(
                    "± by Monte Carlo over the joint errors of film and channel, {} draws for each source",
                    options.occupant.n_draws
                ),
            },
            caution: format!("; {CAUTION}; {ALONG_PATH}"),
        };
        let speeds: Vec<f64> = fused.speed_m_s.iter().map(|speed| speed.value).collect();
        let record = |speeds: &[f64], contact_s: f64| from_speeds(&fused.times_s, speeds, contact_s);
        let Some(stated) = record(&speeds, self.contact_s) else { return Vec::new() };
        let drawn = |source: usize, normal: &mut dyn FnMut() -> f64| {
            if source == 0 {
                let mut moved = speeds.clone();
                for (_, mode) in &fused.modes {
                    let by = normal();
                    moved.iter_mut().zip(mode).for_each(|(speed, error)| *speed += by * error);
                }
                record(&moved, self.contact_s)
            } else {
                record(&speeds, self.contact_s + self.contact_u_s * normal())
            }
            .unwrap_or_else(|| stated.clone())
        };
        further(
            figures_by_draws(&stated, &["film and channel", "contact"], drawn, &options.occupant),
            &label,
            options,
        )
    }

    fn flail_findings(&self, options: &RunOptions) -> Vec<Finding> {
        let stated = self.made.clone().and_then(|fused| {
            let stated = self.figures(&fused, None, self.contact_s, options)?;
            let mut moved = Vec::new();
            for mode in 0..fused.modes.len() {
                moved.push(("film and channel", self.figures(&fused, Some(mode), self.contact_s, options)?));
            }
            let late_s = self.contact_s + self.contact_u_s;
            moved.push(("contact", self.figures(&fused, None, late_s, options)?));
            Ok((stated, moved))
        });
        FIGURES
            .iter()
            .enumerate()
            .map(|(at, (name, unit))| {
                let made = stated.clone().and_then(|(stated, moved)| {
                    let value = stated[at].clone()?;
                    let mut budget: Vec<Contribution> = Vec::new();
                    for (source, other) in moved {
                        let Ok(other) = &other[at] else { continue };
                        let change = other - value;
                        match budget.iter_mut().find(|line| line.source == source) {
                            Some(line) => line.u = line.u.hypot(change),
                            None => budget.push(Contribution { source: source.into(), u: change.abs() }),
                        }
                    }
                    Ok((value, budget))
                });
                self.finding(name, unit, made)
            })
            .collect()
    }

    /// Figures of the motion, of one moved by a mode, or of one with another contact.
    fn figures(
        &self,
        fused: &Fused,
        mode: Option<usize>,
        contact_s: f64,
        options: &RunOptions,
    ) -> Result<[Result<f64, String>; 4], String> {
        let none = (Vec::new(), Vec::new());
        let (place, speed) = mode.and_then(|mode| fused.modes.get(mode)).unwrap_or(&none);
        let moved = |values: &[filmgauge_crosscheck::Measured], by: &[f64]| -> Vec<f64> {
            values.iter().enumerate().map(|(at, it)| it.value + by.get(at).copied().unwrap_or(0.0)).collect()
        };
        let (place_m, speed_m_s) = (moved(&fused.place_m, place), moved(&fused.speed_m_s, speed));
        let start = |values: &[f64]| at_time(&fused.times_s, values, contact_s);
        let from_m = start(&place_m).ok_or("the film does not show contact")?;
        let contact_m_s = start(&speed_m_s).ok_or("the film does not show contact")?;
        let travel_m: Vec<f64> = place_m.iter().map(|place| place - from_m).collect();
        let flail =
            flail_from_motion(contact_s, contact_m_s, &fused.times_s, &travel_m, &speed_m_s, &options.flail)
                .map_err(|failure| failure.to_string())?;
        let FlailSpace { impact_time_s, impact_velocity_x_m_s, ridedown_x_m_s2, .. } = flail;
        let not_reached = "the occupant does not reach the interior within the film";
        let short = "the film ends before a full window after the occupant's impact";
        Ok([
            Ok(contact_m_s),
            Ok(impact_velocity_x_m_s),
            impact_time_s.ok_or_else(|| not_reached.to_owned()),
            ridedown_x_m_s2.ok_or_else(|| short.to_owned()),
        ])
    }

    fn finding(&self, name: &str, unit: &str, made: Result<(f64, Vec<Contribution>), String>) -> Finding {
        let (value, budget, reason) = match made {
            Ok((value, budget)) => (Some(value), budget, None),
            Err(reason) => (None, Vec::new(), Some(reason)),
        };
        let occupant = if name == "contact_speed" { String::new() } else { format!("; {OCCUPANT_CAUTION}") };
        Finding {
            name: name.to_owned(),
            subject: self.subject.clone(),
            source: FindingSource::Fused,
            value,
            unit: unit.to_owned(),
            uncertainty: value.map(|_| budget.iter().map(|part| part.u * part.u).sum::<f64>().sqrt()),
            method: format!("film and channel {} as one motion", self.code),
            evidence: Evidence {
                camera: Some(self.camera.clone()),
                frames: None,
                settings: "± by the joint errors of place, speed, gain, offset, lag, scale and film speed"
                    .into(),
            },
            budget,
            caution: Some(format!("{CAUTION}{occupant}")),
            reason,
            absent: false,
        }
    }

    /// The fused speed with its band.
    pub(crate) fn speed_curve(&self) -> Option<Curve> {
        let fused = self.made.as_ref().ok()?;
        let points = fused.times_s.iter().zip(&fused.speed_m_s);
        Some(Curve {
            label: format!("{}, film and {} fused", self.subject, self.code),
            source: "fused".into(),
            points: points.map(|(&time_s, speed)| CurvePoint { time_s, value: Some(speed.value) }).collect(),
            band: Some(CurveBand {
                half_width: fused.speed_m_s.iter().map(|speed| Some(COVERAGE_95 * speed.u)).collect(),
            }),
        })
    }
}

const FIGURES: [(&str, &str); 4] = [
    ("contact_speed", "m/s"),
    ("occupant_impact_velocity", "m/s"),
    ("occupant_impact_time", "s"),
    ("ridedown_acceleration", "m/s2"),
];

fn fused(
    camera: &Budgeted<'_>,
    record: &Record<'_>,
    check: &CrosscheckResult,
    options: &RunOptions,
) -> Result<Fused, String> {
    let channel = record.channel.as_ref().map_err(Clone::clone)?;
    if let Some(suspect) = check.suspected.first() {
        return Err(format!("the crosscheck suspects {}: a faulty channel is not fused", suspect.fault));
    }
    let body =
        camera.motion.with_role(Role::Striking).ok_or("the striking body could not be measured on film")?;
    let angle = body.motion.angle.as_ref().ok_or("the striking body has one target only, so no angle")?;
    let film = film_at_sensor(camera, (body, angle), record.plan, SensedAxis::X);
    let settings = FuseOptions { crosscheck: options.crosscheck.clone(), ..options.fuse.clone() };
    let fused = fuse(&film, channel, SensedAxis::X, &settings).map_err(|failure| failure.to_string())?;
    if !fused.consistent {
        return Err(format!(
            "film and channel are not consistent: gain {:.4}, mean square of the residuals {:.2}; look at the crosscheck",
            fused.gain.value, fused.consistency
        ));
    }
    Ok(fused)
}

/// A value between instants on straight lines; `None` outside them.
fn at_time(times_s: &[f64], values: &[f64], at_s: f64) -> Option<f64> {
    let after = times_s.partition_point(|&time_s| time_s < at_s);
    if after == 0 {
        return times_s.first().filter(|&&first_s| first_s <= at_s).and(values.first()).copied();
    }
    let (before_s, after_s) = (times_s[after - 1], *times_s.get(after)?);
    Some(values[after - 1] + (at_s - before_s) / (after_s - before_s) * (values[after] - values[after - 1]))
}
