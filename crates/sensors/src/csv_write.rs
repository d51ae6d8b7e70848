//! Writing channels as a CSV table for rehearsals: the same input gives the same bytes.

use crate::{Channel, SensorsError};
use std::path::Path;

/// Writes a row of headers (`time_s`, then the codes), a row of units, and a row for each sample.
///
/// Times are written to the nanosecond, values in the fewest digits that read back to the same number.
///
/// # Errors
/// [`SensorsError::Settings`] when there is no channel, a channel is not usable, a code is empty or given
/// twice, or the channels do not share one time base; [`SensorsError::Disk`].
pub fn write_csv(path: &Path, channels: &[Channel]) -> Result<(), SensorsError> {
    let first =
        channels.first().ok_or_else(|| SensorsError::settings("a table needs at least one channel"))?;
    check(first, channels)?;
    let mut writer = csv::WriterBuilder::new().from_writer(Vec::new());
    let heads = std::iter::once("time_s").chain(channels.iter().map(|channel| channel.code.as_str()));
    let units = std::iter::once("s").chain(channels.iter().map(|channel| channel.unit.as_str()));
    let mut write = |row: Vec<String>| writer.write_record(row);
    let written = write(heads.map(str::to_owned).collect())
        .and_then(|()| write(units.map(str::to_owned).collect()))
        .and_then(|()| {
            (0..first.values.len()).try_for_each(|index| {
                let time = format!("{:.9}", first.time_s(index));
                let values = channels.iter().map(|channel| channel.values[index].to_string());
                write(std::iter::once(time).chain(values).collect())
            })
        });
    let disk = |source| SensorsError::Disk { path: path.to_owned(), action: "written", source };
    written.map_err(|error| disk(std::io::Error::other(error)))?;
    let table = writer.into_inner().map_err(|error| disk(std::io::Error::other(error.to_string())))?;
    filmgauge_shelf::put(path, &table).map_err(disk)
}

fn check(first: &Channel, channels: &[Channel]) -> Result<(), SensorsError> {
    let same = |a: f64, b: f64| a.to_bits() == b.to_bits();
    for (index, channel) in channels.iter().enumerate() {
        channel.check()?;
        let code = channel.code.trim();
        if code.is_empty() || code.starts_with('#') || code.to_lowercase().contains("time") {
            return Err(SensorsError::settings(format!("channel code \"{code}\" cannot head a column")));
        }
        if channels[..index].iter().any(|earlier| earlier.code.trim() == code) {
            return Err(SensorsError::settings(format!("channel code \"{code}\" is given twice")));
        }
        let n_samples = channel.values.len();
        if !same(channel.start_s, first.start_s)
            || !same(channel.step_s, first.step_s)
            || n_samples != first.values.len()
        {
            return Err(SensorsError::settings(format!(
                "channels \"{}\" and \"{code}\" do not share start, step and length; write them to two tables",
                first.code
            )));
        }
    }
    Ok(())
}
