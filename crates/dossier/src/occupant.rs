//! Occupant figures from channel files alone: no film, no dossier.

use crate::document::Axes;
use crate::error::DossierError;
use crate::options::RunOptions;
use crate::run::sensor_motion::speed_change;
use crate::run::severity::{Channels, Given, findings};
use filmgauge_quantities::{Seconds, Uncertain};
use filmgauge_results::Finding;
use filmgauge_sensors::{Channel, ChannelCode};
use std::path::PathBuf;

/// Which channels of which files.
#[derive(Debug, Clone, PartialEq)]
pub struct OccupantRequest {
    /// Exchange folder headers (`.mme`) or tables (`.csv`).
    pub files: Vec<PathBuf>,
    /// Code of the forward acceleration; the only one of the files when left out.
    pub forward: Option<String>,
    /// Code of the sideways acceleration.
    pub sideways: Option<String>,
    /// Code of the upright acceleration.
    pub upright: Option<String>,
    /// Code of the yaw rate.
    pub yaw: Option<String>,
    /// Code of the pitch rate.
    pub pitch: Option<String>,
    /// Axis system of the records.
    pub axes: Axes,
    /// Contact on the records' clock and its standard uncertainty, s.
    pub contact_s: [f64; 2],
    /// Relative standard uncertainty of every sensor's calibration; 0 where not known.
    pub calibration_u: f64,
}

/// Reads the channels and makes every figure that they can give.
///
/// # Errors
/// [`DossierError::Channel`] for a request out of range, a file that cannot be read, or a channel that is not there, is of another
/// unit or is not clear.
pub fn occupant_from_channels(
    request: &OccupantRequest,
    options: &RunOptions,
) -> Result<Vec<Finding>, DossierError> {
    let [contact_s, contact_u_s] = request.contact_s;
    let in_range = contact_s.is_finite()
        && (0.0..1.0).contains(&contact_u_s)
        && (0.0..0.5).contains(&request.calibration_u);
    if !in_range {
        return Err(DossierError::Channel(
            "contact must be a time in s with a standard uncertainty of 0 to 1 s, calibration a share of 0 to 0.5".into(),
        ));
    }
    let forward = match &request.forward {
        Some(code) => code.clone(),
        None => request.only_forward()?,
    };
    let turn = request.axes.upward_sign();
    let x = request.channel(&forward, "m/s2", 1.0)?;
    let optional = |code: &Option<String>, unit: &str| {
        code.as_ref().map(|code| request.channel(code, unit, turn)).transpose()
    };
    let y = optional(&request.sideways, "m/s2")?;
    let z = optional(&request.upright, "m/s2")?;
    let yaw = optional(&request.yaw, "rad/s")?;
    // Turned into left first: a rate about the axis to the left is nose down.
    let pitch = request.pitch.as_ref().map(|code| request.channel(code, "rad/s", -turn)).transpose()?;
    let channels = Channels {
        x: Given::whole(&x),
        y: y.as_ref().map(Given::whole),
        z: z.as_ref().map(Given::whole),
        yaw: yaw.as_ref().map(Given::whole),
        pitch: pitch.as_ref().map(Given::whole),
    };
    let contact = Uncertain::new(Seconds::from_s(contact_s), Seconds::from_s(contact_u_s));
    let mut made = findings(&Ok(channels), "vehicle", contact, request.calibration_u, options);
    made.extend(speed_change(&channels, "vehicle", contact, request.calibration_u, options));
    Ok(made)
}

impl OccupantRequest {
    /// The channel of the first file that has it, in SI, turned into forward, left, up.
    fn channel(&self, code: &str, unit: &str, sign: f64) -> Result<Channel, DossierError> {
        let mut why = String::from("no channel file was given");
        for file in &self.files {
            match filmgauge_sensors::read(file, code, None) {
                Ok(read) => return in_si(&read, unit, sign),
                Err(error) => why = error.to_string(),
            }
        }
        Err(DossierError::Channel(why))
    }

    /// The one channel whose code says acceleration forward.
    fn only_forward(&self) -> Result<String, DossierError> {
        let mut all = Vec::new();
        for file in &self.files {
            all.extend(
                filmgauge_sensors::list(file).map_err(|error| DossierError::Channel(error.to_string()))?,
            );
        }
        let says = |code: &&String| {
            ChannelCode::parse(code).is_ok_and(|parts| parts.is_acceleration() && parts.direction == 'X')
        };
        let forward: Vec<&String> = all.iter().filter(says).collect();
        match forward.as_slice() {
            [only] => Ok((*only).clone()),
            _ => Err(DossierError::Channel(format!(
                "{} channels say that they sense forward; name one with --forward. The files hold: {}",
                forward.len(),
                all.join(", ")
            ))),
        }
    }
}

fn in_si(read: &Channel, unit: &str, sign: f64) -> Result<Channel, DossierError> {
    let mut si = filmgauge_sensors::to_si(read).map_err(|error| DossierError::Channel(error.to_string()))?;
    if si.unit != unit {
        let (code, found) = (&si.code, &si.unit);
        return Err(DossierError::Channel(format!(
            "channel \"{code}\" is in {found}, {unit} is needed; name another channel"
        )));
    }
    if sign < 0.0 {
        si.values.iter_mut().for_each(|value| *value = -*value);
        si.steps.push(crate::run::channels::TURNED.into());
    }
    Ok(si)
}
