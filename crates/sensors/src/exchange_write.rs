//! Writing exchange folders (ISO/TS 13499) for rehearsals: the same input gives the same bytes.

use crate::header::line;
use crate::{Channel, ChannelCode, SensorsError};
use std::path::{Path, PathBuf};

/// What the test header says. What is not known stays `None` or empty and is written as NOVALUE.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ExchangeTest {
    /// Name of the test: names the files, so letters, digits, `-`, `_` and `.` only.
    pub name: String,
    /// Title in words.
    pub title: String,
    /// Kind of test in words.
    pub kind: String,
    /// Date as year-month-day.
    pub date: Option<String>,
    /// Further remarks.
    pub comments: Vec<String>,
    /// The objects of the test in order; the first is number 1.
    pub objects: Vec<TestObject>,
}

/// One object of the test, such as the car.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TestObject {
    /// Name in words.
    pub name: String,
    /// Speed along its own axis before contact, m/s.
    pub speed_m_s: Option<f64>,
    /// Mass, kg.
    pub mass_kg: Option<f64>,
}

/// Writes `<name>.mme`, `Channel/<name>.chn` and one numbered file per channel into `dir`, which is made
/// where needed. Returns the path of the test header.
///
/// # Errors
/// [`SensorsError::Settings`] when the name cannot name a file, there is no channel, or a channel is not
/// usable; [`SensorsError::Code`] when a channel code is malformed; [`SensorsError::Disk`].
pub fn write_exchange(
    dir: &Path,
    test: &ExchangeTest,
    channels: &[Channel],
) -> Result<PathBuf, SensorsError> {
    check_names(test, channels)?;
    let folder = dir.join("Channel");
    filmgauge_shelf::make_folder(&folder).map_err(|source| disk(&folder, source))?;
    let header = dir.join(format!("{}.mme", test.name));
    write(&header, &test_header(test))?;
    write(&folder.join(format!("{}.chn", test.name)), &channel_index(channels))?;
    for (index, channel) in channels.iter().enumerate() {
        write(&folder.join(format!("{}.{:03}", test.name, index + 1)), &channel_file(channel))?;
    }
    Ok(header)
}

fn check_names(test: &ExchangeTest, channels: &[Channel]) -> Result<(), SensorsError> {
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.');
    if test.name.is_empty() || test.name.starts_with('.') || !test.name.chars().all(plain) {
        let problem =
            format!("test name \"{}\" cannot name files; use letters, digits, -, _ and .", test.name);
        return Err(SensorsError::settings(problem));
    }
    if channels.is_empty() || channels.len() > 999 {
        let n_channels = channels.len();
        return Err(SensorsError::settings(format!(
            "an exchange folder holds 1 to 999 channels, not {n_channels}"
        )));
    }
    for (index, channel) in channels.iter().enumerate() {
        ChannelCode::parse(&channel.code)?;
        channel.check()?;
        if channels[..index].iter().any(|earlier| earlier.code == channel.code) {
            return Err(SensorsError::settings(format!("channel code \"{}\" is given twice", channel.code)));
        }
    }
    Ok(())
}

fn test_header(test: &ExchangeTest) -> String {
    let n_objects = test.objects.len().to_string();
    let mut text = [
        line("Data format edition number", "1.6"),
        line("Laboratory test ref. number", &test.name),
        line("Title", &test.title),
        line("Medium No./number of media", "1/1"),
    ]
    .concat();
    text.extend(test.comments.iter().map(|comment| line("Comments", comment)));
    text += &line("Type of the test", &test.kind);
    text += &line("Date of the test", test.date.as_deref().unwrap_or_default());
    text += &line("Number of test objects", &n_objects);
    for (number, object) in (1..).zip(&test.objects) {
        text += &line(&format!("Name of test object {number}"), &object.name);
        text += &line(&format!("Velocity longitudinal test object {number}"), &given(object.speed_m_s));
        text += &line(&format!("Mass test object {number}"), &given(object.mass_kg));
    }
    text
}

fn given(value: Option<f64>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

fn channel_index(channels: &[Channel]) -> String {
    let mut text = line("Instrumentation standard", "");
    text += &line("Number of channels", &channels.len().to_string());
    text.extend(
        (1..)
            .zip(channels)
            .map(|(number, channel)| line(&format!("Name of channel {number:03}"), &channel.code)),
    );
    text
}

fn channel_file(channel: &Channel) -> String {
    let object = channel.code.chars().next().map(String::from).unwrap_or_default();
    let mut text = line("Test object number", &object);
    text += &line("Channel code", &channel.code);
    text.extend(channel.comments.iter().map(|comment| line("Comments", comment)));
    text += &line("Unit", &channel.unit);
    text += &line("Reference channel", "implicit");
    text += &line("Sampling interval", &channel.step_s.to_string());
    text += &line("Time of first sample", &channel.start_s.to_string());
    text += &line("Number of samples", &channel.values.len().to_string());
    text.extend(channel.values.iter().map(|value| format!("{value:E}\r\n")));
    text
}

fn write(path: &Path, text: &str) -> Result<(), SensorsError> {
    filmgauge_shelf::put(path, text.as_bytes()).map_err(|source| disk(path, source))
}

fn disk(path: &Path, source: std::io::Error) -> SensorsError {
    SensorsError::Disk { path: path.to_owned(), action: "written", source }
}
