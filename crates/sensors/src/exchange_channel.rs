//! One channel file of an exchange folder: header, then one value a line.

use crate::csv_read::even_step;
use crate::header::Header;
use crate::text::{file_error, number};
use crate::units::si_unit;
use crate::{Channel, ChannelCode, SensorsError};
use std::path::Path;

/// Header keys that are kept as comments for the sheet.
const COMMENT_KEYS: &[&str] = &[
    "Name of the channel",
    "Comments",
    "Location",
    "Transducer type",
    "Transducer id",
    "Pre-filter type",
    "Cut off frequency",
    "Channel frequency class",
    "Data status",
    "Offset post test",
];

/// The channel in the text of a channel file that the index lists under `code`. `times` reads the channel that holds its times,
/// where the header names one.
pub(crate) fn channel_from(
    path: &Path,
    text: &str,
    code: &str,
    times: &dyn Fn(&str) -> Result<Channel, SensorsError>,
) -> Result<Channel, SensorsError> {
    let (header, n_header_lines) = Header::read(path, text);
    check_header(path, &header, code)?;
    let values = read_values(path, text, n_header_lines)?;
    let (start_s, step_s, steps) = time_base(path, &header, code, values.len(), times)?;
    check_count(path, &header, values.len())?;
    let comments = header
        .present()
        .filter(|(key, _, _)| COMMENT_KEYS.iter().any(|known| known.eq_ignore_ascii_case(key)))
        .map(|(key, value, _)| format!("{key}: {value}"))
        .collect();
    Ok(Channel {
        code: code.to_owned(),
        unit: header.value("Unit").unwrap_or_default().to_owned(),
        start_s,
        step_s,
        values,
        file: path.to_owned(),
        comments,
        steps,
    })
}

/// Start and step, and what was done to have them: from the header, or from the channel of times that it names.
fn time_base(
    path: &Path,
    header: &Header,
    code: &str,
    n_values: usize,
    times: &dyn Fn(&str) -> Result<Channel, SensorsError>,
) -> Result<(f64, f64, Vec<String>), SensorsError> {
    let mut steps: Vec<String> = ChannelCode::parse(code)
        .err()
        .map(|error| format!("nothing is taken from its code: {error}"))
        .into_iter()
        .collect();
    if !is_explicit(header) {
        return Ok((header.number("Time of first sample")?, header.number("Sampling interval")?, steps));
    }
    let name = header.value("Reference channel name").ok_or_else(|| {
        let problem =
            "its times are explicit, but \"Reference channel name\" does not say where they are; add it";
        file_error(path, None, problem)
    })?;
    let given = times(name)?;
    let factor = match si_unit(&given.unit) {
        Some(("s", factor)) => factor,
        _ => {
            let problem =
                format!("its channel of times \"{name}\" is in \"{}\", not in s, ms or us", given.unit);
            return Err(file_error(path, None, problem));
        }
    };
    if given.values.len() != n_values {
        let problem = format!("{n_values} values, but {} times in \"{name}\"", given.values.len());
        return Err(file_error(path, None, problem));
    }
    let step = even_step(&given.values)
        .map_err(|(at, problem)| file_error(&given.file, None, format!("value {}: {problem}", at + 1)))?;
    steps.push(format!("even times taken from channel {name}"));
    Ok((given.values[0] * factor, step * factor, steps))
}

fn is_explicit(header: &Header) -> bool {
    header.value("Reference channel").is_some_and(|reference| reference.eq_ignore_ascii_case("explicit"))
}

fn check_header(path: &Path, header: &Header, code: &str) -> Result<(), SensorsError> {
    if !is_explicit(header) {
        let step_s = header.number("Sampling interval")?;
        if step_s <= 0.0 {
            return Err(file_error(path, None, format!("sampling interval {step_s} s must be above 0")));
        }
    }
    if let Some(other) = header.value("Channel code").filter(|own| !own.eq_ignore_ascii_case(code)) {
        let problem =
            format!("its header says \"{other}\", the index says \"{code}\"; correct the one that is wrong");
        return Err(file_error(path, None, problem));
    }
    match header.value("Reference channel") {
        Some(reference) if !["implicit", "explicit"].iter().any(|it| reference.eq_ignore_ascii_case(it)) => {
            let problem =
                format!("its reference channel is \"{reference}\"; it must be implicit or explicit");
            Err(file_error(path, None, problem))
        }
        _ => Ok(()),
    }
}

