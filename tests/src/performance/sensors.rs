//! Speed of reading an exchange folder of many channels, all of it and one channel.

use anyhow::{Context, Result};
use filmgauge_sensors::{Channel, ExchangeTest, list, read, write_exchange};
use std::path::PathBuf;
use std::time::Instant;

/// Channels and samples of the folder.
const CHANNELS: u32 = 600;
const SAMPLES: u32 = 3500;

/// The table for the page.
///
/// # Errors
/// When the folder cannot be written or read.
pub fn table() -> Result<String> {
    let folder = tempfile::tempdir().context("a scratch folder is needed")?;
    let channels: Vec<Channel> = (0..CHANNELS)
        .map(|number| Channel {
            code: format!("10CVEH{number:06}ACX0"),
            unit: "g".to_owned(),
            start_s: -0.05,
            step_s: 1e-4,
            values: (0..SAMPLES).map(|i| (f64::from(i) * f64::from(number + 1) * 1e-3).sin() / 3.0).collect(),
            file: PathBuf::new(),
            comments: Vec::new(),
            steps: Vec::new(),
        })
        .collect();
    let test = ExchangeTest { name: "many".to_owned(), ..ExchangeTest::default() };
    let header = write_exchange(folder.path(), &test, &channels)?;
    let start = Instant::now();
    let codes = list(&header)?;
    let listed_s = start.elapsed().as_secs_f64();
    let start = Instant::now();
    let mut samples = 0;
    for code in &codes {
        // One channel at a time is held: memory does not grow with their number.
        samples += read(&header, code, None)?.values.len();
    }
    let read_s = start.elapsed().as_secs_f64();
    anyhow::ensure!(
        samples == channels.iter().map(|channel| channel.values.len()).sum::<usize>(),
        "samples are lost"
    );
    let held_kib = SAMPLES * 8 / 1024;
    Ok(format!(
        "## Reading sensor records\n\n\
         An exchange folder of {CHANNELS} channels of {SAMPLES} samples, one thread, one run. Each channel is read by itself; the values \
         held at once are one channel's, {held_kib} KiB.\n\n\
         | what | seconds |\n| --- | --- |\n| list of the channels | {listed_s:.4} |\n| all channels | {read_s:.2} |\n"
    ))
}
