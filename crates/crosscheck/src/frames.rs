//! Which frames are compared: those with a position, around contact, inside the channel's record.

use crate::{CrosscheckFailure, CrosscheckOptions, FilmAtSensor};
use filmgauge_sensors::Channel;

/// Positions of the frames that are compared.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Frames {
    pub(crate) times_s: Vec<f64>,
    pub(crate) position_m: Vec<f64>,
    pub(crate) variance_m2: Vec<f64>,
}

/// The frames whose times, moved by a lag between `least_lag_s` and `most_lag_s`, all lie inside the record.
pub(crate) fn frames_in_common(
    film: &FilmAtSensor,
    channel: &Channel,
    options: &CrosscheckOptions,
    [least_lag_s, most_lag_s]: [f64; 2],
) -> Result<Frames, CrosscheckFailure> {
    let from_s = (film.contact_s - options.before_contact_s).max(channel.start_s - least_lag_s);
    let to_s = (film.contact_s + options.after_contact_s).min(channel.end_s() - most_lag_s);
    let all: Vec<(f64, f64, f64)> = film
        .times_s
        .iter()
        .zip(&film.position_m)
        .filter(|&(&time_s, _)| time_s >= from_s && time_s <= to_s)
        .filter_map(|(&time_s, position)| position.map(|(m, variance)| (time_s, m, variance)))
        .collect();
    if all.len() < options.fewest_frames {
        return Err(CrosscheckFailure::Overlap {
            code: channel.code.clone(),
            n_frames: all.len(),
            needed: options.fewest_frames,
            from_s: channel.start_s,
            to_s: channel.end_s(),
        });
    }
    let every = all.len().div_ceil(options.most_frames);
    let used = || all.iter().step_by(every);
    Ok(Frames {
        times_s: used().map(|frame| frame.0).collect(),
        position_m: used().map(|frame| frame.1).collect(),
        variance_m2: used().map(|frame| frame.2).collect(),
    })
}

impl Frames {
    pub(crate) fn len(&self) -> usize {
        self.times_s.len()
    }

    pub(crate) fn first_s(&self) -> f64 {
        self.times_s[0]
    }

    pub(crate) fn last_s(&self) -> f64 {
        self.times_s[self.times_s.len() - 1]
    }
}