fn read_values(path: &Path, text: &str, n_header_lines: u64) -> Result<Vec<f64>, SensorsError> {
    let mut values = Vec::new();
    let mut blank: Option<u64> = None;
    for (line, content) in (1_u64..).zip(text.lines()).filter(|&(line, _)| line > n_header_lines) {
        if content.trim().is_empty() {
            blank.get_or_insert(line);
            continue;
        }
        if let Some(line) = blank {
            return Err(file_error(
                path,
                Some(line),
                "an empty line between values; a value is missing here",
            ));
        }
        values.push(number(content).map_err(|problem| file_error(path, Some(line), problem))?);
    }
    if values.len() < 2 {
        let problem = format!("{} values; a channel has at least 2", values.len());
        return Err(file_error(path, None, problem));
    }
    Ok(values)
}

#[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
fn check_count(path: &Path, header: &Header, n_values: usize) -> Result<(), SensorsError> {
    if header.value("Number of samples").is_none() {
        return Ok(());
    }
    let stated = header.number("Number of samples")?;
    if (stated - n_values as f64).abs() > 0.5 {
        let problem = format!(
            "the header states {stated} samples, the file holds {n_values}; the file is cut or mixed up"
        );
        return Err(file_error(path, None, problem));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEADER: &str = "Channel code                :10CVEHCG0000ACXP\r\nUnit                        :g\r\n\
        Transducer id               :A-17\r\nReference channel           :implicit\r\nSampling interval           :0.0001\r\n\
        Time of first sample        :-0.01\r\nNumber of samples           :3\r\n";

    fn read(text: &str) -> Result<Channel, SensorsError> {
        channel_from(Path::new("HB-014.001"), text, "10CVEHCG0000ACXP", &|name| {
            Err(file_error(Path::new("HB-014.chn"), None, format!("lists no \"{name}\"")))
        })
    }

    #[test]
    fn a_sound_file_gives_values_times_and_comments() {
        let channel = read(&format!("{HEADER}0.1\r\n-2.5E+01\r\n3\r\n\r\n")).unwrap();
        assert_eq!(channel.values, [0.1, -25.0, 3.0]);
        assert!((channel.end_s() + 0.0098).abs() < 1e-12);
        assert_eq!(
            (channel.unit.as_str(), channel.comments.as_slice()),
            ("g", &["Transducer id: A-17".to_owned()][..])
        );
    }

    #[test]
    fn broken_files_say_what_and_where() {
        for (text, words) in [
            (format!("{HEADER}0.1\r\nabc\r\n3\r\n"), "line 9: \"abc\""),
            (format!("{HEADER}0.1\r\nNaN\r\n3\r\n"), "line 9: \"NaN\" is not a finite"),
            (format!("{HEADER}0.1\r\nNOVALUE\r\n3\r\n"), "line 9: a value is missing"),
            (format!("{HEADER}0.1\r\n\r\n3\r\n4\r\n"), "line 9: an empty line"),
            (format!("{HEADER}0.1\r\n"), "1 values"),
            (format!("{HEADER}0.1\r\n2\r\n"), "states 3 samples, the file holds 2"),
            (HEADER.to_owned(), "0 values"),
            (format!("{}1\n2\n3\n", HEADER.replace(":0.0001", ":NOVALUE")), "Sampling interval"),
            (format!("{}1\n2\n3\n", HEADER.replace(":0.0001", ":-1")), "above 0"),
            (format!("{}1\n2\n3\n", HEADER.replace("implicit", "explicit")), "Reference channel name"),
            (format!("{}1\n2\n3\n", HEADER.replace("implicit", "guessed")), "must be implicit or explicit"),
            (format!("{}1\n2\n3\n", HEADER.replace("ACXP", "ACZP")), "10CVEHCG0000ACZP"),
            ("no header at all".to_owned(), "Sampling interval"),
        ] {
            let message = read(&text).unwrap_err().to_string();
            assert!(message.contains(words) && message.contains("HB-014.001"), "{message}");
        }
    }

    proptest::proptest! {
        #[test]
        fn no_body_makes_the_reader_panic(head in "[A-Za-z :0-9.\n-]{0,60}", body in "([0-9.eE+:a\n-]|\r\n){0,60}") {
            let header = HEADER.replace("Number of samples           :3\r\n", "");
            if let Ok(channel) = read(&format!("{header}{head}{body}")) {
                proptest::prop_assert!(channel.check().is_ok());
            }
        }
    }
}
