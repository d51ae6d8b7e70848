//! Text of a channel file, UTF-8 or Latin-1, and the numbers in it.

use crate::SensorsError;
use std::path::Path;

/// The whole file as text: UTF-8 (a byte-order mark is dropped), or Latin-1 where it is not valid UTF-8.
pub(crate) fn read_text(path: &Path) -> Result<String, SensorsError> {
    let bytes = std::fs::read(path).map_err(|source| SensorsError::Disk {
        path: path.to_owned(),
        action: "read",
        source,
    })?;
    let text = match String::from_utf8(bytes) {
        Ok(text) => text,
        Err(not_utf8) => not_utf8.into_bytes().into_iter().map(char::from).collect(),
    };
    let text = text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text);
    if text.trim().is_empty() {
        return Err(file_error(path, None, "is empty; export the channel again"));
    }
    Ok(text)
}

/// A finite number with a decimal point, or the reason why the text is none.
pub(crate) fn number(text: &str) -> Result<f64, String> {
    let text = text.trim();
    if text.is_empty() || text.eq_ignore_ascii_case("NOVALUE") {
        return Err("a value is missing; a record with gaps cannot be used, cut it before the gap".to_owned());
    }
    match text.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        Ok(_) => Err(format!("\"{text}\" is not a finite number; cut or repair the record")),
        Err(_) => Err(format!("\"{text}\" is not a number with a decimal point")),
    }
}

/// An input file's fault, with its line where one is to blame.
pub(crate) fn file_error(path: &Path, line: Option<u64>, problem: impl Into<String>) -> SensorsError {
    SensorsError::File { path: path.to_owned(), line, problem: problem.into() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_encodings_give_the_same_text() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.csv");
        for bytes in [&b"\xb0/s"[..], "°/s".as_bytes(), "\u{feff}°/s".as_bytes()] {
            std::fs::write(&path, bytes).unwrap();
            assert_eq!(read_text(&path).unwrap(), "°/s");
        }
    }

    #[test]
    fn an_empty_or_missing_file_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("blank.csv");
        std::fs::write(&path, " \r\n").unwrap();
        assert!(read_text(&path).unwrap_err().to_string().contains("blank.csv: is empty"));
        assert!(read_text(&folder.path().join("gone.csv")).unwrap_err().to_string().contains("gone.csv"));
    }

    #[test]
    fn only_finite_numbers_pass() {
        assert_eq!(number(" -1.5E+02 ").unwrap().to_bits(), (-150.0_f64).to_bits());
        for (text, word) in [
            ("NaN", "finite"),
            ("inf", "finite"),
            ("1e999", "finite"),
            ("NOVALUE", "missing"),
            ("", "missing"),
            ("1,5", "\"1,5\""),
        ] {
            assert!(number(text).unwrap_err().contains(word), "{text}");
        }
    }
}
