//! Header lines of exchange files: `key : value`, where a missing value is the word NOVALUE.

use std::path::{Path, PathBuf};

use crate::SensorsError;
use crate::text::file_error;

/// Column in which the colon of a written header line stands, counted from 0 (ISO/TS 13499).
const COLON_COLUMN: usize = 28;

/// Key, value and line number of each header line, in order.
#[derive(Debug)]
pub(crate) struct Header {
    path: PathBuf,
    entries: Vec<(String, String, u64)>,
}

impl Header {
    /// Reads lines as long as they have a colon; returns the header and the number of lines read.
    pub(crate) fn read(path: &Path, text: &str) -> (Self, u64) {
        let mut entries = Vec::new();
        let mut n_lines = 0;
        for line in text.lines() {
            match line.split_once(':') {
                Some((key, value)) => {
                    entries.push((key.trim().to_owned(), value.trim().to_owned(), n_lines + 1));
                }
                None if line.trim().is_empty() => {}
                None => break,
            }
            n_lines += 1;
        }
        (Self { path: path.to_owned(), entries }, n_lines)
    }

    /// The first value under a key, any case; `None` when there is none, or NOVALUE.
    pub(crate) fn value(&self, key: &str) -> Option<&str> {
        self.entry(key).map(|(value, _)| value)
    }

    fn entry(&self, key: &str) -> Option<(&str, u64)> {
        self.present()
            .find(|(found, _, _)| found.eq_ignore_ascii_case(key))
            .map(|(_, value, line)| (value, line))
    }

    /// Keys, values and lines in order, without those that have no value.
    pub(crate) fn present(&self) -> impl Iterator<Item = (&str, &str, u64)> {
        self.entries
            .iter()
            .filter(|(_, value, _)| !value.is_empty() && !value.eq_ignore_ascii_case("NOVALUE"))
            .map(|(key, value, line)| (key.as_str(), value.as_str(), *line))
    }

    /// The finite number under a key that must be there.
    pub(crate) fn number(&self, key: &str) -> Result<f64, SensorsError> {
        let (value, line) = self.entry(key).ok_or_else(|| {
            file_error(&self.path, None, format!("the header has no value for \"{key}\"; add it"))
        })?;
        crate::text::number(value)
            .map_err(|problem| file_error(&self.path, Some(line), format!("{key}: {problem}")))
    }
}

/// One header line, with CR LF at its end; line breaks and an empty value cannot break the layout.
pub(crate) fn line(key: &str, value: &str) -> String {
    let value = value.split_whitespace().collect::<Vec<_>>().join(" ");
    let value = if value.is_empty() { "NOVALUE" } else { &value };
    format!("{key:<COLON_COLUMN$}:{value}\r\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_come_back_as_written() {
        let text = [line("Title", "Car: cushion\nrun"), line("Comments", ""), "1.0\r\n".to_owned()].concat();
        let (header, n_lines) = Header::read(Path::new("a.001"), &text);
        assert_eq!(n_lines, 2);
        assert_eq!(header.value("title"), Some("Car: cushion run"));
        assert_eq!(header.value("Comments"), None);
        assert_eq!(text.find(':'), Some(28));
    }

    #[test]
    fn a_number_that_is_missing_or_wrong_is_placed() {
        let (header, _) = Header::read(Path::new("a.001"), "Sampling interval : x\nUnit : g\n");
        let wrong = header.number("Sampling interval").unwrap_err().to_string();
        assert!(wrong.contains("a.001, line 1") && wrong.contains("\"x\""), "{wrong}");
        assert!(
            header.number("Time of first sample").unwrap_err().to_string().contains("Time of first sample")
        );
    }
}
