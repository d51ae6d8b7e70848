//! Channel files to channels: exchange folders and CSV, units, class filters, zero offset, integration.
//!
//! Reading → [`Channel`] as in the file → [`to_si`] → [`cfc`], [`remove_offset`], [`integrate`], [`resample`].
//! Original files are opened for reading only; every step taken is listed in [`Channel::steps`].
//!
//! # Conventions
//! * Sample `i` belongs to time `start_s + i * step_s`, seconds from the recorder's time zero.
//! * Samples are evenly spaced; a file whose times are not is refused.
//! * [`read`] keeps the file's unit; [`to_si`] converts and renames the unit to its SI name.

mod cfc;
mod channel;
mod code;
mod csv_read;
mod csv_write;
mod drift;
mod error;
mod exchange_channel;
mod exchange_read;
mod exchange_write;
mod header;
mod integral;
mod level;
mod offset;
mod read;
mod resample;
mod resultant;
mod text;
mod units;

pub use cfc::{CfcClass, CfcCoefficients, CfcConstant, StartRule, cfc, cfc_coefficients, cfc_with, low_pass};
pub use channel::Channel;
pub use code::ChannelCode;
pub use csv_write::write_csv;
pub use drift::{ZeroDrift, zero_drift};
pub use error::SensorsError;
pub use exchange_write::{ExchangeTest, TestObject, write_exchange};
pub use integral::integrate;
pub use level::{PitchingAxes, level};
pub use offset::{remove_offset, remove_zero};
pub use read::{list, read};
pub use resample::{Interpolation, resample};
pub use resultant::resultant;
pub use units::to_si;
